"""Outlines of lines and arcs to cells, exactly: which centres of a flat grid lie inside.

Lines of the grid that run along y are cut by the outline; every cut turns what lies above it from dry to wet or back.
Pieces share their end points to the last bit, so that each line of the grid is cut an even number of times.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from geom.compiled import compile_cached
from geom.frame import ROUNDING
from geom.outline import Line, Loop, Point, Region

LINE = 0.0
"""Mark of a straight piece; arcs have the side of their centre on which they lie, 1 above and -1 below."""


def cover_region(region: Region, first: Point, spacing: float, shape: tuple[int, int]) -> np.ndarray:
    """Return which points of a grid lie in the union of a region's loops.

    Parameters
    ----------
    region : tuple of Loop
    first : (float, float)
        The grid's point of least x and y, [mm].
    spacing : float
        [mm]
    shape : (int, int)
        Points along x and y.

    Returns
    -------
    numpy.ndarray
        `shape`, bool. A point on an outline counts as if it lay a hair further along x, then along y.
    """
    held = np.zeros(shape, np.bool_)
    for loop in region:
        held |= cover_loop(loop, first, spacing, shape)
    return held


def cover_loop(loop: Loop, first: Point, spacing: float, shape: tuple[int, int]) -> np.ndarray:
    """Return which points of a grid lie in a loop; as `cover_region`."""
    held = np.zeros(shape, np.bool_)
    _scan(_pieces_of(loop), first[0], first[1], spacing, held)
    return held


def bounds_of(region: Region) -> tuple[float, float, float, float]:
    """Return the least x and y and the greatest x and y of a region, [mm]; exact, arcs included."""
    ends = np.concatenate([_pieces_of(loop)[:, :4] for loop in region])
    x, y = ends[:, [0, 2]], ends[:, [1, 3]]
    return float(x.min()), float(y.min()), float(x.max()), float(y.max())


def _pieces_of(loop: Loop) -> np.ndarray:
    """Return a loop's pieces, each with one y for an x: x0, y0, x1, y1, side, centre x, centre y, radius; (n, 8).

    Arcs are parted at quarter turns, so that bounds follow from ends alone.
    """
    starts: list[tuple[float, float]] = []
    rest: list[tuple[float, float, float, float]] = []
    for segment in loop:
        if isinstance(segment, Line):
            starts.append(segment.start)
            rest.append((LINE, 0.0, 0.0, 0.0))
            continue
        quarter = math.pi / 2
        (cx, cy), r, last = segment.centre, segment.radius, segment.first + segment.sweep
        low, high = sorted((segment.first, last))
        turns = [k * quarter for k in range(math.ceil(low / quarter), math.floor(high / quarter) + 1)]
        inner = [angle for angle in turns if low + ROUNDING < angle < high - ROUNDING]
        angles = [segment.first, *(inner if segment.sweep > 0 else reversed(inner)), last]
        for a, b in pairwise(angles):
            starts.append((cx + r * math.cos(a), cy + r * math.sin(a)))
            rest.append((math.copysign(1.0, math.sin((a + b) / 2)), cx, cy, r))
    corners = np.array(starts)
    return np.hstack((corners, np.roll(corners, -1, axis=0), np.array(rest)))


@compile_cached
def _scan(pieces, x_first, y_first, spacing, held):  # type: ignore[no-untyped-def]
    columns, rows = held.shape
    for n in range(len(pieces)):
        x0, y0, x1, y1, side, cx, cy, r = pieces[n]
        low, high = min(x0, x1), max(x0, x1)
        i = max(0, int(np.ceil((low - x_first) / spacing)) - 1)
        while i < columns:
            x = x_first + i * spacing
            if x >= high:
                break
            # Both pieces that meet at a point compare it with the same number: one of them cuts this line, not both.
            if x >= low:
                if side == LINE:
                    y = y0 + (x - x0) / (x1 - x0) * (y1 - y0)
                else:
                    y = cy + side * np.sqrt(max(r * r - (x - cx) * (x - cx), 0.0))
                y = min(max(y, min(y0, y1)), max(y0, y1))
                j = max(0, int(np.ceil((y - y_first) / spacing)))
                if j < rows:
                    held[i, j] = not held[i, j]
            i += 1
    for i in range(columns):
        inside = False
        for j in range(rows):
            if held[i, j]:
                inside = not inside
            held[i, j] = inside
