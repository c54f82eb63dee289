"""In which order the screws of a cover are tightened: from the middle out, on either side of it in turn.

A cover that is drawn down at its rim first keeps a bow in its middle; one drawn down on one side only tilts, and
pinches its cord there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from geom.outline import Point

ROUNDS = (0.3, 0.7, 1.0)
"""Shares of the full torque in the rounds, [-]; the last is gone round once more. Flanges are drawn down so (about 30,
70 and 100 % in the star pattern of ASME PCC-1, recalled)."""

TOLD_ROUNDS = f"{('no', 'one', 'two', 'three', 'four')[len(ROUNDS)]} rounds"
"""How many that are, in words."""

HOW = f"from the middle out in {TOLD_ROUNDS}"
"""How screws are tightened, wherever it is told."""

SAME = 1e-9
"""Distances that differ by less are the same, in half widths of the pattern."""

RING_SCREWS = 8
"""Rings are as many as the root of the screws over this: two for 32, three for 72."""

ONE_RING = 0.1
"""Screws whose distances from the middle differ by less stand on one ring, in half widths; others on two at least."""

IN_ROW = 0.75
"""Screws stand in two rows where none is nearer to the middle, across the rows, in half widths."""


@dataclass(frozen=True, slots=True)
class _Place:
    """A screw seen from the middle of the pattern, in half widths: its number, place, distance `off`, `angle` [rad]."""

    number: int
    u: float
    v: float

    @property
    def off(self) -> float:
        return math.hypot(self.u, self.v)

    @property
    def angle(self) -> float:
        return math.atan2(self.v, self.u) % (2 * math.pi)


def order_screws(screws: tuple[Point, ...]) -> tuple[int, ...]:
    """Return the screws' numbers, from 0, in the order in which they are tightened.

    One row or two are tightened from their middles to their ends, the next always on the other side, in the other row.
    Any other pattern is taken in rings about its middle, as wide as it is high, the innermost first; within a ring in
    opposite pairs, wherever they stand on it: the next pair where the longest gap between those done is; of two such
    across from the pair before.

    Parameters
    ----------
    screws : tuple of (float, float)
        [mm]

    Returns
    -------
    tuple of int
        Each number once.

    Source
    ------
    Star pattern for round flanges, ASME PCC-1; rows, and its rings for a plate: common practice, no source.
    """
    if len(screws) < 2:
        return tuple(range(len(screws)))
    places = _see_from_middle(screws)
    if _are_rows(places):
        return tuple(_order_rows(places))
    turned = [_Place(place.number, place.v, place.u) for place in places]
    if _are_rows(turned):
        return tuple(_order_rows(turned))
    return tuple(number for ring in _split_rings(places) for number in _cross(ring))


def _are_rows(places: list[_Place]) -> bool:
    """Return whether screws stand in one row along u, or in two."""
    one = all(place.v == 0.0 for place in places)
    return one or all(abs(place.v) >= IN_ROW for place in places)


def _order_rows(places: list[_Place]) -> list[int]:
    """Return the numbers of screws in rows along u, from the middle to the ends: right, left, in rows crosswise."""
    queues: dict[tuple[bool, bool], list[_Place]] = {}
    for place in sorted(places, key=lambda place: (round(abs(place.u), 9), place.number)):
        low = place.v < 0.0
        # A screw in the middle of its row counts to the side that is tightened first there.
        left = place.u < -SAME or (low and abs(place.u) <= SAME)
        queues.setdefault((left, low), []).append(place)
    turns = [queues.get(key, []) for key in ((False, False), (True, True), (True, False), (False, True))]
    return [queue[k].number for k in range(len(places)) for queue in turns if k < len(queue)]


def _see_from_middle(screws: tuple[Point, ...]) -> list[_Place]:
    lows, highs = ([pick(point[k] for point in screws) for k in (0, 1)] for pick in (min, max))
    middle = [(low + high) / 2 for low, high in zip(lows, highs, strict=True)]
    # A row of screws has no height: it is then a pattern of one axis.
    halves = [(high - low) / 2 or 1.0 for low, high in zip(lows, highs, strict=True)]
    places = []
    for number, (x, y) in enumerate(screws):
        u, v = (x - middle[0]) / halves[0], (y - middle[1]) / halves[1]
        places.append(_Place(number, u, v))
    return places


def _split_rings(places: list[_Place]) -> list[list[_Place]]:
    """Return the places by rings of equal width, the innermost first; none empty."""
    least, most = (pick(place.off for place in places) for pick in (min, max))
    if most - least < ONE_RING:
        return [places]
    count = max(2, round(math.sqrt(len(places) / RING_SCREWS)))
    rings: list[list[_Place]] = [[] for _ in range(count)]
    for place in places:
        share = (place.off - least) / (most - least)
        rings[max(1, math.ceil(share * count - SAME)) - 1].append(place)
    return [ring for ring in rings if ring]


def _cross(ring: list[_Place]) -> list[int]:
    """Return a ring's numbers in opposite pairs."""
    left = sorted(ring, key=lambda place: (place.angle, place.off, place.number))
    done: list[_Place] = []
    while left:
        first = left[0] if not done else min(left, key=lambda place: _rank(place, done))
        left.remove(first)
        pair = [first]
        if left:
            across = min(left, key=lambda place: (round(math.pi - _turn(place, first), 9), place.number))
            left.remove(across)
            pair.append(across)
        done += pair
    return [place.number for place in done]


def _rank(place: _Place, done: list[_Place]) -> tuple[float, float, float]:
    """Return what is least for the next pair's first: most off all done, then most across the last pair."""
    nearest = min(_turn(place, other) for other in done)
    across = min(_turn(place, other) for other in done[-2:])
    return round(-nearest, 9), round(-across, 9), place.angle


def _turn(a: _Place, b: _Place) -> float:
    """Return the angle between two places as seen from the middle, 0 to pi, [rad]."""
    turn = abs(a.angle - b.angle) % (2 * math.pi)
    return min(turn, 2 * math.pi - turn)
