"""A lower bound for every routing, and better routings on the way to it.

What counts as a routing: each net is one way (or tree) that keeps off itself, so that it enters each window of
`prices.py` at most once; nets keep their distances from each other. The bound is that of Lagrange: windows have
prices, each net takes its cheapest way with the prices of the windows that it enters, and what all windows are
worth is taken off. On one layer the ways must also agree on their courses past each other (`topology.py`), which
prices alone do not see. The prices are raised where ways crowd, lowered where none goes.

Source
------
Held and Karp, "The traveling-salesman problem and minimum spanning trees: Part II", Mathematical Programming 1
(1971) (prices by subgradient); Polyak, "Minimization of unsmooth functionals", USSR Computational Mathematics and
Mathematical Physics 9 (1969) (length of a step).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.all_channels.route_instance import route_instance
from layouts.routing.bound.bounding import Bounding, Relaxed
from layouts.routing.bound.granularity import find_granularity
from layouts.routing.bound.guided import ATTEMPTS, route_guided
from layouts.routing.bound.prices import GRAIN
from layouts.routing.bound.topology import CrossingRow, find_violated
from layouts.routing.effort import Effort
from layouts.routing.exact.solve_exact import solve_exact
from layouts.routing.instance import Instance
from layouts.routing.one_channel.trace import Trace

SAME = 1e-6
"""Costs that differ by less are the same."""

PATIENCE = 6
"""Rounds without a better bound after which the steps are shortened."""

SHORTEN = 0.6

LEAST_STEP = 0.02

SHRINK_ROUNDS = 5
"""Rounds after which what cannot be on a cheaper routing is taken out again."""


HARD_STATES = 100_000
"""States of one round after which that is done at once."""

AGAIN_ROUNDS = 4
"""Rounds after which courses that were tried already are tried in another way."""

FIRST_ROUNDS = 5
"""Rounds in which the routing given, where there is one, may prove to be the cheapest without any further search."""

SEARCHES = 14
"""Times `Effort.most_states` that all searches together may open."""

GUIDED = 6
"""The same of routing along proposed courses."""


@dataclass(frozen=True, slots=True)
class Proof:
    """What is proven about an instance.

    Parameters
    ----------
    bound : float or None
        No routing costs less, [units]; infinite where none exists; None where nothing is proven.
    traces : tuple of Trace
        The cheapest routing known, those found on the way included; empty where none is known.
    cost : float
        Of `traces`; infinite where there are none.
    rounds : int
        Rounds of prices.
    pairs : int
        Pairs of channels told apart by their course past each other.
    exact : bool
        Whether the exact model had the last word.
    """

    bound: float | None
    traces: tuple[Trace, ...]
    cost: float
    rounds: int = 0
    pairs: int = 0
    exact: bool = False


def prove_bound(
    instance: Instance,
    traces: tuple[Trace, ...],
    effort: Effort,
    seed: int = 0,
    beat: float = math.inf,
    search_more: bool = False,
) -> Proof:
    """Return a lower bound for an instance, with the cheapest routing found on the way.

    Parameters
    ----------
    instance : Instance
    traces : tuple of Trace
        A routing of it, empty where none is known.
    effort : Effort
    seed : int
    beat : float
        Stop once the bound reaches this much: no routing of this instance is wanted then.
    search_more : bool
        Whether the plain search goes on with the steps of the effort, unless a few rounds settle the matter.

    Returns
    -------
    Proof
    """
    search = Negotiation(instance)
    bounding = Bounding(instance, search, effort.most_pairs, effort.most_states)
    proving = _Proving(instance, search, bounding, effort, seed, beat)
    proving.search_more = search_more
    if traces:
        proving.take(traces)
    proving.raise_prices()
    if not proving.settled:
        proving.search_further()
    proving.finish_exactly()
    return Proof(
        proving.bound,
        proving.traces,
        proving.cost,
        proving.rounds,
        len(bounding.pairs),
        proving.exact,
    )


def is_impossible(instance: Instance, nets: tuple[int, ...], effort: Effort) -> bool:
    """Return whether some nets of an instance are proven not to fit together, all others left out.

    Parameters
    ----------
    instance : Instance
    nets : tuple of int
    effort : Effort

    Returns
    -------
    bool
        False where they fit, and where nothing could be proven.
    """
    part = replace(instance, nets=tuple(instance.nets[n] for n in nets))
    bounding = Bounding(part, Negotiation(part), effort.most_pairs, effort.most_states)
    return bounding.relax(np.zeros(instance.cells), math.inf).value == math.inf


class _Proving:
    """The state of one proof."""

    def __init__(
        self,
        instance: Instance,
        search: Negotiation,
        bounding: Bounding,
        effort: Effort,
        seed: int,
        beat: float,
    ) -> None:
        self.instance, self.search, self.bounding, self.effort = instance, search, bounding, effort
        self.seed, self.beat = seed, beat
        self.granularity = find_granularity(instance)
        self.traces: tuple[Trace, ...] = ()
        self.cost = math.inf
        self.best = -math.inf
        self.rounds = 0
        self.exact = False
        self.tried: dict[tuple[int, ...], int] = {}
        self.attempts = self.guided_states = 0
        self.routed_alone = self.search_more = False

    @property
    def cap(self) -> float:
        """Most that a routing may cost to be still wanted."""
        cheaper = self.cost - (self.granularity or SAME) + SAME
        return min(cheaper, self.beat - SAME)

    @property
    def bound(self) -> float:
        """What is proven: no routing costs less."""
        rounded = self.best
        if self.granularity and math.isfinite(rounded):
            rounded = math.ceil((rounded - SAME) / self.granularity) * self.granularity
        return min(max(rounded, 0.0), self.cost)

    @property
    def settled(self) -> bool:
        """Whether no routing is left that is wanted."""
        return self.best > self.cap or self.best == math.inf

    def take(self, traces: tuple[Trace, ...]) -> bool:
        """Take a routing where it is cheaper than the one known; return whether it is."""
        topology = self.bounding.topology
        if topology is not None:
            wrong = find_violated(self.instance, topology, traces)
            if wrong:
                self.bounding.distrust(wrong)
                self.best = -math.inf
        cost = float(sum(trace.cost for trace in traces))
        if cost >= self.cost - SAME:
            return False
        self.traces, self.cost = traces, cost
        return True

    def raise_prices(self) -> None:
        """Look for the prices that prove most, and route along the courses that they propose."""
        price = np.zeros(self.instance.cells)
        best_price, step, waited = price, 1.0, 0
        for number in range(max(self.effort.bound_rounds, 1)):
            self.rounds = number + 1
            before = self.bounding.opened
            found = self.bounding.relax(price, self.cap)
            hard = self.bounding.opened - before > HARD_STATES
            if found.value > self.best + SAME:
                waited = 0 if found.value > self.best * (1 + 1e-4) else waited + 1
                self.best, best_price = found.value, price
            else:
                waited += 1
            if self.settled or not self.effort.bound_rounds:
                return
            slope = np.where(self.bounding.windows.inside, found.used - 1.0, 0.0)
            slope[(price <= 0) & (slope < 0)] = 0.0
            length = float((slope**2).sum())
            first = bool(self.traces) and self.rounds <= FIRST_ROUNDS and not hard and length >= SAME
            if not first and (self.search_further() or self._route(found)):
                if self.settled:
                    return
                self.bounding.shrink(self.cap)
            elif (hard or self.rounds % SHRINK_ROUNDS == 0) and self.cap < math.inf:
                self.bounding.shrink(self.cap)
            if self.bounding.opened > SEARCHES * self.effort.most_states:
                return
            if length < SAME or step < LEAST_STEP:
                return
            if waited >= PATIENCE:
                step, waited, price = step * SHORTEN, 0, best_price
            aim = min(self.cost, self.beat, 1.15 * self.best + 5 * self.bounding.step)
            go = step * max(aim - found.value, SAME) / length
            price = np.round(np.maximum(0.0, price + go * slope) / GRAIN) * GRAIN

    def search_further(self) -> bool:
        """Search on without any course, if that is still to be done; return whether that gave a cheaper routing."""
        if not self.search_more:
            return False
        self.search_more = False
        effort = self.effort
        found = route_instance(self.instance, self.seed, effort.group_steps, effort.restarts, self.beat)
        return bool(found.traces) and self.take(found.traces)

    def _route(self, found: Relaxed) -> bool:
        """Route along proposed courses not tried yet; return whether that gave a cheaper routing."""
        if found.words is None or self.bounding.trees:
            return False
        if self.attempts >= self.effort.guided or self.guided_states > GUIDED * self.effort.most_states:
            return False
        key = tuple(w & m for w, m in zip(found.words, self.bounding.masks, strict=True)) + tuple(
            self.bounding.masks
        )
        before = self.tried.get(key, 0)
        if before and (before >= len(ATTEMPTS) or self.rounds % AGAIN_ROUNDS):
            return False
        self.tried[key] = before + 1
        self.attempts += 1
        if not self.routed_alone:
            self.routed_alone = True
            for net in range(len(self.instance.nets)):
                self.search.route_alone(net)
        traces, opened = route_guided(
            self.search, self.bounding.whole, self.bounding.masks, found.words, before, self.seed
        )
        self.guided_states += opened
        if traces and self.take(traces):
            return True
        known = self.traces or (None,) * len(self.instance.nets)
        for net, trace in enumerate(known):
            self.search.put(net, trace)
        return False

    def finish_exactly(self) -> None:
        """Give what is left to the exact model, where it is small enough."""
        if self.settled or self.effort.exact_arcs == 0 or self.bounding.trees:
            return
        topology = self.bounding.topology
        rows: tuple[CrossingRow, ...] = ()
        if topology is not None and self.instance.layers == 1:
            count = len(self.instance.nets)
            rows = tuple(topology.row(i, j) for j in range(count) for i in range(j) if topology.holds[i, j])
        result = solve_exact(
            self.instance, self.search.fixed, self.bounding.states_left(), rows, self.cost, self.effort
        )
        if result.traces:
            self.take(result.traces)
        if result.bound > self.best:
            self.exact = True
            self.best = result.bound
