"""The loop at its operating point: flows, velocities and pressures of every leg and part."""

from __future__ import annotations

import math

from layouts.design_flow import design_flow
from layouts.hydraulics.coolant import Coolant, temperature_rise_k
from layouts.hydraulics.drop_bands import find_drop_bands
from layouts.hydraulics.friction import hydraulic_diameter
from layouts.hydraulics.network import FlowSolution, flow_band, solve_network
from layouts.hydraulics.pump import GRAVITY_M_S2, pump_head_m
from layouts.legs import measure_leg
from layouts.loop_network import PUMP, build_network, find_coolant, name_leg_edge, name_part_edge
from layouts.loop_steps import StepKind, list_steps
from layouts.panel import Panel
from layouts.plan import Channel, ChannelFlow, Flowing, Leg, LegFlow, PartFlow, Routed
from layouts.pump_meeting import check_curve_end, check_meeting


def size_flow(panel: Panel, routed: Routed) -> Flowing:
    """Return flows, velocities and pressures of the loop where the pump's curve meets it.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    Flowing
        A leg's flow is positive from its start to its end, its drops along its flow; velocities and Reynolds
        numbers are never negative.

    Raises
    ------
    LayoutError
        The loop does not close, the pump cannot push coolant through it, or its curve ends long before it
        meets the loop.
    OutOfRange
        A coolant outside its table, or a network without an answer.
    """
    coolant = find_coolant(panel)
    network = build_network(panel, routed)
    solution = solve_network(network, coolant, start_flow_m3_s=design_flow(panel))
    flow = solution.flow_m3_s[PUMP]
    head = -solution.drop_pa[PUMP] / (coolant.density_kg_m3 * GRAVITY_M_S2)
    check_meeting(panel, flow, head)
    check_curve_end(panel, flow)
    bands = find_drop_bands(network, coolant, solution)
    flow_ends = flow_band(network, coolant, solution)[PUMP]
    heads = [pump_head_m(panel.pump.curve, flow * (1.0 + end)) for end in flow_ends]
    return Flowing(
        channels=tuple(_channel_flow(channel, solution, bands, coolant) for channel in routed.channels),
        parts=tuple(
            PartFlow(
                part=part.name,
                flow_m3_s=(part_flow := solution.flow_m3_s[name_part_edge(part.name)]),
                drop_pa=solution.drop_pa[name_part_edge(part.name)],
                rise_k=temperature_rise_k(part.heat_w, abs(part_flow), coolant),
                band=bands[name_part_edge(part.name)],
            )
            for part in panel.parts
        ),
        flow_m3_s=flow,
        head_m=head,
        loop_drop_pa=-solution.drop_pa[PUMP],
        band=max(abs(end) for end in flow_ends),
        density_kg_m3=coolant.density_kg_m3,
        viscosity_pa_s=coolant.viscosity_pa_s,
        head_band=max(abs(end / head - 1.0) for end in heads),
        steps=list_steps(network.edges, _title_edges(panel, routed), solution, bands),
    )


def _title_edges(panel: Panel, routed: Routed) -> dict[str, tuple[str, StepKind]]:
    """Return name and kind of the step that each edge of the network is."""
    titles: dict[str, tuple[str, StepKind]] = {PUMP: (PUMP, "pump")}
    titles |= {name_part_edge(part.name): (part.name, "part") for part in panel.parts}
    for channel in routed.channels:
        titles |= {name_leg_edge(channel.name, leg.name): (channel.name, "channel") for leg in channel.legs}
    return titles


def _channel_flow(
    channel: Channel, solution: FlowSolution, bands: dict[str, float], coolant: Coolant
) -> ChannelFlow:
    legs = tuple(_leg_flow(channel, leg, solution, bands, coolant) for leg in channel.legs)
    measured = [measure_leg(leg.points, channel.bend_radius, leg.holes) for leg in channel.legs]
    busiest = max(legs, key=lambda leg: abs(leg.flow_m3_s))
    drop, spread = _greatest_drop(channel, legs)
    return ChannelFlow(
        channel=channel.name,
        flow_m3_s=abs(busiest.flow_m3_s),
        velocity_m_s=busiest.velocity_m_s,
        reynolds=busiest.reynolds,
        drop_pa=drop,
        length=math.fsum(length for _, length, _ in measured),
        bends=sum(bends for _, _, bends in measured),
        legs=legs,
        band=min(1.0, spread / drop) if drop > 0 else 0.0,
    )


def _leg_flow(
    channel: Channel, leg: Leg, solution: FlowSolution, bands: dict[str, float], coolant: Coolant
) -> LegFlow:
    name = name_leg_edge(channel.name, leg.name)
    flow = solution.flow_m3_s.get(name, 0.0)
    velocity = abs(flow) / (channel.width * channel.depth * 1e-6)
    across_m = hydraulic_diameter(channel.width, channel.depth) / 1e3
    along = math.copysign(1.0, flow)
    drop = along * solution.drop_pa.get(name, 0.0)
    parts = solution.breakdown.get(name, {})
    straight, bends = (along * parts.get(kind, 0.0) for kind in ("straight", "bends"))
    return LegFlow(
        leg=leg.name,
        flow_m3_s=flow,
        velocity_m_s=velocity,
        reynolds=coolant.density_kg_m3 * velocity * across_m / coolant.viscosity_pa_s,
        drop_pa=drop,
        straight_pa=straight,
        bends_pa=bends,
        turns_pa=drop - straight - bends,
        band=bands.get(name, 0.0),
    )


def _greatest_drop(channel: Channel, legs: tuple[LegFlow, ...]) -> tuple[float, float]:
    """Return the greatest drop from the channel's first end along the flow to any of its other ends, [Pa].

    The second value is how far it may lie off, all legs on the way erring to one side, [Pa].
    """
    steps: dict[str, list[tuple[str, LegFlow]]] = {}
    for leg, flow in zip(channel.legs, legs, strict=True):
        if flow.flow_m3_s > 0:
            steps.setdefault(leg.start, []).append((leg.end, flow))
        elif flow.flow_m3_s < 0:
            steps.setdefault(leg.end, []).append((leg.start, flow))
    reached = {channel.ends[0]: (0.0, 0.0)}
    waiting = [channel.ends[0]]
    while waiting:
        here = waiting.pop()
        drop, spread = reached[here]
        for there, flow in steps.get(here, ()):
            if there not in reached:
                reached[there] = (drop + flow.drop_pa, spread + flow.band * abs(flow.drop_pa))
                waiting.append(there)
    return max((reached[end] for end in channel.ends[1:] if end in reached), default=(0.0, 0.0))
