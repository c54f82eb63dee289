"""What a leg is made of: its straight pieces, its corners, its bends, its through holes."""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise

from geom.frame import SAME_MM
from geom.outline import Point
from layouts.plan import Layer, Leg


def measure_leg(
    points: tuple[Point, ...], radius: float, holes: tuple[int, ...] = ()
) -> tuple[float, float, int]:
    """Return what a leg is made of.

    Parameters
    ----------
    points : tuple of (float, float)
        Corners of its centreline, right-angled, [mm].
    radius : float
        Centreline radius of its bends, [mm].
    holes : tuple of int
        Numbers of the points at which it passes through to the other layer.

    Returns
    -------
    straight, length : float
        Length of its straight pieces, and of its centreline with the arcs, in plan, [mm].
    bends : int
        Turns at through holes are none.
    """
    pieces = [split_leg(piece, radius) for piece in split_at_holes(points, holes)]
    straight = math.fsum(length for straights in pieces for length in straights)
    bends = sum(len(straights) - 1 for straights in pieces)
    return straight, straight + bends * radius * math.pi / 2, bends


def split_at_holes(points: tuple[Point, ...], holes: tuple[int, ...]) -> tuple[tuple[Point, ...], ...]:
    """Return the pieces of a polyline between the points with the numbers `holes`; both have the point."""
    marks = (0, *holes, len(points) - 1)
    return tuple(points[first : last + 1] for first, last in pairwise(marks))


def list_pieces(leg: Leg) -> tuple[tuple[Layer, tuple[Point, ...]], ...]:
    """Return the pieces of a leg between through holes: layer and corners, [mm]."""
    layers: tuple[Layer, Layer] = ("back", "front") if leg.layer == "back" else ("front", "back")
    return tuple(
        (layers[number % 2], points) for number, points in enumerate(split_at_holes(leg.points, leg.holes))
    )


def last_layer(leg: Leg) -> Layer:
    """Return the layer of a leg's last point: every hole leads to the other."""
    return list_pieces(leg)[-1][0]


@lru_cache(maxsize=1024)
def split_leg(points: tuple[Point, ...], radius: float) -> tuple[float, ...]:
    """Return the lengths of straight channel before, between and behind a leg's bends, [mm].

    Parameters
    ----------
    points : tuple of (float, float)
        Corners of its centreline, right-angled, [mm].
    radius : float
        Centreline radius of its bends, [mm].

    Returns
    -------
    tuple of float
        One more than there are bends; 0 where a bend takes the whole piece.
    """
    corners = find_corners(points)
    along = [0.0]
    for a, b in pairwise(points):
        along.append(along[-1] + math.dist(a, b))
    marks = [0.0, *(along[k] for k in corners), along[-1]]
    last = len(marks) - 2
    return tuple(
        max(0.0, b - a - radius * ((k > 0) + (k < last))) for k, (a, b) in enumerate(pairwise(marks))
    )


def find_corners(points: tuple[Point, ...]) -> tuple[int, ...]:
    """Return at which of its points a polyline in one layer turns."""
    return tuple(
        k + 1
        for k, (a, b, c) in enumerate(zip(points, points[1:], points[2:], strict=False))
        if abs((b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])) > SAME_MM
    )


def find_corner(points: tuple[Point, ...]) -> Point | None:
    """Return the first corner at which a polyline in one layer turns, [mm]; None where it runs straight."""
    corners = find_corners(points)
    return points[corners[0]] if corners else None
