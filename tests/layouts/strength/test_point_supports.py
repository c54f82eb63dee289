"""A plate held at points, against printed coefficients and against finite differences."""

from __future__ import annotations

import numpy as np
import pytest
from printed import assert_as_printed

from layouts.strength.point_supports import free_bow, held_bow, influence, support_forces

MIDDLE = np.array([[0.5, 0.5]])


@pytest.mark.published(
    source="Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, table 8: simply supported, uniform load"
)
@pytest.mark.parametrize(
    ("ratio", "printed"), [(1.0, "0.00406"), (1.2, "0.00564"), (1.6, "0.00830"), (2.0, "0.01013")]
)
def test_bow_under_pressure_as_printed(ratio, printed):
    bow = free_bow(1.0, ratio, MIDDLE * (1.0, ratio))
    assert_as_printed(float(bow[0]), printed, rel=0.002)


@pytest.mark.published(
    source="Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, table 23: load at the middle (recalled, "
    "not verified)"
)
@pytest.mark.parametrize(("ratio", "printed"), [(1.0, "0.01160"), (2.0, "0.01651"), (3.0, "0.01690")])
def test_bow_under_a_force_as_printed(ratio, printed):
    at = MIDDLE * (1.0, ratio)
    assert_as_printed(float(influence(1.0, ratio, at, at)[0, 0]), printed, rel=0.003)


@pytest.mark.published(
    source="Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, article on plates on rows of columns: "
    "0.00581 q l4/D in the middle of a square bay (recalled, not verified)"
)
def test_many_points_bow_as_a_flat_slab():
    """The middle bay of nine, whose rim still is a wall and not a column's row: to 6 %."""
    bays = 9
    columns = np.array([(i, j) for i in range(1, bays) for j in range(1, bays)], dtype=float)
    bow = held_bow(bays, bays, columns, np.array([[bays / 2, bays / 2]]))
    assert bow[0] == pytest.approx(0.00581, rel=0.06)


@pytest.mark.published(
    source="finite differences: the plate's equation as two of Poisson's, points held by forces"
)
@pytest.mark.parametrize("supports", [[(24, 20)], [(16, 20), (48, 16)], [(16, 10), (32, 28), (50, 18)]])
def test_held_plate_against_finite_differences(supports):
    from scipy.sparse import diags, identity, kron
    from scipy.sparse.linalg import splu

    columns, rows, step = 64, 40, 0.05

    def second(n):
        return diags([1.0, -2.0, 1.0], [-1, 0, 1], shape=(n - 1, n - 1)) / step**2

    laplace = splu(
        (kron(second(columns), identity(rows - 1)) + kron(identity(columns - 1), second(rows))).tocsc()
    )
    number = [(i - 1) * (rows - 1) + j - 1 for i, j in supports]
    free = laplace.solve(laplace.solve(np.ones((columns - 1) * (rows - 1))))
    forces = np.zeros((len(free), len(number)))
    forces[number, range(len(number))] = 1 / step**2
    under = laplace.solve(laplace.solve(forces))
    strengths = np.linalg.solve(under[number], free[number])
    expected = free - under @ strengths
    x, y = np.meshgrid(np.arange(1, columns) * step, np.arange(1, rows) * step, indexing="ij")
    points, at = np.column_stack((x.ravel(), y.ravel())), np.array(supports) * step
    width, height = columns * step, rows * step
    assert support_forces(width, height, at) == pytest.approx(strengths, rel=0.02)
    assert held_bow(width, height, at, points).max() == pytest.approx(expected.max(), rel=0.03)


def test_a_held_plate_stands_still_at_its_points():
    at = np.array([[30.0, 20.0], [70.0, 33.0]])
    assert np.abs(held_bow(100.0, 60.0, at, at)).max() < 1e-9 * free_bow(100.0, 60.0, at).max()
    beside = np.array([[50.0, 30.0]])
    assert held_bow(100.0, 60.0, np.empty((0, 2)), beside) == free_bow(100.0, 60.0, beside)
