"""The order of tightening: each screw once, in opposite pairs, from the middle out."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_demos import plan_demo

from layouts.strength.tightening_order import ROUNDS, order_screws


def on_circle(count: int, radius: float = 50.0) -> tuple[tuple[float, float], ...]:
    turns = [2 * math.pi * k / count for k in range(count)]
    return tuple((radius * math.cos(turn), radius * math.sin(turn)) for turn in turns)


@pytest.mark.published(source="ASME PCC-1, table of the legacy cross-pattern tightening sequence, recalled")
@pytest.mark.parametrize(
    ("count", "printed"),
    [
        (4, "1 3 2 4"),
        (8, "1 5 3 7 2 6 4 8"),
        (12, "1 7 4 10 2 8 5 11 3 9 6 12"),
        (16, "1 9 5 13 3 11 7 15 2 10 6 14 4 12 8 16"),
    ],
)
def test_a_round_flange_is_tightened_in_the_star_pattern(count, printed):
    assert " ".join(str(k + 1) for k in order_screws(on_circle(count))) == printed


places = st.tuples(st.floats(0, 400), st.floats(0, 200))


@given(st.lists(places, max_size=40, unique=True))
def test_each_screw_once(screws):
    assert sorted(order_screws(tuple(screws))) == list(range(len(screws)))


WHOLE = st.tuples(st.integers(0, 400), st.integers(0, 200))


@given(st.lists(WHOLE, min_size=1, max_size=25, unique=True), st.integers(-50, 50), st.integers(-50, 50))
def test_neither_scale_nor_place_changes_a_pattern(screws, right, up):
    moved = tuple((x * 4.0 + right, y * 4.0 + up) for x, y in screws)
    assert order_screws(tuple(screws)) == order_screws(moved)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(
    ("count", "order"),
    [(2, "2 1"), (3, "2 1 3"), (4, "3 2 4 1"), (5, "3 2 4 1 5"), (7, "4 3 5 2 6 1 7")],
)
def test_a_row_is_tightened_from_its_middle_to_its_ends(count, order, turned):
    row = tuple((0.0, 20.0 * k) if turned else (20.0 * k, 7.0) for k in range(count))
    assert " ".join(str(k + 1) for k in order_screws(row)) == order


def test_an_uneven_row_is_tightened_on_either_side_in_turn():
    row = tuple((x, 0.0) for x in (0.0, 30.0, 60.0, 70.0, 100.0))
    assert [row[k][0] for k in order_screws(row)] == [60.0, 30.0, 70.0, 0.0, 100.0]


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("count", [3, 4, 5, 6, 9])
def test_two_rows_are_tightened_from_their_middles_to_their_ends(count, turned):
    screws = tuple((20.0 * k, y) for y in (0.0, 90.0) for k in range(count))
    order = order_screws(tuple((y, x) for x, y in screws) if turned else screws)
    middle = 10.0 * (count - 1)
    off = [abs(screws[k][0] - middle) for k in order]
    assert off == sorted(off)
    for first, second in zip(order[::2], order[1::2], strict=True):
        (ax, ay), (bx, by) = screws[first], screws[second]
        assert (ax + bx, ay + by) == (2 * middle, 90.0), "across from each other"


def test_the_middles_of_a_rim_come_before_its_corners():
    rim = ((0, 0), (50, 0), (100, 0), (100, 40), (100, 80), (50, 80), (0, 80), (0, 40))
    order = order_screws(tuple((float(x), float(y)) for x, y in rim))
    assert set(order[:4]) == {1, 3, 5, 7}
    assert abs(order[0] - order[1]) == abs(order[4] - order[5]) == 4


def test_the_inner_ring_comes_first():
    screws = (*on_circle(24, 100.0), *on_circle(12, 30.0))
    order = order_screws(screws)
    assert set(order[:12]) == set(range(24, 36))


@pytest.mark.parametrize("name", ["workshop-render", "cell-tester", "observatory-camera", "synthesizer-rack"])
def test_no_side_of_a_cover_is_drawn_down_first(name):
    """After each pair the middle of what is tight lies near the cover's own: within a third of its half width."""
    plan = plan_demo(name)
    panel = plan.panel
    for layer in ("back", "front"):
        screws = plan.sealed.screws_of(layer)
        order = order_screws(screws)
        assert sorted(order) == list(range(len(screws)))
        for done in range(2, len(order), 2):
            tight = [screws[k] for k in order[:done]]
            off = [
                abs(sum(at[k] for at in tight) / len(tight) - size / 2)
                for k, size in enumerate((panel.width, panel.height))
            ]
            assert off[0] < panel.width / 6
            assert off[1] < panel.height / 6


def test_rounds_rise_to_the_whole_torque():
    assert sorted(ROUNDS) == list(ROUNDS)
    assert ROUNDS[-1] == 1.0
