"""The stress of a bent plate, averaged so that it settles as the mesh is refined."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from layouts.bending.elements import Elements, find_moments
from layouts.bending.mesh import Mesh

SAMPLES = 4
"""At least so many across a circle."""

MOST_PARTS = 8
"""Of a triangle's side, whatever the plate's thickness."""


def principal_stress(moments: np.ndarray, thickness: float | np.ndarray) -> np.ndarray:
    """Return the greatest principal stress, pulled or pressed, of either face.

    Parameters
    ----------
    moments : (p, 3) float
        M_x, M_y, M_xy, [N].
    thickness : float or (p,) float
        [mm]

    Returns
    -------
    (p,) float
        6 |M| / t^2, [MPa].
    """
    mean, half = (moments[:, 0] + moments[:, 1]) / 2, (moments[:, 0] - moments[:, 1]) / 2
    return 6 / thickness**2 * (np.abs(mean) + np.hypot(half, moments[:, 2]))


@dataclass(frozen=True, slots=True)
class Circles:
    """What the stress at each corner is averaged over.

    Parameters
    ----------
    triangle : (p,) int
        Which each sample lies in.
    share : (p, 3) float
        Its barycentric coordinates, [-].
    mean : scipy.sparse.csr_matrix
        (n, p): the samples' weights at each corner; a row of zeros where its whole circle lies under a head.
    """

    triangle: np.ndarray
    share: np.ndarray
    mean: Any


def lay_circles(mesh: Mesh, thickness: float, stiff: np.ndarray) -> Circles:
    """Return samples and weights that average over a circle as wide as the plate is thick round each corner.

    Thin-plate stress grows without end towards a point support; in a real plate no stress changes much within its
    thickness. What lies under a screw's head is left out of the mean.

    Parameters
    ----------
    mesh : Mesh
    thickness : float
        [mm]
    stiff : (m,) bool
        Triangles under a head.

    Returns
    -------
    Circles
    """
    import scipy.sparse
    from scipy.spatial import cKDTree

    points, triangles = mesh.points, mesh.triangles
    a, b, c = (points[triangles[:, k]] for k in range(3))
    area = ((b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])) / 2
    longest = np.max([np.hypot(*(q - p).T) for p, q in ((a, b), (b, c), (c, a))], axis=0)
    parts = np.clip(np.ceil(longest * SAMPLES / thickness), 1, MOST_PARTS).astype(int)
    which, share, weight = [], [], []
    for n in range(1, MOST_PARTS + 1):
        mine = np.flatnonzero((parts == n) & ~stiff)
        middles = part_middles(n)
        which.append(np.repeat(mine, len(middles)))
        share.append(np.tile(middles, (len(mine), 1)))
        weight.append(np.repeat(area[mine] / n**2, n**2))
    triangle, shares, weights = np.concatenate(which), np.concatenate(share), np.concatenate(weight)
    at = np.einsum("pk,pkc->pc", shares, points[triangles[triangle]])
    near = cKDTree(points).sparse_distance_matrix(cKDTree(at), thickness / 2, output_type="coo_matrix")
    # Where the triangles are larger than the circle, a corner has its own triangles' samples.
    own = triangles[triangle]
    bare = (np.bincount(near.row, minlength=len(points)) == 0)[own]
    row = np.concatenate([near.row, own[bare]])
    column = np.concatenate([near.col, np.nonzero(bare)[0]])
    total = np.bincount(row, weights[column], len(points))
    form = (weights[column] / total[row], (row, column))
    return Circles(triangle, shares, scipy.sparse.csr_matrix(form, (len(points), len(at))))


def average_stress(elements: Elements, unknowns: np.ndarray, rigidity: float, circles: Circles) -> np.ndarray:
    """Return the greatest principal stress of either face at the corners, averaged over circles.

    Parameters
    ----------
    elements : Elements
    unknowns : (3 n,) float
    rigidity : float
        Of the whole plate, [N mm].
    circles : Circles

    Returns
    -------
    (n,) float
        [MPa]; zero where the whole circle lies under a head.
    """
    moments = rigidity * find_moments(elements, unknowns, circles.triangle, circles.share)
    return np.asarray(circles.mean @ principal_stress(moments, elements.thickness[circles.triangle]))


def part_middles(n: int) -> np.ndarray:
    """Return the barycentric middles of the n^2 like triangles that a triangle is cut into, (n^2, 3)."""
    up = [(3 * i + 1, 3 * j + 1) for i in range(n) for j in range(n - i)]
    down = [(3 * i + 2, 3 * j + 2) for i in range(n) for j in range(n - i - 1)]
    first = np.array(up + down, dtype=float) / (3 * n)
    return np.column_stack([first, 1 - first.sum(axis=1)])
