"""The choices of the exact model: one binary for each thing a channel may do.

*Choice*: a thing that a channel may do, one binary of the model: begin or end at a terminal, go one cell on, bend
with its whole arc, pass a through hole, or stand as a whole straight column. *Node*: where choices meet, a state
of the search (cell * 4 + direction); where bends turn within a cell and every terminal may be left in any
direction, only the axis counts. *Window*: a square of cells of which any two stand too near each other for two
channels, so that all channels together enter it once at most.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from layouts.routing.bound.prices import window_side
from layouts.routing.instance import ANY_DIRECTION, DX, DY, Instance, Net
from layouts.routing.one_channel.ends import EndTable
from layouts.routing.one_channel.trail import arc_cells

SOURCE, SINK, MOVE, BEND, HOLE, LANDING, COLUMN = range(7)


@dataclass(frozen=True, slots=True)
class Choices:
    """All choices of a model; `n` is their number.

    Parameters
    ----------
    net, kind : (n,) int
    tail, head : (n,) int
        Nodes left and reached, -1 where there is none.
    left : (n,) int
        The cell left, -1 where there is none.
    state : (n,) int
        The state reached; of a sink and a source its own; of a column its lowest cell * 4 + 3.
    mark : (n,) int
        Of a source or sink the terminal's number in its end; of a column that of the upper one; of a bend
        8 * the cell where it begins + direction * 2 + turn.
    cost : (n,) float
    entered, entering : (m,) int
        Cells taken, and the choice that takes each.
    windows, reaching : (w,) int
        Windows entered, and the choice that enters each. A window is numbered by its lower left cell, which may
        lie outside of the grid.
    nodes : int
    window : int
        Cells along a window's side.
    by_axis : bool
        Whether a node is a cell with an axis, the states of both directions in one.
    """

    net: np.ndarray
    kind: np.ndarray
    tail: np.ndarray
    head: np.ndarray
    left: np.ndarray
    state: np.ndarray
    mark: np.ndarray
    cost: np.ndarray
    entered: np.ndarray
    entering: np.ndarray
    windows: np.ndarray
    reaching: np.ndarray
    nodes: int
    window: int
    by_axis: bool


class _Collector:
    """Gathers choices as arrays."""

    def __init__(self) -> None:
        self.count = 0
        self.parts: list[tuple[np.ndarray, ...]] = []
        self.cells: list[tuple[np.ndarray, np.ndarray]] = []
        self.windows: list[tuple[np.ndarray, np.ndarray]] = []

    def add(  # type: ignore[no-untyped-def]
        self, net, kind, tail, head, left, state, mark, cost, cells, windows
    ) -> None:
        """Add choices of one kind: (n,) arrays or single values, cells (n, a) and windows (n, b)."""
        size = len(state)
        columns = (net, kind, tail, head, left, state, mark, cost)
        self.parts.append(tuple(np.broadcast_to(np.asarray(c), (size,)) for c in columns))
        numbers = np.arange(self.count, self.count + size)
        for store, places in ((self.cells, cells), (self.windows, windows)):
            store.append((places.ravel(), np.repeat(numbers, places.shape[1])))
        self.count += size


def list_choices(instance: Instance, fixed: list[np.ndarray], keep: list[np.ndarray]) -> Choices:
    """Return every choice that is left.

    Parameters
    ----------
    instance : Instance
        Each net with two ends.
    fixed : list of (classes, cells) bool
        For each net what is blocked.
    keep : list of (cells * 4,) bool
        For each net the states that count.

    Returns
    -------
    Choices
    """
    return _Lister(instance).list_all(fixed, keep)


class _Lister:
    """Work values shared by the nets of one instance."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.columns, self.rows = instance.columns, instance.rows
        self.cells = instance.cells
        self.side = window_side(instance)
        self.arc_x, self.arc_y = arc_cells(instance)
        leaves = {t.leaves for net in instance.nets for end in net.ends for t in end}
        self.by_axis = instance.bend_cells == 0 and leaves <= {ANY_DIRECTION}
        self.hubs = self.cells * (2 if self.by_axis else 4)
        self.nodes_each = self.hubs + (self.cells if instance.layers == 2 else 0)
        self.collector = _Collector()
        span = range(-(self.side - 1), 1)
        self.whole = [(x, y) for y in span for x in span]

    def _ended_in(self, xs: np.ndarray, ys: np.ndarray) -> list[tuple[int, int]]:
        """Return the windows that a bend ends in and does not begin in, relative to the cell where it begins.

        Only these count, as in `prices.py`: a half circle of two arcs may graze a window twice.
        """
        if not len(xs):
            return []
        return sorted({(int(xs[-1]) + x, int(ys[-1]) + y) for x, y in self.whole} - set(self.whole))

    def list_all(self, fixed: list[np.ndarray], keep: list[np.ndarray]) -> Choices:
        for number, net in enumerate(self.instance.nets):
            blocked = fixed[number]
            if net.straight_down:
                self._list_columns(number, net, blocked[net.channel_class])
                continue
            own = keep[number] & ~np.repeat(blocked[net.channel_class], 4)
            self._list_ends(number, net, blocked, own)
            self._list_moves(number, net, own)
            self._list_bends(number, net, blocked[net.channel_class], own)
            if self.instance.layers == 2:
                self._list_holes(number, net, own)
        parts = [np.concatenate(column) for column in zip(*self.collector.parts, strict=True)]
        owner, kind, tail, head, left, state, mark, cost = parts
        entered, entering = (np.concatenate(part) for part in zip(*self.collector.cells, strict=True))
        windows, reaching = (np.concatenate(part) for part in zip(*self.collector.windows, strict=True))
        nodes, tail, head = self._number_nodes(owner, tail, head)
        return Choices(
            owner,
            kind,
            tail,
            head,
            left,
            state,
            mark,
            cost,
            entered,
            entering,
            windows,
            reaching,
            nodes,
            self.side,
            self.by_axis,
        )

    def _number_nodes(
        self, net: np.ndarray, tail: np.ndarray, head: np.ndarray
    ) -> tuple[int, np.ndarray, np.ndarray]:
        both = np.concatenate([tail, head])
        keys = np.where(both >= 0, both + np.concatenate([net, net]) * self.nodes_each, -1)
        used, numbers = np.unique(keys, return_inverse=True)
        numbers = numbers - int(used[0] == -1)
        return len(used) - int(used[0] == -1), numbers[: len(tail)], numbers[len(tail) :]

    def _node(self, state: np.ndarray) -> np.ndarray:
        return (state >> 2) * 2 + (state & 1) if self.by_axis else state

    def _windows(self, cells: np.ndarray, relative: Iterable[tuple[int, int]]) -> np.ndarray:
        """Return the windows whose lower left cells lie at `relative` from `cells`, (n, len(relative)) int."""
        reach = self.side - 1
        width, height = self.columns + reach, self.rows + reach
        layer, rest = np.divmod(cells, self.columns * self.rows)
        y, x = np.divmod(rest, self.columns)
        apart = np.array(list(relative), np.int64).reshape(-1, 2)
        wx = x[:, None] + apart[None, :, 0] + reach
        wy = y[:, None] + apart[None, :, 1] + reach
        return (layer[:, None] * height + wy) * width + wx

    def _list_ends(self, number: int, net: Net, blocked: np.ndarray, keep: np.ndarray) -> None:
        for kind, end in ((SOURCE, net.ends[0]), (SINK, net.ends[1])):
            table = EndTable(end)
            states = table.leaving if kind == SOURCE else table.arriving
            may = table.usable(blocked, None)[table.owner] & keep[states]
            states, owner = states[may], table.owner[may]
            if self.by_axis:
                _, once = np.unique(owner * 2 + (states & 1), return_index=True)
                states, owner = states[once], owner[once]
            nodes = self._node(states)
            nowhere = np.full(len(states), -1)
            tail, head = (nowhere, nodes) if kind == SOURCE else (nodes, nowhere)
            cells = (states >> 2)[:, None] if kind == SOURCE else np.zeros((len(states), 0), np.int64)
            windows = self._windows(states >> 2, self.whole if kind == SOURCE else ())
            self.collector.add(number, kind, tail, head, -1, states, owner, table.cost[owner], cells, windows)

    def _list_moves(self, number: int, net: Net, keep: np.ndarray) -> None:
        step = self.instance.rates_of(net).step
        for d in range(4):
            state = np.flatnonzero(keep[d::4]) * 4 + d
            before, inside = self._shift(state, -DX[d], -DY[d])
            state, before = state[inside], before[inside]
            state, before = state[keep[before]], before[keep[before]]
            reach = [
                (x, y)
                for x, y in self.whole
                if (DX[d] and x == (0 if DX[d] > 0 else 1 - self.side))
                or (DY[d] and y == (0 if DY[d] > 0 else 1 - self.side))
            ]
            self.collector.add(
                number,
                MOVE,
                self._node(before),
                self._node(state),
                before >> 2,
                state,
                -1,
                step,
                (state >> 2)[:, None],
                self._windows(state >> 2, reach),
            )

    def _shift(self, state: np.ndarray, dx: int, dy: int) -> tuple[np.ndarray, np.ndarray]:
        """Return states moved by some cells within their layer, and which of them lie on the grid."""
        rest = (state >> 2) % (self.columns * self.rows)
        x, y = rest % self.columns + dx, rest // self.columns + dy
        inside = (x >= 0) & (x < self.columns) & (y >= 0) & (y < self.rows)
        return state + 4 * (dy * self.columns + dx), inside

    def _list_bends(self, number: int, net: Net, blocked: np.ndarray, keep: np.ndarray) -> None:
        rates = self.instance.rates_of(net)
        cost = rates.bend + 2 * self.instance.bend_cells * rates.step
        for d in range(4):
            for turn in (0, 1):
                row = d * 2 + turn
                turned = (d + 1) % 4 if turn == 0 else (d + 3) % 4
                if self.by_axis and row >= 2:
                    continue
                if self.by_axis:
                    # Row 0 stands for horizontal to vertical, row 1 for the way back, whatever the directions.
                    one = np.flatnonzero((keep[0::4] | keep[2::4]) & (keep[1::4] | keep[3::4])) * 4
                    before, after = (one, one + 1) if turn == 0 else (one + 1, one)
                    cells = np.zeros((len(one), 0), np.int64)
                    passed: list[tuple[int, int]] = []
                else:
                    before = np.flatnonzero(keep[d::4]) * 4 + d
                    ok = np.ones(len(before), bool)
                    cells = np.empty((len(before), self.arc_x.shape[1]), np.int64)
                    for m, (dx, dy) in enumerate(zip(self.arc_x[row], self.arc_y[row], strict=True)):
                        there, inside = self._shift(before, int(dx), int(dy))
                        cells[:, m] = np.where(inside, there >> 2, 0)
                        ok &= inside & ~blocked[cells[:, m]]
                    last = cells[:, -1] if cells.shape[1] else before >> 2
                    after = last * 4 + turned
                    ok &= keep[after]
                    before, after, cells = before[ok], after[ok], cells[ok]
                    passed = self._ended_in(self.arc_x[row], self.arc_y[row])
                self.collector.add(
                    number,
                    BEND,
                    self._node(before),
                    self._node(after),
                    before >> 2,
                    after,
                    (before >> 2) * 8 + row,
                    cost,
                    cells,
                    self._windows(before >> 2, passed),
                )

    def _list_holes(self, number: int, net: Net, keep: np.ndarray) -> None:
        """List the holes: from a state to the hub of the same place in the other layer, from there anywhere."""
        through = self.instance.rates_of(net).through
        state = np.flatnonzero(keep)
        half = self.cells // 2
        there = ((state >> 2) + half) % self.cells
        open_cells = keep[0::4] | keep[1::4] | keep[2::4] | keep[3::4]
        state, there = state[open_cells[there]], there[open_cells[there]]
        node, once = np.unique(self._node(state), return_index=True)
        state, there = state[once], there[once]
        self.collector.add(
            number,
            HOLE,
            node,
            self.hubs + there,
            state >> 2,
            there * 4,
            -1,
            through,
            there[:, None],
            self._windows(there, self.whole),
        )
        state = np.flatnonzero(keep)
        node, once = np.unique(self._node(state), return_index=True)
        state = state[once]
        nothing = np.zeros((len(state), 0), np.int64)
        self.collector.add(
            number, LANDING, self.hubs + (state >> 2), node, state >> 2, state, -1, 0.0, nothing, nothing
        )

    def _list_columns(self, number: int, net: Net, blocked: np.ndarray) -> None:
        columns = self.columns
        upper = {t.cell % columns: (n, t) for n, t in enumerate(net.ends[0])}
        lower = {t.cell % columns: t for t in net.ends[1]}
        step = self.instance.rates_of(net).step
        for x, (n, top) in sorted(upper.items()):
            if x not in lower or lower[x].cell > top.cell:
                continue
            cells = np.arange(top.cell, lower[x].cell - 1, -columns)
            if blocked[cells].any():
                continue
            windows = np.unique(self._windows(cells, self.whole))[None, :]
            state = cells[-1:] * 4 + 3
            cost = step * (len(cells) - 1)
            self.collector.add(number, COLUMN, -1, -1, -1, state, n, cost, cells[None, :], windows)
