"""Features: named, joined only on purpose, inside their blanks, and of the volume that they should have."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
import shapely

from geom.build import build_solids
from geom.features import Cylinder, Detail, Feature, Prism, Track
from geom.outline import loop_area, outline_circle, region_polygon
from geom.standards.tables import screw
from geom.walls import measure_walls
from layouts.clearance import clearances_of, tank_z
from layouts.closing.close import close_panel
from layouts.detail import (
    SPOT_FACE_DEPTH,
    cast_shadow,
    cover_screw_depth,
    cut_openings,
    cut_pump_screws,
    detail_panel,
    tapped_depth,
)
from layouts.faces import layer_z
from layouts.panel import Closing, Panel
from layouts.plan import Routed, Run
from tests.layouts.sample_routed import sample_back, sample_panel, sample_routed

CLOSINGS: tuple[Closing, ...] = ("cord", "bonded", "one-piece")


def detail_sample(panel: Panel, routed: Routed) -> Detail:
    """Return the detail of a panel, sealed and screwed."""
    gaps = clearances_of(panel)
    return detail_panel(panel, routed, close_panel(panel, routed, gaps), gaps)


def find(features: tuple[Feature, ...], name: str) -> Feature:
    """Return the feature called `name`."""
    return next(feature for feature in features if feature.name == name)


def bore(features: tuple[Feature, ...], name: str) -> Cylinder:
    """Return the bore of the feature called `name`."""
    shape = find(features, name).shape
    assert isinstance(shape, Cylinder)
    return shape


@pytest.mark.parametrize("closing", CLOSINGS)
@pytest.mark.parametrize("back", [False, True])
def test_names_are_unique_and_joins_name_features(closing: Closing, back: bool) -> None:
    panel, routed = sample_back(closing) if back else (sample_panel(closing), sample_routed(closing))
    detail = detail_sample(panel, routed)
    names = [feature.name for feature in detail.features]
    assert len(set(names)) == len(names)
    for feature in detail.features:
        assert set(feature.joins) <= set(names) - {feature.name}
        assert bool(feature.region) == (feature.medium == "wet")


def test_every_kind_is_there_under_its_name() -> None:
    names = {feature.name for feature in detail_sample(sample_panel(), sample_routed()).features}
    assert names >= {
        "channel feed",
        "channel pump - blocks",
        "tank",
        "spot face block a inlet",
        "port block a inlet G1/4",
        "port radiator inlet G1/4",
        "port fill G1/4",
        "port drain G1/4",
        "pump inlet bore",
        "pump outlet bore",
        "pump seat",
        "pump screw 4 M4",
        "groove 3",
        "cover screw 1 M4",
        "cover clearance 1",
    }


@pytest.mark.parametrize("closing", CLOSINGS)
def test_blanks_and_inserts(closing: Closing) -> None:
    panel = sample_panel(closing)
    detail = detail_sample(panel, sample_routed(closing))
    spans = {blank.name: (blank.z0, blank.z1) for blank in detail.blanks}
    assert spans == (
        {"panel": (0.0, 20.0)} if closing == "one-piece" else {"body": (0.0, 20.0), "cover": (-8.0, 0.0)}
    )
    assert [i.name for i in detail.inserts] == (["cord 1", "cord 2", "cord 3"] if closing == "cord" else [])
    area = 200.0 * 140.0 - (4 - math.pi) * 6.0**2
    assert all(loop_area(blank.loop) == pytest.approx(area) for blank in detail.blanks)


@pytest.mark.parametrize("closing", CLOSINGS)
@pytest.mark.parametrize("back", [False, True])
def test_a_feature_stays_inside_or_opens_the_face_that_it_declares(closing: Closing, back: bool) -> None:
    panel, routed = sample_back(closing) if back else (sample_panel(closing), sample_routed(closing))
    detail = detail_sample(panel, routed)
    low, high = min(b.z0 for b in detail.blanks), max(b.z1 for b in detail.blanks)
    for feature in detail.features:
        shadow, z0, z1 = cast_shadow(feature.shape)
        x0, y0, x1, y1 = shadow.bounds
        reached = {
            face
            for face, over in {
                "back": low - z0,
                "front": z1 - high,
                "left": -x0,
                "right": x1 - panel.width,
                "bottom": -y0,
                "top": y1 - panel.height,
            }.items()
            if over > -1e-6
        }
        assert reached <= set(feature.opens), feature.name
        assert len(feature.opens) <= 1
        # What opens a face ends on it, or lies on the floor of a spot face or seat that does.
        if feature.opens and not reached:
            assert any("spot face" in name or name == "pump seat" for name in feature.joins), feature.name


def test_channels_of_one_region_join_only_where_they_meet() -> None:
    openings = cut_openings(sample_panel(), sample_routed())
    assert find(openings, "channel feed").joins == ("tank", "channel drain")
    assert find(openings, "channel radiator - tank").joins == ("tank",)
    assert find(openings, "channel drain").joins == ("channel feed",)
    assert find(openings, "channel pump - blocks").joins == ()
    assert find(openings, "pump inlet bore").joins == ("channel feed", "channel drain", "pump seat")
    assert {f.region for f in openings if f.name.startswith(("channel feed", "tank", "port fill"))} == {
        "tank"
    }


def test_a_channel_that_crosses_another_does_not_join_it() -> None:
    routed = sample_routed()
    across = replace(
        routed.channel("drain"), name="stray", ends=("a", "b"), runs=(Run(((100.0, 60.0), (170.0, 60.0))),)
    )
    openings = cut_openings(sample_panel(), replace(routed, channels=(*routed.channels, across)))
    assert find(openings, "channel stray").joins == ()
    assert "channel stray" not in find(openings, "channel feed").joins


def test_a_run_that_ends_in_another_channel_joins_it() -> None:
    routed = sample_routed()
    branch = replace(
        routed.channel("drain"), name="branch", ends=("a", "b"), runs=(Run(((170.0, 60.0), (145.0, 60.0))),)
    )
    openings = cut_openings(sample_panel(), replace(routed, channels=(*routed.channels, branch)))
    assert find(openings, "channel branch").joins == ("channel feed",)


@pytest.mark.parametrize("closing", CLOSINGS)
def test_front_bores_run_from_their_seat_to_mid_channel(closing: Closing) -> None:
    panel = sample_panel(closing)
    openings = cut_openings(panel, sample_routed(closing))
    middle = sum(layer_z(panel, "back")) / 2
    port = bore(openings, "port block a inlet G1/4")
    assert port.mouth == (60.0, 40.0, 20.0 - SPOT_FACE_DEPTH)
    assert port.mouth[2] - port.length == pytest.approx(middle)
    assert 2 * port.radius == pytest.approx(11.8)
    assert 2 * (port.radius + port.chamfer) == pytest.approx(13.157)
    spot = bore(openings, "spot face block a inlet")
    assert (spot.mouth[2], spot.length, 2 * spot.radius) == (20.0, SPOT_FACE_DEPTH, 19.0)
    for name, diameter in (("pump inlet bore", 10.0), ("pump outlet bore", 8.0)):
        shape = bore(openings, name)
        assert shape.mouth[2] == pytest.approx(20.0 - 1.5)
        assert shape.mouth[2] - shape.length == pytest.approx(middle)
        assert 2 * shape.radius == diameter


def test_an_edge_bore_ends_inside_its_channel() -> None:
    openings = cut_openings(sample_panel(), sample_routed())
    port = bore(openings, "port radiator inlet G1/4")
    assert port.mouth[:2] == (30.0, 140.0)
    assert 140.0 - port.length < 120.0
    assert not any(feature.name == "spot face radiator inlet" for feature in openings)


@pytest.mark.parametrize("closing", CLOSINGS)
def test_a_back_port_passes_the_cover(closing: Closing) -> None:
    panel, routed = sample_back(closing)
    openings = cut_openings(panel, routed)
    port = bore(openings, "port block b outlet G1/4")
    cover = 0.0 if closing == "one-piece" else 8.0
    assert port.mouth[2] == pytest.approx(SPOT_FACE_DEPTH - cover)
    assert port.mouth[2] + port.length == pytest.approx(sum(layer_z(panel, "back")) / 2)


def test_a_bore_wider_than_the_seat_starts_at_the_face() -> None:
    panel = sample_panel()
    panel = replace(panel, pump=replace(panel.pump, seat_diameter=40.0))
    openings = cut_openings(panel, sample_routed())
    outlet = bore(openings, "pump outlet bore")
    assert outlet.mouth[2] == 20.0
    assert "pump seat" in find(openings, "pump outlet bore").joins
    bare = replace(panel, pump=replace(panel.pump, seat_diameter=0.0))
    assert not any(f.kind == "seat" for f in cut_openings(bare, sample_routed()))


@pytest.mark.published(
    source="thread engagement 2-2.5 d in plastics, half a diameter below it: neptunelabs.us"
)
def test_pump_screws_are_tapped_from_the_pump_face() -> None:
    panel, routed = sample_panel(), sample_routed()
    holes = cut_pump_screws(panel, routed, cut_openings(panel, routed))
    assert [hole.shape.length for hole in holes if isinstance(hole.shape, Cylinder)] == [10.0] * 4
    assert tapped_depth(panel, screw("M4")) == pytest.approx((2 + 0.5) * 4)
    assert {hole.opens for hole in holes} == {("front",)}


def test_a_pump_screw_over_a_channel_keeps_the_wall() -> None:
    panel, routed = sample_panel(), sample_routed()
    over = replace(routed, pump=replace(routed.pump, screws=((145.0, 95.0), (106.0, 40.0))))
    holes = cut_pump_screws(panel, over, cut_openings(panel, over))
    assert bore(holes, "pump screw 1 M4").length == pytest.approx(20.0 - 13.0 - 2.0)
    assert bore(holes, "pump screw 2 M4").length == pytest.approx(20.0 - 9.0 - 2.0)


def test_a_pump_screw_inside_the_seat_starts_on_its_floor() -> None:
    panel, routed = sample_panel(), sample_routed()
    inside = replace(routed, pump=replace(routed.pump, screws=((165.0, 40.0),)))
    (hole,) = cut_pump_screws(panel, inside, cut_openings(panel, inside))
    assert hole.shape == Cylinder((165.0, 40.0, 18.5), (0.0, 0.0, -1.0), 10.0, 1.65)
    assert hole.joins == ("pump seat",)


def test_a_pump_on_the_back_is_screwed_into_the_cover() -> None:
    panel, routed = sample_panel(), sample_routed()
    panel = replace(panel, pump=replace(panel.pump, on="back"))
    detail = detail_sample(panel, routed)
    inlet = bore(detail.features, "pump inlet bore")
    assert (inlet.mouth[2], inlet.mouth[2] + inlet.length) == pytest.approx((-6.5, 4.5))
    hole = bore(detail.features, "pump screw 1 M4")
    assert (hole.mouth[2], hole.length) == (-8.0, 6.0)


def test_cover_screws_go_through_the_cover_and_end_behind_the_front() -> None:
    panel = sample_panel()
    detail = detail_sample(panel, sample_routed())
    hole, through = bore(detail.features, "cover screw 2 M4"), bore(detail.features, "cover clearance 2")
    assert hole.mouth == (*through.mouth[:2], 0.0)
    assert (through.mouth[2], through.length, through.radius) == (-8.0, 8.0, 2.25)
    assert (hole.length, hole.radius) == pytest.approx((13.2, 1.65))
    thin = replace(panel, make=replace(panel.make, body=11.0))
    assert cover_screw_depth(thin) == pytest.approx(9.0)


def test_groove_and_cord_turn_about_the_same_centres() -> None:
    detail = detail_sample(sample_panel(), sample_routed())
    groove, squeezed = find(detail.features, "groove 2").shape, detail.inserts[1].shape
    assert isinstance(groove, Track)
    assert isinstance(squeezed, Track)
    assert groove.path == squeezed.path
    assert groove.closed
    assert (groove.width, squeezed.width) == pytest.approx((2.8, math.pi * 4.0 / (4 * 1.5)))
    assert (groove.z0, groove.z1) == (squeezed.z0, squeezed.z1) == (0.0, 1.5)


@pytest.mark.published(source="closed form: prisms, bores and chamfer cones summed over z on the plan")
@pytest.mark.parametrize("closing", CLOSINGS)
def test_wet_solid_has_the_volume_of_the_plan(closing: Closing) -> None:
    panel, routed = sample_panel(closing), sample_routed(closing)
    routed = replace(routed, ports=tuple(port for port in routed.ports if port.on == "front"))
    detail = detail_sample(panel, routed)
    solids = build_solids(detail)

    fine = 1e-4
    plan = {
        kind: [
            region_polygon(f.shape.region, fine)
            for f in detail.features
            if f.kind == kind and isinstance(f.shape, Prism)
        ]
        for kind in ("channel", "tank")
    }
    bores = [f.shape for f in detail.features if f.kind in ("port", "pump bore")]
    discs = [
        (region_polygon((outline_circle(b.mouth[:2], b.radius),), fine), b)
        for b in bores
        if isinstance(b, Cylinder)
    ]
    (c0, c1), (t0, t1) = layer_z(panel, "back"), tank_z(panel)
    middle = (c0 + c1) / 2
    levels = sorted({c0, c1, t0, t1, middle, 18.5, 20.0 - SPOT_FACE_DEPTH})
    volume = 0.0
    for low, high in pairwise(levels):
        z = (low + high) / 2
        shapes = [*plan["channel"]] if c0 < z < c1 else []
        shapes += plan["tank"] if t0 < z < t1 else []
        shapes += [disc for disc, b in discs if b.mouth[2] - b.length < z < b.mouth[2]]
        volume += (high - low) * shapely.union_all(shapes).area
    for b in bores:
        if isinstance(b, Cylinder) and b.chamfer:
            wide = b.radius + b.chamfer
            cone = math.pi * b.chamfer / 3 * (wide**2 + wide * b.radius + b.radius**2)
            volume += cone - math.pi * b.radius**2 * b.chamfer
    assert solids.volumes["wet"] == pytest.approx(volume, rel=2e-6)
    blanks = sum(v for name, v in solids.volumes.items() if name.startswith("blank "))
    parts = sum(v for name, v in solids.volumes.items() if name.startswith("part "))
    assert blanks - parts == pytest.approx(volume + solids.volumes["dry"], rel=2e-6)


@pytest.mark.parametrize("closing", CLOSINGS)
@pytest.mark.parametrize("back", [False, True])
def test_the_sample_keeps_its_walls(closing: Closing, back: bool) -> None:
    panel, routed = sample_back(closing) if back else (sample_panel(closing), sample_routed(closing))
    detail = detail_sample(panel, routed)
    solids = build_solids(detail)
    walls = measure_walls(detail, solids, panel.rules.least_wall, 0.9)
    assert not [wall for wall in walls if wall.thickness < wall.limit - 1e-6]
    if closing == "cord":
        cords = sum(v for name, v in solids.volumes.items() if name.startswith("insert cord"))
        grooves = [cast_shadow(f.shape) for f in detail.features if f.kind == "groove"]
        groove = sum(shadow.area * (z1 - z0) for shadow, z0, z1 in grooves)
        assert cords / groove == pytest.approx(math.pi * 2.0**2 / (4 * 1.5 * 2.8), rel=0.01)


def test_shadows() -> None:
    upright = cast_shadow(Cylinder((5.0, 6.0, 20.0), (0.0, 0.0, -1.0), 8.0, 2.0, 0.5))
    assert (upright[0].area, *upright[1:]) == pytest.approx((math.pi * 2.5**2, 12.0, 20.0))
    level = cast_shadow(Cylinder((0.0, 6.0, 10.0), (1.0, 0.0, 0.0), 8.0, 2.0))
    assert (level[0].bounds, *level[1:]) == ((0.0, 4.0, 8.0, 8.0), 8.0, 12.0)
    track = Track(outline_circle((5.0, 5.0), 4.0), True, 2.0, 0.0, 1.5)
    shadow, *heights = cast_shadow(track)
    assert (shadow.area, *heights) == pytest.approx((16.0 * math.pi, 0.0, 1.5))
