"""The step that all costs of an instance are multiples of: a bound above a multiple proves the next one."""

from __future__ import annotations

import math

from layouts.routing.instance import Instance


def find_granularity(instance: Instance) -> float:
    """Return the greatest number of which every routing's cost is a whole multiple; 0 where costs are not whole.

    Parameters
    ----------
    instance : Instance

    Returns
    -------
    float
        [units].
    """
    costs: list[float] = []
    for net in instance.nets:
        for rates in (instance.rates_of(net), *net.leg_rates):
            costs += [rates.step, rates.bend + 2 * instance.bend_cells * rates.step]
            costs += [rates.tee] if len(net.ends) > 2 else []
            costs += [rates.through] if instance.layers == 2 else []
        costs += [t.cost for end in net.ends for t in end]
    if any(c != int(c) for c in costs):
        return 0.0
    return float(math.gcd(*(int(c) for c in costs)))
