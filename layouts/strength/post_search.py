"""The places at which a number of posts hold a plate best: one by one, then each moved until none gains.

What is made least is not the greatest bow but a mean that weighs it most: where two bays bow alike, no move of one post
lowers the greatest, and the search would end far from the best.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geom.frame import SAME_MM
from geom.outline import Point
from layouts.strength.point_supports import free_bow, influence

DIVISIONS = 16
"""Parts into which the plate's shorter side is divided where its bow is looked at."""

ROUNDS = 8
"""Rounds of moving each post to its best place; two or three do."""

POWERS = (2, 4)
"""Powers of the bow whose means are made least, one after the other; of their results the one that bows least is taken.
On a pocket of 150 x 90 mm that is within 2 % of the best two of all, and with more posts of the best of 25 random
starts."""

TIE = 9
"""Digits of the bow in which two places must differ: the first by rows else, not the one that rounding favours."""


@dataclass(frozen=True, slots=True)
class PlateBows:
    """A simply supported plate: its bow under pressure, and under a force at each place, for a stiffness of one.

    Parameters
    ----------
    places : (n, 2) float
        [mm]
    free : (m,) float
        At the points that are looked at, without any post, over the pressure, [mm4].
    free_at : (n,) float
        The same at the places.
    under : (n, m) float
        At the points, under a force at each place, over the force, [mm2].
    between : (n, n) float
        At each place under a force at each other one, [mm2].
    """

    places: np.ndarray
    free: np.ndarray
    free_at: np.ndarray
    under: np.ndarray
    between: np.ndarray


def list_bows(corner: Point, width: float, height: float, places: np.ndarray) -> PlateBows:
    """Return how a plate bows under all that a search asks for.

    Parameters
    ----------
    corner : (float, float)
        Lower left corner of the plate, [mm].
    width, height : float
        [mm]
    places : (n, 2) float
        Where posts may stand, [mm].
    """
    on_plate, points = places - corner, look_points(width, height)
    return PlateBows(
        places,
        free_bow(width, height, points),
        free_bow(width, height, on_plate),
        influence(width, height, on_plate, points),
        influence(width, height, on_plate, on_plate),
    )


def keep_places(bows: PlateBows, kept: np.ndarray) -> PlateBows:
    """Return the plate with those places alone that are kept, (n,) bool."""
    return PlateBows(
        bows.places[kept], bows.free, bows.free_at[kept], bows.under[kept], bows.between[kept][:, kept]
    )


def look_points(width: float, height: float) -> np.ndarray:
    """Return the points at which a plate's bow is looked at, from its lower left corner, its middle among them.

    Parameters
    ----------
    width, height : float
        [mm]

    Returns
    -------
    (n, 2) float
        [mm]
    """
    step = min(width, height) / DIVISIONS
    across, up = (
        np.linspace(0, length, 2 * math.ceil(length / step / 2) + 1)[1:-1] for length in (width, height)
    )
    x, y = np.meshgrid(across, up)
    return np.column_stack((x.ravel(), y.ravel()))


def search_places(bows: PlateBows, apart: float, count: int) -> tuple[tuple[Point, ...], float]:
    """Return places for a number of posts at which the plate bows least, as far as single moves find them.

    Parameters
    ----------
    bows : PlateBows
    apart : float
        Least distance between two posts' axes, [mm].
    count : int

    Returns
    -------
    places : tuple of (float, float)
        In their order, [mm]; fewer than `count` where no more fit.
    bow : float
        Greatest bow with posts there, over the pressure and for a stiffness of one, [mm4].
    """
    found = [_search_mean(bows, apart, count, power) for power in POWERS]
    most = max(len(chosen) for chosen in found)
    full = [chosen for chosen in found if len(chosen) == most]
    best = min(full, key=lambda chosen: round(_greatest_bow(bows, chosen) / bows.free.max(), TIE))
    places = tuple((float(bows.places[k, 0]), float(bows.places[k, 1])) for k in sorted(best))
    return places, _greatest_bow(bows, best)


def _search_mean(bows: PlateBows, apart: float, count: int, power: int) -> list[int]:
    """Return the numbers of places at which the mean of a power of the bow is least; fewer where no more fit."""
    chosen: list[int] = []
    while len(chosen) < count:
        one = _best_beside(bows, apart, chosen, power)
        if one is None:
            return chosen
        chosen.append(one[0])
    least = math.inf
    for _ in range(ROUNDS):
        mean = least
        for k in range(count):
            one = _best_beside(bows, apart, [*chosen[:k], *chosen[k + 1 :]], power)
            # Its own place is free at least.
            assert one is not None
            chosen[k], mean = one
        if mean >= least * (1 - 10**-TIE):
            break
        least = mean
    return chosen


def _greatest_bow(bows: PlateBows, chosen: list[int]) -> float:
    """Return the greatest bow with posts at the places of those numbers, [mm4]."""
    if not chosen:
        return float(bows.free.max())
    forces = np.linalg.solve(bows.between[chosen][:, chosen], bows.free_at[chosen])
    return float((bows.free - forces @ bows.under[chosen]).max())


def _best_beside(bows: PlateBows, apart: float, others: list[int], power: int) -> tuple[int, float] | None:
    """Return the place for one more post beside others, and the mean of the bow's power; None where none fits."""
    off = np.hypot(*(bows.places[:, None, :] - bows.places[None, others, :]).transpose(2, 0, 1))
    clear = np.flatnonzero((off >= apart - SAME_MM).all(axis=1))
    if not len(clear):
        return None
    free, free_at, under = bows.free, bows.free_at[clear], bows.under[clear]
    own = bows.between[clear, clear]
    if others:
        # The plate that stands still at the others: what a pressure or a force does to it, their forces counted.
        stiff, mixed = bows.between[others][:, others], bows.between[others][:, clear]
        held, forces = np.linalg.solve(stiff, mixed), np.linalg.solve(stiff, bows.free_at[others])
        free_at = free_at - forces @ mixed
        free = free - forces @ bows.under[others]
        under = under - held.T @ bows.under[others]
        own = own - (held * mixed).sum(axis=0)
    left = np.maximum(0.0, free - (free_at / own)[:, None] * under) / bows.free.max()
    means = (left**power).mean(axis=1) ** (1 / power)
    best = int(np.argmin(means.round(TIE)))
    return int(clear[best]), float(means[best])
