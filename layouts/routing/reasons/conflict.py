"""The smallest set of nets found that is proven not to fit together."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.bound.prove import is_impossible
from layouts.routing.effort import Effort
from layouts.routing.instance import Instance
from layouts.routing.reasons.cases import Cases

TRIAL_ROUNDS = 12
"""Rounds of bidding after which a set that did not settle is handed to the proof."""

LEAST_PAIRS, LEAST_STATES = 8, 300_000
"""Least limits of a proof, whatever the effort: a set of few nets is soon looked through."""

MOST_TRIPLES = 20
"""Sets of three that are looked at, the likeliest first."""


def find_conflict(instance: Instance, likely: tuple[str, ...], effort: Effort) -> tuple[int, ...]:
    """Return nets that are proven not to fit together, as few as could be found; empty where nothing is proven.

    Pairs are tried first, those of the likely nets before the others, then the likeliest triples. Where only
    more together are proven, every net without which the proof still holds is left out.

    Parameters
    ----------
    instance : Instance
        Each of its nets can be routed alone.
    likely : tuple of str
        Names of the nets that stood in each other's way when the search gave up.
    effort : Effort

    Returns
    -------
    tuple of int
        In the instance's order.
    """
    effort = replace(
        effort,
        most_pairs=max(effort.most_pairs, LEAST_PAIRS),
        most_states=max(effort.most_states, LEAST_STATES),
    )
    every = tuple(range(len(instance.nets)))
    first = [net for net in every if instance.nets[net].name in likely]
    order = first + [net for net in every if net not in first]
    search = Negotiation(instance)
    for net in every:
        # The bidding falls back on a net's own way.
        search.route_alone(net)

    cases = Cases(instance, effort)

    def impossible(nets: tuple[int, ...]) -> bool:
        # What can be routed needs no proof: most sets can, and soon.
        settled = not search.negotiate(list(nets), 0.5, 1.6, TRIAL_ROUNDS, None)
        for net in nets:
            search.put(net, None)
        nets = tuple(sorted(nets))
        return not settled and (is_impossible(instance, nets, effort) or cases.rule_out(nets))

    pairs = sorted(combinations(order, 2), key=lambda pair: sum(net not in first for net in pair))
    for pair in pairs:
        if impossible(pair):
            return tuple(sorted(pair))
    if len(every) < 3:
        return ()
    triples = [triple for triple in combinations(order, 3) if sum(net in first for net in triple) > 1]
    triples.sort(key=lambda triple: sum(net not in first for net in triple))
    for triple in triples[:MOST_TRIPLES]:
        if impossible(triple):
            return tuple(sorted(triple))
    if not is_impossible(instance, every, effort):
        return ()
    left = every
    # The likely ones are left out last.
    for net in reversed(order):
        fewer = tuple(other for other in left if other != net)
        if len(fewer) > 1 and is_impossible(instance, fewer, effort):
            left = fewer
    return left
