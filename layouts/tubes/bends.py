"""Shortest tubes between two ends with no bend, one, two or three: the corners of their centrelines.

Searches are deterministic: fixed grids, then ever finer ones round the best.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import numpy as np

from geom.frame import SAME_MM
from layouts.tubes.centreline import BendRule, measure_lines
from layouts.tubes.shortest_pair import find_shortest_pair
from layouts.tubes.values import TubeEnd

OFF_AXIS = 0.5
OFF_ANGLE_DEG = 1.0
"""How far two ends may be out of line and still count as one, [mm] and [deg].

A fitting's sealing ring takes that up: common practice, no source.
"""

Clear = Callable[[np.ndarray, float], np.ndarray]
"""By how much each of (n, m, 3) centrelines comes too near to something, (n,) float, [mm]; 0 where it is clear.

One that lacks more than the second argument, [mm], need not be measured on.
"""

_UNFIT = 1e6
"""Added to what a centreline lacks whose bends do not fit: worse than any that only comes too near, [mm]."""

_BATCH = 24
"""Centrelines of which it is asked at once whether they are clear, the shortest first."""

_KEPT = 5
_GRID = 65
_FINE = 13
_ZOOMS = 50
_ZOOM = 0.72
_FINEST = 1e-4
"""Of the search over two lengths where something is in the way: places that are followed, nodes of the first grid and
of the finer ones a side, how many of these at most, the share of the window that the next one spans once the best
lies inside it, and the window at which that ends, [mm]."""

_LEADS = (0.0, 0.6, 1.4, 2.8)
_ACROSS = 9
_STARTS = 10
_STEPS = 90
_SHRINK = 0.7
"""Of the search over three bends: lead-outs in radii beyond the least, places for the middle corner along each axis,
starts that are followed, steps of each and the share that a step keeps where none is better."""


def find_straight(a: TubeEnd, b: TubeEnd) -> bool:
    """Return whether two ends face each other in one line, within `OFF_AXIS` and `OFF_ANGLE_DEG`."""
    u, v, gap = np.array(a.out), np.array(b.out), np.array(b.at) - np.array(a.at)
    if float(gap @ u) <= 0.0 or float(gap @ v) >= 0.0:
        return False
    angle = math.degrees(math.atan2(float(np.linalg.norm(np.cross(u, v))), -float(u @ v)))
    off = min(float(np.linalg.norm(np.cross(gap, u))), float(np.linalg.norm(np.cross(gap, v))))
    return off <= OFF_AXIS + SAME_MM and angle <= OFF_ANGLE_DEG + 1e-9


def find_one_bend(a: TubeEnd, b: TubeEnd, rule: BendRule) -> np.ndarray | None:
    """Return a tube with one bend, where both axes meet and it fits.

    Parameters
    ----------
    a, b : TubeEnd
    rule : BendRule

    Returns
    -------
    (3, 3) float or None
        Its ends and corner, [mm].
    """
    u, v, gap = np.array(a.out), np.array(b.out), np.array(b.at) - np.array(a.at)
    across = np.cross(u, v)
    square = float(across @ across)
    if square < math.sin(math.radians(OFF_ANGLE_DEG)) ** 2:
        return None
    if abs(float(gap @ across)) / math.sqrt(square) > OFF_AXIS + SAME_MM:
        return None
    s = float(np.cross(gap, v) @ across) / square
    t = float(np.cross(gap, u) @ across) / square
    corner = (np.array(a.at) + s * u + np.array(b.at) + t * v) / 2
    line = np.array([a.at, corner, b.at])
    if s <= 0.0 or t <= 0.0 or float(measure_lines(line[None], rule)[1][0]) > SAME_MM:
        return None
    return line


def find_two_bends(a: TubeEnd, b: TubeEnd, rule: BendRule, clear: Clear | None = None) -> np.ndarray | None:
    """Return the shortest tube with two bends, their corners on the axes of the ends.

    Parameters
    ----------
    a, b : TubeEnd
    rule : BendRule
    clear : callable or None
        What it must keep clear of besides.

    Returns
    -------
    (4, 3) float or None
        Its ends and corners, [mm]; None where none fits within reach.
    """
    first, last = np.array(a.at), np.array(b.at)
    u, v = np.array(a.out), np.array(b.out)

    def make(lengths: np.ndarray) -> np.ndarray:
        count = len(lengths)
        return np.stack(
            [
                np.broadcast_to(first, (count, 3)),
                first + lengths[:, :1] * u,
                last + lengths[:, 1:] * v,
                np.broadcast_to(last, (count, 3)),
            ],
            axis=1,
        )

    reach = _reach(a, b, rule)
    if clear is None:
        wanted = np.array([rule.radius, rule.lead, rule.between])
        # From either end: between sharp bends one search may see what the other misses.
        s, t, least = find_shortest_pair(np.stack([first, u, last, v]), wanted, reach).tolist()
        other_t, other_s, other = find_shortest_pair(np.stack([last, v, first, u]), wanted, reach).tolist()
        if other < least:
            s, t, least = other_s, other_t, other
        return None if math.isinf(least) else make(np.array([[s, t]]))[0]
    # Finer near the ends, where the shortest tubes have their corners.
    steps = rule.lead + reach * np.linspace(0.0, 1.0, _GRID) ** 2
    lengths = np.stack(np.meshgrid(steps, steps, indexing="ij"), axis=-1)
    merit = _weigh(make(lengths.reshape(-1, 2)), rule, clear).reshape(_GRID, _GRID)
    best: tuple[float, np.ndarray] | None = None
    for i, j in _list_hollows(merit)[:_KEPT]:
        window = steps[min(i + 1, _GRID - 1)] - steps[max(i - 1, 0)]
        other = steps[min(j + 1, _GRID - 1)] - steps[max(j - 1, 0)]
        at, value = lengths[i, j], float(merit[i, j])
        span = np.array([window, other])
        shares = np.linspace(-1.0, 1.0, _FINE)
        offsets = np.stack(np.meshgrid(shares, shares, indexing="ij"), axis=-1).reshape(-1, 2)
        for _ in range(_ZOOMS):
            tried = np.maximum(at + offsets * span, rule.lead)
            merits = _weigh(make(tried), rule, clear, value)
            k = int(np.argmin(merits))
            if float(merits[k]) < value:
                at, value = tried[k], float(merits[k])
                if np.abs(offsets[k]).max() == 1.0:
                    # What is best at the window's edge may be better beyond it.
                    continue
            span = span * _ZOOM
            if float(span.max()) < _FINEST:
                break
        if best is None or value < best[0] - SAME_MM:
            best = (value, at)
    if best is None or best[0] >= _UNFIT:
        return None
    return make(best[1][None])[0]


def find_three_bends(a: TubeEnd, b: TubeEnd, rule: BendRule, clear: Clear | None = None) -> np.ndarray | None:
    """Return a short tube with three bends, the outer corners on the axes of the ends.

    Parameters
    ----------
    a, b : TubeEnd
    rule : BendRule
    clear : callable or None
        What it must keep clear of besides.

    Returns
    -------
    (5, 3) float or None
        Its ends and corners, [mm]; None where none fits within reach. The search may miss the very shortest.
    """
    first, last = np.array(a.at), np.array(b.at)
    u, v = np.array(a.out), np.array(b.out)

    def make(values: np.ndarray) -> np.ndarray:
        count = len(values)
        return np.stack(
            [
                np.broadcast_to(first, (count, 3)),
                first + np.maximum(values[:, :1], 0.0) * u,
                values[:, 2:],
                last + np.maximum(values[:, 1:2], 0.0) * v,
                np.broadcast_to(last, (count, 3)),
            ],
            axis=1,
        )

    leads = [rule.lead + rule.radius * share for share in _LEADS]
    round_it = 3.0 * rule.radius + rule.lead + rule.between
    low, high = np.minimum(first, last) - round_it, np.maximum(first, last) + round_it
    axes = [np.linspace(low[k], high[k], _ACROSS) for k in range(3)]
    starts = np.array(list(itertools.product(leads, leads, *axes)))
    merit = _weigh(make(starts), rule, clear)
    chosen: list[int] = []
    for k in np.argsort(merit, kind="stable").tolist():
        # Starts that stand apart lead round different sides.
        if all(math.dist(starts[k, 2:], starts[other, 2:]) > rule.radius for other in chosen):
            chosen.append(k)
        if len(chosen) == _STARTS:
            break
    ways = _list_steps()
    best: tuple[float, np.ndarray] | None = None
    for k in chosen:
        at, step = starts[k], rule.radius
        value = float(_weigh(make(at[None]), rule, clear)[0])
        for _ in range(_STEPS):
            tried = at + step * ways
            merits = _weigh(make(tried), rule, clear, value)
            n = int(np.argmin(merits))
            if float(merits[n]) < value - SAME_MM:
                at, value = tried[n], float(merits[n])
            else:
                step *= _SHRINK
        if best is None or value < best[0] - SAME_MM:
            best = (value, at)
    if best is None or best[0] >= _UNFIT:
        return None
    return make(best[1][None])[0]


def _weigh(points: np.ndarray, rule: BendRule, clear: Clear | None, below: float = 2 * _UNFIT) -> np.ndarray:
    """Return the merit of centrelines, (n,) float: the less the better.

    Lengths where all is well, else what is lacking, on top of `_UNFIT`. Of those longer than `below`, and of those
    behind the shortest clear one, it is not asked whether they are clear: their merit is infinite.
    """
    lengths, lacking = measure_lines(points, rule)
    unfit = lacking > SAME_MM
    merit = np.where(unfit, 2 * _UNFIT + np.minimum(lacking, _UNFIT), lengths)
    if clear is None:
        return merit
    fit = np.flatnonzero(~unfit)
    if below >= _UNFIT:
        near = clear(points[fit], math.inf)
        merit[fit] = np.where(near > SAME_MM, _UNFIT + near, lengths[fit])
        return merit
    merit[fit] = np.inf
    shorter = fit[lengths[fit] < below]
    shorter = shorter[np.argsort(lengths[shorter], kind="stable")]
    for first in range(0, len(shorter), _BATCH):
        batch = shorter[first : first + _BATCH]
        free = batch[clear(points[batch], SAME_MM) <= SAME_MM]
        if len(free):
            merit[free] = lengths[free]
            break
    return merit


def _reach(a: TubeEnd, b: TubeEnd, rule: BendRule) -> float:
    """Return how far past the least lead-out a corner is looked for, [mm]."""
    return 2.0 * math.dist(a.at, b.at) + 16.0 * rule.radius + 2.0 * (rule.lead + rule.between)


def _list_hollows(merit: np.ndarray) -> list[tuple[int, int]]:
    """Return the nodes of a grid that none of their neighbours is better than, the best first."""
    padded = np.pad(merit, 1, constant_values=np.inf)
    rows, columns = merit.shape
    lowest = np.ones(merit.shape, bool)
    for i, j in itertools.product(range(3), range(3)):
        lowest &= merit <= padded[i : i + rows, j : j + columns]
    nodes = np.argwhere(lowest)
    order = np.argsort(merit[lowest], kind="stable")
    return [(int(i), int(j)) for i, j in nodes[order]]


def _list_steps() -> np.ndarray:
    """Return directions in which a tube of three bends is changed, (242, 5) float: all signs and zeros."""
    steps = np.array([step for step in itertools.product((-1.0, 0.0, 1.0), repeat=5) if any(step)])
    return steps / np.linalg.norm(steps, axis=1, keepdims=True)
