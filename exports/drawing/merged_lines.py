"""Lines of a view with no piece twice: what overlaps is made one, and what lies under a heavier line is left out.

Pieces of one straight line, or of one circle, are a *track*; each covers a stretch of it. For each style its stretches
are united, those of the styles before it in `ORDER` taken off, and what is left is written once.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from typing import TypeVar

from exports.drawing.values import Style, ViewLine
from geom.outline import Arc, Line, Point

ORDER: tuple[Style, ...] = ("visible", "beyond", "thread", "thin", "cord", "cut", "centre")
"""Which style is seen where several coincide (ISO 128-2: edges first, centre lines last)."""

SAME_TURN = 1e-5
"""Directions that differ by less are one, [rad]."""

ALONG_AXIS = 1e-6
"""Lines this near to an axis lie along it, [rad]."""

SAME_TRACK = 1e-3
"""Lines and circles that lie closer are one, [mm]: no pen draws them apart."""

LEAST = 0.01
"""Shorter pieces are not drawn, [mm]."""

DIGITS = 6
"""Decimals of coordinates: below what the kernel knows."""

Stretch = tuple[float, float]
T = TypeVar("T")


def merge_lines(lines: Iterable[ViewLine]) -> tuple[ViewLine, ...]:
    """Return lines and arcs with overlaps united and those under lines that count for more left out, in a fixed order.

    Parameters
    ----------
    lines : iterable of ViewLine
        [mm].

    Returns
    -------
    tuple of ViewLine
        By style, lines before arcs, from the lower left; arcs run counter-clockwise, circles from angle 0.
    """
    given = list(lines)
    straight = [(line.style, line.segment) for line in given if isinstance(line.segment, Line)]
    round_ones = [(line.style, line.segment) for line in given if isinstance(line.segment, Arc)]
    merged = _merge_straight(straight) + _merge_round(round_ones)
    return tuple(sorted(merged, key=_place))


def _place(line: ViewLine) -> tuple[object, ...]:
    s = line.segment
    where = (*s.start, *s.end) if isinstance(s, Line) else (*s.centre, s.radius, s.first)
    return ORDER.index(line.style), isinstance(s, Arc), where


def _merge_straight(lines: list[tuple[Style, Line]]) -> list[ViewLine]:
    out: list[ViewLine] = []
    turned = [(style, line, angle) for style, line in lines for angle in (_direction(line),)]
    for one_way in _clusters(turned, lambda t: t[2], SAME_TURN):
        longest = max(one_way, key=lambda t: t[1].length)[2]
        c, s = math.cos(longest), math.sin(longest)
        aside = [
            (style, line, c * (line.start[1] + line.end[1]) / 2 - s * (line.start[0] + line.end[0]) / 2)
            for style, line, _ in one_way
        ]
        for track in _clusters(aside, lambda t: t[2], SAME_TRACK):
            off = max(track, key=lambda t: t[1].length)[2]
            stretches: dict[Style, list[Stretch]] = {}
            for style, line, _ in track:
                a, b = (c * x + s * y for x, y in (line.start, line.end))
                stretches.setdefault(style, []).append((min(a, b), max(a, b)))
            for style, a, b in _seen(stretches, SAME_TRACK):
                if b - a > LEAST:
                    start, end = ((c * t - s * off, s * t + c * off) for t in (a, b))
                    out.append(ViewLine(Line(_rounded(start), _rounded(end)), style))
    return out


def _merge_round(arcs: list[tuple[Style, Arc]]) -> list[ViewLine]:
    out: list[ViewLine] = []
    for column in _clusters(arcs, lambda a: a[1].centre[0], SAME_TRACK):
        for around in _clusters(column, lambda a: a[1].centre[1], SAME_TRACK):
            for track in _clusters(around, lambda a: a[1].radius, SAME_TRACK):
                out += _merge_circle(track)
    return out


def _merge_circle(track: Sequence[tuple[Style, Arc]]) -> list[ViewLine]:
    main = max((arc for _, arc in track), key=lambda arc: abs(arc.sweep))
    stretches: dict[Style, list[Stretch]] = {}
    for style, arc in track:
        first = arc.first if arc.sweep > 0 else arc.first + arc.sweep
        first %= 2 * math.pi
        last = first + min(abs(arc.sweep), 2 * math.pi)
        # What passes angle 0 is two stretches; they are joined again below.
        pieces = [(first, min(last, 2 * math.pi))]
        if last > 2 * math.pi:
            pieces.append((0.0, last - 2 * math.pi))
        stretches.setdefault(style, []).extend(pieces)
    slack = SAME_TRACK / main.radius
    by_style: dict[Style, list[Stretch]] = {}
    for style, a, b in _seen(stretches, slack):
        by_style.setdefault(style, []).append((a, b))
    out: list[ViewLine] = []
    centre, radius = _rounded(main.centre), round(main.radius, DIGITS)
    for style, pieces in by_style.items():
        if len(pieces) > 1 and pieces[0][0] < slack and pieces[-1][1] > 2 * math.pi - slack:
            pieces = [*pieces[1:-1], (pieces[-1][0], pieces[0][1] + 2 * math.pi)]
        for a, b in pieces:
            if b - a > 2 * math.pi - slack:
                out.append(ViewLine(Arc(centre, radius, 0.0, 2 * math.pi), style))
            elif (b - a) * radius > LEAST:
                out.append(ViewLine(Arc(centre, radius, a, b - a), style))
    return out


def _seen(stretches: dict[Style, list[Stretch]], slack: float) -> list[tuple[Style, float, float]]:
    """Return each style's stretches, united, without what the styles before it cover."""
    covered: list[Stretch] = []
    out: list[tuple[Style, float, float]] = []
    for style in ORDER:
        united = _unite(stretches.get(style, []), slack)
        for a, b in united:
            left = a
            for p, q in covered:
                if q < left or p > b:
                    continue
                if p > left + slack:
                    out.append((style, left, p))
                left = max(left, q)
            if b > left + slack:
                out.append((style, left, b))
        covered = _unite([*covered, *united], slack)
    return out


def _unite(stretches: list[Stretch], slack: float) -> list[Stretch]:
    out: list[Stretch] = []
    for a, b in sorted(stretches):
        if out and a <= out[-1][1] + slack:
            out[-1] = (out[-1][0], max(out[-1][1], b))
        else:
            out.append((a, b))
    return out


def _clusters(things: Sequence[T], key: Callable[[T], float], gap: float) -> list[list[T]]:
    """Return things in groups whose neighbours differ by less than `gap`."""
    ordered = sorted(things, key=key)
    groups = [ordered[:1]] if ordered else []
    for before, thing in pairwise(ordered):
        if key(thing) - key(before) < gap:
            groups[-1].append(thing)
        else:
            groups.append([thing])
    return groups


def _direction(line: Line) -> float:
    """Return the angle of a line, 0 to half a turn; one along an axis gets it exactly."""
    angle = math.atan2(line.end[1] - line.start[1], line.end[0] - line.start[0]) % math.pi
    if min(angle, math.pi - angle) < ALONG_AXIS:
        return 0.0
    return math.pi / 2 if abs(angle - math.pi / 2) < ALONG_AXIS else angle


def _rounded(point: Point) -> Point:
    # Adding zero turns -0.0 into 0.0.
    return round(point[0], DIGITS) + 0.0, round(point[1], DIGITS) + 0.0
