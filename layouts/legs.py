"""What a leg is made of: its straight pieces, its corners, its bends."""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise

from geom.frame import SAME_MM
from geom.outline import Point


def measure_leg(points: tuple[Point, ...], radius: float) -> tuple[float, float, int]:
    """Return what a leg is made of.

    Parameters
    ----------
    points : tuple of (float, float)
        Corners of its centreline, right-angled, [mm].
    radius : float
        Centreline radius of its bends, [mm].

    Returns
    -------
    straight, length : float
        Length of its straight pieces, and of its centreline with the arcs, [mm].
    bends : int
    """
    straights = split_leg(points, radius)
    straight, bends = math.fsum(straights), len(straights) - 1
    return straight, straight + bends * radius * math.pi / 2, bends


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
    """Return at which of its points a polyline turns."""
    return tuple(
        k + 1
        for k, (a, b, c) in enumerate(zip(points, points[1:], points[2:], strict=False))
        if abs((b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])) > SAME_MM
    )


def find_corner(points: tuple[Point, ...]) -> Point | None:
    """Return the first corner at which a polyline turns, [mm]; None where it runs straight."""
    corners = find_corners(points)
    return points[corners[0]] if corners else None
