"""How far up one must climb, at the least, from given voxels to each other one; and which fill first.

`climb` floods from the least height up: where coolant stays that cannot run to its exits lies below what it would
have to climb. Air is the mirror image: heights with the sign changed.
"""

from __future__ import annotations

import numpy as np

from geom.compiled import compile_cached
from geom.heap import pop, push
from geom.wet.links import Links
from geom.wet.voxels import WetVoxels

NEVER = np.float32(1e9)
"""Height told of what no exit is reached from, [mm]."""


def climb(voxels: WetVoxels, heights: np.ndarray, seeds: np.ndarray, links: Links) -> np.ndarray:
    """Return the greatest height on the way from the seeds to each voxel that keeps it least.

    Parameters
    ----------
    voxels : WetVoxels
    heights : numpy.ndarray
        (n,) float32, [mm].
    seeds : numpy.ndarray
        Voxels where the ways start.
    links : Links

    Returns
    -------
    numpy.ndarray
        (n,) float32, [mm]; `NEVER` where no way leads.
    """
    seeds = np.unique(np.asarray(seeds, np.int32))
    return _climb(
        voxels.beside, heights, seeds, links.link_of, links.starts, links.members, links.heights, NEVER
    )


def pour_order(voxels: WetVoxels, heights: np.ndarray, seeds: np.ndarray, links: Links) -> np.ndarray:
    """Return the order in which voxels fill when coolant comes in slowly at the seeds: always the lowest it touches.

    Parameters
    ----------
    voxels, heights, seeds, links
        As `climb`.

    Returns
    -------
    numpy.ndarray
        int32: voxel numbers; link k is n + k, where it is first passed. Voxels that no way leads to are left out.
    """
    seeds = np.unique(np.asarray(seeds, np.int32))
    return _pour(voxels.beside, heights, seeds, links.link_of, links.starts, links.members, links.heights)


@compile_cached
def _climb(beside, heights, seeds, link_of, starts, members, link_heights, never):  # type: ignore[no-untyped-def]
    count = heights.size
    links = link_heights.size
    reached = np.full(count, never, np.float32)
    passed = np.zeros(links, np.bool_)
    keys = np.empty(count + links + 1, np.float32)
    values = np.empty(count + links + 1, np.int32)
    size = 0
    for v in seeds:
        reached[v] = heights[v]
        size = push(keys, values, size, heights[v], v)
    while size > 0:
        level = keys[0]
        v = values[0]
        size = pop(keys, values, size)
        if v >= count:
            for m in range(starts[v - count], starts[v - count + 1]):
                u = members[m]
                if reached[u] == never:
                    reached[u] = max(level, heights[u])
                    size = push(keys, values, size, reached[u], u)
            continue
        for side in range(6):
            u = beside[v, side]
            if u >= 0 and reached[u] == never:
                reached[u] = max(level, heights[u])
                size = push(keys, values, size, reached[u], u)
        k = link_of[v]
        if k >= 0 and not passed[k]:
            # A link waits in the heap like a voxel, so that a lower way round it comes first.
            passed[k] = True
            size = push(keys, values, size, max(level, link_heights[k]), count + k)
    return reached


@compile_cached
def _pour(beside, heights, seeds, link_of, starts, members, link_heights):  # type: ignore[no-untyped-def]
    count = heights.size
    links = link_heights.size
    seen = np.zeros(count + links, np.bool_)
    order = np.empty(count + links, np.int32)
    keys = np.empty(count + links + 1, np.float32)
    values = np.empty(count + links + 1, np.int32)
    size = 0
    done = 0
    for v in seeds:
        seen[v] = True
        size = push(keys, values, size, heights[v], v)
    while size > 0:
        v = values[0]
        size = pop(keys, values, size)
        order[done] = v
        done += 1
        if v >= count:
            for m in range(starts[v - count], starts[v - count + 1]):
                u = members[m]
                if not seen[u]:
                    seen[u] = True
                    size = push(keys, values, size, heights[u], u)
            continue
        for side in range(6):
            u = beside[v, side]
            if u >= 0 and not seen[u]:
                seen[u] = True
                size = push(keys, values, size, heights[u], u)
        k = link_of[v]
        if k >= 0 and not seen[count + k]:
            seen[count + k] = True
            size = push(keys, values, size, link_heights[k], count + k)
    return order[:done]
