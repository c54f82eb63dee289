"""Points, headings, parts and crossings of lines and arcs."""

from __future__ import annotations

import math

from geom.outline import Arc, Line, Point, Segment, direction_at

SLACK_MM = 1e-6
"""A point this little before an arc's start is at its start, this little behind its end at its end."""

PARALLEL = 1e-10
"""Sine of the angle under which two lines never cross."""


def fraction_of(s: Segment, point: Point) -> float:
    """Return where along a piece (0 to 1) its point nearest to `point` is; beyond 0 to 1 for a line past its ends.

    For an arc, over 1 means past its end; what is within `SLACK_MM` before its start is at 0, after its end at 1.
    """
    if isinstance(s, Line):
        dx, dy = s.end[0] - s.start[0], s.end[1] - s.start[1]
        return ((point[0] - s.start[0]) * dx + (point[1] - s.start[1]) * dy) / s.length**2
    angle = math.atan2(point[1] - s.centre[1], point[0] - s.centre[0])
    turned = (angle - s.first) * math.copysign(1.0, s.sweep) % (2 * math.pi)
    slack = SLACK_MM / s.radius
    if turned > 2 * math.pi - slack and abs(s.sweep) < 2 * math.pi - slack:
        return 0.0
    if abs(s.sweep) < turned < abs(s.sweep) + slack:
        return 1.0
    return turned / abs(s.sweep)


def point_at(s: Segment, fraction: float) -> Point:
    """Return the point at a fraction of a piece's length, [mm]."""
    if isinstance(s, Arc):
        return s.at(fraction)
    return (
        s.start[0] + (s.end[0] - s.start[0]) * fraction,
        s.start[1] + (s.end[1] - s.start[1]) * fraction,
    )


def heading_at(s: Segment, fraction: float) -> Point:
    """Return the unit vector along which a piece runs at a fraction of its length."""
    if isinstance(s, Line):
        return ((s.end[0] - s.start[0]) / s.length, (s.end[1] - s.start[1]) / s.length)
    angle = direction_at(s, fraction)
    return (math.cos(angle), math.sin(angle))


def cut_segment(s: Segment, low: float, high: float) -> Segment:
    """Return the part of a piece between two fractions of its length; its own ends stay to the last bit."""
    if isinstance(s, Line):
        return Line(s.start if low == 0 else point_at(s, low), s.end if high == 1 else point_at(s, high))
    return Arc(s.centre, s.radius, s.first + s.sweep * low, s.sweep * (high - low))


def cross_lines(a: Line, b: Line) -> list[Point]:
    """Return where two lines cross, taken as endless, [mm]; none where they are parallel."""
    ux, uy = heading_at(a, 0.0)
    vx, vy = heading_at(b, 0.0)
    sine = ux * vy - uy * vx
    if abs(sine) < PARALLEL:
        return []
    t = ((b.start[0] - a.start[0]) * vy - (b.start[1] - a.start[1]) * vx) / sine
    return [(a.start[0] + t * ux, a.start[1] + t * uy)]


def cross_line_circle(line: Line, circle: Arc, touch: float = 0.0) -> list[Point]:
    """Return where an endless line meets a whole circle, [mm]; one point where it is tangent within `touch`."""
    ux, uy = heading_at(line, 0.0)
    along = (circle.centre[0] - line.start[0]) * ux + (circle.centre[1] - line.start[1]) * uy
    foot = (line.start[0] + along * ux, line.start[1] + along * uy)
    off = math.dist(foot, circle.centre)
    if abs(off - circle.radius) <= touch:
        return [foot]
    if off > circle.radius:
        return []
    half = math.sqrt((circle.radius - off) * (circle.radius + off))
    return [(foot[0] + k * half * ux, foot[1] + k * half * uy) for k in (-1.0, 1.0)]


def cross_circles(a: Arc, b: Arc, touch: float = 0.0) -> list[Point]:
    """Return where two whole circles meet, [mm]; one point where they are tangent within `touch`."""
    apart = math.dist(a.centre, b.centre)
    if apart <= max(touch, SLACK_MM):
        return []
    ux, uy = (b.centre[0] - a.centre[0]) / apart, (b.centre[1] - a.centre[1]) / apart
    for off, side in (
        (apart - a.radius - b.radius, 1.0),
        (apart - abs(a.radius - b.radius), 1.0 if a.radius > b.radius else -1.0),
    ):
        if abs(off) <= touch:
            return [(a.centre[0] + side * a.radius * ux, a.centre[1] + side * a.radius * uy)]
    along = (apart**2 + a.radius**2 - b.radius**2) / (2 * apart)
    square = (a.radius - along) * (a.radius + along)
    if square < 0:
        return []
    half = math.sqrt(square)
    return [
        (a.centre[0] + along * ux - k * half * uy, a.centre[1] + along * uy + k * half * ux)
        for k in (-1.0, 1.0)
    ]


def cross(a: Segment, b: Segment, touch: float = 0.0) -> list[Point]:
    """Return where two pieces meet, [mm], taken as endless lines and whole circles; none where they lie on each other.

    Parameters
    ----------
    a, b : Line or Arc
    touch : float
        Within which a circle is tangent, [mm].
    """
    if isinstance(a, Line):
        return cross_lines(a, b) if isinstance(b, Line) else cross_line_circle(a, b, touch)
    return cross_line_circle(b, a, touch) if isinstance(b, Line) else cross_circles(a, b, touch)


def distance_to(s: Segment, point: Point) -> float:
    """Return the distance of a point from a piece, [mm]."""
    if isinstance(s, Arc):
        fraction = fraction_of(s, point)
        if 0.0 <= fraction <= 1.0:
            return abs(math.dist(point, s.centre) - s.radius)
        return min(math.dist(point, s.start), math.dist(point, s.end))
    return math.dist(point, point_at(s, min(max(fraction_of(s, point), 0.0), 1.0)))
