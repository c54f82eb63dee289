"""The compiled core of trees: the least tree on the states of the search, label by label.

*Label*: (stage, set of ends, state): the cheapest way found from a state to all ends of a set. Labels are
settled in the order of their cost and a lower bound of what is missing; a settled one is carried one move back,
and joined with the settled ones of the other sets of its cell. *Stages*, where the straights of a real T are
asked for: AT_LARGE, anywhere; FRESH, just past a T or an end, where no other T may stand yet; STUB, at a T, past
the straight with which a branch begins.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from geom.compiled import compile_cached
from geom.heap import grow, pop, push

AT_LARGE, FRESH, STUB = 0, 1, 2

FIRST_ROOM = 4096
"""Entries that the queue of open labels starts with; it grows as it must."""


@compile_cached
def price_arcs(columns, rows, layers, blocked, cell_price, arc_x, arc_y, arc_count):  # type: ignore[no-untyped-def]
    """Return what the cells of each bend cost, (cells * 8,) float; infinite where one is blocked.

    Parameters
    ----------
    columns, rows, layers : int
    blocked : (cells,) bool
    cell_price : (cells,) float
    arc_x, arc_y : (8, m) int
        As in `find_path`.
    arc_count : int
    """
    area = columns * rows
    out = np.zeros(layers * area * 8)
    for row in range(8):
        for c in range(layers * area):
            base = c // area * area
            x = (c - base) % columns
            y = (c - base) // columns
            total = 0.0
            for m in range(arc_count):
                nx = x + arc_x[row, m]
                ny = y + arc_y[row, m]
                if nx < 0 or nx >= columns or ny < 0 or ny >= rows or blocked[base + ny * columns + nx]:
                    total = np.inf
                    break
                total += cell_price[base + ny * columns + nx]
            out[c * 8 + row] = total
    return out


@compile_cached
def find_tree(  # type: ignore[no-untyped-def]
    columns,
    rows,
    layers,
    closed,
    entering,
    turning,
    standing,
    no_tee,
    rates,
    tee,
    arc_x,
    arc_y,
    goals,
    goal_price,
    goal_set,
    goal_tail,
    sources,
    source_price,
    source_tail,
    span,
    least_step,
    reach,
    margin,
    loose,
    relaxed,
    pruned,
    limit,
):
    """Return (cost, label, nearer, other) of the cheapest tree from a source to a goal of each end.

    Parameters
    ----------
    columns, rows, layers : int
    closed : (cells,) bool
        Where no channel may be.
    entering : (cells * 4,) float
        Price of moving straight into a state; infinite where closed.
    turning : (cells * 8,) float
        Price of a bend that begins in (cell, direction): cell * 8 + direction * 2 for a left turn, + 1 for a
        right one; infinite where one of its cells is closed.
    standing : (cells,) float
        Price of coming into a cell by a through hole.
    no_tee : (cells,) bool
        Where no T may stand.
    rates : (sets, 3) float
        Step, bend and through hole of a leg with the ends of a set beyond it.
    tee : float
        Of each T.
    arc_x, arc_y : (8,) int
        Where a bend ends.
    goals, goal_price, goal_set, goal_tail : (g,) int, float, int, int
        States that end a leg, their price, the end as a set of one, the straight behind them in cells.
    sources, source_price, source_tail : (n,) int, float, int
        States that begin the tree.
    span : (sets, 4) float
        For each set, of the ends outside it and the first end: the greatest least x and least greatest x that a
        terminal has, and the same of y. Of the full set: the box of the first end.
    least_step : (sets,) float
        The least step of a leg that has a set of ends beyond it, and may have more; of the empty set the least
        of all. Guides the search.
    reach : int
        Straight cells with which a branch begins; 0: none asked for.
    margin : int
        Cells between two Ts of a straight, or a T and an end; 0: none asked for.
    loose : bool
        A T joins any directions.
    relaxed : bool
        Ask for no more straights than every tree has, and let a branch begin anywhere; otherwise for all that it
        should have, and more where that is simpler.
    pruned : bool
        Legs may turn within a cell for the price of a T: where a branch was left out.
    limit : float
        Trees that cost more are not looked for.

    Returns
    -------
    float, int, (labels,) int, (labels,) int
        `nearer` is the label that one goes on to, -1 at an end; `other` the second one at a T, else -1.
    """
    area = columns * rows
    states = layers * area * 4
    sets = rates.shape[0]
    strict = margin > 0
    labels = sets * states * (3 if strict else 1)
    cost = np.full(labels, np.inf)
    nearer = np.full(labels, -1, np.int32)
    other = np.full(labels, -1, np.int32)
    settled = np.zeros(labels, np.bool_)
    to_tee = np.zeros(labels if strict else 1, np.bool_)
    begins = np.full(states, np.inf)
    tail = np.zeros(states, np.int64)
    for n in range(sources.size):
        tail[sources[n]] = max(tail[sources[n]], source_tail[n])
        if source_price[n] < begins[sources[n]]:
            begins[sources[n]] = source_price[n]
    behind = np.zeros(states, np.int64)
    keys = np.empty(FIRST_ROOM, np.float64)
    values = np.empty(FIRST_ROOM, np.int64)
    size = 0
    best = limit + 1e-6
    best_label = -1
    full = sets - 1
    fresh = FRESH * sets * states
    stub = STUB * sets * states
    for n in range(goals.size):
        label = goal_set[n] * states + goals[n]
        if strict:
            label += fresh
        behind[goals[n]] = max(behind[goals[n]], goal_tail[n])
        if goal_price[n] < cost[label]:
            cost[label] = goal_price[n]
            h = _missing(columns, area, span, least_step, tee, goal_set[n], goals[n])
            if size == keys.size:
                keys, values = grow(keys), grow(values)
            size = push(keys, values, size, goal_price[n] + h, label)
    # Work space for what one settled label leads to.
    to = np.empty(64 + 16 * sets + 4 * margin + reach, np.int64)
    at = np.empty(to.size, np.float64)
    joined = np.full(to.size, -1, np.int64)
    while size > 0:
        key = keys[0]
        label = values[0]
        size = pop(keys, values, size)
        if key >= best - 1e-9:
            break
        if settled[label]:
            continue
        settled[label] = True
        stage = label // (sets * states)
        rest = label - stage * sets * states
        held = rest // states
        s = rest - held * states
        c = s >> 2
        d = s & 3
        base = c // area * area
        x = (c - base) % columns
        y = (c - base) // columns
        g = cost[label]
        step = rates[held, 0]
        bend = rates[held, 1]
        count = 0
        if stage == AT_LARGE:
            if held == full and begins[s] < np.inf and g + begins[s] < best - 1e-12:
                best = g + begins[s]
                best_label = label
            dx = (d == 0) - (d == 2)
            dy = (d == 1) - (d == 3)
            bx = x - dx
            by = y - dy
            if 0 <= bx < columns and 0 <= by < rows and not closed[base + by * columns + bx]:
                to[count] = held * states + (base + by * columns + bx) * 4 + d
                at[count] = g + step + entering[s]
                count += 1
            if pruned:
                for turn in range(2):
                    to[count] = held * states + c * 4 + ((d + 1 + 2 * turn) & 3)
                    at[count] = g + tee
                    count += 1
        if stage != STUB:
            # Back round a bend; in stage FRESH first along the straight, whose other end the label waits for.
            dx = (d == 0) - (d == 2)
            dy = (d == 1) - (d == 3)
            px = x
            py = y
            w = g
            need = 0
            if stage == FRESH:
                # An end's tail is a part of its straight.
                need = max(0, margin - (behind[s] if nearer[label] < 0 else 0))
            for run in range(need + 1):
                p = base + py * columns + px
                t = p * 4 + d
                if stage == FRESH and (
                    run == need or (held == full and begins[t] < np.inf and run + tail[t] >= need)
                ):
                    to[count] = held * states + t
                    at[count] = w
                    count += 1
                    break
                for turn in range(2):
                    od = (d + 3) & 3 if turn == 0 else (d + 1) & 3
                    row = od * 2 + turn
                    qx = px - arc_x[row]
                    qy = py - arc_y[row]
                    if 0 <= qx < columns and 0 <= qy < rows:
                        q = base + qy * columns + qx
                        if not closed[q]:
                            to[count] = held * states + q * 4 + od
                            at[count] = w + bend + turning[q * 8 + row]
                            count += 1
                w += step + entering[t]
                px -= dx
                py -= dy
                if not (0 <= px < columns and 0 <= py < rows) or closed[base + py * columns + px]:
                    break
            if layers == 2 and stage == AT_LARGE:
                q = c - area if base > 0 else c + area
                if not closed[q]:
                    for od in range(4):
                        to[count] = held * states + q * 4 + od + (fresh if strict else 0)
                        at[count] = g + rates[held, 2] + standing[c]
                        count += 1
            # A branch begins on the run of an end: a run between two Ts would begin nowhere.
            if strict and (relaxed or not to_tee[label]):
                nearest, farthest = reach, reach
                if stage == FRESH:
                    # From further off it begins once the label is at large.
                    farthest = reach + margin - 1
                    if nearer[label] >= 0:
                        nearest = min(reach, margin) if relaxed else max(reach, margin)
                for back in range(nearest, farthest + 1):
                    v = _walk_back(columns, rows, base, closed, x, y, d, back)
                    if v >= 0 and not no_tee[v]:
                        to[count] = stub + held * states + v * 4 + d
                        at[count] = g + _straight(columns, entering, step, v, d, back)
                        count += 1
        if stage != FRESH and not no_tee[c]:
            free = full ^ held
            more = free
            while more > 0:
                both = (held | more) * states
                for od in range(4):
                    partner = more * states + c * 4 + od
                    if strict and stage == AT_LARGE and (od ^ d) & 1 == 1:
                        partner += stub
                    if not settled[partner]:
                        continue
                    w = g + cost[partner] + tee
                    if loose:
                        # No leg goes back where another came from; one that only ends here goes nowhere.
                        here, there = nearer[label] < 0, nearer[partner] < 0
                        if od == d and not here and not there:
                            continue
                        for nd in range(4):
                            turned = (nd ^ d == 2 and not here) or (nd ^ od == 2 and not there)
                            if turned and begins[c * 4 + nd] == np.inf:
                                continue
                            to[count] = both + c * 4 + nd
                            at[count] = w
                            joined[count] = partner
                            count += 1
                    elif (od ^ d) & 1 == 1:
                        # A T on a straight: one of the two goes on as the leg that comes in.
                        if stage == AT_LARGE:
                            to[count] = both + c * 4 + d + (fresh if strict else 0)
                            at[count] = w
                            joined[count] = partner
                            count += 1
                        if stage == STUB or not strict:
                            to[count] = both + c * 4 + od + (fresh if strict else 0)
                            at[count] = w
                            joined[count] = partner
                            count += 1
                    elif (
                        od != d
                        and stage == AT_LARGE
                        and (relaxed or not strict or not (to_tee[label] and to_tee[partner]))
                    ):
                        # A T with both ways on: the leg that comes in is its branch.
                        for nd in ((d + 1) & 3, (d + 3) & 3):
                            far = min(reach, margin) if relaxed else max(reach, margin)
                            v = _walk_back(columns, rows, base, closed, x, y, nd, far)
                            if v >= 0:
                                to[count] = both + v * 4 + nd
                                at[count] = w + _straight(
                                    columns, entering, rates[held | more, 0], v, nd, far
                                )
                                joined[count] = partner
                                count += 1
                more = (more - 1) & free
        for n in range(count):
            t = to[n]
            partner = joined[n]
            joined[n] = -1
            if settled[t] or not at[n] < cost[t] - 1e-12:
                continue
            rest = t % (sets * states)
            key = at[n] + _missing(columns, area, span, least_step, tee, rest // states, rest % states)
            if key >= best:
                continue
            cost[t] = at[n]
            nearer[t] = label
            other[t] = partner
            if strict:
                on = label if partner < 0 or (t & 3) == d else partner
                to_tee[t] = to_tee[on] or (partner >= 0 and (label & 3) ^ (partner & 3) == 2)
            if size == keys.size:
                keys, values = grow(keys), grow(values)
            size = push(keys, values, size, key, t)
    return best if best_label >= 0 else np.inf, best_label, nearer, other


@njit(cache=True)
def _missing(columns, area, span, least_step, tee, held, state):  # type: ignore[no-untyped-def]
    """Return a lower bound of what joins a state to all ends outside its set.

    As many cells as half the box round them; as many of these as lead to the first end carry the set. Each end
    but the first asks for a T, save for one.
    """
    c = (state >> 2) % area
    x = c % columns
    y = c // columns
    full = span.shape[0] - 1
    size = max(span[held, 0], x) - min(span[held, 1], x) + max(span[held, 2], y) - min(span[held, 3], y)
    home = max(span[full, 0], x) - min(span[full, 1], x) + max(span[full, 2], y) - min(span[full, 3], y)
    tees = 0
    for n in range(8):
        tees += 1 - (held >> n & 1) if full >> n & 1 else 0
    return least_step[held] * home + least_step[0] * (size - home) + tees * tee


@njit(cache=True)
def _walk_back(columns, rows, base, closed, x, y, d, steps):  # type: ignore[no-untyped-def]
    """Return the cell `steps` cells behind a place, -1 where a cell on the way is closed."""
    dx = (d == 0) - (d == 2)
    dy = (d == 1) - (d == 3)
    for _ in range(steps):
        x -= dx
        y -= dy
        if not (0 <= x < columns and 0 <= y < rows) or closed[base + y * columns + x]:
            return -1
    return base + y * columns + x


@njit(cache=True)
def _straight(columns, entering, step, cell, d, steps):  # type: ignore[no-untyped-def]
    """Return what the straight from a cell costs, its prices included."""
    by = ((d == 0) - (d == 2)) + ((d == 1) - (d == 3)) * columns
    total = 0.0
    for n in range(1, steps + 1):
        total += step + entering[(cell + n * by) * 4 + d]
    return total
