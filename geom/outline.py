"""Routes as exact lines and arcs, their closed outlines, areas and polygons.

A *route* is a polyline with rounded corners. Its *outline* at a width is each segment offset to both sides
and closed by round caps, all of it lines and true arcs. A *loop* is a closed outline, counter-clockwise.
A *region* is the union of loops.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely

from geom.errors import GeometryError
from geom.frame import SAG_MM, SAME_MM

Point = tuple[float, float]

WHOLE_TURN = 2 * math.pi - 1e-9
"""An arc of a greater sweep is a circle, [rad]."""


@dataclass(frozen=True, slots=True)
class Line:
    """A straight piece from `start` to `end`, [mm]."""

    start: Point
    end: Point

    def at(self, fraction: float) -> Point:
        """Return the point at a fraction of the length, [mm]."""
        (ax, ay), (bx, by) = self.start, self.end
        return ax + (bx - ax) * fraction, ay + (by - ay) * fraction

    @property
    def length(self) -> float:
        """Length, [mm]."""
        return math.dist(self.start, self.end)


@dataclass(frozen=True, slots=True)
class Arc:
    """A circular piece: from angle `first` through `sweep` (positive counter-clockwise), [rad], [mm]."""

    centre: Point
    radius: float
    first: float
    sweep: float

    def at(self, fraction: float) -> Point:
        """Return the point at a fraction of the sweep, [mm]."""
        angle = self.first + self.sweep * fraction
        return (
            self.centre[0] + self.radius * math.cos(angle),
            self.centre[1] + self.radius * math.sin(angle),
        )

    @property
    def start(self) -> Point:
        """First point, [mm]."""
        return self.at(0.0)

    @property
    def end(self) -> Point:
        """Last point, [mm]."""
        return self.at(1.0)

    @property
    def is_whole(self) -> bool:
        """Whether it is a full circle."""
        return abs(self.sweep) > WHOLE_TURN

    @property
    def length(self) -> float:
        """Arc length, [mm]."""
        return self.radius * abs(self.sweep)


Segment = Line | Arc
Loop = tuple[Segment, ...]
Region = tuple[Loop, ...]


def round_corners(points: tuple[Point, ...], radius: float) -> tuple[Segment, ...]:
    """Return a polyline as tangent lines and arcs.

    Parameters
    ----------
    points : tuple of (float, float)
        Corners, [mm]; straight-through points are allowed.
    radius : float
        Centreline radius of every corner, [mm].

    Returns
    -------
    tuple of Line or Arc
        Tangent-continuous from the first point to the last.

    Raises
    ------
    GeometryError
        Where two corners stand too close for the radius.
    """
    segments: list[Segment] = []
    here = points[0]
    for before, corner, after in zip(points, points[1:], points[2:], strict=False):
        ux, uy = _unit(before, corner)
        vx, vy = _unit(corner, after)
        turn = math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
        if abs(turn) < 1e-9:
            continue
        tangent = radius * math.tan(abs(turn) / 2)
        arc_start = (corner[0] - ux * tangent, corner[1] - uy * tangent)
        run = (arc_start[0] - here[0]) * ux + (arc_start[1] - here[1]) * uy
        if run < -SAME_MM:
            raise GeometryError(
                f"the bend at ({corner[0]:g}, {corner[1]:g}) mm needs {tangent:g} mm of straight before it "
                f"for its {radius:g} mm radius and lacks {-run:.3g} mm: use a smaller radius"
            )
        side = 1.0 if turn > 0 else -1.0
        centre = (arc_start[0] - uy * side * radius, arc_start[1] + ux * side * radius)
        if run > SAME_MM:
            segments.append(Line(here, arc_start))
        first = math.atan2(arc_start[1] - centre[1], arc_start[0] - centre[0])
        segments.append(Arc(centre, radius, first, turn))
        here = segments[-1].end
    last = points[-1]
    ux, uy = _unit(points[-2], last)
    if (last[0] - here[0]) * ux + (last[1] - here[1]) * uy < -SAME_MM:
        raise GeometryError(
            f"the end at ({last[0]:g}, {last[1]:g}) mm is too close to its bend for a {radius:g} mm radius"
        )
    if math.dist(here, last) > SAME_MM:
        segments.append(Line(here, last))
    return tuple(segments)


def path_length(segments: tuple[Segment, ...]) -> float:
    """Return the length of a centreline, arcs included, [mm]."""
    return math.fsum(segment.length for segment in segments)


def outline_route(points: tuple[Point, ...], radius: float, width: float) -> Loop:
    """Return the outline of a route with round caps.

    Parameters
    ----------
    points : tuple of (float, float)
        Corners of the centreline, [mm].
    radius : float
        Centreline radius of its bends, [mm].
    width : float
        Width across, [mm].

    Returns
    -------
    tuple of Line or Arc
        Counter-clockwise loop.

    Raises
    ------
    GeometryError
        Where a bend is tighter than half the width.
    """
    half = width / 2
    centreline = round_corners(points, radius)
    if any(isinstance(s, Arc) and s.radius < half - SAME_MM for s in centreline):
        raise GeometryError(
            f"a bend radius of {radius:g} mm is tighter than half of the {width:g} mm outline: "
            f"use at least {half:g} mm"
        )
    right = [offset for s in centreline if (offset := _offset(s, -half)) is not None]
    left = [reverse_segment(offset) for s in reversed(centreline) if (offset := _offset(s, half)) is not None]
    end_angle = direction_at(centreline[-1], 1.0)
    start_angle = direction_at(centreline[0], 0.0)
    end_cap = Arc(centreline[-1].end, half, end_angle - math.pi / 2, math.pi)
    start_cap = Arc(centreline[0].start, half, start_angle + math.pi / 2, math.pi)
    return (*right, end_cap, *left, start_cap)


def outline_rectangle(x0: float, y0: float, x1: float, y1: float, radius: float) -> Loop:
    """Return a rectangle with rounded corners as a counter-clockwise loop, [mm]; radius 0: square corners."""
    if radius <= SAME_MM:
        corners = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
        return tuple(Line(corners[i], corners[(i + 1) % 4]) for i in range(4))
    if 2 * radius > min(x1 - x0, y1 - y0) + SAME_MM:
        raise GeometryError(
            f"corner radius {radius:g} mm is over half of a {x1 - x0:g} x {y1 - y0:g} mm rectangle"
        )
    centres = (
        (x1 - radius, y0 + radius),
        (x1 - radius, y1 - radius),
        (x0 + radius, y1 - radius),
        (x0 + radius, y0 + radius),
    )
    arcs = [Arc(c, radius, -math.pi / 2 + k * math.pi / 2, math.pi / 2) for k, c in enumerate(centres)]
    loop: list[Segment] = []
    for k, arc in enumerate(arcs):
        start = arcs[k - 1].end
        if math.dist(start, arc.start) > SAME_MM:
            loop.append(Line(start, arc.start))
        loop.append(arc)
    return tuple(loop)


def outline_circle(centre: Point, radius: float) -> Loop:
    """Return a circle as a loop of one full arc, [mm]."""
    return (Arc(centre, radius, 0.0, 2 * math.pi),)


def offset_path(path: tuple[Segment, ...], left: float) -> tuple[Segment, ...]:
    """Return a tangent-continuous path shifted to its left by `left` (to its right where negative), [mm].

    Arcs that shrink to their centre vanish.

    Parameters
    ----------
    path : tuple of Line or Arc
    left : float
        [mm].

    Returns
    -------
    tuple of Line or Arc

    Raises
    ------
    GeometryError
        Where an arc is tighter than the shift.
    """
    shifted = []
    for s in path:
        if isinstance(s, Arc) and s.radius - (left if s.sweep > 0 else -left) < -SAME_MM:
            x, y = s.at(0.5)
            raise GeometryError(
                f"the turn at ({x:.1f}, {y:.1f}) mm has a radius of {s.radius:.3g} mm, too tight for an outline "
                f"{abs(left):.3g} mm off it"
            )
        moved = _offset(s, left)
        if moved is not None:
            shifted.append(moved)
    return tuple(shifted)


def track_loops(path: tuple[Segment, ...], closed: bool, width: float) -> tuple[Loop, Loop | None]:
    """Return the outlines of a slot of one width along a path: its outer one, and the inner one if it is closed.

    Both are counter-clockwise; an open path gives one loop with round ends.

    Parameters
    ----------
    path : tuple of Line or Arc
        Tangent-continuous; closed paths of either sense.
    closed : bool
    width : float
        [mm].

    Returns
    -------
    (Loop, Loop or None)

    Raises
    ------
    GeometryError
        Where a turn is tighter than half of the width.
    """
    half = width / 2
    right, left = offset_path(path, -half), offset_path(path, half)
    if closed:
        a, b = (loop if loop_area(loop) > 0 else reverse_path(loop) for loop in (right, left))
        return (a, b) if loop_area(a) > loop_area(b) else (b, a)
    end_angle, start_angle = direction_at(path[-1], 1.0), direction_at(path[0], 0.0)
    end_cap = Arc(path[-1].end, half, end_angle - math.pi / 2, math.pi)
    start_cap = Arc(path[0].start, half, start_angle + math.pi / 2, math.pi)
    return (*right, end_cap, *reverse_path(left), start_cap), None


def track_polygon(
    path: tuple[Segment, ...], closed: bool, width: float, sag: float = SAG_MM
) -> shapely.Polygon:
    """Return a slot of one width along a path as a polygon, [mm]; as `track_loops`."""
    outer, inner = track_loops(path, closed, width)
    if inner is None:
        return loop_polygon(outer, sag)
    return shapely.Polygon(loop_polygon(outer, sag).exterior, [loop_polygon(inner, sag).exterior])


def path_points(path: tuple[Segment, ...], step: float) -> np.ndarray:
    """Return points along a path, `step` apart at most and even in each piece; its last point is left out.

    Parameters
    ----------
    path : tuple of Line or Arc
    step : float
        [mm].

    Returns
    -------
    (n, 2) float
        [mm].
    """
    out: list[Point] = []
    for s in path:
        n = max(1, math.ceil(s.length / step))
        out.extend(s.at(k / n) for k in range(n))
    return np.array(out).reshape(-1, 2)


def path_chords(path: tuple[Segment, ...], chords: int) -> list[Point]:
    """Return the points of a path from its start to its end, each arc cut into the same count of chords.

    Parameters
    ----------
    path : tuple of Line or Arc
    chords : int
        Of each arc.

    Returns
    -------
    list of (float, float)
        [mm].
    """
    out = [path[0].start]
    for s in path:
        if isinstance(s, Arc):
            out += [s.at(k / chords) for k in range(1, chords)]
        out.append(s.end)
    return out


def count_chords(radius: float, sweep: float, sag: float = SAG_MM) -> int:
    """Return into how many equal chords an arc is cut, two at least, so that none is further than `sag` from it.

    Parameters
    ----------
    radius : float
        [mm].
    sweep : float
        [rad].
    sag : float
        [mm].
    """
    return max(2, math.ceil(abs(sweep) / (2 * math.acos(max(-1.0, 1 - sag / radius)))))


def segment_points(segment: Segment, sag: float = SAG_MM) -> np.ndarray:
    """Return the ends of a line, or of the chords of an arc, which all lie on it: (n, 2) float, [mm].

    Parameters
    ----------
    segment : Line or Arc
    sag : float
        Greatest distance between arc and chord, [mm].
    """
    if isinstance(segment, Line):
        return np.array([segment.start, segment.end])
    steps = count_chords(segment.radius, segment.sweep, sag)
    angles = segment.first + segment.sweep / steps * np.arange(steps + 1)
    return np.column_stack([np.cos(angles), np.sin(angles)]) * segment.radius + np.array(segment.centre)


def move_segment(segment: Segment, dx: float, dy: float) -> Segment:
    """Return a line or an arc shifted, [mm]."""

    def move(p: Point) -> Point:
        return p[0] + dx, p[1] + dy

    if isinstance(segment, Line):
        return Line(move(segment.start), move(segment.end))
    return Arc(move(segment.centre), segment.radius, segment.first, segment.sweep)


def move_path(path: tuple[Segment, ...], dx: float, dy: float) -> tuple[Segment, ...]:
    """Return a path or a loop shifted, [mm]."""
    return tuple(move_segment(s, dx, dy) for s in path)


def reverse_path(path: tuple[Segment, ...]) -> tuple[Segment, ...]:
    """Return a path run through the other way."""
    return tuple(reverse_segment(s) for s in reversed(path))


def reverse_segment(segment: Segment) -> Segment:
    """Return a line or an arc run through the other way."""
    if isinstance(segment, Line):
        return Line(segment.end, segment.start)
    return Arc(segment.centre, segment.radius, segment.first + segment.sweep, -segment.sweep)


def loop_area(loop: Loop) -> float:
    """Return the exact area of a loop by Green's theorem, [mm2]; positive when counter-clockwise."""
    terms = []
    for s in loop:
        (px, py), (qx, qy) = s.start, s.end
        if isinstance(s, Line):
            terms.append(0.5 * (px * qy - py * qx))
        else:
            cx, cy = s.centre
            terms.append(0.5 * (s.radius**2 * s.sweep + cx * (qy - py) - cy * (qx - px)))
    return math.fsum(terms)


@lru_cache(maxsize=1024)
def loop_polygon(loop: Loop, sag: float = SAG_MM) -> shapely.Polygon:
    """Return a loop as a polygon whose arcs keep their area.

    Each arc is cut into equal chords whose corners lie a little outside it, so that the sector's area is
    exact; the greatest distance to the true arc stays below `sag`. The last ones are kept: while something is
    dragged, most outlines are those of the moment before.

    Parameters
    ----------
    loop : tuple of Line or Arc
    sag : float
        Greatest distance between arc and chord, [mm].

    Returns
    -------
    shapely.Polygon
    """
    xy: list[Point] = []
    for s in loop:
        if isinstance(s, Line):
            xy.append(s.start)
            continue
        steps = count_chords(s.radius, s.sweep, sag)
        angle = abs(s.sweep) / steps
        radius = s.radius * math.sqrt(angle / math.sin(angle))
        for k in range(steps):
            a = s.first + s.sweep * k / steps
            # The first corner lies on the true arc: the neighbour segment ends there.
            r = s.radius if k == 0 and len(loop) > 1 else radius
            xy.append((s.centre[0] + r * math.cos(a), s.centre[1] + r * math.sin(a)))
    return shapely.Polygon(xy)


@lru_cache(maxsize=1024)
def region_polygon(region: Region, sag: float = SAG_MM, islands: Region = ()) -> shapely.Geometry:
    """Return the union of a region's loops, less that of the islands in it, as a shapely geometry, [mm].

    As of `loop_polygon`, the last ones are kept.

    Raises
    ------
    GeometryError
        Where a loop crosses itself.
    """
    whole = [loop_polygon(loop, sag) for loop in region]
    standing = [loop_polygon(loop, sag) for loop in islands]
    for polygon in (*whole, *standing):
        if not polygon.is_valid:
            x, y = polygon.centroid.x, polygon.centroid.y
            raise GeometryError(f"an outline round ({x:.0f}, {y:.0f}) mm crosses itself")
    united = shapely.union_all(whole)
    return shapely.difference(united, shapely.union_all(standing)) if standing else united


def direction_at(s: Segment, fraction: float) -> float:
    """Return the angle to the x axis in which a piece runs at a fraction of its length, [rad]."""
    if isinstance(s, Line):
        return math.atan2(s.end[1] - s.start[1], s.end[0] - s.start[0])
    return s.first + s.sweep * fraction + math.copysign(math.pi / 2, s.sweep)


def _unit(a: Point, b: Point) -> Point:
    length = math.dist(a, b)
    if length < SAME_MM:
        raise GeometryError(f"a route has two corners at ({a[0]:g}, {a[1]:g}) mm")
    return ((b[0] - a[0]) / length, (b[1] - a[1]) / length)


def _offset(s: Segment, left: float) -> Segment | None:
    """Return `s` shifted to its left by `left`; None where an inner arc shrinks to its centre."""
    if isinstance(s, Line):
        a = direction_at(s, 0.0)
        dx, dy = -math.sin(a) * left, math.cos(a) * left
        return Line((s.start[0] + dx, s.start[1] + dy), (s.end[0] + dx, s.end[1] + dy))
    radius = s.radius - (left if s.sweep > 0 else -left)
    return None if radius < SAME_MM else Arc(s.centre, radius, s.first, s.sweep)
