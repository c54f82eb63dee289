"""Routing all channels of an instance: several negotiations, the cheapest improved by single channels and by groups."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from layouts.routing.all_channels.improve_groups import improve_groups
from layouts.routing.all_channels.negotiate import CHEAP_ENDS, Negotiation
from layouts.routing.instance import Instance
from layouts.routing.one_channel.trace import Trace
from layouts.routing.one_channel.ways import Way
from layouts.routing.trees.trees import FEW_SEARCHES, SAME

RESTARTS = (
    # first price, growth a round, rounds: the first settles most instances, the rest vary the pressure.
    (0.5, 1.6, 50),
    (0.2, 1.3, 80),
    (1.0, 1.6, 80),
    (0.1, 1.2, 150),
    (0.5, 1.6, 50),
    (2.0, 1.3, 80),
    (0.3, 1.6, 80),
    (0.7, 1.2, 150),
)

STEPS_A_START = 100
"""Steps of the last improvement for which one more routing is begun."""

LATER_STARTS = (4, 2, 1)
"""Of the routings begun the cheapest are improved further, fewer each time, with as many steps together."""

TREE_STARTS, TREE_ROUNDS = 3, 25
"""Routings begun at least, and most rounds of each, where there are trees: their shapes differ with each pair of ends
that they begin with, and what has not settled by then seldom does."""

LARGE = 5000
"""Cells beyond which a step of the last improvement takes so long that fewer are done."""


@dataclass(frozen=True, slots=True)
class Routing:
    """What the search found.

    Parameters
    ----------
    traces : tuple of Trace
        In the order of the instance's nets; empty where nothing was found.
    cost : float
        Sum of the traces' costs; infinite where nothing was found.
    ideal : tuple of float
        Cost of each net alone, with nothing else in the plate: infinite where it cannot be reached. No
        routing costs less than their sum, unless a net is a tree or alone had to be kept off itself.
    bound : float or None
        Proven lower bound; None where the instance holds trees.
    conflicting : tuple of str
        Nets that were still too close when the search gave up, or that cannot be reached alone.
    unreachable : tuple of int
        Nets that cannot be reached even alone.
    rounds : int
        Rounds of negotiation, all restarts together.
    """

    traces: tuple[Trace, ...]
    cost: float
    ideal: tuple[float, ...]
    bound: float | None
    conflicting: tuple[str, ...]
    unreachable: tuple[int, ...]
    rounds: int


def route_instance(
    instance: Instance,
    seed: int = 0,
    steps: int = 30,
    restarts: int = 8,
    beat: float = math.inf,
    searches: int = FEW_SEARCHES,
) -> Routing:
    """Return the best routing found.

    Parameters
    ----------
    instance : Instance
    seed : int
        Same seed, same answer.
    steps : int
        Steps of the last improvement, on a plate of up to LARGE cells; fewer on larger ones, in proportion.
    restarts : int
        Most restarts of the negotiation, up to 8.
    beat : float
        Give up at once where even the ideal costs add up to this much; the routing is then empty, and
        names nothing.
    searches : int
        For each whole tree; 0: trees are only grown end by end.

    Returns
    -------
    Routing
    """
    rng = np.random.default_rng(seed)
    search = Negotiation(instance)
    nets = list(range(len(instance.nets)))
    alone: list[Trace | None] = []
    for net in nets:
        alone.append(search.route_alone(net, searches))
        if sum(trace.cost for trace in alone if trace is not None) >= beat - 1e-9:
            return Routing((), math.inf, (), None, (), (), 0)
    ideal = tuple(trace.cost if trace is not None else math.inf for trace in alone)
    plain = all(len(net.ends) == 2 for net in instance.nets)
    bound = float(sum(search.least)) if plain else None
    unreachable = tuple(n for n in nets if alone[n] is None)
    if unreachable:
        names = tuple(instance.nets[n].name for n in unreachable)
        return Routing((), math.inf, ideal, None, names, unreachable, 0)
    ideals = [trace for trace in alone if trace is not None]
    steps = math.ceil(steps * min(1.0, LARGE / instance.cells))
    starts = max(1 if plain else TREE_STARTS, steps // STEPS_A_START)
    left: list[int] = nets
    begun: list[tuple[float, list[Way | None]]] = []
    for number in range(max(restarts, starts)):
        if number >= (starts if begun else restarts):
            break
        first_price, growth, rounds = RESTARTS[number % len(RESTARTS)]
        rounds = rounds if plain else min(rounds, TREE_ROUNDS)
        left = search.negotiate(nets, first_price, growth, rounds, rng if number else None)
        if not left:
            search.improve_each(nets, searches=0)
            begun.append((search.cost(), search.keep()))
            if bound is not None and search.cost() <= bound + SAME:
                break
    if not begun:
        names = tuple(instance.nets[n].name for n in left)
        return Routing((), math.inf, ideal, bound, names, (), search.rounds)
    rungs = sorted({min(len(begun), most) for most in (starts, *LATER_STARTS)}, reverse=True)
    # Without steps there is nothing to do but to search the cheapest one's trees.
    rungs = rungs if steps else [1] if searches else []
    for most in rungs:
        begun = sorted(begun, key=lambda one: one[0])[:most]
        for n, (_, ways) in enumerate(begun):
            search.restore(ways)
            improve_groups(search, ideals, math.ceil(steps / len(rungs) / most), rng)
            search.improve_each(nets, searches=searches if most == rungs[-1] else 0)
            begun[n] = (search.cost(), search.keep())
    search.restore(min(begun, key=lambda one: one[0])[1])
    return _found(search, ideal, bound)


def improve_routing(
    instance: Instance, routing: Routing, seed: int, steps: int, searches: int = FEW_SEARCHES
) -> Routing:
    """Return a routing after further steps of the last improvement; never dearer.

    Parameters
    ----------
    instance : Instance
    routing : Routing
        Of this instance, with traces.
    seed, steps : int
    searches : int
        For each whole tree.

    Returns
    -------
    Routing
    """
    traces = improve_traces(instance, routing.traces, seed, steps, searches)
    return replace(routing, traces=traces, cost=sum(trace.cost for trace in traces))


def improve_traces(
    instance: Instance, traces: tuple[Trace, ...], seed: int, steps: int, searches: int = FEW_SEARCHES
) -> tuple[Trace, ...]:
    """Return the traces of a routing after the improvement of single nets and of groups; never dearer.

    Parameters
    ----------
    instance : Instance
    traces : tuple of Trace
        One for each net, none too near another.
    seed, steps : int
    searches : int
        For each whole tree.

    Returns
    -------
    tuple of Trace
    """
    search = Negotiation(instance)
    for net, trace in enumerate(traces):
        cheap = len(instance.nets[net].ends) <= CHEAP_ENDS
        alone = search.route_alone(net, min(searches, 1) if cheap else 0)
        if alone is None or trace.cost < alone.cost:
            search.alone[net] = trace
        search.put(net, trace)
    search.improve_each(list(range(len(traces))), searches=0)
    improve_groups(search, [t for t in search.alone if t is not None], steps, np.random.default_rng(seed))
    search.improve_each(list(range(len(traces))), searches=searches)
    return tuple(trace for trace in search.traces if trace is not None)


def _found(search: Negotiation, ideal: tuple[float, ...], bound: float | None) -> Routing:
    traces = tuple(trace for trace in search.traces if trace is not None)
    return Routing(traces, search.cost(), ideal, bound, (), (), search.rounds)
