"""What of a part's skin no direction of printing changes: neighbours, inner skin, corners; measured once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import trimesh

STEP_OFF_MM = 0.1
"""From the skin into the open: more than a mesh is off its solid, less than any clearance."""

REACH_MM = 30.0
"""How deep a straight tool takes support out of a hole; common practice, no source."""

SEEN_MM2 = 9.0
"""Pieces of skin that are seen from outside or not as a whole, [mm2]: channels are wider than such a piece."""

_AXES = np.vstack((np.eye(3), -np.eye(3)))
_SLANT = np.array((0.5773, 0.2113, 0.7887))
"""A direction along no face of a panel, so that a ray along it meets no edge."""


@dataclass(frozen=True, slots=True)
class PartSkin:
    """A part's skin of n triangles on m vertices.

    Parameters
    ----------
    vertices : (m, 3) float, [mm]
    triangles : (n, 3) int
    normals : (n, 3) float
    areas : (n,) float, [mm2]
    pairs : (k, 2) int
        Triangles that share an edge.
    pair_edges : (k, 2) int
        The vertices of that edge.
    hollow : (k,) bool
        Whether the skin is hollow there: seen from the open, less than a straight angle.
    edges : (e, 2) int
        Every edge once.
    corners : (m, 3) float
        Outward direction at each vertex: the normals round it, weighed by their angles.
    closed : (n,) float
        Share that is wet and out of reach for whoever would take support away.
    hull : (h, 3) float, [mm]
        Vertices of the convex hull.
    mass_centre : (3,) float, [mm]
    """

    vertices: np.ndarray
    triangles: np.ndarray
    normals: np.ndarray
    areas: np.ndarray
    pairs: np.ndarray
    pair_edges: np.ndarray
    hollow: np.ndarray
    edges: np.ndarray
    corners: np.ndarray
    closed: np.ndarray
    hull: np.ndarray
    mass_centre: np.ndarray


def survey_skin(mesh: trimesh.Trimesh, wet_mesh: trimesh.Trimesh | None) -> PartSkin:
    """Return what of a part's skin no direction of printing changes.

    Parameters
    ----------
    mesh : trimesh.Trimesh
        Closed, outward, vertices merged, [mm].
    wet_mesh : trimesh.Trimesh or None
        The coolant's skin; None where the part holds none.

    Returns
    -------
    PartSkin

    Source
    ------
    Outward directions at vertices: J. A. Baerentzen, H. Aanaes, "Signed distance computation using the angle
    weighted pseudonormal", IEEE Transactions on Visualization and Computer Graphics 11 (2005) 243-253: the only
    weights with which their sign always tells inside from outside.
    """
    vertices = np.asarray(mesh.vertices)
    triangles = np.asarray(mesh.faces)
    normals = np.asarray(mesh.face_normals)
    return PartSkin(
        vertices,
        triangles,
        normals,
        np.asarray(mesh.area_faces),
        np.asarray(mesh.face_adjacency),
        np.asarray(mesh.face_adjacency_edges),
        ~np.asarray(mesh.face_adjacency_convex),
        np.asarray(mesh.edges_unique),
        _corner_directions(mesh, normals),
        _closed_skin(mesh, wet_mesh),
        vertices[mesh.convex_hull.metadata["from"]]
        if "from" in mesh.convex_hull.metadata
        else np.asarray(mesh.convex_hull.vertices),
        np.asarray(mesh.center_mass),
    )


def _corner_directions(mesh: trimesh.Trimesh, normals: np.ndarray) -> np.ndarray:
    angles = np.asarray(mesh.face_angles)
    corners = np.zeros((len(mesh.vertices), 3))
    for k in range(3):
        np.add.at(corners, np.asarray(mesh.faces)[:, k], normals * angles[:, k, None])
    return corners


def _closed_skin(mesh: trimesh.Trimesh, wet_mesh: trimesh.Trimesh | None) -> np.ndarray:
    """Return the share of each triangle that bounds the coolant where no straight tool along an axis reaches, (n,)."""
    closed = np.zeros(len(mesh.faces))
    if wet_mesh is None:
        return closed
    places = np.asarray(mesh.triangles_center) + STEP_OFF_MM * np.asarray(mesh.face_normals)
    # Whoever looks out of a closed skin meets its inner side first.
    met = wet_mesh.ray.intersects_first(places, np.broadcast_to(_SLANT, places.shape))
    wet = (met >= 0) & (np.asarray(wet_mesh.face_normals)[met] @ _SLANT > 0)
    corners, at = _split_large(np.asarray(mesh.triangles)[wet], np.flatnonzero(wet))
    places = corners.mean(axis=1) + STEP_OFF_MM * np.asarray(mesh.face_normals)[at]
    low, high = np.asarray(mesh.bounds)
    shut = np.ones(len(at), dtype=bool)
    for axis in _AXES:
        k = int(np.argmax(np.abs(axis)))
        way = (high[k] - places[:, k]) if axis[k] > 0 else (places[:, k] - low[k])
        near = np.flatnonzero(shut & (way <= REACH_MM))
        if len(near):
            free = mesh.ray.intersects_first(places[near], np.broadcast_to(axis, (len(near), 3))) < 0
            shut[near[free]] = False
    sizes = trimesh.triangles.area(corners)
    np.add.at(closed, at[shut], sizes[shut])
    return closed / np.maximum(np.asarray(mesh.area_faces), 1e-30)


def _split_large(corners: np.ndarray, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return triangles halved across their longest sides until they are small, and of which one each is a piece."""
    done, whose = [], []
    while len(corners):
        large = trimesh.triangles.area(corners) > SEEN_MM2
        done.append(corners[~large])
        whose.append(at[~large])
        corners, at = corners[large], at[large]
        rows = np.arange(len(corners))
        longest = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2).argmax(axis=1)
        a, b, c = (corners[rows, (longest + k) % 3] for k in range(3))
        middle = (a + b) / 2
        corners = np.concatenate((np.stack((a, middle, c), axis=1), np.stack((middle, b, c), axis=1)))
        at = np.concatenate((at, at))
    if not done:
        return corners, at
    return np.concatenate(done), np.concatenate(whose)
