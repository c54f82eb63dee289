"""One channel on the grid: its runs, its cells, its cost; and how one is found for given prices."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from layouts.routing.instance import CHANNEL, DX, DY, Instance, Net, Terminal
from layouts.routing.search import INFINITE, find_path

TEE = -1


@dataclass(frozen=True, slots=True)
class GridRun:
    """A run from one end of its channel to another, or to a T on an earlier run.

    Parameters
    ----------
    corners : tuple of (int, int)
        (column, row) from the first node to the last, bends and both ends.
    first : int
        Index of the end where it begins.
    last : int
        Index of the end where it stops, or TEE.
    straight : tuple of (int, int)
        (cell, direction) of its cells that lie on a straight, away from bends and ends: a T may stand there.
    """

    corners: tuple[tuple[int, int], ...]
    first: int
    last: int
    straight: tuple[tuple[int, int], ...]


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
    """

    runs: tuple[GridRun, ...]
    cells: np.ndarray
    path: tuple[int, ...]
    chosen: tuple[Terminal, ...]
    cost: float


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


class Tracer:
    """Work space for finding single channels of one instance; holds no result."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.arc_x, self.arc_y = arc_cells(instance)
        self.distance = np.empty(instance.cells * 4)
        self.parent = np.empty(instance.cells * 4, np.int64)
        self.goal = np.full(instance.cells * 4, -1, np.int64)
        own = instance.offsets[CHANNEL][CHANNEL]
        self.own_reach = int(np.abs(own).max()) + 1
        self.busy: np.ndarray | None = None

    def trace(
        self,
        net: Net,
        blocked: np.ndarray,
        cell_price: np.ndarray,
        end_price: dict[int, np.ndarray],
        order: tuple[int, ...] | None = None,
        busy: np.ndarray | None = None,
    ) -> Trace | None:
        """Return the cheapest channel found for these prices, or None where an end cannot be reached.

        Parameters
        ----------
        net : Net
        blocked : (classes, cells) bool
        cell_price : (cells,) float
            Price of congestion for a channel's cell.
        end_price : dict of class to (cells,) float
            Price of congestion where a port of that class stands.
        order : tuple of int or None
            Order in which a tree's ends are joined; by default the cheapest next.
        busy : (cells,) bool or None
            Where other nets keep channels away: tails, which lie in cells blocked by their own tank or
            bore, are held against this instead.
        """
        self.busy = busy
        if net.straight_down:
            return self._trace_down(net, blocked, cell_price)
        first = order[0] if order else 0
        waiting = list(order[1:]) if order else [e for e in range(len(net.ends)) if e != first]
        chosen: dict[int, Terminal] = {}
        runs: list[GridRun] = []
        cells: set[int] = set()
        path: list[int] = []
        cost = 0.0
        while waiting:
            best = None
            for end in waiting[:1] if order else waiting:
                found = (
                    self._join(net, first, end, blocked, cell_price, end_price)
                    if not runs
                    else self._attach(net, end, runs, cells, chosen, blocked, cell_price, end_price)
                )
                if found is not None and (best is None or found[0] < best[0] - 1e-9):
                    best = (*found, end)
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
            tuple(chosen[e] for e in range(len(net.ends))),
            cost,
        )

    def _join(self, net, first, end, blocked, cell_price, end_price):  # type: ignore[no-untyped-def]
        """Return (priced cost, cost, run, cells, terminals) of the cheapest path between two ends."""
        goals = [
            (t, self._terminal_price(t, cell_price, end_price))
            for t in net.ends[end]
            if self._may_end(t, blocked)
        ]
        states = [(t.cell * 4 + (leave + 2) % 4, n) for n, (t, _) in enumerate(goals) for leave in t.leaves]
        found = self._search(
            net.ends[first], states, np.array([g[1] for g in goals]), blocked, cell_price, end_price
        )
        if found is None:
            return None
        priced, trail, start, goal = found
        target = goals[goal][0]
        run, run_cells = self._run(trail, start, target, first, end)
        return priced, self._cost(trail, start, target.cost), run, run_cells, {first: start, end: target}

    def _attach(self, net, end, runs, cells, chosen, blocked, cell_price, end_price):  # type: ignore[no-untyped-def]
        """Return the cheapest path from an end to a T on the runs so far, as `_join` does."""
        instance = self.instance
        columns, rows = instance.columns, instance.rows
        own = blocked[CHANNEL].copy()
        tees: list[tuple[float, int, tuple[int, ...]]] = []
        states: list[tuple[int, int]] = []
        if instance.bend_cells == 0:
            for c in sorted(cells):
                tees.append((0.0, c, ()))
                states.extend((c * 4 + d, len(tees) - 1) for d in range(4))
        else:
            near = np.array(sorted(cells), np.int64)
            xy = np.stack([near % columns, near // columns], axis=1)
            around = (xy[:, None, :] + instance.offsets[CHANNEL][CHANNEL][None, :, :]).reshape(-1, 2)
            inside = (
                (around[:, 0] >= 0) & (around[:, 0] < columns) & (around[:, 1] >= 0) & (around[:, 1] < rows)
            )
            own[around[inside, 1] * columns + around[inside, 0]] = True
            for c, along in [place for run in runs for place in run.straight]:
                for d in ((along + 1) % 4, (along + 3) % 4):
                    stub = self._stub(c, d, blocked)
                    if stub is None or own[stub[-1]]:
                        continue
                    price = instance.tee + sum(instance.step + cell_price[s] for s in stub)
                    tees.append((price, c, stub))
                    states.append((stub[-1] * 4 + (d + 2) % 4, len(tees) - 1))
        if not tees:
            return None
        taken = [(t, instance.offsets[t.port_class]) for t in chosen.values() if t.port_class != CHANNEL]
        starts = tuple(
            t for t in net.ends[end] if not any(self._too_near(t, other, off) for other, off in taken)
        )
        own_blocked = np.vstack([own[None, :], blocked[1:]])
        found = self._search(
            starts, states, np.array([t[0] for t in tees]), own_blocked, cell_price, end_price
        )
        if found is None:
            return None
        priced, trail, start, goal = found
        _, tee_cell, stub = tees[goal]
        true_cost = self._cost(trail, start, 0.0) + (
            instance.tee + instance.step * len(stub) if stub else 0.0
        )
        landing = Terminal(cell=trail[-1] >> 2, node=tee_cell, tail=(tee_cell, *stub[:-1]) if stub else ())
        run, run_cells = self._run(trail, start, landing, end, TEE)
        return priced, true_cost, run, run_cells, {end: start}

    def _search(self, starts, states, goal_cost, blocked, cell_price, end_price):  # type: ignore[no-untyped-def]
        instance = self.instance
        sources: list[int] = []
        prices: list[float] = []
        owners: dict[int, Terminal] = {}
        for t in starts:
            if not self._may_end(t, blocked):
                continue
            price = self._terminal_price(t, cell_price, end_price) + float(cell_price[t.cell])
            for leave in t.leaves:
                state = t.cell * 4 + leave
                if state not in owners:
                    sources.append(state)
                    prices.append(price)
                    owners[state] = t
        if not sources or not states:
            return None
        goal_states = np.array([s for s, _ in states], np.int64)
        goal_numbers = np.array([n for _, n in states], np.int64)
        # Where two goals share a state the cheaper one holds it.
        rank = np.argsort(-goal_cost[goal_numbers], kind="stable")
        self.goal[goal_states[rank]] = goal_numbers[rank]
        x = (goal_states >> 2) % instance.columns
        y = (goal_states >> 2) // instance.columns
        end, cost = find_path(
            instance.columns,
            instance.rows,
            blocked[CHANNEL],
            cell_price,
            instance.step,
            instance.bend + 2 * instance.bend_cells * instance.step,
            self.arc_x,
            self.arc_y,
            self.arc_x.shape[1],
            np.array(sources, np.int64),
            np.array(prices),
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
        return float(cost), trail, owners[trail[0]], goal

    def _may_end(self, t: Terminal, blocked: np.ndarray) -> bool:
        if blocked[CHANNEL, t.cell]:
            return False
        if t.port_class != CHANNEL and blocked[t.port_class, [t.node, *t.bore]].any():
            return False
        return self.busy is None or not t.tail or not self.busy[list(t.tail)].any()

    def _terminal_price(self, t: Terminal, cell_price: np.ndarray, end_price: dict[int, np.ndarray]) -> float:
        price = t.cost + (float(cell_price[list(t.tail)].sum()) if t.tail else 0.0)
        if t.port_class in end_price:
            price += float(end_price[t.port_class][[t.node, *t.bore]].max())
        return price

    def _cost(self, trail: list[int], start: Terminal, extra: float) -> float:
        bends = sum(1 for a, b in pairwise(trail) if (a & 3) != (b & 3))
        moves = len(trail) - 1 - bends
        instance = self.instance
        each_bend = instance.bend + 2 * instance.bend_cells * instance.step
        return start.cost + extra + moves * instance.step + bends * each_bend

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

    def _stub(self, cell: int, d: int, blocked: np.ndarray) -> tuple[int, ...] | None:
        """Return the cells of the straight stub that leads away from a T, or None where it is blocked."""
        columns, rows = self.instance.columns, self.instance.rows
        x, y = cell % columns, cell // columns
        out = []
        for _ in range(self.own_reach):
            x, y = x + DX[d], y + DY[d]
            if not (0 <= x < columns and 0 <= y < rows) or blocked[CHANNEL, y * columns + x]:
                return None
            out.append(y * columns + x)
        return tuple(out)

    def _too_near(self, t: Terminal, other: Terminal, offsets: tuple[np.ndarray, ...]) -> bool:
        if t.port_class == CHANNEL:
            return False
        columns = self.instance.columns
        dx = t.node % columns - other.node % columns
        dy = t.node // columns - other.node // columns
        near = offsets[t.port_class]
        return bool(np.any((near[:, 0] == dx) & (near[:, 1] == dy)))

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
            priced = instance.step * (len(cells) - 1) + float(cell_price[cells].sum())
            if best is None or priced < best[0] - 1e-9:
                best = (priced, cells, upper[x], lower[x])
        if best is None:
            return None
        _, cells, top, bottom = best
        corners = tuple((int(c % columns), int(c // columns)) for c in (cells[0], cells[-1]))
        run = GridRun(corners, 0, 1, ())
        path = tuple(int(c) for c in cells)
        return Trace(
            (run,), np.sort(cells).astype(np.int64), path, (top, bottom), instance.step * (len(cells) - 1)
        )
