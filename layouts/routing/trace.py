"""One channel on the grid: its runs, its cells, its cost; and how one is found for given prices."""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np

from layouts.routing.ends import EndTable, Starts
from layouts.routing.instance import CHANNEL, DX, DY, Instance, Net, Rates, Terminal
from layouts.routing.runs import TEE, GridRun, find_return
from layouts.routing.search import INFINITE, find_path, mark_near

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
    """

    runs: tuple[GridRun, ...]
    cells: np.ndarray
    path: tuple[int, ...]
    chosen: tuple[Terminal, ...]
    cost: float
    holes: tuple[int, ...] = ()


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
    """

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.arc_x, self.arc_y = arc_cells(instance)
        self.distance = np.empty(instance.cells * 4)
        self.parent = np.empty(instance.cells * 4, np.int64)
        self.goal = np.full(instance.cells * 4, -1, np.int64)
        self.near = np.zeros(instance.cells, np.int32)
        self.stamp = np.zeros(instance.cells, np.int64)
        self.tag = 0
        self.narrowed = False
        self.rates: Rates = instance.rates
        self.guides: dict[str, Guide] = {}
        self.guide: Guide | None = None
        self.own = instance.offsets[CHANNEL][CHANNEL]
        self.own_reach = int(np.abs(self.own).max()) + 1
        self.tables = {net.name: tuple(EndTable(end) for end in net.ends) for net in instance.nets}

    def trace(
        self,
        net: Net,
        blocked: np.ndarray,
        cell_price: np.ndarray,
        end_price: np.ndarray | None = None,
        pair: tuple[int, int] | None = None,
        busy: np.ndarray | None = None,
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
        """
        self.rates = self.instance.rates_of(net)
        self.guide = self.guides.get(net.name)
        if net.straight_down:
            return self._trace_down(net, blocked, cell_price)
        tables = self.tables[net.name]
        usable = [table.usable(blocked, busy) for table in tables]
        prices = [table.prices(cell_price, end_price) for table in tables]
        first = pair[0] if pair else 0
        waiting = [e for e in range(len(tables)) if e != first]
        chosen: dict[int, Terminal] = {}
        runs: list[GridRun] = []
        cells: set[int] = set()
        path: list[int] = []
        cost = 0.0
        while waiting:
            if runs:
                best = self._attach(tables, usable, prices, waiting, chosen, runs, cells, blocked, cell_price)
            else:
                tried = [
                    (*found, end)
                    for end in ([pair[1]] if pair else waiting)
                    if (found := self._join(tables, usable, prices, first, end, blocked, cell_price))
                ]
                best = min(tried, key=lambda found: found[0], default=None)
            if best is None:
                return None
            _, true_cost, run, run_cells, terminals, end = best
            runs.append(run)
            cells.update(run_cells)
            path.extend(run_cells)
            chosen.update(terminals)
            cost += true_cost
            waiting.remove(end)
        return Trace(
            tuple(runs),
            np.array(sorted(cells), np.int64),
            tuple(path),
            tuple(chosen[e] for e in range(len(tables))),
            cost,
        )

    def _join(  # type: ignore[no-untyped-def]
        self, tables, usable, prices, first, end, blocked, cell_price
    ):
        """Return (priced cost, cost, run, cells, terminals) of the cheapest path between two ends.

        Where the cheapest pair of ports stands too near each other the pairs are split in two, those without
        its start and those with it and a far enough goal, and the cheapest of all is looked for again.
        """
        table, goals = tables[first], tables[end]
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
                blocked[CHANNEL],
                cell_price,
                lambda trail, start, goal: self._run(
                    trail, table.terminals[start], goals.terminals[goal], first, end
                ),
            )
            if found is not None:
                count += 1
                heapq.heappush(waiting, (found[0], count, sources, targets, found))

        look(usable[first], usable[end])
        while waiting and count <= MOST_PAIRS:
            priced, _, sources, targets, (_, trail, number, goal, run, run_cells) = heapq.heappop(waiting)
            start = table.terminals[number]
            clear = self._clear_of(goals, {first: start})
            if clear[goal]:
                target = goals.terminals[goal]
                return (
                    priced,
                    self._cost(trail, start, target.cost),
                    run,
                    run_cells,
                    {first: start, end: target},
                )
            this = np.arange(len(table.terminals)) == number
            look(sources & ~this, targets)
            look(sources & this, targets & clear)
        return None

    def _attach(  # type: ignore[no-untyped-def]
        self, tables, usable, prices, waiting, chosen, runs, cells, blocked, cell_price
    ):
        """Return the cheapest path from any waiting end to a T on the runs so far, as `_join` does, and the end."""
        instance = self.instance
        own = blocked[CHANNEL].copy()
        if instance.bend_cells == 0:
            tees = np.array(sorted(cells), np.int64)
            stubs = np.zeros((len(tees), 0), np.int64)
            tee_prices = np.zeros(len(tees))
            states = (tees[:, None] * 4 + np.arange(4)).ravel()
            numbers = np.repeat(np.arange(len(tees)), 4)
        else:
            self._block_own(own, cells)
            places = self._free_places(runs)
            tees, stubs, away = self._stubs(places, blocked[CHANNEL], own)
            tee_prices = self.rates.tee + self.rates.step * stubs.shape[1] + cell_price[stubs].sum(axis=1)
            states = stubs[:, -1] * 4 + (away + 2) % 4
            numbers = np.arange(len(tees))

        firsts = np.cumsum([0, *(len(tables[end].terminals) for end in waiting)])
        starts = Starts(
            tuple(t for end in waiting for t in tables[end].terminals),
            np.concatenate([tables[end].cell for end in waiting]),
            np.concatenate([tables[end].owner + n for end, n in zip(waiting, firsts[:-1], strict=True)]),
            np.concatenate([tables[end].leaving for end in waiting]),
        )
        may = np.concatenate([usable[end] & self._clear_of(tables[end], chosen) for end in waiting])

        def end_of(start: int) -> int:
            return int(waiting[int(np.searchsorted(firsts, start, side="right")) - 1])

        def make_run(trail: list[int], start: int, goal: int) -> tuple[GridRun, list[int]]:
            stub = [int(c) for c in stubs[goal]]
            tail = (int(tees[goal]), *stub[:-1]) if stub else ()
            landing = Terminal(cell=trail[-1] >> 2, node=int(tees[goal]), tail=tail)
            return self._run(trail, starts.terminals[start], landing, end_of(start), TEE)

        found = self._search_apart(
            starts,
            may,
            np.concatenate([prices[end] for end in waiting]),
            states,
            numbers,
            tee_prices,
            own,
            cell_price,
            make_run,
        )
        if found is None:
            return None
        priced, trail, start, _, run, run_cells = found
        terminal = starts.terminals[start]
        true_cost = self._cost(trail, terminal, 0.0)
        if stubs.shape[1]:
            true_cost += self.rates.tee + self.rates.step * stubs.shape[1]
        end = end_of(start)
        return priced, true_cost, run, run_cells, {end: terminal}, end

    def _free_places(self, runs: list[GridRun]) -> list[tuple[int, int]]:
        """Return the (cell, direction) at which a T may stand, those beside an earlier T left out."""
        columns, margin = self.instance.columns, self.instance.tee_margin
        tees = [run.corners[-1] for run in runs if run.last == TEE]
        return [
            (cell, along)
            for run in runs
            for cell, along in run.straight
            if all(abs(cell % columns - x) + abs(cell // columns - y) >= margin for x, y in tees)
        ]

    def _block_own(self, own: np.ndarray, cells: set[int]) -> None:
        """Block, in place, what lies too near the channel's own cells."""
        columns, rows = self.instance.columns, self.instance.rows
        at = np.array(sorted(cells), np.int64)
        x = (at % columns)[:, None] + self.own[None, :, 0]
        y = (at // columns)[:, None] + self.own[None, :, 1]
        inside = (x >= 0) & (x < columns) & (y >= 0) & (y < rows)
        own[y[inside] * columns + x[inside]] = True

    def _stubs(
        self, places: list[tuple[int, int]], blocked: np.ndarray, own: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return the Ts that may stand: their cells (n,), straight stubs (n, reach) and directions (n,)."""
        columns, rows = self.instance.columns, self.instance.rows
        cells = np.array([c for c, _ in places for _ in range(2)], np.int64)
        away = np.array([(d + turn) % 4 for _, d in places for turn in (1, 3)], np.int64)
        steps = np.arange(1, self.own_reach + 1)
        x = (cells % columns)[:, None] + np.array(DX)[away][:, None] * steps
        y = (cells // columns)[:, None] + np.array(DY)[away][:, None] * steps
        inside = ((x >= 0) & (x < columns) & (y >= 0) & (y < rows)).all(axis=1)
        stubs = (y * columns + x)[inside]
        cells, away = cells[inside], away[inside]
        free = ~blocked[stubs].any(axis=1) & ~own[stubs[:, -1]]
        return cells[free], stubs[free], away[free]

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
        self, table, usable, prices, goal_states, goal_numbers, goal_cost, blocked, cell_price, make_run
    ):
        """Return what `_search` finds with its run, once the run keeps off itself; None where it will not.

        A cheapest path may come back to itself, since a bend passes cells that a straight way would enter.
        The cells where it does are blocked and the search begun again.
        """
        for _ in range(MOST_LOOPS):
            found = self._search(
                table, usable, prices, goal_states, goal_numbers, goal_cost, blocked, cell_price
            )
            if found is None:
                return None
            priced, trail, start, goal = found
            run, run_cells = make_run(trail, start, goal)
            near = find_return(self.instance, run)
            if not near:
                return priced, trail, start, goal, run, run_cells
            # What is found from here on is no longer sure to be the cheapest there is.
            self.narrowed = True
            blocked = blocked.copy()
            blocked[near] = True
        return None

    def _search(  # type: ignore[no-untyped-def]
        self, table, usable, prices, goal_states, goal_numbers, goal_cost, blocked, cell_price
    ):
        instance = self.instance
        may = usable[table.owner]
        sources, owner = table.leaving[may], table.owner[may]
        if not len(sources) or not len(goal_states):
            return None
        # Where two goals share a state the cheaper one holds it; so with sources.
        rank = np.argsort(-goal_cost[goal_numbers], kind="stable")
        self.goal[goal_states[rank]] = goal_numbers[rank]
        x = (goal_states >> 2) % instance.columns
        y = (goal_states >> 2) // instance.columns
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
            blocked,
            cell_price,
            self.rates.step,
            self.rates.bend + 2 * instance.bend_cells * self.rates.step,
            self.arc_x,
            self.arc_y,
            self.arc_x.shape[1],
            sources,
            source_prices,
            self.goal,
            goal_cost,
            np.array([x.min(), y.min(), x.max(), y.max()], np.int64),
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
        bends = sum(1 for a, b in pairwise(trail) if (a & 3) != (b & 3))
        moves = len(trail) - 1 - bends
        rates = self.rates
        each_bend = rates.bend + 2 * self.instance.bend_cells * rates.step
        return start.cost + extra + moves * rates.step + bends * each_bend

    def _run(
        self, trail: list[int], start: Terminal, target: Terminal, first: int, last: int
    ) -> tuple[GridRun, list[int]]:
        """Return the run of a trail of states, with the tails of both terminals, and its cells."""
        instance = self.instance
        columns, k = instance.columns, instance.bend_cells
        cells = [*start.tail, trail[0] >> 2]
        corners = [start.node % columns + 1j * (start.node // columns)]
        for a, b in pairwise(trail):
            d, nd = a & 3, b & 3
            x, y = (a >> 2) % columns, (a >> 2) // columns
            if d == nd:
                cells.append(b >> 2)
                continue
            corners.append(complex(x + k * DX[d], y + k * DY[d]))
            row = d * 2 + (0 if nd == (d + 1) % 4 else 1)
            cells.extend(
                int((y + self.arc_y[row, m]) * columns + x + self.arc_x[row, m])
                for m in range(self.arc_x.shape[1])
            )
        cells.extend(reversed(target.tail))
        corners.append(target.node % columns + 1j * (target.node // columns))
        points = [p for n, p in enumerate(corners) if n == 0 or p != corners[n - 1]]
        if len(points) == 1:
            points = points * 2
        places = tuple((int(p.real), int(p.imag)) for p in points)
        return GridRun(places, first, last, self._straight_cells(places)), cells

    def _straight_cells(self, corners: tuple[tuple[int, int], ...]) -> tuple[tuple[int, int], ...]:
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
                ((ay + sy * m) * self.instance.columns + ax + sx * m, d)
                for m in range(before, length - after + 1)
            )
        return tuple(out)

    def _trace_down(self, net: Net, blocked: np.ndarray, cell_price: np.ndarray) -> Trace | None:
        """Return the cheapest straight column from an upper end down to a lower one."""
        instance = self.instance
        columns = instance.columns
        upper = {t.cell % columns: t for t in net.ends[0]}
        lower = {t.cell % columns: t for t in net.ends[1]}
        best: tuple[float, np.ndarray, Terminal, Terminal] | None = None
        for x in sorted(upper):
            if x not in lower or lower[x].cell > upper[x].cell:
                continue
            y0, y1 = lower[x].cell // columns, upper[x].cell // columns
            cells = np.arange(y1, y0 - 1, -1) * columns + x
            if blocked[CHANNEL, cells].any():
                continue
            priced = self.rates.step * (len(cells) - 1) + float(cell_price[cells].sum())
            if best is None or priced < best[0] - 1e-9:
                best = (priced, cells, upper[x], lower[x])
        if best is None:
            return None
        _, cells, top, bottom = best
        corners = tuple((int(c % columns), int(c // columns)) for c in (cells[0], cells[-1]))
        run = GridRun(corners, 0, 1, ())
        path = tuple(int(c) for c in cells)
        return Trace(
            (run,), np.sort(cells).astype(np.int64), path, (top, bottom), self.rates.step * (len(cells) - 1)
        )
