"""Feather edges of a part: convex edges along which the material is too sharp to be cut, found on its mesh.

A mesh's edges between two faces of the solid lie on the solid's own edges. The triangles on either side tell about how
sharp the material is there; the surfaces themselves, asked only where it may be too sharp, tell exactly.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from geom.measured import Feather
from geom.owners import ON_FEATURE_MM, find_owners

if TYPE_CHECKING:
    import cadquery as cq
    import trimesh

    from geom.rebuild import Models

LEAST_RUN_MM = 0.2
"""Feather edges that are shorter altogether are where three faces meet, [mm]; common practice, no source."""

MESH_DEG = 15.0
"""Angles between triangles are at most so far from those between their surfaces, [deg]: one step of curved faces is 0.2
rad, of which either side may have a half."""

FLAT_MM = 1e-4
"""A triangle lower than this has no direction of its own, [mm]."""


def find_feathers(shape: cq.Shape, mesh: trimesh.Trimesh, limit: float) -> tuple[Feather, ...]:
    """Return the feather edges of a part, the sharpest first.

    Parameters
    ----------
    shape : cadquery.Shape
    mesh : trimesh.Trimesh
        Its mesh, from `geom.tessellate.mesh_solid`: with the number of each triangle's face.
    limit : float
        Material with a smaller angle counts, [deg].

    Returns
    -------
    tuple of Feather
        One for each run of edges that hang together.
    """
    corners = np.asarray(mesh.vertices, dtype=np.float64)
    face_ids = np.asarray(mesh.metadata["face_id"])
    edges, sides, angles = measure_edges(corners, np.asarray(mesh.faces), face_ids)
    maybe = angles < limit + MESH_DEG
    if not maybe.any():
        return ()
    edges, faces = edges[maybe], face_ids[sides[maybe]]
    angles, places = _measure_surfaces(shape, corners, edges, faces)
    sharp = angles < limit
    edges, angles, places = edges[sharp], angles[sharp], places[sharp]
    if not len(edges):
        return ()
    lengths = np.linalg.norm(corners[edges[:, 0]] - corners[edges[:, 1]], axis=1)
    nodes, ends = np.unique(edges, return_inverse=True)
    ends = ends.reshape(-1, 2)
    links = coo_array((np.ones(len(ends), dtype=np.int8), ends.T), shape=(len(nodes), len(nodes)))
    _, runs = connected_components(links, directed=False)
    of_edge = runs[ends[:, 0]]
    found = []
    for run in np.unique(of_edge):
        own = np.flatnonzero(of_edge == run)
        length = float(lengths[own].sum())
        if length < LEAST_RUN_MM:
            continue
        worst = own[angles[own].argmin()]
        x, y, z = places[worst].tolist()
        found.append(Feather(float(angles[worst]), length, (x, y, z)))
    return tuple(sorted(found, key=lambda feather: (feather.angle, feather.at)))


def measure_edges(
    corners: np.ndarray, triangles: np.ndarray, face_ids: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the edges between different faces of a solid, the triangles beside, the angle of the material along each.

    Parameters
    ----------
    corners : (n, 3) float
        [mm]
    triangles : (m, 3) int
        Turned outward; an edge that has not its two triangles is passed over, the mesh's own check tells of it.
    face_ids : (m,) int
        The face of each triangle.

    Returns
    -------
    ((k, 2) int, (k, 2) int, (k,) float)
        Corners of each edge; its triangles; [deg], over 180 in an inner corner.
    """
    count = len(triangles)
    ends = np.sort(np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1)
    keys = ends[:, 0].astype(np.int64) * len(corners) + ends[:, 1]
    order = np.argsort(keys, kind="stable")
    starts = np.flatnonzero(np.diff(keys[order], prepend=-1))
    paired = starts[np.diff(starts, append=len(order)) == 2]
    first, second = order[paired] % count, order[paired + 1] % count
    between = face_ids[first] != face_ids[second]
    edges, first, second = ends[order[paired]][between], first[between], second[between]
    normals, heights = _measure_triangles(corners, triangles, np.concatenate([first, second]))
    k = len(edges)
    turn = np.arctan2(
        np.linalg.norm(np.cross(normals[:k], normals[k:]), axis=1), (normals[:k] * normals[k:]).sum(axis=1)
    )
    apex = triangles[second].sum(axis=1) - edges.sum(axis=1)
    over = ((corners[apex] - corners[edges[:, 0]]) * normals[:k]).sum(axis=1)
    angles = 180.0 - np.degrees(np.where(over < 0, turn, -turn))
    whole = (heights[:k] > FLAT_MM) & (heights[k:] > FLAT_MM)
    return edges[whole], np.stack([first, second], axis=1)[whole], angles[whole]


def name_feathers(models: Models, feathers: Sequence[Feather]) -> tuple[Feather, ...]:
    """Return feather edges with the names of the features whose walls meet there.

    Parameters
    ----------
    models : mapping of str to tuple of manifold3d.Manifold
        From `rebuild_features`.
    feathers : sequence of Feather

    Returns
    -------
    tuple of Feather
    """
    return tuple(
        replace(feather, between=find_owners(models, feather.at, ON_FEATURE_MM)) for feather in feathers
    )


def _measure_surfaces(
    shape: cq.Shape, corners: np.ndarray, edges: np.ndarray, faces: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return the angle of the material along each edge by the surfaces beside it, (k,), [deg], and where, (k, 3), [mm].

    Of the two ends of each the sharper one.
    """
    import cadquery as cq

    surfaces = shape.Faces()
    angles, places = np.empty(len(edges)), np.empty((len(edges), 3))
    for k, (ends, (a, b)) in enumerate(zip(edges.tolist(), faces.tolist(), strict=True)):
        found = []
        for end in ends:
            place = cq.Vector(*corners[end].tolist())
            turn = surfaces[a].normalAt(place).getAngle(surfaces[b].normalAt(place))
            found.append((180.0 - math.degrees(turn), end))
        angles[k], end = min(found)
        places[k] = corners[end]
    return angles, places


def _measure_triangles(
    corners: np.ndarray, triangles: np.ndarray, which: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return unit normals, (k, 3), and heights over the longest side, (k,), [mm], of some triangles."""
    a, b, c = (corners[triangles[which, n]] for n in range(3))
    normals = np.cross(b - a, c - a)
    twice = np.linalg.norm(normals, axis=1)
    longest = np.sqrt(np.maximum.reduce([((p - q) ** 2).sum(axis=1) for p, q in ((a, b), (b, c), (c, a))]))
    safe = np.where(twice > 0, twice, 1.0)
    return normals / safe[:, None], twice / np.where(longest > 0, longest, 1.0)
