"""Channels in both faces of a body: two covers, through holes, the floor between crossing channels."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_detail import channel
from sample_two_faces import (
    BODY,
    BORE,
    CHANNEL,
    COVER,
    DEPTH,
    FRONT,
    HOLE,
    WIDTH,
    make_two_faces,
)

from geom.build import Solids, build_solids
from geom.features import Blank, Cylinder, Detail, Feature
from geom.frame import INTO
from geom.outline import outline_rectangle
from geom.rebuild import rebuild_features
from geom.skins import check_meshes
from geom.tessellate import THIN_LINEAR_MM, mesh_solid
from geom.volume import check_pieces, check_volumes, measure_volumes, plan_volume
from geom.walls import check_walls, find_thin_spots, measure_walls

WET, DRY = 2.0, 1.0
REGIONS = 2


def mesh_parts(detail: Detail, solids: Solids) -> dict[str, trimesh.Trimesh]:
    sheets = {blank.name for blank in detail.blanks}
    return {
        part.name: mesh_solid(part.solid) if part.name in sheets else mesh_solid(part.solid, THIN_LINEAR_MM)
        for part in solids.parts
    }


def with_feature(detail: Detail, name: str, **changes) -> Detail:
    features = tuple(replace(f, **changes) if f.name == name else f for f in detail.features)
    return replace(detail, features=features)


def find_wall(detail: Detail, *names: str):
    walls = measure_walls(detail, build_solids(detail), WET, DRY)
    (wall,) = [wall for wall in walls if set(wall.between) == set(names)]
    return wall


@pytest.fixture(scope="module")
def detail() -> Detail:
    return make_two_faces()


@pytest.fixture(scope="module")
def solids(detail: Detail) -> Solids:
    return build_solids(detail)


def test_both_covers_are_parts_and_the_coolant_passes_all_three(solids):
    names = [part.name for part in solids.parts]
    assert names == ["body", "cover", "front cover", *(f"cord {k}" for k in range(1, 6))]
    assert len(solids.wet.Solids()) == REGIONS
    v = solids.volumes
    sheets = ("body", "cover", "front cover")
    assert sum(v[f"wet {name}"] for name in sheets) == pytest.approx(v["wet"], rel=1e-9)
    gone = sum(v[f"blank {name}"] - v[f"part {name}"] for name in sheets)
    assert gone == pytest.approx(v["wet"] + v["dry"], rel=1e-9)


@pytest.mark.published(source="closed form: straight slots with round ends, bores, cones of 45 degrees")
def test_coolant_is_what_its_shapes_add_up_to(solids):
    disc, pipe = math.pi * CHANNEL**2 / 4, math.pi * BORE**2
    slots = sum((length * CHANNEL + disc) * DEPTH for length in (30.0, 45.0, 57.0))
    hole = math.pi * HOLE**2 * (BODY - 2 * DEPTH)
    # Each bore ends at mid-depth inside a channel that is narrower than the bore.
    alone = (FRONT - DEPTH) * 2 + COVER * 2
    # Beyond the channel's round end the bore is wider: a half ring over half of the depth.
    half_ring = (pipe - disc) / 2
    # Along the straight it stands over the channel's two sides: the bore less the strip of the channel.
    half, chord = CHANNEL / 2, math.sqrt(BORE**2 - (CHANNEL / 2) ** 2)
    strip = half * chord + BORE**2 * math.asin(half / BORE)
    beside = pipe / 2 - strip
    cone = math.pi * 0.7 / 3 * (BORE**2 + BORE * (BORE + 0.7) + (BORE + 0.7) ** 2) - pipe * 0.7
    expected = slots + hole + pipe * alone + 4 * (half_ring + beside) * DEPTH / 2 + 4 * cone
    assert solids.volumes["wet"] == pytest.approx(expected, rel=1e-6)


def test_nothing_is_found_on_the_clean_panel(detail, solids):
    meshes = mesh_parts(detail, solids)
    wet_mesh = mesh_solid(solids.wet)
    models = rebuild_features(solids)
    walls = measure_walls(detail, solids, WET, DRY, models)
    assert check_walls(walls, find_thin_spots(solids, meshes, walls, WET, DRY)) == ()
    assert check_volumes(measure_volumes(detail, solids, meshes, wet_mesh, models)) == ()
    shapes = {part.name: part.solid for part in solids.parts} | {"coolant": solids.wet}
    assert check_meshes({**meshes, "coolant": wet_mesh}, shapes) == ()
    assert check_pieces(solids, REGIONS) == ()
    assert wet_mesh.body_count == REGIONS
    assert all(mesh.is_watertight for mesh in meshes.values())


def test_thin_floor_under_a_crossing_is_found_with_its_place():
    """Two depths of 9.2 mm leave 1.6 mm of a body of 20 mm."""
    thin = make_two_faces(9.2)
    walls = measure_walls(thin, build_solids(thin), WET, DRY)
    found = {frozenset(f.features): f for f in check_walls(walls)}
    assert found.keys() == {
        frozenset(("channel main front", "channel cross")),
        frozenset(("channel main", "channel main front")),
    }
    crossing = found[frozenset(("channel main front", "channel cross"))]
    assert (crossing.code, crossing.severity) == ("wall.thin", "fault")
    assert crossing.value == pytest.approx(1.6, abs=1e-3)
    assert crossing.at_mm is not None
    x, y, z = crossing.at_mm
    assert abs(x - 70.0) <= CHANNEL / 2 + 1e-6
    assert abs(y - 45.0) <= CHANNEL / 2 + 1e-6
    assert z == pytest.approx(BODY / 2, abs=1e-6)


def test_floor_of_one_channel_counts_beside_its_hole():
    thin = make_two_faces(9.2)
    wall = find_wall(thin, "channel main", "channel main front")
    assert wall.thickness == pytest.approx(1.6, abs=1e-3)
    assert all(math.dist(point[:2], (50.0, 45.0)) >= HOLE - 1e-3 for point in wall.points)


def test_channels_that_cut_into_each_other_across_the_body_are_a_breach():
    deep = make_two_faces(10.4)
    breach = {f.code for f in check_walls(measure_walls(deep, build_solids(deep), WET, DRY))}
    assert breach == {"wall.breach"}


def test_hole_too_near_another_channel_is_found(detail):
    """The hole moved to x = 61.5: its wall is 70 - 4 - 61.5 - 3.5 = 1 mm from the channel that is crossed."""
    hole = Cylinder((61.5, 45.0, DEPTH / 2), INTO["back"], BODY - DEPTH, HOLE)
    wall = find_wall(
        with_feature(detail, "through hole main 1", shape=hole), "through hole main 1", "channel cross"
    )
    assert wall.thickness == pytest.approx(1.0, abs=1e-3)
    assert wall.wet


def test_front_bore_beside_a_front_channel_is_found(detail):
    """A bore that passes the front face 1.2 mm beside the channel there, on its way to the back one."""
    bore = Cylinder((70.0, 45.0 - 4.0 - 1.2 - BORE, FRONT), INTO["front"], FRONT - DEPTH / 2, BORE, 0.7)
    wall = find_wall(
        with_feature(detail, "port cross inlet", shape=bore), "port cross inlet", "channel main front"
    )
    assert wall.thickness == pytest.approx(1.2, abs=1e-3)


def test_screws_of_both_covers_on_one_axis_need_a_wall(detail):
    """Tapped 8 mm and 11.4 mm deep from both faces, they leave 0.6 mm of 20."""
    shape = Cylinder((6.0, 6.0, BODY), INTO["front"], 11.4, 1.65)
    wall = find_wall(
        with_feature(detail, "front cover screw 1 M4", shape=shape),
        "cover screw 1 M4",
        "front cover screw 1 M4",
    )
    assert wall.thickness == pytest.approx(0.6, abs=1e-3)
    assert not wall.wet


def test_outer_face_is_that_of_the_front_cover(detail):
    """A front cover of 1.5 mm is the wall over the front channels; the joint under it is none."""
    body, cover, front = detail.blanks
    thin = replace(front, z1=BODY + 1.5)
    kept = tuple(f for f in detail.features if "front cover" not in f.name)
    wall = find_wall(
        replace(detail, blanks=(body, cover, thin), features=kept), "channel main front", "outer front"
    )
    assert wall.thickness == pytest.approx(1.5, abs=1e-3)


def test_seat_over_a_front_channel_is_found(detail):
    seat = Feature(
        "pump seat", "seat", "dry", Cylinder((70.0, 45.0, FRONT), INTO["front"], 4.7, 10.0), opens=("front",)
    )
    wall = find_wall(replace(detail, features=(*detail.features, seat)), "pump seat", "channel main front")
    assert wall.thickness == pytest.approx(COVER - 4.7, abs=1e-3)


def test_hole_that_ends_short_parts_the_coolant(detail):
    short = Cylinder((50.0, 45.0, DEPTH / 2), INTO["back"], BODY / 2 - DEPTH / 2, HOLE)
    parted = build_solids(with_feature(detail, "through hole main 1", shape=short))
    (found,) = check_pieces(parted, REGIONS)
    assert (found.code, found.value, found.limit) == ("volume.split", 3.0, 2.0)


@given(
    depth=st.floats(4.0, 8.5),
    # Holes are bored to 0.95 of the width at most (`faces.HOLE_SHARE`). At 0.99999 of it the kernel's mesh fails, and
    # `mesh.open` tells; exactly tangent ones stand.
    ratio=st.one_of(st.floats(0.5, 0.95), st.just(1.0)),
    end=st.floats(30.0, 60.0),
    drop=st.floats(15.0, 45.0),
)
@settings(max_examples=15, deadline=None)
def test_a_hole_joins_both_faces_whatever_its_size_and_place(depth, ratio, end, drop):
    """A turn in the hole, a hole as wide as the channels (it touches their round ends all round) included."""
    outline = outline_rectangle(0, 0, WIDTH, 60, 0)
    back = channel("channel a", ((15.0, 45.0), (end, 45.0)), 0, depth)
    front = channel("channel a front", ((end, 45.0), (end, 45.0 - drop + 5.0)), BODY - depth, BODY)
    hole = Feature(
        "through hole a 1",
        "through hole",
        "wet",
        Cylinder((end, 45.0, depth / 2), INTO["back"], BODY - depth, ratio * CHANNEL / 2),
        ("channel a", "channel a front"),
    )
    blanks = (
        Blank("body", outline, 0, BODY),
        Blank("cover", outline, -COVER, 0),
        Blank("front cover", outline, BODY, FRONT),
    )
    detail = Detail(blanks, (back, front, hole), ())
    solids = build_solids(detail)
    assert check_pieces(solids, 1) == ()
    disc = math.pi * CHANNEL**2 / 4
    slots = ((end - 15.0) * CHANNEL + (drop - 5.0) * CHANNEL + 2 * disc) * depth
    expected = slots + disc * ratio**2 * (BODY - 2 * depth)
    assert solids.volumes["wet"] == pytest.approx(expected, rel=1e-6)
    assert plan_volume(detail) == pytest.approx(expected, rel=1e-6)
    mesh = mesh_solid(solids.wet)
    assert mesh.is_watertight
    assert mesh.body_count == 1
