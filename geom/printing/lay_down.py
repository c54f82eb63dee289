"""A part's mesh turned as it lies in the printer, and its corners as the files hold them."""

from __future__ import annotations

import numpy as np
import trimesh

from geom.errors import GeometryError
from geom.frame import Vec
from geom.printing.overhangs import plan_axes

DECIMALS = 6
"""Of the coordinates that a 3MF file holds; STL holds single precision, which is coarser from 16 mm on."""

THIN_MM = 1e-6
"""A triangle lower than this has no area in the files, and no normal."""

MOST_TURNS = 20
"""How often thin triangles are turned over at most: their neighbours are seldom thin."""


def lay_down(mesh: trimesh.Trimesh, up: Vec) -> trimesh.Trimesh:
    """Return a mesh turned so that it lies on the bed, z = 0, and its layers grow upward.

    Parameters
    ----------
    mesh : trimesh.Trimesh
        [mm]
    up : (float, float, float)
        Unit vector of the layers' growth in the mesh's frame.

    Returns
    -------
    trimesh.Trimesh
        In the positive octant, from the origin on, the longer side along x; same triangles in the same order.
    """
    turn, shift = find_laying(mesh, up)
    return trimesh.Trimesh(
        np.asarray(mesh.vertices) @ turn + shift,
        np.asarray(mesh.faces),
        process=False,
        validate=False,
        metadata=dict(mesh.metadata),
    )


def settle_mesh(mesh: trimesh.Trimesh, part: str) -> trimesh.Trimesh:
    """Return a laid mesh with corners as STL and 3MF hold them: none twice, and no triangle that collapsed.

    Parameters
    ----------
    mesh : trimesh.Trimesh
        Closed, in the positive octant, [mm].
    part : str
        The blank's name.

    Returns
    -------
    trimesh.Trimesh
        Closed; every coordinate is one of single precision, and another one with six decimals.

    Raises
    ------
    GeometryError
        Where it would be open.
    """
    written = np.round(np.asarray(mesh.vertices), DECIMALS).astype(np.float32).astype(float)
    points, number = np.unique(written, axis=0, return_inverse=True)
    faces = _drop_folds(number.reshape(-1)[np.asarray(mesh.faces)])
    for _ in range(MOST_TURNS):
        thin = _find_thin(points, faces)
        if not len(thin):
            break
        turned = _turn_caps(points, faces, thin)
        if turned is None:
            break
        faces = _drop_folds(turned)
    used, number = np.unique(faces, return_inverse=True)
    made = trimesh.Trimesh(
        points[used],
        number.reshape(-1, 3),
        process=False,
        validate=False,
        metadata=dict(mesh.metadata),
    )
    if not (made.is_watertight and made.is_winding_consistent):
        raise GeometryError(
            f"the mesh of the {part} is not closed once its corners are rounded to what STL and 3MF hold: lay it "
            'otherwise with lies_on in [printing], or set bore_offset = "0 mm" there, and report this panel'
        )
    return made


def _drop_folds(faces: np.ndarray) -> np.ndarray:
    """Return triangles without those that have a corner twice, and without pairs that lie on one another."""
    faces = faces[(faces != np.roll(faces, 1, axis=1)).all(axis=1)]
    _, kind, count = np.unique(np.sort(faces, axis=1), axis=0, return_inverse=True, return_counts=True)
    return faces[count[kind.reshape(-1)] == 1]


def _find_thin(points: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Return the numbers of the triangles that are lower than `THIN_MM`."""
    a, b, c = (points[faces[:, corner]] for corner in range(3))
    twice = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    longest = np.max([np.linalg.norm(one - other, axis=1) for one, other in ((a, b), (b, c), (c, a))], axis=0)
    return np.flatnonzero(twice <= THIN_MM * longest)


def _turn_caps(points: np.ndarray, faces: np.ndarray, thin: np.ndarray) -> np.ndarray | None:
    """Return triangles with the longest sides of thin ones turned over into their neighbours; None without one.

    A triangle whose corner lies on its longest side has its neighbour there end at that corner instead.
    """
    beyond = {
        (int(tri[k]), int(tri[(k + 1) % 3])): (row, int(tri[(k + 2) % 3]))
        for row, tri in enumerate(faces)
        for k in range(3)
    }
    made = faces.copy()
    touched: set[int] = set()
    for row in thin.tolist():
        tri = faces[row]
        sides = [np.linalg.norm(points[tri[k]] - points[tri[(k + 1) % 3]]) for k in range(3)]
        k = int(np.argmax(sides))
        a, b, top = int(tri[k]), int(tri[(k + 1) % 3]), int(tri[(k + 2) % 3])
        other, far = beyond.get((b, a), (-1, -1))
        # An edge that is there already may not come twice.
        if other < 0 or {row, other} & touched or (top, far) in beyond or (far, top) in beyond:
            continue
        made[row], made[other] = (a, far, top), (far, b, top)
        touched |= {row, other}
    return made if touched else None


def find_laying(mesh: trimesh.Trimesh, up: Vec) -> tuple[np.ndarray, np.ndarray]:
    """Return how `lay_down` moves a mesh: a point p comes to p @ turn + shift.

    Parameters
    ----------
    mesh : trimesh.Trimesh
        [mm]
    up : (float, float, float)
        Unit vector of the layers' growth in the mesh's frame.

    Returns
    -------
    turn : (3, 3) float
    shift : (3,) float, [mm]
    """
    grow = np.asarray(up) / np.linalg.norm(up)
    axes = plan_axes(grow)
    plan = np.asarray(mesh.vertices) @ axes
    if np.ptp(plan[:, 1]) > np.ptp(plan[:, 0]):
        axes = np.column_stack((axes[:, 1], -axes[:, 0]))
    turn = np.column_stack((axes, grow))
    return turn, -(np.asarray(mesh.vertices) @ turn).min(axis=0)
