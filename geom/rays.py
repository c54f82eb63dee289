"""Thin places of a mesh, found by rays: a second opinion that knows no names."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import trimesh
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import KDTree

from geom.frame import Vec, to_vec

FACING = 0.7
"""Least cosine between a ray and the face it hits from inside, for a wall and not the tip of a wedge."""


@dataclass(frozen=True, slots=True)
class ThinSpot:
    """A place that rays found thin.

    Parameters
    ----------
    thickness : float
        Along the thinnest ray of the cluster, [mm].
    points : ((float, float, float), (float, float, float))
        Its ends, [mm].
    rays : int
        Rays of the cluster.
    between : (str, str)
        Names of what the ends lie on; empty until `geom.walls.explain_spots` finds them.
    """

    thickness: float
    points: tuple[Vec, Vec]
    rays: int
    between: tuple[str, str] = ("", "")


def ray_walls(
    mesh: trimesh.Trimesh, limit: float, seed: int = 0, samples: int = 20_000
) -> tuple[ThinSpot, ...]:
    """Return the places of a part that rays find thinner than a limit, thinnest first.

    From points spread over the surface a ray goes straight into the material to where it leaves it. Hits on
    the same face, on a face beside it, or on one that it meets at a slant (the tip of a wedge) are dropped.

    Parameters
    ----------
    mesh : trimesh.Trimesh
        From `mesh_solid`, with ``metadata["face_id"]``.
    limit : float
        [mm].
    seed : int
        Of the sample points; the same seed gives the same spots.
    samples : int
        Number of rays.

    Returns
    -------
    tuple of ThinSpot
        One for each cluster of rays. A ray's length is never under the wall's true thickness by more than
        the mesh is off, and over it by as much as it stands aslant.
    """
    face_ids = np.asarray(mesh.metadata["face_id"])
    points, triangles = _sample_surface(mesh, samples, seed)
    inward = -mesh.face_normals[triangles]
    hits, rays, hit_triangles = mesh.ray.intersects_location(
        points + inward * 1e-4, inward, multiple_hits=False
    )
    lengths = np.linalg.norm(hits - points[rays], axis=1)
    here, there = face_ids[triangles[rays]], face_ids[hit_triangles]
    facing = np.einsum("ij,ij->i", mesh.face_normals[hit_triangles], inward[rays])
    thin = (lengths < limit) & (here != there) & (facing > FACING)
    thin &= ~_are_neighbours(mesh, face_ids, here, there)
    if not thin.any():
        return ()
    starts, ends, lengths = points[rays][thin], hits[thin], lengths[thin]
    groups = _cluster((starts + ends) / 2, 2 * limit)
    spots = []
    for group in range(int(groups.max()) + 1):
        members = np.flatnonzero(groups == group)
        best = members[np.argmin(lengths[members])]
        spots.append(ThinSpot(float(lengths[best]), (to_vec(starts[best]), to_vec(ends[best])), len(members)))
    return tuple(sorted(spots, key=lambda spot: (spot.thickness, spot.points)))


def _sample_surface(mesh: trimesh.Trimesh, samples: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Return (n, 3) points spread evenly over the surface, [mm], and the (n,) triangles they lie on."""
    source = np.random.default_rng(seed)
    steps = np.cumsum(mesh.area_faces)
    triangles = np.searchsorted(steps, source.random(samples) * steps[-1])
    u, v = source.random((2, samples))
    outside = u + v > 1
    u, v = np.where(outside, 1 - u, u), np.where(outside, 1 - v, v)
    a, b, c = (mesh.triangles[triangles, k] for k in range(3))
    return a + u[:, None] * (b - a) + v[:, None] * (c - a), triangles


def _are_neighbours(
    mesh: trimesh.Trimesh, face_ids: np.ndarray, here: np.ndarray, there: np.ndarray
) -> np.ndarray:
    """Return, for (n,) pairs of face numbers, whether both faces share an edge of the mesh, (n,) bool."""
    count = int(face_ids.max()) + 1
    sides = face_ids[mesh.face_adjacency]
    keys = np.unique(np.concatenate((sides[:, 0] * count + sides[:, 1], sides[:, 1] * count + sides[:, 0])))
    return np.isin(here * count + there, keys)


def _cluster(points: np.ndarray, reach: float) -> np.ndarray:
    """Return the (n,) group of each of (n, 3) points; points closer than `reach` [mm] share a group."""
    pairs = KDTree(points).query_pairs(reach, output_type="ndarray")
    links = coo_array(
        (np.ones(len(pairs), dtype=np.int8), (pairs[:, 0], pairs[:, 1])), shape=(len(points), len(points))
    )
    return connected_components(links, directed=False)[1]
