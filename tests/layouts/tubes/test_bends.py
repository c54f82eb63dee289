"""Shortest tubes with no bend, one, two and three."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import assert_as_printed

from layouts.tubes.bends import (
    find_one_bend,
    find_straight,
    find_three_bends,
    find_two_bends,
)
from layouts.tubes.centreline import bend_angles, measure_lines
from layouts.tubes.values import TubeEnd
from tests.layouts.tubes.sample_ends import RULE, any_end, end_at

A = end_at((0, 0, 0), (0, 0, 1))


def length_of(line: np.ndarray) -> float:
    return float(measure_lines(line[None], RULE)[0][0])


def degrees_of(line: np.ndarray) -> list[float]:
    return np.degrees(bend_angles(line[None])[0]).tolist()


def assert_joins(line: np.ndarray, a: TubeEnd, b: TubeEnd) -> None:
    """Assert that a line runs from end to end along both axes, and that its bends fit."""
    assert line[0] == pytest.approx(np.array(a.at))
    assert line[-1] == pytest.approx(np.array(b.at))
    for end, near in ((a, line[1]), (b, line[-2])):
        out, gap = np.array(end.out), near - np.array(end.at)
        assert float(gap @ out) > 0.0
        assert float(np.linalg.norm(np.cross(out, gap))) < 0.26
    lengths, lacking = measure_lines(line[None], RULE)
    assert lacking[0] <= 2e-6
    assert lengths[0] >= math.dist(a.at, b.at) - 1e-6
    assert max(degrees_of(line)) < 180.0


@pytest.mark.parametrize(
    ("at", "out", "straight"),
    [
        ((0, 0, 90), (0, 0, -1), True),
        ((0.49, 0, 90), (0, 0, -1), True),
        ((0.51, 0, 90), (0, 0, -1), False),
        ((0, 0, 90), (math.sin(math.radians(0.99)), 0, -1), True),
        ((0, 0, 90), (math.sin(math.radians(1.02)), 0, -1), False),
        ((0, 0, 90), (0, 0, 1), False),
        ((0, 0, -90), (0, 0, -1), False),
        ((0, 0, -90), (0, 0, 1), False),
        ((0, 0, 0), (0, 0, -1), False),
    ],
)
def test_in_line_within_what_a_fitting_takes_up(at, out, straight):
    b = end_at(at, out)
    assert find_straight(A, b) is straight
    assert find_straight(b, A) is straight


def test_one_bend_where_the_axes_meet():
    line = find_one_bend(A, end_at((100, 0, 80), (-1, 0, 0)), RULE)
    assert line is not None
    assert line[1].tolist() == pytest.approx([0, 0, 80])
    assert length_of(line) == pytest.approx(100 + 80 - 60 + math.pi * 15)


@pytest.mark.parametrize(
    ("at", "out"),
    [
        ((100, 0.6, 80), (-1, 0, 0)),
        ((100, 0, 51.9), (-1, 0, 0)),
        ((51.9, 0, 80), (-1, 0, 0)),
        ((100, 0, 80), (1, 0, 0)),
        ((100, 0, -80), (-1, 0, 0)),
        ((40, 0, 80), (0, 0, -1)),
    ],
)
def test_no_one_bend_past_the_axes_or_without_its_straights(at, out):
    assert find_one_bend(A, end_at(at, out), RULE) is None


def test_one_bend_with_just_its_straights():
    assert find_one_bend(A, end_at((52, 0, 52), (-1, 0, 0)), RULE) is not None


@pytest.mark.published(source="Pipefitters' and electricians' offset multipliers: 30, 45, 60 degrees")
@pytest.mark.parametrize(("angle", "multiplier"), [(30.0, "2.000"), (45.0, "1.414"), (60.0, "1.155")])
def test_a_step_between_parallel_axes_is_the_fitters_offset(angle: float, multiplier: str):
    """Where there is just room for bends of an angle, they are bent so, and the travel is offset x multiplier."""
    offset, turn = 60.0, math.radians(angle)
    lead = RULE.lead + RULE.radius * math.tan(turn / 2)
    b = end_at((offset, 0, 2 * lead + offset / math.tan(turn)), (0, 0, -1))
    line = find_two_bends(A, b, RULE)
    assert line is not None
    assert degrees_of(line) == pytest.approx([angle, angle], abs=1e-3)
    assert_as_printed(math.dist(line[1], line[2]) / offset, multiplier)


def test_a_u_turn_between_ports_side_by_side_is_two_right_angles():
    line = find_two_bends(A, end_at((0, 100, 0), (0, 0, 1)), RULE)
    assert line is not None
    assert degrees_of(line) == pytest.approx([90, 90], abs=1e-3)
    assert length_of(line) == pytest.approx(2 * 52 + 100 - 4 * 30 + math.pi * 30, abs=1e-3)


def test_a_u_turn_with_just_its_room_is_found_and_with_less_than_two_radii_is_not():
    """Two bends of 30 mm and 10 mm between them take 70 mm; closer ones lean, down to 60 mm."""
    line = find_two_bends(A, end_at((70, 0, 0), (0, 0, 1)), RULE)
    assert line is not None
    assert degrees_of(line) == pytest.approx([90, 90], abs=0.05)
    assert find_two_bends(A, end_at((59.9, 0, 0), (0, 0, 1)), RULE) is None


@settings(deadline=None, max_examples=30)
@given(any_end(), any_end())
def test_two_bends_are_no_longer_than_any_of_a_fine_grid(a: TubeEnd, b: TubeEnd):
    line = find_two_bends(a, b, RULE)
    reach = 2.0 * math.dist(a.at, b.at) + 8.0 * RULE.radius
    steps = np.linspace(RULE.lead, RULE.lead + reach, 141)
    s, t = (grid.reshape(-1, 1) for grid in np.meshgrid(steps, steps))
    ones = np.ones_like(s)
    tried = np.stack(
        [
            ones * np.array(a.at),
            np.array(a.at) + s * np.array(a.out),
            np.array(b.at) + t * np.array(b.out),
            ones * np.array(b.at),
        ],
        axis=1,
    )
    lengths, lacking = measure_lines(tried, RULE)
    least = float(lengths[lacking <= 0.0].min(initial=np.inf))
    if line is None:
        assert least == np.inf
        return
    assert_joins(line, a, b)
    # Tubes are cut to whole millimetres.
    assert length_of(line) <= least + 0.01


@settings(deadline=None, max_examples=20)
@given(any_end(), any_end())
def test_from_either_end_the_same_length(a: TubeEnd, b: TubeEnd):
    for find in (find_one_bend, find_two_bends):
        there, back = find(a, b, RULE), find(b, a, RULE)
        assert (there is None) == (back is None)
        if there is not None and back is not None:
            assert length_of(there) == pytest.approx(length_of(back), abs=2e-3)


@settings(deadline=None, max_examples=10)
@given(any_end(), any_end())
def test_three_bends_join_any_two_ends(a: TubeEnd, b: TubeEnd):
    line = find_three_bends(a, b, RULE)
    if line is not None:
        assert_joins(line, a, b)
    shorter = find_two_bends(a, b, RULE)
    if shorter is not None:
        assert line is not None


@pytest.mark.parametrize(("x", "y"), [(100.0, 0.0), (100.0, 80.0), (40.0, 0.0)])
def test_ports_that_look_away_from_each_other_take_three(x: float, y: float):
    a, b = end_at((0, 0, 0), (-1, 0, 0)), end_at((x, y, 0), (1, 0, 0))
    assert find_two_bends(a, b, RULE) is None
    line = find_three_bends(a, b, RULE)
    assert line is not None
    assert_joins(line, a, b)


@settings(deadline=None, max_examples=20)
@given(any_end().filter(lambda end: math.dist(end.at, A.at) > 100.0), st.floats(1.0, 60.0))
def test_a_way_that_must_keep_off_something_does(b: TubeEnd, off: float):
    """A plane that corners must stay under: what is found does, and is no shorter than without it."""

    def clear(points: np.ndarray, enough: float) -> np.ndarray:
        return np.maximum(points[:, :, 0].max(axis=1) - max(b.at[0], 0.0) - off, 0.0)

    free, kept = find_two_bends(A, b, RULE), find_two_bends(A, b, RULE, clear)
    if kept is None:
        return
    assert free is not None
    assert_joins(kept, A, b)
    assert float(clear(kept[None], 0.0)[0]) <= 1e-6
    assert length_of(kept) >= length_of(free) - 1e-3
