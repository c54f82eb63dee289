"""One channel on the grid: its runs, its cells, its cost; and how one is found for given prices."""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Protocol

import numpy as np

from layouts.routing.ends import EndTable, Starts
from layouts.routing.instance import CHANNEL, DX, DY, Instance, Net, Rates, Terminal
from layouts.routing.runs import HOLE, TEE, GridRun, find_return
from layouts.routing.search import INFINITE, find_path, mark_near, measure_ahead
from layouts.routing.tree_costs import TreeFlow, find_root, follow_flow, price_upgrades, split_path, tree_cost

MOST_PAIRS = 60
"""Searches for one pair of ends before it counts as not to be joined."""

MOST_LOOPS = 6
"""Searches for a path that keeps off itself."""


@dataclass(frozen=True, slots=True)
class Trace:
    """A routed channel.

    Parameters
    ----------
    runs : tuple of GridRun
    cells : (n,) int
        Every cell of its centreline once, tails included, sorted.
    path : tuple of int
        The same cells run after run, in order along each.
    chosen : tuple of Terminal
        The terminal of each end, in the order of the net's ends.
    cost : float
        Without any price of congestion.
    holes : tuple of int
        Cells (of layer 0) of its through holes.
    trail : tuple of int
        States of the search from its first terminal's cell to its second's; empty for trees.
    """

    runs: tuple[GridRun, ...]
    cells: np.ndarray
    path: tuple[int, ...]
    chosen: tuple[Terminal, ...]
    cost: float
    holes: tuple[int, ...] = ()
    trail: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Kept:
    """Part of a tree: its runs and their path, and the terminals of the ends that it has."""

    runs: tuple[GridRun, ...]
    path: tuple[int, ...]
    chosen: dict[int, Terminal]


def arc_cells(instance: Instance) -> tuple[np.ndarray, np.ndarray]:
    """Return the relative cells of a bend for each direction and turn, two (8, m) int arrays.

    A bend of k cells passes the cells within 0.71 of a cell of its arc, and ends k cells past its corner.
    """
    k = instance.bend_cells
    if k == 0:
        return np.zeros((8, 0), np.int64), np.zeros((8, 0), np.int64)
    radius = instance.bend_radius_cells
    # Local frame: along the old direction u, along the new direction v; the corner at (k, 0).
    near = []
    for u in range(k + 1):
        for v in range(k + 1):
            on_arc = u > k - radius and v < radius
            off = (
                abs(math.hypot(u - (k - radius), v - radius) - radius)
                if on_arc
                else min(abs(v) if u <= k - radius else math.inf, abs(u - k) if v >= radius else math.inf)
            )
            if off <= 0.71 and (u, v) not in ((0, 0), (k, k)):
                near.append((u, v))
    near.append((k, k))
    xs, ys = [], []
    for d in range(4):
        for turn in range(2):
            nd = (d + 1) % 4 if turn == 0 else (d + 3) % 4
            xs.append([u * DX[d] + v * DX[nd] for u, v in near])
            ys.append([u * DY[d] + v * DY[nd] for u, v in near])
    return np.array(xs, np.int64), np.array(ys, np.int64)


@dataclass(frozen=True, slots=True)
class _TeePlaces:
    """Where a branch may begin on a tree so far.

    `own` (cells,) bool is blocked for it; the Ts' cells (n,), their straight stubs (n, reach), the states past these,
    what the stubs' cells but the last are priced at (n,); and the tree as its flow goes, where legs have their own
    rates.
    """

    own: np.ndarray
    tees: np.ndarray
    stubs: np.ndarray
    starts: Starts
    price: np.ndarray
    flow: TreeFlow | None


class Guide(Protocol):
    """Finds one path in place of the plain search: one of a given course past the other channels."""

    def find(
        self,
        blocked: np.ndarray,
        cell_price: np.ndarray,
        sources: np.ndarray,
        source_cost: np.ndarray,
        goal: np.ndarray,
        goal_cost: np.ndarray,
    ) -> tuple[list[int], float] | None:
        """Return the states of the cheapest path, first to last, and its cost; None where there is none.

        The arguments are those of `find_path`.
        """


class Tracer:
    """Work space for finding single channels of one instance; holds no result.

    `narrowed` is set once a path had to be kept off itself by blocking cells: costs found then bound nothing.
    `least` is a lower bound of the last trace's priced cost where its net has two ends.

    Parameters
    ----------
    instance : Instance
    floors : list of (classes, cells) bool or None
        For each net what is blocked whenever it is traced; None: what the instance blocks.
    """

    def __init__(self, instance: Instance, floors: list[np.ndarray] | None = None) -> None:
        self.instance = instance
        self.plane = instance.columns * instance.rows
        self.arc_x, self.arc_y = arc_cells(instance)
        self.distance = np.full(instance.cells * 4, INFINITE)
        self.parent = np.empty(instance.cells * 4, np.int64)
        self.goal = np.full(instance.cells * 4, -1, np.int64)
        self.near = np.zeros(instance.cells, np.int32)
        self.stamp = np.zeros(instance.cells, np.int64)
        self.tag = 0
        self.narrowed = False
        self.least = math.inf
        self.rates: Rates = instance.rates
        self.guides: dict[str, Guide] = {}
        self.guide: Guide | None = None
        self.trail: tuple[int, ...] = ()
        self.channel_class = CHANNEL
        self.own = instance.offsets[CHANNEL][CHANNEL]
        self.own_reach = int(np.abs(self.own).max()) + 1
        self.tables = {
            net.name: tuple(EndTable(end, net.channel_class) for end in net.ends) for net in instance.nets
        }
        self.floors = {
            net.name: instance.blocked if floors is None else floors[n] for n, net in enumerate(instance.nets)
        }
        self.distances: dict[tuple[str, int, Rates], np.ndarray] = {}
        self.group_distances: dict[tuple[str, tuple[int, ...], Rates], np.ndarray] = {}
        self.clear: dict[tuple[str, int, int, int], np.ndarray] = {}

    def trace(
        self,
        net: Net,
        blocked: np.ndarray,
        cell_price: np.ndarray,
        end_price: np.ndarray | None = None,
        pair: tuple[int, int] | None = None,
        busy: np.ndarray | None = None,
        kept: Kept | None = None,
    ) -> Trace | None:
        """Return the cheapest channel found for these prices, or None where an end cannot be reached.

        Parameters
        ----------
        net : Net
        blocked : (classes, cells) bool
        cell_price : (cells,) float
            Price of congestion for a channel's cell.
        end_price : (classes, cells) float or None
            Price of congestion where a port of a class stands.
        pair : (int, int) or None
            The ends that a tree joins first, by default its first end and the cheapest to reach; the
            others follow, the cheapest next.
        busy : (cells,) bool or None
            Where other nets keep channels away: tails, which lie in cells blocked by their own tank or
            bore, are held against this instead.
        kept : Kept or None
            Part of a tree to which the other ends are attached.
        """
        self.guide = self.guides.get(net.name)
        self.least = math.inf
        self.use(net)
        if net.straight_down:
            return self._trace_down(net, blocked, cell_price)
        tables = self.tables[net.name]
        usable = [table.usable(blocked, busy) for table in tables]
        prices = [table.prices(cell_price, end_price) for table in tables]
        first = pair[0] if pair else 0
        chosen: dict[int, Terminal] = dict(kept.chosen) if kept else {}
        runs: list[GridRun] = list(kept.runs) if kept else []
        path: list[int] = list(kept.path) if kept else []
        cells = set(path)
        waiting = [e for e in range(len(tables)) if e not in chosen and (kept or e != first)]
        cost = 0.0
        while waiting:
            if runs:
                places = self._tee_places(net, runs, path, chosen, blocked, cell_price)
                found_ends = []
                for group in _group_ends(net, waiting):
                    found = self._attach(net, usable, prices, group, chosen, places, cell_price)
                    if found is not None:
                        found_ends.append(found)
                best = min(found_ends, key=lambda found: found[0], default=None)
            else:
                tried = []
                for end in [pair[1]] if pair else waiting:
                    self._use_leg(net, first if end == find_root(net) else end)
                    found = self._join(net, usable, prices, first, end, blocked, cell_price)
                    if found:
                        tried.append((*found, end))
                best = min(tried, key=lambda found: found[0], default=None)
            if best is None:
                return None
            _, true_cost, found_runs, run_cells, terminals, end = best
            runs.extend(found_runs)
            cells.update(run_cells)
            path.extend(run_cells)
            chosen.update(terminals)
            cost += true_cost
            waiting.remove(end)
        trace = Trace(
            tuple(runs),
            np.array(sorted(cells), np.int64),
            tuple(path),
            tuple(chosen[e] for e in range(len(tables))),
            cost,
            self._holes(path),
            self.trail if len(tables) == 2 else (),
        )
        return trace if len(tables) == 2 else replace(trace, cost=tree_cost(self.instance, net, trace))

    def use(self, net: Net) -> None:
        """Take a net's rates and class for what follows."""
        self.rates = self.instance.rates_of(net)
        self.channel_class = net.channel_class
        self.own = self.instance.offsets[self.channel_class][self.channel_class]
        self.own_reach = int(np.abs(self.own).max()) + 1

    def _use_leg(self, net: Net, end: int) -> None:
        """Take the rates of the leg at an end, where a tree's legs have their own."""
        if net.leg_rates:
            self.rates = net.leg_rates[1 << end]

    def read_trail(self, net: Net, trail: tuple[int, ...], start: Terminal, goal: Terminal) -> Trace:
        """Return the channel of a net of two ends whose path has these states, first to last."""
        self.use(net)
        if net.straight_down:
            return self._column(trail, start, goal)
        runs, cells = self._runs(list(trail), start, goal, 0, 1)
        return Trace(
            runs,
            np.array(sorted(set(cells)), np.int64),
            tuple(cells),
            (start, goal),
            self._cost(list(trail), start, goal.cost),
            self._holes(cells),
            tuple(trail),
        )

    def _holes(self, path: list[int]) -> tuple[int, ...]:
        """Return the cells of layer 0 at which a path passes to the other layer."""
        if self.instance.layers == 1:
            return ()
        return tuple(min(a, b) for a, b in pairwise(path) if abs(a - b) == self.plane)

    def ahead_of(self, net: Net, end: int) -> np.ndarray:
        """Return the least cost from every state to an end of a net, at the present rates, (cells * 4,) float."""
        key = (net.name, end, self.rates)
        if key not in self.distances:
            instance, table = self.instance, self.tables[net.name][end]
            floor = self.floors[net.name][net.channel_class]
            may = ~floor[table.cell[table.owner]]
            self.distances[key] = measure_ahead(
                instance.columns,
                instance.rows,
                instance.layers,
                floor,
                float(self.rates.step),
                float(self._bend()),
                float(self.rates.through),
                self.arc_x,
                self.arc_y,
                table.arriving[may],
                table.cost[table.owner[may]],
            )
        return self.distances[key]

    def _bend(self) -> float:
        """Return the cost of the move that is a bend: its corner's steps included."""
        return self.rates.bend + 2 * self.instance.bend_cells * self.rates.step

    def _join(  # type: ignore[no-untyped-def]
        self, net, usable, prices, first, end, blocked, cell_price
    ):
        """Return (priced cost, cost, runs, cells, terminals) of the cheapest path between two ends.

        Where the cheapest pair of ports stands too near each other the pairs are split in two, those without
        its start and those with it and a far enough goal, and the cheapest of all is looked for again.
        """
        table, goals = self.tables[net.name][first], self.tables[net.name][end]
        ahead = self.ahead_of(net, end)
        count = 0
        waiting: list[tuple[float, int, np.ndarray, np.ndarray, tuple]] = []

        def look(sources: np.ndarray, targets: np.ndarray) -> None:
            nonlocal count
            may = targets[goals.owner]
            found = self._search_apart(
                table,
                sources,
                prices[first],
                goals.arriving[may],
                goals.owner[may],
                prices[end],
                blocked[self.channel_class],
                cell_price,
                ahead,
                lambda trail, start, goal: self._runs(
                    trail, table.terminals[start], goals.terminals[goal], first, end
                ),
            )
            if found is not None:
                count += 1
                heapq.heappush(waiting, (found[0], count, sources, targets, found))

        look(usable[first], usable[end])
        while waiting and count <= MOST_PAIRS:
            priced, _, sources, targets, (_, trail, number, goal, runs, run_cells) = heapq.heappop(waiting)
            start = table.terminals[number]
            clear = self._clear_of(goals, {first: start})
            if clear[goal]:
                target = goals.terminals[goal]
                self.trail = tuple(trail)
                return (
                    priced,
                    self._cost(trail, start, target.cost),
                    runs,
                    run_cells,
                    {first: start, end: target},
                )
            this = np.arange(len(table.terminals)) == number
            look(sources & ~this, targets)
            look(sources & this, targets & clear)
        return None

    def _tee_places(
        self,
        net: Net,
        runs: list[GridRun],
        path: list[int],
        chosen: dict[int, Terminal],
        blocked: np.ndarray,
        cell_price: np.ndarray,
    ) -> _TeePlaces:
        """Return where a branch may begin on the runs so far."""
        own = blocked[self.channel_class]
        if self.instance.bend_cells == 0:
            tees = np.repeat(np.array(sorted(set(path)), np.int64), 4)
            stubs = np.zeros((len(tees), 0), np.int64)
            states = tees * 4 + np.tile(np.arange(4), len(tees) // 4)
        else:
            own = own.copy()
            self._block_own(own, set(path))
            tees, stubs, away = self._stubs(self._free_places(runs), blocked[self.channel_class], own)
            states = stubs[:, -1] * 4 + away
        # The search itself pays for the cell that it begins at.
        price = cell_price[stubs[:, :-1]].sum(axis=1)
        flow = None
        if net.leg_rates:
            ways = split_path(self.plane, self.instance.columns, runs, path)
            flow = follow_flow(net, ways, chosen)
        return _TeePlaces(
            own, tees, stubs, Starts((), states >> 2, np.arange(len(tees)), states), price, flow
        )

    def _attach(  # type: ignore[no-untyped-def]
        self, net, usable, prices, group, chosen, places, cell_price
    ):
        """Return the cheapest path from any end of a group to a T on the runs so far, as `_join` does, and the end.

        It is looked for from the Ts: what is missing to the ends is known for every state.
        """
        self._use_leg(net, group[0])
        tables = self.tables[net.name]
        tees, stubs = places.tees, places.stubs
        tee_prices = places.price + (self.rates.tee + self.rates.step * stubs.shape[1])
        if places.flow is not None:
            dearer = price_upgrades(net, places.flow, group[0])
            tee_prices = tee_prices + np.array([dearer.get(cell, 0.0) for cell in tees.tolist()])
        states, owners = [], []
        firsts = [0]
        for end in group:
            table = tables[end]
            may = usable[end] & ~places.own[table.cell] & self._clear_of_all(net, end, chosen)
            here = may[table.owner]
            states.append(table.arriving[here])
            owners.append(table.owner[here] + firsts[-1])
            firsts.append(firsts[-1] + len(table.terminals))

        def end_of(number: int) -> tuple[int, Terminal]:
            place = next(n for n in range(len(group)) if number < firsts[n + 1])
            return group[place], tables[group[place]].terminals[number - firsts[place]]

        def make_runs(trail: list[int], tee: int, number: int) -> tuple[tuple[GridRun, ...], list[int]]:
            stub = [int(c) for c in stubs[tee]]
            tail = (int(tees[tee]), *stub[:-1]) if stub else ()
            landing = Terminal(cell=trail[0] >> 2, node=int(tees[tee]), tail=tail)
            end, terminal = end_of(number)
            return self._runs(_turn_round(trail), terminal, landing, end, TEE)

        found = self._search_apart(
            places.starts,
            np.ones(len(tees), dtype=bool),
            tee_prices,
            np.concatenate(states),
            np.concatenate(owners),
            np.concatenate([prices[end] for end in group]),
            places.own,
            cell_price,
            self._ahead_of_group(net, group),
            make_runs,
        )
        if found is None:
            return None
        priced, trail, _, number, found_runs, run_cells = found
        end, terminal = end_of(number)
        true_cost = self._cost(_turn_round(trail), terminal, 0.0)
        true_cost += self.rates.tee + self.rates.step * stubs.shape[1]
        return priced, true_cost, found_runs, run_cells, {end: terminal}, end

    def _ahead_of_group(self, net: Net, group: list[int]) -> np.ndarray:
        """Return the least cost from every state to any end of a group, at the present rates, (cells * 4,) float."""
        if len(group) == 1:
            return self.ahead_of(net, group[0])
        key = (net.name, tuple(group), self.rates)
        if key not in self.group_distances:
            self.group_distances[key] = np.minimum.reduce([self.ahead_of(net, end) for end in group])
        return self.group_distances[key]

    def _free_places(self, runs: list[GridRun]) -> list[tuple[int, int]]:
        """Return the (cell, direction) at which a T may stand, those beside an earlier T left out."""
        columns, rows, margin = self.instance.columns, self.instance.rows, self.instance.tee_margin
        tees = [(*run.corners[-1], run.layer) for run in runs if run.last == TEE]
        return [
            (cell, along)
            for run in runs
            for cell, along in run.straight
            if all(
                abs(cell % columns - x) + abs(cell // columns % rows - y) >= margin
                for x, y, layer in tees
                if layer == run.layer
            )
        ]

    def _block_own(self, own: np.ndarray, cells: set[int]) -> None:
        """Block, in place, what lies too near the channel's own cells."""
        columns, rows = self.instance.columns, self.instance.rows
        at = np.array(sorted(cells), np.int64)
        x = (at % columns)[:, None] + self.own[None, :, 0]
        y = (at // columns % rows)[:, None] + self.own[None, :, 1]
        base = (at - at % self.plane)[:, None]
        inside = (x >= 0) & (x < columns) & (y >= 0) & (y < rows)
        own[(base + y * columns + x)[inside]] = True

    def _stubs(
        self, places: list[tuple[int, int]], blocked: np.ndarray, own: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return the Ts that may stand: their cells (n,), straight stubs (n, reach) and directions (n,)."""
        columns, rows = self.instance.columns, self.instance.rows
        cells = np.array([c for c, _ in places for _ in range(2)], np.int64)
        away = np.array([(d + turn) % 4 for _, d in places for turn in (1, 3)], np.int64)
        steps = np.arange(1, self.own_reach + 1)
        x = (cells % columns)[:, None] + np.array(DX)[away][:, None] * steps
        y = (cells // columns % rows)[:, None] + np.array(DY)[away][:, None] * steps
        inside = ((x >= 0) & (x < columns) & (y >= 0) & (y < rows)).all(axis=1)
        stubs = ((cells - cells % self.plane)[:, None] + y * columns + x)[inside]
        cells, away = cells[inside], away[inside]
        free = ~blocked[stubs].any(axis=1) & ~own[stubs[:, -1]]
        return cells[free], stubs[free], away[free]

    def _clear_of_all(self, net: Net, end: int, chosen: dict[int, Terminal]) -> np.ndarray:
        """Return which terminals of an end keep their distance from the ports that the channel has, (n,) bool."""
        table = self.tables[net.name][end]
        out = np.ones(len(table.terminals), dtype=bool)
        for other, t in chosen.items():
            key = (net.name, end, other, t.node)
            if key not in self.clear:
                self.clear[key] = self._clear_of(table, {other: t})
            out &= self.clear[key]
        return out

    def _clear_of(self, table: EndTable, chosen: dict[int, Terminal]) -> np.ndarray:
        """Return which terminals keep their distance from the ports that the channel has already, (n,) bool."""
        instance = self.instance
        out = np.ones(len(table.terminals), dtype=bool)
        for other in chosen.values():
            if other.port_class == CHANNEL:
                continue
            there = np.array([other.node, *other.bore], np.int64)
            for port_class in np.unique(table.port_class[table.port_class != CHANNEL]):
                self.tag += 1
                near = self.near
                near[:] = 0
                mark_near(
                    instance.columns,
                    instance.rows,
                    there,
                    instance.offsets[other.port_class][port_class],
                    1,
                    near,
                    self.stamp,
                    self.tag,
                )
                here = table.port_class == port_class
                out[here] &= near[table.node[here]] == 0
                for n, cells in table.bores:
                    if here[n] and near[cells].any():
                        out[n] = False
        return out

    def _search_apart(  # type: ignore[no-untyped-def]
        self,
        table,
        usable,
        prices,
        goal_states,
        goal_numbers,
        goal_cost,
        blocked,
        cell_price,
        ahead,
        make_runs,
    ):
        """Return what `_search` finds with its runs, once they keep off themselves; None where they will not.

        A cheapest path may come back to itself, since a bend passes cells that a straight way would enter.
        The cells where it does are blocked and the search begun again.
        """
        for _ in range(MOST_LOOPS):
            found = self._search(
                table, usable, prices, goal_states, goal_numbers, goal_cost, blocked, cell_price, ahead
            )
            if found is None:
                return None
            priced, trail, start, goal = found
            self.least = min(self.least, priced)
            runs, run_cells = make_runs(trail, start, goal)
            near = find_return(self.instance, *runs, channel_class=self.channel_class)
            if not near:
                return priced, trail, start, goal, runs, run_cells
            # What is found from here on is no longer sure to be the cheapest there is.
            self.narrowed = True
            blocked = blocked.copy()
            blocked[near] = True
        return None

    def _search(  # type: ignore[no-untyped-def]
        self, table, usable, prices, goal_states, goal_numbers, goal_cost, blocked, cell_price, ahead
    ):
        instance = self.instance
        may = usable[table.owner]
        sources, owner = table.leaving[may], table.owner[may]
        if not len(sources) or not len(goal_states):
            return None
        # Where two goals share a state the cheaper one holds it; so with sources.
        rank = np.argsort(-goal_cost[goal_numbers], kind="stable")
        self.goal[goal_states[rank]] = goal_numbers[rank]
        source_prices = (prices + cell_price[table.cell])[owner]
        if self.guide is not None:
            guided = self.guide.find(blocked, cell_price, sources, source_prices, self.goal, goal_cost)
            goal = int(self.goal[guided[0][-1]]) if guided is not None else -1
            self.goal[goal_states] = -1
            if guided is None:
                return None
            same = np.flatnonzero(sources == guided[0][0])
            start = int(owner[same[np.argmin(source_prices[same])]])
            return guided[1], guided[0], start, goal
        end, cost = find_path(
            instance.columns,
            instance.rows,
            instance.layers,
            blocked,
            cell_price,
            float(self.rates.step),
            float(self._bend()),
            float(self.rates.through),
            self.arc_x,
            self.arc_y,
            sources,
            source_prices,
            self.goal,
            goal_cost,
            ahead,
            self.distance,
            self.parent,
        )
        goal = int(self.goal[end]) if end >= 0 else -1
        self.goal[goal_states] = -1
        if end < 0 or cost >= INFINITE:
            return None
        trail = [int(end)]
        while self.parent[trail[-1]] >= 0:
            trail.append(int(self.parent[trail[-1]]))
        trail.reverse()
        same = np.flatnonzero(sources == trail[0])
        start = int(owner[same[np.argmin(source_prices[same])]])
        return float(cost), trail, start, goal

    def _cost(self, trail: list[int], start: Terminal, extra: float) -> float:
        holes = sum(1 for a, b in pairwise(trail) if self._is_hole(a, b))
        bends = sum(1 for a, b in pairwise(trail) if (a & 3) != (b & 3) and not self._is_hole(a, b))
        moves = len(trail) - 1 - bends - holes
        rates = self.rates
        return start.cost + extra + moves * rates.step + bends * self._bend() + holes * rates.through

    def _is_hole(self, a: int, b: int) -> bool:
        return self.instance.layers > 1 and abs((a >> 2) - (b >> 2)) == self.plane

    def _runs(
        self, trail: list[int], start: Terminal, target: Terminal, first: int, last: int
    ) -> tuple[tuple[GridRun, ...], list[int]]:
        """Return the runs of a trail of states, with the tails of both terminals, and their cells."""
        columns, k = self.instance.columns, self.instance.bend_cells
        cells = [*start.tail, trail[0] >> 2]
        ways: list[list[tuple[int, int]]] = [[self._place(start.node)]]
        for a, b in pairwise(trail):
            d, nd = a & 3, b & 3
            x, y = self._place(a >> 2)
            if self._is_hole(a, b):
                cells.append(b >> 2)
                ways[-1].append((x, y))
                ways.append([(x, y)])
                continue
            if d == nd:
                cells.append(b >> 2)
                continue
            ways[-1].append((x + k * DX[d], y + k * DY[d]))
            row = d * 2 + (0 if nd == (d + 1) % 4 else 1)
            cells.extend(
                int((a >> 2) + self.arc_y[row, m] * columns + self.arc_x[row, m])
                for m in range(self.arc_x.shape[1])
            )
        cells.extend(reversed(target.tail))
        ways[-1].append(self._place(target.node))
        layer = (trail[0] >> 2) // self.plane
        runs = []
        for n, way in enumerate(ways):
            points = [p for m, p in enumerate(way) if m == 0 or p != way[m - 1]]
            places = tuple(points if len(points) > 1 else points * 2)
            runs.append(
                GridRun(
                    places,
                    first if n == 0 else HOLE,
                    last if n == len(ways) - 1 else HOLE,
                    self._straight_cells(places, layer),
                    layer,
                )
            )
            layer = 1 - layer
        return tuple(runs), cells

    def _place(self, cell: int) -> tuple[int, int]:
        """Return a cell's column and row."""
        columns = self.instance.columns
        return int(cell) % columns, int(cell) // columns % self.instance.rows

    def _straight_cells(
        self, corners: tuple[tuple[int, int], ...], layer: int
    ) -> tuple[tuple[int, int], ...]:
        """Return the cells of a polyline at which a T may stand, with the direction along it."""
        k = self.instance.bend_cells
        if k == 0:
            return ()
        margin = self.instance.tee_margin
        out: list[tuple[int, int]] = []
        for n, ((ax, ay), (bx, by)) in enumerate(pairwise(corners)):
            length = abs(bx - ax) + abs(by - ay)
            if length == 0:
                continue
            sx, sy = (bx > ax) - (bx < ax), (by > ay) - (by < ay)
            d = DX.index(sx) if sx else (1 if sy > 0 else 3)
            before = margin if n == 0 else k
            after = margin if n == len(corners) - 2 else k
            out.extend(
                (layer * self.plane + (ay + sy * m) * self.instance.columns + ax + sx * m, d)
                for m in range(before, length - after + 1)
            )
        return tuple(out)

    def _trace_down(self, net: Net, blocked: np.ndarray, cell_price: np.ndarray) -> Trace | None:
        """Return the cheapest straight column from an upper end down to a lower one."""
        columns = self.instance.columns

        def by_column(end: tuple[Terminal, ...]) -> dict[tuple[int, int], Terminal]:
            return {(t.cell // self.plane, t.cell % columns): t for t in end}

        upper, lower = by_column(net.ends[0]), by_column(net.ends[1])
        best: tuple[float, np.ndarray, Terminal, Terminal] | None = None
        for column in sorted(upper):
            if column not in lower or lower[column].cell > upper[column].cell:
                continue
            top, bottom = upper[column], lower[column]
            cells = np.arange(top.cell, bottom.cell - 1, -columns)
            if blocked[self.channel_class, cells].any():
                continue
            priced = self.rates.step * (len(cells) - 1) + float(cell_price[cells].sum())
            if best is None or priced < best[0] - 1e-9:
                best = (priced, cells, top, bottom)
        if best is None:
            return None
        self.least, cells, top, bottom = best
        return self._column(tuple(int(c) * 4 + 3 for c in cells), top, bottom)

    def _column(self, trail: tuple[int, ...], top: Terminal, bottom: Terminal) -> Trace:
        """Return the straight column of a trail of states downwards."""
        path = tuple(state >> 2 for state in trail)
        run = GridRun((self._place(path[0]), self._place(path[-1])), 0, 1, (), path[0] // self.plane)
        cost = self.rates.step * (len(path) - 1)
        return Trace((run,), np.array(sorted(path), np.int64), path, (top, bottom), cost, (), trail)


def _group_ends(net: Net, waiting: list[int]) -> list[list[int]]:
    """Return ends by the rates of their legs: those of one rate are searched for at once."""
    if not net.leg_rates:
        return [waiting]
    groups: dict[Rates, list[int]] = {}
    for end in waiting:
        groups.setdefault(net.leg_rates[1 << end], []).append(end)
    return list(groups.values())


def _turn_round(trail: list[int]) -> list[int]:
    """Return a trail of states from its last to its first."""
    return [state ^ 2 for state in reversed(trail)]
