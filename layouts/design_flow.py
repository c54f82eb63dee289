"""The loop's flow before any channel is routed: the pump against the parts alone, and what a bend costs there."""

from __future__ import annotations

from layouts.hydraulics.friction import channel_aspect, friction_factor, hydraulic_diameter
from layouts.hydraulics.losses import loss_bend
from layouts.hydraulics.network import Edge, Network, solve_network
from layouts.hydraulics.pump import GRAVITY_M_S2
from layouts.hydraulics.segments import PumpCurve
from layouts.loop_network import PUMP, find_coolant, list_part_elements, name_part_edge
from layouts.loop_steps import TANK
from layouts.nets import PUMP_OUTLET
from layouts.panel import Panel, Step
from layouts.pump_meeting import check_meeting


def design_flow(panel: Panel) -> float:
    """Return a first guess of the loop's flow: the pump against the parts alone.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    float
        [m3/s]; no more than the last flow of the pump's curve.

    Raises
    ------
    LayoutError
        The pump cannot push coolant through the parts.
    """
    most = panel.pump.curve[-1][0]
    stages = tuple(stage for stage in panel.loop if stage not in (TANK, PUMP))
    if not stages:
        return most
    edges = [Edge(PUMP, TANK, PUMP_OUTLET, (PumpCurve(panel.pump.curve),))]
    edges += _join_parts(panel, stages, PUMP_OUTLET, TANK)
    coolant = find_coolant(panel)
    solution = solve_network(Network(tuple(edges)), coolant)
    flow = solution.flow_m3_s[PUMP]
    check_meeting(panel, flow, -solution.drop_pa[PUMP] / (coolant.density_kg_m3 * GRAVITY_M_S2))
    return min(flow, most)


def bend_steps(panel: Panel) -> float:
    """Return the length of straight channel that costs as much pressure as one bend, at the design flow.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    float
        [mm]; friction along the bend's own arc is not in it.

    Raises
    ------
    LayoutError
        As `design_flow`.
    """
    section = panel.channel
    coolant = find_coolant(panel)
    across_mm = hydraulic_diameter(section.width, section.depth)
    velocity = design_flow(panel) / (section.width * section.depth * 1e-6)
    re = coolant.density_kg_m3 * velocity * across_mm / 1e3 / coolant.viscosity_pa_s
    factor = float(friction_factor(re, channel_aspect(section.width, section.depth)))
    loss = loss_bend(re, section.bend_radius / section.width, section.depth / section.width)
    return loss * across_mm / factor


def _join_parts(panel: Panel, chain: tuple[Step, ...], start: str, end: str) -> list[Edge]:
    """Return a chain of parts and groups as edges between two nodes, channels left out."""
    edges: list[Edge] = []
    for k, stage in enumerate(chain):
        after = end if k == len(chain) - 1 else f"{start} / {k + 1}"
        before = start if k == 0 else f"{start} / {k}"
        for n, branch in enumerate((stage,) if isinstance(stage, str) else stage):
            if isinstance(branch, str):
                part = panel.part(branch)
                edges.append(Edge(name_part_edge(branch), before, after, list_part_elements(part)))
            else:
                entry = f"{before} branch {n + 1}"
                edges.append(Edge(entry, before, entry, ()))
                edges += _join_parts(panel, branch, entry, after)
    return edges
