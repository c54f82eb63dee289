"""The plate as triangles: deflection and both slopes at every corner, with what shear adds.

Slopes are those of the plate's sections. Over each triangle they are a quadratic field; across a side they run
evenly, along it they swell in its middle as those of a beam that bends and shears under the same ends. So the plate
is a plane quadratic field for bending and one of sides for shear, both made by scikit-fem, mapped to what the corners
do. Shear counts: a plate held round a span of five thicknesses bows half as much again as a thin one. The Morley
triangle leaves it out, and is 15 % too soft at the size at which this one is within 1 %.

Everything here is for a rigidity of 1: deflections come from load over rigidity. Where a sheet is thinner, its
triangles have their share of that.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from geom.errors import GeometryError
from layouts.bending.mesh import Mesh

SIDES = ((0, 1), (1, 2), (0, 2))

SHEAR_SHARE = 5 / 6
"""Of a section that counts in shear: Reissner's, for a rectangle."""

BALANCE = 1e-4
"""Greatest force left over at a corner, over the greatest load, [-]; rounding leaves less than 1e-12 of it."""

LEAF_CORNERS = 16
"""Parts no larger than this are eliminated as they come."""


@dataclass(frozen=True, slots=True)
class Elements:
    """A mesh made ready for solving; of a plate with a rigidity E t^3 / (12 (1 - nu^2)) of 1 N mm where it is whole.

    The unknowns of corner i are its deflection, 3 i, and its slopes along x and y, 3 i + 1 and 3 i + 2.

    Parameters
    ----------
    mesh : Mesh
    share : (m,) float
        Of each triangle in that rigidity, [-]: 1 where the plate is whole.
    thickness : (m,) float
        Of each triangle, [mm].
    side_thickness : (m, 3) float
        Mean thickness of the triangles at each of its sides, in the order of `SIDES`, [mm].
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
    share: np.ndarray
    thickness: np.ndarray
    side_thickness: np.ndarray
    poisson: float
    outer: np.ndarray
    stiffness: Any
    order: np.ndarray


def make_elements(mesh: Mesh, thickness: float, poisson: float, thin: np.ndarray | None = None) -> Elements:
    """Return the mesh's stiffness.

    Parameters
    ----------
    mesh : Mesh
    thickness : float
        Where the plate is whole, [mm].
    poisson : float
        [-]
    thin : (m,) float or None
        Thickness of each triangle, [mm]; None: the whole one.

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
        return share[:, None] * ddot((1 - poisson) * curve + poisson * eye(trace(curve), 2), sym_grad(other))

    def shear(strain: Any, other: Any, _: Any) -> Any:
        return (6 * SHEAR_SHARE * (1 - poisson) * share / thick**2)[:, None] * dot(strain, other)

    thick = np.full(len(mesh.triangles), float(thickness)) if thin is None else thin
    share = (thick / thickness) ** 3
    ends = triangles.facets.T
    of_side = triangles.t2f.ravel()
    beside = np.bincount(of_side, np.tile(thick, 3), len(ends)) / np.bincount(of_side, minlength=len(ends))
    corner, side = np.arange(len(mesh.points)), np.arange(len(ends))
    place = np.column_stack([slopes.nodal_dofs, slopes.facet_dofs])
    rows, columns = [place[0, corner], place[1, corner]], [3 * corner + 1, 3 * corner + 2]
    values = [np.ones(len(corner))] * 2
    swells = _side_swells(mesh.points, ends, beside, poisson)
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
    sides = beside[_find_sides(mesh, ends)]
    return Elements(mesh, share, thick, sides, poisson, outer, stiffness, _dissect(mesh.points, ends))


def _find_sides(mesh: Mesh, ends: np.ndarray) -> np.ndarray:
    """Return the number of each triangle's sides in the order of `SIDES`, (m, 3): the library has one of its own."""
    keys = np.sort(ends, axis=1) @ (len(mesh.points), 1)
    order = np.argsort(keys, kind="stable")
    wanted = np.stack(
        [np.sort(mesh.triangles[:, pair], axis=1) @ (len(mesh.points), 1) for pair in SIDES], axis=1
    )
    return order[np.searchsorted(keys[order], wanted)]


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


def _side_swells(points: np.ndarray, ends: np.ndarray, thickness: np.ndarray, poisson: float) -> _Swells:
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

    Raises
    ------
    GeometryError
        Where a part of the plate is held by nothing.
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
    try:
        factor = scipy.sparse.linalg.splu(
            matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
        )
        found = factor.solve(right[held.free])
        left = np.abs(matrix @ found - right[held.free]).max(initial=0.0)
    except RuntimeError:
        left = np.inf
    # What is held nowhere makes the matrix singular, or all but: rounding then hides it, and not from the balance.
    if not left <= BALANCE * np.abs(right).max(initial=0.0):
        raise GeometryError("nothing holds a part of the plate, so that it has no one shape")
    unknowns = np.zeros(3 * len(loads))
    unknowns[held.free] = found
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
        M_x, M_y, M_xy over the rigidity where the plate is whole, [1/mm]: M_x bends fibres along x and is positive
        where the upper face is pulled, as it is where the plate bulges upward; M_xy is positive where the upper face
        is pulled along the diagonal of x and y.
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
    for side, (i, j) in enumerate(SIDES):
        swells, swell = _swells_of(elements, unknowns, triangle, side)
        middle = (slope[corners[:, i]] + slope[corners[:, j]]) / 2 + swell[:, None] * swells.along
        weight = 4 * (share[:, [i]] * grow[j] + share[:, [j]] * grow[i])
        curve += middle[:, :, None] * weight[:, None, :]
    xx, yy, xy = curve[:, 0, 0], curve[:, 1, 1], (curve[:, 0, 1] + curve[:, 1, 0]) / 2
    nu = elements.poisson
    moments = -np.column_stack([xx + nu * yy, yy + nu * xx, (1 - nu) * xy])
    return moments * elements.share[triangle][:, None]


def _swells_of(
    elements: Elements, unknowns: np.ndarray, triangle: np.ndarray, side: int
) -> tuple[_Swells, np.ndarray]:
    """Return how one of the sides of some triangles bends and shears, and by how much it swells, [-]."""
    ends = elements.mesh.triangles[triangle][:, SIDES[side]]
    thickness = elements.side_thickness[triangle, side]
    swells = _side_swells(elements.mesh.points, ends, thickness, elements.poisson)
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
    for side, (i, j) in enumerate(SIDES):
        p, q = corners[:, i], corners[:, j]
        swells, swell = _swells_of(elements, unknowns, triangle, side)
        run, climb = points[q] - points[p], rise[q] - rise[p]
        sheared = swells.shear * swell * swells.length - climb
        leaves, arrives = np.sum(slope[p] * run, axis=1) + sheared, np.sum(slope[q] * run, axis=1) + sheared
        # Half of the third share makes every quadratic exact.
        third = (1 - share[:, i] - share[:, j]) / 2
        lift += share[:, i] * share[:, j] * ((share[:, i] + third) * leaves - (share[:, j] + third) * arrives)
    return lift
