"""The loop at its operating point: a network of channels, parts and pump, made from the routed legs.

*Node*: the end of a leg; everything that opens into the tank is the node "tank". *Edge*: a leg with its
turns, a part, or the pump. Coolant leaves the panel through a part's inlet and comes back through its outlet.
Legs that end nowhere (the drain) carry nothing and are left out. Hoses between panel and parts are not in
the panel file: the resistance of a part has to hold them.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

from geom.errors import LayoutError
from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from geom.standards import tables
from geom.units import l_min, show_number
from layouts.clearance import PAST_FOOT, channel_z
from layouts.hydraulics.coolant import Coolant, coolant_properties, temperature_rise_k
from layouts.hydraulics.drop_bands import find_drop_bands
from layouts.hydraulics.friction import channel_aspect, friction_factor, hydraulic_diameter
from layouts.hydraulics.losses import CLOSE_TURNS, loss_bend
from layouts.hydraulics.network import Edge, FlowSolution, Network, Tee, flow_band, solve_network
from layouts.hydraulics.orifice import fitting_bore_mm
from layouts.hydraulics.pump import GRAVITY_M_S2, pump_head_m
from layouts.hydraulics.segments import (
    Bend,
    Bore,
    Orifice,
    PartResistance,
    PortTurn,
    PumpCurve,
    Segment,
    Straight,
    TankEntry,
    TankExit,
)
from layouts.loop_steps import TANK, StepKind, list_steps
from layouts.nets import PUMP_INLET, PUMP_OUTLET, TANK_OUTLET, TANK_RETURN
from layouts.panel import Panel, Part, Step
from layouts.plan import Channel, ChannelFlow, Flowing, Leg, LegFlow, PartFlow, PlacedPort, Routed

LEAST_SHARE = 1e-3
"""A pump that pushes less than this share of its curve's greatest flow does not meet the loop."""

MOST_BEYOND = 1.2
"""A flow of more times the last of the pump's curve is not worked out; common practice, no source."""

PUMP = "pump"


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
    _check_meeting(panel, flow, head)
    _check_curve_end(panel, flow)
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


def build_network(panel: Panel, routed: Routed) -> Network:
    """Return the loop as a network in SI.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    Network
        Edges "pump", "part NAME" and "CHANNEL / LEG"; legs that end nowhere are left out.

    Raises
    ------
    LayoutError
        The legs, parts and pump do not close a loop through the tank.
    """
    ports = find_end_ports(panel, routed)
    edges = [Edge(PUMP, PUMP_INLET, PUMP_OUTLET, (PumpCurve(panel.pump.curve),))]
    edges += [
        Edge(name_part_edge(part.name), part.inlet.name, part.outlet.name, _part_elements(part))
        for part in panel.parts
    ]
    for channel in routed.channels:
        edges += list_leg_edges(panel, channel, ports)
    edges = _drop_dead_ends(edges)
    names = {edge.name for edge in edges}
    missing = [
        name for name in (PUMP, *(name_part_edge(part.name) for part in panel.parts)) if name not in names
    ]
    if missing:
        raise LayoutError(
            f"the loop does not close: no coolant comes through {', '.join(missing)}; every part and the "
            "pump must stand between two channels, so check the loop's order against the channels"
        )
    tees = []
    for channel in routed.channels:
        for junction in channel.junctions:
            combined, run, branch = (
                f"{channel.name} / {leg}" for leg in (*junction.in_line, junction.branch)
            )
            if {combined, run, branch} <= names:
                tees.append(Tee(junction.name, combined, run, branch))
    return Network(tuple(edges), tuple(tees))


def list_leg_edges(panel: Panel, channel: Channel, ports: dict[str, PlacedPort]) -> tuple[Edge, ...]:
    """Return a channel's legs as edges of the network, in SI.

    Parameters
    ----------
    panel : Panel
    channel : Channel
        Of any width.
    ports : dict of str to PlacedPort
        As `find_end_ports` gives them.

    Returns
    -------
    tuple of Edge
        In the order of the legs.
    """
    return tuple(
        Edge(
            name_leg_edge(channel, leg),
            _node_of(leg.start, ports),
            _node_of(leg.end, ports),
            _leg_elements(panel, channel, leg, ports),
        )
        for leg in channel.legs
    )


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
    _check_meeting(panel, flow, -solution.drop_pa[PUMP] / (coolant.density_kg_m3 * GRAVITY_M_S2))
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


def measure_leg(points: tuple[Point, ...], radius: float) -> tuple[float, float, int]:
    """Return what a leg is made of.

    Parameters
    ----------
    points : tuple of (float, float)
        Corners of its centreline, right-angled, [mm].
    radius : float
        Centreline radius of its bends, [mm].

    Returns
    -------
    straight, length : float
        Length of its straight pieces, and of its centreline with the arcs, [mm].
    bends : int
    """
    straights = split_leg(points, radius)
    straight, bends = math.fsum(straights), len(straights) - 1
    return straight, straight + bends * radius * math.pi / 2, bends


@lru_cache(maxsize=1024)
def split_leg(points: tuple[Point, ...], radius: float) -> tuple[float, ...]:
    """Return the lengths of straight channel before, between and behind a leg's bends, [mm].

    Parameters
    ----------
    points : tuple of (float, float)
        Corners of its centreline, right-angled, [mm].
    radius : float
        Centreline radius of its bends, [mm].

    Returns
    -------
    tuple of float
        One more than there are bends; 0 where a bend takes the whole piece.
    """
    corners = find_corners(points)
    along = [0.0]
    for a, b in pairwise(points):
        along.append(along[-1] + math.dist(a, b))
    marks = [0.0, *(along[k] for k in corners), along[-1]]
    last = len(marks) - 2
    return tuple(
        max(0.0, b - a - radius * ((k > 0) + (k < last))) for k, (a, b) in enumerate(pairwise(marks))
    )


def find_corners(points: tuple[Point, ...]) -> tuple[int, ...]:
    """Return at which of its points a polyline turns."""
    return tuple(
        k + 1
        for k, (a, b, c) in enumerate(zip(points, points[1:], points[2:], strict=False))
        if abs((b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])) > SAME_MM
    )


def find_corner(points: tuple[Point, ...]) -> Point | None:
    """Return the first corner at which a polyline turns, [mm]; None where it runs straight."""
    corners = find_corners(points)
    return points[corners[0]] if corners else None


def port_bore(channel: Channel, port: PlacedPort) -> float:
    """Return the length of a port's bore between its mouth and the channel's wall, [mm].

    On an edge it ends at the channel's round end, elsewhere at its roof or floor.
    """
    if port.on in EDGES:
        return max(0.0, port.depth - (PAST_FOOT + 0.5) * channel.width)
    return max(0.0, port.depth - channel.depth / 2)


def pump_bore(panel: Panel) -> float:
    """Return the length of the pump's bores between its seat and the channel's wall, [mm]."""
    z0, z1 = channel_z(panel)
    if panel.pump.on == "front":
        return max(0.0, panel.make.body - z1 - panel.pump.seat_depth)
    cover = 0.0 if panel.make.closing == "one-piece" else panel.make.cover
    return max(0.0, z0 + cover - panel.pump.seat_depth)


def _join_parts(panel: Panel, chain: tuple[Step, ...], start: str, end: str) -> list[Edge]:
    """Return a chain of parts and groups as edges between two nodes, channels left out."""
    edges: list[Edge] = []
    for k, stage in enumerate(chain):
        after = end if k == len(chain) - 1 else f"{start} / {k + 1}"
        before = start if k == 0 else f"{start} / {k}"
        for n, branch in enumerate((stage,) if isinstance(stage, str) else stage):
            if isinstance(branch, str):
                part = panel.part(branch)
                edges.append(Edge(name_part_edge(branch), before, after, _part_elements(part)))
            else:
                entry = f"{before} branch {n + 1}"
                edges.append(Edge(entry, before, entry, ()))
                edges += _join_parts(panel, branch, entry, after)
    return edges


def _part_elements(part: Part) -> tuple[Segment, ...]:
    """Return a part's own resistance, behind its restrictor where it has one."""
    own = PartResistance(part.resistance)
    if part.restrictor is None:
        return (own,)
    fitting = fitting_bore_mm(tables.thread(part.inlet.thread).tap_drill)
    return (Orifice(part.restrictor / 1e3, fitting / 1e3), own)


def find_coolant(panel: Panel) -> Coolant:
    """Return the panel's coolant at its temperature in use."""
    choice = panel.coolant
    return coolant_properties(choice.fluid, choice.mass_fraction, choice.temperature_c)


def name_part_edge(part: str) -> str:
    """Return the name of a part's edge in the network."""
    return f"part {part}"


def name_leg_edge(channel: Channel, leg: Leg) -> str:
    """Return the name of a leg's edge in the network."""
    return f"{channel.name} / {leg.name}"


def find_end_ports(panel: Panel, routed: Routed) -> dict[str, PlacedPort]:
    """Return the placed ports by the name of the channel end that they stand at."""
    ports = {port.name: port for port in routed.ports}
    for end, port in ((TANK_OUTLET, panel.tank.outlet), (TANK_RETURN, panel.tank.inlet)):
        if port is not None and port.name in ports:
            ports[end] = ports[port.name]
    return ports


def _node_of(end: str, ports: dict[str, PlacedPort]) -> str:
    port = ports.get(end)
    if port is not None:
        return TANK if port.part == TANK else end
    return TANK if end in (TANK_OUTLET, TANK_RETURN) else end


def _leg_elements(
    panel: Panel, channel: Channel, leg: Leg, ports: dict[str, PlacedPort]
) -> tuple[Segment, ...]:
    width, depth = channel.width / 1e3, channel.depth / 1e3
    straights = split_leg(leg.points, channel.bend_radius)
    elements = [*reversed(_end_elements(panel, channel, leg.start, ports))]
    for k, straight in enumerate(straights):
        if k > 0:
            elements.append(Bend(channel.bend_radius / 1e3, width, depth))
        if straight > SAME_MM:
            elements.append(Straight(straight / 1e3, width, depth))
    elements += _end_elements(panel, channel, leg.end, ports)
    return _mark_close(elements)


def _mark_close(elements: list[Segment]) -> tuple[Segment, ...]:
    """Return a leg's elements, with the turns that stand closer to each other than `CLOSE_TURNS` marked."""
    close: set[int] = set()
    before: int | None = None
    between_m = 0.0
    for k, element in enumerate(elements):
        if isinstance(element, Straight):
            between_m += element.length_m
        elif isinstance(element, Bend | PortTurn):
            across_m = hydraulic_diameter(element.width_m, element.depth_m)
            if before is not None and between_m < CLOSE_TURNS * across_m:
                close |= {before, k}
            before, between_m = k, 0.0
    return tuple(
        replace(element, close=True) if k in close and isinstance(element, Bend | PortTurn) else element
        for k, element in enumerate(elements)
    )


def _end_elements(
    panel: Panel, channel: Channel, end: str, ports: dict[str, PlacedPort]
) -> tuple[Segment, ...]:
    """Return what stands at the end of a leg, outwards; a junction adds nothing, its tee does.

    An edge port is charged as the same right-angled turn as a port on a face. Its bore overlaps the channel's
    end from above, by half to two thirds of a channel's height out of line, so coolant turns out of the bore's
    line and back into the channel's. The nearest published shape is the mitred Z elbow (SMACNA, HVAC Systems
    Duct Design, table 14-10 I, after Idelchik): K 0.62 at an offset of 0.4 heights, 0.90 at 0.6, and 0.87 to
    1.26 with the handbook's factor of 1.40 at Re 10 000. The right-angled turn from and to a bore of 1.4
    widths costs 0.90 and 1.29 there: the same within both bands, so no shape of its own is made up. Where
    the channel leaves the bore sideways, it is a right-angled turn.
    """
    width, depth = channel.width / 1e3, channel.depth / 1e3
    port = ports.get(end)
    if port is not None:
        into_channel = port.role != "inlet"
        bore, length = tables.thread(port.thread).tap_drill, port_bore(channel, port)
    elif end == PUMP_INLET:
        into_channel, bore, length = False, panel.pump.inlet_bore, pump_bore(panel)
    elif end == PUMP_OUTLET:
        into_channel, bore, length = True, panel.pump.outlet_bore, pump_bore(panel)
    elif end == TANK_OUTLET:
        return (TankExit(width, depth),)
    elif end == TANK_RETURN:
        return (TankEntry(width, depth),)
    else:
        return ()
    turn = PortTurn("bore_to_channel" if into_channel else "channel_to_bore", bore / 1e3, width, depth)
    return (turn, Bore(length / 1e3, bore / 1e3)) if length > SAME_MM else (turn,)


def _drop_dead_ends(edges: list[Edge]) -> list[Edge]:
    """Return the edges without those that end nowhere, one after the other."""
    while True:
        degree = Counter(node for edge in edges for node in (edge.start, edge.end))
        kept = [edge for edge in edges if degree[edge.start] > 1 and degree[edge.end] > 1]
        if len(kept) == len(edges):
            return kept
        edges = kept


def _check_meeting(panel: Panel, flow_m3_s: float, head_m: float) -> None:
    curve = panel.pump.curve
    most = curve[-1][0]
    if flow_m3_s >= LEAST_SHARE * most:
        return
    flow, reach = show_number(l_min(flow_m3_s), 2), show_number(l_min(most), 3)
    raise LayoutError(
        f"{panel.at_line('pump.curve')}: the pump does not meet the loop: at {flow} L/min the loop already "
        f"needs {head_m:.3g} m, the pump's shut-off head is {curve[0][1]:.3g} m and its curve reaches "
        f"{reach} L/min; choose a pump with more head, or parts and channels of less resistance"
    )


def _check_curve_end(panel: Panel, flow_m3_s: float) -> None:
    last, head = panel.pump.curve[-1]
    if flow_m3_s <= MOST_BEYOND * last:
        return
    raise LayoutError(
        f"{panel.at_line('pump.curve')}: the pump curve ends at {show_number(l_min(last), 3)} L/min, "
        f"{show_number(head, 3)} m, before it meets the loop: there the loop asks for less head than the pump "
        f"still gives, and more than {100 * (MOST_BEYOND - 1):.0f} % past its end no flow is worked out; give "
        "the curve's points up to where its head falls away, check their units, or use a larger pump"
    )


def _title_edges(panel: Panel, routed: Routed) -> dict[str, tuple[str, StepKind]]:
    """Return name and kind of the step that each edge of the network is."""
    titles: dict[str, tuple[str, StepKind]] = {PUMP: (PUMP, "pump")}
    titles |= {name_part_edge(part.name): (part.name, "part") for part in panel.parts}
    for channel in routed.channels:
        titles |= {name_leg_edge(channel, leg): (channel.name, "channel") for leg in channel.legs}
    return titles


def _channel_flow(
    channel: Channel, solution: FlowSolution, bands: dict[str, float], coolant: Coolant
) -> ChannelFlow:
    legs = tuple(_leg_flow(channel, leg, solution, bands, coolant) for leg in channel.legs)
    measured = [measure_leg(leg.points, channel.bend_radius) for leg in channel.legs]
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
    name = name_leg_edge(channel, leg)
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
