"""The triangles bend and shear as plates do: exact states, signs, and the way from thin to thick."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import GeometryError
from layouts.bending.elements import find_moments, lift_at, make_elements
from layouts.bending.loads import place_points, spread_pressure
from layouts.bending.mesh import mesh_sheet
from layouts.bending.stress import principal_stress
from tests.layouts.bending.sample_plates import grid_mesh, hold_outline, lift_in, solve_supported

MIDDLE = np.array([[1 / 3, 1 / 3, 1 / 3]])


def quadratic(points: np.ndarray, xx: float, yy: float, xy: float) -> np.ndarray:
    """Return the unknowns of w = (xx x^2 + yy y^2) / 2 + xy x y + 0.3 x - 0.2 y + 1."""
    x, y = points.T
    out = np.empty(3 * len(points))
    out[::3] = (xx * x**2 + yy * y**2) / 2 + xy * x * y + 0.3 * x - 0.2 * y + 1
    out[1::3], out[2::3] = xx * x + xy * y + 0.3, yy * y + xy * x - 0.2
    return out


@settings(max_examples=20, deadline=None)
@given(st.tuples(*[st.floats(-1e-3, 1e-3)] * 3), st.floats(0.0, 0.45), st.floats(0.1, 20.0))
def test_every_even_curvature_is_exact(curvature, poisson, thickness):
    """The patch test: no shear, the same moments everywhere, no force inside."""
    xx, yy, xy = curvature
    mesh = mesh_sheet(shapely.box(0, 0, 40, 30), (), 6.0)
    elements = make_elements(mesh, thickness, poisson)
    unknowns = quadratic(mesh.points, xx, yy, xy)
    triangle = np.arange(len(mesh.triangles))
    for share in ([0.2, 0.3, 0.5], [1.0, 0.0, 0.0]):
        shares = np.tile(share, (len(triangle), 1))
        moments = find_moments(elements, unknowns, triangle, shares)
        expected = (-(xx + poisson * yy), -(yy + poisson * xx), -(1 - poisson) * xy)
        assert np.abs(moments - expected).max() < 1e-12
        at = np.einsum("pk,pkc->pc", shares, mesh.points[mesh.triangles])
        assert (
            np.abs(lift_at(elements, unknowns, triangle, shares) - quadratic(at, xx, yy, xy)[::3]).max()
            < 1e-12
        )
    force = elements.stiffness @ unknowns
    inside = np.setdiff1d(np.arange(len(mesh.points)), elements.outer)
    assert np.abs(force.reshape(-1, 3)[inside]).max() < 1e-10


def test_rigid_motions_cost_nothing():
    mesh = mesh_sheet(shapely.box(0, 0, 40, 30), (), 6.0)
    elements = make_elements(mesh, 8.0, 0.37)
    assert np.abs(elements.stiffness @ quadratic(mesh.points, 0, 0, 0)).max() < 1e-10
    asymmetry = elements.stiffness - elements.stiffness.T
    assert abs(asymmetry).max() < 1e-12 * abs(elements.stiffness).max()


def test_a_plate_pressed_upward_is_pulled_above_its_middle_and_below_its_held_edges():
    mesh = mesh_sheet(shapely.box(0, 0, 40, 40), (), 2.5)
    elements = make_elements(mesh, 0.4, 0.3)
    force = spread_pressure(mesh, shapely.box(0, 0, 40, 40))
    unknowns = solve_supported(elements, force, hold_outline(elements, clamped=True))
    assert unknowns[::3].max() > 0
    places = place_points(mesh, np.array([[20.0, 20.0], [0.2, 20.0], [20.0, 0.2]]))
    middle, left, lower = find_moments(elements, unknowns, *places)
    assert (middle[:2] > 0).all()
    assert left[0] < 0
    assert lower[1] < 0
    # About its two axes of symmetry nothing twists.
    assert abs(middle[2]) < 0.05 * middle[0]


def test_a_twisted_plate_is_pulled_along_a_diagonal():
    """w = -x y: the upper face is pulled along x = y, where the plate bulges upward."""
    mesh = mesh_sheet(shapely.box(-5, -5, 5, 5), (), 3.0)
    elements = make_elements(mesh, 1.0, 0.25)
    unknowns = quadratic(mesh.points, 0, 0, -1e-3)
    moments = find_moments(elements, unknowns, np.array([0]), MIDDLE)
    assert moments[0] == pytest.approx([0, 0, 0.75e-3], abs=1e-12)
    assert principal_stress(moments, 1.0) == pytest.approx(6 * 0.75e-3)


def test_a_cantilever_bends_and_shears_as_a_beam():
    """Tip load P on a strip without Poisson's effect: P L^3 / (3 E I) + P L / (5/6 G A)."""
    length, width, thickness = 30.0, 6.0, 8.0
    mesh = grid_mesh(length, width, 20, 4)
    elements = make_elements(mesh, thickness, 0.0)
    root, tip = np.flatnonzero(mesh.points[:, 0] == 0), np.flatnonzero(mesh.points[:, 0] == length)
    loads = np.zeros(len(mesh.points))
    loads[tip] = 1.0
    loads[tip[[0, -1]]] = 0.5
    unknowns = solve_supported(elements, loads, np.concatenate([3 * root + k for k in range(3)]))
    # Over the rigidity, with nu = 0: D = E t^3 / 12, so E I = D width and G A = D width 6 / t^2.
    bending = length**3 / 3 / width
    shear = length / (5 / 6 * 6 / thickness**2) / width
    assert unknowns[3 * tip].mean() == pytest.approx(4 * (bending + shear), rel=0.003)
    assert shear > 0.04 * bending


@pytest.mark.published(source="stepped cantilever under a tip load: P (L^3 - l^3) / 3 E I + P l^3 / 3 E i")
def test_a_strip_of_two_thicknesses_bends_as_a_stepped_beam() -> None:
    length, width, whole, thin = 120.0, 8.0, 6.0, 3.0
    mesh = grid_mesh(length, width, 60, 4)
    far = mesh.points[mesh.triangles].mean(axis=1)[:, 0] > length / 2
    elements = make_elements(mesh, whole, 0.0, np.where(far, thin, whole))
    root, tip = np.flatnonzero(mesh.points[:, 0] == 0), np.flatnonzero(mesh.points[:, 0] == length)
    loads = np.zeros(len(mesh.points))
    loads[tip] = 1.0
    loads[tip[[0, -1]]] = 0.5
    unknowns = solve_supported(elements, loads, np.concatenate([3 * root + k for k in range(3)]))
    rest, soft = length / 2, (whole / thin) ** 3
    exact = 4 / width * ((length**3 - rest**3) + soft * rest**3) / 3
    assert unknowns[3 * tip].mean() == pytest.approx(exact, rel=0.01)
    # The moment does not care for the thickness.
    middle = np.flatnonzero(np.abs(mesh.points[mesh.triangles].mean(axis=1)[:, 0] - 0.75 * length) < 1.0)
    moments = find_moments(elements, unknowns, middle, np.repeat(MIDDLE, len(middle), axis=0))
    assert moments[:, 0].mean() == pytest.approx(-4 / width * length / 4, rel=0.03)


def test_between_corners_a_coarse_strip_sags_as_a_beam_does():
    """w(x) = P x^2 (3 L - x) / 6 D + P x / (5/6 G t), read inside the sides of a mesh of two columns."""
    length, width, thickness = 24.0, 12.0, 12.0
    mesh = grid_mesh(length, width, 2, 1)
    elements = make_elements(mesh, thickness, 0.0)
    root, tip = np.flatnonzero(mesh.points[:, 0] == 0), np.flatnonzero(mesh.points[:, 0] == length)
    loads = np.zeros(len(mesh.points))
    loads[tip] = width / 2
    unknowns = solve_supported(elements, loads, np.concatenate([3 * root + k for k in range(3)]))
    x = np.array([3.0, 9.0, 15.0, 21.0])
    exact = x**2 * (3 * length - x) / 6 + x / (5 / 6 * 6 / thickness**2)
    both = [lift_in(elements, unknowns, *((a, y) for a in x)) for y in (0.0, width)]
    assert np.mean(both, axis=0) == pytest.approx(exact, rel=0.02)


def test_reading_between_corners_runs_along_sides_as_the_plate_does():
    mesh = mesh_sheet(shapely.box(0, 0, 40, 40), (), 5.0)
    elements = make_elements(mesh, 8.0, 0.3)
    force = spread_pressure(mesh, shapely.box(0, 0, 40, 40))
    unknowns = solve_supported(elements, force, hold_outline(elements, clamped=True))
    # On a side both triangles say the same.
    side = mesh.triangles[np.isin(mesh.triangles, elements.outer, invert=True).all(axis=1)][0, :2]
    both = [k for k, corners in enumerate(mesh.triangles) if set(side) <= set(corners)]
    told = []
    for k in both:
        share = np.array([[0.3 if c == side[0] else 0.7 if c == side[1] else 0.0 for c in mesh.triangles[k]]])
        told.append(lift_at(elements, unknowns, np.array([k]), share)[0])
    assert told[0] == pytest.approx(told[1], rel=1e-12)
    assert lift_in(elements, unknowns, tuple(mesh.points[side[0]]))[0] == pytest.approx(unknowns[3 * side[0]])


def test_a_plate_that_nothing_holds_is_refused():
    elements = make_elements(grid_mesh(40, 30, 4, 3), 6.0, 0.3)
    with pytest.raises(GeometryError, match="nothing holds"):
        solve_supported(elements, np.ones(len(elements.mesh.points)), np.array([], dtype=int))
