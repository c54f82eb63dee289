"""One run of a channel on the grid, and whether it keeps off itself."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from layouts.routing.instance import CHANNEL, Instance

TEE = -1
"""In place of an end's index: the run stops at a T on an earlier run."""

HOLE = -2
"""In place of an end's index: the run begins or stops at a through hole, the next goes on in the other layer."""

GridLeg = tuple[tuple[int, int], tuple[int, int]]


@dataclass(frozen=True, slots=True)
class GridRun:
    """A run in one layer, from one end of its channel or a through hole to another, or to a T on an earlier run.

    The runs of one way from end to end stand in order, each joined to the next by a through hole.

    Parameters
    ----------
    corners : tuple of (int, int)
        (column, row) from the first node to the last, bends and both ends.
    first : int
        Index of the end where it begins, or HOLE.
    last : int
        Index of the end where it stops, TEE or HOLE.
    straight : tuple of (int, int)
        (cell, direction) of its cells that lie on a straight, away from bends and ends: a T may stand there.
    layer : int
    """

    corners: tuple[tuple[int, int], ...]
    first: int
    last: int
    straight: tuple[tuple[int, int], ...]
    layer: int = 0


def find_return(instance: Instance, run: GridRun) -> list[int]:
    """Return a cell at which a run comes too near one of its earlier, not adjoining straights; empty: none.

    Parameters
    ----------
    instance : Instance
    run : GridRun

    Returns
    -------
    list of int
        One cell of the later straight, or nothing.
    """
    if instance.bend_cells == 0:
        return []
    near = instance.offsets[CHANNEL][CHANNEL]
    near_squared = int((near**2).sum(axis=1).max())
    reach = math.hypot(*np.abs(near).max(axis=0))
    legs = list(pairwise(run.corners))
    for later in range(2, len(legs)):
        for earlier in range(later - 1):
            a, b = legs[earlier], legs[later]
            if _boxes_apart(a, b) > reach:
                continue
            for x, y in _leg_cells(b):
                px = min(max(x, min(a[0][0], a[1][0])), max(a[0][0], a[1][0]))
                py = min(max(y, min(a[0][1], a[1][1])), max(a[0][1], a[1][1]))
                if (x - px) ** 2 + (y - py) ** 2 <= near_squared:
                    return [y * instance.columns + x]
    return []


def _leg_cells(leg: GridLeg) -> list[tuple[int, int]]:
    (ax, ay), (bx, by) = leg
    steps = max(abs(bx - ax), abs(by - ay))
    sx, sy = (bx > ax) - (bx < ax), (by > ay) - (by < ay)
    return [(ax + sx * n, ay + sy * n) for n in range(steps + 1)]


def _boxes_apart(a: GridLeg, b: GridLeg) -> float:
    dx = max(min(a[0][0], a[1][0]) - max(b[0][0], b[1][0]), min(b[0][0], b[1][0]) - max(a[0][0], a[1][0]), 0)
    dy = max(min(a[0][1], a[1][1]) - max(b[0][1], b[1][1]), min(b[0][1], b[1][1]) - max(a[0][1], a[1][1]), 0)
    return math.hypot(dx, dy)
