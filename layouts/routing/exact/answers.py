"""From an answer of the exact model back to channels."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from layouts.routing.exact.choices import BEND, LANDING, MOVE, SINK, SOURCE, Choices
from layouts.routing.instance import Instance
from layouts.routing.one_channel.runs import find_return
from layouts.routing.one_channel.trace import Trace, Tracer

CHOSEN = 0.5
"""A binary of at least this much is chosen."""


def read_traces(
    instance: Instance, fixed: list[np.ndarray], choices: Choices, values: np.ndarray
) -> tuple[Trace, ...]:
    """Return the channels of an answer; empty where one of them does not keep off itself.

    Parameters
    ----------
    instance : Instance
    fixed : list of (classes, cells) bool
    choices : Choices
    values : (n,) float
        Of the choices.

    Returns
    -------
    tuple of Trace
    """
    tracer = Tracer(instance)
    chosen = np.flatnonzero(values > CHOSEN)
    traces = []
    for number, net in enumerate(instance.nets):
        own = chosen[choices.net[chosen] == number]
        if net.straight_down:
            walls = np.ones_like(fixed[number])
            taken = choices.entered[np.isin(choices.entering, own)]
            walls[:, taken] = fixed[number][:, taken]
            trace = tracer.trace(net, walls, np.zeros(instance.cells))
        else:
            trail, start, goal = _follow(instance, choices, own)
            trace = tracer.read_trail(net, tuple(trail), net.ends[0][start], net.ends[1][goal])
        if trace is None or find_return(instance, *trace.runs, channel_class=net.channel_class):
            return ()
        traces.append(trace)
    return tuple(traces)


def _follow(instance: Instance, choices: Choices, own: np.ndarray) -> tuple[list[int], int, int]:
    """Return the states that a net passes in an answer, and its terminals' numbers; idle loops are left out."""
    leaving = {int(choices.tail[c]): int(c) for c in own if choices.tail[c] >= 0}
    at = int(own[np.flatnonzero(choices.kind[own] == SOURCE)[0]])
    start = int(choices.mark[at])
    states = [int(choices.state[at])]
    while choices.kind[at] != SINK:
        at = leaving[int(choices.head[at])]
        if choices.kind[at] in (MOVE, BEND, LANDING):
            states.append(int(choices.state[at]))
    goal = int(choices.mark[at])
    return (_direct(instance, states) if choices.by_axis else states), start, goal


def _direct(instance: Instance, states: list[int]) -> list[int]:
    """Return the states of a way given by its cells: nodes by axis do not tell the direction of a bend."""
    layer = instance.columns * instance.rows
    steps = {1: 0, instance.columns: 1, -1: 2, -instance.columns: 3}
    cells = [s >> 2 for n, s in enumerate(states) if n == 0 or s >> 2 != states[n - 1] >> 2]
    turns = [-1 if instance.layers == 2 and abs(b - a) == layer else steps[b - a] for a, b in pairwise(cells)]
    direction = next((turn for turn in turns if turn >= 0), states[0] & 3)
    out = [cells[0] * 4 + direction]
    for n, (cell, turn) in enumerate(zip(cells[1:], turns, strict=True)):
        if turn < 0:
            direction = next((later for later in turns[n + 1 :] if later >= 0), direction)
        elif turn != direction:
            direction = turn
            out.append(cells[n] * 4 + direction)
        out.append(cell * 4 + direction)
    return out
