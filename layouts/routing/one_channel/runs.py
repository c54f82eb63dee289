"""One run of a channel on the grid, and whether it keeps off itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit

from geom.compiled import compile_cached
from layouts.routing.instance import CHANNEL, Instance

TEE = -1
"""In place of an end's index: the run stops at a T on an earlier run."""

HOLE = -2
"""In place of an end's index: the run begins or stops at a through hole, the next goes on in the other layer."""


@dataclass(frozen=True, slots=True)
class GridRun:
    """A run in one layer, from one end of its channel or a through hole to another, or to a T on an earlier run.

    The runs of one way from end to end stand in order, each joined to the next by a through hole.

    Parameters
    ----------
    corners : tuple of (int, int)
        (column, row) from the first node to the last, bends and both ends.
    first : int
        Index of the end where it begins, or HOLE.
    last : int
        Index of the end where it stops, TEE or HOLE.
    straight : tuple of (int, int)
        (cell, direction) of its cells that lie on a straight, away from bends and ends: a T may stand there.
    layer : int
    """

    corners: tuple[tuple[int, int], ...]
    first: int
    last: int
    straight: tuple[tuple[int, int], ...]
    layer: int = 0


def find_return(instance: Instance, *runs: GridRun, channel_class: int = CHANNEL) -> list[int]:
    """Return the cells at which a path comes back too near to itself; empty: it keeps the wall to itself.

    A path whose bends turn within a cell (`bend_cells` 0) may come near itself only straight on or round one
    corner: between two of its cells that are too near for two channels lies a shortest way from one to the
    other. So it enters every window of cells that are pairwise too near at most once. A path with arcs keeps
    every two of its straights that do not adjoin at the distance of two channels; two bends in a row, each with
    its `bend_cells`, make a half circle, whose arcs may graze a small window twice.

    Parameters
    ----------
    instance : Instance
    channel_class : int
    *runs : GridRun
        Of one path, in order, joined by through holes.

    Returns
    -------
    list of int
        Cells of later straights that are too near an earlier one.
    """
    corners = np.array([(*corner, run.layer) for run in runs for corner in run.corners], np.int64)
    near = instance.offsets[channel_class][channel_class]
    order = np.full(instance.cells, -1, np.int64)
    found = find_contact(instance.columns, instance.rows, instance.bend_cells, near, corners, order)
    return [int(cell) for cell in found]


@compile_cached
def find_contact(columns, rows, bend_cells, near, corners, order):  # type: ignore[no-untyped-def]
    """Return the cells at which a path comes back too near to itself, as `find_return` does.

    Parameters
    ----------
    columns, rows, bend_cells : int
    near : (m, 2) int
        Relative cells too near for two channels of the path's class.
    corners : (n, 3) int
        Column, row and layer of the path's ends, bends and through holes (these twice, once in each layer).
    order : (cells,) int
        Work space: -1 everywhere before and after.

    Returns
    -------
    (k,) int
    """
    if bend_cells == 0:
        return _cells_back(columns, rows, near, corners, order)
    return _straights_back(columns, rows, near, corners)


@njit(cache=True)
def _cells_back(columns, rows, near, corners, order):  # type: ignore[no-untyped-def]
    plane = columns * rows
    count = 1
    for n in range(1, corners.shape[0]):
        if corners[n, 2] != corners[n - 1, 2]:
            count += 1
        else:
            count += abs(corners[n, 0] - corners[n - 1, 0]) + abs(corners[n, 1] - corners[n - 1, 1])
    path = np.empty(count, np.int64)
    at = 0
    for n in range(corners.shape[0]):
        x, y, layer = corners[n, 0], corners[n, 1], corners[n, 2]
        if n == 0 or layer != corners[n - 1, 2]:
            path[at] = layer * plane + y * columns + x
            at += 1
            continue
        px, py = corners[n - 1, 0], corners[n - 1, 1]
        while px != x or py != y:
            px += (x > px) - (x < px)
            py += (y > py) - (y < py)
            path[at] = layer * plane + py * columns + px
            at += 1
    found = np.empty(count, np.int64)
    size = 0
    for k in range(count):
        c = path[k]
        base = c - c % plane
        x = (c - base) % columns
        y = (c - base) // columns
        for m in range(near.shape[0]):
            dx, dy = near[m, 0], near[m, 1]
            if x + dx < 0 or x + dx >= columns or y + dy < 0 or y + dy >= rows:
                continue
            i = order[base + (y + dy) * columns + x + dx]
            if i >= 0 and k - i > abs(dx) + abs(dy):
                found[size] = c
                size += 1
                break
        if order[c] < 0:
            order[c] = k
    for k in range(count):
        order[path[k]] = -1
    return found[:size]


@njit(cache=True)
def _straights_back(columns, rows, near, corners):  # type: ignore[no-untyped-def]
    plane = columns * rows
    near_squared = 0
    reach = 0
    for m in range(near.shape[0]):
        near_squared = max(near_squared, near[m, 0] ** 2 + near[m, 1] ** 2)
        reach = max(reach, abs(near[m, 0]), abs(near[m, 1]))
    found = np.empty(0, np.int64)
    for later in range(2, corners.shape[0] - 1):
        x, y, layer = corners[later, 0], corners[later, 1], corners[later, 2]
        if corners[later + 1, 2] != layer:
            continue
        for earlier in range(later - 1):
            if corners[earlier, 2] != layer or corners[earlier + 1, 2] != layer:
                continue
            x0 = min(corners[earlier, 0], corners[earlier + 1, 0])
            x1 = max(corners[earlier, 0], corners[earlier + 1, 0])
            y0 = min(corners[earlier, 1], corners[earlier + 1, 1])
            y1 = max(corners[earlier, 1], corners[earlier + 1, 1])
            ex, ey = corners[later + 1, 0], corners[later + 1, 1]
            if max(x, ex) < x0 - reach or min(x, ex) > x1 + reach:
                continue
            if max(y, ey) < y0 - reach or min(y, ey) > y1 + reach:
                continue
            steps = max(abs(ex - x), abs(ey - y))
            sx = (ex > x) - (ex < x)
            sy = (ey > y) - (ey < y)
            cells = np.empty(steps + 1, np.int64)
            size = 0
            for n in range(steps + 1):
                px = x + sx * n
                py = y + sy * n
                ax = px - min(max(px, x0), x1)
                ay = py - min(max(py, y0), y1)
                if ax * ax + ay * ay <= near_squared:
                    cells[size] = layer * plane + py * columns + px
                    size += 1
            if size:
                return cells[:size]
    return found
