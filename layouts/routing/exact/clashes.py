"""Where two routed channels stand too near each other, and the rows of the exact model that forbid it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, product

import numpy as np

from layouts.routing.exact.choices import COLUMN, SINK, SOURCE, Choices
from layouts.routing.exact.rows import Rows
from layouts.routing.instance import CHANNEL, Instance
from layouts.routing.one_channel.trace import Trace

Box = tuple[int, int, int, int]
"""Cells x0, y0 to x1, y1, both taken, relative to a cell."""


@dataclass(frozen=True, slots=True)
class _Feature:
    """Cells of one class: the searched way of a channel, or what stands at one of its ends (end 0 or 1)."""

    net: int
    kind: int
    cells: np.ndarray
    end: int = -1


def find_clash_rows(instance: Instance, choices: Choices, traces: tuple[Trace, ...]) -> Rows | None:
    """Return rows that forbid what stands too near in some traces; None where nothing does.

    Parameters
    ----------
    instance : Instance
    choices : Choices
    traces : tuple of Trace
        In the order of the instance's nets, each of two ends.

    Returns
    -------
    Rows or None
        Each row: of two sets of choices, of two nets, one choice at most.
    """
    features = [_list_features(instance, number, trace) for number, trace in enumerate(traces)]
    sides: list[np.ndarray] = []
    # The ports of one channel keep off each other too.
    pairs = [
        (a, b)
        for own in features
        for a, b in combinations(own, 2)
        if a.end != b.end and CHANNEL not in (a.kind, b.kind) and min(a.end, b.end) >= 0
    ]
    pairs += [pair for mine, yours in combinations(features, 2) for pair in product(mine, yours)]
    for a, b in pairs:
        near = instance.offsets[a.kind][b.kind]
        for u, v in _clashes(instance, near, a, b):
            widest = [
                choices.window if _passes(instance, traces[f.net], f, w) else 1 for f, w in ((a, u), (b, v))
            ]
            boxes = _largest_boxes(_as_key(near), v[0] - u[0], v[1] - u[1], widest[0], widest[1])
            sides.append(
                np.union1d(
                    _side(instance, choices, traces, a, u, boxes[0]),
                    _side(instance, choices, traces, b, v, boxes[1]),
                )
            )
    if not sides:
        return None
    once = list({tuple(side.tolist()): side for side in sides}.values())
    return Rows(
        np.repeat(np.arange(len(once)), [len(side) for side in once]),
        np.concatenate(once),
        np.ones(sum(len(side) for side in once)),
        np.full(len(once), -np.inf),
        np.ones(len(once)),
    )


def _list_features(instance: Instance, number: int, trace: Trace) -> list[_Feature]:
    kind = instance.nets[number].channel_class
    tails = [np.array(t.tail, np.int64) for t in trace.chosen]
    out = [_Feature(number, kind, np.setdiff1d(trace.cells, np.concatenate(tails)))]
    for end, t in enumerate(trace.chosen):
        if t.tail:
            out.append(_Feature(number, kind, tails[end], end))
        if t.port_class != CHANNEL:
            out.append(_Feature(number, t.port_class, np.array([t.node, *t.bore], np.int64), end))
    return out


def _clashes(
    instance: Instance, near: np.ndarray, a: _Feature, b: _Feature
) -> list[tuple[tuple[int, int, int], tuple[int, int, int]]]:
    """Return the pairs of places (x, y, layer) of two features that stand too near."""
    places = []
    for feature in (a, b):
        layer, rest = np.divmod(feature.cells, instance.columns * instance.rows)
        places.append(np.stack([rest % instance.columns, rest // instance.columns, layer], axis=1))
    one, two = places
    apart = two[None, :, :] - one[:, None, :]
    reach = int(np.abs(near).max())
    table = np.zeros((2 * reach + 1, 2 * reach + 1), bool)
    table[near[:, 0] + reach, near[:, 1] + reach] = True
    close = (np.abs(apart[:, :, :2]).max(axis=2) <= reach) & (apart[:, :, 2] == 0)
    which = np.argwhere(close)
    hit = table[tuple((apart[which[:, 0], which[:, 1], :2] + reach).T)]
    return [
        ((int(p[0]), int(p[1]), int(p[2])), (int(q[0]), int(q[1]), int(q[2])))
        for p, q in zip(one[which[hit, 0]], two[which[hit, 1]], strict=True)
    ]


def _passes(instance: Instance, trace: Trace, feature: _Feature, place: tuple[int, int, int]) -> bool:
    """Return whether a channel passes a place outside of its ends and arcs."""
    if feature.end >= 0:
        return False
    cell = (place[2] * instance.rows + place[1]) * instance.columns + place[0]
    return instance.bend_cells == 0 or any(state >> 2 == cell for state in trace.trail)


def _as_key(near: np.ndarray) -> frozenset[tuple[int, int]]:
    return frozenset((int(x), int(y)) for x, y in near)


@lru_cache(maxsize=4096)
def _largest_boxes(
    near: frozenset[tuple[int, int]], dx: int, dy: int, side_a: int, side_b: int
) -> tuple[Box, Box]:
    """Return the largest boxes about two places, the second `dx, dy` from the first, all of one near all of the other.

    A box is no wider than its side.
    """
    best: tuple[int, tuple[Box, Box]] = (0, ((0, 0, 0, 0), (0, 0, 0, 0)))
    for one, two in product(_boxes(side_a), _boxes(side_b)):
        # The farthest pairs of two boxes need not be their corners for any shape, so that all are looked at.
        far = all(
            (dx + q - p, dy + s - r) in near
            for p in range(one[0], one[2] + 1)
            for r in range(one[1], one[3] + 1)
            for q in range(two[0], two[2] + 1)
            for s in range(two[1], two[3] + 1)
        )
        size = sum((box[2] - box[0] + 1) * (box[3] - box[1] + 1) for box in (one, two))
        if far and size > best[0]:
            best = (size, (one, two))
    return best[1]


@lru_cache(maxsize=16)
def _boxes(side: int) -> tuple[Box, ...]:
    spans = [(low, high) for low in range(1 - side, 1) for high in range(side) if high - low < side]
    return tuple((x0, y0, x1, y1) for x0, x1 in spans for y0, y1 in spans)


def _side(
    instance: Instance,
    choices: Choices,
    traces: tuple[Trace, ...],
    feature: _Feature,
    place: tuple[int, int, int],
    box: Box,
) -> np.ndarray:
    """Return the choices of a net that put it there: that enter the box, or that end at the terminal.

    A channel enters a box that is no wider than a window once at most, as `prices.py` tells, by what it passes
    outside of its arcs; a single cell also by an arc.
    """
    mine = choices.net == feature.net
    if feature.end >= 0 and instance.nets[feature.net].straight_down:
        number = instance.nets[feature.net].ends[0].index(traces[feature.net].chosen[0])
        return np.flatnonzero(mine & (choices.kind == COLUMN) & (choices.mark == number))
    if feature.end >= 0:
        kind = SOURCE if feature.end == 0 else SINK
        ends = instance.nets[feature.net].ends[feature.end]
        number = ends.index(traces[feature.net].chosen[feature.end])
        return np.flatnonzero(mine & (choices.kind == kind) & (choices.mark == number))
    inside = np.zeros(instance.cells, bool)
    x, y, layer = place
    for column in range(max(x + box[0], 0), min(x + box[2], instance.columns - 1) + 1):
        for row in range(max(y + box[1], 0), min(y + box[3], instance.rows - 1) + 1):
            inside[(layer * instance.rows + row) * instance.columns + column] = True
    counts = inside[choices.entered]
    if box != (0, 0, 0, 0):
        last = choices.state[choices.entering] >> 2
        counts &= (choices.entered == last) | (choices.kind[choices.entering] == COLUMN)
    enters = np.unique(choices.entering[counts])
    begun = choices.left[enters]
    return enters[mine[enters] & ((begun < 0) | ~inside[begun])]
