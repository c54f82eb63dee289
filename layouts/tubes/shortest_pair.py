"""The shortest tube with two bends: how far along each end's axis its corners stand, as compiled loops.

For every length at one end the lengths at the other that fit are looked for, their limits by halving: shortest tubes
lie on these. Between bends of nearly 180 degrees what fits is a narrow strip, which a plain grid would miss.
"""

from __future__ import annotations

import math

import numpy as np

from geom.compiled import compile_cached
from geom.frame import SAME_MM
from layouts.tubes.centreline import FAR

NODES = 220
"""Lengths that are tried at each end; finer where they are short."""

KEPT = 4
FINE = 9
LEVELS = 34
"""Best places that are followed, lengths of each finer look, and how many times one halves the window."""

CUTS = 44
"""How often a window is cut in which a limit, or the least of something, lies: of a metre less than 0.001 nm is left by
halves, 18 nm by thirds."""


@compile_cached
def _measure(ends: np.ndarray, rule: np.ndarray, s: float, t: float) -> tuple[float, float]:
    """Return the length of a tube with corners at s and t, and what its shortest straight lacks, [mm]."""
    radius, lead, between = rule[0], rule[1], rule[2]
    dd = du = dv = 0.0
    for k in range(3):
        d = ends[2, k] + t * ends[3, k] - ends[0, k] - s * ends[1, k]
        dd += d * d
        du += d * ends[1, k]
        dv -= d * ends[3, k]
    one = math.atan2(math.sqrt(max(dd - du * du, 0.0)), du)
    two = math.atan2(math.sqrt(max(dd - dv * dv, 0.0)), dv)
    first = radius * min(abs(math.tan(one / 2)), FAR)
    second = radius * min(abs(math.tan(two / 2)), FAR)
    middle = math.sqrt(dd)
    lacking = max(lead + first - s, lead + second - t, between + first + second - middle, 0.0)
    return s + t + middle - 2 * (first + second) + radius * (one + two), lacking


@compile_cached
def _lowest(ends: np.ndarray, rule: np.ndarray, low: float, high: float, t: float, of: int) -> float:
    """Return where in a window the length (of 0) or what is lacking (of 1) is least, by cutting off thirds."""
    for _ in range(CUTS):
        a, b = low + (high - low) / 3, high - (high - low) / 3
        if _measure(ends, rule, a, t)[of] <= _measure(ends, rule, b, t)[of]:
            high = b
        else:
            low = a
    return (low + high) / 2


@compile_cached
def _limit(ends: np.ndarray, rule: np.ndarray, fits: float, lacks: float, t: float) -> float:
    """Return the length nearest to `lacks` that fits, between one that fits and one that lacks."""
    for _ in range(CUTS):
        middle = (fits + lacks) / 2
        if _measure(ends, rule, middle, t)[1] <= SAME_MM:
            fits = middle
        else:
            lacks = middle
    return fits


@compile_cached
def _best_along(ends: np.ndarray, rule: np.ndarray, steps: np.ndarray, t: float) -> tuple[float, float]:
    """Return the least length of a tube whose second corner stands at t, infinite where none fits, and its s."""
    best, at = np.inf, 0.0
    count = len(steps)
    lengths, lacks = np.empty(count), np.empty(count)
    for k in range(count):
        lengths[k], lacks[k] = _measure(ends, rule, steps[k], t)
    for k in range(count):
        low, high = steps[max(k - 1, 0)], steps[min(k + 1, count - 1)]
        if lacks[k] <= SAME_MM:
            tried = steps[k]
            if k and lacks[k - 1] > SAME_MM:
                tried = _limit(ends, rule, tried, low, t)
            if lengths[k] < best:
                best, at = lengths[k], steps[k]
            length = _measure(ends, rule, tried, t)[0]
            if length < best:
                best, at = length, tried
            if k + 1 < count and lacks[k + 1] > SAME_MM:
                tried = _limit(ends, rule, steps[k], high, t)
                length = _measure(ends, rule, tried, t)[0]
                if length < best:
                    best, at = length, tried
            inner = 0 < k < count - 1 and lengths[k] <= lengths[k - 1] and lengths[k] <= lengths[k + 1]
            if inner and lengths[k] <= best:
                tried = _lowest(ends, rule, low, high, t, 0)
                length, lacking = _measure(ends, rule, tried, t)
                if lacking <= SAME_MM and length < best:
                    best, at = length, tried
            continue
        # Between two lengths that do not fit there may be some that do.
        before, after = lacks[max(k - 1, 0)], lacks[min(k + 1, count - 1)]
        if lacks[k] <= before and lacks[k] <= after and min(before, after) > SAME_MM:
            tried = _lowest(ends, rule, low, high, t, 1)
            if _measure(ends, rule, tried, t)[1] <= SAME_MM:
                for limit in (low, high):
                    end = _limit(ends, rule, tried, limit, t)
                    length = _measure(ends, rule, end, t)[0]
                    if length < best:
                        best, at = length, end
    return best, at


@compile_cached
def find_shortest_pair(ends: np.ndarray, rule: np.ndarray, reach: float) -> np.ndarray:
    """Return how far along the axes of the ends the corners of the shortest tube with two bends stand.

    Parameters
    ----------
    ends : (4, 3) float
        The first end and the unit vector out of it, then the second's, [mm].
    rule : (3,) float
        Radius, least lead-out and least straight between bends, [mm].
    reach : float
        How far past the least lead-out is looked, [mm].

    Returns
    -------
    (3,) float
        Both lengths, and that of the tube, infinite where none fits, [mm].
    """
    steps = np.empty(NODES)
    for k in range(NODES):
        steps[k] = rule[1] + reach * (k / (NODES - 1)) ** 2
    values, at = np.empty(NODES), np.empty(NODES)
    for k in range(NODES):
        values[k], at[k] = _best_along(ends, rule, steps, steps[k])
    found = np.array([0.0, 0.0, np.inf])
    taken = np.zeros(NODES, np.bool_)
    for _ in range(KEPT):
        node = -1
        for k in range(NODES):
            before, after = values[max(k - 1, 0)], values[min(k + 1, NODES - 1)]
            lowest = values[k] <= before and values[k] <= after and values[k] < np.inf
            if lowest and not taken[k] and (node < 0 or values[k] < values[node]):
                node = k
        if node < 0:
            break
        taken[node] = True
        s, t, value = at[node], steps[node], values[node]
        window = max(steps[min(node + 1, NODES - 1)] - t, t - steps[max(node - 1, 0)])
        for _ in range(LEVELS):
            centre = t
            for k in range(FINE):
                tried = max(centre + window * (2.0 * k / (FINE - 1) - 1.0), rule[1])
                length, place = _best_along(ends, rule, steps, tried)
                if length < value:
                    s, t, value = place, tried, length
            window /= 2
        if value < found[2]:
            found[0], found[1], found[2] = s, t, value
    return found
