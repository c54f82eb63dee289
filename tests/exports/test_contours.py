"""Areas above a level, against areas in closed form and against each other."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from exports.pictures.contours import trace_above


def grid(columns, rows, side):
    x, y = np.meshgrid(np.arange(columns) * side, np.arange(rows) * side)
    first = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    lower = np.column_stack((first, first + 1, first + columns + 1))
    upper = np.column_stack((first, first + columns + 1, first + columns))
    return np.column_stack((x.ravel(), y.ravel())).astype(float), np.concatenate((lower, upper))


def area(rings):
    """Return the area inside: rings of holes count against it."""
    return sum(shapely.Polygon(ring).area * (1 if shapely.LinearRing(ring).is_ccw else -1) for ring in rings)


@pytest.mark.published(source="closed form: area of a circle, of a ring")
def test_a_hill_and_a_crater():
    points, triangles = grid(81, 81, 1.0)
    far = np.hypot(points[:, 0] - 40.0, points[:, 1] - 40.0)
    assert area(trace_above(points, triangles, 30.0 - far, 0.0, 0.0)) == pytest.approx(
        np.pi * 30**2, rel=2e-3
    )
    rings = trace_above(points, triangles, -np.abs(far - 20.0), -5.0, 0.05)
    assert len(rings) == 2
    assert area(rings) == pytest.approx(np.pi * (25**2 - 15**2), rel=5e-3)


def test_ends_of_the_range():
    points, triangles = grid(5, 4, 2.0)
    values = points[:, 0]
    assert trace_above(points, triangles, values, 9.0, 0.0) == []
    assert area(trace_above(points, triangles, values, -np.inf, 0.0)) == pytest.approx(8.0 * 6.0)
    assert area(trace_above(points, triangles, values, 3.0, 0.0)) == pytest.approx(5.0 * 6.0)


@given(values=st.lists(st.floats(-1.0, 1.0), min_size=42, max_size=42), level=st.floats(-0.9, 0.9))
@settings(max_examples=50, deadline=None)
def test_above_and_below_make_the_whole(values, level):
    points, triangles = grid(7, 6, 1.0)
    field = np.array(values) + 1e-9
    up = trace_above(points, triangles, field, level, 0.0)
    down = trace_above(points, triangles, -field, -level, 0.0)
    assert area(up) + area(down) == pytest.approx(30.0, abs=1e-6)
    for ring in (*up, *down):
        assert shapely.box(-1e-9, -1e-9, 6 + 1e-9, 5 + 1e-9).covers(shapely.MultiPoint(ring))
