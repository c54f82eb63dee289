"""A lower bound for every routing, and better routings on the way to it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from layouts.routing.effort import Effort
from layouts.routing.instance import Instance
from layouts.routing.negotiate import Negotiation
from layouts.routing.trace import Trace


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
    instance: Instance, traces: tuple[Trace, ...], effort: Effort, seed: int = 0, beat: float = math.inf
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

    Returns
    -------
    Proof
    """
    cost = sum(trace.cost for trace in traces) if traces else math.inf
    search = Negotiation(instance)
    alone = [search.route_alone(net) for net in range(len(instance.nets))]
    plain = all(len(net.ends) == 2 for net in instance.nets) and not search.tracer.narrowed
    bound = sum(trace.cost if trace is not None else math.inf for trace in alone) if plain else None
    return Proof(bound, traces, cost)


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
    return False
