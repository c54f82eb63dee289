"""The channels of the last layout that still hold on a changed terrain, put back where they ran."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from layouts.laid_out import LaidOut
from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.instance import CHANNEL, Net, Terminal
from layouts.routing.one_channel.trace import Trace
from layouts.routing.one_channel.ways import way_of
from layouts.routing.trees.tree_costs import tree_cost
from layouts.terrain import Terrain


def put_back(search: Negotiation, terrain: Terrain, before: LaidOut) -> list[int]:
    """Put the last layout's channels back into a search where they still hold; return the nets that are left.

    A channel holds where its ends may still stand where they stood, no cell of it is blocked, and it keeps off all
    that were put back before it. What it costs is worked out anew.

    Parameters
    ----------
    search : Negotiation
        Of the terrain's instance, with nothing in it yet.
    terrain : Terrain
    before : LaidOut

    Returns
    -------
    list of int
    """
    instance = terrain.instance
    known = dict(zip(before.names, before.traces, strict=True)) if before.grid == terrain.grid else {}
    left = []
    for number, net in enumerate(instance.nets):
        trace = known.get(net.name)
        here = None if trace is None else _lay_again(search, number, net, trace)
        if here is not None:
            way = way_of(net, here)
            if not search.taken[way.of_class, way.cells].any():
                search.put(number, way)
                continue
        left.append(number)
    return left


def _lay_again(search: Negotiation, number: int, net: Net, trace: Trace) -> Trace | None:
    """Return a channel as it ran with its present ends and cost; None where it cannot stand there any more."""
    instance = search.instance
    chosen = _find_ends(net, trace)
    if chosen is None or int(trace.cells[-1]) >= instance.cells:
        return None
    fixed, near = search.fixed[number], search.near_others[number]
    tails = np.array([cell for t in chosen for cell in t.tail], np.int64)
    # Tails lie in what their own tank or bore blocks; only what other channels block is held against them.
    if fixed[net.channel_class, np.setdiff1d(trace.cells, tails)].any() or near[tails].any():
        return None
    for t in chosen:
        if t.port_class != CHANNEL and fixed[t.port_class, [t.node, *t.bore]].any():
            return None
    if trace.trail:
        return search.tracer.read_trail(net, trace.trail, chosen[0], chosen[1])
    again = replace(trace, chosen=chosen)
    return replace(again, cost=tree_cost(instance, net, again))


def _find_ends(net: Net, trace: Trace) -> tuple[Terminal, ...] | None:
    """Return the terminals of a net at which a channel ended before; None where one of them is gone."""
    if len(net.ends) != len(trace.chosen):
        return None
    found = []
    for end, old in zip(net.ends, trace.chosen, strict=True):
        same = (old.cell, old.node, old.leaves, old.tail, old.bore)
        now = next((t for t in end if (t.cell, t.node, t.leaves, t.tail, t.bore) == same), None)
        if now is None:
            return None
        found.append(now)
    return tuple(found)
