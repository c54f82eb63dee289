"""A plate on screws: balance, seat, symmetry, what is shared between cases, refusals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import GeometryError
from layouts.bending.bend import bend_cases, bend_plate
from layouts.bending.plate import PlateCase
from tests.layouts.bending.sample_plates import CORNERS, EMPTY, corner_case, line_along, screwed_plate

SEAT = shapely.box(0, 0, 100, 60).difference(shapely.box(24, 22, 76, 38))
SIZE = 5.0


def lifting_force(case: PlateCase) -> float:
    lines = sum(float(line.n_mm * line.lengths.sum()) for line in case.lines)
    return case.pressure_mpa * case.pressed.area + lines


@settings(max_examples=8, deadline=None)
@given(
    st.floats(0.0, 0.2),
    st.floats(-1.0, 4.0),
    st.lists(st.tuples(st.floats(8, 92), st.floats(8, 52)), min_size=1, max_size=5),
    st.booleans(),
)
def test_screws_and_seat_balance_the_loads(pressure, n_mm, places, seated):
    apart = [at for k, at in enumerate(places) if all(np.hypot(*np.subtract(at, o)) > 9 for o in places[:k])]
    sheet, clamps = screwed_plate(tuple(apart))
    region = shapely.box(12, 12, 88, 48)
    seat = SEAT if seated else EMPTY
    case = PlateCase(sheet, clamps, region, pressure, (line_along(region.exterior, n_mm),), seat)
    bent = bend_plate(case, 6.0)
    covered = region.intersection(sheet.outline).area
    loads = pressure * covered + n_mm * region.length
    scale = pressure * covered + abs(n_mm) * region.length + 1e-9
    # A hole's polygon of chords is a little smaller than the hole.
    assert sum(bent.reactions_n) - bent.contact_n == pytest.approx(loads, abs=0.002 * scale)
    assert bent.contact_n >= 0
    if not seated:
        assert bent.contact_n == 0


def test_an_even_plate_shares_its_load_evenly():
    case = corner_case()
    bent = bend_plate(case, SIZE)
    quarter = lifting_force(case) / 4
    assert bent.reactions_n == pytest.approx([quarter] * 4, rel=0.01)
    highest = bent.points[bent.lift.argmax()]
    assert highest == pytest.approx([50, 30], abs=10)
    assert len(bent.line_lift[0]) == len(case.lines[0].points)
    assert 0 < bent.line_lift[0].max() < bent.lift.max()


def test_without_a_seat_loads_and_answer_grow_together():
    one, two = bend_cases((corner_case(0.05, 2.0), corner_case(0.1, 4.0)), SIZE)
    assert two.lift == pytest.approx(2 * one.lift, abs=1e-9)
    assert two.stress_mpa == pytest.approx(2 * one.stress_mpa, abs=1e-9)
    assert two.reactions_n == pytest.approx(np.multiply(2, one.reactions_n))


def test_a_softer_plate_bows_more_under_the_same_stress():
    case = corner_case(seat=SEAT)
    soft = replace(case, sheet=replace(case.sheet, young_mpa=case.sheet.young_mpa / 4))
    stiff, bent = bend_cases((case, soft), SIZE)
    assert bent.lift == pytest.approx(4 * stiff.lift, abs=1e-7)
    assert bent.stress_mpa == pytest.approx(stiff.stress_mpa, abs=1e-6)
    assert bent.contact_n == pytest.approx(stiff.contact_n)


def test_no_lift_under_a_head():
    case = corner_case()
    bent = bend_plate(case, SIZE)
    for ring in case.clamps:
        away = np.hypot(*(bent.points - ring.at).T)
        assert np.abs(bent.lift[away < ring.outer + 1e-6]).max() == 0


def inner_screws(seat: shapely.Geometry) -> PlateCase:
    """Screws near the middle, lifted between them: the rim would sink."""
    sheet, clamps = screwed_plate(((30.0, 30.0), (70.0, 30.0)))
    wet = shapely.box(40, 20, 60, 40)
    return PlateCase(sheet, clamps, wet, 0.2, (line_along(wet.exterior, 2.0),), seat)


def test_the_seat_carries_a_rim_that_would_sink():
    free, seated = (bend_plate(inner_screws(seat), SIZE) for seat in (EMPTY, SEAT))
    on = shapely.contains_xy(SEAT, seated.points[:, 0], seated.points[:, 1])
    assert free.lift[on].min() < -0.01 * free.lift.max()
    assert seated.lift[on].min() > -1e-3 * seated.lift.max()
    assert free.contact_n == 0
    assert seated.contact_n > 0
    # The seat pries: what it pushes, the screws must hold as well.
    assert sum(seated.reactions_n) == pytest.approx(sum(free.reactions_n) + seated.contact_n)
    assert seated.lift.max() < free.lift.max()


def test_a_seat_that_nothing_presses_changes_nothing():
    case = corner_case()
    under_middle = replace(case, seat=shapely.box(40, 25, 60, 35))
    free, seated = bend_plate(case, SIZE), bend_plate(under_middle, SIZE)
    assert seated.contact_n == 0
    assert seated.lift == pytest.approx(free.lift, abs=1e-12)


def test_a_plate_pressed_down_lies_on_its_seat():
    case = replace(corner_case(-0.1, 0.0), seat=shapely.box(0, 0, 100, 60))
    bent = bend_plate(case, SIZE)
    assert bent.contact_n > 0.9 * 0.1 * case.pressed.area
    free = bend_plate(replace(case, seat=EMPTY), SIZE)
    assert np.abs(bent.lift).max() < 1e-3 * np.abs(free.lift).max()


def test_cases_do_not_touch_each_other():
    cases = (corner_case(), inner_screws(SEAT), corner_case(0.1), inner_screws(EMPTY))
    together = bend_cases(cases, SIZE)
    for case, bent in zip(cases, together, strict=True):
        alone = bend_plate(case, SIZE)
        assert bent.lift == pytest.approx(alone.lift, abs=1e-10)
        assert bent.contact_n == pytest.approx(alone.contact_n, rel=1e-6)


def test_the_same_case_gives_the_same_bytes():
    one, two = (bend_plate(corner_case(seat=SEAT), SIZE) for _ in range(2))
    for a, b in ((one.lift, two.lift), (one.stress_mpa, two.stress_mpa), (one.points, two.points)):
        assert a.tobytes() == b.tobytes()


def test_finer_triangles_change_little():
    coarse, fine = (bend_plate(corner_case(seat=SEAT), size) for size in (4.0, 2.0))
    assert coarse.lift.max() == pytest.approx(fine.lift.max(), rel=0.03)
    assert coarse.line_lift[0].max() == pytest.approx(fine.line_lift[0].max(), rel=0.03)
    assert coarse.stress_mpa.max() == pytest.approx(fine.stress_mpa.max(), rel=0.05)


def test_a_plate_without_screws_is_refused():
    sheet, _ = screwed_plate(CORNERS)
    with pytest.raises(GeometryError, match="no screw holds the plate round"):
        bend_plate(PlateCase(sheet, (), shapely.box(0, 0, 9, 9), 0.1, (), EMPTY), SIZE)
