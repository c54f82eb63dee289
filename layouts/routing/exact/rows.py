"""The rows of the exact model: linear rules over the choices of all channels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layouts.routing.bound.topology import CrossingRow
from layouts.routing.exact.choices import BEND, COLUMN, MOVE, SINK, SOURCE, Choices
from layouts.routing.instance import Instance


@dataclass(frozen=True, slots=True)
class Rows:
    """Linear rows: least <= sum of value * choice <= most.

    Parameters
    ----------
    row, choice : (k,) int
    value : (k,) float
    least, most : (rows,) float
    """

    row: np.ndarray
    choice: np.ndarray
    value: np.ndarray
    least: np.ndarray
    most: np.ndarray


def list_rows(instance: Instance, choices: Choices, pairs: tuple[CrossingRow, ...]) -> Rows:
    """Return the rows that every answer must keep: one way for each net, whole, in its order past the others.

    Parameters
    ----------
    instance : Instance
    choices : Choices
    pairs : tuple of CrossingRow

    Returns
    -------
    Rows
    """
    nets = len(instance.nets)
    everything = np.arange(len(choices.net))
    leaving, reaching = choices.tail >= 0, choices.head >= 0
    begins = (choices.kind == SOURCE) | (choices.kind == COLUMN)
    ends = (choices.kind == SINK) | (choices.kind == COLUMN)
    row = [
        choices.tail[leaving],
        choices.head[reaching],
        choices.nodes + choices.net[begins],
        choices.nodes + nets + choices.net[ends],
    ]
    chosen = [everything[leaving], everything[reaching], everything[begins], everything[ends]]
    value = [np.full(len(part), sign) for part, sign in zip(chosen, (-1.0, 1.0, 1.0, 1.0), strict=True)]
    bounds = [np.zeros(choices.nodes), np.ones(2 * nets)]
    base = choices.nodes + 2 * nets
    for pair in pairs:
        crossings = _count_crossings(instance, choices, pair)
        own = np.flatnonzero(crossings)
        row.append(np.full(len(own), base))
        chosen.append(own)
        value.append(crossings[own])
        bounds.append(np.array([float(pair.kappa)]))
        base += 1
    sides = np.concatenate(bounds)
    return Rows(np.concatenate(row), np.concatenate(chosen), np.concatenate(value), sides, sides)


def _count_crossings(instance: Instance, choices: Choices, pair: CrossingRow) -> np.ndarray:
    """Return what each choice adds to the left side of a pair's rule, (n,) float."""
    out = np.zeros(len(choices.net))
    sides = (
        (pair.i, 1.0, pair.moves_i, pair.arcs_i, pair.starts_i, pair.goals_i),
        (pair.j, -1.0, pair.moves_j, pair.arcs_j, pair.starts_j, pair.goals_j),
    )
    for net, sign, moves, arcs, starts, goals in sides:
        mine = choices.net == net
        for kind, counts, at in (
            (MOVE, moves, choices.state),
            (BEND, arcs, choices.mark),
            (SOURCE, starts, choices.mark),
            (SINK, goals, choices.mark),
        ):
            these = mine & (choices.kind == kind)
            out[these] = sign * counts[at[these]]
        for column in np.flatnonzero(mine & (choices.kind == COLUMN)):
            top = int(choices.mark[column])
            first, last = instance.nets[net].ends[0][top].cell, int(choices.state[column]) >> 2
            bottom = next(n for n, t in enumerate(instance.nets[net].ends[1]) if t.cell == last)
            steps = np.arange(first - instance.columns, last - 1, -instance.columns) * 4 + 3
            out[column] = sign * (int(starts[top]) + int(goals[bottom]) + int(moves[steps].sum()))
    return out


def list_window_rows(choices: Choices, windows: np.ndarray) -> Rows:
    """Return one row for each of some windows: all channels together enter it once at most.

    Parameters
    ----------
    choices : Choices
    windows : (k,) int
        Sorted, each once.

    Returns
    -------
    Rows
    """
    place = np.searchsorted(windows, choices.windows)
    place[place == len(windows)] = 0
    mine = windows[place] == choices.windows if len(windows) else np.zeros(len(place), bool)
    ones = np.ones(int(mine.sum()))
    return Rows(
        place[mine],
        choices.reaching[mine],
        ones,
        np.full(len(windows), -np.inf),
        np.ones(len(windows)),
    )
