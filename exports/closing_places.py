"""Where things stand in the picture of a closing: pieces of cords, their numbers, their tight corners."""

from __future__ import annotations

import math

from exports.plan_places import point_along
from exports.plan_symbols import TAG_RADIUS
from exports.svg import View
from geom.frame import SAME_MM
from geom.outline import Arc, Line, Point, Segment, path_length, path_points
from layouts.plan import CordLoop

TAG_STEP = 3.0
"""Between the places that are tried for a cord's number, [mm]."""

ROOM_ENOUGH = 6.0
"""Room round a cord's number beyond which more is no better, in picture units."""


def cut_path(path: tuple[Segment, ...], start: float, length: float, closed: bool) -> tuple[Segment, ...]:
    """Return the piece of a path from a distance along it; a closed one goes on past its end.

    Parameters
    ----------
    path : tuple of Line or Arc
    start, length : float
        [mm]; `start` may be negative.
    closed : bool

    Returns
    -------
    tuple of Line or Arc
        Empty where nothing of the path lies there.
    """
    whole = path_length(path)
    length = min(length, whole)
    if closed:
        start %= whole
    spans = [(start, start + length)]
    if closed and start + length > whole:
        spans = [(start, whole), (0.0, start + length - whole)]
    out: list[Segment] = []
    for low, high in spans:
        along = 0.0
        for s in path:
            first, last = max(low - along, 0.0), min(high - along, s.length)
            if last - first > SAME_MM:
                out.append(_cut_segment(s, first / s.length, last / s.length))
            along += s.length
    return tuple(out)


def _cut_segment(s: Segment, first: float, last: float) -> Segment:
    if isinstance(s, Arc):
        return Arc(s.centre, s.radius, s.first + s.sweep * first, s.sweep * (last - first))
    (px, py), (qx, qy) = s.start, s.end
    return Line(
        (px + (qx - px) * first, py + (qy - py) * first), (px + (qx - px) * last, py + (qy - py) * last)
    )


def distance_along(path: tuple[Segment, ...], at: Point) -> float:
    """Return how far along a path its place nearest to `at` lies, to 0.5 mm, [mm]."""
    whole = path_length(path)
    count = max(1, math.ceil(whole / 0.5))
    return min(
        (math.dist(point_along(path, whole * k / count)[0], at), whole * k / count) for k in range(count)
    )[1]


def tight_arcs(loop: CordLoop, least: float) -> tuple[Arc, ...]:
    """Return the turns of a groove whose tighter wall has a smaller radius than `least`, [mm]."""
    half = loop.groove_width / 2
    return tuple(s for s in loop.path if isinstance(s, Arc) and s.radius - half < least - SAME_MM)


def least_wall_radius(loop: CordLoop) -> float | None:
    """Return the least radius of the tighter walls of a groove's turns, [mm]; None without any turn."""
    return min((s.radius - loop.groove_width / 2 for s in loop.path if isinstance(s, Arc)), default=None)


def place_numbers(
    loops: tuple[CordLoop, ...], screws: tuple[Point, ...], screw_radius: float, view: View
) -> dict[str, Point]:
    """Return where each cord's number stands on it, in picture units: clear of screws and of the numbers before.

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
    placed: dict[str, Point] = {}
    for loop in loops:
        offers = []
        for k, (x, y) in enumerate(path_points(loop.path, TAG_STEP).tolist()):
            at = view.to((x, y))
            room = min((math.dist(at, c) - r - TAG_RADIUS for c, r in taken), default=ROOM_ENOUGH)
            offers.append((-round(min(room, ROOM_ENOUGH), 3), k, at))
        at = min(offers)[2]
        placed[loop.name] = at
        taken.append((at, TAG_RADIUS))
    return placed
