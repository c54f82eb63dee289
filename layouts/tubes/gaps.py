"""Distances between chains of straight pieces, single straight pieces and a box, as compiled loops, [mm]."""

from __future__ import annotations

import math

import numpy as np

from geom.compiled import compile_cached

THIRDS = 48
"""Thirds that are cut off a straight piece until the place nearest to the box is found: 4 nm of a metre are left."""


@compile_cached
def _piece_apart(p: np.ndarray, q: np.ndarray, r: np.ndarray, s: np.ndarray) -> float:
    """Return the distance between the straight pieces p q and r s."""
    dd = ee = de = dg = eg = 0.0
    for k in range(3):
        d, e, gap = q[k] - p[k], s[k] - r[k], p[k] - r[k]
        dd += d * d
        ee += e * e
        de += d * e
        dg += d * gap
        eg += e * gap
    tiny = 1e-12
    square = dd * ee - de * de
    a = 0.0
    if square > tiny:
        a = min(max((de * eg - dg * ee) / square, 0.0), 1.0)
    b = min(max((de * a + eg) / max(ee, tiny), 0.0), 1.0)
    a = min(max((de * b - dg) / max(dd, tiny), 0.0), 1.0)
    total = 0.0
    for k in range(3):
        off = p[k] + a * (q[k] - p[k]) - r[k] - b * (s[k] - r[k])
        total += off * off
    return math.sqrt(total)


@compile_cached
def _far_off(p: np.ndarray, q: np.ndarray, r: np.ndarray, s: np.ndarray, most: float) -> bool:
    """Return whether two straight pieces' boxes stand farther apart than `most` along an axis."""
    off = 0.0
    for k in range(3):
        off = max(off, min(r[k], s[k]) - max(p[k], q[k]), min(p[k], q[k]) - max(r[k], s[k]))
    return off > most


@compile_cached
def _box_apart(p: np.ndarray, q: np.ndarray, low: np.ndarray, high: np.ndarray) -> float:
    """Return the distance of the straight piece p q from a box."""
    # The distance from a convex body is convex along a straight line: thirds are cut off.
    first, last = 0.0, 1.0
    best = 0.0
    for step in range(THIRDS + 1):
        a, b = first + (last - first) / 3, last - (last - first) / 3
        off_a = off_b = 0.0
        for k in range(3):
            x, y = p[k] + a * (q[k] - p[k]), p[k] + b * (q[k] - p[k])
            off_a += max(low[k] - x, x - high[k], 0.0) ** 2
            off_b += max(low[k] - y, y - high[k], 0.0) ** 2
        best = min(off_a, off_b)
        if best == 0.0 or step == THIRDS:
            break
        if off_a <= off_b:
            last = b
        else:
            first = a
    return math.sqrt(best)


@compile_cached
def lack_from_rods(chains: np.ndarray, rods: np.ndarray, needs: np.ndarray, enough: float) -> np.ndarray:
    """Return by how much each chain comes too near to any rod.

    Parameters
    ----------
    chains : (n, k + 1, 3) float
        [mm].
    rods : (m, 2, 3) float
        [mm].
    needs : (m,) float
        Least distance from each, [mm].
    enough : float
        A chain that lacks more is not measured on, [mm].

    Returns
    -------
    (n,) float
        [mm]; 0 where it is clear of all.
    """
    lacks = np.zeros(chains.shape[0])
    for n in range(chains.shape[0]):
        for k in range(chains.shape[1] - 1):
            if lacks[n] > enough:
                break
            p, q = chains[n, k], chains[n, k + 1]
            for m in range(rods.shape[0]):
                most = needs[m] - lacks[n]
                if not _far_off(p, q, rods[m, 0], rods[m, 1], most):
                    lacks[n] = max(lacks[n], needs[m] - _piece_apart(p, q, rods[m, 0], rods[m, 1]))
    return lacks


@compile_cached
def lack_from_box(chains: np.ndarray, low: np.ndarray, high: np.ndarray, needs: float) -> np.ndarray:
    """Return by how much each chain, its first piece aside, comes too near to a box.

    Parameters
    ----------
    chains : (n, k + 1, 3) float
        [mm].
    low, high : (3,) float
        Its corners, [mm].
    needs : float
        [mm].

    Returns
    -------
    (n,) float
        [mm]; 0 where it is clear.
    """
    lacks = np.zeros(chains.shape[0])
    for n in range(chains.shape[0]):
        for k in range(1, chains.shape[1] - 1):
            p, q = chains[n, k], chains[n, k + 1]
            if not _far_off(p, q, low, high, needs):
                lacks[n] = max(lacks[n], needs - _box_apart(p, q, low, high))
    return lacks
