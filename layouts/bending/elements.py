"""The plate as triangles: deflection and both slopes at every corner, with what shear adds.

Slopes are those of the plate's sections. Over each triangle they are a quadratic field; across a side they run
evenly, along it they swell in its middle as those of a beam that bends and shears under the same ends. So the plate
is a plane quadratic field for bending and one of sides for shear, both made by scikit-fem, mapped to what the corners
do. Shear counts: a plate held round a span of five thicknesses bows half as much again as a thin one. (The Morley
triangle, tried first, leaves it out, and is 15 % too soft at the size at which this one is within 1 %.)

Everything here is for a rigidity of 1: deflections come from load over rigidity.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from layouts.bending.mesh import Mesh

SIDES = ((0, 1), (1, 2), (0, 2))

SHEAR_SHARE = 5 / 6
"""Of a section that counts in shear: Reissner's, for a rectangle."""

LEAF_CORNERS = 16
"""Parts no larger than this are eliminated as they come."""


@dataclass(frozen=True, slots=True)
class Elements:
    """A mesh made ready for solving; of a plate with a rigidity E t^3 / (12 (1 - nu^2)) of 1 N mm.

    The unknowns of corner i are its deflection, 3 i, and its slopes along x and y, 3 i + 1 and 3 i + 2.

    Parameters
    ----------
    mesh : Mesh
    thickness : float
        [mm]
    poisson : float
        [-]
    outer : (k, 2) int
        Corners at the ends of each side on an edge of the sheet.
    stiffness : scipy.sparse.csc_matrix
        (3 n, 3 n), symmetric.
    order : (n,) int
        In which to eliminate the corners.
    """

    mesh: Mesh
    thickness: float
    poisson: float
    outer: np.ndarray
    stiffness: Any
    order: np.ndarray


def make_elements(mesh: Mesh, thickness: float, poisson: float) -> Elements:
    """Return the mesh's stiffness.

    Parameters
    ----------
    mesh : Mesh
    thickness : float
        [mm]
    poisson : float
        [-]

    Returns
    -------
    Elements

    Source
    ------
    Batoz, Bathe and Ho, A study of three-node triangular plate bending elements, International Journal for Numerical
    Methods in Engineering 15 (1980), 1771-1812 (thin); Katili, A new discrete Kirchhoff-Mindlin element based on
    Mindlin-Reissner plate theory and assumed shear strain fields, part I, the same journal 36 (1993), 1859-1883.
    """
    import scipy.sparse
    import skfem
    from skfem.helpers import ddot, dot, eye, sym_grad, trace

    triangles = skfem.MeshTri(mesh.points.T.copy(), mesh.triangles.T.copy())
    slopes = skfem.CellBasis(triangles, skfem.ElementVector(skfem.ElementTriP2()), intorder=2)
    shears = skfem.CellBasis(triangles, skfem.ElementTriN1(), intorder=2)

    def bend(slope: Any, other: Any, _: Any) -> Any:
        curve = sym_grad(slope)
        return ddot((1 - poisson) * curve + poisson * eye(trace(curve), 2), sym_grad(other))

    def shear(strain: Any, other: Any, _: Any) -> Any:
        return 6 * SHEAR_SHARE * (1 - poisson) / thickness**2 * dot(strain, other)

    ends = triangles.facets.T
    corner, side = np.arange(len(mesh.points)), np.arange(len(ends))
    place = np.column_stack([slopes.nodal_dofs, slopes.facet_dofs])
    rows, columns = [place[0, corner], place[1, corner]], [3 * corner + 1, 3 * corner + 2]
    values = [np.ones(len(corner))] * 2
    swells = _side_swells(mesh.points, ends, thickness, poisson)
    for k in (0, 1):
        for column, value in _side_unknowns(ends, swells.weights * swells.along[:, [k]]):
            rows.append(place[k, len(corner) + side])
            columns.append(column)
            values.append(value)
        for end in (0, 1):
            rows.append(place[k, len(corner) + side])
            columns.append(3 * ends[:, end] + 1 + k)
            values.append(np.full(len(side), 0.5))
    form = (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))
    to_slopes = scipy.sparse.csr_matrix(form, (slopes.N, 3 * len(corner)))
    # The library's unknown of a side is the strain along it, from its lesser corner to its greater, by its length.
    pairs = _side_unknowns(ends, swells.weights * (swells.shear * swells.length)[:, None])
    columns, values = [column for column, _ in pairs], [value for _, value in pairs]
    form = (np.concatenate(values), (np.tile(shears.facet_dofs[0], len(pairs)), np.concatenate(columns)))
    to_shears = scipy.sparse.csr_matrix(form, (shears.N, 3 * len(corner)))
    plane, strain = (
        skfem.BilinearForm(law).assemble(basis) for law, basis in ((bend, slopes), (shear, shears))
    )
    stiffness = (to_slopes.T @ plane @ to_slopes + to_shears.T @ strain @ to_shears).tocsc()
    outer = ends[triangles.boundary_facets()]
    return Elements(mesh, thickness, poisson, outer, stiffness, _dissect(mesh.points, ends))


@dataclass(frozen=True, slots=True)
class _Swells:
    """How sides bend and shear.

    Parameters
    ----------
    along : (k, 2) float
        Unit vector from the first end to the second, [-].
    length : (k,) float
        [mm]
    weights : (k, 5) float
        Of the rise from end to end and of the slopes along x and y at the first end and the second, in the swell:
        what the slope along the side has in the middle over the mean of its ends' slopes.
    shear : (k,) float
        Strain along the side over that swell, [-].
    """

    along: np.ndarray
    length: np.ndarray
    weights: np.ndarray
    shear: np.ndarray


def _side_swells(points: np.ndarray, ends: np.ndarray, thickness: float, poisson: float) -> _Swells:
    run = points[ends[:, 1]] - points[ends[:, 0]]
    length = np.hypot(*run.T)
    along = run / length[:, None]
    # A beam's shear is its rigidity times the second derivative of its slope, which is 8 swells over length^2.
    soft = 2 / (SHEAR_SHARE * (1 - poisson)) * (thickness / length) ** 2
    weights = np.column_stack([1.5 / length, *(-0.75 * along.T), *(-0.75 * along.T)]) / (1 + soft)[:, None]
    return _Swells(along, length, weights, 2 / 3 * soft)


def _side_unknowns(ends: np.ndarray, weights: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
    """Return the numbers of the unknowns that sides' weights belong to, and the weights."""
    first, second = 3 * ends[:, 0], 3 * ends[:, 1]
    rise, *slopes = weights.T
    numbers = (first, second, first + 1, first + 2, second + 1, second + 2)
    return list(zip(numbers, (-rise, rise, *slopes), strict=True))


def _dissect(points: np.ndarray, ends: np.ndarray) -> np.ndarray:
    """Return an order of elimination: both halves of the plate, then the corners that part them; each half likewise.

    The library's own orders take longer than the factoring on fine meshes, and would be sought anew each time.

    Source
    ------
    George, Nested dissection of a regular finite element mesh, SIAM Journal on Numerical Analysis 10 (1973), 345-363.
    """
    import scipy.sparse

    both = np.concatenate([ends, ends[:, ::-1]])
    form = (np.ones(len(both), dtype=np.int8), (both[:, 0], both[:, 1]))
    neighbours = scipy.sparse.csr_matrix(form, (len(points), len(points)))
    first = np.zeros(len(points), dtype=np.int8)

    def order(corners: np.ndarray) -> list[np.ndarray]:
        if len(corners) <= LEAF_CORNERS:
            return [corners]
        spread = np.ptp(points[corners], axis=0)
        along = corners[np.argsort(points[corners, int(spread[1] > spread[0])], kind="stable")]
        near, far = along[: len(along) // 2], along[len(along) // 2 :]
        first[near] = 1
        parts = neighbours[far] @ first > 0
        first[near] = 0
        return [*order(near), *order(far[~parts]), far[parts]]

    return np.concatenate(order(np.arange(len(points))))


def _middle_slopes(points: np.ndarray, ends: np.ndarray) -> list[tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """Return, for the slope along x and along y in the middle of sides, its weights.

    They are those of either end's slopes along x and y, and of the rise from the first end to the second: along the
    side the cubic's slope, 1.5 rise / length less a quarter of both ends' slopes; across it the mean of the ends'.
    """
    run = points[ends[:, 1]] - points[ends[:, 0]]
    length = np.hypot(*run.T)
    along = run / length[:, None]
    return [
        (
            (k == 0) * 0.5 - 0.75 * along[:, k] * along[:, 0],
            (k == 1) * 0.5 - 0.75 * along[:, k] * along[:, 1],
            1.5 * along[:, k] / length,
        )
        for k in (0, 1)
    ]


@dataclass(frozen=True, slots=True)
class Held:
    """A mesh with supports, ready for many solutions.

    Parameters
    ----------
    free : (f,) int
        Numbers of the unknowns that are not held, in the order of their elimination.
    matrix : scipy.sparse.csc_matrix
        (f, f): their stiffness.
    diagonal : (f,) int
        Where its diagonal stands among its values.
    """

    free: np.ndarray
    matrix: Any
    diagonal: np.ndarray


def hold(elements: Elements, held: np.ndarray) -> Held:
    """Return the mesh with some unknowns held at zero.

    Parameters
    ----------
    elements : Elements
    held : (j,) int
        Their numbers.

    Returns
    -------
    Held
    """
    zero = np.zeros(elements.stiffness.shape[0], dtype=bool)
    zero[held] = True
    free = (3 * elements.order[:, None] + np.arange(3)).ravel()
    free = free[~zero[free]]
    matrix = elements.stiffness[free][:, free].tocsc()
    matrix.sort_indices()
    columns = np.repeat(np.arange(len(free)), np.diff(matrix.indptr))
    return Held(free, matrix, np.flatnonzero(matrix.indices == columns))


def solve_held(held: Held, loads: np.ndarray, springs: np.ndarray | None = None) -> np.ndarray:
    """Return all unknowns under loads at the corners.

    Parameters
    ----------
    held : Held
    loads : (n,) float
        Upward at each corner, over the rigidity, [1/mm].
    springs : (n,) float or None
        At each corner, over the rigidity, [1/mm2].

    Returns
    -------
    (3 n,) float
        Deflections [mm] and slopes [-].
    """
    import scipy.sparse.linalg

    right = np.zeros(3 * len(loads))
    right[::3] = loads
    matrix = held.matrix
    if springs is not None:
        added = np.zeros(3 * len(loads))
        added[::3] = springs
        matrix = matrix.copy()
        matrix.data[held.diagonal] += added[held.free]
    # Symmetric and positive definite: no pivoting, and the order is ours.
    factor = scipy.sparse.linalg.splu(
        matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
    )
    unknowns = np.zeros(3 * len(loads))
    unknowns[held.free] = factor.solve(right[held.free])
    return unknowns


def find_moments(
    elements: Elements, unknowns: np.ndarray, triangle: np.ndarray, share: np.ndarray
) -> np.ndarray:
    """Return the bending moments at points inside triangles, over the rigidity.

    Parameters
    ----------
    elements : Elements
    unknowns : (3 n,) float
    triangle : (p,) int
        Which each point lies in.
    share : (p, 3) float
        Its barycentric coordinates, [-].

    Returns
    -------
    (p, 3) float
        M_x, M_y, M_xy over the rigidity, [1/mm]: M_x bends fibres along x and is positive where the upper face is
        pulled, as it is where the plate bulges upward; M_xy is positive where the upper face is pulled along the
        diagonal of x and y.
    """
    points, corners = elements.mesh.points, elements.mesh.triangles[triangle]
    a, b, c = (points[corners[:, k]] for k in range(3))
    double = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    grow = [
        np.column_stack([p[:, 1] - q[:, 1], q[:, 0] - p[:, 0]]) / double[:, None]
        for p, q in ((b, c), (c, a), (a, b))
    ]
    slope = np.column_stack([unknowns[1::3], unknowns[2::3]])
    curve = np.zeros((len(corners), 2, 2))
    for k in range(3):
        weight = (4 * share[:, k] - 1)[:, None] * grow[k]
        curve += slope[corners[:, k]][:, :, None] * weight[:, None, :]
    for i, j in SIDES:
        swells, swell = _swells_of(elements, unknowns, corners[:, [i, j]])
        middle = (slope[corners[:, i]] + slope[corners[:, j]]) / 2 + swell[:, None] * swells.along
        weight = 4 * (share[:, [i]] * grow[j] + share[:, [j]] * grow[i])
        curve += middle[:, :, None] * weight[:, None, :]
    xx, yy, xy = curve[:, 0, 0], curve[:, 1, 1], (curve[:, 0, 1] + curve[:, 1, 0]) / 2
    nu = elements.poisson
    return -np.column_stack([xx + nu * yy, yy + nu * xx, (1 - nu) * xy])


def _swells_of(elements: Elements, unknowns: np.ndarray, ends: np.ndarray) -> tuple[_Swells, np.ndarray]:
    """Return how sides, given by their ends, bend and shear, and by how much each swells, [-]."""
    swells = _side_swells(elements.mesh.points, ends, elements.thickness, elements.poisson)
    return swells, sum(unknowns[number] * weight for number, weight in _side_unknowns(ends, swells.weights))


def lift_at(elements: Elements, unknowns: np.ndarray, triangle: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Return the deflection at points inside triangles: the cubic that runs along the sides as they do.

    Parameters
    ----------
    elements : Elements
    unknowns : (3 n,) float
    triangle : (p,) int
        Which each point lies in.
    share : (p, 3) float
        Its barycentric coordinates, [-].

    Returns
    -------
    (p,) float
        [mm]
    """
    points, corners = elements.mesh.points, elements.mesh.triangles[triangle]
    rise, slope = unknowns[::3], np.column_stack([unknowns[1::3], unknowns[2::3]])
    lift = np.sum(share * rise[corners], axis=1)
    for i, j in SIDES:
        p, q = corners[:, i], corners[:, j]
        swells, swell = _swells_of(elements, unknowns, corners[:, [i, j]])
        run, climb = points[q] - points[p], rise[q] - rise[p]
        sheared = swells.shear * swell * swells.length - climb
        leaves, arrives = np.sum(slope[p] * run, axis=1) + sheared, np.sum(slope[q] * run, axis=1) + sheared
        # Half of the third share makes every quadratic exact.
        third = (1 - share[:, i] - share[:, j]) / 2
        lift += share[:, i] * share[:, j] * ((share[:, i] + third) * leaves - (share[:, j] + third) * arrives)
    return lift
