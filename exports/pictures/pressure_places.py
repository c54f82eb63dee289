"""Where the pieces of the loop stand on the pressure picture: parallel branches over one span, in lanes; their band.

*Way*: the horizontal place, in units of the widths given, from the tank (0) to the tank. The longest way through
the loop has its own widths; a shorter branch beside it is stretched to the span between its ends.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass

from layouts.plan import LoopStep

TANK = "tank"
_OUT, _BACK = "tank, going out", "tank, coming back"


@dataclass(frozen=True, slots=True)
class StepPlace:
    """Way at which a step begins and ends, and its lane: 0 for the topmost."""

    start: float
    end: float
    lane: int


def place_steps(steps: tuple[LoopStep, ...], widths: tuple[float, ...]) -> tuple[StepPlace, ...]:
    """Return the place of each step.

    Parameters
    ----------
    steps : tuple of LoopStep
        In flow order from the tank.
    widths : tuple of float
        Least width of each, greater than 0.

    Returns
    -------
    tuple of StepPlace
        In the order of `steps`; steps of one lane never overlap.
    """
    ends = [
        (_OUT if step.start == TANK else step.start, _BACK if step.end == TANK else step.end)
        for step in steps
    ]
    ways = {_OUT: 0.0}
    _stretch_between(ends, widths, ways)
    spans = [(ways[a], ways[b]) for a, b in ends]
    return tuple(
        StepPlace(a, b, lane) for (a, b), lane in zip(spans, _assign_lanes(ends, spans), strict=True)
    )


def find_half_bands(steps: tuple[LoopStep, ...]) -> dict[str, float]:
    """Return how far the pressure at each node may lie off, [Pa].

    The errors of all drops between a node and the tank add up to one side; the nearer end of the loop counts,
    on the node's own side of the pump. In the tank the pressure is exact.
    """
    forward, backward = {TANK: 0.0}, {TANK: 0.0}
    for step in steps:
        if step.kind != "pump" and step.start in forward and step.end != TANK:
            off = forward[step.start] + _spread(step)
            forward[step.end] = max(off, forward.get(step.end, 0.0))
    for step in reversed(steps):
        if step.kind != "pump" and step.end in backward and step.start != TANK:
            off = backward[step.end] + _spread(step)
            backward[step.start] = max(off, backward.get(step.start, 0.0))
    nodes = dict.fromkeys(node for step in steps for node in (step.start, step.end))
    nearer = {node: min(forward.get(node, math.inf), backward.get(node, math.inf)) for node in nodes}
    return {node: off if math.isfinite(off) else 0.0 for node, off in nearer.items()}


def outline_bands(
    steps: tuple[LoopStep, ...], places: tuple[StepPlace, ...], halves: dict[str, float]
) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Return the outlines of the area in which the pressures may lie, without gaps between parallel pieces.

    Parameters
    ----------
    steps : tuple of LoopStep
    places : tuple of StepPlace
        In the order of `steps`.
    halves : dict of str to float
        As `find_half_bands` gives them, [Pa].

    Returns
    -------
    tuple of tuple of (float, float)
        Way and pressure [Pa] of the corners of each outline; one for every stretch between pumps and tank.
    """
    pieces = [
        (step, place)
        for step, place in zip(steps, places, strict=True)
        if step.kind != "pump" and place.start < place.end
    ]
    lows, highs = (
        [
            _Edge(
                (place.start, step.start_pa + side * halves[step.start]),
                (place.end, step.end_pa + side * halves[step.end]),
            )
            for step, place in pieces
        ]
        for side in (-1.0, 1.0)
    )
    ways = sorted({way for _, place in pieces for way in (place.start, place.end)})
    stretches: list[tuple[list[tuple[float, float]], list[tuple[float, float]]]] = []
    reached = -math.inf
    for a, b in itertools.pairwise(ways):
        there = [k for k, (_, place) in enumerate(pieces) if place.start <= a and b <= place.end]
        if not there:
            continue
        if a > reached:
            stretches.append(([], []))
        under, over = stretches[-1]
        under += [(way, -pressure) for way, pressure in _trace_top([lows[k].flip() for k in there], a, b)]
        over += _trace_top([highs[k] for k in there], a, b)
        reached = b
    return tuple((*over, *reversed(under)) for under, over in stretches)


@dataclass(frozen=True, slots=True)
class _Edge:
    """A straight edge of a piece's band, from one (way, pressure [Pa]) to another farther along."""

    start: tuple[float, float]
    end: tuple[float, float]

    def at(self, way: float) -> float:
        (a, low), (b, high) = self.start, self.end
        return low + (high - low) * (way - a) / (b - a)

    def flip(self) -> _Edge:
        return _Edge((self.start[0], -self.start[1]), (self.end[0], -self.end[1]))


def _trace_top(edges: list[_Edge], a: float, b: float) -> list[tuple[float, float]]:
    """Return the corners of the highest of edges that all run from way `a` to way `b`."""
    ways = {a, b, *_find_crossings(edges, a, b)}
    return [(way, max(edge.at(way) for edge in edges)) for way in sorted(ways)]


def _find_crossings(edges: list[_Edge], a: float, b: float) -> Iterable[float]:
    for one, other in itertools.combinations(edges, 2):
        before, behind = one.at(a) - other.at(a), one.at(b) - other.at(b)
        if before * behind < 0.0:
            yield a + (b - a) * before / (before - behind)


def _spread(step: LoopStep) -> float:
    return step.band * abs(step.start_pa - step.end_pa)


def _stretch_between(ends: list[tuple[str, str]], widths: tuple[float, ...], ways: dict[str, float]) -> None:
    """Fill in the way of every node: the longest chain first, then always the branch with the least slack."""
    nodes = {node for pair in ends for node in pair}
    first = _longest_chains(ends, widths, _OUT, {_OUT})
    farthest = max(first, key=lambda node: (node == _BACK, first[node][0]))
    _place_chain(first[farthest][1], ends, widths, ways, 1.0)
    while nodes - ways.keys():
        best: tuple[float, list[int]] | None = None
        for start in ways:
            for node, (length, chain) in _longest_chains(ends, widths, start, set(ways)).items():
                if node not in ways:
                    continue
                scale = (ways[node] - ways[start]) / length
                if best is None or scale < best[0]:
                    best = (scale, chain)
        if best is None:
            # A node that no flow leads on from, or to: it stands where the loop begins.
            ways.update(dict.fromkeys(nodes - ways.keys(), 0.0))
            return
        _place_chain(best[1], ends, widths, ways, best[0])


def _longest_chains(
    ends: list[tuple[str, str]], widths: tuple[float, ...], start: str, stops: set[str]
) -> dict[str, tuple[float, list[int]]]:
    """Return the longest chain of steps from a node to every other that it reaches without passing a stop.

    Steps from one stop straight to another are left out.
    """
    reached: dict[str, tuple[float, list[int]]] = {start: (0.0, [])}
    for k, (a, b) in enumerate(ends):
        if a in reached and (a == start or a not in stops) and not {a, b} <= stops:
            length, chain = reached[a]
            if b != start and length + widths[k] > reached.get(b, (0.0, []))[0]:
                reached[b] = (length + widths[k], [*chain, k])
    del reached[start]
    return reached


def _place_chain(
    chain: list[int],
    ends: list[tuple[str, str]],
    widths: tuple[float, ...],
    ways: dict[str, float],
    scale: float,
) -> None:
    way = ways[ends[chain[0]][0]]
    for k in chain:
        way += scale * widths[k]
        ways.setdefault(ends[k][1], way)


def _assign_lanes(ends: list[tuple[str, str]], spans: list[tuple[float, float]]) -> list[int]:
    """Return the lane of each step: that of the piece it follows where free, else the topmost free one."""
    lanes = [0] * len(spans)
    taken: list[list[tuple[float, float]]] = []
    for k in sorted(range(len(spans)), key=lambda k: (spans[k][0], k)):
        low, high = min(spans[k]), max(spans[k])
        free = [
            lane
            for lane, spots in enumerate(taken)
            if all(high <= a + 1e-9 or low >= b - 1e-9 for a, b in spots)
        ]
        before = [lanes[j] for j, (_, b) in enumerate(ends) if b == ends[k][0] and lanes[j] in free]
        lane = min(before) if before else free[0] if free else len(taken)
        if lane == len(taken):
            taken.append([])
        taken[lane].append((low, high))
        lanes[k] = lane
    return lanes
