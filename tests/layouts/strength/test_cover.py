"""Covers as plates: what presses where, and what holds; against areas, lengths and balances in closed form."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.outline import (
    Arc,
    Line,
    loop_area,
    outline_circle,
    outline_rectangle,
    path_length,
    region_polygon,
    reverse_path,
)
from geom.standards import tables
from layouts.bending.bend import bend_cases
from layouts.clearance import clearances_of
from layouts.closing.gland import cord_line_load
from layouts.detail import detail_panel
from layouts.plan import CordLoop
from layouts.strength.cover import bend_cover, cover_cases, cut_pieces, pressed_area
from layouts.strength.working_pressure import find_working_pressure
from tests.layouts.sample_faces import sample_faces
from tests.layouts.sample_routed import sample_back, sample_panel, sample_routed
from tests.layouts.strength.sample_cover import cord_plan, whole_plan


def cord(name, path, closed=True):
    return CordLoop(name, "region", path, 2.8, 2.2, "back", closed)


def disc(at, radius):
    return shapely.Point(at).buffer(radius, quad_segs=64)


@pytest.mark.published(source="closed form: areas of circles")
def test_pressed_is_what_the_cords_enclose_less_dry_islands():
    outer = cord("groove 1", outline_circle((50.0, 50.0), 40.0))
    island = cord("groove 2", reverse_path(outline_circle((50.0, 50.0), 20.0)))
    inner = cord("groove 3", outline_circle((50.0, 50.0), 8.0))
    ring = disc((50.0, 50.0), 35.0).difference(disc((50.0, 50.0), 25.0))
    wet = ring.union(disc((50.0, 50.0), 5.0))
    area = pressed_area((outer, island, inner), wet).area
    assert area == pytest.approx(math.pi * (40**2 - 20**2 + 8**2), rel=1e-3)
    assert pressed_area((outer, island), ring).area == pytest.approx(math.pi * (40**2 - 20**2), rel=1e-3)


@pytest.mark.published(source="closed form: rectangle, half disc")
def test_an_open_cord_closes_its_cell_with_the_one_that_it_meets():
    block = cord("groove 1", outline_rectangle(0.0, 0.0, 40.0, 30.0, 5.0))
    arch = (
        Line((40.0, 8.0), (60.0, 8.0)),
        Arc((60.0, 15.0), 7.0, -math.pi / 2, math.pi),
        Line((60.0, 22.0), (40.0, 22.0)),
    )
    open_cord = cord("groove 2", arch, closed=False)
    rounded = 40 * 30 - (4 - math.pi) * 5**2
    beside = 20 * 14 + math.pi * 7**2 / 2
    both = shapely.box(10, 10, 30, 20).union(shapely.box(50, 12, 60, 18))
    assert pressed_area((block, open_cord), both).area == pytest.approx(rounded + beside, rel=1e-3)
    assert pressed_area((block, open_cord), shapely.box(50, 12, 60, 18)).area == pytest.approx(
        beside, rel=2e-3
    )
    # Ends that stop short of the other's middle, or run past it, close the same cell.
    for shift in (-1.0, 1.0):
        moved = (
            replace(arch[0], start=(40.0 + shift, 8.0)),
            arch[1],
            replace(arch[2], end=(40.0 + shift, 22.0)),
        )
        area = pressed_area((block, cord("groove 2", moved, closed=False)), both).area
        assert area == pytest.approx(rounded + beside, rel=1e-3)


@given(
    width=st.floats(30.0, 200.0),
    height=st.floats(30.0, 200.0),
    radius=st.floats(1.0, 12.0),
    step=st.floats(0.5, 9.0),
)
@settings(max_examples=25, deadline=None)
def test_pieces_add_up_and_lie_on_the_path(width, height, radius, step):
    path = outline_rectangle(0.0, 0.0, width, height, radius)
    points, lengths = cut_pieces(path, step)
    assert lengths.sum() == pytest.approx(path_length(path))
    assert lengths.max() <= step * (1 + 1e-9)
    line = shapely.box(radius, radius, width - radius, height - radius).buffer(radius, quad_segs=256).exterior
    assert shapely.distance(shapely.points(points), line).max() < 0.01


@pytest.mark.published(
    source="closed form: area of a slot of one width (Guldin), of discs, of a rounded rectangle"
)
def test_the_cover_lies_on_all_that_is_not_cut_away():
    plan = cord_plan()
    working, test = cover_cases(plan, "back")
    screw = tables.screw("M4")
    count = len(plan.sealed.screws)
    whole = 200 * 140 - (4 - math.pi) * 6**2
    holes = count * math.pi * screw.clearance**2 / 4
    assert working.plate.sheet.outline.area == pytest.approx(whole - holes, rel=1e-3)
    assert len(working.plate.sheet.outline.interiors) == count
    grooves = sum(loop.length for loop in plan.sealed.loops) * tables.cord(2.0).groove_width
    joint = [f.shape.region for f in plan.detail.features if f.kind in ("channel", "tank")]
    wet = shapely.union_all([region_polygon(region, 0.01) for region in joint]).area
    tapped = count * math.pi * screw.tap_drill**2 / 4
    assert working.plate.seat.area == pytest.approx(whole - grooves - wet - tapped, rel=2e-3)
    assert [one.plate.clamps for one in (working, test)] == [working.plate.clamps] * 2
    assert {(ring.inner, ring.outer) for ring in working.plate.clamps} == {(2.25, 3.61)}
    enclosed = sum(loop_area(loop.path) for loop in plan.sealed.loops)
    assert working.plate.pressed.area == pytest.approx(enclosed, rel=1e-3)
    assert enclosed > wet + 3.0 * sum(loop.length for loop in plan.sealed.loops)


def test_cases_carry_their_pressure_modulus_and_allowable():
    plan = cord_plan()
    working, test = cover_cases(plan, "back")
    assert (working.name, test.name) == ("working", "test")
    assert working.pressure_pa == find_working_pressure(plan.panel).pressure_pa
    assert test.pressure_pa == 0.5e5
    row = tables.material("PMMA cast")
    hottest = working.temperature_c
    assert hottest >= 35.0
    assert working.plate.sheet.young_mpa == row.young_at(hottest, lasting=True)
    assert test.plate.sheet.young_mpa == row.young_at(hottest)
    assert working.allowable_mpa == row.allowable_at(hottest, lasting=True)
    assert test.allowable_mpa == row.allowable_at(hottest)
    assert test.plate.pressure_mpa == pytest.approx(0.05)
    load = cord_line_load(2.08, 1 - 1.5 / 2.08)
    assert {line.n_mm for line in test.plate.lines} == {load}
    metal = cord_plan(cover_material="aluminium 6082-T6")
    assert cover_cases(metal, "back")[1].plate.sheet.young_mpa > 60e3


def test_a_port_on_the_back_is_one_more_hole():
    panel, routed = sample_back()
    panel = replace(panel, make=replace(panel.make, body=22.0))
    plan = whole_plan(panel, routed)
    working, _ = cover_cases(plan, "back")
    assert len(working.plate.sheet.outline.interiors) == len(plan.sealed.screws) + 1


def test_each_cover_of_two_has_its_own_cords():
    panel, routed = sample_faces()
    plan = whole_plan(panel, routed)
    for layer, screws in (("back", plan.sealed.screws), ("front", plan.sealed.front_screws)):
        loops = [loop for loop in plan.sealed.loops if loop.layer == layer]
        working, _ = cover_cases(plan, layer)
        assert len(working.plate.clamps) == len(screws)
        for plate in (working.plate, working.body):
            lengths = [line.lengths.sum() for line in plate.lines[: len(loops)]]
            assert lengths == pytest.approx([loop.length for loop in loops], rel=1e-6)


@pytest.mark.published(source="closed form: pressure times the area between the cords, openings included")
def test_what_closes_an_opening_pulls_at_its_rim() -> None:
    panel, routed = sample_faces()
    plan = whole_plan(panel, routed)
    for layer in ("back", "front"):
        _, test = cover_cases(plan, layer)
        plate, cords = test.plate, len(plan.sealed.loops_of(layer))
        cord = sum(line.n_mm * line.lengths.sum() for line in plate.lines[:cords])
        rims = sum(line.n_mm * line.lengths.sum() for line in plate.lines[cords:])
        (bent,) = bend_cases((plate,), 8.0, stressed=False)
        whole = plate.pressure_mpa * plate.pressed.area + cord
        assert sum(bent.reactions_n) - bent.contact_n == pytest.approx(whole, rel=2e-3)
        assert (rims > 0.05 * plate.pressure_mpa * plate.pressed.area) == (layer == "front")


@pytest.mark.parametrize("closing", ["bonded", "one-piece"])
def test_without_a_cord_nothing_is_bent(closing):
    panel, routed = sample_panel(closing), sample_routed(closing)
    plan = whole_plan(panel, routed)
    assert bend_cover(plan, "back") is None


@pytest.mark.published(
    source="balance of forces; closed form: a plate's lift goes with the inverse of its modulus"
)
def test_a_cover_in_balance_and_half_as_stiff():
    plan = cord_plan()
    bending = bend_cover(plan, "back")
    assert bending is not None
    loads = cover_cases(plan, "back")
    for case, load in zip(bending.cases, loads, strict=True):
        plate = load.plate
        lifted = plate.pressure_mpa * plate.pressed.area + sum(
            line.n_mm * line.lengths.sum() for line in plate.lines
        )
        assert sum(case.bent.reactions_n) - case.bent.contact_n == pytest.approx(lifted, rel=5e-3)
        assert case.bent.contact_n >= 0.0
        assert case.young_mpa == plate.sheet.young_mpa
    plate = loads[0].plate
    (soft,) = bend_cases((replace(plate, sheet=replace(plate.sheet, young_mpa=plate.sheet.young_mpa / 2)),))
    for lift, more in zip(bending.cases[0].bent.line_lift, soft.line_lift, strict=True):
        assert np.allclose(2.0 * lift, more, rtol=1e-3, atol=1e-6)


def test_a_cover_half_as_thick_lifts_by_more_than_shear_and_less_than_bending_alone():
    thick, thin = cord_plan(cover=8.0), cord_plan(cover=4.0)
    # The same screws for both.
    detail = detail_panel(thin.panel, thin.routed, thick.sealed, clearances_of(thin.panel))
    thin = replace(thin, sealed=thick.sealed, detail=detail)
    bendings = [bend_cover(plan, "back") for plan in (thick, thin)]
    lifts = [max(lift.max() for lift in one.cases[0].bent.line_lift) for one in bendings if one is not None]
    assert 2.0 < lifts[1] / lifts[0] < 8.0
