"""Pressure and lines keep their sum and their middle when they become forces at corners."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layouts.bending.loads import place_points, spread_line, spread_pressure
from layouts.bending.mesh import mesh_sheet
from tests.layouts.bending.sample_plates import line_along

MESH = mesh_sheet(shapely.box(0, 0, 90, 70), (), 5.0)


@settings(max_examples=25, deadline=None)
@given(st.floats(0, 60), st.floats(0, 50), st.floats(0.5, 29), st.floats(0.5, 19), st.booleans())
def test_pressure_on_a_region_has_its_area(x, y, width, height, holed):
    region = shapely.box(x, y, x + width, y + height).buffer(1)
    if holed:
        region = region.difference(
            shapely.Point(x + width / 2, y + height / 2).buffer(min(width, height) / 3)
        )
    force = spread_pressure(MESH, region)
    inside = region.intersection(shapely.box(0, 0, 90, 70))
    assert force.sum() == pytest.approx(inside.area, rel=1e-9)
    assert (force >= 0).all()
    # Within a triangle the load moves to its middle: by less than the triangle is large.
    assert np.hypot(*(force @ MESH.points / force.sum() - shapely.get_coordinates(inside.centroid)[0])) < 3


def test_even_pressure_keeps_its_moments():
    force = spread_pressure(MESH, shapely.box(-9, -9, 99, 99))
    assert force @ MESH.points == pytest.approx([90 * 70 * 45, 90 * 70 * 35], rel=1e-12)


def test_nothing_pressed_is_no_force():
    assert not spread_pressure(MESH, shapely.Polygon()).any()


def test_a_line_keeps_force_and_moments():
    line = line_along(shapely.LineString([(10, 10), (70, 20), (50, 60)]), 2.5)
    force = spread_line(MESH, line, *place_points(MESH, line.points))
    assert force.sum() == pytest.approx(2.5 * line.lengths.sum())
    assert force @ MESH.points == pytest.approx(2.5 * line.lengths @ line.points)


def test_points_outside_go_to_the_nearest_triangle():
    triangle, share = place_points(MESH, np.array([[-1.0, 35.0], [45.0, 35.0]]))
    at = np.einsum("pk,pkc->pc", share, MESH.points[MESH.triangles[triangle]])
    assert at[0, 0] == pytest.approx(0, abs=1e-9)
    assert at[0, 1] == pytest.approx(35, abs=1.5)
    assert at[1] == pytest.approx([45, 35])
    assert (share >= 0).all()
