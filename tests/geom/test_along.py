"""Places and pieces of a path, and distances from it."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.along import Way, distances_to
from geom.outline import Arc, Line, outline_rectangle, path_length, path_points

BOX = outline_rectangle(0.0, 0.0, 40.0, 20.0, 5.0)
ROUND = 80.0 + 10 * math.pi
"""Straights of 30 and 10 mm twice, and a whole turn of 5 mm."""


@pytest.mark.published(source="geometry of the test's own: a rounded rectangle")
def test_distances_along_a_rounded_rectangle():
    way = Way(BOX, True)
    assert way.length == pytest.approx(ROUND)
    first = way.point(0.0)
    assert way.point(ROUND + 1e-12) == pytest.approx(first)
    assert way.point(-1.0) == pytest.approx(way.point(ROUND - 1.0))
    assert math.hypot(*way.heading(17.0)) == pytest.approx(1.0)


@given(low=st.floats(-200.0, 200.0), length=st.floats(0.01, 150.0))
def test_a_piece_of_a_closed_path_is_as_long_as_asked(low, length):
    way = Way(BOX, True)
    piece = way.cut(low, low + length)
    assert path_length(piece) == pytest.approx(length, abs=1e-5)
    assert math.dist(piece[0].start, way.point(low)) < 1e-5
    assert math.dist(piece[-1].end, way.point(low + length)) < 1e-5
    assert all(math.dist(a.end, b.start) < 1e-5 for a, b in pairwise(piece))


def test_an_open_path_ends_where_it_ends():
    path = (Line((0.0, 0.0), (10.0, 0.0)), Arc((10.0, 5.0), 5.0, -math.pi / 2, math.pi))
    way = Way(path, False)
    assert way.cut(-5.0, 100.0) == path
    assert way.cut(4.0, 6.0) == (Line((4.0, 0.0), (6.0, 0.0)),)
    assert way.point(1000.0) == pytest.approx((10.0, 10.0))


@settings(max_examples=25)
@given(x=st.floats(-30.0, 70.0), y=st.floats(-30.0, 50.0))
def test_distances_are_those_of_a_fine_line(x, y):
    path = (*BOX[:3], Arc((90.0, 0.0), 12.0, 2.0, -4.0))
    wanted = min(
        shapely.LineString([*path_points((s,), 0.01), s.end]).distance(shapely.Point(x, y)) for s in path
    )
    assert distances_to(path, np.array([(x, y)]))[0] == pytest.approx(wanted, abs=1e-4)
    assert distances_to((), np.array([(x, y)]))[0] == math.inf
