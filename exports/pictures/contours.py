"""Areas above a level of values that are known at the corners of triangles.

A *node* is a corner, by its number, or the place on a side where the values pass the level: the number of corners
and that of the side.
"""

from __future__ import annotations

import numpy as np
import shapely


def trace_above(
    points: np.ndarray, triangles: np.ndarray, values: np.ndarray, level: float, coarse: float
) -> list[np.ndarray]:
    """Return the outlines of where linear values over triangles reach a level.

    Parameters
    ----------
    points : (n, 2) float
        Corners, [mm].
    triangles : (m, 3) int
        Numbers of their corners, counter-clockwise.
    values : (n,) float
        At the corners, in the unit of `level`.
    level : float
    coarse : float
        Farthest that an outline may be drawn beside its course, [mm].

    Returns
    -------
    list of (k, 2) float
        Rings, [mm]: counter-clockwise round what is above, clockwise round holes in it; the last point joins the
        first.
    """
    corners = len(points)
    pairs = np.sort(np.concatenate([triangles[:, [k, (k + 1) % 3]] for k in range(3)]), axis=1)
    sides, side_of = np.unique(pairs, axis=0, return_inverse=True)
    side_of = side_of.reshape(3, -1)
    low, high = values[sides[:, 0]], values[sides[:, 1]]
    apart = np.where(high == low, 1.0, high - low)
    share = np.clip((level - low) / apart, 0.0, 1.0)[:, None]
    places = np.concatenate([points, points[sides[:, 0]] * (1 - share) + points[sides[:, 1]] * share])
    rings = []
    for ring in _chain(_bound_pieces(triangles, values >= level, side_of + corners)):
        kept = np.asarray(shapely.LinearRing(places[ring]).simplify(coarse).coords)[:-1]
        if len(kept) >= 3:
            rings.append(kept)
    return rings


def _bound_pieces(triangles: np.ndarray, inside: np.ndarray, cuts: np.ndarray) -> np.ndarray:
    """Return the edges from node to node that bound the union of all triangles' parts above, (k, 2).

    Each part is run round counter-clockwise; an edge between two parts is run both ways and falls out.
    """
    above = inside[triangles]
    edges = []
    for k in range(3):
        a, b, c = k, (k + 1) % 3, (k + 2) % 3
        # Sides by their first corner: `cuts[k]` lies on the side from corner k to the next.
        whole = above.all(axis=1)
        edges.append(np.column_stack((triangles[whole, a], triangles[whole, b])))
        one = above[:, a] & ~above[:, b] & ~above[:, c]
        edges.append(np.column_stack((triangles[one, a], cuts[a][one])))
        edges.append(np.column_stack((cuts[a][one], cuts[c][one])))
        edges.append(np.column_stack((cuts[c][one], triangles[one, a])))
        two = above[:, a] & above[:, b] & ~above[:, c]
        edges.append(np.column_stack((triangles[two, a], triangles[two, b])))
        edges.append(np.column_stack((triangles[two, b], cuts[b][two])))
        edges.append(np.column_stack((cuts[b][two], cuts[c][two])))
        edges.append(np.column_stack((cuts[c][two], triangles[two, a])))
    run = np.concatenate(edges)
    way = np.where(run[:, 0] < run[:, 1], 1, -1)
    pairs, which = np.unique(np.sort(run, axis=1), axis=0, return_inverse=True)
    left = np.bincount(which.ravel(), way, len(pairs)).astype(int)
    kept = pairs[left != 0]
    return np.where((left[left != 0] > 0)[:, None], kept, kept[:, ::-1])


def _chain(edges: np.ndarray) -> list[list[int]]:
    """Return edges as closed rings of nodes; each node is left as often as it is reached."""
    onward: dict[int, list[int]] = {}
    for start, end in edges.tolist():
        onward.setdefault(start, []).append(end)
    rings = []
    for start in list(onward):
        while onward[start]:
            ring = [start]
            here = onward[start].pop()
            while here != start:
                ring.append(here)
                here = onward[here].pop()
            if len(ring) >= 3:
                rings.append(ring)
    return rings
