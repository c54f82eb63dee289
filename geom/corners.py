"""Rounding of the turns to the right of an outline: exact tangent arcs between lines and arcs.

A turn is *re-entrant* where the outline turns to the right, its material being on the left: a corner there, as that
of a groove round a T of channels, or an arc, as that inside a bend. A ball that rolls on the outside stops at the
arc that a turn is given: it touches the outline at the arc's ends, and nothing of the outline lies in it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from geom.crossings import (
    cross,
    cut_segment,
    distance_to,
    fraction_of,
    heading_at,
    point_at,
)
from geom.frame import SAME_MM
from geom.outline import Arc, Line, Loop, Point, Segment, loop_area, reverse_path

TURN_RAD = 1e-4
"""Least turn that is a corner: what is below it is a tangent joint seen through rounding errors."""

LEAST_RADIUS_MM = 1e-2
"""A corner that takes less than this is left sharp."""

HALVINGS = 30
"""Steps in which the largest radius that fits is looked for: to a billionth of the wanted one."""

FREE_MM = 1e-9
"""A ball at rest may cut into the outline by this: it only touches."""

WHOLE = 1e-9
"""A ball may touch a piece this share of its length beyond its end: it uses up the piece."""

MOST_PASSED = 12
"""Pieces that a ball may pass over at a turn."""

POCKET_SHARE = 0.5
"""What a ball passes over is a pocket if it is larger than this share of its radius squared; in a right angle it is
0.21."""

Accepts = Callable[[Loop], bool]
"""Asks whether a patch that a rounding adds, a counter-clockwise loop, may be added."""


@dataclass(frozen=True, slots=True)
class Corner:
    """A re-entrant turn that is less round than was wanted most, and its radius, [mm]; 0 where it is sharp."""

    at: Point
    radius: float


@dataclass(frozen=True, slots=True)
class _Item:
    """A piece of the loop, and whether its own turn and the corner before it are settled."""

    segment: Segment
    arc_settled: bool = False
    corner_settled: bool = False


@dataclass(frozen=True, slots=True)
class _Fit:
    """A ball at rest: the numbers of the pieces that it touches, the arc, and where it touches them (0 to 1)."""

    before: int
    after: int
    arc: Arc
    end: float
    start: float


def round_reentrant(
    loop: Loop, radii: tuple[float, ...], accepts: Accepts | None = None
) -> tuple[Loop, tuple[Corner, ...]]:
    """Return a loop with its re-entrant turns rounded: corners, and arcs that are tighter than wanted.

    Each gets the first of the radii whose ball fits and whose patch is accepted. A ball too large for the pieces
    beside a turn may pass over some if that patch is accepted; over a whole pocket only with the last radius. Where
    none fits, the last radius is lessened until it fits beside the turn, without asking.

    Parameters
    ----------
    loop : tuple of Line or Arc
        Closed, material on its left: counter-clockwise for an outer boundary, clockwise for a hole.
    radii : tuple of float
        From the most wanted to the least, [mm].
    accepts : callable, optional
        Asked for each patch, but for those of the last radius that pass over nothing.

    Returns
    -------
    (Loop, tuple of Corner)
        The rounded loop, and every turn of it that has less than the first of the radii.
    """
    items = [_Item(s) for s in loop if s.length > SAME_MM]
    k = 0
    while len(items) > 1 and k < len(items):
        corner = not items[k].corner_settled and _turns(items[k - 1].segment, items[k].segment)
        if not corner and (items[k].arc_settled or not _is_tight(items[k].segment, radii[0])):
            k += 1
            continue
        fit = _find_fit(items, k, 0 if corner else 1, radii, accepts)
        if fit is None:
            items[k] = replace(
                items[k],
                corner_settled=corner or items[k].corner_settled,
                arc_settled=not corner or items[k].arc_settled,
            )
            continue
        items = _put_in(items, fit)
        # The ring now begins at the new arc; what is settled is not looked at again.
        k = 0
    return tuple(item.segment for item in items), tuple(_list_corners(items, radii[0]))


def _list_corners(items: list[_Item], wanted: float) -> Iterator[Corner]:
    for k, item in enumerate(items):
        s = item.segment
        if len(items) > 1 and _turns(items[k - 1].segment, s):
            yield Corner(s.start, 0.0)
        if isinstance(s, Arc) and _is_tight(s, wanted):
            yield Corner(s.at(0.5), s.radius)


def _turns(before: Segment, after: Segment) -> bool:
    """Return whether the outline has a corner to the right between two pieces."""
    (ax, ay), (bx, by) = heading_at(before, 1.0), heading_at(after, 0.0)
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by) < -TURN_RAD


def _is_tight(s: Segment, wanted: float) -> bool:
    return isinstance(s, Arc) and s.sweep < 0 and s.radius < wanted - SAME_MM


def _find_fit(
    items: list[_Item], k: int, width: int, radii: tuple[float, ...], accepts: Accepts | None
) -> _Fit | None:
    """Return the ball for the turn at piece k: of 0 pieces, the corner before it; of 1, its own arc."""
    pieces = [item.segment for item in items]
    for radius in radii:
        last = radius == radii[-1]
        for fit in _list_fits(pieces, k, width, radius):
            beside = (fit.after - fit.before - 1) % len(pieces) == width
            patch = _patch(pieces, fit)
            if not (last or beside or loop_area(patch) < POCKET_SHARE * radius**2):
                continue
            if accepts is None or (last and beside) or accepts(patch):
                return fit
    at = pieces[k]
    least = at.radius if width and isinstance(at, Arc) else LEAST_RADIUS_MM
    best, low, high = None, least, radii[-1]
    for _ in range(HALVINGS if high > low else 0):
        middle = (low + high) / 2
        found = _rest(pieces, (k - 1) % len(pieces), (k + width) % len(pieces), middle)
        if found is None:
            high = middle
        else:
            low, best = middle, found
    return best if best is not None and best.arc.radius > least + SAME_MM else None


def _list_fits(pieces: list[Segment], k: int, width: int, radius: float) -> Iterator[_Fit]:
    """Yield the balls of a radius at rest over the turn at piece k, those that pass over the fewest pieces first."""
    n = len(pieces)
    for passed in range(min(MOST_PASSED, n - 2 - width) + 1):
        for back in range(passed + 1):
            fit = _rest(pieces, (k - 1 - back) % n, (k + width + passed - back) % n, radius)
            if fit is not None:
                yield fit


def _rest(pieces: list[Segment], before: int, after: int, radius: float) -> _Fit | None:
    """Return the ball of a radius that touches two pieces and lies free of all others."""
    one, two = pieces[before], pieces[after]
    if before == after:
        return None
    for centre in sorted(_centres(one, two, radius), key=lambda c: math.dist(c, two.start)):
        end, start = fraction_of(one, centre), fraction_of(two, centre)
        if not (-WHOLE <= end <= 1 + WHOLE and -WHOLE <= start <= 1 + WHOLE):
            continue
        end, start = min(max(end, 0.0), 1.0), min(max(start, 0.0), 1.0)
        a, b = point_at(one, end), point_at(two, start)
        first = math.atan2(a[1] - centre[1], a[0] - centre[0])
        last = math.atan2(b[1] - centre[1], b[0] - centre[0])
        sweep = -((first - last) % (2 * math.pi))
        if not -math.pi <= sweep < -TURN_RAD:
            continue
        if all(distance_to(s, centre) > radius - FREE_MM for s in pieces):
            return _Fit(before, after, Arc(centre, radius, first, sweep), end, start)
    return None


def _patch(pieces: list[Segment], fit: _Fit) -> Loop:
    """Return what a ball at rest adds to the material."""
    n = len(pieces)
    passed = [pieces[(fit.before + j) % n] for j in range(1, (fit.after - fit.before) % n)]
    way = (
        cut_segment(pieces[fit.before], fit.end, 1.0),
        *passed,
        cut_segment(pieces[fit.after], 0.0, fit.start),
    )
    return (fit.arc, *reverse_path(tuple(s for s in way if s.length > SAME_MM)))


def _put_in(items: list[_Item], fit: _Fit) -> list[_Item]:
    """Return the ring with a ball's arc in place of what it passes over, beginning with that arc."""
    n = len(items)
    before, after = items[fit.before], items[fit.after]
    ahead = cut_segment(before.segment, 0.0, fit.end)
    behind = cut_segment(after.segment, fit.start, 1.0)
    rest = [items[(fit.after + j) % n] for j in range(1, (fit.before - fit.after) % n)]
    out = [_Item(fit.arc, arc_settled=True)]
    if behind.length > SAME_MM:
        out.append(replace(after, segment=behind, corner_settled=True))
    out += rest
    if ahead.length > SAME_MM:
        out.append(replace(before, segment=ahead))
    return out


def _centres(before: Segment, after: Segment, radius: float) -> list[Point]:
    """Return the points at distance `radius` to the right of both pieces (taken as endless)."""
    a, b = _shift_right(before, radius), _shift_right(after, radius)
    return [] if a is None or b is None else cross(a, b)


def _shift_right(s: Segment, by: float) -> Segment | None:
    if isinstance(s, Line):
        dx, dy = heading_at(s, 0.0)
        return Line((s.start[0] + dy * by, s.start[1] - dx * by), (s.end[0] + dy * by, s.end[1] - dx * by))
    radius = s.radius + math.copysign(by, s.sweep)
    return Arc(s.centre, radius, s.first, s.sweep) if radius > SAME_MM else None
