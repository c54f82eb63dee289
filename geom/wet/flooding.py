"""How far up one must climb, at the least, from given voxels to each other one; and which fill first.

`climb` floods from the least height up: where coolant stays that cannot run to its exits lies below what it would
have to climb. Air is the mirror image: heights with the sign changed. `climb_ways` tells besides where each voxel's way
is highest and where it ends.

Whoever looks at many attitudes calls these once for each: a call costs far less than its flood.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from geom.compiled import compile_cached
from geom.heap import pop, push
from geom.wet.links import Links
from geom.wet.voxels import WetVoxels

NEVER = np.float32(1e9)
"""Height told of what no exit is reached from, [mm]."""

SLICES = 65536
"""Slices that the range of heights is cut into. What stands in the same one counts as equally high: 6 um of 400 mm."""


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
    return climb_ways(voxels, heights, seeds, links)[0]


def climb_ways(
    voxels: WetVoxels, heights: np.ndarray, seeds: np.ndarray, links: Links
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return what `climb` returns, and for each voxel the place that sets it and the seed that its way leads to.

    Parameters
    ----------
    voxels, heights, seeds, links
        As `climb`.

    Returns
    -------
    levels : numpy.ndarray
        (n,) float32, [mm]: as `climb`.
    saddles : numpy.ndarray
        (n,) int32: the voxel of the way that stands highest, the voxel itself where it need not climb; link k is
        n + k; -1 where no way leads. Those of one piece below its level stand equally high.
    exits : numpy.ndarray
        (n,) int32: the voxel among the seeds where the way ends; -1 where no way leads. Of ways as good as each other
        it is the one whose end fills first from below, then the nearest.
    """
    seeds = np.unique(np.asarray(seeds, np.int32))
    return _climb_ways(
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


@njit(cache=True)
def _reach(u, v, level, slices, saddles, exits, heads, chain, reached, last):  # type: ignore[no-untyped-def]
    """Go on from `v` to `u`, which now either is reached or waits; return how many are reached."""
    exits[u] = exits[v]
    place = slices[u]
    saddles[u] = saddles[v] if place < level else u
    if place <= level:
        reached[last] = u
        return last + 1
    chain[u] = heads[place]
    heads[place] = u
    return last


@compile_cached
def _climb_ways(beside, heights, seeds, link_of, starts, members, link_heights, never):  # type: ignore[no-untyped-def]
    count = heights.size
    # Links are places like voxels, with numbers from `count` up, so that a lower way round one comes first.
    total = count + link_heights.size
    levels = np.full(count, never, np.float32)
    saddles = np.full(total, -1, np.int32)
    exits = np.full(total, -1, np.int32)
    if count == 0:
        return levels, saddles[:0], exits[:0]
    low, high = heights.min(), heights.max()
    per_mm = np.float32(SLICES - 1) / max(high - low, np.float32(1e-6))
    slices = np.empty(total, np.int32)
    for v in range(count):
        slices[v] = int((heights[v] - low) * per_mm)
    for k in range(link_heights.size):
        if link_heights[k] <= high:
            # One under all voxels is no climb.
            slices[count + k] = int(max(link_heights[k] - low, np.float32(0.0)) * per_mm)
        else:
            # Those that pass over all voxels: a slice for each height.
            slices[count + k] = SLICES
            for other in link_heights:
                slices[count + k] += high < other < link_heights[k]
    # What waits in a slice is a chain.
    heads = np.full(SLICES + link_heights.size, -1, np.int32)
    chain = np.empty(total, np.int32)
    for v in seeds:
        saddles[v] = v
        exits[v] = v
        chain[v] = heads[slices[v]]
        heads[slices[v]] = v
    # All that the level reaches, nearest first: of ways as good as each other a voxel takes the nearest.
    reached = np.empty(total, np.int32)
    first, last = 0, 0
    for level in range(heads.size):
        v = heads[level]
        while v >= 0:
            reached[last] = v
            last += 1
            v = chain[v]
        while first < last:
            v = reached[first]
            first += 1
            if v < count:
                for side in range(6):
                    u = beside[v, side]
                    if u >= 0 and saddles[u] < 0:
                        last = _reach(u, v, level, slices, saddles, exits, heads, chain, reached, last)
                k = link_of[v]
                if k >= 0 and saddles[count + k] < 0:
                    last = _reach(count + k, v, level, slices, saddles, exits, heads, chain, reached, last)
            else:
                for m in range(starts[v - count], starts[v - count + 1]):
                    if saddles[members[m]] < 0:
                        last = _reach(
                            members[m], v, level, slices, saddles, exits, heads, chain, reached, last
                        )
    for v in range(count):
        s = saddles[v]
        if s >= 0:
            levels[v] = heights[s] if s < count else link_heights[s - count]
    return levels, saddles[:count], exits[:count]


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
