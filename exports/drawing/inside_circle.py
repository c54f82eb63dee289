"""What of lines, arcs and outlines lies inside a circle, exact: for details drawn larger."""

from __future__ import annotations

import math
from itertools import pairwise

import shapely

from geom.outline import Arc, Line, Loop, Point, Region, Segment, loop_area, loop_polygon

SAME = 1e-9
"""Fractions of a piece that are one."""


def clip_segment(segment: Segment, circle: Arc) -> tuple[Segment, ...]:
    """Return the pieces of a line or an arc that lie inside a circle, in its direction.

    Parameters
    ----------
    segment : Line or Arc
    circle : Arc
        Whole; [mm].

    Returns
    -------
    tuple of Line or Arc
    """
    return tuple(piece for piece in _split(segment, circle) if _inside(piece.at(0.5), circle))


def clip_region(region: Region, circle: Arc) -> tuple[Region, ...]:
    """Return what a region and a disc have in common, piece by piece.

    Parameters
    ----------
    region : tuple of Loop
        Outer loops counter-clockwise, holes clockwise: material lies to the left of each.
    circle : Arc
        Whole; [mm].

    Returns
    -------
    tuple of Region
        Each its outer loop first, then its holes; empty where they have nothing in common.
    """
    whole: list[Loop] = []
    ways: list[list[Segment]] = []
    for loop in region:
        pieces = [piece for s in loop for piece in _split(s, circle)]
        inside = [_inside(piece.at(0.5), circle) for piece in pieces]
        if all(inside):
            whole.append(tuple(loop))
        elif any(inside):
            # Begun behind a piece outside, no way inside is torn in two.
            start = inside.index(False)
            way: list[Segment] = []
            for k in range(start, start + len(pieces) + 1):
                if inside[k % len(pieces)]:
                    way.append(pieces[k % len(pieces)])
                elif way:
                    ways.append(way)
                    way = []
    if ways:
        whole += _join_along(ways, circle)
    elif _within(circle.start, region):
        whole.append((circle,))
    outers = [loop for loop in whole if loop_area(loop) > 0]
    holes = [loop for loop in whole if loop_area(loop) <= 0]
    return tuple((outer, *(hole for hole in holes if _within(hole[0].start, (outer,)))) for outer in outers)


def _join_along(ways: list[list[Segment]], circle: Arc) -> list[Loop]:
    """Join ways through the disc to loops: from where one leaves it, along the circle to where the next comes in."""

    def angle(p: Point) -> float:
        return math.atan2(p[1] - circle.centre[1], p[0] - circle.centre[0])

    entries = [angle(way[0].start) for way in ways]
    left = list(range(len(ways)))
    loops = []
    while left:
        first = here = left.pop(0)
        loop: list[Segment] = []
        while True:
            loop += ways[here]
            leaves = angle(ways[here][-1].end)
            turns = [((entries[k] - leaves) % (2 * math.pi), k) for k in (first, *left)]
            turn, here = min(turns)
            loop.append(Arc(circle.centre, circle.radius, leaves, turn))
            if here == first:
                break
            left.remove(here)
        loops.append(tuple(loop))
    return loops


def _split(segment: Segment, circle: Arc) -> list[Segment]:
    marks = [0.0, *sorted(t for t in _crossings(segment, circle) if SAME < t < 1 - SAME), 1.0]
    pieces: list[Segment] = []
    for a, b in pairwise(marks):
        if b - a < SAME:
            continue
        if isinstance(segment, Line):
            pieces.append(Line(segment.at(a), segment.at(b)))
        else:
            sweep = segment.sweep
            pieces.append(Arc(segment.centre, segment.radius, segment.first + sweep * a, sweep * (b - a)))
    return pieces


def _crossings(segment: Segment, circle: Arc) -> list[float]:
    """Return at which fractions of a piece it crosses the circle."""
    cx, cy = circle.centre
    if isinstance(segment, Line):
        (ax, ay), (bx, by) = segment.start, segment.end
        dx, dy, fx, fy = bx - ax, by - ay, ax - cx, ay - cy
        a, b, c = dx * dx + dy * dy, 2 * (fx * dx + fy * dy), fx * fx + fy * fy - circle.radius**2
        root = b * b - 4 * a * c
        return [] if root <= 0 else [(-b + s * math.sqrt(root)) / (2 * a) for s in (-1, 1)]
    apart = math.dist(segment.centre, circle.centre)
    if not abs(segment.radius - circle.radius) < apart < segment.radius + circle.radius:
        return []
    to_circle = math.atan2(cy - segment.centre[1], cx - segment.centre[0])
    half = math.acos((apart**2 + segment.radius**2 - circle.radius**2) / (2 * apart * segment.radius))
    turn = math.copysign(1.0, segment.sweep)
    return [
        (turn * (to_circle + s * half - segment.first)) % (2 * math.pi) / abs(segment.sweep) for s in (-1, 1)
    ]


def _inside(point: Point, circle: Arc) -> bool:
    return math.dist(point, circle.centre) < circle.radius


def _within(point: Point, region: Region) -> bool:
    return sum(loop_polygon(loop).contains(shapely.Point(point)) for loop in region) % 2 == 1
