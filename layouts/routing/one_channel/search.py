"""The compiled core: one cheapest path with exact bend costs, and the marking of what stands too near.

State: cell * 4 + direction. A move goes one cell along the direction. A bend is one move as well: it passes
the cells of its arc and ends past its corner in the new direction, so that two bends, or a bend and a port,
never stand too close for the radius. A through hole is a move to the same place in the other layer, in any
direction.

The search is A*: what a path still costs at least is known from the distances to its goals with nothing else
in the plate (`measure_ahead`), so that few states off the cheapest paths are opened.

Source
------
Hart, Nilsson and Raphael, "A Formal Basis for the Heuristic Determination of Minimum Cost Paths", IEEE
Transactions on Systems Science and Cybernetics 4 (1968) (the search); Dial, "Algorithm 360: Shortest-path
forest with topological ordering", Communications of the ACM 12 (1969) (the buckets).
"""

from __future__ import annotations

import numpy as np
from numba import njit

from geom.compiled import compile_cached
from geom.heap import grow, pop, push

INFINITE = 1e18
UNREACHABLE = 1e17
"""Costs above are sums with INFINITE."""

FIRST_ROOM = 1024
"""Entries that the queue of open states starts with; it grows as it must."""

BREATH = 1.0 + 1e-9
"""Factor on what lies ahead: of equally cheap ways the one nearer to its goal is opened first."""

MOST_BUCKETS = 1_000_000


@compile_cached
def find_path(  # type: ignore[no-untyped-def]
    columns,
    rows,
    layers,
    blocked,
    cell_cost,
    step,
    bend,
    through,
    arc_x,
    arc_y,
    sources,
    source_cost,
    goal,
    goal_cost,
    ahead,
    distance,
    parent,
):
    """Return (end state, cost) of the cheapest path from a source state to a goal, or (-1, infinite).

    Parameters
    ----------
    columns, rows, layers : int
    blocked : (cells,) bool
    cell_cost : (cells,) float
        Added where a path enters a cell; not negative.
    step, bend, through : float
        Cost of a straight move, a bend, a through hole; not negative.
    arc_x, arc_y : (8, m) int
        Relative cells of a bend's arc; row direction * 2 for a left turn, + 1 for a right one. The last
        one is where the bend ends. No cells: the bend turns within its cell.
    sources : (n,) int
        States.
    source_cost : (n,) float
    goal : (cells * 4,) int
        Index into `goal_cost` for a state that may end a path, -1 elsewhere.
    goal_cost : (g,) float
    ahead : (cells * 4,) float
        What a path costs at least from a state on, by moves that differ by no more than they cost;
        INFINITE where no goal can be reached.
    distance : (cells * 4,) float
        Work space: INFINITE everywhere before and after.
    parent : (cells * 4,) int
        Where the path comes from, for the caller to read back; valid along the path.

    Returns
    -------
    int, float

    Raises
    ------
    ValueError
        A cost below 0, or none: with it a path could grow cheaper for ever.
    """
    if not (step >= 0 and bend >= 0 and through >= 0):
        raise ValueError("step, bend and through hole must not be negative")
    for n in range(cell_cost.size):
        if not cell_cost[n] >= 0:
            raise ValueError("cell costs must not be negative")
    return search_states(
        columns,
        rows,
        layers,
        blocked,
        cell_cost,
        step,
        bend,
        through,
        arc_x,
        arc_y,
        sources,
        source_cost,
        goal,
        goal_cost,
        ahead,
        INFINITE,
        distance,
        parent,
    )


@njit(cache=True)
def search_states(  # type: ignore[no-untyped-def]
    columns,
    rows,
    layers,
    blocked,
    cell_cost,
    step,
    bend,
    through,
    arc_x,
    arc_y,
    sources,
    source_cost,
    goal,
    goal_cost,
    ahead,
    most,
    distance,
    parent,
):
    """Return what `find_path` does, without its checks and no path dearer than `most`: for compiled callers."""
    plane = columns * rows
    arc_count = arc_x.shape[1]
    keys = np.empty(FIRST_ROOM, np.float64)
    values = np.empty(FIRST_ROOM, np.int64)
    touched = np.empty(FIRST_ROOM, np.int64)
    reached = 0
    size = 0
    best = INFINITE
    best_state = -1
    most = min(most, UNREACHABLE)
    for n in range(sources.size):
        s = sources[n]
        if source_cost[n] < distance[s] and source_cost[n] + ahead[s] <= most:
            if distance[s] == INFINITE:
                if reached == touched.size:
                    touched = grow(touched)
                touched[reached] = s
                reached += 1
            distance[s] = source_cost[n]
            parent[s] = -1
            if size == keys.size:
                keys, values = grow(keys), grow(values)
            size = push(keys, values, size, source_cost[n] + ahead[s], s)
    while size > 0:
        key = keys[0]
        s = values[0]
        size = pop(keys, values, size)
        if key >= best - 1e-9:
            break
        g = distance[s]
        if key > g + ahead[s]:
            continue
        c = s >> 2
        d = s & 3
        base = c - c % plane
        x = (c - base) % columns
        y = (c - base) // columns
        if goal[s] >= 0:
            total = g + goal_cost[goal[s]]
            if total < best - 1e-12:
                best = total
                best_state = s
        for way in range(7):
            if way == 0:
                nx = x + (d == 0) - (d == 2)
                ny = y + (d == 1) - (d == 3)
                if nx < 0 or nx >= columns or ny < 0 or ny >= rows:
                    continue
                nc = base + ny * columns + nx
                if blocked[nc]:
                    continue
                t = nc * 4 + d
                w = g + step + cell_cost[nc]
            elif way < 3:
                row = d * 2 + way - 1
                nd = (d + 1) & 3 if way == 1 else (d + 3) & 3
                w = g + bend
                nc = c
                free = True
                for m in range(arc_count):
                    nx = x + arc_x[row, m]
                    ny = y + arc_y[row, m]
                    if nx < 0 or nx >= columns or ny < 0 or ny >= rows:
                        free = False
                        break
                    nc = base + ny * columns + nx
                    if blocked[nc]:
                        free = False
                        break
                    w += cell_cost[nc]
                if not free:
                    continue
                t = nc * 4 + nd
            else:
                # Through a hole and back would be a bend that takes its cell twice.
                if layers == 1 or (parent[s] >= 0 and abs((parent[s] >> 2) - c) == plane):
                    break
                nc = c + plane if base == 0 else c - plane
                if blocked[nc]:
                    break
                t = nc * 4 + way - 3
                w = g + through + cell_cost[nc]
            if w < distance[t] - 1e-12 and w + ahead[t] <= most:
                if distance[t] == INFINITE:
                    if reached == touched.size:
                        touched = grow(touched)
                    touched[reached] = t
                    reached += 1
                distance[t] = w
                parent[t] = s
                if size == keys.size:
                    keys, values = grow(keys), grow(values)
                size = push(keys, values, size, w + ahead[t], t)
    for n in range(reached):
        distance[touched[n]] = INFINITE
    return best_state, best


@compile_cached
def measure_ahead(  # type: ignore[no-untyped-def]
    columns, rows, layers, blocked, step, bend, through, arc_x, arc_y, goals, goal_cost
):
    """Return what a path costs from every state to the cheapest goal, nothing but `blocked` in its way.

    A path read backwards is a path: the search begins at the goals, every direction turned round.

    Parameters
    ----------
    columns, rows, layers : int
    blocked : (cells,) bool
    step, bend, through : float
        Not negative.
    arc_x, arc_y : (8, m) int
        As in `find_path`.
    goals : (n,) int
        States that may end a path.
    goal_cost : (n,) float

    Returns
    -------
    (cells * 4,) float
        INFINITE where no goal can be reached. A breath more than the distance: see BREATH.

    Raises
    ------
    ValueError
        A cost below 0, or none.
    """
    if not (step >= 0 and bend >= 0 and through >= 0):
        raise ValueError("step, bend and through hole must not be negative")
    plane = columns * rows
    arc_count = arc_x.shape[1]
    states = layers * plane * 4
    distance = np.full(states, INFINITE)
    ahead = np.full(states, INFINITE)
    if goals.size == 0:
        return ahead
    least = goal_cost[0]
    dearest = goal_cost[0]
    for n in range(goal_cost.size):
        least = min(least, goal_cost[n])
        dearest = max(dearest, goal_cost[n])
    most = max(step, bend, through, dearest - least)
    width = max(step, most / MOST_BUCKETS, 1e-9)
    buckets = int(most / width) + 3
    head = np.full(buckets, -1, np.int64)
    states_in = np.empty(FIRST_ROOM, np.int64)
    after = np.empty(FIRST_ROOM, np.int64)
    spare = -1
    used = 0
    waiting = np.zeros(states, np.bool_)
    count = 0
    now = int(least / width)
    for n in range(goals.size):
        s = goals[n] ^ 2
        if goal_cost[n] < distance[s]:
            distance[s] = goal_cost[n]
            if used == states_in.size:
                states_in, after = grow(states_in), grow(after)
            states_in[used] = s
            b = int(goal_cost[n] / width) % buckets
            after[used] = head[b]
            head[b] = used
            used += 1
            count += 1
            waiting[s] = True
    while count > 0:
        b = now % buckets
        if head[b] < 0:
            now += 1
            continue
        entry = head[b]
        head[b] = after[entry]
        after[entry] = spare
        spare = entry
        count -= 1
        s = states_in[entry]
        g = distance[s]
        # Left behind where a cheaper way put the state into an earlier bucket.
        if not waiting[s] or int(g / width) != now:
            continue
        waiting[s] = False
        c = s >> 2
        d = s & 3
        base = c - c % plane
        x = (c - base) % columns
        y = (c - base) // columns
        for way in range(7):
            if way == 0:
                nx = x + (d == 0) - (d == 2)
                ny = y + (d == 1) - (d == 3)
                if nx < 0 or nx >= columns or ny < 0 or ny >= rows:
                    continue
                nc = base + ny * columns + nx
                if blocked[nc]:
                    continue
                t = nc * 4 + d
                w = g + step
            elif way < 3:
                row = d * 2 + way - 1
                nd = (d + 1) & 3 if way == 1 else (d + 3) & 3
                nc = c
                free = True
                for m in range(arc_count):
                    nx = x + arc_x[row, m]
                    ny = y + arc_y[row, m]
                    if nx < 0 or nx >= columns or ny < 0 or ny >= rows:
                        free = False
                        break
                    nc = base + ny * columns + nx
                    if blocked[nc]:
                        free = False
                        break
                if not free:
                    continue
                t = nc * 4 + nd
                w = g + bend
            else:
                if layers == 1:
                    break
                nc = c + plane if base == 0 else c - plane
                if blocked[nc]:
                    break
                t = nc * 4 + way - 3
                w = g + through
            if w < distance[t]:
                distance[t] = w
                waiting[t] = True
                if spare >= 0:
                    entry = spare
                    spare = after[entry]
                else:
                    if used == states_in.size:
                        states_in, after = grow(states_in), grow(after)
                    entry = used
                    used += 1
                states_in[entry] = t
                b = int(w / width) % buckets
                after[entry] = head[b]
                head[b] = entry
                count += 1
    for s in range(states):
        if distance[s ^ 2] < INFINITE:
            ahead[s] = distance[s ^ 2] * BREATH
    return ahead


@compile_cached
def mark_near(columns, rows, cells, offsets, amount, count, stamp, tag):  # type: ignore[no-untyped-def]
    """Add `amount` once to `count` at every cell that lies at one of `offsets` from one of `cells`, in its layer.

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
    plane = columns * rows
    for n in range(cells.size):
        base = cells[n] - cells[n] % plane
        x = (cells[n] - base) % columns
        y = (cells[n] - base) // columns
        for m in range(offsets.shape[0]):
            nx = x + offsets[m, 0]
            ny = y + offsets[m, 1]
            if 0 <= nx < columns and 0 <= ny < rows:
                c = base + ny * columns + nx
                if stamp[c] != tag:
                    stamp[c] = tag
                    count[c] += amount
