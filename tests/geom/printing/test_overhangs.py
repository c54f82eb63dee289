"""What hangs in a pose: closed forms, published limits, and what turning a part must not change."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import assert_as_printed

from geom.printing.lay_down import lay_down
from geom.printing.measured import PoseMeasure
from geom.printing.overhangs import BED_MM, measure_pose
from geom.printing.part_skin import survey_skin

UP = (0.0, 0.0, 1.0)
STANFORD = "Stanford lab64, FDM rules of thumb, Overhangs (https://lab64.stanford.edu/hiddenoutdated-items/fdm-rules-of-thumb)"


def box(*low_high: tuple[float, float]) -> trimesh.Trimesh:
    """Return a box from its spans along x, y, z, [mm]."""
    bounds = np.array(low_high).T
    return trimesh.creation.box(bounds=bounds)


def less(solid: trimesh.Trimesh, *tools: trimesh.Trimesh) -> trimesh.Trimesh:
    return trimesh.boolean.difference([solid, *tools], engine="manifold")


def plus(*solids: trimesh.Trimesh) -> trimesh.Trimesh:
    return trimesh.boolean.union(list(solids), engine="manifold")


def measure(
    mesh: trimesh.Trimesh,
    up: tuple[float, float, float] = UP,
    wet: trimesh.Trimesh | None = None,
    limit: float = 45.0,
) -> PoseMeasure:
    return measure_pose(survey_skin(mesh, wet), up, limit, 10.0, 0.45, 0.2)


def hollow_block() -> tuple[trimesh.Trimesh, trimesh.Trimesh]:
    """Return a block with a closed channel in it, and that channel's coolant."""
    wet = box((40, 80), (46, 54), (46, 55))
    return less(box((0, 120), (0, 100), (0, 100)), wet), wet


@settings(max_examples=12, deadline=None)
@given(width=st.floats(2.0, 25.0), length=st.floats(30.0, 60.0), turn=st.floats(0.0, 180.0))
def test_slot_spans_its_width(width: float, length: float, turn: float):
    slot = box((10, 10 + length), (20, 20 + width), (-1, 4))
    plate = less(box((0, 80), (0, 60), (0, 12)), slot)
    plate.apply_transform(trimesh.transformations.rotation_matrix(math.radians(turn), UP))
    (roof,) = measure(plate).roofs
    assert roof.span == pytest.approx(width, abs=0.03)
    assert roof.area == pytest.approx(width * length, rel=1e-6)
    assert roof.at[2] == pytest.approx(4.0, abs=1e-6)
    assert roof.carried
    assert not roof.inside
    found = measure(plate).support_mm2
    assert found == pytest.approx(width * length if roof.span > 10.0 else 0.0, rel=1e-6)


def test_slot_open_at_both_ends_is_carried_by_its_walls():
    bridge = less(box((0, 80), (0, 60), (0, 12)), box((-1, 81), (20, 28), (-1, 4)))
    (roof,) = measure(bridge).roofs
    assert roof.span == pytest.approx(8.0, abs=0.03)
    assert roof.carried


def test_ledge_is_not_carried():
    ledge = plus(box((0, 20), (0, 20), (0, 30)), box((0, 26), (0, 20), (20, 30)))
    found = measure(ledge)
    (roof,) = found.roofs
    assert roof.span == pytest.approx(6.0, abs=0.03)
    assert not roof.carried
    assert found.support_mm2 == pytest.approx(6 * 20, rel=1e-6)


def test_ring_round_a_bore_hangs_at_its_inner_edge():
    seat = trimesh.creation.cylinder(11, 2, sections=96, transform=_at(30, 30, 0))
    bore = trimesh.creation.cylinder(6, 40, sections=96, transform=_at(30, 30, 0))
    found = measure(less(box((0, 60), (0, 60), (0, 15)), seat, bore))
    (roof,) = found.roofs
    assert roof.span == pytest.approx(5.0, abs=0.05)
    assert not roof.carried
    ring = 96 / 2 * math.sin(2 * math.pi / 96) * (11**2 - 6**2)
    assert found.support_mm2 == pytest.approx(ring, rel=1e-3)


def test_sphere_needs_support_under_its_cap():
    radius = 20.0
    found = measure(trimesh.creation.icosphere(5, radius))
    cap = 2 * math.pi * radius**2 * (1 - math.cos(math.radians(45)))
    assert found.support_mm2 == pytest.approx(cap, rel=0.03)
    assert found.islands == ()
    assert found.height == pytest.approx(2 * radius, rel=1e-3)


def test_lying_cylinder_needs_support_under_a_quarter_turn():
    rod = trimesh.creation.cylinder(10, 80, sections=360)
    found = measure(rod, up=(1.0, 0.0, 0.0))
    # What lies within 0.05 mm of the bed lies on it: a strip of an arc on each side of the lowest line.
    on_bed = 2 * math.acos(1 - BED_MM / 10)
    assert found.support_mm2 == pytest.approx(10 * (math.pi / 2 - on_bed) * 80, rel=0.03)
    assert found.footprint == pytest.approx((80, 20), rel=1e-3)
    upright = measure(rod)
    assert upright.support_mm2 == 0.0
    assert upright.bed_mm2 == pytest.approx(math.pi * 100, rel=1e-3)
    assert upright.stands


def test_bore_spans_what_is_flatter_than_the_limit():
    bore = trimesh.creation.cylinder(
        6, 200, sections=720, transform=trimesh.transformations.rotation_matrix(math.pi / 2, (1, 0, 0))
    )
    bore.apply_translation((30, 0, 15))
    (roof,) = measure(less(box((0, 60), (-20, 20), (0, 30)), bore)).roofs
    assert roof.span == pytest.approx(12 * math.sin(math.radians(45)), abs=0.1)
    assert roof.at[2] == pytest.approx(21.0, abs=0.01)


def test_pyramid_on_its_tip_hangs_all_round():
    half, height = 15.0, 10.0
    tip = trimesh.convex.convex_hull(
        np.array([(x, y, height) for x in (-half, half) for y in (-half, half)] + [(0, 0, 0)])
    )
    found = measure(tip)
    assert found.support_mm2 == pytest.approx(4 * half * math.hypot(half, height), rel=1e-6)
    # Steeper than the limit it carries itself.
    steep = tip.copy()
    steep.apply_scale((1, 1, 2))
    assert measure(steep).support_mm2 == 0.0


def test_table_has_no_island_and_its_hanging_post_has():
    top = box((0, 60), (0, 60), (20, 25))
    legs = [box((x, x + 5), (y, y + 5), (0, 20)) for x in (0, 55) for y in (0, 55)]
    post = box((28, 32), (28, 32), (8, 20))
    table = measure(plus(top, *legs))
    assert table.islands == ()
    assert table.stands
    assert table.support_mm2 == pytest.approx(60 * 60 - 4 * 25, rel=1e-6)
    hung = measure(plus(top, *legs, post))
    (island,) = hung.islands
    assert island[2] == pytest.approx(8.0, abs=1e-6)
    assert 28 <= island[0] <= 32
    # The other way up all stands on the top.
    turned = measure(plus(top, *legs, post), up=(0.0, 0.0, -1.0))
    assert turned.islands == ()
    assert turned.support_mm2 == 0.0


def test_hollow_is_no_island():
    mesh, wet = hollow_block()
    for up in (UP, (0.0, 0.0, -1.0), (0.0, 1.0, 0.0), (0.6, 0.0, 0.8)):
        assert measure(mesh, up, wet).islands == ()
    peak = trimesh.convex.convex_hull(
        np.array([(x, y, 40) for x in (40, 60) for y in (40, 60)] + [(50, 50, 70)])
    )
    for up in (UP, (0.0, 0.0, -1.0)):
        assert measure(less(box((0, 100), (0, 100), (0, 100)), peak), up, peak).islands == ()


def test_step_lower_than_a_layer_is_no_island():
    top = box((0, 60), (0, 60), (20, 25))
    legs = [box((x, x + 5), (0, 60), (0, 20)) for x in (0, 55)]
    nub = box((20, 30), (20, 30), (19.9, 20.5))
    peg = box((20, 30), (20, 30), (19.5, 20.5))
    assert len(measure(plus(top, *legs, peg)).islands) == 1
    # A nub lower than a layer is printed with the roof that it hangs from.
    assert measure(plus(top, *legs, nub)).islands == ()


def test_closed_channel_is_inside_and_an_open_one_is_not():
    mesh, wet = hollow_block()
    (roof,) = measure(mesh, wet=wet).roofs
    assert roof.inside
    assert roof.span == pytest.approx(8.0, abs=0.03)
    assert roof.at == pytest.approx((60, 50, 55), abs=17)
    assert roof.at[2] == pytest.approx(55.0, abs=1e-6)
    groove = box((40, 80), (46, 54), (-1, 9))
    opened = less(box((0, 120), (0, 100), (0, 100)), groove)
    assert [roof.inside for roof in measure(opened, wet=groove).roofs] == [False]


def test_channel_seen_through_its_port_is_inside():
    """A tool reaches the end under the bore, not the 70 mm of it beyond."""
    channel = box((20, 100), (46, 54), (20, 29))
    port = trimesh.creation.cylinder(5.5, 30, sections=96, transform=_at(25.5, 50, 10))
    wet = plus(channel, port)
    mesh = less(box((0, 120), (0, 100), (0, 60)), wet)
    roofs = [roof for roof in measure(mesh, wet=wet).roofs if roof.at[2] == pytest.approx(29.0)]
    assert [roof.inside for roof in roofs] == [True]
    skin = survey_skin(mesh, wet)
    top = (skin.normals[:, 2] < -0.9) & (np.abs(skin.vertices[skin.triangles][:, :, 2] - 29.0) < 1e-6).all(
        axis=1
    )
    # What is seen is the bore's circle, cut to the channel's width.
    seen = 2 * (4 * math.sqrt(5.5**2 - 4**2) + 5.5**2 * math.asin(4 / 5.5))
    assert float(skin.areas[top] @ skin.closed[top]) == pytest.approx(80 * 8 - seen, abs=20.0)
    # A bore alone is reached to its end.
    alone = less(box((0, 120), (0, 100), (0, 60)), port)
    assert [roof.inside for roof in measure(alone, wet=port).roofs] == [False]


def test_no_bridge_crosses_a_step_of_height():
    """Two roofs side by side, 9 and 8 mm wide, one higher: joined at their ends by a ramp that hangs too."""
    low = plus(box((0, 60), (0, 9), (0, 20)), box((50, 60), (9, 17), (0, 20)))
    high = box((0, 40), (9, 17), (0, 24))
    feet = [(x, y, 0) for x in (40, 50) for y in (9, 17)]
    tops = [(x, y, z) for x, z in ((40, 24), (50, 20)) for y in (9, 17)]
    ramp = trimesh.convex.convex_hull(np.array(feet + tops))
    wet = plus(low, high, ramp)
    wet.apply_translation((30, 30, 30))
    (roof,) = measure(less(box((0, 120), (0, 100), (0, 100)), wet), wet=wet).roofs
    assert roof.inside
    # Beyond the ramp both are as high: the largest circle lies there, well under the 17 mm of both together.
    assert roof.span < 14.0


def test_bores_are_carried_alike_wherever_they_lead():
    """The rim at the end waves by a few hundredths of a millimetre; a line along it is carried all the same."""
    wave = [(16.0 + 0.03 * math.sin(1.5 * y), y) for y in np.linspace(0.0, 8.4, 22)]
    plan = shapely.Polygon([(0.0, 0.0), (16.0, 0.0), *wave, (16.0, 8.4), (0.0, 8.4)]).buffer(0)
    roof = trimesh.creation.extrude_polygon(plan, 4.0)
    roof.apply_translation((0, 0, 20))
    walls = [
        box((-6, 16), (-6, 0), (0, 24)),
        box((-6, 16), (8.4, 14.4), (0, 24)),
        box((-6, 0), (0, 8.4), (0, 24)),
    ]
    (found,) = measure(plus(roof, *walls)).roofs
    assert found.span == pytest.approx(8.4, abs=0.1)
    assert found.carried


def test_support_stands_on_the_bed_or_on_the_part():
    """A table's top hangs over the bed; with a foot as wide as the top it hangs over the foot."""
    top, leg = box((0, 60), (0, 60), (30, 35)), box((0, 10), (0, 10), (0, 30))
    (free,) = measure(plus(top, leg)).roofs
    assert free.over_bed
    (shut,) = measure(plus(top, leg, box((0, 60), (0, 60), (0, 3)))).roofs
    assert not shut.over_bed


@settings(max_examples=12, deadline=None)
@given(
    turn=st.tuples(st.floats(-1, 1), st.floats(-1, 1), st.floats(0.1, 1)),
    angle=st.floats(0, 360),
    tilt=st.floats(0, 80),
)
def test_turning_part_and_direction_together_changes_nothing(
    turn: tuple[float, float, float], angle: float, tilt: float
):
    mesh, wet = hollow_block()
    up = np.array((math.sin(math.radians(tilt)), 0.0, math.cos(math.radians(tilt))))
    matrix = trimesh.transformations.rotation_matrix(math.radians(angle), turn)
    before = measure(mesh, tuple(up), wet)
    other, other_wet = mesh.copy(), wet.copy()
    other.apply_transform(matrix)
    other_wet.apply_transform(matrix)
    after = measure(other, tuple(matrix[:3, :3] @ up), other_wet)
    assert after.height == pytest.approx(before.height, abs=1e-6)
    assert after.footprint == pytest.approx(before.footprint, rel=1e-6)
    assert after.support_mm2 == pytest.approx(before.support_mm2, rel=1e-6, abs=1e-6)
    assert [r.span for r in after.roofs] == pytest.approx([r.span for r in before.roofs], abs=0.05)
    assert [r.area for r in after.roofs] == pytest.approx([r.area for r in before.roofs], rel=1e-6)
    assert len(after.islands) == len(before.islands)


@pytest.mark.published(source=STANFORD)
@pytest.mark.parametrize(("lean", "hangs"), [(44.0, False), (45.0, False), (47.0, True)])
def test_overhangs_past_45_degrees_hang(lean: float, hangs: bool):
    out = 20 * math.tan(math.radians(lean))
    profile = shapely.Polygon([(0, 0), (30, 0), (30 + out, 20), (0, 20)])
    wedge = trimesh.creation.extrude_polygon(profile, 40)
    found = measure(wedge, up=(0.0, 1.0, 0.0))
    assert (found.support_mm2 > 0) is hangs


@pytest.mark.published(
    source="https://novalab3d.com/blog/overhangs-bridges-supports-fdm-design, section 2, Bridging Limits: 10 to 15 mm"
)
@pytest.mark.parametrize(("width", "held"), [(10.0, False), (15.1, True)])
def test_bridges_up_to_10_mm_need_no_support(width: float, held: bool):
    slot = box((10, 70), (20, 20 + width), (-1, 4))
    assert (measure(less(box((0, 80), (0, 60), (0, 12)), slot)).support_mm2 > 0) is held


@pytest.mark.parametrize("up", [UP, (1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.6, 0.0, 0.8), (0.36, 0.48, 0.8)])
def test_laid_down_mesh_lies_on_the_bed(up: tuple[float, float, float]):
    mesh = trimesh.boolean.difference(
        [box((5, 65), (5, 25), (5, 15)), box((50, 70), (0, 10), (0, 20))], engine="manifold"
    )
    laid = lay_down(mesh, up)
    assert laid.bounds[0] == pytest.approx((0, 0, 0), abs=1e-9)
    assert laid.volume == pytest.approx(mesh.volume, rel=1e-9)
    assert laid.extents[0] >= laid.extents[1] - 1e-9
    before, after = measure(mesh, up), measure(laid)
    assert after.height == pytest.approx(before.height, abs=1e-6)
    assert after.support_mm2 == pytest.approx(before.support_mm2, abs=1e-6)
    assert_as_printed(after.bed_mm2, f"{before.bed_mm2:.3f}")


def _at(x: float, y: float, z: float) -> np.ndarray:
    return trimesh.transformations.translation_matrix((x, y, z))
