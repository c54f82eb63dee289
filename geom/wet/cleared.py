"""What one more exit would clear, for every place that it may stand at, from one pass over what stays.

What stays at a voxel would leave through an exit at another where a way between them climbs nowhere above the first.
So an exit clears, at every height above its own, what lies at that height in the piece that it belongs to of all that
stays no higher. These pieces form a tree, which grows from the lowest voxels up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geom.compiled import compile_cached
from geom.wet.links import Links
from geom.wet.voxels import WetVoxels


@dataclass(frozen=True, slots=True, eq=False)
class Cleared:
    """What an exit at each voxel would clear; voxels first, then the links.

    Parameters
    ----------
    levels : numpy.ndarray
        (n + m,) float32: their heights, [mm].
    parents : numpy.ndarray
        (n + m,) int32: of the first voxel of each piece the piece that it grows into, of every other voxel its
        piece; itself at the top of the tree; -1 where nothing stays.
    counts : numpy.ndarray
        (n + m,) int64: voxels that an exit there would clear; 0 where nothing stays.
    """

    levels: np.ndarray
    parents: np.ndarray
    counts: np.ndarray

    def above(self, place: int, level: float) -> int:
        """Return how many voxels an exit at a voxel would clear whose own way out climbs to a level, [mm]."""
        node = place
        while self.levels[node] < level:
            if self.parents[node] in (-1, node):
                return 0
            node = int(self.parents[node])
        return int(self.counts[node])


def find_cleared(
    voxels: WetVoxels, heights: np.ndarray, stays: np.ndarray, counted: np.ndarray, links: Links
) -> Cleared:
    """Return what one more exit would clear at each voxel where something stays.

    Parameters
    ----------
    voxels : WetVoxels
    heights : numpy.ndarray
        (n,) float32, [mm]: as `geom.wet.flooding.climb` wants them.
    stays : numpy.ndarray
        (n,) bool: all that no way leads down from.
    counted : numpy.ndarray
        (n,) bool: which of these are worth clearing.
    links : Links
    """
    levels = np.concatenate([heights, links.heights]).astype(np.float32)
    present = np.concatenate([stays, np.ones(len(links.heights), bool)])
    order = np.flatnonzero(present)
    order = order[np.argsort(levels[order], kind="stable")].astype(np.int32)
    weights = np.zeros(len(levels), np.int64)
    weights[: len(heights)] = stays & counted
    parents, counts = _grow(voxels.beside, levels, order, weights, links.link_of, links.starts, links.members)
    return Cleared(levels, parents, counts)


@compile_cached
def _grow(beside, levels, order, weights, link_of, starts, members):  # type: ignore[no-untyped-def]
    count = link_of.size
    parents = np.full(levels.size, -1, np.int32)
    roots = np.full(levels.size, -1, np.int32)
    for k in order:
        parents[k] = k
        roots[k] = k
        if k < count:
            first, last = 0, 7
        else:
            first, last = starts[k - count], starts[k - count + 1]
        for m in range(first, last):
            if k >= count:
                u = members[m]
            elif m < 6:
                u = beside[k, m]
            else:
                u = count + link_of[k] if link_of[k] >= 0 else -1
            if u < 0 or roots[u] < 0:
                continue
            while roots[u] != u:
                roots[u] = roots[roots[u]]
                u = roots[u]
            if u != k:
                roots[u] = k
                parents[u] = k
    # From the top down: all that belong to a piece at its own height point to one voxel of it.
    for i in range(order.size - 1, -1, -1):
        k = order[i]
        p = parents[k]
        if levels[parents[p]] == levels[p]:
            parents[k] = parents[p]
    counts = np.zeros(levels.size, np.int64)
    for k in order:
        p = parents[k]
        counts[p if levels[p] == levels[k] else k] += weights[k]
    for i in range(order.size - 1, -1, -1):
        k = order[i]
        p = parents[k]
        if p == k:
            continue
        if levels[p] == levels[k]:
            counts[k] = counts[p]
        else:
            counts[k] += counts[p]
    return parents, counts
