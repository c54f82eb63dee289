"""Every way that one net may take, as a graph: what it costs, what it pays, and which curves it crosses.

Nodes are states (cell * 4 + direction), a source and a sink. Where a bend takes no cells and a terminal may be left
any way, the two directions of an axis are one node: half as many.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from layouts.routing.bound.distances import find_distances, sort_by
from layouts.routing.bound.topology import Topology
from layouts.routing.instance import ANY_DIRECTION, DX, DY, Instance
from layouts.routing.one_channel.trail import arc_cells

MOST_BITS = 40
"""Nets whose curves are told apart by a bit of a word."""


@dataclass(frozen=True, slots=True)
class NetGraph:
    """The ways of one net of two ends.

    Parameters
    ----------
    states : (nodes - 2,) int
        State of each node; the source and the sink follow as the last two nodes. Of an axis its first direction.
    by_axis : bool
        Whether a node stands for both directions of an axis.
    first, head : (nodes + 1,) int, (arcs,) int
        Arcs out of node v: first[v] to first[v + 1].
    into, tail, arc : (nodes + 1,) int, (arcs,) int, (arcs,) int
        The same arcs by the node that they enter, each with its number.
    cost : (arcs,) float
    slot : (arcs,) int
        Where in a price vector (`Windows.price_steps`) an arc's price stands.
    flips : (arcs,) int
        Bit j: whether the arc crosses net j's curve an odd number of times.
    """

    states: np.ndarray
    by_axis: bool
    first: np.ndarray
    head: np.ndarray
    into: np.ndarray
    tail: np.ndarray
    arc: np.ndarray
    cost: np.ndarray
    slot: np.ndarray
    flips: np.ndarray

    @property
    def source(self) -> int:
        """Node before the terminals of the first end."""
        return len(self.states)

    @property
    def sink(self) -> int:
        """Node behind the terminals of the second end."""
        return len(self.states) + 1

    @property
    def nodes(self) -> int:
        """Number of nodes."""
        return len(self.states) + 2

    def keep(self, arcs: np.ndarray) -> NetGraph:
        """Return the graph of some of its arcs, (arcs,) bool, and of the nodes that they touch."""
        tails = np.repeat(np.arange(self.nodes), np.diff(self.first))[arcs]
        heads = self.head[arcs]
        used = np.zeros(self.nodes, dtype=bool)
        used[tails] = used[heads] = True
        used[-2:] = True
        number = np.cumsum(used) - 1
        return _order(
            self.states[used[:-2]],
            self.by_axis,
            number[tails],
            number[heads],
            self.cost[arcs],
            self.slot[arcs],
            self.flips[arcs],
        )

    def distances(self, weight: np.ndarray) -> np.ndarray:
        """Return the distance of each node to the sink, (nodes,) float, for weights of the arcs."""
        return find_distances(self.into, self.tail, self.arc, weight, self.sink)

    def distances_from(self, weight: np.ndarray) -> np.ndarray:
        """Return the distance of each node from the source, (nodes,) float, for weights of the arcs."""
        return find_distances(self.first, self.head, np.arange(len(self.head)), weight, self.source)

    def in_layers(self, cells: int, layers: int) -> NetGraph:
        """Return the graph of one layer of `cells`, with its slots those of an instance of several."""
        kind = np.array([0, *(4 + 8 * n for n in range(2)), 13])
        place = np.searchsorted(kind[1:] * cells, self.slot, side="right")
        return replace(self, slot=self.slot + kind[place] * cells * (layers - 1))

    def way_through(self, weight: np.ndarray, before: np.ndarray, ahead: np.ndarray, node: int) -> list[int]:
        """Return the arcs of a cheapest way through a node, in no order, by the distances of all nodes."""
        out: list[int] = []
        for first, other, arc, far, goal in (
            (self.first, self.head, np.arange(len(self.head)), ahead, self.sink),
            (self.into, self.tail, self.arc, before, self.source),
        ):
            v, seen = node, {node}
            while v != goal:
                # Where steps cost nothing two nodes may be equally far: none is passed twice.
                at = [n for n in range(first[v], first[v + 1]) if int(other[n]) not in seen]
                best = min(at, key=lambda n: (weight[arc[n]] + far[other[n]], n))
                out.append(int(arc[best]))
                v = int(other[best])
                seen.add(v)
        return out

    def trail(self, nodes: np.ndarray, columns: int) -> list[int]:
        """Return the states of a way through these nodes (source and sink left out), first to last."""
        states = self.states[nodes]
        if not self.by_axis:
            return [int(s) for s in states]
        cells = [int(c) for n, c in enumerate(states >> 2) if n == 0 or c != states[n - 1] >> 2]
        if len(cells) == 1:
            return [cells[0] * 4]
        out: list[int] = []
        for a, b in pairwise(cells):
            step = b - a
            d = 0 if step == 1 else 2 if step == -1 else 1 if step == columns else 3
            if not out or out[-1] & 3 != d:
                out.append(a * 4 + d)
            out.append(b * 4 + d)
        return out


def build_graph(
    instance: Instance,
    net: int,
    blocked: np.ndarray,
    usable: tuple[np.ndarray, ...],
    topology: Topology | None,
) -> NetGraph:
    """Return the graph of a net of two ends.

    Parameters
    ----------
    instance : Instance
    net : int
    blocked : (cells,) bool
        Where its channel may not stand.
    usable : tuple of (terminals,) bool
        For each end, the terminals that it may choose.
    topology : Topology or None

    Returns
    -------
    NetGraph
    """
    this = instance.nets[net]
    free = ~blocked
    words = _words(instance, net, topology)
    ends = [[(n, t) for n, t in enumerate(end) if usable[e][n]] for e, end in enumerate(this.ends)]
    anyway = all(t.leaves == ANY_DIRECTION for end in ends for _, t in end)
    by_axis = instance.bend_cells == 0 and anyway and not this.straight_down and instance.layers == 1
    if this.straight_down:
        tail, head, cost, slot, flips, ends = _columns(instance, net, free, ends, words)
    else:
        tail, head, cost, slot, flips = _steps(instance, net, free, words, by_axis)
    states = instance.cells * 4
    no_price = instance.cells * 13
    extra: list[tuple[int, int, float, int, int]] = []
    for e, end in enumerate(ends):
        for n, t in end:
            behind = _word(topology, net, e, n)
            # Of an axis its first direction stands for both.
            for d in (3,) if this.straight_down else (0, 1) if by_axis else t.leaves:
                if e == 0:
                    extra.append((states, t.cell * 4 + d, t.cost, instance.cells * 12 + t.cell, behind))
                else:
                    there = d if this.straight_down or by_axis else (d + 2) % 4
                    extra.append((t.cell * 4 + there, states + 1, t.cost, no_price, behind))
    table = np.array([e[:2] + e[3:] for e in extra], np.int64).reshape(-1, 4)
    tail = np.concatenate([tail, table[:, 0]])
    head = np.concatenate([head, table[:, 1]])
    cost = np.concatenate([cost, np.array([e[2] for e in extra], float)])
    slot = np.concatenate([slot, table[:, 2]])
    flips = np.concatenate([flips, table[:, 3]])
    used = np.zeros(states + 2, dtype=bool)
    used[tail] = used[head] = True
    used[-2:] = True
    number = np.cumsum(used) - 1
    return _order(np.flatnonzero(used[:-2]), by_axis, number[tail], number[head], cost, slot, flips)


def _order(
    states: np.ndarray,
    by_axis: bool,
    tail: np.ndarray,
    head: np.ndarray,
    cost: np.ndarray,
    slot: np.ndarray,
    flips: np.ndarray,
) -> NetGraph:
    nodes = len(states) + 2
    first, out = sort_by(nodes, tail)
    head, cost, slot, flips, tail = head[out], cost[out], slot[out], flips[out], tail[out]
    into, arc = sort_by(nodes, head)
    return NetGraph(states, by_axis, first, head, into, tail[arc], arc, cost, slot, flips)


def _words(instance: Instance, net: int, topology: Topology | None) -> tuple[np.ndarray, np.ndarray]:
    """Return the flips of moves, (cells * 4,) int, and of bends, (cells * 8,) int, as words of bits."""
    moves = np.zeros(instance.cells * 4, np.int64)
    arcs = np.zeros(instance.cells * 8, np.int64)
    if topology is not None:
        for j in np.flatnonzero(topology.holds[net][:MOST_BITS]):
            moves |= (topology.moves[j].astype(np.int64) & 1) << j
            arcs |= (topology.arcs[j].astype(np.int64) & 1) << j
    return moves, arcs


def _word(topology: Topology | None, net: int, end: int, terminal: int) -> int:
    if topology is None or not topology.behind[net]:
        return 0
    out = 0
    for j in np.flatnonzero(topology.holds[net][:MOST_BITS]):
        out |= (int(topology.behind[net][end][j, terminal]) & 1) << int(j)
    return out


def _steps(  # type: ignore[no-untyped-def]
    instance: Instance, net: int, free: np.ndarray, words: tuple[np.ndarray, np.ndarray], by_axis: bool
):
    """Return (tail, head, cost, slot, flips) of the steps of a net, by states."""
    mask = ~2 if by_axis else ~0
    columns, rows, cells = instance.columns, instance.rows, instance.cells
    layer = columns * rows
    rates = instance.rates_of(instance.nets[net])
    at = np.flatnonzero(free)
    x, y = at % columns, at % layer // columns
    arc_x, arc_y = arc_cells(instance)
    parts: list[tuple[np.ndarray, np.ndarray, float, np.ndarray, np.ndarray]] = []
    for d in range(4):
        nx, ny = x + DX[d], y + DY[d]
        inside = (nx >= 0) & (nx < columns) & (ny >= 0) & (ny < rows)
        c = at[inside]
        t = c + DX[d] + DY[d] * columns
        c, t = c[free[t]], t[free[t]]
        this = d & mask
        parts.append((c * 4 + this, t * 4 + this, rates.step, t * 4 + d, words[0][t * 4 + d]))
        for turn in range(2):
            if by_axis and (turn or d > 1):
                continue
            row, nd = d * 2 + turn, (d + (1 if turn == 0 else 3)) % 4 & mask
            if not instance.bend_cells:
                none = np.full(len(at), cells * 13)
                parts.append((at * 4 + d, at * 4 + nd, rates.bend, none, np.zeros(len(at), np.int64)))
                continue
            ok = np.ones(len(at), dtype=bool)
            for ax, ay in zip(arc_x[row], arc_y[row], strict=True):
                px, py = x + ax, y + ay
                ok &= (px >= 0) & (px < columns) & (py >= 0) & (py < rows)
                ok[ok] &= free[at[ok] + ay * columns + ax]
            c = at[ok]
            end = c + arc_y[row, -1] * columns + arc_x[row, -1]
            price = rates.bend + 2 * instance.bend_cells * rates.step
            parts.append((c * 4 + d, end * 4 + nd, price, cells * 4 + c * 8 + row, words[1][c * 8 + row]))
        if instance.layers == 2:
            other = (at + layer) % cells
            both = free[other]
            c, t = at[both], other[both]
            none = np.zeros(len(c), np.int64)
            parts.extend((c * 4 + d, t * 4 + nd, rates.through, cells * 12 + t, none) for nd in range(4))
    return (
        np.concatenate([p[0] for p in parts]),
        np.concatenate([p[1] for p in parts]),
        np.concatenate([np.full(len(p[0]), float(p[2])) for p in parts]),
        np.concatenate([p[3] for p in parts]),
        np.concatenate([p[4] for p in parts]),
    )


def _columns(  # type: ignore[no-untyped-def]
    instance: Instance, net: int, free: np.ndarray, ends, words: tuple[np.ndarray, np.ndarray]
):
    """Return (tail, head, cost, slot, flips, ends) of the straight columns from an upper end down to a lower."""
    columns = instance.columns
    upper = {t.cell % columns: (n, t) for n, t in ends[0]}
    lower = {t.cell % columns: (n, t) for n, t in ends[1]}
    heads: list[int] = []
    kept: list[list] = [[], []]
    for x in sorted(set(upper) & set(lower)):
        top, bottom = upper[x][1].cell, lower[x][1].cell
        way = np.arange(top, bottom - 1, -columns)
        if bottom <= top and free[way].all():
            heads.extend(int(c) for c in way[1:])
            kept[0].append(upper[x])
            kept[1].append(lower[x])
    head = np.array(heads, np.int64) * 4 + 3
    step = instance.rates_of(instance.nets[net]).step
    return head + columns * 4, head, np.full(len(head), float(step)), head, words[0][head], kept
