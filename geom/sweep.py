"""What a disc sweeps along a route, for bends of any radius."""

from __future__ import annotations

import math

from geom.frame import SAME_MM
from geom.outline import (
    Arc,
    Loop,
    Point,
    Region,
    Segment,
    outline_circle,
    outline_route,
    reverse_segment,
    round_corners,
)


def sweep_disc(points: tuple[Point, ...], radius: float, width: float) -> Region:
    """Return the loops whose union a disc of a diameter sweeps along a route.

    One loop, as `outline_route`, where no bend is tighter than half of the width; else one for each piece.

    Parameters
    ----------
    points : tuple of (float, float)
        Corners of the centreline, [mm].
    radius : float
        Centreline radius of its bends, [mm].
    width : float
        Diameter of the disc, [mm].

    Returns
    -------
    tuple of Loop
        Counter-clockwise.

    Raises
    ------
    GeometryError
        Where two corners stand too close for the radius.
    """
    pieces = round_corners(points, radius)
    half = width / 2
    if all(not isinstance(s, Arc) or s.radius >= half - SAME_MM for s in pieces):
        return (outline_route(points, radius, width),)
    return tuple(_sweep_arc(s, half) if isinstance(s, Arc) else _sweep_line(s, half) for s in pieces)


def _sweep_line(s: Segment, half: float) -> Loop:
    return outline_route((s.start, s.end), half, 2 * half)


def _sweep_arc(arc: Arc, half: float) -> Loop:
    """Return what a disc sweeps along an arc of up to half a turn that is tighter than the disc.

    Its inner side is made by the discs at both ends, which meet on the arc's line of symmetry.
    """
    if arc.sweep < 0:
        turned = reverse_segment(arc)
        assert isinstance(turned, Arc)
        arc = turned
    chord = math.dist(arc.start, arc.end)
    if chord < SAME_MM:
        return outline_circle(arc.start, half)
    middle = ((arc.start[0] + arc.end[0]) / 2, (arc.start[1] + arc.end[1]) / 2)
    deep = math.sqrt((half - chord / 2) * (half + chord / 2)) if half > chord / 2 else 0.0
    away = arc.first + arc.sweep / 2 + math.pi
    inner = (middle[0] + deep * math.cos(away), middle[1] + deep * math.sin(away))
    outer = Arc(arc.centre, arc.radius + half, arc.first, arc.sweep)
    return (outer, _cap(arc.end, half, outer.end, inner), _cap(arc.start, half, inner, outer.start))


def _cap(centre: Point, radius: float, start: Point, end: Point) -> Arc:
    first = math.atan2(start[1] - centre[1], start[0] - centre[0])
    last = math.atan2(end[1] - centre[1], end[0] - centre[0])
    return Arc(centre, radius, first, (last - first) % (2 * math.pi))
