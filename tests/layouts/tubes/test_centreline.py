"""Lengths, marks and chords of bent centrelines against closed forms and the tables of those who bend."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from printed import assert_as_printed

from layouts.tubes.centreline import (
    BendRule,
    bend_angles,
    mark_bends,
    measure_lines,
    trace_chords,
)

FREE = BendRule(30.0, 0.0, 0.0)


def corner(angle_deg: float, a: float = 100.0, b: float = 100.0) -> np.ndarray:
    """Return one line with a corner of some angle between straights of a and b."""
    turn = math.radians(angle_deg)
    return np.array([[[0.0, 0.0, 0.0], [a, 0.0, 0.0], [a + b * math.cos(turn), b * math.sin(turn), 0.0]]])


@pytest.mark.published(
    source="Tube bending: length in a bend = CLR x degrees x 0.01745, setback = CLR tan(A/2)"
)
@pytest.mark.parametrize("angle", [15.0, 30.0, 45.0, 60.0, 90.0, 120.0])
def test_a_bend_is_its_legs_less_two_setbacks_and_its_arc(angle: float):
    arc, setback = 0.0174533 * angle * 30.0, 30.0 * math.tan(math.radians(angle) / 2)
    (length,), _ = measure_lines(corner(angle), FREE)
    assert length == pytest.approx(200.0 - 2 * setback + arc, abs=1e-4)


@pytest.mark.published(
    source="Electricians' gain table for bent conduit, radius 1: 31, 33, 61, 66 degrees; 90 degrees 0.4292"
)
@pytest.mark.parametrize(
    ("angle", "gain"),
    [(31.0, "0.0136"), (33.0, "0.0165"), (61.0, "0.1134"), (66.0, "0.1469"), (90.0, "0.4292")],
)
def test_what_a_bend_saves_is_the_gain_of_the_trade(angle: float, gain: str):
    (length,), _ = measure_lines(corner(angle, 5.0, 5.0), BendRule(1.0, 0.0, 0.0))
    assert_as_printed(10.0 - float(length), gain)


def test_a_right_angle_in_closed_form():
    (length,), (lacking,) = measure_lines(corner(90.0, 80.0, 70.0), FREE)
    assert length == pytest.approx(80.0 + 70.0 - 60.0 + math.pi * 15.0)
    assert lacking == 0.0


def test_what_the_shortest_straight_lacks_is_told():
    """Straights of 80 and 70 leave 50 and 40 beside setbacks of 30."""
    line = corner(90.0, 80.0, 70.0)
    assert measure_lines(line, BendRule(30.0, 40.0, 0.0))[1][0] == 0.0
    assert measure_lines(line, BendRule(30.0, 45.5, 0.0))[1][0] == pytest.approx(5.5)
    stairs = np.array([[[0, 0, 0], [60, 0, 0], [60, 65, 0], [120, 65, 0]]], dtype=float)
    assert measure_lines(stairs, BendRule(30.0, 30.0, 12.0))[1][0] == pytest.approx(7.0)


@pytest.mark.parametrize("back", [180.0, 179.9999])
def test_a_bend_that_turns_right_back_never_fits(back: float):
    assert measure_lines(corner(back), FREE)[1][0] > 1e5


@given(st.lists(st.tuples(*(st.floats(-200, 200) for _ in range(3))), min_size=3, max_size=5))
def test_chords_are_a_little_shorter_than_the_line(points: list[tuple[float, float, float]]):
    line = np.array([points])
    (length,), (lacking,) = measure_lines(line, FREE)
    if lacking > 0.0:
        return
    chords = trace_chords(line, 30.0)[0]
    walked = float(np.linalg.norm(np.diff(chords, axis=0), axis=1).sum())
    assert walked <= length + 1e-6
    # Eight chords of a bend: 1 - sin(x) / x with x a sixteenth of at most 180 degrees.
    assert walked >= length * (1 - 0.0065) - 1e-6


def test_chords_lie_on_the_bend():
    chords = trace_chords(corner(90.0), 30.0)[0]
    centre = np.array([70.0, 30.0, 0.0])
    assert np.linalg.norm(chords[1:-1] - centre, axis=1) == pytest.approx(30.0)
    assert chords[1].tolist() == pytest.approx([70.0, 0.0, 0.0])
    assert chords[-2].tolist() == pytest.approx([100.0, 30.0, 0.0])


def test_marks_of_a_step_and_of_a_u_turn():
    step = ((0.0, 0.0, 0.0), (60.0, 0.0, 0.0), (60.0, 100.0, 0.0), (120.0, 100.0, 0.0))
    first, second = mark_bends(step, 30.0)
    assert (first.angle_deg, first.start) == pytest.approx((90.0, 30.0))
    assert first.end == pytest.approx(30.0 + 15.0 * math.pi)
    assert second.start == pytest.approx(first.end + 40.0)
    assert (first.turned_deg, second.turned_deg) == (0.0, 180.0)
    around = (*step[:3], (0.0, 100.0, 0.0))
    assert [mark.turned_deg for mark in mark_bends(around, 30.0)] == [0.0, 0.0]


def test_a_turn_is_clockwise_as_seen_from_the_panels_end():
    """Along x, then to the left (y): from there, going along y, up (z) or down."""
    start = ((0.0, 0.0, 0.0), (60.0, 0.0, 0.0), (60.0, 100.0, 0.0))
    # The first bend turned left, about z; the second upwards, about x: from z to x about y is right-handed.
    (_, up), (_, down) = (mark_bends((*start, (60.0, 100.0, z)), 30.0) for z in (80.0, -80.0))
    assert (up.turned_deg, down.turned_deg) == pytest.approx((90.0, -90.0))


def rotate(axis: int, degrees: float) -> np.ndarray:
    """Return the right-handed turn about x (0) or z (2)."""
    c, d = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.array([[1, 0, 0], [0, c, -d], [0, d, c]] if axis == 0 else [[c, -d, 0], [d, c, 0], [0, 0, 1]])


@given(st.lists(st.tuples(*(st.floats(-200, 200) for _ in range(3))), min_size=4, max_size=5))
def test_a_bender_who_follows_the_marks_makes_the_tube_and_not_its_mirror_image(
    points: list[tuple[float, float, float]],
):
    """The panel's end goes first, fed along x through a die that stands fast and always bends towards y.

    Told is where the next bend points; so the tube is turned the other way, as the picture says.
    """
    line = np.array([points])
    lengths, (lacking,) = measure_lines(line, BendRule(30.0, 1.0, 1.0))
    if lacking > 0.0:
        return
    die = np.array([0.0, 30.0, 0.0])
    # The panel's end, and the directions of the straights from there on, each behind the die when it is made.
    end, ways, fed = np.zeros(3), np.array([[-1.0, 0.0, 0.0]]), 0.0
    for mark in mark_bends(tuple(points), 30.0):
        end = end + np.array([mark.start - fed, 0.0, 0.0])
        # Clockwise as seen from the panel's end, along -x, is right-handed about -x; the tube goes the other way.
        turn, bend = rotate(0, mark.turned_deg), rotate(2, mark.angle_deg)
        end = bend @ (turn @ end - die) + die
        ways = np.vstack((ways @ turn.T @ bend.T, [[-1.0, 0.0, 0.0]]))
        fed = mark.end
    end = end + np.array([float(lengths[0]) - fed, 0.0, 0.0])
    legs = np.diff(line[0], axis=0)
    wanted = legs / np.linalg.norm(legs, axis=1)[:, None]
    assert np.linalg.norm(end) == pytest.approx(math.dist(points[0], points[-1]), abs=1e-6)
    assert ways @ ways.T == pytest.approx(wanted @ wanted.T, abs=1e-6)
    assert np.linalg.det(ways[:3]) == pytest.approx(np.linalg.det(wanted[:3]), abs=1e-6)


@given(st.lists(st.tuples(*(st.floats(-200, 200) for _ in range(3))), min_size=3, max_size=5))
def test_marks_follow_each_other_up_to_the_cut_length(points: list[tuple[float, float, float]]):
    line = np.array([points])
    (length,), (lacking,) = measure_lines(line, BendRule(30.0, 1.0, 1.0))
    if lacking > 0.0:
        return
    marks = mark_bends(tuple(points), 30.0)
    at = [0.0, *(c for mark in marks for c in (mark.start, mark.end)), float(length)]
    assert all(a <= b + 1e-6 for a, b in pairwise(at))
    assert [math.radians(m.angle_deg) for m in marks] == pytest.approx(bend_angles(line)[0].tolist())


def test_a_straight_tube_has_no_marks():
    assert mark_bends(((0.0, 0.0, 0.0), (0.0, 0.0, 90.0)), 30.0) == ()
