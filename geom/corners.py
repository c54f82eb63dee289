"""Rounding of the re-entrant corners of an outline: exact tangent arcs between lines and arcs.

A corner is *re-entrant* where the outline turns to the right, its material being on the left: the corner of
a groove that turns round a T of channels. A ball that rolls on the outside stops there at its fillet.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from geom.frame import SAME_MM
from geom.outline import Arc, Line, Loop, Point, Segment

TURN_RAD = 1e-4
"""Least turn that is a corner: what is below it is a tangent joint seen through rounding errors."""

LEAST_RADIUS_MM = 1e-2
"""A corner that takes less than this is left sharp."""


@dataclass(frozen=True, slots=True)
class Corner:
    """A re-entrant corner and the radius it was given, [mm]; 0 where it stayed sharp."""

    at: Point
    radius: float


def round_reentrant(loop: Loop, radius_at: Callable[[Point], float]) -> tuple[Loop, tuple[Corner, ...]]:
    """Return a loop with its re-entrant corners rounded.

    A corner whose neighbours are too short for the radius gets the largest radius that fits.

    Parameters
    ----------
    loop : tuple of Line or Arc
        Closed, material on its left: counter-clockwise for an outer boundary, clockwise for a hole.
    radius_at : callable
        Wanted radius for the corner at a point, [mm].

    Returns
    -------
    (Loop, tuple of Corner)
        The rounded loop, and every re-entrant corner met.
    """
    segments = list(loop)
    corners: list[Corner] = []
    index = 0
    # Turns are those of the whole loop: a fillet may use up a piece, and with it its direction.
    turns = [_turn(before, after) for before, after in zip((loop[-1], *loop), loop, strict=False)]
    for turn in turns if len(loop) > 1 else ():
        before, after = segments[index - 1], segments[index]
        if turn < -TURN_RAD:
            wanted = radius_at(after.start)
            rounded, radius = _fit(before, after, wanted)
            corners.append(Corner(after.start, radius))
            if rounded is not None:
                ahead, arc, behind = rounded
                segments[index - 1], segments[index] = ahead, behind
                segments.insert(index, arc)
                index += 1
        index += 1
    return tuple(s for s in segments if s.length > SAME_MM), tuple(corners)


def _fit(before: Segment, after: Segment, wanted: float) -> tuple[tuple[Segment, Arc, Segment] | None, float]:
    """Return the fillet with the largest radius up to `wanted`, by bisection, and that radius."""
    if wanted < LEAST_RADIUS_MM or min(before.length, after.length) < SAME_MM:
        return None, 0.0
    best = _fillet(before, after, wanted)
    if best is not None:
        return best, wanted
    low, high = 0.0, wanted
    for _ in range(40):
        middle = (low + high) / 2
        found = _fillet(before, after, middle)
        if found is None:
            high = middle
        else:
            low, best = middle, found
    return (best, low) if best is not None and low >= LEAST_RADIUS_MM else (None, 0.0)


def _fillet(before: Segment, after: Segment, radius: float) -> tuple[Segment, Arc, Segment] | None:
    vertex = after.start
    for centre in sorted(_centres(before, after, radius), key=lambda c: math.dist(c, vertex)):
        end, start = _fraction(before, centre), _fraction(after, centre)
        if not (0.0 <= end < 1.0 and 0.0 < start <= 1.0):
            continue
        ahead, behind = _trim(before, 0.0, end), _trim(after, start, 1.0)
        a, b = _point(before, end), _point(after, start)
        first = math.atan2(a[1] - centre[1], a[0] - centre[0])
        last = math.atan2(b[1] - centre[1], b[0] - centre[0])
        sweep = -((first - last) % (2 * math.pi))
        if sweep < -math.pi:
            continue
        return ahead, Arc(centre, radius, first, sweep), behind
    return None


def _centres(before: Segment, after: Segment, radius: float) -> list[Point]:
    """Return the points at distance `radius` to the right of both pieces (taken as endless)."""
    a, b = _shift_right(before, radius), _shift_right(after, radius)
    if a is None or b is None:
        return []
    if isinstance(a, Line) and isinstance(b, Line):
        return _cross_lines(a, b)
    if isinstance(a, Line):
        assert isinstance(b, Arc)
        return _cross_line_circle(a, b)
    if isinstance(b, Line):
        return _cross_line_circle(b, a)
    return _cross_circles(a, b)


def _shift_right(s: Segment, by: float) -> Segment | None:
    if isinstance(s, Line):
        dx, dy = (s.end[0] - s.start[0]) / s.length, (s.end[1] - s.start[1]) / s.length
        return Line((s.start[0] + dy * by, s.start[1] - dx * by), (s.end[0] + dy * by, s.end[1] - dx * by))
    radius = s.radius + math.copysign(by, s.sweep)
    return Arc(s.centre, radius, s.first, s.sweep) if radius > SAME_MM else None


def _cross_lines(a: Line, b: Line) -> list[Point]:
    ux, uy = a.end[0] - a.start[0], a.end[1] - a.start[1]
    vx, vy = b.end[0] - b.start[0], b.end[1] - b.start[1]
    determinant = ux * vy - uy * vx
    if abs(determinant) < 1e-12:
        return []
    t = ((b.start[0] - a.start[0]) * vy - (b.start[1] - a.start[1]) * vx) / determinant
    return [(a.start[0] + t * ux, a.start[1] + t * uy)]


def _cross_line_circle(line: Line, circle: Arc) -> list[Point]:
    ux, uy = (line.end[0] - line.start[0]) / line.length, (line.end[1] - line.start[1]) / line.length
    along = (circle.centre[0] - line.start[0]) * ux + (circle.centre[1] - line.start[1]) * uy
    foot = (line.start[0] + along * ux, line.start[1] + along * uy)
    square = circle.radius**2 - math.dist(foot, circle.centre) ** 2
    if square < 0:
        return []
    half = math.sqrt(square)
    return [(foot[0] + k * half * ux, foot[1] + k * half * uy) for k in (-1.0, 1.0)]


def _cross_circles(a: Arc, b: Arc) -> list[Point]:
    apart = math.dist(a.centre, b.centre)
    if apart < SAME_MM:
        return []
    along = (apart**2 + a.radius**2 - b.radius**2) / (2 * apart)
    square = a.radius**2 - along**2
    if square < 0:
        return []
    half = math.sqrt(square)
    ux, uy = (b.centre[0] - a.centre[0]) / apart, (b.centre[1] - a.centre[1]) / apart
    return [
        (a.centre[0] + along * ux - k * half * uy, a.centre[1] + along * uy + k * half * ux)
        for k in (-1.0, 1.0)
    ]


def _fraction(s: Segment, centre: Point) -> float:
    """Return where along `s` (0 to 1) the ball at `centre` touches it; outside 0..1 where it does not."""
    if isinstance(s, Line):
        dx, dy = s.end[0] - s.start[0], s.end[1] - s.start[1]
        return ((centre[0] - s.start[0]) * dx + (centre[1] - s.start[1]) * dy) / s.length**2
    angle = math.atan2(centre[1] - s.centre[1], centre[0] - s.centre[0])
    turned = (angle - s.first) * math.copysign(1.0, s.sweep) % (2 * math.pi)
    return turned / abs(s.sweep)


def _point(s: Segment, fraction: float) -> Point:
    if isinstance(s, Arc):
        return s.at(fraction)
    return (
        s.start[0] + (s.end[0] - s.start[0]) * fraction,
        s.start[1] + (s.end[1] - s.start[1]) * fraction,
    )


def _trim(s: Segment, start: float, end: float) -> Segment:
    if isinstance(s, Line):
        return Line(s.start if start == 0 else _point(s, start), s.end if end == 1 else _point(s, end))
    return Arc(s.centre, s.radius, s.first + s.sweep * start, s.sweep * (end - start))


def _turn(before: Segment, after: Segment) -> float:
    ax, ay = _heading(before, 1.0)
    bx, by = _heading(after, 0.0)
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by)


def _heading(s: Segment, fraction: float) -> Point:
    if isinstance(s, Line):
        return ((s.end[0] - s.start[0]) / s.length, (s.end[1] - s.start[1]) / s.length)
    angle = s.first + s.sweep * fraction + math.copysign(math.pi / 2, s.sweep)
    return (math.cos(angle), math.sin(angle))
