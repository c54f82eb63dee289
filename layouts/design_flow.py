"""The loop's flows before any channel is routed: the pump against the parts alone."""

from __future__ import annotations

from dataclasses import dataclass

from layouts.hydraulics.network import Edge, Network, solve_network
from layouts.hydraulics.pump import GRAVITY_M_S2
from layouts.hydraulics.segments import PumpCurve
from layouts.loop_network import PUMP, find_coolant, list_part_elements, name_part_edge
from layouts.loop_steps import TANK
from layouts.nets import PUMP_OUTLET
from layouts.panel import Panel, Step
from layouts.pump_meeting import check_meeting


@dataclass(frozen=True, slots=True)
class DesignFlows:
    """Flows of the pump against the parts alone, [m3/s].

    Parameters
    ----------
    loop_m3_s : float
        The pump's.
    parts_m3_s : dict of str to float
        Of each part in the loop, by its name.
    """

    loop_m3_s: float
    parts_m3_s: dict[str, float]


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
    return find_design_flows(panel).loop_m3_s


def find_design_flows(panel: Panel) -> DesignFlows:
    """Return the flows that the channels are routed for.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    DesignFlows
        Where the pump's curve ends before it meets the parts: its last flow, shared out as at the meeting.

    Raises
    ------
    LayoutError
        The pump cannot push coolant through the parts.
    """
    most = panel.pump.curve[-1][0]
    stages = tuple(stage for stage in panel.loop if stage not in (TANK, PUMP))
    if not stages:
        return DesignFlows(most, {})
    edges = [Edge(PUMP, TANK, PUMP_OUTLET, (PumpCurve(panel.pump.curve),))]
    edges += _join_parts(panel, stages, PUMP_OUTLET, TANK)
    coolant = find_coolant(panel)
    solution = solve_network(Network(tuple(edges)), coolant)
    flow = solution.flow_m3_s[PUMP]
    check_meeting(panel, flow, -solution.drop_pa[PUMP] / (coolant.density_kg_m3 * GRAVITY_M_S2))
    held = min(1.0, most / flow)
    return DesignFlows(
        min(flow, most),
        {
            part.name: held * solution.flow_m3_s[edge]
            for part in panel.parts
            if (edge := name_part_edge(part.name)) in solution.flow_m3_s
        },
    )


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
