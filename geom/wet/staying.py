"""How much stays below its way out, as one number, for many attitudes of the same voxels.

The same answer as the flood of `geom.wet.flooding` and the pieces of `geom.wet.pieces` give, from far fewer places: all
voxels in a row along z (*run*) rise or fall along it in one sense, so that whoever gets into it anywhere gets to its
lowest voxel without climbing. One level says all of a run, and two runs side by side meet best at the lowest end
of what they have in common.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geom.compiled import compile_cached
from geom.heap import grow, pop, push
from geom.wet.flooding import NEVER
from geom.wet.links import Links
from geom.wet.voxels import WetVoxels


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """Voxels in rows along z, and where rows touch.

    Parameters
    ----------
    run_of : numpy.ndarray
        (n,) int32: the run of each voxel.
    first : numpy.ndarray
        (r + 1,) int32: the first voxel of each run; its voxels follow each other.
    marked : numpy.ndarray
        (r,) bool: whether the run lies in the mask that it was made with; none lies in it by half.
    starts : numpy.ndarray
        (r + 1,) int32: the touching runs of run k are `touches[starts[k]:starts[k + 1]]`.
    touches : numpy.ndarray
        (t, 5) int32: the other run; its own voxel and the other's at the lower end in z of where they touch; both at
        the upper end.
    """

    run_of: np.ndarray
    first: np.ndarray
    marked: np.ndarray
    starts: np.ndarray
    touches: np.ndarray


def find_runs(voxels: WetVoxels, mask: np.ndarray) -> Runs:
    """Return the voxels in rows along z.

    Parameters
    ----------
    voxels : WetVoxels
    mask : numpy.ndarray
        (n,) bool: a run ends where it begins or ends.
    """
    return Runs(*_find_runs(voxels.beside, mask))


def count_staying(
    runs: Runs,
    heights: np.ndarray,
    seeds: np.ndarray,
    links: Links,
    leave_marked: bool,
    least_depth: float,
    least_count: float,
) -> int:
    """Return how many voxels lie below the level of their way to the seeds, in pieces that are deep and large enough.

    Parameters
    ----------
    runs : Runs
    heights, seeds, links
        As `geom.wet.flooding.climb`.
    leave_marked : bool
        Whether marked runs are not counted, and join no piece.
    least_depth : float
        A piece no deeper is left out, [mm].
    least_count : float
        A piece with fewer voxels is left out; neither holds for one that no way leads to.
    """
    return int(
        _count(
            runs.run_of,
            runs.first,
            runs.marked & leave_marked,
            runs.starts,
            runs.touches,
            heights,
            np.asarray(seeds, np.int32),
            links.link_of,
            links.starts,
            links.members,
            links.heights,
            np.float32(least_depth),
            float(least_count),
            NEVER,
        )
    )


@compile_cached
def _find_runs(beside, mask):  # type: ignore[no-untyped-def]
    count = mask.size
    run_of = np.empty(count, np.int32)
    first = np.empty(count + 1, np.int32)
    runs = 0
    for v in range(count):
        if v == 0 or beside[v - 1, 5] != v or mask[v - 1] != mask[v]:
            first[runs] = v
            runs += 1
        run_of[v] = runs - 1
    first[runs] = count
    first = first[: runs + 1].copy()
    marked = np.empty(runs, np.bool_)
    starts = np.empty(runs + 1, np.int32)
    touches = np.empty((6 * count, 5), np.int32)
    told = 0
    for r in range(runs):
        marked[r] = mask[first[r]]
        starts[r] = told
        for side in range(4):
            other = -1
            for v in range(first[r], first[r + 1]):
                u = beside[v, side]
                if u >= 0 and run_of[u] == other:
                    touches[told - 1, 3] = v
                    touches[told - 1, 4] = u
                elif u >= 0:
                    other = run_of[u]
                    touches[told, 0] = other
                    touches[told, 1] = v
                    touches[told, 2] = u
                    touches[told, 3] = v
                    touches[told, 4] = u
                    told += 1
                else:
                    other = -1
        for side in range(4, 6):
            v = first[r] if side == 4 else first[r + 1] - 1
            u = beside[v, side]
            if u >= 0:
                touches[told, 0] = run_of[u]
                touches[told, 1] = v
                touches[told, 2] = u
                touches[told, 3] = v
                touches[told, 4] = u
                told += 1
    starts[runs] = told
    return run_of, first, marked, starts, touches[:told].copy()


@compile_cached
def _count(  # type: ignore[no-untyped-def]
    run_of,
    first,
    left_out,
    starts,
    touches,
    heights,
    seeds,
    link_of,
    link_starts,
    members,
    link_heights,
    least_depth,
    least_count,
    never,
):
    runs = left_out.size
    links = link_heights.size
    levels = np.full(runs + links, never, np.float32)
    linked = np.zeros(runs, np.bool_)
    for v in members:
        linked[run_of[v]] = True
    keys = np.empty(runs + links + seeds.size + 1, np.float32)
    values = np.empty(runs + links + seeds.size + 1, np.int32)
    # What is reached without climbing further needs no order: it waits here.
    level_with = np.empty(2 * (runs + links) + 1, np.int32)
    done = np.zeros(runs + links, np.bool_)
    size = 0
    waiting = 0
    for v in seeds:
        if heights[v] < levels[run_of[v]]:
            levels[run_of[v]] = heights[v]
            size = push(keys, values, size, heights[v], run_of[v])
    level = np.float32(0.0)
    while size > 0 or waiting > 0:
        if waiting > 0:
            waiting -= 1
            r = level_with[waiting]
        else:
            level = keys[0]
            r = values[0]
            size = pop(keys, values, size)
        if done[r]:
            continue
        done[r] = True
        if r >= runs:
            for m in range(link_starts[r - runs], link_starts[r - runs + 1]):
                t = run_of[members[m]]
                to = max(level, heights[members[m]])
                if to < levels[t]:
                    levels[t] = to
                    if to == level:
                        level_with[waiting] = t
                        waiting += 1
                    else:
                        if size == keys.size:
                            keys = grow(keys)
                            values = grow(values)
                        size = push(keys, values, size, to, t)
            continue
        upper = heights[first[r]] > heights[first[r + 1] - 1]
        for n in range(starts[r], starts[r + 1]):
            t = touches[n, 0]
            if done[t]:
                continue
            own, other = (touches[n, 3], touches[n, 4]) if upper else (touches[n, 1], touches[n, 2])
            to = max(level, heights[own], heights[other])
            if to < levels[t]:
                levels[t] = to
                if to == level:
                    level_with[waiting] = t
                    waiting += 1
                else:
                    if size == keys.size:
                        keys = grow(keys)
                        values = grow(values)
                    size = push(keys, values, size, to, t)
        if linked[r]:
            for v in range(first[r], first[r + 1]):
                k = link_of[v]
                if k < 0:
                    continue
                to = max(level, heights[v], link_heights[k])
                if to < levels[runs + k]:
                    levels[runs + k] = to
                    if size == keys.size:
                        keys = grow(keys)
                        values = grow(values)
                    size = push(keys, values, size, to, runs + k)
    total = 0
    told = np.zeros(runs, np.bool_)
    for start in range(runs):
        if told[start] or left_out[start]:
            continue
        if min(heights[first[start]], heights[first[start + 1] - 1]) >= levels[start]:
            continue
        told[start] = True
        level_with[0] = start
        waiting = 1
        held = 0
        deep = np.float32(0.0)
        while waiting > 0:
            waiting -= 1
            r = level_with[waiting]
            for v in range(first[r], first[r + 1]):
                if heights[v] < levels[r]:
                    held += 1
                    deep = max(deep, levels[r] - heights[v])
            upper = heights[first[r]] > heights[first[r + 1] - 1]
            for n in range(starts[r], starts[r + 1]):
                t = touches[n, 0]
                if told[t] or left_out[t]:
                    continue
                own, other = (touches[n, 3], touches[n, 4]) if upper else (touches[n, 1], touches[n, 2])
                if heights[own] < levels[r] and heights[other] < levels[t]:
                    told[t] = True
                    level_with[waiting] = t
                    waiting += 1
        if levels[start] == never or (deep > least_depth and held >= least_count):
            total += held
    return total
