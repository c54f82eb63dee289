"""Blanks as they fit together: those that lie on one another, and those that meet at a straight cut, made one."""

from __future__ import annotations

import math

from geom.features import Blank
from geom.frame import SAME_MM
from geom.outline import Line, Loop, Segment, direction_at

TURN_RAD = 1e-9
"""Two lines that turn by less from one to the next are one line."""


def merge_beside(blanks: tuple[Blank, ...]) -> tuple[Blank, ...]:
    """Return the blanks with those of one height that share a whole straight edge made one.

    Parameters
    ----------
    blanks : tuple of Blank
        Outlines counter-clockwise, [mm].

    Returns
    -------
    tuple of Blank
        Each in the place of its first piece.
    """
    merged: list[Blank] = []
    for blank in blanks:
        joined = blank
        for other in merged:
            loop = _join_loops(other.loop, blank.loop) if _level(other, blank) else None
            if loop is not None:
                joined = Blank(f"{other.name} and {blank.name}", loop, other.z0, other.z1)
                merged[merged.index(other)] = joined
                break
        if joined is blank:
            merged.append(blank)
    return tuple(merged)


def _level(a: Blank, b: Blank) -> bool:
    return abs(a.z0 - b.z0) < SAME_MM and abs(a.z1 - b.z1) < SAME_MM


def _join_loops(a: Loop, b: Loop) -> Loop | None:
    """Return two outlines as one without the line that they share; None where they share none."""
    for i, edge in enumerate(a):
        for j, other in enumerate(b):
            straight = isinstance(edge, Line) and isinstance(other, Line)
            if straight and _near(edge.start, other.end) and _near(edge.end, other.start):
                return _straighten((*a[i + 1 :], *a[:i]), (*b[j + 1 :], *b[:j]))
    return None


def _straighten(first: Loop, second: Loop) -> Loop:
    """Return two open outlines joined at both ends, the lines that run on from one to the other made one."""
    loop: list[Segment] = list(first)
    for segment in second:
        _append(loop, segment)
    _append(loop, loop.pop(0))
    return tuple(loop)


def _append(loop: list[Segment], segment: Segment) -> None:
    last = loop[-1]
    straight = isinstance(last, Line) and isinstance(segment, Line)
    turn = direction_at(segment, 0.0) - direction_at(last, 1.0)
    if straight and abs(math.sin(turn)) < TURN_RAD and math.cos(turn) > 0:
        loop[-1] = Line(last.start, segment.end)
    else:
        loop.append(segment)


def _near(a: tuple[float, float], b: tuple[float, float]) -> bool:
    return abs(a[0] - b[0]) < SAME_MM and abs(a[1] - b[1]) < SAME_MM
