"""What a leg is made of: its pieces and bends add up to its length."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layouts.legs import measure_leg, split_leg


def test_measure_leg():
    straight, length, bends = measure_leg(((0.0, 0.0), (50.0, 0.0), (80.0, 0.0), (80.0, 60.0)), 14.0)
    assert bends == 1
    assert straight == pytest.approx(140 - 28)
    assert length == pytest.approx(140 - 28 + 14 * math.pi / 2)


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from("udlr"), st.integers(6, 20)), min_size=1, max_size=8),
    st.floats(0.0, 15.0),
)
def test_a_leg_is_its_pieces(moves, radius):
    points = [(0.0, 0.0)]
    for way, steps in moves:
        dx, dy = {"u": (0, 1), "d": (0, -1), "l": (-1, 0), "r": (1, 0)}[way]
        if (before := points[-2] if len(points) > 1 else None) is not None:
            back = (points[-1][0] - before[0]) * dx + (points[-1][1] - before[1]) * dy < 0
            dx, dy = (-dx, -dy) if back else (dx, dy)
        points.append((points[-1][0] + 5.0 * steps * dx, points[-1][1] + 5.0 * steps * dy))
    pieces = split_leg(tuple(points), radius)
    straight, length, bends = measure_leg(tuple(points), radius)
    assert len(pieces) == bends + 1
    assert min(pieces) >= 0.0
    whole = sum(math.dist(a, b) for a, b in itertools.pairwise(points))
    assert straight == pytest.approx(sum(pieces)) == pytest.approx(whole - 2 * radius * bends)
    assert length == pytest.approx(straight + bends * radius * math.pi / 2)
