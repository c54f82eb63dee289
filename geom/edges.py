"""Edges of the kernel as lines and true arcs in plan; other curves as fine chains of lines where asked for."""

from __future__ import annotations

import math
from itertools import pairwise

from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.GCPnts import GCPnts_QuasiUniformDeflection
from OCP.GeomAbs import GeomAbs_Circle, GeomAbs_Line
from OCP.gp import gp_Pnt
from OCP.TopAbs import TopAbs_REVERSED
from OCP.TopoDS import TopoDS_Edge

from geom.errors import GeometryError
from geom.outline import Arc, Line, Point, Segment

FLAT = 1.0 - 1e-9
"""A circle whose axis has this share upright is seen as a circle."""

TRUE_MM = 1e-4
"""A curve that keeps this close to a line or an arc is one, [mm]."""

SEEN_MM = 1e-7
"""What is shorter is seen end on: the kernel's own precision."""

SAMPLES = 32
"""Points of a curve that are looked at."""


def read_edge(edge: TopoDS_Edge, sag: float | None = None) -> tuple[Segment, ...]:
    """Return an edge, seen from above, as a line or a true arc, run through as it is oriented.

    Parameters
    ----------
    edge : OCP.TopoDS.TopoDS_Edge
    sag : float or None
        Greatest distance of a chain of lines from a curve that is neither, [mm]; None: such a curve is an error.

    Returns
    -------
    tuple of Line or Arc
        Empty for an edge that is seen end on.

    Raises
    ------
    GeometryError
        Where the edge is neither a line nor a circle, and no sag is given.
    """
    curve = BRepAdaptor_Curve(edge)
    backward = edge.Orientation() == TopAbs_REVERSED
    first, last = curve.FirstParameter(), curve.LastParameter()
    if backward:
        first, last = last, first
    if curve.GetType() == GeomAbs_Line:
        start, end = _seen(curve.Value(first)), _seen(curve.Value(last))
        return (Line(start, end),) if math.dist(start, end) > SEEN_MM else ()
    if curve.GetType() == GeomAbs_Circle:
        circle = curve.Circle()
        up = circle.Axis().Direction().Z()
        if abs(up) > FLAT:
            centre = circle.Location()
            start = _seen(curve.Value(first))
            angle = math.atan2(start[1] - centre.Y(), start[0] - centre.X())
            turn = math.copysign(last - first, up * (last - first))
            return (Arc(_seen(centre), circle.Radius(), angle, turn),)
    if sag is None:
        raise GeometryError("an outline came back from the kernel with a curve that is no line or arc")
    return _read_curve(curve, first, last, sag)


def _seen(point: gp_Pnt) -> Point:
    return point.X(), point.Y()


def _read_curve(curve: BRepAdaptor_Curve, first: float, last: float, sag: float) -> tuple[Segment, ...]:
    points = [_seen(curve.Value(first + (last - first) * k / SAMPLES)) for k in range(SAMPLES + 1)]
    line = _as_line(curve, points, first, last)
    if line is not None:
        return line
    arc = _as_arc(points)
    if arc is not None:
        return (arc,)
    spread = GCPnts_QuasiUniformDeflection(curve, sag)
    chain = [_seen(spread.Value(k)) for k in range(1, spread.NbPoints() + 1)]
    if last < first:
        chain.reverse()
    return tuple(Line(a, b) for a, b in pairwise(chain) if math.dist(a, b) > SEEN_MM)


def _as_line(
    curve: BRepAdaptor_Curve, points: list[Point], first: float, last: float
) -> tuple[Segment, ...] | None:
    """Return the one line that a curve seen from its side is; a circle so seen runs there and back."""
    px, py = points[0]
    far = max(points, key=lambda q: math.hypot(q[0] - px, q[1] - py))
    reach = math.hypot(far[0] - px, far[1] - py)
    if reach < TRUE_MM:
        return ()
    dx, dy = (far[0] - px) / reach, (far[1] - py) / reach
    if any(abs((x - px) * dy - (y - py) * dx) > TRUE_MM for x, y in points):
        return None
    along = [(x - px) * dx + (y - py) * dy for x, y in points]
    low, high = (_extreme(curve, along, (px, py), (dx, dy), first, last, s) for s in (-1.0, 1.0))
    ends = [(px + dx * t, py + dy * t) for t in (low, high)]
    if along[-1] < along[0]:
        ends.reverse()
    return (Line(ends[0], ends[1]),)


def _extreme(
    curve: BRepAdaptor_Curve,
    along: list[float],
    origin: Point,
    direction: Point,
    first: float,
    last: float,
    sign: float,
) -> float:
    """Return how far a straight curve runs to one side: the best sample, made better between its neighbours."""
    best = max(range(len(along)), key=lambda k: sign * along[k])
    if best in (0, len(along) - 1):
        return along[best]
    step = (last - first) / SAMPLES
    low, high = first + step * (best - 1), first + step * (best + 1)

    def run(t: float) -> float:
        x, y = _seen(curve.Value(t))
        return (x - origin[0]) * direction[0] + (y - origin[1]) * direction[1]

    for _ in range(40):
        a, b = low + (high - low) / 3, high - (high - low) / 3
        if sign * run(a) < sign * run(b):
            low = a
        else:
            high = b
    return run((low + high) / 2)


def _as_arc(points: list[Point]) -> Arc | None:
    a, b, c = points[0], points[len(points) // 3], points[2 * len(points) // 3]
    bx, by, cx, cy = b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]
    twice = 2 * (bx * cy - by * cx)
    if abs(twice) < TRUE_MM**2:
        return None
    bb, cc = bx * bx + by * by, cx * cx + cy * cy
    centre = (a[0] + (cy * bb - by * cc) / twice, a[1] + (bx * cc - cx * bb) / twice)
    radius = math.dist(centre, a)
    if any(abs(math.dist(centre, p) - radius) > TRUE_MM for p in points):
        return None
    angles = [math.atan2(y - centre[1], x - centre[0]) for x, y in points]
    turns = [math.remainder(q - p, 2 * math.pi) for p, q in pairwise(angles)]
    return Arc(centre, radius, angles[0], math.fsum(turns))
