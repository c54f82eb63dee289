"""What the channels that meet neither tank nor pump cost together at least: the same for every place of these."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from layouts.cost_field import CostField
from layouts.ground import Ground, port_terminals
from layouts.routing.bound.prove import prove_bound
from layouts.routing.effort import NORMAL, Effort
from layouts.routing.instance import Instance, Net
from layouts.routing.one_channel.trace import Trace
from layouts.routing.trees.tree_bound import MOST_EXACT_ENDS, bound_tree

TREE_STATES = 1_500_000
"""States that the rounds of prices may open for the trees of one instance: each round searches them all anew."""


def spare_trees(instance: Instance, effort: Effort) -> Effort:
    """Return an effort with no more rounds of prices than an instance's trees have states for; at least one."""
    states = sum(
        instance.cells * 4 << min(len(net.ends), MOST_EXACT_ENDS) - 1
        for net in instance.nets
        if len(net.ends) > 2
    )
    if states == 0:
        return effort
    most = effort.most_states * TREE_STATES // NORMAL.most_states
    return replace(effort, bound_rounds=min(effort.bound_rounds, max(1, most // states)))


def bound_fixed(
    ground: Ground, field: CostField, traces: tuple[Trace, ...], effort: Effort, seed: int = 0
) -> float:
    """Return what the channels that meet neither tank nor pump cost round each other at least.

    They are routed in the bare panel, without tank, pump and all other channels: whatever a placement adds can only
    make them dearer.

    Parameters
    ----------
    ground : Ground
    field : CostField
        Of this ground.
    traces : tuple of Trace
        Of a layout of the panel, in the order of the ground's needs.
    effort : Effort
    seed : int

    Returns
    -------
    float
        In units of the panel's costs; 0 where there are none, only one of two ends, or nothing is proven.
    """
    grid, layers = ground.grid, ground.panel.channel.layers
    blocked = np.tile(ground.blocked, layers) | ground.near_kept
    needs, nets, known = [], [], []
    for need, trace in zip(ground.needs, traces, strict=True):
        ports = [end.port for end in need.ends if end.port is not None]
        if len(ports) == len(need.ends):
            ends = tuple(port_terminals(ground, blocked, port, need) for port in ports)
            costs = ground.costs.channels[need.name]
            own = ground.channel_class(need)
            nets.append(Net(need.name, ends, False, costs.rates, costs.leg_rates, own))
            known.append(trace)
            needs.append(need)
    instance = Instance(
        columns=grid.columns,
        rows=grid.rows,
        nets=tuple(nets),
        blocked=blocked,
        offsets=ground.offsets,
        rates=ground.costs.rates,
        bend_cells=ground.bend_cells,
        bend_radius_cells=ground.panel.channel.bend_radius / grid.pitch,
        tee_margin=ground.tee_margin,
        layers=layers,
    )
    if all(len(net.ends) > 2 for net in nets):
        blocks = [np.tile(field.block_for(need), layers) for need in needs]
        return sum((bound_tree(instance, net, b).cost for net, b in zip(nets, blocks, strict=True)), 0.0)
    if len(nets) < 2:
        return 0.0
    proof = prove_bound(instance, tuple(known), spare_trees(instance, effort), seed)
    return proof.bound if proof.bound is not None else 0.0
