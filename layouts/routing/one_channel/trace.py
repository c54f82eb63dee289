"""One channel on the grid: its runs, its cells, its cost; and how one is found for given prices."""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass, replace

import numpy as np

from layouts.routing.instance import Net, Terminal
from layouts.routing.one_channel.branches import attach_end, find_tee_places, group_ends
from layouts.routing.one_channel.path_search import Found, PathSearch, Piece, Targets
from layouts.routing.one_channel.runs import GridRun
from layouts.routing.one_channel.trail import cost_trail, draw_trail, find_holes, place_of
from layouts.routing.trees.tree_costs import find_root, tree_cost

MOST_PAIRS = 60
"""Searches for one pair of ends before it counts as not to be joined."""


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


class Tracer(PathSearch):
    """Finds single channels of one instance: `PathSearch` with ends joined and branches attached.

    `least` is a lower bound of the last trace's priced cost where its net has two ends. A net named in `guides`
    is led by its guide in place of the plain search.
    """

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
        waiting = [e for e in range(len(tables)) if e not in chosen and (kept or e != first)]
        cost = 0.0
        trail: list[int] = []
        while waiting:
            found: list[Piece | None] = []
            if runs:
                places = find_tee_places(self.instance, net, runs, path, chosen, blocked, cell_price)
                found = [
                    attach_end(self, net, usable, prices, group, chosen, places, cell_price)
                    for group in group_ends(net, waiting)
                ]
            else:
                for end in [pair[1]] if pair else waiting:
                    self.use_leg(net, first if end == find_root(net) else end)
                    found.append(self._join(net, usable, prices, first, end, blocked, cell_price))
            best = min((piece for piece in found if piece), key=lambda piece: piece.priced, default=None)
            if best is None:
                return None
            runs.extend(best.runs)
            path.extend(best.cells)
            chosen.update(best.terminals)
            cost += best.cost
            trail = best.trail
            waiting.remove(best.end)
        trace = Trace(
            tuple(runs),
            np.array(sorted(set(path)), np.int64),
            tuple(path),
            tuple(chosen[e] for e in range(len(tables))),
            cost,
            find_holes(self.instance, path),
            tuple(trail) if len(tables) == 2 else (),
        )
        return trace if len(tables) == 2 else replace(trace, cost=tree_cost(self.instance, net, trace))

    def read_trail(self, net: Net, trail: tuple[int, ...], start: Terminal, goal: Terminal) -> Trace:
        """Return the channel of a net of two ends whose path has these states, first to last."""
        self.use(net)
        if net.straight_down:
            return self._column(trail, start, goal)
        runs, cells = draw_trail(self.instance, self.arcs, list(trail), start, goal, 0, 1)
        return Trace(
            runs,
            np.array(sorted(set(cells)), np.int64),
            tuple(cells),
            (start, goal),
            cost_trail(self.instance, self.rates, list(trail), start.cost + goal.cost),
            find_holes(self.instance, cells),
            tuple(trail),
        )

    def _join(
        self,
        net: Net,
        usable: list[np.ndarray],
        prices: list[np.ndarray],
        first: int,
        end: int,
        blocked: np.ndarray,
        cell_price: np.ndarray,
    ) -> Piece | None:
        """Return the cheapest path between two ends, None where none is found.

        Where the cheapest pair of ports stands too near each other the pairs are split in two, those without
        its start and those with it and a far enough goal, and the cheapest of all is looked for again.
        """
        table, goals = self.tables[net.name][first], self.tables[net.name][end]
        ahead = self.ahead_of(net, end)
        count = 0
        waiting: list[tuple[float, int, np.ndarray, np.ndarray, Found]] = []

        def draw(trail: list[int], start: int, goal: int) -> tuple[tuple[GridRun, ...], list[int]]:
            ends = table.terminals[start], goals.terminals[goal]
            return draw_trail(self.instance, self.arcs, trail, *ends, first, end)

        def look(sources: np.ndarray, targets: np.ndarray) -> None:
            nonlocal count
            may = targets[goals.owner]
            found = self.search_apart(
                table,
                sources,
                prices[first],
                Targets(goals.arriving[may], goals.owner[may], prices[end]),
                blocked[self.channel_class],
                cell_price,
                ahead,
                draw,
            )
            if found is not None:
                count += 1
                heapq.heappush(waiting, (found.priced, count, sources, targets, found))

        look(usable[first], usable[end])
        while waiting and count <= MOST_PAIRS:
            _, _, sources, targets, found = heapq.heappop(waiting)
            start, target = table.terminals[found.start], goals.terminals[found.goal]
            clear = self.clear_of(goals, start)
            if clear[found.goal]:
                cost = cost_trail(self.instance, self.rates, found.trail, start.cost + target.cost)
                ends = {first: start, end: target}
                return Piece(found.priced, cost, found.trail, found.runs, found.cells, ends, end)
            this = np.arange(len(table.terminals)) == found.start
            look(sources & ~this, targets)
            look(sources & this, targets & clear)
        return None

    def _trace_down(self, net: Net, blocked: np.ndarray, cell_price: np.ndarray) -> Trace | None:
        """Return the cheapest straight column from an upper end down to a lower one."""
        columns = self.instance.columns
        plane = columns * self.instance.rows

        def by_column(end: tuple[Terminal, ...]) -> dict[tuple[int, int], Terminal]:
            return {(t.cell // plane, t.cell % columns): t for t in end}

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
        ends = place_of(self.instance, path[0]), place_of(self.instance, path[-1])
        run = GridRun(ends, 0, 1, (), path[0] // (self.instance.columns * self.instance.rows))
        cost = self.rates.step * (len(path) - 1)
        return Trace((run,), np.array(sorted(path), np.int64), path, (top, bottom), cost, (), trail)
