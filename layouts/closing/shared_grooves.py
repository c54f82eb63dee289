"""Neighbours that share one groove where two do not fit.

A loop that comes too near to an earlier one loses the stretches there: the earlier groove seals both. What is left of
it are open grooves, each end of which turns off its loop, away from its own wet region, and comes into the earlier
groove.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import reduce

import numpy as np
import shapely

from geom.along import Way, distances_to
from geom.frame import WALL_MM
from geom.outline import Segment, loop_polygon, path_points, reverse_path
from layouts.closing.turn_in import REACH, Tail, Target, turn_in
from layouts.plan import CordLoop

SAMPLE_MM = 0.5
"""Between the places at which grooves are measured against each other, [mm]; what lies between is halved down to it."""

BACK_MM = 0.5
"""Step by which an end is moved back along its loop until it comes well into the other groove, [mm]."""

MOST_BACK = 4.0
"""How far back along its loop an end is looked for, in radii of its turn."""

TRACE_MM = 0.5
"""Between the points that stand for grooves where their cells are looked at, [mm]."""

COARSE_MM = 0.02
"""Distances of an end from what is wet hold to this: the outlines there are polygons, [mm]."""


def share_grooves(loops: tuple[CordLoop, ...], rib: float, turn: float) -> tuple[CordLoop, ...]:
    """Return the grooves of a panel whose neighbours may share one where two do not fit.

    Each loop in turn, one that comes nearer to the remaining middle of an earlier one than a groove's width and the
    rib is opened there. Its ends leave it on an arc and come into the earlier groove at `LEAST_MEET` or more. One that
    is wholly enclosed by others vanishes. A loop that has no room for such ends, or whose region would not be closed
    off by what is left, goes before all others; where no order helps it stays as it is, and the check of the walls
    tells what is missing.

    Parameters
    ----------
    loops : tuple of CordLoop
        Closed, of one or both joints.
    rib : float
        Least body between two grooves, and between a groove and what is wet, [mm].
    turn : float
        Radius of the middle of a groove where it turns off its loop, [mm].

    Returns
    -------
    tuple of CordLoop
        Numbered anew, for each piece of a loop is a groove with a cord of its own.
    """
    shared: list[CordLoop] = []
    for layer in dict.fromkeys(loop.layer for loop in loops):
        shared += _share_joint(tuple(loop for loop in loops if loop.layer == layer), rib, turn)
    names = {loop.name: f"groove {number}" for number, loop in enumerate(shared, start=1)}
    return tuple(
        replace(loop, name=names[loop.name], meets=tuple(names[name] for name in loop.meets))
        for loop in shared
    )


def list_sharers(loops: tuple[CordLoop, ...]) -> tuple[tuple[str, str], ...]:
    """Return which regions share grooves: of each open groove, its own and those of the grooves that it ends in.

    Parameters
    ----------
    loops : tuple of CordLoop

    Returns
    -------
    tuple of (str, str)
        Each pair once.
    """
    region = {loop.name: loop.region for loop in loops}
    pairs = [
        (region[name], loop.region) for loop in loops for name in loop.meets if region[name] != loop.region
    ]
    return tuple(dict.fromkeys(pairs))


def _share_joint(loops: tuple[CordLoop, ...], rib: float, turn: float) -> list[CordLoop]:
    """Return the grooves of one joint: a loop that finds no room beside earlier ones becomes the first of all."""
    joint = _Joint(loops, rib, turn)
    order, tried = list(range(len(loops))), set()
    best: tuple[int, list[CordLoop]] | None = None
    while tuple(order) not in tried:
        tried.add(tuple(order))
        pieces, stuck = _share_in_order(joint, loops, order)
        if best is None or len(stuck) < best[0]:
            best = (len(stuck), [piece for number in range(len(loops)) for piece in pieces[number]])
        if not stuck or len(tried) > len(loops):
            break
        order = [stuck[0], *(number for number in order if number != stuck[0])]
    assert best is not None
    return best[1]


def _share_in_order(
    joint: _Joint, loops: tuple[CordLoop, ...], order: list[int]
) -> tuple[dict[int, tuple[CordLoop, ...]], list[int]]:
    """Return what is left of each loop, and those that stay whole but too near to others."""
    kept: list[CordLoop] = []
    pieces: dict[int, tuple[CordLoop, ...]] = {}
    stuck = []
    for place, number in enumerate(order):
        loop, later = loops[number], [loops[other] for other in order[place + 1 :]]
        found = _open_loop(joint, loop, tuple(kept))
        if found is not None and found != (loop,) and not joint.parts_regions((*kept, *found, *later)):
            found = None
        if found is None:
            stuck.append(number)
        pieces[number] = (loop,) if found is None else found
        kept += pieces[number]
    return pieces, stuck


class _Joint:
    """The wet regions of a joint, as its closed loops go round them."""

    def __init__(self, loops: tuple[CordLoop, ...], rib: float, turn: float) -> None:
        self.apart, self.turn = loops[0].groove_width + rib, turn
        self.off_wet = rib + loops[0].groove_width / 2
        by_region: dict[str, list[shapely.Polygon]] = {}
        for loop in loops:
            by_region.setdefault(loop.region, []).append(loop_polygon(loop.path))
        inside = [reduce(shapely.symmetric_difference, found) for found in by_region.values()]
        self.wet = [area.buffer(-self.off_wet, quad_segs=32) for area in inside]
        self.all_wet = shapely.union_all(self.wet)
        shapely.prepare(self.all_wet)

    def parts_regions(self, loops: tuple[CordLoop, ...]) -> bool:
        """Return whether grooves keep every region from all others and from the outside."""
        cells = shapely.get_parts(
            shapely.polygonize([shapely.union_all([trace_middle(loop, TRACE_MM) for loop in loops])])
        )
        owners: dict[int, int] = {}
        for number, region in enumerate(self.wet):
            for part in shapely.get_parts(region):
                at = part.representative_point()
                holding = [k for k, cell in enumerate(cells) if cell.contains(at)]
                if len(holding) != 1 or owners.setdefault(holding[0], number) != number:
                    return False
                if part.difference(cells[holding[0]]).area > COARSE_MM * part.length:
                    return False
        return True

    def clears(self, tail: Tail, others: tuple[CordLoop, ...]) -> bool:
        """Return whether an end keeps off all that is wet, and off the grooves that it does not come into."""
        line = shapely.LineString([*path_points(tail.path, TRACE_MM), tail.end])
        if line.distance(self.all_wet) < self.off_wet - COARSE_MM:
            return False
        beside = [trace_middle(other, TRACE_MM) for other in others if other.name != tail.groove]
        return not np.any(shapely.distance(beside, line) < self.apart - WALL_MM)


def trace_middle(loop: CordLoop, step: float) -> shapely.LineString:
    """Return a groove's middle; an open one is drawn out over the middles of the grooves that it comes into.

    Parameters
    ----------
    loop : CordLoop
    step : float
        Between its points, [mm].

    Returns
    -------
    shapely.LineString
        [mm]
    """
    points = path_points(loop.path, step)
    if loop.closed:
        return shapely.LinearRing(points)
    way = np.vstack((points, loop.path[-1].end))
    ahead, behind = way[-1] - way[-2], way[0] - way[1]
    out = loop.groove_width / 2
    return shapely.LineString(
        np.vstack(
            (
                way[0] + behind / np.hypot(*behind) * out,
                way,
                way[-1] + ahead / np.hypot(*ahead) * out,
            )
        )
    )


@dataclass(frozen=True, slots=True)
class _End:
    """An end of an open piece: how far along its loop it leaves that, [mm], and how it goes on."""

    along: float
    tail: Tail
    line: shapely.LineString


def _open_loop(joint: _Joint, loop: CordLoop, earlier: tuple[CordLoop, ...]) -> tuple[CordLoop, ...] | None:
    """Return what is left of a loop beside earlier grooves: itself, open pieces, or nothing; None: it has no room."""
    way = Way(loop.path, loop.closed)
    gaps = _near_stretches(way, earlier, joint.apart)
    if gaps is None:
        return ()
    while gaps:
        ends = [_find_ends(joint, way, low, high, earlier) for low, high in gaps]
        pieces = []
        for k, found in enumerate(ends):
            after = ends[(k + 1) % len(ends)]
            if found is None or after is None:
                return None
            start, end = found[1], after[0]
            length = (end.along - start.along) % way.length
            room = (gaps[(k + 1) % len(gaps)][0] - gaps[k][1]) % way.length
            if len(gaps) == 1 and room == 0.0:
                return None
            short = length > room or start.line.distance(end.line) < joint.apart - WALL_MM
            if short and len(gaps) == 1:
                return ()
            if short:
                # Too short a piece to have two ends: the earlier grooves seal it too.
                low, high = gaps[k][0], gaps[k][0] + (gaps[(k + 1) % len(gaps)][1] - gaps[k][0]) % way.length
                gaps = [gap for j, gap in enumerate(gaps) if j not in (k, (k + 1) % len(gaps))]
                gaps = sorted([*gaps, (low, high)])
                break
            path = (
                *reverse_path(start.tail.path),
                *way.cut(start.along % way.length, start.along % way.length + length),
                *end.tail.path,
            )
            name = loop.name if len(ends) == 1 else f"{loop.name} {k + 1}"
            pieces.append(
                replace(loop, name=name, path=path, closed=False, meets=(start.tail.groove, end.tail.groove))
            )
        else:
            return tuple(pieces)
    return (loop,)


def _find_ends(
    joint: _Joint, way: Way, low: float, high: float, earlier: tuple[CordLoop, ...]
) -> tuple[_End, _End] | None:
    """Return both ends at a gap of a loop: of the piece before it, and of the one behind it, nearest to the gap."""
    one: list[_End] = []
    two: list[_End] = []
    befores = _list_ends(joint, way, low, True, earlier)
    behinds = _list_ends(joint, way, high, False, earlier)
    more = True
    while more:
        more = False
        for found, rest, others in ((one, befores, two), (two, behinds, one)):
            new = next(rest, None)
            if new is None:
                continue
            more = True
            found.append(new)
            fit = [other for other in others if new.line.distance(other.line) >= joint.apart - WALL_MM]
            if fit:
                return (new, fit[0]) if found is one else (fit[0], new)
    return None


def _list_ends(
    joint: _Joint, way: Way, at: float, before: bool, earlier: tuple[CordLoop, ...]
) -> Iterator[_End]:
    """Yield ends at one side of a gap, from the gap on along the loop that is left."""
    steps = int(min(MOST_BACK * joint.turn, way.length / 2) / BACK_MM)
    reach = REACH * joint.turn
    for k in range(steps + 1):
        along = at - k * BACK_MM if before else at + k * BACK_MM
        point, (hx, hy) = way.point(along), way.heading(along)
        here = np.array([point])
        targets = tuple(
            Target(groove.name, segment)
            for groove in earlier
            for segment in groove.path
            if distances_to((segment,), here)[0] < reach
        )
        # What is wet lies on the left of a loop: it leaves to the right, and run backwards to the left.
        tail = turn_in(point, (hx, hy) if before else (-hx, -hy), not before, joint.turn, targets)
        if tail is not None and joint.clears(tail, earlier):
            yield _End(along, tail, shapely.LineString([*path_points(tail.path, TRACE_MM), tail.end]))


def _near_stretches(
    way: Way, earlier: tuple[CordLoop, ...], apart: float
) -> list[tuple[float, float]] | None:
    """Return where a loop is nearer to others than `apart`, from and to along it, [mm]; None: all along."""
    count = max(8, int(np.ceil(way.length / SAMPLE_MM)))
    step = way.length / count
    spots = np.arange(count) * step
    points = np.array([way.point(along) for along in spots])
    near_by: tuple[Segment, ...] = tuple(
        s for groove in earlier for s in groove.path if distances_to((s,), points).min() < apart + step
    )
    if not near_by:
        return []

    def off(along: np.ndarray) -> np.ndarray:
        return distances_to(near_by, np.array([way.point(a) for a in along])) - apart + WALL_MM / 2

    have = off(spots)
    # Between two places it may come nearer by half of their distance.
    lowest = (have <= np.roll(have, 1)) & (have <= np.roll(have, -1))
    dips = np.flatnonzero((have > 0) & (have < step) & lowest)
    fine = np.linspace(-1.0, 1.0, 41)
    for dip in dips:
        around = spots[dip] + step * fine
        found = off(around)
        if found.min() < 0:
            spots = np.append(spots, around[found.argmin()] % way.length)
            have = np.append(have, found.min())
    order = np.argsort(spots, kind="stable")
    spots, near = spots[order], have[order] < 0
    if near.all():
        return None
    if not near.any():
        return []
    starts: list[float] = []
    ends: list[float] = []
    for k in range(len(spots)):
        j = (k + 1) % len(spots)
        if near[k] != near[j]:
            edge = _halve(off, spots[k], spots[j] + (way.length if j == 0 else 0.0))
            (starts if near[j] else ends).append(edge)
    if starts[0] > ends[0]:
        ends = [*ends[1:], ends[0] + way.length]
    return list(zip(starts, ends, strict=True))


def _halve(off: Callable[[np.ndarray], np.ndarray], low: float, high: float) -> float:
    """Return where a loop comes to be too near to others, or ceases to be, between two distances along it."""
    inside = off(np.array([low]))[0] < 0
    for _ in range(30):
        middle = (low + high) / 2
        if (off(np.array([middle]))[0] < 0) == inside:
            low = middle
        else:
            high = middle
    return (low + high) / 2
