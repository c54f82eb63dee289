"""Bonded joints: the pull on the bond, what is squeezed out, lands and clamps, against statics and closed forms."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import assert_as_printed

from layouts.clearance import clearances_of
from layouts.closing.bond import (
    LASTING_FACTOR,
    bead_section,
    bond_lands,
    channel_loss,
    clamp_forces,
    mean_pull,
    relief_ml,
    rim_pull,
    squeezed_ml,
)
from layouts.closing.clamps import BOARD, PAD_RADIUS, POINT_SHARE, THROAT, clamp_reach
from layouts.closing.close import close_panel
from layouts.closing.lands import OUTER_EDGE, JointShapes, land_beside, measure_land, shape_joint
from layouts.detail import cast_shadow, cut_openings
from layouts.plan import BondedLands, Routed
from tests.layouts.sample_faces import sample_faces
from tests.layouts.sample_routed import HEIGHT, WIDTH, sample_panel, sample_routed

PANEL, ROUTED = sample_panel("bonded"), sample_routed("bonded")
(LANDS,) = bond_lands(PANEL, ROUTED)


def lands_of(area: float, wet: float, rim: float = 100.0) -> BondedLands:
    return replace(LANDS, area_mm2=area, wet_mm2=wet, rim=rim)


@pytest.mark.published(source="statics: 0.1 MPa on 100 x 60 mm push with 600 N")
def test_mean_pull_is_the_opening_force_over_the_lands():
    lands = lands_of(4000.0, 100.0 * 60.0)
    assert_as_printed(mean_pull(lands, 0.1e6) * lands.area_mm2, "600")
    assert mean_pull(lands, 0.1e6) == pytest.approx(0.15)


@pytest.mark.published(
    source="statics: a force F at the end of a stiff block of length L on an even bed presses there by 4 F / L"
)
def test_rim_of_a_narrow_land_under_a_thick_cover_is_a_stiff_block():
    # The cover is so thick that the land turns as a block; its moment is what keeps the span's ends level with it.
    span, land, cover = 10.0, 2.0, 60.0
    shear = 0.05 * span / 2
    bed = 2.0 / cover  # Over Young's modulus.
    stiffness = cover**3 / 12
    turn_force, turn_moment = 6 / (bed * land**2), 12 / (bed * land**3)
    moment = (0.05 * span**3 / (24 * stiffness) - shear * turn_force) / (span / (2 * stiffness) + turn_moment)
    expected = 4 * shear / land + 6 * moment / land**2
    assert rim_pull(5e4, span, land, cover) == pytest.approx(expected, rel=2e-3)


@pytest.mark.published(
    source="closed form: endless beam on an elastic bed, y = 2 F l / k + 2 M l^2 / k at its end"
)
def test_rim_of_a_wide_land_is_an_endless_beam():
    span, cover, q = 28.0, 6.0, 0.05
    decay = 6**0.25 / cover
    shear = q * span / 2
    moment = (q * span**3 / 24 - shear / (2 * decay**2)) / (span / 2 + 1 / decay)
    assert rim_pull(5e4, span, 500.0, cover) == pytest.approx(
        2 * decay * shear + 2 * decay**2 * moment, rel=1e-4
    )


@pytest.mark.parametrize(("span", "land", "cover"), [(28.0, 4.0, 6.0), (28.0, 17.0, 6.0), (50.0, 8.0, 10.0)])
def test_rim_agrees_with_beam_elements(span, land, cover):
    """A beam on springs with a free span under pressure, in elements of the test's own.

    Half of the strip: free at the land's far end, level in mid-span. Young's modulus 1.
    """
    ei, bed, q = cover**3 / 12, 2.0 / cover, 0.05
    on, off = 120, 120
    lengths = np.array([land / on] * on + [span / 2 / off] * off)
    k = np.zeros((2 * (on + off + 1),) * 2)
    f = np.zeros(len(k))
    for e, h in enumerate(lengths):
        dofs = np.arange(2 * e, 2 * e + 4)
        shape = np.array(
            [[12, 6 * h, -12, 6 * h], [6 * h, 4 * h * h, -6 * h, 2 * h * h],
             [-12, -6 * h, 12, -6 * h], [6 * h, 2 * h * h, -6 * h, 4 * h * h]]
        )  # fmt: skip
        k[np.ix_(dofs, dofs)] += ei / h**3 * shape
        if e < on:
            mass = np.array(
                [[156, 22 * h, 54, -13 * h], [22 * h, 4 * h * h, 13 * h, -3 * h * h],
                 [54, 13 * h, 156, -22 * h], [-13 * h, -3 * h * h, -22 * h, 4 * h * h]]
            )  # fmt: skip
            k[np.ix_(dofs, dofs)] += bed * h / 420 * mass
        else:
            f[dofs] += q * h / 2 * np.array([1, h / 6, 1, -h / 6])
    free = np.delete(np.arange(len(k)), len(k) - 1)  # Level in mid-span.
    w = np.zeros(len(k))
    w[free] = np.linalg.solve(k[np.ix_(free, free)], f[free])
    assert rim_pull(5e4, span, land, cover) == pytest.approx(bed * w[2 * on], rel=2e-3)


def test_rim_without_span_or_land():
    assert rim_pull(5e4, 0.0, 5.0, 6.0) == 0.0
    assert rim_pull(5e4, 10.0, 0.0, 6.0) == math.inf
    assert math.isfinite(rim_pull(5e4, 10.0, 1e4, 6.0))


@pytest.mark.published(
    source="Adhesives Design Toolkit (National Physical Laboratory), durability design, table 2: 1.5, 1.5, 1.5, 2.0; "
    "for lasting load no less than 4.0 in all"
)
def test_factors_multiply():
    assert_as_printed(LASTING_FACTOR, "6.75")
    assert LASTING_FACTOR >= 4.0


@pytest.mark.published(
    source="arithmetic: 0.1 mm over 100 cm2 are 1 mL; over 500 mm of edges a bead of 2 mm2"
)
def test_squeezed_out_adhesive():
    lands = lands_of(1e4, 2e3, rim=500.0)
    assert_as_printed(squeezed_ml(lands), "1.00")
    assert_as_printed(bead_section(lands), "2.0")
    assert_as_printed(channel_loss(lands, 8.0, 5.0), "0.100")
    assert relief_ml(lands) == pytest.approx(0.5 * 0.125)
    assert channel_loss(lands, 1.0, 1.0) == 1.0


@pytest.mark.published(
    source="R. Rabiej, How to glue up joints, Fine Woodworking, 2010: a 6 in board makes the cone 12 in wide"
)
def test_a_clamp_reaches_as_far_as_its_cone_is_wide():
    assert_as_printed(2 * (clamp_reach(6 * 25.4) - BOARD - PAD_RADIUS) / 25.4, "12")


def test_lands_of_the_sample():
    """The sheet less what is wet; the narrowest land of the sample, which its channels keep."""
    shapes = shape_joint(PANEL, ROUTED, "back")
    assert LANDS.area_mm2 + LANDS.wet_mm2 == pytest.approx(WIDTH * HEIGHT - (4 - math.pi) * 36.0, abs=0.5)
    assert LANDS.least_width >= clearances_of(PANEL).seal_reach - 1e-3
    a, b = LANDS.least_ends
    assert math.dist(a, b) == pytest.approx(LANDS.least_width, abs=1e-6)
    assert shapely.LineString((a, b)).interpolate(0.5, normalized=True).within(shapes.land)
    assert LANDS.pulled == "tank"
    assert LANDS.span == 35.0


@pytest.mark.published(
    source="geometry: the sample's tank ends 20 mm from the right edge and 20 mm from the top one"
)
def test_land_beside_the_tank():
    shapes = shape_joint(PANEL, ROUTED, "back")
    assert_as_printed(land_beside(shapes, "tank").width, "20.000")
    assert LANDS.beside == land_beside(shapes, "tank").width


def test_narrowest_land_is_found_between_two_wet_things_and_at_the_edge():
    box = (110.0, 85.0, 197.0, 120.0)
    near_edge = replace(ROUTED, tank=replace(ROUTED.tank, box=box))
    land = measure_land(shape_joint(PANEL, near_edge, "back"))
    assert land.width == pytest.approx(3.0, abs=1e-3)
    assert land.between == ("tank", OUTER_EDGE)
    assert land.ends[1][0] == pytest.approx(WIDTH)


@pytest.mark.published(source="geometry: rectangles a known distance apart")
def test_narrowest_of_all_kinds_of_lands():
    sheet = shapely.box(0, 0, 100, 60)
    left, right, below = shapely.box(10, 20, 40, 40), shapely.box(43, 25, 80, 35), shapely.box(45, 5, 60, 15)
    wet = (("channel a", "a", left), ("channel b", "b", right), ("channel c", "b", below))
    between = measure_land(JointShapes(sheet, wet, ()))
    assert_as_printed(between.width, "3.000")
    assert between.between == ("channel a", "channel b")
    # A region's own parts that touch have no land between them; that they part elsewhere makes none.
    joined = (wet[0], ("channel b", "a", shapely.box(39, 25, 80, 35)))
    assert_as_printed(measure_land(JointShapes(sheet, joined, ())).width, "10.000")
    # Touching parts of two regions leave none.
    touching = (wet[0], ("channel b", "b", shapely.box(40, 25, 80, 35)))
    assert_as_printed(measure_land(JointShapes(sheet, touching, ())).width, "0.000")
    hole = (("pump screw 1 M4", shapely.box(82, 25, 85, 35)),)
    to_hole = measure_land(JointShapes(sheet, wet, hole))
    assert_as_printed(to_hole.width, "2.000")
    assert to_hole.between == ("channel b", "pump screw 1 M4")
    assert measure_land(JointShapes(sheet, (), ())).width == 60.0


def assert_pressed(lands: BondedLands, routed: Routed, panel=PANEL) -> None:
    shapes = shape_joint(panel, routed, lands.layer)
    land, places = shapes.land, (*lands.clamps, *lands.weights)
    assert math.fsum(lands.pressed_mm2) == pytest.approx(lands.area_mm2, rel=1e-9)
    pressed = shapely.union_all([shapely.Point(at).buffer(lands.reach, 64) for at in places])
    bare = land.difference(pressed.buffer(1e-3)).area
    assert bare <= lands.unpressed_mm2 + 1e-6
    openings = [
        cast_shadow(f.shape)[0]
        for f in cut_openings(panel, routed)
        if {"front", "back"} & {*f.opens} and f.kind != "seat"
    ]
    for at in places:
        spot = shapely.Point(at)
        assert shapes.wet_shape.distance(spot) >= PAD_RADIUS / 2 - 1e-2
        assert all(shadow.distance(spot) >= PAD_RADIUS - 1e-6 for shadow in openings)
        assert shapes.sheet.exterior.distance(spot) >= PAD_RADIUS - 1e-6
    assert all(shapes.sheet.exterior.distance(shapely.Point(at)) <= THROAT for at in lands.clamps)
    assert all(shapes.sheet.exterior.distance(shapely.Point(at)) > THROAT for at in lands.weights)


def test_every_land_of_the_sample_is_pressed():
    assert_pressed(LANDS, ROUTED)
    assert LANDS.unpressed_mm2 == 0.0
    # No fewer than the sheet's area asks for, not twice the greedy bound of a plane.
    assert len(LANDS.clamps) + len(LANDS.weights) >= LANDS.area_mm2 / (math.pi * LANDS.reach**2)


@pytest.mark.parametrize("cover", [3.0, 15.0, 20.0])
def test_evening_out_bares_nothing(cover):
    """Thicknesses at which places that simply move to the middle of what they press would leave a gap."""
    (lands,) = bond_lands(replace(PANEL, make=replace(PANEL.make, cover=cover)), ROUTED)
    assert lands.unpressed_mm2 == 0.0


@settings(max_examples=8, deadline=None)
@given(cover=st.floats(3.0, 25.0), seat=st.sampled_from([0.0, 40.0, 66.0, 80.0]))
def test_every_land_is_pressed_or_told(cover, seat):
    panel = replace(
        PANEL, make=replace(PANEL.make, cover=cover), pump=replace(PANEL.pump, seat_diameter=seat)
    )
    (lands,) = bond_lands(panel, ROUTED)
    assert_pressed(lands, ROUTED, panel)
    assert (lands.unpressed_at is None) == (lands.unpressed_mm2 == 0.0)


def test_no_clamp_can_be_left_out():
    """Without any one of them some land is out of reach, or is so but for the grid that the search stands on."""
    land = shape_joint(PANEL, ROUTED, "back").land
    places = (*LANDS.clamps, *LANDS.weights)
    discs = [shapely.Point(at).buffer(LANDS.reach * (1 - POINT_SHARE / math.sqrt(2)), 64) for at in places]
    for k in range(len(places)):
        rest = shapely.union_all(discs[:k] + discs[k + 1 :])
        assert land.buffer(POINT_SHARE * LANDS.reach).difference(rest).area > 0.0


def test_forces_are_the_pressure_on_what_each_presses():
    forces = clamp_forces(LANDS, "plastic")
    assert math.fsum(high for _, high in forces) == pytest.approx(0.05 * LANDS.area_mm2)
    assert clamp_forces(LANDS, "metal")[0][1] == pytest.approx(4 * forces[0][1])


def test_two_covers_have_lands_each_and_a_cord_has_none():
    panel, routed = sample_faces("bonded")
    sealed = close_panel(panel, routed, clearances_of(panel))
    assert [lands.layer for lands in sealed.lands] == ["back", "front"]
    assert sealed.loops == ()
    assert sealed.screws == sealed.front_screws == ()
    assert bond_lands(sample_panel(), sample_routed()) == ()
    for lands in sealed.lands:
        assert_pressed(lands, routed, panel)


def test_the_same_panel_gives_the_same_clamps():
    assert bond_lands(PANEL, ROUTED) == (LANDS,)
