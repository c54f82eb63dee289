"""From features to solids: what must hold of every panel, and what is refused by name."""

from __future__ import annotations

import dataclasses
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_detail import (
    CORD,
    FILLET,
    GROOVE,
    GROOVE_DEPTH,
    LAND,
    channel,
    draw_middle,
    grow_feed,
    grow_main,
    make_panel,
    make_plate,
    make_track,
)

from geom.build import Solids, build_solids, make_solid, merge_blanks
from geom.build import make_track as build_track
from geom.errors import GeometryError
from geom.features import Blank, Cylinder, Detail, Feature, Prism, Track
from geom.kernel import find_volume, is_valid, make_face, read_loops
from geom.outline import (
    Arc,
    Line,
    outline_circle,
    outline_rectangle,
    path_length,
    reverse_path,
    round_corners,
    track_polygon,
)
from geom.skins import check_meshes
from geom.tessellate import mesh_solid
from geom.volume import plan_volume


@pytest.fixture(scope="module")
def panel() -> Solids:
    return build_solids(make_panel())


def bore(name: str, mouth, direction, length: float, radius: float, medium: str = "wet", **more) -> Feature:
    kind = "port" if medium == "wet" else "screw hole"
    return Feature(name, kind, medium, Cylinder(mouth, direction, length, radius), **more)


def test_panel_has_its_parts_in_order_and_two_wet_spaces(panel):
    assert [part.name for part in panel.parts] == ["body", "cover", "cord 1", "cord 2"]
    assert all(part.solid.ShapeType() == "Solid" and is_valid(part.solid) for part in panel.parts)
    assert len(panel.wet.Solids()) == 2
    assert [feature.name for feature, _ in panel.tools] == [f.name for f in make_panel().features]
    assert panel.part("cover") is panel.parts[1].solid
    with pytest.raises(KeyError):
        panel.part("lid")


def test_what_was_cut_is_coolant_and_dry_room(panel):
    v = panel.volumes
    gone = sum(v[f"blank {n}"] - v[f"part {n}"] for n in ("body", "cover"))
    assert gone == pytest.approx(v["wet"] + v["dry"], rel=1e-9)
    assert v["wet cover"] == 0
    assert v["wet body"] == pytest.approx(v["wet"], rel=1e-12)


def test_progress_tells_each_step():
    told: list[str] = []
    build_solids(make_panel(), told.append)
    assert told[0] == "solids of 23 features"
    assert told[1:] == ["cutting the body", "cutting the cover", "making the cord 1", "making the cord 2"]


@pytest.mark.published(
    source="closed form: a strip of width w along a smooth closed line of length l has area w l"
)
def test_groove_keeps_its_width_round_every_corner(panel):
    """By the kernel and by polygons of the walls, corners included."""
    tools = {feature.name: solid for feature, solid in panel.tools}
    for k, grow in ((1, grow_feed), (2, grow_main)):
        middle = draw_middle(grow(LAND + GROOVE / 2))
        length = path_length(middle)
        assert find_volume(tools[f"groove {k}"]) == pytest.approx(length * GROOVE * GROOVE_DEPTH, rel=1e-9)
        assert panel.volumes[f"insert cord {k}"] == pytest.approx(length * CORD * GROOVE_DEPTH, rel=1e-9)
        assert track_polygon(middle, True, GROOVE, 1e-4).area == pytest.approx(length * GROOVE, rel=1e-5)


def test_groove_is_rounded_with_one_centre_on_both_sides():
    (face,) = build_track("groove", make_track(grow_main(LAND + GROOVE / 2)))
    arcs = [s for loop in read_loops(face) for s in loop if isinstance(s, Arc)]
    small = [a for a in arcs if a.radius == pytest.approx(FILLET)]
    large = [a for a in arcs if a.radius == pytest.approx(FILLET + GROOVE)]
    assert len(small) == len(large) == 2
    for a in small:
        assert min(math.dist(a.centre, b.centre) for b in large) < 1e-6


def test_bore_with_lead_chamfer_has_cone_and_shank():
    r, c, length = 5.9, 0.7, 12.0
    cone = math.pi * c / 3 * ((r + c) ** 2 + (r + c) * r + r**2)
    expected = cone + math.pi * r**2 * (length - c)
    for direction in ((0.0, 0.0, -1.0), (1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.6, 0.8, 0.0)):
        solid = make_solid("port", Cylinder((1, 2, 3), direction, length, r, c))
        assert find_volume(solid) == pytest.approx(expected, rel=1e-9)
        centre = solid.Center().toTuple()
        along = sum((centre[k] - (1, 2, 3)[k]) * direction[k] for k in range(3))
        assert 0 < along < length / 2
        assert math.dist(centre, [(1, 2, 3)[k] + along * direction[k] for k in range(3)]) < 1e-9


def test_mouth_flush_with_an_outer_face_needs_no_extra_length():
    """The bore ends exactly in the faces: nothing thin stays, nothing more is cut."""
    through = bore("port", (0, 30, 10), (1, 0, 0), 100.0, 4.0)
    solids = build_solids(make_plate(through))
    assert solids.volumes["wet"] == pytest.approx(math.pi * 16 * 100, rel=1e-9)
    assert len(solids.part("panel").Faces()) == 7


def test_dry_room_that_coolant_fills_counts_once():
    wet = bore("port", (50, 30, 20), (0, 0, -1), 10.0, 5.0)
    face = Feature("spot face", "spot face", "dry", Cylinder((50, 30, 20), (0, 0, -1), 1.0, 9.0), ("port",))
    v = build_solids(make_plate(wet, face)).volumes
    assert v["wet"] == pytest.approx(math.pi * 25 * 10, rel=1e-9)
    assert v["dry"] == pytest.approx(math.pi * (81 - 25) * 1.0, rel=1e-9)


def test_coolant_that_passes_from_blank_to_blank_is_one_solid():
    outline = outline_rectangle(0, 0, 100, 60, 4)
    blanks = (Blank("body", outline, 0, 20), Blank("front cover", outline, 20, 26))
    features = (
        channel("channel", ((20, 30), (80, 30)), 12, 20),
        bore("port", (80, 30, 26), (0, 0, -1), 10.0, 4.0, joins=("channel",), opens=("front",)),
    )
    detail = Detail(blanks, features, ())
    solids = build_solids(detail)
    assert len(solids.wet.Solids()) == 1
    assert solids.volumes["wet front cover"] == pytest.approx(math.pi * 16 * 6, rel=1e-9)
    assert solids.volumes["wet"] == pytest.approx(plan_volume(detail), rel=3e-7)
    assert not check_meshes({"coolant": mesh_solid(solids.wet)}, {"coolant": solids.wet})
    assert [b.name for b in merge_blanks(blanks)] == ["body and front cover"]


def test_panel_without_coolant_has_an_empty_wet_solid():
    solids = build_solids(make_plate(bore("screw", (50, 30, 20), (0, 0, -1), 10.0, 2.0, "dry")))
    assert solids.wet.Solids() == []
    assert solids.volumes["wet"] == 0


@pytest.mark.published(
    source="closed form: a strip of width w along a smooth line of length l with round ends has area w l + pi w^2/4"
)
def test_open_track_has_round_ends():
    path = round_corners(((0, 0), (30, 0), (30, 25)), 6.0)
    solid = make_solid("groove", Track(path, False, 2.8, 0.0, 1.5))
    assert find_volume(solid) == pytest.approx(1.5 * (2.8 * path_length(path) + math.pi / 4 * 2.8**2))


def test_track_that_turns_either_way_is_the_same():
    middle = draw_middle(grow_main(LAND + GROOVE / 2))
    one, two = (
        make_solid("groove", Track(path, True, GROOVE, 0.0, 1.5)) for path in (middle, reverse_path(middle))
    )
    assert find_volume(one) == pytest.approx(find_volume(two), rel=1e-12)


@given(
    start=st.tuples(st.integers(12, 40), st.integers(12, 48)),
    reach=st.integers(30, 45),
    rise=st.sampled_from((-30, 0, 30)),
    depth=st.floats(3, 12),
    port=st.floats(2, 5),
    height=st.floats(7, 13),
    screw=st.tuples(st.floats(4, 96), st.floats(4, 56)),
)
@settings(max_examples=25, deadline=None)
def test_any_small_panel_adds_up(start, reach, rise, depth, port, height, screw):
    x, y = start
    if not 12 <= y + rise <= 48:
        rise = 0
    points = ((x, y), (x + reach, y)) if rise == 0 else ((x, y), (x + reach, y), (x + reach, y + rise))
    detail = make_plate(
        channel("channel", points, 0.0, depth),
        bore("face port", (x, y, 20), (0, 0, -1), 20 - depth, 4.0, joins=("channel",)),
        bore("edge port", (0, y, height), (1, 0, 0), x, port, joins=("channel",)),
        bore("screw", (*screw, 20), (0, 0, -1), 9.0, 1.65, "dry"),
    )
    solids = build_solids(detail)
    v = solids.volumes
    assert v["part panel"] + v["wet"] + v["dry"] == pytest.approx(v["blank panel"], rel=1e-9)
    assert v["wet"] == pytest.approx(plan_volume(detail, 1e-3), rel=1e-6)
    shapes = {"panel": solids.part("panel"), "coolant": solids.wet}
    assert check_meshes({name: mesh_solid(shape) for name, shape in shapes.items()}, shapes) == ()


def test_same_detail_gives_same_mesh_bytes():
    meshes = [mesh_solid(build_solids(make_panel()).part("body")) for _ in range(2)]
    assert meshes[0].vertices.tobytes() == meshes[1].vertices.tobytes()
    assert meshes[0].faces.tobytes() == meshes[1].faces.tobytes()


def test_feature_that_cuts_the_plate_in_two_is_named():
    slot = Feature("channel slot", "channel", "wet", Prism((outline_rectangle(40, -1, 44, 61, 0),), 0, 20))
    hole = bore("screw", (41, 30, 20), (0, 0, -1), 9.0, 5.0, "dry")
    with pytest.raises(
        GeometryError, match=r"falls into 2 pieces.*cut off by channel slot; move or shorten it"
    ):
        build_solids(make_plate(slot, hole))


@pytest.mark.parametrize(
    ("features", "match"),
    [
        ((bore("port", (200, 30, 20), (0, 0, -1), 5.0, 3.0),), "port: it lies outside the panel"),
        ((bore("port", (50, 30, 20), (0, 0, -1), 5.0, 0.0),), "port: a bore of radius 0 mm"),
        ((bore("port", (50, 30, 20), (0, 0, -2), 5.0, 3.0),), "has length 2, not 1"),
        ((channel("c", ((20, 30), (80, 30)), 5, 5),), "c: its top at z = 5 mm is not above"),
        ((channel("c", ((20, 30), (80, 30)), 0, 5),) * 2, "c: two of the panel's features"),
        (
            (
                Feature(
                    "groove",
                    "groove",
                    "dry",
                    Track(round_corners(((20, 30), (50, 30), (50, 50)), 1), False, 3, 0, 1),
                ),
            ),
            r"groove: the turn at .* has a radius of 1 mm, too tight for an outline 1\.5 mm off it: raise",
        ),
        (
            (
                Feature(
                    "groove",
                    "groove",
                    "dry",
                    Track(
                        round_corners(((20, 30), (60, 30), (60, 40), (30, 40), (30, 32)), 2.5), False, 4, 0, 1
                    ),
                ),
            ),
            "groove: .*meets itself; give it room",
        ),
        ((Feature("all", "tank", "wet", Prism((outline_rectangle(-1, -1, 101, 61, 0),), 0, 20)),), "cut all"),
    ],
)
def test_impossible_features_are_refused_by_name(features, match):
    with pytest.raises(GeometryError, match=match):
        build_solids(make_plate(*features))


def test_open_outline_is_refused():
    loop = (*outline_rectangle(0, 0, 10, 5, 0)[:3], Line((0, 5), (1, 1)))
    with pytest.raises(GeometryError, match="does not close"):
        make_face(loop, 0.0)
    with pytest.raises(GeometryError, match="not a closed"):
        make_face((Line((0, 0), (1, 0)), Line((3, 3), (4, 4))), 0.0)


def test_results_cannot_be_changed(panel):
    with pytest.raises(dataclasses.FrozenInstanceError):
        panel.parts = ()
    assert make_face(outline_circle((0, 0), 2), 1.0).Area() == pytest.approx(math.pi * 4)
