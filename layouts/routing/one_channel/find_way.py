"""One net of two ends in one compiled call: prices, terminals, search, and what the way found takes.

`trace.py` does the same for trees, and for nets whose course past the others is prescribed.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from geom.compiled import compile_cached
from layouts.routing.instance import CHANNEL
from layouts.routing.one_channel.runs import find_contact
from layouts.routing.one_channel.search import INFINITE, search_states

MOST_CROWD = 3
"""Nets at one place beyond which its price grows no more."""

PORT_PRICE = 4.0
"""A port that must move pays like a stretch of channel that goes round it."""

MOST_LOOPS = 12
"""Searches for a path that keeps off itself."""


@compile_cached
def find_way(  # type: ignore[no-untyped-def]
    columns,
    rows,
    layers,
    bend_cells,
    arc_x,
    arc_y,
    near,
    ports_near,
    ports_first,
    net_class,
    straight,
    step,
    bend,
    through,
    floor,
    busy,
    ahead,
    first_end,
    at,
    node,
    port,
    leaves,
    terminal_cost,
    extra_first,
    extra,
    taken,
    walls,
    walled,
    hard,
    history,
    price,
    noise,
    noisy,
    most,
    distance,
    parent,
    goal,
    blocked,
    cell_price,
    order,
    trail,
    cells,
):
    """Return (length of the trail, number of cells, start, goal, cost) of the cheapest way; length 0: none.

    Parameters
    ----------
    columns, rows, layers, bend_cells : int
    arc_x, arc_y : (8, m) int
        As in `find_path`.
    near : (k, 2) int
        Relative cells too near for two channels of the net's class.
    ports_near : (j, 2) int
        Offsets of class a against class b from ports_first[a * classes + b] on.
    ports_first : (classes * classes + 1,) int
    net_class : int
    straight : bool
        A straight column from an upper terminal down to a lower one.
    step, bend, through : float
    floor : (cells,) bool
        Where the net's channel may never stand.
    busy : (cells,) bool
        Where ends of others keep its tails away.
    ahead : (cells * 4,) float
        Least cost from a state to the net's second end.
    first_end : int
        Terminals before this are those of the first end.
    at, node, port, leaves : (terminals,) int
        Cell, cell of the port, its class, bits of the directions in which it may be left.
    terminal_cost : (terminals,) float
    extra_first : (2 * terminals + 1,) int
        Tail of terminal t: `extra` from extra_first[2 * t] on; its bore: from extra_first[2 * t + 1] on.
    extra : (e,) int
    taken : (classes, cells) int
        How many other nets keep each class away from each cell.
    walls : (classes, cells) bool
        Read where `walled`: where nothing may stand.
    walled, hard : bool
        `hard`: no place that another net has taken may be entered.
    history : (classes, cells) float
        Read where `price` is not negative: what a place costs from former rounds, in steps.
    price : float
        What a place costs where another net stands, in steps; negative: nothing does.
    noise : (cells,) float
        Read where `noisy`: added price of a cell.
    noisy : bool
    most : float
        No way that costs more, all prices included, is wanted.
    distance, parent, goal : (cells * 4,) float, int, int
        Work space; INFINITE in `distance` and -1 in `goal` before and after.
    blocked, cell_price, order : (cells,) bool, float, int
        Work space; -1 in `order` before and after.
    trail, cells : (n,) int
        Filled with the states of the way, and with its cells, tails included.

    Returns
    -------
    int, int, int, int, float
    """
    plane = columns * rows
    count = at.size
    for c in range(blocked.size):
        blocked[c] = floor[c] or (walled and walls[net_class, c]) or (hard and taken[net_class, c] > 0)
        cell_price[c] = noise[c] if noisy else 0.0
        if price >= 0.0:
            crowd = min(taken[net_class, c], MOST_CROWD)
            cell_price[c] += step * (history[net_class, c] + price * crowd * (1.0 + history[net_class, c]))
    if straight:
        return _find_column(columns, plane, step, first_end, at, blocked, cell_price, trail, cells)
    # What it costs to end at each terminal; negative where the net may not.
    prices = np.empty(count, np.float64)
    for t in range(count):
        prices[t] = terminal_cost[t]
        dearest = 0.0
        may = True
        for n in range(extra_first[2 * t], extra_first[2 * t + 2] + 1):
            of_port = n >= extra_first[2 * t + 1]
            if of_port and port[t] == CHANNEL:
                continue
            c = extra[n] if n < extra_first[2 * t + 2] else node[t]
            k = port[t] if of_port else net_class
            if (walled and walls[k, c]) or (hard and taken[k, c] > 0) or (not of_port and busy[c]):
                may = False
                break
            if not of_port:
                prices[t] += cell_price[c]
            elif price >= 0.0:
                crowd = min(taken[k, c], MOST_CROWD)
                dearest = max(dearest, history[k, c] + price * crowd * (1.0 + history[k, c]))
        prices[t] = prices[t] + PORT_PRICE * step * dearest if may else -1.0
    sources = np.empty(4 * first_end, np.int64)
    source_cost = np.empty(4 * first_end, np.float64)
    for _ in range(MOST_LOOPS):
        starts = 0
        for t in range(count):
            if prices[t] < 0.0 or blocked[at[t]]:
                continue
            for d in range(4):
                if leaves[t] >> d & 1 == 0:
                    continue
                if t < first_end:
                    sources[starts] = at[t] * 4 + d
                    source_cost[starts] = prices[t] + cell_price[at[t]]
                    starts += 1
                    continue
                s = at[t] * 4 + (d ^ 2)
                if goal[s] < 0 or prices[t] < prices[goal[s]]:
                    goal[s] = t
        end, _ = search_states(
            columns,
            rows,
            layers,
            blocked,
            cell_price,
            step,
            bend,
            through,
            arc_x,
            arc_y,
            sources[:starts],
            source_cost[:starts],
            goal,
            prices,
            ahead,
            most,
            distance,
            parent,
        )
        target = goal[end] if end >= 0 else -1
        for t in range(first_end, count):
            for d in range(4):
                goal[at[t] * 4 + d] = -1
        if end < 0:
            break
        length = 1
        s = end
        while parent[s] >= 0:
            s = parent[s]
            length += 1
        if length > trail.size:
            break
        s = end
        for n in range(length - 1, -1, -1):
            trail[n] = s
            s = parent[s]
        start = -1
        for t in range(first_end):
            leaves_so = at[t] == trail[0] >> 2 and leaves[t] >> (trail[0] & 3) & 1
            if leaves_so and prices[t] >= 0.0 and (start < 0 or prices[t] < prices[start]):
                start = t
        if _ports_clash(
            columns, rows, start, target, node, port, extra_first, extra, ports_first, ports_near
        ):
            prices[target] = -1.0
            continue
        corners = np.empty((2 * length + 2, 3), np.int64)
        total = 0
        size = 0
        cost = terminal_cost[start] + terminal_cost[target]
        for t in (start, target):
            for n in range(extra_first[2 * t], extra_first[2 * t + 1]):
                cells[size] = extra[n]
                size += 1
        cells[size] = trail[0] >> 2
        size += 1
        for n in range(length + 1):
            # Before the first state the start's node, past the last the goal's.
            c = node[start] if n == 0 else node[target] if n == length else trail[n - 1] >> 2
            layer = c // plane
            x = c % plane % columns
            y = c % plane // columns
            if 0 < n < length:
                a, b = trail[n - 1], trail[n]
                d, nd = a & 3, b & 3
                if abs((a >> 2) - (b >> 2)) == plane:
                    cells[size] = b >> 2
                    size += 1
                    cost += through
                    corners[total, 0], corners[total, 1], corners[total, 2] = x, y, layer
                    total += 1
                    layer = 1 - layer
                elif d == nd:
                    cells[size] = b >> 2
                    size += 1
                    cost += step
                    continue
                else:
                    row = d * 2 + (0 if nd == ((d + 1) & 3) else 1)
                    for m in range(arc_x.shape[1]):
                        cells[size] = c + arc_y[row, m] * columns + arc_x[row, m]
                        size += 1
                    cost += bend
                    x += bend_cells * ((d == 0) - (d == 2))
                    y += bend_cells * ((d == 1) - (d == 3))
            if (
                total > 0
                and corners[total - 1, 0] == x
                and corners[total - 1, 1] == y
                and corners[total - 1, 2] == layer
            ):
                continue
            corners[total, 0], corners[total, 1], corners[total, 2] = x, y, layer
            total += 1
        contact = find_contact(columns, rows, bend_cells, near, corners[:total], order)
        if contact.size == 0:
            return length, size, start, target, cost
        for n in range(contact.size):
            blocked[contact[n]] = True
    return 0, 0, -1, -1, 0.0


@njit(cache=True)
def _find_column(  # type: ignore[no-untyped-def]
    columns, plane, step, first_end, at, blocked, cell_price, trail, cells
):
    best = INFINITE
    length, start, goal = 0, -1, -1
    for one in range(first_end):
        for two in range(first_end, at.size):
            top, bottom = at[one], at[two]
            if top // plane != bottom // plane or bottom > top or (top - bottom) % columns != 0:
                continue
            priced = 0.0
            for c in range(bottom, top + 1, columns):
                priced += INFINITE if blocked[c] else step + cell_price[c]
            if priced < best - 1e-9:
                best = priced
                length, start, goal = (top - bottom) // columns + 1, one, two
    for n in range(length):
        cells[n] = at[start] - n * columns
        trail[n] = cells[n] * 4 + 3
    return length, length, start, goal, step * (length - 1)


@njit(cache=True)
def _ports_clash(  # type: ignore[no-untyped-def]
    columns, rows, one, two, node, port, extra_first, extra, ports_first, ports_near
):
    """Return whether two ports of one net stand too near each other, their bores included."""
    if port[one] == CHANNEL or port[two] == CHANNEL:
        return False
    plane = columns * rows
    classes = int(np.sqrt(ports_first.size - 1))
    pair = port[one] * classes + port[two]
    for n in range(extra_first[2 * one + 1], extra_first[2 * one + 2] + 1):
        a = extra[n] if n < extra_first[2 * one + 2] else node[one]
        for m in range(extra_first[2 * two + 1], extra_first[2 * two + 2] + 1):
            b = extra[m] if m < extra_first[2 * two + 2] else node[two]
            dx = b % plane % columns - a % plane % columns
            dy = b % plane // columns - a % plane // columns
            for k in range(ports_first[pair], ports_first[pair + 1]):
                if a // plane == b // plane and ports_near[k, 0] == dx and ports_near[k, 1] == dy:
                    return True
    return False


@compile_cached
def mark_features(  # type: ignore[no-untyped-def]
    columns, rows, cells, of_class, near_first, near, amount, taken, stamp, tag
):
    """Add `amount` once to `taken` for every class and cell that a net's features keep free.

    Parameters
    ----------
    columns, rows : int
    cells, of_class : (n,) int
        Cells of the features, and the class of what stands there.
    near_first : (classes * classes + 1,) int
        Offsets of class a against class b: `near` from near_first[a * classes + b] on.
    near : (m, 2) int
    amount : int
    taken : (classes, cells) int
        Changed in place.
    stamp : (cells,) int
        Work space.
    tag : int
        This and the `classes` numbers after it were not used before with this `stamp`.
    """
    plane = columns * rows
    classes = taken.shape[0]
    for here in range(classes):
        for n in range(cells.size):
            base = cells[n] - cells[n] % plane
            x = (cells[n] - base) % columns
            y = (cells[n] - base) // columns
            pair = of_class[n] * classes + here
            for m in range(near_first[pair], near_first[pair + 1]):
                nx = x + near[m, 0]
                ny = y + near[m, 1]
                if 0 <= nx < columns and 0 <= ny < rows:
                    c = base + ny * columns + nx
                    if stamp[c] != tag + here:
                        stamp[c] = tag + here
                        taken[here, c] += amount


@compile_cached
def note_clashes(cells, of_class, taken, history, amount):  # type: ignore[no-untyped-def]
    """Add `amount` to `history` where a feature of one net stands too near another's; return how many do.

    Parameters
    ----------
    cells, of_class : (n,) int
    taken : (classes, cells) int
        This net's own features included.
    history : (classes, cells) float
        Changed in place.
    amount : float

    Returns
    -------
    int
    """
    found = 0
    for n in range(cells.size):
        if taken[of_class[n], cells[n]] > 1:
            history[of_class[n], cells[n]] += amount
            found += 1
    return found
