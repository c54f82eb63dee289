"""What the channels that meet neither tank nor pump cost together at least: the same for every place of these."""

from __future__ import annotations

import numpy as np

from layouts.ground import Ground, port_terminals
from layouts.routing.effort import Effort
from layouts.routing.instance import Instance, Net
from layouts.routing.prove import prove_bound
from layouts.routing.trace import Trace


def bound_fixed(ground: Ground, traces: tuple[Trace, ...], effort: Effort, seed: int = 0) -> float:
    """Return what the channels that meet neither tank nor pump cost round each other at least.

    They are routed in the bare panel, without tank, pump and all other channels: whatever a placement adds can only
    make them dearer.

    Parameters
    ----------
    ground : Ground
    traces : tuple of Trace
        Of a layout of the panel, in the order of the ground's needs.
    effort : Effort
    seed : int

    Returns
    -------
    float
        In units of the panel's costs; 0 where there are fewer than two such channels, or nothing is proven.
    """
    grid, layers = ground.grid, ground.panel.channel.layers
    blocked = np.tile(ground.blocked, layers)
    nets, known = [], []
    for need, trace in zip(ground.needs, traces, strict=True):
        ports = [end.port for end in need.ends if end.port is not None]
        if len(ports) == len(need.ends):
            ends = tuple(port_terminals(ground, blocked, port, need) for port in ports)
            costs = ground.costs.channels[need.name]
            own = ground.channel_class(need)
            nets.append(Net(need.name, ends, False, costs.rates, costs.leg_rates, own))
            known.append(trace)
    if len(nets) < 2:
        return 0.0
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
    proof = prove_bound(instance, tuple(known), effort, seed)
    return proof.bound if proof.bound is not None else 0.0
