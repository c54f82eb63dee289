"""Windows and their prices: where two channels would stand too near, each must pay, and what a step then costs.

A *window* is a square of cells that lie pairwise too near each other for two different nets, so that at most one
net may use it. A net pays a window's price where its way ENTERS the window, not for each cell inside: a straight
pass pays once. A way that begins inside pays too. A bend pays for the windows that it ends in and did not begin in;
what its arc only grazes is free.

A bound from such prices holds for routings in which no net pays for a window twice. Every channel that keeps off
itself (`find_return`) is of that sort: it pays at cells of its straights alone; straights that do not adjoin keep
farther apart than a window is wide, and of two that adjoin, a square that holds a cell of each also holds where the
first ends and the second begins. The cells within an arc obey no such rule: two bends in a row may graze a window,
leave it and come back. A branch of a tree may stand beside the straight behind a bend of its trunk: where there are
trees, a window is no wider than a bend is long.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise, product

import numpy as np

from geom.compiled import compile_cached
from layouts.routing.instance import DX, DY, Instance
from layouts.routing.one_channel.trail import arc_cells

MOVES = 4
ARCS = 8
KINDS = MOVES + ARCS + 1

MOST_SIDE = 64
"""Widest window looked for, in cells."""

GRAIN = 1 / 1024
"""Prices are multiples of this power of two: sums of them and of whole costs are exact in any order."""


class Windows:
    """The windows of an instance: one for each cell, which is its lower left one.

    Attributes
    ----------
    side : int
        Cells along a window's side; 0: channels may share a cell.
    inside : (cells,) bool
        Windows that lie wholly within the grid; the others have no price.
    first, offset : (KINDS + 1,) int, (m, 2) int
        For each kind of step (moves by direction, bends by direction * 2 + turn, standing), the windows that it
        pays for, relative to the cell of the step: the entered cell of a move, the cell where a bend begins.
    """

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.side = window_side(instance)
        columns, rows = instance.columns, instance.rows
        y, x = np.divmod(np.arange(instance.cells) % (columns * rows), columns)
        self.inside = (x + self.side <= columns) & (y + self.side <= rows)
        span = range(1 - self.side, 1)
        standing = set(product(span, span))

        def around(px: int, py: int) -> set[tuple[int, int]]:
            return {(px + a, py + b) for a, b in standing}

        kinds = [sorted(standing - around(-DX[d], -DY[d])) for d in range(4)]
        arc_x, arc_y = arc_cells(instance)
        for xs, ys in zip(arc_x, arc_y, strict=True):
            last = around(int(xs[-1]), int(ys[-1])) if len(xs) else standing
            kinds.append(sorted(last - standing))
        kinds.append(sorted(standing))
        self.first = np.cumsum([0, *(len(kind) for kind in kinds)]).astype(np.int64)
        self.offset = np.array([o for kind in kinds for o in kind], np.int64).reshape(-1, 2)

    @property
    def slots(self) -> int:
        """Length of a price vector: moves (cells * 4), bends (cells * 8), standing (cells), and one for nothing."""
        return self.instance.cells * KINDS + 1

    def list_slots(self, states: Sequence[int]) -> np.ndarray:
        """Return the slots of beginning in the first of a way's states and of each further step, (states,) int.

        Parameters
        ----------
        states : sequence of int
            Each a move, a bend or a through hole from the one before.
        """
        cells, plane = self.instance.cells, self.instance.columns * self.instance.rows
        out = [cells * 12 + (s >> 2) for s in states[:1]]
        for a, b in pairwise(states):
            if (a >> 2) // plane != (b >> 2) // plane:
                out.append(cells * 12 + (b >> 2))
            elif a & 3 == b & 3:
                out.append(b)
            elif self.instance.bend_cells == 0:
                out.append(cells * 13)
            else:
                out.append(cells * 4 + (a >> 2) * 8 + (a & 3) * 2 + (0 if (b - a) & 3 == 1 else 1))
        return np.array(out, np.int64)

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


def window_side(instance: Instance) -> int:
    """Return the side of the largest square of cells all too near each other for any two channels, in cells.

    Parameters
    ----------
    instance : Instance

    Returns
    -------
    int
        0 where channels of some two classes may share a cell. No more than an instance with trees allows.
    """
    classes = sorted({net.channel_class for net in instance.nets})
    side = MOST_SIDE
    for a in classes:
        for b in classes:
            near = {(int(x), int(y)) for x, y in instance.offsets[a][b]}
            own = 0
            while own < side and all((x, own) in near and (own, x) in near for x in range(-own, own + 1)):
                own += 1
            side = min(side, own)
    if any(len(net.ends) > 2 for net in instance.nets):
        side = min(side, max(instance.bend_cells, 1))
    return side


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
