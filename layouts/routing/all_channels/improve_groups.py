"""A routing made cheaper by groups: a channel is taken out with those in its way, and all are routed anew.

Source
------
Ropke and Pisinger, "An Adaptive Large Neighborhood Search Heuristic", Transportation Science 40 (2006).
"""

from __future__ import annotations

import numpy as np

from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.one_channel.search import INFINITE
from layouts.routing.one_channel.trace import Trace
from layouts.routing.trees.trees import SAME

NOISE = 0.3
"""Most that a cell costs at random where a group is routed in turn, in steps."""

MOST_OTHERS = 3
"""Nets that are taken out together with the one that is to become cheaper."""

BIDDING, GROUP_ROUNDS = 0.2, 10
"""Share of groups that bid for cells instead of being routed in turn, and their rounds."""


def improve_groups(search: Negotiation, ideal: list[Trace], steps: int, rng: np.random.Generator) -> None:
    """Take out a net and some that block its ideal path, route them anew, keep what is not dearer.

    Parameters
    ----------
    search : Negotiation
        With a place for every net.
    ideal : list of Trace
        Each net alone.
    steps : int
    rng : Generator
    """
    count = len(ideal)
    if count < 2:
        return
    alone = np.array([trace.cost for trace in ideal])
    steps_long = np.array([search.instance.rates_of(net).step for net in search.instance.nets])
    near_ideal = [search.near_trace(net, trace) for net, trace in enumerate(ideal)]
    best = search.cost()
    for _ in range(steps):
        if best <= alone.sum() + 1e-6:
            return
        standing = [way for way in search.ways if way is not None]
        slack = np.array([way.cost for way in standing]) - alone
        seed_net = _choose(np.maximum(slack, 0.0) / steps_long + 0.1, rng)
        weights = np.array([3.3 if near_ideal[seed_net][way.channel].any() else 0.3 for way in standing])
        weights[seed_net] = 0.0
        group = [seed_net]
        for _ in range(min(int(rng.integers(1, MOST_OTHERS + 1)), count - 1)):
            group.append(_choose(weights, rng))
            weights[group[-1]] = 0.0
        before = search.keep()
        if rng.random() < BIDDING:
            first_price = (0.3, 0.6, 1.2)[int(rng.integers(3))]
            done = not search.negotiate(group, first_price, 1.6, GROUP_ROUNDS, rng, hard=True)
        else:
            done = _route_in_turn(search, group, best, rng)
        if done:
            # A whole tree takes as long as a hundred ways: trees are searched when the groups are done.
            search.improve_each(group, best, 0)
        if done and search.cost() <= best + SAME:
            best = search.cost()
        else:
            search.restore(before)


def _route_in_turn(search: Negotiation, group: list[int], best: float, rng: np.random.Generator) -> bool:
    """Route a group one after the other in a random order, each round those before it.

    Given up as soon as the routing would cost more than `best`, were the rest as cheap as alone.
    """
    for net in group:
        search.put(net, None)
    waiting = [int(n) for n in rng.permutation(group)]
    while waiting:
        net = waiting.pop(0)
        rest = sum(alone.cost for n in waiting if (alone := search.alone[n]) is not None)
        # A tree alone is its own search's result and bounds nothing.
        sure = all(len(search.instance.nets[n].ends) == 2 for n in waiting)
        most = best - search.cost() - rest + 1e-6 if sure else INFINITE
        noise = None
        if rng.integers(3) == 0:
            noise = (
                rng.random(search.instance.cells)
                * NOISE
                * search.instance.rates_of(search.instance.nets[net]).step
            )
            most *= 1.0 + NOISE
        found = search.reroute(net, most, noise)
        if found is None:
            return False
        search.put(net, found)
    return True


def _choose(weights: np.ndarray, rng: np.random.Generator) -> int:
    """Return an index drawn by weight."""
    sums = np.cumsum(weights)
    return min(int(np.searchsorted(sums, rng.random() * sums[-1], side="right")), len(weights) - 1)
