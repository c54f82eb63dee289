"""Reference curves on the corners of the cells, and the ground that closes the ends of a net.

Everything is drawn on the grid with a ring of cells round it: a way may lead round the outside of the plate.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from geom.compiled import compile_cached
from geom.heap import grow, pop, push
from layouts.routing.instance import DX, DY, Instance, Terminal
from layouts.routing.one_channel.trail import arc_cells

_FAR = np.int64(1) << 60

_FREE = 100
"""Weight of a crossing with a way that some channel might take: curves keep to blocked ground where they can."""

_CLAIMED = 1_000_000
"""Weight of a crossing with ground that closes another net's end: it costs that pair."""


@dataclass(frozen=True, slots=True)
class Claim:
    """Ground that closes a net's ends: its cells, the edges of its trees, anchors, and the ways out of it.

    Cells and edges are those of the grid with a ring of cells round it. `rights` and `ups` hold the cells that
    an edge enters from the left and from below.
    """

    cells: np.ndarray
    rights: np.ndarray
    ups: np.ndarray
    anchors: tuple[int, int]
    ways: tuple[tuple[tuple[int, ...], ...], tuple[tuple[int, ...], ...]]


@dataclass(frozen=True, slots=True)
class Curve:
    """A reference curve: signed crossings of steps into each cell (ring included), and its line, shifted a little."""

    right: np.ndarray
    up: np.ndarray
    line: np.ndarray

    def crosses(self, claim: Claim) -> bool:
        """Return whether the curve passes between cells of a claim that belong together."""
        return bool(self.right[claim.rights].any() or self.up[claim.ups].any())


class Lattice:
    """The grid with a ring of cells round it, and what each net can reach there."""

    def __init__(
        self,
        instance: Instance,
        blocked: tuple[np.ndarray, ...],
        usable: tuple[tuple[np.ndarray, ...], ...],
    ) -> None:
        self.instance, self.usable = instance, usable
        self.width, self.height = instance.columns + 2, instance.rows + 2
        self.size = self.width * self.height
        self.arc_x, self.arc_y = arc_cells(instance)
        self.reach: list[np.ndarray] = []
        self.rooms: list[np.ndarray] = []
        free_all: list[np.ndarray] = []
        for net, is_blocked in zip(instance.nets, blocked, strict=True):
            free = np.zeros((self.height, self.width), dtype=bool)
            free[1:-1, 1:-1] = ~is_blocked[net.channel_class].reshape(instance.rows, instance.columns)
            room = np.zeros(self.size, dtype=bool)
            for e, end in enumerate(net.ends):
                for t in np.flatnonzero(usable[len(self.rooms)][e]):
                    room[self.pad(end[t].node, *end[t].tail, *end[t].bore)] = True
            self.rooms.append(room)
            free_all.append(free.ravel())
            self.reach.append(free.ravel() | room)
        self.taken = np.any(self.reach, axis=0)
        self.open = np.any(free_all, axis=0)
        self.distance = np.empty(self.size + self.width + self.height + 1, np.int64)
        self.parent = np.empty_like(self.distance)

    def pad(self, *cells: int) -> np.ndarray:
        """Return the ring grid's number of cells."""
        at = np.array(cells, np.int64)
        return (at // self.instance.columns + 1) * self.width + at % self.instance.columns + 1

    def claim(self, net: int) -> Claim | None:
        """Return the ground that closes a net's two ends, None where there is none."""
        ends = self.instance.nets[net].ends
        if len(ends) != 2 or self.instance.layers != 1 or not all(u.any() for u in self.usable[net]):
            return None
        found = [self._close(net, ends[e], self.usable[net][e]) for e in (0, 1)]
        if found[0] is None or found[1] is None:
            return None
        steps = [(min(a, b), max(a, b)) for _, _, tree in (found[0], found[1]) for a, b in tree]
        cells = {found[0][0], found[1][0], *(c for step in steps for c in step)}
        return Claim(
            np.array(sorted(cells), np.int64),
            np.array([b for a, b in steps if b == a + 1], np.int64),
            np.array([b for a, b in steps if b != a + 1], np.int64),
            (found[0][0], found[1][0]),
            (found[0][1], found[1][1]),
        )

    def _close(
        self, net: int, end: tuple[Terminal, ...], usable: np.ndarray
    ) -> tuple[int, tuple[tuple[int, ...], ...], list[tuple[int, int]]] | None:
        """Return the anchor of an end, the way from it to each terminal, and the steps of its tree."""
        chosen = [t for t, may in zip(end, usable, strict=True) if may]
        outs: list[int | None] = [None] * len(chosen)
        if len({t.node for t in chosen}) > 1:
            bases = [int(self.pad(t.bore[0] if t.bore else t.node)[0]) for t in chosen]
            outs = list(self._find_ground(bases))
            if any(out is None for out in outs):
                return None
        ways: list[tuple[int, ...]] = []
        numbers = iter(outs)
        for t, may in zip(end, usable, strict=True):
            way: list[int] = []
            if may:
                out = next(numbers)
                inner = self.pad(*(t.bore if out is not None else ()), t.node, *t.tail, t.cell).tolist()
                way = list(dict.fromkeys([*([] if out is None else [out]), *inner]))
                if any(abs(b - a) not in (1, self.width) for a, b in pairwise(way)):
                    return None
            ways.append(tuple(way))
        anchors = [way[0] for way in ways if way]
        others = np.zeros(self.size, dtype=bool)
        for other, room in enumerate(self.rooms):
            if other != net:
                others |= room
        cost = np.where(self.open, _FAR, np.where(others, _CLAIMED, 1))
        tree: list[tuple[int, int]] = []
        for a, b in pairwise(dict.fromkeys(anchors)):
            if abs(b - a) in (1, self.width):
                tree.append((a, b))
                continue
            right, up = cost.copy(), cost.copy()
            right[1:] = np.maximum(right[1:], cost[:-1])
            up[self.width :] = np.maximum(up[self.width :], cost[: -self.width])
            found = find_way(self.width, self.height, right, up, a, b, self.distance, self.parent)
            if not len(found):
                return None
            tree.extend(pairwise(int(c) for c in found))
        return anchors[0], tuple(ways), tree

    def _find_ground(self, bases: list[int]) -> list[int | None]:
        """Return for each cell itself or a neighbour that no channel takes, on one side of them all if it can be."""
        if not any(self.open[base] for base in bases):
            return list(bases)
        steps = (-self.width, self.width, -1, 1)
        for step in steps:
            if all(not self.open[base + step] for base in bases):
                return [base + step for base in bases]
        return [next((base + step for step in steps if not self.open[base + step]), None) for base in bases]

    def draw_curve(self, net: int, claims: list[Claim | None]) -> Curve | None:
        """Return a net's reference curve, through ground that no channel takes where it can."""
        own = claims[net]
        if own is None:
            return None
        right = np.where(self.taken, _FREE, 1)
        up = right.copy()
        right[1:] = np.minimum(right[1:], np.where(self.taken[:-1], _FREE, 1))
        up[self.width :] = np.minimum(up[self.width :], np.where(self.taken[: -self.width], _FREE, 1))
        for other, claim in enumerate(claims):
            if other != net and claim is not None:
                right[claim.rights] += _CLAIMED
                up[claim.ups] += _CLAIMED
        across, along = self._between(right, up)
        corner_width = self.width + 1
        start, goal = (a // self.width * corner_width + a % self.width for a in own.anchors)
        way = find_way(corner_width, self.height + 1, across, along, start, goal, self.distance, self.parent)
        return self._curve(net, way, own.anchors)

    def _between(self, right: np.ndarray, up: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the weights of corner steps to the right and up, by the corner they enter."""
        shape = (self.height + 1, self.width + 1)
        across, along = np.ones(shape, np.int64), np.ones(shape, np.int64)
        # A corner step to the right crosses the edge between the cells below and above it.
        across[1:-1, 1:] = up.reshape(self.height, self.width)[1:]
        along[1:, 1:-1] = right.reshape(self.height, self.width)[:, 1:]
        return across.ravel(), along.ravel()

    def _curve(self, net: int, way: np.ndarray, anchors: tuple[int, int]) -> Curve:
        corner_width = self.width + 1
        right = np.zeros(self.size + self.width + 1, np.int8)
        up = np.zeros_like(right)
        x, y = way % corner_width, way // corner_width
        for n in range(len(way) - 1):
            sx, sy = x[n + 1] - x[n], y[n + 1] - y[n]
            low_x, low_y = min(x[n], x[n + 1]), min(y[n], y[n + 1])
            if sy and 0 < low_x < self.width:
                right[low_y * self.width + low_x] += sy
            if sx and 0 < low_y < self.height:
                up[low_y * self.width + low_x] -= sx
        # Each curve is shifted by less than half a cell, no two alike, so that no two lie on each other.
        count = len(self.instance.nets)
        shift = np.array([0.05 + 0.4 * (net + 0.5) / count, 0.05 + 0.4 * ((net * 0.618) % 1.0)])
        middles = np.array([(a % self.width + 0.5, a // self.width + 0.5) for a in anchors])
        line = np.concatenate([middles[:1], np.stack([x, y], axis=1) + shift, middles[1:]])
        turns = np.diff(line, axis=0)
        straight = np.zeros(len(line), dtype=bool)
        straight[1:-1] = (turns[1:] == turns[:-1]).all(axis=1)
        return Curve(right[: self.size], up[: self.size], line[~straight])

    def state_moves(self, curve: Curve | None) -> np.ndarray:
        """Return the signed crossings of a step into every state of the grid, (cells * 4,) int8."""
        out = np.zeros((self.instance.cells, 4), np.int8)
        if curve is None or self.instance.layers != 1:
            return out.ravel()
        right = curve.right.reshape(self.height, self.width)
        up = curve.up.reshape(self.height, self.width)
        out[:, 0] = right[1:-1, 1:-1].ravel()
        out[:, 1] = up[1:-1, 1:-1].ravel()
        out[:, 2] = -right[1:-1, 2:].ravel()
        out[:, 3] = -up[2:, 1:-1].ravel()
        return out.ravel()

    def arc_moves(self, moves: np.ndarray) -> np.ndarray:
        """Return the signed crossings of every bend, (cells * 8,) int8."""
        columns, rows = self.instance.columns, self.instance.rows
        out = np.zeros((self.instance.cells, 8), np.int8)
        if not self.arc_x.shape[1] or not moves.any():
            return out.ravel()
        x, y = np.meshgrid(np.arange(columns), np.arange(rows))
        for row in range(8):
            ex, ey = x + self.arc_x[row, -1], y + self.arc_y[row, -1]
            inside = ((ex >= 0) & (ex < columns) & (ey >= 0) & (ey < rows)).ravel()
            at = np.flatnonzero(inside)
            for dx, dy, d in _chain(self.arc_x[row], self.arc_y[row]):
                out[at, row] += moves[(at + dy * columns + dx) * 4 + d]
        return out.ravel()

    def behind(self, claim: Claim | None, curves: list[Curve | None]) -> tuple[np.ndarray, ...]:
        """Return the signed crossings behind the terminals of both ends, two (nets, terminals) int8 arrays."""
        if claim is None:
            return ()
        out = []
        for e, ways in enumerate(claim.ways):
            table = np.zeros((len(curves), len(ways)), np.int8)
            for j, curve in enumerate(curves):
                if curve is None:
                    continue
                for t, way in enumerate(ways):
                    total = 0
                    for a, b in pairwise(way):
                        step = curve.right if abs(b - a) == 1 else curve.up
                        total += int(step[b]) if b > a else -int(step[a])
                    table[j, t] = -total if e else total
            out.append(table)
        return tuple(out)


def _chain(arc_x: np.ndarray, arc_y: np.ndarray) -> list[tuple[int, int, int]]:
    """Return a way of single steps through the cells of a bend: (dx, dy, direction) of each step's end."""
    cells = {(int(x), int(y)) for x, y in zip(arc_x, arc_y, strict=True)}
    goal = (int(arc_x[-1]), int(arc_y[-1]))
    ways: list[tuple[tuple[int, int], list[tuple[int, int, int]]]] = [((0, 0), [])]
    seen = {(0, 0)}
    for (x, y), way in ways:
        if (x, y) == goal:
            return way
        for d in range(4):
            there = (x + DX[d], y + DY[d])
            if there in cells and there not in seen:
                seen.add(there)
                ways.append((there, [*way, (*there, d)]))
    raise ValueError("the cells of a bend do not hang together: its radius is larger than its straights")


def count_line_crossings(a: np.ndarray, b: np.ndarray) -> int:
    """Return the signed crossings of one line over another, (n, 2) and (m, 2) float; no two touch."""

    def cross(u: np.ndarray, v: np.ndarray) -> np.ndarray:
        return u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]

    a0, a1 = a[:-1, None], a[1:, None]
    b0, b1 = b[None, :-1], b[None, 1:]
    either = (cross(a1 - a0, b0 - a0) > 0) != (cross(a1 - a0, b1 - a0) > 0)
    other = (cross(b1 - b0, a0 - b0) > 0) != (cross(b1 - b0, a1 - b0) > 0)
    return int((np.sign(cross(a1 - a0, b1 - b0)) * (either & other)).sum())


@compile_cached
def find_way(width, height, right, up, start, goal, distance, parent):  # type: ignore[no-untyped-def]
    """Return the cells of the lightest way from `start` to `goal` on a lattice, empty where there is none.

    Parameters
    ----------
    width, height : int
    right, up : (width * height,) int
        Weight of the edge into a cell from the left, and from below; positive.
    start, goal : int
    distance, parent : (at least width * height,) int
        Work space.

    Returns
    -------
    (n,) int
    """
    distance[:] = _FAR
    parent[:] = -1
    keys = np.empty(1024, np.float64)
    values = np.empty(1024, np.int64)
    distance[start] = 0
    size = push(keys, values, 0, 0.0, start)
    while size > 0:
        key = keys[0]
        c = values[0]
        size = pop(keys, values, size)
        if key > distance[c]:
            continue
        if c == goal:
            break
        for d in range(4):
            x = c % width + (d == 0) - (d == 2)
            y = c // width + (d == 1) - (d == 3)
            if x < 0 or x >= width or y < 0 or y >= height:
                continue
            t = y * width + x
            weight = right[max(c, t)] if d == 0 or d == 2 else up[max(c, t)]
            if weight < _FAR and distance[c] + weight < distance[t]:
                distance[t] = distance[c] + weight
                parent[t] = c
                if size == keys.size:
                    keys, values = grow(keys), grow(values)
                size = push(keys, values, size, float(distance[t]), t)
    count = 0
    c = goal
    if distance[goal] < _FAR:
        while c >= 0:
            count += 1
            c = parent[c]
    out = np.empty(count, np.int64)
    c = goal
    for n in range(count):
        out[count - 1 - n] = c
        c = parent[c]
    return out
