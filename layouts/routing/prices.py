"""Windows and their prices: where two channels would stand too near, each must pay, and what a step then costs.

A *window* is a set of cells that lie pairwise too near each other for two different nets, so that at most one net
may use it. A net pays a window's price where its way ENTERS the window, not for each cell inside: a straight pass
pays once. A way that begins inside pays too; a bend pays for every window that its cells touch and that it did
not stand in before.

A bound from such prices holds for routings in which each net enters each window once: a channel that has left a
window does not come back to it (self-clearance).
"""

from __future__ import annotations

import math

import numpy as np

from layouts.routing.compiled import compile_cached
from layouts.routing.instance import DX, DY, Instance
from layouts.routing.trace import arc_cells

MOVES = 4
ARCS = 8
KINDS = MOVES + ARCS + 1

GRAIN = 1 / 1024
"""Prices are multiples of this power of two: sums of them and of whole costs are exact in any order."""


class Windows:
    """The windows of an instance: one for each cell, each the same shape moved to that cell.

    Attributes
    ----------
    shape : (n, 2) int
        Cells of a window relative to its own cell.
    inside : (cells,) bool
        Windows that lie wholly within the grid; the others have no price.
    first, offset : (KINDS + 1,) int, (m, 2) int
        For each kind of step (moves by direction, bends by direction * 2 + turn, standing), the windows that it
        enters, relative to the cell of the step: the entered cell of a move, the first cell of a bend.
    """

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.shape = _window_shape(instance)
        columns, rows = instance.columns, instance.rows
        y, x = np.divmod(np.arange(instance.cells) % (columns * rows), columns)
        dx, dy = self.shape[:, 0], self.shape[:, 1]
        self.inside = (x + dx.min() >= 0) & (x + dx.max() < columns)
        self.inside &= (y + dy.min() >= 0) & (y + dy.max() < rows)
        standing = {(-int(a), -int(b)) for a, b in self.shape}

        def around(px: int, py: int) -> set[tuple[int, int]]:
            return {(px + a, py + b) for a, b in standing}

        kinds = [sorted(standing - around(-DX[d], -DY[d])) for d in range(4)]
        arc_x, arc_y = arc_cells(instance)
        for row in range(8):
            touched: set[tuple[int, int]] = set()
            for px, py in zip(arc_x[row], arc_y[row], strict=True):
                touched |= around(int(px), int(py))
            kinds.append(sorted(touched - standing))
        kinds.append(sorted(standing))
        self.first = np.cumsum([0, *(len(kind) for kind in kinds)]).astype(np.int64)
        self.offset = np.array([o for kind in kinds for o in kind], np.int64).reshape(-1, 2)

    @property
    def slots(self) -> int:
        """Length of a price vector: moves (cells * 4), bends (cells * 8), standing (cells), and one for nothing."""
        return self.instance.cells * KINDS + 1

    def price_steps(self, price: np.ndarray) -> np.ndarray:
        """Return what each step pays, (slots,) float, for the windows' prices, (cells,) float."""
        out = np.zeros(self.slots)
        _price_steps(self.instance.columns, self.instance.rows, price, self.first, self.offset, out)
        return out

    def count_entries(self, steps: np.ndarray, used: np.ndarray) -> None:
        """Add to `used`, (cells,) float, once for each window that steps (slots of a price vector) enter."""
        _count_entries(
            self.instance.columns, self.instance.rows, steps, self.first, self.offset, self.inside, used
        )


def _window_shape(instance: Instance) -> np.ndarray:
    """Return the largest set of cells found that lie pairwise too near, for the narrowest pair of classes."""
    classes = sorted({net.channel_class for net in instance.nets})
    near: set[tuple[int, int]] | None = None
    for a in classes:
        for b in classes:
            this = {(int(x), int(y)) for x, y in instance.offsets[a][b]}
            near = this if near is None else near & this
    assert near is not None
    if (0, 0) not in near:
        return np.zeros((0, 2), np.int64)
    # Cells of a disc about a centre that lies on a cell or between cells, nearest first, as long as all are near.
    best: list[tuple[int, int]] = [(0, 0)]
    reach = max(abs(x) for x, _ in near)
    for half in (0.0, 0.5):
        for square in (False, True):
            cells = sorted(
                ((x, y) for x in range(-reach, reach + 2) for y in range(-reach, reach + 2)),
                key=lambda c: (_away(c, half, square), c),
            )
            chosen: list[tuple[int, int]] = []
            for c in cells:
                if all(
                    (c[0] - p[0], c[1] - p[1]) in near and (p[0] - c[0], p[1] - c[1]) in near for p in chosen
                ):
                    chosen.append(c)
            if len(chosen) > len(best):
                best = chosen
    return np.array(sorted(best), np.int64)


def _away(cell: tuple[int, int], half: float, square: bool) -> float:
    dx, dy = abs(cell[0] - half), abs(cell[1] - half)
    return max(dx, dy) if square else round(math.hypot(dx, dy), 9)


@compile_cached
def _price_steps(columns, rows, price, first, offset, out):  # type: ignore[no-untyped-def]
    cells = price.size
    layer = columns * rows
    for kind in range(13):
        for c in range(cells):
            x = c % columns
            y = c % layer // columns
            total = 0.0
            for m in range(first[kind], first[kind + 1]):
                px = x + offset[m, 0]
                py = y + offset[m, 1]
                if 0 <= px < columns and 0 <= py < rows:
                    total += price[c - c % layer + py * columns + px]
            if kind < 4:
                out[c * 4 + kind] = total
            elif kind < 12:
                out[cells * 4 + c * 8 + kind - 4] = total
            else:
                out[cells * 12 + c] = total


@compile_cached
def _count_entries(columns, rows, steps, first, offset, inside, used):  # type: ignore[no-untyped-def]
    cells = used.size
    layer = columns * rows
    for n in range(steps.size):
        s = steps[n]
        if s < cells * 4:
            c = s // 4
            kind = s % 4
        elif s < cells * 12:
            c = (s - cells * 4) // 8
            kind = 4 + (s - cells * 4) % 8
        elif s < cells * 13:
            c = s - cells * 12
            kind = 12
        else:
            continue
        x = c % columns
        y = c % layer // columns
        for m in range(first[kind], first[kind + 1]):
            px = x + offset[m, 0]
            py = y + offset[m, 1]
            if 0 <= px < columns and 0 <= py < rows:
                w = c - c % layer + py * columns + px
                if inside[w]:
                    used[w] += 1.0
