"""A part's mesh turned as it lies in the printer."""

from __future__ import annotations

import numpy as np
import trimesh

from geom.printing.overhangs import plan_axes

Vec = tuple[float, float, float]


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
