"""Why one net cannot be routed even alone: which end is cut off, and what borders what can be reached."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.instance import DX, DY, Instance
from layouts.routing.reasons.flow_graph import measure_steps
from layouts.routing.reasons.naming import spread_labels

Hindrance = Literal["no place", "buried", "walled off", "no bend"]

RIM = "the panel's edge"
"""Label of what lies beyond the grid: never taken away."""

MOST_ENDS_TRIED = 7
"""Terminals of each end up to which the search tries every pair."""


@dataclass(frozen=True, slots=True)
class Unreached:
    """What keeps a net from being routed alone.

    Parameters
    ----------
    net : int
    end : int
        The end that is cut off.
    hindrance : {"no place", "buried", "walled off", "no bend"}
        No terminal is left; all lie in cells that are blocked; nothing free leads on from them to another
        end; or only the bends do not fit.
    reached : (cells,) bool
        Free cells that can be reached from the end.
    border : tuple of int
        Blocked cells beside those; where something alone would open the way, only the cells that it blocks.
    names : tuple of str
        What blocks them, the longest border first.
    beside : tuple of int
        Nets whose fixed ends are in the way too.
    opening : tuple of str
        Of `names` those of which each, taken away alone, would open the way; the rim of the grid aside.
    opening_beside : tuple of int
        The same of `beside`.
    proven : bool
        Whether no search could do better.
    """

    net: int
    end: int
    hindrance: Hindrance
    reached: np.ndarray
    border: tuple[int, ...] = ()
    names: tuple[str, ...] = ()
    beside: tuple[int, ...] = ()
    opening: tuple[str, ...] = ()
    opening_beside: tuple[int, ...] = ()
    proven: bool = True


def find_unreached(instance: Instance, net: int) -> Unreached:
    """Return what keeps a net, which could not be routed alone, from it.

    Parameters
    ----------
    instance : Instance
    net : int

    Returns
    -------
    Unreached
    """
    search = Negotiation(instance)
    channel = instance.nets[net].channel_class
    blocked = search.fixed[net][channel]
    if instance.labels is not None:
        instance = replace(instance, labels=spread_labels(instance, instance.blocked[channel]))
    nowhere = np.zeros(instance.cells, dtype=bool)
    ends = instance.nets[net].ends
    for number, terminals in enumerate(ends):
        if not terminals:
            return Unreached(net, number, "no place", nowhere)
    for number, terminals in enumerate(ends):
        places = np.unique([t.cell for t in terminals])
        if blocked[places].all():
            names, beside = _name_blockers(instance, net, places)
            return Unreached(
                net, number, "buried", nowhere, tuple(int(c) for c in places), names, beside=beside
            )
    free = ~blocked
    cells = [np.array([t.cell for t in end if free[t.cell]], np.int64) for end in ends]
    reached = [_reach(instance, free, at) for at in cells]
    cut_off = [
        number for number, region in enumerate(reached) if not all(region[other].any() for other in cells)
    ]
    if not cut_off:
        # Bends: the search is exact for two ends, as long as no way had to be kept off itself.
        trace = search.route_alone(net)
        few = max(len(end) for end in ends) <= MOST_ENDS_TRIED
        sure = trace is None and len(ends) == 2 and few and not search.tracer.narrowed
        return Unreached(net, 0, "no bend", reached[0], proven=sure)
    end = min(cut_off, key=lambda number: (int(reached[number].sum()), number))
    region = reached[end]
    border = np.flatnonzero(_beside(instance, region) & ~region)
    names, beside = _name_blockers(instance, net, border)

    def opens(freed: np.ndarray) -> bool:
        more = free | freed
        way = _reach(instance, more, cells[end])
        return all(bool(way[other].any()) for other in cells)

    opening = tuple(name for name in names if name != RIM and opens(_labelled(instance, name)))
    ours = ~instance.blocked[channel]
    opening_beside = tuple(other for other in beside if opens(_near_ends(instance, other, channel) & ours))
    parts = [_labelled(instance, name) for name in opening]
    parts += [_near_ends(instance, other, channel) & ours for other in opening_beside]
    if parts:
        border = border[np.logical_or.reduce(parts)[border]]
    shown = tuple(int(c) for c in border)
    return Unreached(net, end, "walled off", region, shown, names, beside, opening, opening_beside)


def _reach(instance: Instance, free: np.ndarray, cells: np.ndarray) -> np.ndarray:
    return np.asarray(measure_steps(instance.columns, instance.rows, free, cells) < free.size)


def _labelled(instance: Instance, name: str) -> np.ndarray:
    """Return the cells that carry a name, (cells,) bool."""
    assert instance.labels is not None
    return np.asarray(instance.labels == instance.label_names.index(name))


def _name_blockers(
    instance: Instance, net: int, cells: np.ndarray
) -> tuple[tuple[str, ...], tuple[int, ...]]:
    """Return the names of what blocks cells, most first, and the nets whose fixed ends do."""
    names: tuple[str, ...] = ()
    if instance.labels is not None:
        labels = instance.labels[cells]
        counts = np.bincount(labels[labels >= 0], minlength=len(instance.label_names))
        names = tuple(instance.label_names[k] for k in np.argsort(-counts, kind="stable") if counts[k])
    channel = instance.nets[net].channel_class
    by_ends = cells[~instance.blocked[channel][cells]]
    beside = tuple(
        other
        for other in range(len(instance.nets))
        if other != net and _near_ends(instance, other, channel)[by_ends].any()
    )
    return names, beside


def _near_ends(instance: Instance, other: int, channel: int) -> np.ndarray:
    """Return the cells that the ends of a net that have no choice keep other channels off, (cells,) bool."""
    columns, rows, layer = instance.columns, instance.rows, instance.columns * instance.rows
    out = np.zeros((instance.layers, rows, columns), dtype=bool)
    for end in instance.nets[other].ends:
        if len({t.node % layer for t in end}) != 1:
            continue
        offsets = instance.offsets[end[0].port_class][channel]
        x = end[0].node % layer % columns + offsets[:, 0]
        y = end[0].node % layer // columns + offsets[:, 1]
        inside = (x >= 0) & (x < columns) & (y >= 0) & (y < rows)
        out[:, y[inside], x[inside]] = True
    return out.reshape(-1)


def _beside(instance: Instance, cells: np.ndarray) -> np.ndarray:
    """Return the cells one step from some cells within their layer, (cells,) bool."""
    at = cells.reshape(instance.layers, instance.rows, instance.columns)
    out = np.zeros_like(at)
    for dx, dy in zip(DX, DY, strict=True):
        shifted = np.roll(at, (dy, dx), axis=(1, 2))
        if dx:
            shifted[:, :, 0 if dx > 0 else -1] = False
        if dy:
            shifted[:, 0 if dy > 0 else -1] = False
        out |= shifted
    return out.reshape(-1)
