"""Channels of three and more ends made cheaper: the least tree that keeps the rules, and branches set anew.

`plant_tree` searches all trees at once (Dreyfus and Wagner's recursion with the straights beside a T asked for),
and turns what it finds into runs. What the recursion does not see, two branches too near each other or two
ports, is forbidden where it happens and the search begun again. `regrow_tree` takes branches off a tree and
attaches their ends anew.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from layouts.routing.instance import Instance, Net, Terminal
from layouts.routing.one_channel.branches import list_tee_cells
from layouts.routing.one_channel.runs import HOLE, TEE, GridRun, find_return
from layouts.routing.one_channel.search import mark_near
from layouts.routing.one_channel.trace import Kept, Trace, Tracer
from layouts.routing.one_channel.trail import draw_trail, find_holes, turn_round
from layouts.routing.trees.tree_bound import (
    MOST_EXACT_ENDS,
    EntryPrices,
    TreeLeg,
    price_cells,
    search_tree,
    stub_cells,
)
from layouts.routing.trees.tree_costs import find_root, split_path, tree_cost

MOST_SEARCHES, FEW_SEARCHES = 12, 3
"""Searches for a tree that keeps the rules: where it counts, and where many channels are looked at."""

MOST_DROPPED = 2
"""Branches that are taken off a tree at once."""

SAME = 1e-9
"""Costs that differ by less are the same."""


@dataclass(frozen=True, slots=True)
class _Way:
    """A part of a tree from an end to another or to a T on an earlier one: its states in order."""

    trail: tuple[int, ...]
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class _Limb:
    """A way as it is drawn: its runs, its path, and the earlier limb that it stands on (-1: none)."""

    runs: tuple[GridRun, ...]
    path: tuple[int, ...]
    trunk: int


@dataclass(frozen=True, slots=True)
class _Ban:
    """What a tree may not use: cells, places for a T, and terminals as (end, number)."""

    cells: frozenset[int] = frozenset()
    tees: frozenset[int] = frozenset()
    terminals: frozenset[tuple[int, int]] = frozenset()

    def __or__(self, other: _Ban) -> _Ban:
        return _Ban(self.cells | other.cells, self.tees | other.tees, self.terminals | other.terminals)


def improve_tree(
    tracer: Tracer,
    net: Net,
    trace: Trace | None,
    blocked: np.ndarray,
    busy: np.ndarray | None = None,
    searches: int = MOST_SEARCHES,
) -> Trace | None:
    """Return the cheapest tree found round all that is blocked, never dearer than the one given.

    Parameters
    ----------
    tracer : Tracer
    net : Net
        Of three and more ends.
    trace : Trace or None
        A tree of it, None where there is none yet.
    blocked : (classes, cells) bool
    busy : (cells,) bool or None
        As in `Tracer.trace`.
    searches : int
        As in `plant_tree`.

    Returns
    -------
    Trace or None
        None where neither is a tree known nor one found.
    """
    free = np.zeros(tracer.instance.cells)
    limit = np.inf if trace is None else trace.cost - SAME
    planted = plant_tree(tracer, net, blocked, free, None, busy, searches, limit) if searches else None
    best = trace
    if planted is not None and (best is None or planted.cost < best.cost - SAME):
        best = planted
    return None if best is None else regrow_tree(tracer, net, best, blocked, busy)


def plant_tree(
    tracer: Tracer,
    net: Net,
    blocked: np.ndarray,
    cell_price: np.ndarray,
    end_price: np.ndarray | None = None,
    busy: np.ndarray | None = None,
    searches: int = MOST_SEARCHES,
    limit: float = np.inf,
) -> Trace | None:
    """Return a tree by the search over all of them, or None where it finds none that keeps the rules.

    A tree that breaks a rule is replaced by the cheapest ones without either of what stands in each other's
    way there, and the cheapest of all that wait is looked at next. Meanwhile what of it keeps the rules is
    completed end by end, as `Tracer.trace` does.

    Parameters
    ----------
    tracer : Tracer
    net : Net
        Of three and more ends, at most `MOST_EXACT_ENDS`; of more nothing is found.
    blocked : (classes, cells) bool
    cell_price : (cells,) float
    end_price : (classes, cells) float or None
    busy : (cells,) bool or None
        As in `Tracer.trace`.
    searches : int
        Most trees that are searched for.
    limit : float
        Trees that cost more, prices included, are not wanted.

    Returns
    -------
    Trace or None

    Source
    ------
    Sharon, Stern, Felner and Sturtevant, "Conflict-based search for optimal multi-agent pathfinding",
    Artificial Intelligence 219 (2015) (what follows a broken rule).
    """
    if len(net.ends) > MOST_EXACT_ENDS:
        return None
    tables = tracer.tables[net.name]
    extra = tuple(table.prices(cell_price, end_price) - table.cost for table in tables)
    first_usable = [table.usable(blocked, busy) for table in tables]
    # Labels that carry much on their way to the root are dear early: the search then opens fewer.
    root = find_root(net)
    order = (root, *(end for end in range(len(net.ends)) if end != root))
    waiting: list[tuple[float, int, _Ban, list[_Way], list[int]]] = []
    seen: set[_Ban] = set()

    def search(ban: _Ban) -> None:
        if ban in seen or len(seen) >= searches:
            return
        seen.add(ban)
        walls = blocked.copy()
        walls[net.channel_class, sorted(ban.cells)] = True
        no_tee = np.zeros(tracer.instance.cells, dtype=bool)
        no_tee[sorted(ban.tees)] = True
        usable = [may.copy() for may in first_usable]
        for end, number in ban.terminals:
            usable[end][number] = False
        prices = replace(price_cells(tracer.instance, cell_price, walls[net.channel_class]), ends=extra)
        cost, legs = search_tree(
            tracer.instance,
            net,
            walls,
            prices,
            limit,
            chosen=order,
            reach=stub_cells(tracer.instance, net),
            margin=tracer.instance.tee_margin,
            relaxed=False,
            no_tee=no_tee,
            usable=usable,
        )
        ways = _part_ways(legs, root) if legs else []
        if ways:
            numbers = [
                _find_terminal(tracer, net, ways, end, usable[end], prices) for end in range(len(tables))
            ]
            heapq.heappush(waiting, (cost, len(seen), ban, ways, numbers))

    search(_Ban())
    best: Trace | None = None
    while waiting:
        _, _, ban, ways, numbers = heapq.heappop(waiting)
        found, bans = _draw_tree(tracer, net, ways, numbers)
        if isinstance(found, Trace):
            return found if best is None or found.cost < best.cost else best
        if found is not None:
            completed = tracer.trace(net, blocked, cell_price, end_price, busy=busy, kept=found)
            if completed is not None and (best is None or completed.cost < best.cost - SAME):
                best = completed
        for more in bans:
            search(ban | more)
    return best


def regrow_tree(
    tracer: Tracer, net: Net, trace: Trace, blocked: np.ndarray, busy: np.ndarray | None = None
) -> Trace:
    """Return a tree after taking off branches and attaching their ends anew, until nothing gets cheaper.

    Parameters
    ----------
    tracer : Tracer
    net : Net
    trace : Trace
        A tree of it.
    blocked : (classes, cells) bool
    busy : (cells,) bool or None
        As in `Tracer.trace`.

    Returns
    -------
    Trace
        Never dearer.
    """
    free = np.zeros(tracer.instance.cells)
    better = True
    while better:
        better = False
        limbs = _list_limbs(tracer.instance, trace)
        branches = [n for n, limb in enumerate(limbs) if limb.trunk >= 0]
        groups = [g for size in range(1, MOST_DROPPED + 1) for g in combinations(branches, size)]
        for group in groups:
            kept = _take_off(trace, limbs, set(group))
            found = tracer.trace(net, blocked, free, busy=busy, kept=kept)
            if found is not None and found.cost < trace.cost - SAME:
                trace, better = found, True
                break
    return trace


def _part_ways(legs: tuple[TreeLeg, ...], root: int) -> list[_Way]:
    """Return a tree's legs (each followed by those beyond it) as ways, each after the one that it stands on.

    Through a T goes on the leg in line; nothing where a way would begin and stop at a T.
    """
    at = 0
    ways: list[_Way] = []
    sound = True

    def read() -> tuple[TreeLeg, tuple]:
        nonlocal at
        leg = legs[at]
        at += 1
        return (leg, () if leg.ends & (leg.ends - 1) == 0 else (read(), read()))

    def follow(node: tuple) -> tuple[list[int], int, list[tuple]]:
        """Return the states outwards through every T, where they stop, and the branches passed."""
        leg, beyond = node
        trail = list(leg.states)
        aside: list[tuple] = []
        while beyond:
            d = trail[-1] & 3
            one, two = beyond
            to_one, to_two = one[0].states[0] & 3, two[0].states[0] & 3
            if d not in (to_one, to_two) and to_one ^ to_two == 2:
                back, first, passed = follow(one)
                on, last, more = follow(two)
                if first == TEE:
                    back, on, first, last = on, back, last, first
                add([*turn_round(back), *on[1:]], first, last, passed + more)
                return trail, TEE, aside
            goes_on, branch = (two, one) if to_two == d else (one, two)
            aside.append(branch)
            leg, beyond = goes_on
            trail.extend(leg.states[1:] if leg.states[0] == trail[-1] else leg.states)
        return trail, leg.ends.bit_length() - 1, aside

    def add(trail: list[int], first: int, last: int, aside: list[tuple]) -> None:
        nonlocal sound
        sound &= first != TEE
        ways.append(_Way(tuple(trail), first, last))
        for branch in aside:
            out, end, more = follow(branch)
            add(turn_round(out), end, TEE, more)

    trail, last, aside = follow(read())
    add(trail, root, last, aside)
    return ways if sound else []


def _find_terminal(
    tracer: Tracer, net: Net, ways: list[_Way], end: int, usable: np.ndarray, prices: EntryPrices
) -> int:
    """Return the number of the cheapest terminal of an end at which its way begins or stops."""
    table = tracer.tables[net.name][end]
    state = next(
        way.trail[0] if way.first == end else way.trail[-1] ^ 2
        for way in ways
        if end in (way.first, way.last)
    )
    here = np.flatnonzero((table.leaving == state) & usable[table.owner])
    owners = table.owner[here]
    return int(owners[np.argmin(table.cost[owners] + prices.ends[end][owners])])


def _draw_tree(
    tracer: Tracer, net: Net, ways: list[_Way], numbers: list[int]
) -> tuple[Trace | Kept | None, list[_Ban]]:
    """Return the trace of a tree's ways; or what of it keeps the rules, and what may be forbidden: one of these."""
    tables = tracer.tables[net.name]
    chosen = tuple(table.terminals[n] for table, n in zip(tables, numbers, strict=True))
    for end, number in enumerate(numbers):
        for other in range(end):
            if not tracer.clear_of(tables[end], chosen[other])[number]:
                pair = ((end, number), (other, numbers[other]))
                return None, [_Ban(terminals=frozenset((one,))) for one in pair]
    # What begins at an end must get away from it: its cell is not forbidden.
    firsts = {t.cell for t in chosen}
    runs: list[GridRun] = []
    path: list[int] = []
    held: dict[int, Terminal] = {}
    bans: list[_Ban] = []
    tracer.use(net)
    for way in ways:
        tee = way.trail[-1] >> 2
        target = chosen[way.last] if way.last != TEE else Terminal(cell=tee, node=tee)
        drawn, cells = draw_trail(
            tracer.instance, tracer.arcs, list(way.trail), chosen[way.first], target, way.first, way.last
        )
        returns = find_return(tracer.instance, *drawn, channel_class=net.channel_class)
        near = _find_near(tracer.instance, net, path, way, cells, len(chosen[way.first].tail))
        here = []
        if returns:
            here = [_Ban(cells=frozenset(returns) - firsts)]
        elif way.last == TEE and not _may_stand(tracer, runs, path, tee):
            here = [_Ban(tees=frozenset((tee,)))]
        elif near[0]:
            here = [_Ban(cells=frozenset(side) - firsts) for side in near if side - firsts]
        if here or (way.last == TEE and not runs):
            bans = bans or here
            continue
        runs.extend(drawn)
        path.extend(cells)
        held |= {end: chosen[end] for end in (way.first, way.last) if end != TEE}
    if len(held) < len(chosen):
        return (Kept(tuple(runs), tuple(path), held) if runs else None), bans
    holes = find_holes(tracer.instance, path)
    trace = Trace(tuple(runs), np.array(sorted(set(path)), np.int64), tuple(path), chosen, 0.0, holes)
    return replace(trace, cost=tree_cost(tracer.instance, net, trace)), []


def _may_stand(tracer: Tracer, runs: list[GridRun], path: list[int], tee: int) -> bool:
    if tracer.instance.bend_cells == 0:
        return tee in path
    return any(cell == tee for cell, _ in list_tee_cells(tracer.instance, runs))


def _find_near(
    instance: Instance, net: Net, earlier: list[int], way: _Way, cells: list[int], tail: int
) -> tuple[set[int], set[int]]:
    """Return the cells of a way, tail and stub left out, too near the ways before it, and those of these."""
    if not earlier:
        return set(), set()
    stub = 0 if way.last != TEE else max(1, stub_cells(instance, net))
    before = np.array(sorted(set(earlier)), np.int64)
    near = _mark_round(instance, net, before)
    own = [cell for cell in cells[tail : len(cells) - stub] if near[cell]]
    near = _mark_round(instance, net, np.array(own, np.int64))
    return set(own), {int(cell) for cell in before if near[cell]}


def _mark_round(instance: Instance, net: Net, cells: np.ndarray) -> np.ndarray:
    """Return where a channel of a net stands too near another of its kind at some cells, (cells,) int."""
    count = np.zeros(instance.cells, np.int32)
    offsets = instance.offsets[net.channel_class][net.channel_class]
    if instance.bend_cells == 0:
        # Without arcs a tree keeps no wall to itself: it only takes no cell twice.
        offsets = np.zeros((1, 2), np.int64)
    stamp = np.zeros(instance.cells, np.int64)
    mark_near(instance.columns, instance.rows, cells, offsets, 1, count, stamp, 1)
    return count


def _list_limbs(instance: Instance, trace: Trace) -> list[_Limb]:
    """Return the ways of a tree with their paths and what each stands on."""
    limbs: list[_Limb] = []
    paths = split_path(instance.columns * instance.rows, instance.columns, trace.runs, trace.path)
    start = 0
    for path in paths:
        stop = next(n for n in range(start, len(trace.runs)) if trace.runs[n].last != HOLE) + 1
        trunk = -1
        if trace.runs[stop - 1].last == TEE:
            trunk = next(m for m, limb in enumerate(limbs) if path[-1] in limb.path)
        limbs.append(_Limb(trace.runs[start:stop], tuple(path), trunk))
        start = stop
    return limbs


def _take_off(trace: Trace, limbs: list[_Limb], off: set[int]) -> Kept:
    """Return a tree without some limbs and all that stand on them."""
    for n, limb in enumerate(limbs):
        if limb.trunk in off:
            off.add(n)
    stay = [limb for n, limb in enumerate(limbs) if n not in off]
    runs = tuple(run for limb in stay for run in limb.runs)
    ends = {end for run in runs for end in (run.first, run.last) if end >= 0}
    return Kept(
        runs, tuple(cell for limb in stay for cell in limb.path), {e: trace.chosen[e] for e in sorted(ends)}
    )
