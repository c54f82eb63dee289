"""Where coolant runs, as lines in space with what it does along them: channels from mouth to mouth, tubes outside."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from geom.features import Cylinder
from geom.frame import EDGES, SAME_MM, Vec
from geom.outline import path_chords, round_corners
from layouts.faces import layer_z
from layouts.nets import PUMP_INLET, PUMP_OUTLET, TANK_OUTLET, TANK_RETURN
from layouts.plan import Channel, Layer, Leg, LegFlow, Plan
from layouts.tubes.centreline import trace_chords
from layouts.tubes.values import TubeRun

TANK = "tank"
CHORDS = 6
"""Of a bend by 90 degrees."""


@dataclass(frozen=True, slots=True)
class FlowLine:
    """One leg's way through the panel, in the direction of its flow.

    Parameters
    ----------
    channel, start, end : str
        Its channel, and the ends or junctions that it runs between.
    points : tuple of (float, float, float)
        Along the middle, [mm], from the mouth of a bore where it starts at one.
    width : float
        Of the channel, [mm].
    flow_m3_s, velocity_m_s : float
        0 or more.
    start_pa, end_pa : float or None
        Pressure over that in the tank at its ends, [Pa]; None where nothing flows. Between them it falls evenly here.
    band : float
        Relative band of the drop, [-].
    """

    channel: str
    start: str
    end: str
    points: tuple[Vec, ...]
    width: float
    flow_m3_s: float
    velocity_m_s: float
    start_pa: float | None
    end_pa: float | None
    band: float


def trace_flow(plan: Plan) -> tuple[FlowLine, ...]:
    """Return the ways of all legs of all channels.

    Parameters
    ----------
    plan : Plan
    """
    bores = _find_bores(plan)
    flows = {flow.leg: flow for channel in plan.flowing.channels for flow in channel.legs}
    legs = [(channel, leg, flows.get(leg.name)) for channel in plan.routed.channels for leg in channel.legs]
    pressures = _find_pressures(plan, [(leg, flow) for _, leg, flow in legs])
    return tuple(_trace_leg(plan, channel, leg, flow, pressures, bores) for channel, leg, flow in legs)


def trace_tube(tube: TubeRun) -> tuple[Vec, ...]:
    """Return the middle of a tube outside with its bends as chords, [mm].

    Parameters
    ----------
    tube : TubeRun
        One that has a way.
    """
    chords = trace_chords(np.array([tube.points], dtype=float), tube.bend_radius)[0]
    return tuple((float(x), float(y), float(z)) for x, y, z in chords)


def _find_pressures(plan: Plan, legs: list[tuple[Leg, LegFlow | None]]) -> dict[str, float]:
    """Return the pressure at each end and junction that coolant passes, over that in the tank, [Pa].

    Where the loop's steps pass a junction without naming it, the legs' own drops lead there.
    """
    found = {TANK: 0.0}
    for step in plan.flowing.steps:
        found |= {
            node: p for node, p in ((step.start, step.start_pa), (step.end, step.end_pa)) if node != TANK
        }
    grew = True
    while grew:
        grew = False
        for leg, flow in legs:
            start, end = _node(leg.start), _node(leg.end)
            if flow is None or flow.flow_m3_s == 0.0 or (start in found) == (end in found):
                continue
            drop = math.copysign(flow.drop_pa, flow.flow_m3_s)
            if start in found:
                found[end] = found[start] - drop
            else:
                found[start] = found[end] + drop
            grew = True
    return found


def _trace_leg(
    plan: Plan,
    channel: Channel,
    leg: Leg,
    flow: LegFlow | None,
    pressures: dict[str, float],
    bores: dict[str, tuple[Vec, ...]],
) -> FlowLine:
    # The drain too starts at the pump's inlet, but what goes up that bore is the feed's.
    lead_in = () if leg.start == PUMP_INLET else bores.get(leg.start, ())
    points = _drop_repeated([*lead_in, *_middle(plan, channel, leg), *reversed(bores.get(leg.end, ()))])
    line = FlowLine(channel.name, leg.start, leg.end, tuple(points), channel.width, 0.0, 0.0, None, None, 0.0)
    if flow is None or flow.flow_m3_s == 0.0:
        return line
    start_pa, end_pa = pressures.get(_node(leg.start)), pressures.get(_node(leg.end))
    line = replace(
        line,
        flow_m3_s=abs(flow.flow_m3_s),
        velocity_m_s=abs(flow.velocity_m_s),
        start_pa=start_pa,
        end_pa=end_pa,
        band=flow.band,
    )
    if flow.flow_m3_s > 0.0:
        return line
    return replace(
        line, start=leg.end, end=leg.start, points=line.points[::-1], start_pa=end_pa, end_pa=start_pa
    )


def _node(end: str) -> str:
    """Return what the loop's steps call an end."""
    return TANK if end in (TANK_OUTLET, TANK_RETURN) else end


def _middle(plan: Plan, channel: Channel, leg: Leg) -> list[Vec]:
    """Return the points of a leg in its channel, bends rounded as they are cut, through holes upright."""
    cuts = (0, *leg.holes, len(leg.points) - 1)
    layer: Layer = leg.layer
    points: list[Vec] = []
    for first, last in pairwise(cuts):
        z = sum(layer_z(plan.panel, layer)) / 2
        piece = leg.points[first : last + 1]
        if len(piece) > 1:
            path = round_corners(piece, channel.bend_radius)
            points += [(x, y, z) for x, y in path_chords(path, CHORDS)]
        layer = "front" if layer == "back" else "back"
    return points


def _find_bores(plan: Plan) -> dict[str, tuple[Vec, ...]]:
    """Return each end's way from its bore's mouth, as far as that is not the channel's own."""
    bores: dict[str, tuple[Vec, ...]] = {}
    for port in plan.routed.ports:
        bores[port.name] = (port.at, (*port.foot, port.at[2])) if port.on in EDGES else (port.at,)
    for feature in plan.detail.features:
        for pump_end in (PUMP_INLET, PUMP_OUTLET):
            if feature.name == f"{pump_end} bore" and isinstance(feature.shape, Cylinder):
                bores[pump_end] = (feature.shape.mouth,)
    return bores


def _drop_repeated(points: list[Vec]) -> list[Vec]:
    kept = points[:1]
    for point in points[1:]:
        if max(abs(a - b) for a, b in zip(point, kept[-1], strict=True)) > SAME_MM:
            kept.append(point)
    return kept
