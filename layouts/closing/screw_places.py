"""The places that are tried for cover screws: a grid, finer where room is narrow, and what the edge's row needs."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from layouts.closing.screw_room import ScrewRoom
from layouts.panel import Panel

FINE = 1.0
"""Step of the fine grid, [mm]: screws are moved on it, and narrow room is tried on it."""

COARSE = 2
"""Step of the grid in wide room, in fine steps. On the demos 1 instead saves one screw in 60 and takes ten times as
long; 2.5 costs one more in 60."""

MOST_PLACES = 20_000
"""Beyond this many places the grid in wide room is made coarser still."""

THIN_STEP, ROUND = 0.5, 1
"""Room that the fine grid misses is tried along its outline: step there [mm], decimals of the places."""


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Places of a cover's screws.

    Parameters
    ----------
    points : (n, 2) float
        All free places of the fine grid and those beside it, [mm]; by y, then by x.
    tried : (m,) int
        Numbers of those that the choice of screws is made from.
    near : (m, k) int
        For each of these some neighbours, as positions in `tried`; -1 where there is none.
    """

    points: np.ndarray
    tried: np.ndarray
    near: np.ndarray


def list_places(panel: Panel, room: ScrewRoom) -> Places:
    """Return the places where a screw's axis may stand.

    Parameters
    ----------
    panel : Panel
    room : ScrewRoom

    Returns
    -------
    Places
    """
    if room.free.is_empty:
        return Places(np.zeros((0, 2)), np.zeros(0, int), np.zeros((0, 0), int))
    free = room.free
    shapely.prepare(free)
    xs, ys = (
        _lines(panel.width, free.bounds[0], free.bounds[2]),
        _lines(panel.height, free.bounds[1], free.bounds[3]),
    )
    x, y = np.meshgrid(xs, ys)
    mask = shapely.intersects_xy(free, x.ravel(), y.ravel()).reshape(x.shape)
    step = COARSE
    while (wide := mask & _whole(xs, step)[None, :] & _whole(ys, step)[:, None]).sum() > MOST_PLACES:
        step += 1
    tried = wide | (mask & ~_opened(mask, step))
    thin = _thin_places(free, x[mask], y[mask])
    points = np.concatenate((np.column_stack((x[mask], y[mask])), thin))
    taken = np.concatenate((tried[mask], np.ones(len(thin), bool)))
    order = np.lexsort((points[:, 0], points[:, 1]))
    points, numbers = points[order], np.flatnonzero(taken[order])
    return Places(points, numbers, _neighbours(points[numbers], step * FINE))


def _lines(length: float, low: float, high: float) -> np.ndarray:
    """Return the coordinates of the fine grid, and the outermost ones that are free, [mm]."""
    tenths = (math.ceil(10 * low + 1e-6) / 10, math.floor(10 * high - 1e-6) / 10)
    lines = np.concatenate((np.arange(0.0, length, FINE), tenths))
    lines = np.unique(lines.round(6))
    return lines[(lines >= low) & (lines <= high)]


def _whole(lines: np.ndarray, step: int) -> np.ndarray:
    """Return which lines are whole multiples of the step, or the outermost ones."""
    steps = lines / (step * FINE)
    whole = np.abs(steps - steps.round()) < 1e-6
    whole[[0, -1]] = True
    return whole


def _opened(mask: np.ndarray, step: int) -> np.ndarray:
    """Return what lies within one step of a place with free places all round it: room that is not narrow."""
    inner = mask.copy()
    for axis in (0, 1):
        inner = inner & _moved(inner, 1, axis) & _moved(inner, -1, axis)
    for axis in (0, 1):
        inner = np.logical_or.reduce([_moved(inner, k, axis) for k in range(-step, step + 1)])
    return inner


def _moved(mask: np.ndarray, by: int, axis: int) -> np.ndarray:
    """Return a mask moved by some places, False where nothing moves in."""
    out = np.zeros_like(mask)
    count = mask.shape[axis]
    if abs(by) >= count:
        return out
    into, source = [slice(None)] * 2, [slice(None)] * 2
    into[axis] = slice(max(by, 0), count + min(by, 0))
    source[axis] = slice(max(-by, 0), count - max(by, 0))
    out[tuple(into)] = mask[tuple(source)]
    return out


def _thin_places(free: shapely.Geometry, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return places along the outlines of free room that are not near any of (x, y), (n, 2) [mm]."""
    outlines = [
        path.segmentize(THIN_STEP) for path in shapely.get_parts(shapely.boundary(free)) if path.length > 0
    ]
    if not outlines:
        return np.zeros((0, 2))
    spots = np.unique(shapely.get_coordinates(outlines).round(ROUND), axis=0)
    seen = np.zeros((int(y.max(initial=0) / FINE) + 3, int(x.max(initial=0) / FINE) + 3), bool)
    seen[(y / FINE).astype(int), (x / FINE).astype(int)] = True
    cells = (spots / FINE).astype(int)
    near = np.zeros(len(spots), bool)
    for dx in (-1, 0, 1):
        for dy in (-1, 0, 1):
            column, row = cells[:, 0] + dx, cells[:, 1] + dy
            known = (column >= 0) & (row >= 0) & (column < seen.shape[1]) & (row < seen.shape[0])
            near[known] |= seen[row[known], column[known]]
    spots = spots[~near]
    return spots[shapely.intersects_xy(free, spots[:, 0], spots[:, 1])]


def _neighbours(points: np.ndarray, step: float) -> np.ndarray:
    """Return for each point others of its grid up to two steps away, nearest first, (n, 24) int; -1 for none."""
    cells = (points / step).round().astype(int) + 2
    on_grid = np.abs(points / step + 2 - cells).max(axis=1) < 1e-6
    number = np.full((cells[:, 1].max() + 3, cells[:, 0].max() + 3), -1)
    number[cells[on_grid, 1], cells[on_grid, 0]] = np.flatnonzero(on_grid)
    moves = [(dx, dy) for dy in range(-2, 3) for dx in range(-2, 3) if (dx, dy) != (0, 0)]
    moves.sort(key=lambda move: move[0] ** 2 + move[1] ** 2)
    near = np.column_stack([number[cells[:, 1] + dy, cells[:, 0] + dx] for dx, dy in moves])
    near[near == np.arange(len(points))[:, None]] = -1
    return near
