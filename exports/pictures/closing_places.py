"""Where things stand in the picture of a closing: places on cords, their badges, their tight corners."""

from __future__ import annotations

import math
from dataclasses import dataclass

from exports.pictures.closing_symbols import tag_half
from exports.pictures.svg import View
from exports.wording.cord_names import cord_tag
from geom.along import Way
from geom.frame import SAME_MM
from geom.outline import Arc, Point, Segment, path_points
from layouts.plan import CordLoop

TAG_STEP = 3.0
"""Between the places that are tried for a cord's number, [mm]."""

ROOM_ENOUGH = 6.0
"""Room round a cord's number beyond which more is no better, in picture units."""

LEAST_ROOM = 1.0
"""Room round a badge on its cord under which it stands beside it, in picture units."""

TAG_OFF = (9.0, 14.0, 20.0, 28.0, 38.0)
"""How far off its cord a badge's rim stands there, in picture units: the nearest with room."""


@dataclass(frozen=True, slots=True)
class TagPlace:
    """Where a cord's badge stands, and the place on the cord that it belongs to, in picture units."""

    at: Point
    about: Point


def distance_along(path: tuple[Segment, ...], at: Point) -> float:
    """Return how far along a path its place nearest to `at` lies, to 0.5 mm, [mm]."""
    way = Way(path, closed=False)
    count = max(1, math.ceil(way.length / 0.5))
    steps = [way.length * k / count for k in range(count)]
    return min((math.dist(way.point(step), at), step) for step in steps)[1]


def tight_arcs(loop: CordLoop, least: float) -> tuple[Arc, ...]:
    """Return the turns of a groove whose tighter wall has a smaller radius than `least`, [mm]."""
    half = loop.groove_width / 2
    return tuple(s for s in loop.path if isinstance(s, Arc) and s.radius - half < least - SAME_MM)


def place_tags(
    loops: tuple[CordLoop, ...], screws: tuple[Point, ...], screw_radius: float, view: View
) -> dict[str, TagPlace]:
    """Return where each cord's badge stands: on it, or beside it where it would hide a screw or another badge.

    Parameters
    ----------
    loops : tuple of CordLoop
    screws : tuple of (float, float)
        [mm]
    screw_radius : float
        As drawn, in picture units.
    view : View
    """
    taken = [(view.to(at), screw_radius) for at in screws]
    placed: dict[str, TagPlace] = {}
    for loop in loops:
        half = tag_half(cord_tag(loop))
        way = Way(loop.path, loop.closed)
        steps = [TAG_STEP * k for k in range(max(1, int(way.length / TAG_STEP)))]
        on = [(view.to(way.point(step)), view.to(way.point(step))) for step in steps]
        room, place = _roomiest(on, half, taken, ())
        if room < LEAST_ROOM:
            cords = tuple(
                view.to((x, y)) for one in loops for x, y in path_points(one.path, TAG_STEP).tolist()
            )
            beside = [
                (
                    view.to(way.point(step)),
                    _beside(view.to(way.point(step)), way.heading(step), side * (half + off)),
                )
                for off in TAG_OFF
                for side in (1.0, -1.0)
                for step in steps
            ]
            place = _roomiest(beside, half, taken, cords)[1]
        placed[loop.name] = place
        taken.append((place.at, half))
    return placed


def _beside(at: Point, heading: Point, off: float) -> Point:
    """Return the place so far left of a direction in the panel's frame, in picture units."""
    return (at[0] - heading[1] * off, at[1] - heading[0] * off)


def _roomiest(
    offers: list[tuple[Point, Point]], half: float, taken: list[tuple[Point, float]], cords: tuple[Point, ...]
) -> tuple[float, TagPlace]:
    """Return the room round the offer, a place on the cord and the badge's, that has most of it, and the offer."""
    best: tuple[float, TagPlace] | None = None
    for about, at in offers:
        room = min((math.dist(at, c) - r - half for c, r in taken), default=ROOM_ENOUGH)
        if room > (-math.inf if best is None else best[0]) and cords:
            room = min(room, min(math.dist(at, c) for c in cords) - half - LEAST_ROOM)
        room = round(min(room, ROOM_ENOUGH), 3)
        if best is None or room > best[0]:
            best = (room, TagPlace(at, about))
    if best is None:
        raise ValueError("a cord has at least one place")
    return best
