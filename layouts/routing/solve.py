"""One instance, whole: a first routing, its improvement, a lower bound; or the reason why there is none."""

from __future__ import annotations

import math
from dataclasses import dataclass

from layouts.routing.all_channels.route_instance import route_instance
from layouts.routing.bound.prove import prove_bound
from layouts.routing.effort import NORMAL, Effort
from layouts.routing.instance import Instance
from layouts.routing.one_channel.trace import Trace
from layouts.routing.reasons.ladder import find_reason
from layouts.routing.reasons.reason import Reason

SAME_COST = 1e-6
"""Costs that differ by less are the same."""

FEW_RESTARTS = 1
"""Restarts of the first search after which the reasons are looked through."""


@dataclass(frozen=True, slots=True)
class Solution:
    """What is known about an instance.

    Parameters
    ----------
    traces : tuple of Trace
        In the order of the instance's nets; empty where nothing was found.
    cost : float
        Sum of the traces' costs; infinite where nothing was found.
    bound : float or None
        Proven lower bound; infinite where it is proven that there is no routing; None where nothing is.
    reason : Reason or None
        Why nothing was found.
    """

    traces: tuple[Trace, ...]
    cost: float
    bound: float | None
    reason: Reason | None


def describe_proof(cost: float, bound: float | None) -> str:
    """Return "optimal (proven)", "within g % (proven)" or "found (no bound)"."""
    if bound is None or not math.isfinite(bound):
        return "found (no bound)"
    gap = (cost - bound) / cost if cost > 0 else 0.0
    if gap <= SAME_COST:
        return "optimal (proven)"
    return f"within {max(100 * gap, 0.01):.2g} % (proven)"


def solve_instance(
    instance: Instance, seed: int = 0, effort: Effort = NORMAL, beat: float = math.inf
) -> Solution:
    """Return the best routing found with its bound, or the reason why there is none.

    Parameters
    ----------
    instance : Instance
    seed : int
        Same seed, same answer.
    effort : Effort
    beat : float
        No routing that costs this much or more is wanted: the search stops once none can be cheaper; the
        solution then holds the bound alone.

    Returns
    -------
    Solution
    """
    # What cannot be routed is told apart soon: the long search is for what may be. Where a bound is asked for it may
    # show that the first routing is the cheapest.
    proves = effort.bound_rounds > 0
    few = min(effort.restarts, FEW_RESTARTS)
    routing = route_instance(instance, seed, 0 if proves else effort.group_steps, few, beat)
    if routing.conflicting:
        reason = find_reason(instance, routing, effort)
        if reason.proven or routing.unreachable:
            return Solution((), math.inf, math.inf if reason.proven else None, reason)
        routing = route_instance(instance, seed, 0 if proves else effort.group_steps, effort.restarts, beat)
    proof = prove_bound(instance, routing.traces, effort, seed, beat, search_more=proves)
    if proof.traces:
        return Solution(proof.traces, proof.cost, proof.bound, None)
    if proof.bound == math.inf:
        # Proven of all together, of no fewer.
        reason = Reason("conflict", tuple(net.name for net in instance.nets), rounds=routing.rounds)
    else:
        reason = Reason("not found", routing.conflicting, rounds=routing.rounds)
    return Solution((), math.inf, proof.bound, reason)
