"""The same screws, more evenly: each is moved a little as long as the cord between screws lies nearer to them."""

from __future__ import annotations

import numpy as np

from geom.frame import ROUNDING, SAME_MM

MOVES = (4.0, 2.0, 1.0)
"""How far a screw is moved at once, [mm]; first the longest moves are made, as long as they help."""

MOST_ROUNDS = 6
"""Rounds over all screws for each length of moves."""

NEAR_REACHES = 4.0
"""Screws so far from one that was moved may find a better place, in reaches: each serves points one reach away, and
trades them with screws as far beyond."""

DIAGONAL = 1.5
"""Farthest that a move goes, in its length, [-]: to a corner, the root of two, rounded up."""

LEAST_GAIN = 1e-3
"""A move counts where it lowers its sum by more than this share."""


def even_out(
    screws: np.ndarray,
    held: int,
    places: np.ndarray,
    demand: np.ndarray,
    reach: np.ndarray,
    apart: float,
) -> np.ndarray:
    """Return screws that serve all points that the given ones serve, more evenly.

    What is made small is the sum over all points of the eighth power of the distance to the nearest screw over the
    reach: a cover bows with the fourth power of the span, so it is the sum of squared bows.

    Parameters
    ----------
    screws : (n, 2) float
        [mm]
    held : int
        So many of the first ones stay where they are.
    places : (p, 2) float
        Where screws may stand, [mm]; sorted by y.
    demand : (m, 2) float
        Points, [mm].
    reach : (m,) float
        How far a screw may be from each, [mm].
    apart : float
        Least distance of two screws, [mm].

    Returns
    -------
    (n, 2) float
    """
    if len(screws) <= held:
        return screws
    screws = screws.copy()
    off = _squares(demand, screws) / reach[:, None] ** 2
    moving = np.ones(len(screws), bool)
    for length in MOVES:
        moving[:] = True
        for _ in range(MOST_ROUNDS):
            moved = [
                k
                for k in np.flatnonzero(moving).tolist()
                if k >= held and _move(k, length, screws, off, places, demand, reach, apart)
            ]
            if not moved:
                break
            # Only what stands near one that was moved may find a better place now.
            moving = _squares(screws, screws[moved]).min(axis=1) <= (NEAR_REACHES * reach.max()) ** 2
    return screws


def _move(
    k: int,
    length: float,
    screws: np.ndarray,
    off: np.ndarray,
    places: np.ndarray,
    demand: np.ndarray,
    reach: np.ndarray,
    apart: float,
) -> bool:
    """Move one screw to the best place one move away, if that is better; return whether it was moved."""
    x, y = screws[k]
    low, high = np.searchsorted(places[:, 1], (y - length - SAME_MM, y + length + SAME_MM))
    row = places[low:high]
    options = row[np.abs(row[:, 0] - x) <= length + SAME_MM]
    if length > MOVES[-1]:
        # The ring of the farthest places and those half as far: enough directions, few places.
        far = np.abs(options - screws[k]).max(axis=1)
        options = options[
            (np.abs(far - length) < 0.5) & (np.abs((options - screws[k]).sum(axis=1)) % length < 0.5)
        ]
    others = np.delete(screws, k, axis=0)
    if len(others):
        options = options[_squares(options, others).min(axis=1, initial=np.inf) >= (apart - SAME_MM) ** 2]
    if not len(options):
        return False
    touched = np.flatnonzero(_squares(demand, screws[k : k + 1])[:, 0] <= (reach + DIAGONAL * length) ** 2)
    if not len(touched):
        return False
    rest = np.delete(off[touched], k, axis=1).min(axis=1, initial=np.inf)
    before = np.minimum(rest, off[touched, k])
    limit = np.maximum(before.max(), 1.0) + ROUNDING
    scale = reach[touched, None] ** 2
    after = np.minimum(rest[:, None], _squares(demand[touched], options) / scale)
    worst, sums = after.max(axis=0), (after**4).sum(axis=0)
    sums[worst > limit] = np.inf
    best = int(np.argmin(sums.round(9)))
    if not sums[best] < (before**4).sum() * (1 - LEAST_GAIN):
        return False
    screws[k] = options[best]
    off[:, k] = _squares(demand, screws[k : k + 1])[:, 0] / reach**2
    return True


def _squares(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Return the squared distances between points, (len(a), len(b)) [mm2]."""
    return (a[:, None, 0] - b[None, :, 0]) ** 2 + (a[:, None, 1] - b[None, :, 1]) ** 2
