"""The union of closed outlines of lines and arcs, as exact lines and arcs.

Every piece of every loop is split where another loop meets it; pieces inside another loop go, of pieces that lie
on one another one stays, and the rest is chained. What is nearer than `SNAP_MM` is taken for touching.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from geom.crossings import (
    cross,
    cut_segment,
    fraction_of,
    heading_at,
    point_at,
)
from geom.errors import GeometryError
from geom.outline import Arc, Line, Loop, Point, Region, Segment, loop_area

SNAP_MM = 2e-6
"""Points nearer than this are one."""

TOUCH_MM = 1e-6
"""A line and a circle, or two circles, that miss a tangency by less touch in one point."""

ON_MM = 2e-7
"""What is nearer to an outline than this lies on it; smaller than what a tangency misses."""

SAMPLE_MM = 0.1
"""How far from a vertex the pieces that meet there are told apart."""


@dataclass(frozen=True, slots=True)
class _Piece:
    """A part of one loop's boundary between two split points, run in the loop's sense."""

    owner: int
    segment: Segment
    start: Point
    end: Point


def unite_loops(region: Region) -> tuple[Loop, ...]:
    """Return the boundary of the union of loops.

    Parameters
    ----------
    region : tuple of Loop
        Each closed, without crossings, counter-clockwise; they may overlap, touch and share pieces.

    Returns
    -------
    tuple of Loop
        Material on the left: outer ones counter-clockwise, in the order of their first piece in `region`, then
        holes, clockwise. Parts that touch in a point stay loops of their own.

    Raises
    ------
    GeometryError
        Where the loops touch in a way that floating point cannot tell.
    """
    edges = [(k, s) for k, loop in enumerate(region) for s in loop if s.length > SNAP_MM]
    if len(region) == 1:
        return (tuple(s for _, s in edges),)
    vertices = _Vertices()
    ends = [(vertices.find(s.start), vertices.find(s.end)) for _, s in edges]
    pieces = _split(edges, ends, vertices)
    kept = _drop_covered(pieces, edges, ends)
    loops = [tidy for chain in _chain(kept) if (tidy := _tidy(chain)) and abs(loop_area(tidy)) > SNAP_MM]
    return (
        *(loop for loop in loops if loop_area(loop) > 0),
        *(loop for loop in loops if loop_area(loop) < 0),
    )


class _Vertices:
    """Points with those nearer than `SNAP_MM` taken for the first of them."""

    def __init__(self) -> None:
        self._cells: dict[tuple[int, int], list[Point]] = {}

    def find(self, point: Point) -> Point:
        """Return the point that stands for `point`."""
        column, row = math.floor(point[0] / SNAP_MM), math.floor(point[1] / SNAP_MM)
        for i in (column, column - 1, column + 1):
            for j in (row, row - 1, row + 1):
                for known in self._cells.get((i, j), ()):
                    if math.dist(known, point) <= SNAP_MM:
                        return known
        self._cells.setdefault((column, row), []).append(point)
        return point


def _split(
    edges: list[tuple[int, Segment]], ends: list[tuple[Point, Point]], vertices: _Vertices
) -> list[_Piece]:
    boxes = [_box(s) for _, s in edges]
    cuts: list[list[Point]] = [[] for _ in edges]
    for i, (owner, one) in enumerate(edges):
        x0, y0, x1, y1 = boxes[i]
        for j in range(i):
            u0, v0, u1, v1 = boxes[j]
            if edges[j][0] == owner or u0 > x1 or u1 < x0 or v0 > y1 or v1 < y0:
                continue
            other = edges[j][1]
            found = [p for p in cross(one, other, TOUCH_MM) if _on(one, p) and _on(other, p)]
            found += [p for p in ends[i] if _on(other, p)] + [p for p in ends[j] if _on(one, p)]
            cuts[i] += found
            cuts[j] += found
    pieces: list[_Piece] = []
    for (owner, segment), (start, end), points in zip(edges, ends, cuts, strict=True):
        known = {vertices.find(p) for p in points} - {start, end}
        ordered = sorted((fraction_of(segment, p), p) for p in known)
        stops = [(0.0, start), *ordered, (1.0, end)]
        for (low, a), (high, b) in pairwise(stops):
            if a == b and len(stops) > 2:
                continue
            pieces.append(_Piece(owner, cut_segment(segment, low, high), a, b))
    return pieces


def _drop_covered(
    pieces: list[_Piece], edges: list[tuple[int, Segment]], ends: list[tuple[Point, Point]]
) -> list[_Piece]:
    """Return the pieces that bound the union."""
    owners = np.array([piece.owner for piece in pieces])
    middles = np.array([point_at(piece.segment, 0.5) for piece in pieces])
    headings = np.array([heading_at(piece.segment, 0.5) for piece in pieces])
    covered = np.zeros(len(pieces), dtype=bool)
    for loop in sorted({owner for owner, _ in edges}):
        own = [k for k, (owner, _) in enumerate(edges) if owner == loop]
        loop_edges, loop_ends = [edges[k][1] for k in own], [ends[k] for k in own]
        others = owners != loop
        same = _lies_along(loop_edges, middles, headings)
        inside = _winding(loop_edges, loop_ends, middles) > 0
        # Of pieces that run the same way the first loop's stays; of two that run against each other neither.
        covered |= others & np.where(same == 0, inside, (same < 0) | (owners > loop))
    return [piece for piece, gone in zip(pieces, covered, strict=True) if not gone]


def _lies_along(edges: list[Segment], points: np.ndarray, headings: np.ndarray) -> np.ndarray:
    """Return for each point 1 where an edge runs through it the same way, -1 against it, 0 where none does."""
    out = np.zeros(len(points), dtype=int)
    for s in edges:
        if isinstance(s, Line):
            ux, uy = heading_at(s, 0.0)
            off = points - np.array(s.start)
            along = off[:, 0] * ux + off[:, 1] * uy
            on = (np.abs(off[:, 0] * uy - off[:, 1] * ux) < ON_MM) & (along > 0) & (along < s.length)
            way = headings[:, 0] * ux + headings[:, 1] * uy
        else:
            off = points - np.array(s.centre)
            on = np.abs(np.hypot(off[:, 0], off[:, 1]) - s.radius) < ON_MM
            side = math.copysign(1.0, s.sweep)
            turned = (np.arctan2(off[:, 1], off[:, 0]) - s.first) * side % (2 * math.pi)
            on &= turned < abs(s.sweep)
            way = (off[:, 0] * headings[:, 1] - off[:, 1] * headings[:, 0]) * side
        out[on] = np.where(way[on] > 0, 1, -1)
    return out


def _winding(edges: list[Segment], ends: list[tuple[Point, Point]], points: np.ndarray) -> np.ndarray:
    """Return how often a loop winds round each point, by a ray to the right."""
    x, y = points[:, 0], points[:, 1]
    out = np.zeros(len(points), dtype=int)
    for s, (a, b) in zip(edges, ends, strict=True):
        if isinstance(s, Line):
            if a[1] == b[1]:
                continue
            at = a[0] + (y - a[1]) * ((b[0] - a[0]) / (b[1] - a[1]))
            hit = ((a[1] <= y) != (b[1] <= y)) & (at > x)
            out[hit] += 1 if b[1] > a[1] else -1
            continue
        for low, high, side in _halves(s, a, b):
            up = high > low
            reach = np.sqrt(np.maximum(s.radius**2 - (y - s.centre[1]) ** 2, 0.0))
            hit = ((low <= y) != (high <= y)) & (s.centre[0] + side * reach > x)
            out[hit] += 1 if up else -1
    return out


def _halves(arc: Arc, start: Point, end: Point) -> Iterator[tuple[float, float, float]]:
    """Yield an arc's rising and falling parts: first and last height, and the side of the centre they lie on."""
    way = math.copysign(1.0, arc.sweep)
    # Stops at the top and the bottom, which both parts share to the last bit.
    quarter = [math.pi / 2 + k * math.pi for k in range(-4, 5)]
    stops = sorted(
        ((q - arc.first) * way, q) for q in quarter if 1e-12 < (q - arc.first) * way < abs(arc.sweep) - 1e-12
    )
    heights = [
        start[1],
        *(arc.centre[1] + math.copysign(arc.radius, math.sin(q)) for _, q in stops),
        end[1],
    ]
    turned = [0.0, *(t for t, _ in stops), abs(arc.sweep)]
    for k in range(len(turned) - 1):
        middle = arc.first + way * (turned[k] + turned[k + 1]) / 2
        yield heights[k], heights[k + 1], math.copysign(1.0, math.cos(middle))


def _chain(pieces: list[_Piece]) -> Iterator[list[_Piece]]:
    """Yield closed chains: at each vertex on to the piece most to the left, which parts what only touches."""
    leaving: dict[Point, list[int]] = {}
    for k, piece in enumerate(pieces):
        leaving.setdefault(piece.start, []).append(k)
    used = [False] * len(pieces)
    for first in range(len(pieces)):
        if used[first]:
            continue
        chain, k = [], first
        while not used[k]:
            used[k] = True
            chain.append(pieces[k])
            onward = leaving.get(pieces[k].end, [])
            if not onward:
                x, y = pieces[k].end
                raise GeometryError(
                    f"outlines round ({x:.2f}, {y:.2f}) mm lie so near to one another that their union has a gap: "
                    "move one of them by 0.01 mm"
                )
            k = onward[0] if len(onward) == 1 else _leftmost(pieces, k, onward)
        if k != first:
            x, y = pieces[k].start
            raise GeometryError(
                f"outlines round ({x:.2f}, {y:.2f}) mm cannot be told apart where they touch: move one of them "
                "by 0.01 mm"
            )
        yield from _part(chain)


def _part(chain: list[_Piece]) -> Iterator[list[_Piece]]:
    """Yield the closed chains that a closed chain consists of, none of which passes a vertex twice."""
    way: list[_Piece] = []
    places: dict[Point, int] = {}
    for piece in chain:
        places[piece.start] = len(way)
        way.append(piece)
        if piece.end in places:
            back = places[piece.end]
            yield way[back:]
            for gone in way[back:]:
                del places[gone.start]
            del way[back:]


def _leftmost(pieces: list[_Piece], k: int, onward: list[int]) -> int:
    reach = min(SAMPLE_MM, *(pieces[j].segment.length / 2 for j in (k, *onward)))
    at = pieces[k].end
    come = point_at(pieces[k].segment, 1 - reach / pieces[k].segment.length)
    back = math.atan2(come[1] - at[1], come[0] - at[0])

    def turn(j: int) -> float:
        to = point_at(pieces[j].segment, reach / pieces[j].segment.length)
        return (back - math.atan2(to[1] - at[1], to[0] - at[0])) % (2 * math.pi)

    return min(onward, key=turn)


def _tidy(chain: list[_Piece]) -> Loop:
    """Return a chain with pieces of one line or one circle joined again."""
    pieces = list(chain)
    # Begin at a joint that stays, if there is one.
    start = next((k for k in range(len(pieces)) if _join(pieces[k - 1], pieces[k]) is None), 0)
    pieces = pieces[start:] + pieces[:start]
    joined = [pieces[0]]
    for piece in pieces[1:]:
        both = _join(joined[-1], piece)
        if both is None:
            joined.append(piece)
        else:
            joined[-1] = both
    return tuple(
        Line(p.start, p.end) if isinstance(p.segment, Line) else p.segment
        for p in joined
        if p.segment.length > SNAP_MM
    )


def _join(a: _Piece, b: _Piece) -> _Piece | None:
    one, two = a.segment, b.segment
    if isinstance(one, Line) and isinstance(two, Line):
        ux, uy = heading_at(one, 0.0)
        vx, vy = heading_at(two, 0.0)
        if ux * vx + uy * vy > 0 and abs(ux * vy - uy * vx) < 1e-9:
            return _Piece(a.owner, Line(a.start, b.end), a.start, b.end)
    if isinstance(one, Arc) and isinstance(two, Arc) and one.sweep * two.sweep > 0:
        whole = one.sweep + two.sweep
        if (
            math.dist(one.centre, two.centre) < ON_MM
            and abs(one.radius - two.radius) < ON_MM
            and abs(whole) <= 2 * math.pi + 1e-9
        ):
            return _Piece(a.owner, Arc(one.centre, one.radius, one.first, whole), a.start, b.end)
    return None


def _on(s: Segment, p: Point) -> bool:
    if isinstance(s, Line):
        ux, uy = heading_at(s, 0.0)
        dx, dy = p[0] - s.start[0], p[1] - s.start[1]
        return abs(dx * uy - dy * ux) <= TOUCH_MM and -TOUCH_MM <= dx * ux + dy * uy <= s.length + TOUCH_MM
    if abs(math.dist(p, s.centre) - s.radius) > TOUCH_MM:
        return False
    return 0.0 <= fraction_of(s, p) <= 1.0


def _box(s: Segment) -> tuple[float, float, float, float]:
    if isinstance(s, Line):
        (ax, ay), (bx, by) = s.start, s.end
        return (
            min(ax, bx) - SNAP_MM,
            min(ay, by) - SNAP_MM,
            max(ax, bx) + SNAP_MM,
            max(ay, by) + SNAP_MM,
        )
    (x, y), r = s.centre, s.radius + SNAP_MM
    return x - r, y - r, x + r, y + r
