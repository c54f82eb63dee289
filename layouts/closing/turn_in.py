"""How an open groove comes into another one: an arc, and where it helps a line, that end on the other's middle."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from geom.crossings import cross, distance_to, fraction_of, heading_at
from geom.frame import SAME_MM
from geom.outline import Arc, Line, Point, Segment

LEAST_MEET = math.radians(60.0)
"""Least angle between two grooves where one ends in the other: no thin wedge of body stands between them."""

MOST_TURN = math.radians(150.0)
"""Greatest turn of a groove towards the one that it ends in."""

TURN_STEP = math.radians(15.0)
"""Between the turns that are tried where none makes it meet squarely."""

REACH = 4.0
"""How far off a groove is that another may end in, in radii of its turn."""


@dataclass(frozen=True, slots=True)
class Target:
    """A piece of the middle of a groove that another may end in, and the groove's name."""

    groove: str
    segment: Segment


@dataclass(frozen=True, slots=True)
class Tail:
    """The end of an open groove.

    Parameters
    ----------
    path : tuple of Line or Arc
        From where it leaves its loop, on whose middle it is tangent, to the middle of the other groove, [mm].
    groove : str
        The other groove.
    angle : float
        Between both there, up to half pi, [rad].
    """

    path: tuple[Segment, ...]
    groove: str
    angle: float

    @property
    def end(self) -> Point:
        """Where it ends, [mm]."""
        return self.path[-1].end


def turn_in(at: Point, heading: Point, left: bool, radius: float, targets: tuple[Target, ...]) -> Tail | None:
    """Return how a groove that leaves its loop somewhere comes into another one as squarely as it can.

    Parameters
    ----------
    at, heading : (float, float)
        Where it leaves, [mm], and the unit vector along which it then runs.
    left : bool
        Whether it turns to its left.
    radius : float
        Of its turn, [mm].
    targets : tuple of Target
        Those within reach.

    Returns
    -------
    Tail or None
        None where no way of one arc and one line meets any of them at `LEAST_MEET` or more.
    """
    tails = _list_tails(at, heading, 1.0 if left else -1.0, radius, targets)
    square = [tail for tail in tails if tail.angle >= LEAST_MEET - 1e-9]
    return max(square, key=lambda tail: (round(tail.angle, 6), -_length(tail)), default=None)


def _list_tails(
    at: Point, heading: Point, side: float, radius: float, targets: tuple[Target, ...]
) -> Iterator[Tail]:
    """Yield the arc alone, arcs with lines that meet a piece of a target squarely, and lines after some turns."""
    centre = (at[0] - side * radius * heading[1], at[1] + side * radius * heading[0])
    first = math.atan2(at[1] - centre[1], at[0] - centre[0])
    met = _first_met(Arc(centre, radius, first, side * MOST_TURN), targets)
    free = MOST_TURN
    if met is not None:
        free = met[0] * MOST_TURN
        arc = Arc(centre, radius, first, side * free)
        yield Tail((arc,), met[1].groove, _angle_between(arc, met[1].segment))
    ahead = math.atan2(heading[1], heading[0])
    turns = [k * TURN_STEP for k in range(math.ceil(free / TURN_STEP))]
    for target in targets:
        for wanted in _square_headings(centre, radius, side, target.segment):
            turn = side * (wanted - ahead) % (2 * math.pi)
            if turn < free:
                turns.append(turn)
    for turn in turns:
        bent: tuple[Segment, ...] = ()
        start = at
        if turn * radius > SAME_MM:
            bent = (Arc(centre, radius, first, side * turn),)
            start = bent[0].end
        ux, uy = math.cos(ahead + side * turn), math.sin(ahead + side * turn)
        reach = REACH * radius
        hit = _first_met(Line(start, (start[0] + reach * ux, start[1] + reach * uy)), targets)
        if hit is not None and hit[0] * reach > SAME_MM:
            line = Line(start, (start[0] + hit[0] * reach * ux, start[1] + hit[0] * reach * uy))
            yield Tail((*bent, line), hit[1].groove, _angle_between(line, hit[1].segment))


def _square_headings(centre: Point, radius: float, side: float, s: Segment) -> Iterator[float]:
    """Return the headings of lines tangent to the turn that meet a piece (taken as endless) at a right angle, [rad]."""
    if isinstance(s, Line):
        dx, dy = heading_at(s, 0.0)
        yield math.atan2(dx, -dy)
        yield math.atan2(-dx, dy)
        return
    # A line square to an arc passes its centre; from the turn it leaves along a tangent.
    far = math.dist(centre, s.centre)
    if far > radius:
        towards = math.atan2(s.centre[1] - centre[1], s.centre[0] - centre[0])
        lean = side * math.asin(radius / far)
        yield towards + lean
        yield towards + math.pi - lean


def _first_met(tail: Segment, targets: tuple[Target, ...]) -> tuple[float, Target] | None:
    """Return the fraction of a piece at which it first meets a target, and that; its own start does not count."""
    best: tuple[float, Target] | None = None
    for target in targets:
        for point in cross(tail, target.segment):
            share = fraction_of(tail, point)
            if not SAME_MM / tail.length < share <= 1.0:
                continue
            if distance_to(target.segment, point) < SAME_MM and (best is None or share < best[0]):
                best = (share, target)
    return best


def _angle_between(tail: Segment, other: Segment) -> float:
    end = tail.end
    ux, uy = heading_at(tail, 1.0)
    share = min(max(fraction_of(other, end), 0.0), 1.0)
    vx, vy = heading_at(other, share)
    return math.asin(min(1.0, abs(ux * vy - uy * vx)))


def _length(tail: Tail) -> float:
    return math.fsum(s.length for s in tail.path)
