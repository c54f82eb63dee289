"""Stress is that of the moments, and its mean settles."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layouts.bending.elements import make_elements
from layouts.bending.mesh import mesh_sheet
from layouts.bending.stress import average_stress, lay_circles, principal_stress


def test_principal_stress_is_the_same_however_the_axes_lie():
    for angle in (0.0, 0.4, 1.1):
        c, s = np.cos(angle), np.sin(angle)
        turn = np.array([[c, -s], [s, c]])
        m = turn @ np.diag([3.0, -5.0]) @ turn.T
        assert principal_stress(np.array([[m[0, 0], m[1, 1], m[0, 1]]]), 2.0) == pytest.approx(6 * 5 / 4)


def test_even_stress_stays_as_it_is():
    mesh = mesh_sheet(shapely.box(0, 0, 50, 40), (), 5.0)
    x = mesh.points[:, 0]
    unknowns = np.zeros(3 * len(x))
    unknowns[::3], unknowns[1::3] = -1e-4 * x**2 / 2, -1e-4 * x
    for thickness in (1.0, 6.0, 40.0):
        elements = make_elements(mesh, thickness, 0.3)
        circles = lay_circles(mesh, thickness, np.zeros(len(mesh.triangles), dtype=bool))
        stress = average_stress(elements, unknowns, 1e6, circles)
        assert stress == pytest.approx(np.full(len(x), 6 * 1e-4 * 1e6 / thickness**2))


def test_a_slope_of_stress_is_averaged_over_a_circle():
    """|x| over a circle of radius r round its zero has the mean 4 r / (3 pi)."""
    mesh = mesh_sheet(shapely.box(-30, -30, 30, 30), (), 3.0)
    elements = make_elements(mesh, 10.0, 0.0)
    x, y = mesh.points.T
    unknowns = np.zeros(3 * len(x))
    unknowns[::3], unknowns[1::3] = -(x**3) / 6, -(x**2) / 2
    circles = lay_circles(mesh, 10.0, np.zeros(len(mesh.triangles), dtype=bool))
    stress = average_stress(elements, unknowns, 100.0 / 6, circles)
    near = np.abs(x)
    middle = np.argmin(np.hypot(x, y))
    # The corner nearest to the middle is a little off it.
    assert stress[middle] == pytest.approx(4 * 5 / (3 * np.pi), rel=0.15)
    away = (near > 6) & (near < 20) & (np.abs(y) < 20)
    assert stress[away] == pytest.approx(near[away], rel=0.06)


def test_what_lies_under_a_head_has_no_part():
    mesh = mesh_sheet(shapely.box(0, 0, 50, 40), (), 5.0)
    stiff = mesh.points[mesh.triangles].mean(axis=1)[:, 0] < 15
    circles = lay_circles(mesh, 6.0, stiff)
    sums = np.asarray(circles.mean.sum(axis=1)).ravel()
    assert sums[mesh.points[:, 0] > 20] == pytest.approx(1.0)
    assert not sums[mesh.points[:, 0] < 5].any()
    assert not stiff[circles.triangle].any()
