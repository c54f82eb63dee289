"""The compiled core: one shortest path with exact bend costs, and the marking of what stands too near.

State: cell * 4 + direction. A move goes one cell along the direction. A bend is one move as well: it passes
the cells of its arc and ends past its corner in the new direction, so that two bends, or a bend and a port,
never stand too close for the radius.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from layouts.routing.compiled import compile_cached

INFINITE = 1e18
FIRST_ROOM = 1024
"""Entries that the queue of open states starts with; it grows as it must."""


@compile_cached
def find_path(  # type: ignore[no-untyped-def]
    columns,
    rows,
    blocked,
    cell_cost,
    step,
    bend,
    arc_x,
    arc_y,
    arc_count,
    sources,
    source_cost,
    goal,
    goal_cost,
    box,
    distance,
    parent,
):
    """Return (end state, cost) of the cheapest path from a source state to a goal, or (-1, infinite).

    Parameters
    ----------
    columns, rows : int
    blocked : (cells,) bool
    cell_cost : (cells,) float
        Added to `step` where a path enters a cell; not negative.
    step, bend : float
        Not negative.
    arc_x, arc_y : (8, m) int
        Relative cells of a bend's arc; row direction * 2 for a left turn, + 1 for a right one. The last
        one is where the bend ends. No cells: the bend turns within its cell.
    arc_count : int
        Cells in an arc.
    sources : (n,) int
        States.
    source_cost : (n,) float
    goal : (cells * 4,) int
        Index into `goal_cost` for a state that may end a path, -1 elsewhere.
    goal_cost : (g,) float
    box : (4,) int
        Bounding box of the goals: x0, y0, x1, y1; guides the search.
    distance, parent : (cells * 4,) float, int
        Work space; `parent` is read back by the caller.

    Returns
    -------
    int, float

    Raises
    ------
    ValueError
        A cost below 0, or none: with it a path could grow cheaper for ever.
    """
    if not (step >= 0 and bend >= 0):
        raise ValueError("step and bend must not be negative")
    for n in range(cell_cost.size):
        if not cell_cost[n] >= 0:
            raise ValueError("cell costs must not be negative")
    distance[:] = INFINITE
    parent[:] = -1
    keys = np.empty(FIRST_ROOM, np.float64)
    values = np.empty(FIRST_ROOM, np.int64)
    size = 0
    best = INFINITE
    best_state = -1
    for n in range(sources.size):
        s = sources[n]
        if source_cost[n] < distance[s]:
            distance[s] = source_cost[n]
            c = s >> 2
            x = c % columns
            y = c // columns
            key = source_cost[n] + step * (max(box[0] - x, 0, x - box[2]) + max(box[1] - y, 0, y - box[3]))
            if size == keys.size:
                keys, values = _grow(keys), _grow(values)
            size = _push(keys, values, size, key, s)
    while size > 0:
        key = keys[0]
        s = values[0]
        size = _pop(keys, values, size)
        if key >= best - 1e-9:
            break
        c = s >> 2
        d = s & 3
        x = c % columns
        y = c // columns
        g = distance[s]
        if key > g + step * (max(box[0] - x, 0, x - box[2]) + max(box[1] - y, 0, y - box[3])) + 1e-9:
            continue
        if goal[s] >= 0:
            total = g + goal_cost[goal[s]]
            if total < best - 1e-12:
                best = total
                best_state = s
        dx = (d == 0) - (d == 2)
        dy = (d == 1) - (d == 3)
        nx = x + dx
        ny = y + dy
        if 0 <= nx < columns and 0 <= ny < rows:
            nc = ny * columns + nx
            if not blocked[nc]:
                t = nc * 4 + d
                w = g + step + cell_cost[nc]
                if w < distance[t] - 1e-12:
                    distance[t] = w
                    parent[t] = s
                    h = step * (max(box[0] - nx, 0, nx - box[2]) + max(box[1] - ny, 0, ny - box[3]))
                    if size == keys.size:
                        keys, values = _grow(keys), _grow(values)
                    size = _push(keys, values, size, w + h, t)
        for turn in range(2):
            row = d * 2 + turn
            nd = (d + 1) & 3 if turn == 0 else (d + 3) & 3
            w = g + bend
            nx = x
            ny = y
            free = True
            for m in range(arc_count):
                nx = x + arc_x[row, m]
                ny = y + arc_y[row, m]
                if nx < 0 or nx >= columns or ny < 0 or ny >= rows:
                    free = False
                    break
                nc = ny * columns + nx
                if blocked[nc]:
                    free = False
                    break
                w += cell_cost[nc]
            if not free:
                continue
            t = (ny * columns + nx) * 4 + nd
            if w < distance[t] - 1e-12:
                distance[t] = w
                parent[t] = s
                h = step * (max(box[0] - nx, 0, nx - box[2]) + max(box[1] - ny, 0, ny - box[3]))
                if size == keys.size:
                    keys, values = _grow(keys), _grow(values)
                size = _push(keys, values, size, w + h, t)
    return best_state, best


@compile_cached
def mark_near(columns, rows, cells, offsets, amount, count, stamp, tag):  # type: ignore[no-untyped-def]
    """Add `amount` once to `count` at every cell that lies at one of `offsets` from one of `cells`.

    Parameters
    ----------
    columns, rows : int
    cells : (n,) int
    offsets : (m, 2) int
    amount : int
        +1 or -1.
    count : (cells,) int
        Changed in place.
    stamp : (cells,) int
        Work space; cells that already carry `tag` are left alone.
    tag : int
        Not used before with this `stamp`.
    """
    for n in range(cells.size):
        x = cells[n] % columns
        y = cells[n] // columns
        for m in range(offsets.shape[0]):
            nx = x + offsets[m, 0]
            ny = y + offsets[m, 1]
            if 0 <= nx < columns and 0 <= ny < rows:
                c = ny * columns + nx
                if stamp[c] != tag:
                    stamp[c] = tag
                    count[c] += amount


@njit(cache=True)
def _grow(entries):  # type: ignore[no-untyped-def]
    more = np.empty(2 * entries.size, entries.dtype)
    more[: entries.size] = entries
    return more


@njit(cache=True)
def _push(keys, values, size, key, value):  # type: ignore[no-untyped-def]
    i = size
    while i > 0:
        p = (i - 1) >> 1
        if keys[p] <= key:
            break
        keys[i] = keys[p]
        values[i] = values[p]
        i = p
    keys[i] = key
    values[i] = value
    return size + 1


@njit(cache=True)
def _pop(keys, values, size):  # type: ignore[no-untyped-def]
    size -= 1
    if size > 0:
        key = keys[size]
        value = values[size]
        i = 0
        while True:
            child = 2 * i + 1
            if child >= size:
                break
            if child + 1 < size and keys[child + 1] < keys[child]:
                child += 1
            if keys[child] >= key:
                break
            keys[i] = keys[child]
            values[i] = values[child]
            i = child
        keys[i] = key
        values[i] = value
    return size
