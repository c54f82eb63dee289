"""The loop as a network of channels, parts and pump, made from the routed legs.

*Node*: the end of a leg; everything that opens into the tank is the node "tank". *Edge*: a leg with its
turns, a part, or the pump. Coolant leaves the panel through a part's inlet and comes back through its outlet.
Legs that end nowhere (the drain) carry nothing and are left out. Hoses between panel and parts are not in
the panel file: the resistance of a part has to hold them.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

from geom.errors import LayoutError
from geom.frame import EDGES, SAME_MM
from geom.standards import tables
from layouts.faces import face_z, floor_thickness, hole_bore, layer_z
from layouts.hydraulics.coolant import Coolant, coolant_properties
from layouts.hydraulics.friction import hydraulic_diameter
from layouts.hydraulics.losses import CLOSE_TURNS
from layouts.hydraulics.network import Edge, Network, Tee
from layouts.hydraulics.orifice import fitting_bore_mm
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
from layouts.legs import last_layer, split_at_holes, split_leg
from layouts.loop_steps import TANK
from layouts.nets import PUMP_INLET, PUMP_OUTLET, TANK_OUTLET, TANK_RETURN
from layouts.panel import Panel, Part
from layouts.plan import Channel, Flowing, Layer, Leg, PlacedPort, Routed

PUMP = "pump"


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
        Edge(name_part_edge(part.name), part.inlet.name, part.outlet.name, list_part_elements(part))
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
            name_leg_edge(channel.name, leg.name),
            _node_of(leg.start, ports),
            _node_of(leg.end, ports),
            _leg_elements(panel, channel, leg, ports),
        )
        for leg in channel.legs
    )


def list_part_elements(part: Part) -> tuple[Segment, ...]:
    """Return a part's own resistance, behind its restrictor where it has one.

    Parameters
    ----------
    part : Part

    Returns
    -------
    tuple of Segment
        In flow order, in SI.
    """
    own = PartResistance(part.resistance)
    if part.restrictor is None:
        return (own,)
    fitting = fitting_bore_mm(tables.thread(part.inlet.thread).tap_drill)
    return (Orifice(part.restrictor / 1e3, fitting / 1e3), own)


def find_end_ports(panel: Panel, routed: Routed) -> dict[str, PlacedPort]:
    """Return the placed ports by the name of the channel end that they stand at."""
    ports = {port.name: port for port in routed.ports}
    for end, port in ((TANK_OUTLET, panel.tank.outlet), (TANK_RETURN, panel.tank.inlet)):
        if port is not None and port.name in ports:
            ports[end] = ports[port.name]
    return ports


def find_coolant(panel: Panel) -> Coolant:
    """Return the panel's coolant at its temperature in use."""
    choice = panel.coolant
    return coolant_properties(choice.fluid, choice.mass_fraction, choice.temperature_c)


def list_flows(flowing: Flowing) -> dict[str, float]:
    """Return the flow of each edge of the loop's network, by the edge's name, [m3/s]."""
    flows = {name_part_edge(part.part): part.flow_m3_s for part in flowing.parts}
    flows |= {
        name_leg_edge(channel.channel, leg.leg): leg.flow_m3_s
        for channel in flowing.channels
        for leg in channel.legs
    }
    return flows | {PUMP: flowing.flow_m3_s}


def name_part_edge(part: str) -> str:
    """Return the name of a part's edge in the network."""
    return f"part {part}"


def name_leg_edge(channel: str, leg: str) -> str:
    """Return the name of a leg's edge in the network."""
    return f"{channel} / {leg}"


def port_bore(channel: Channel, port: PlacedPort) -> float:
    """Return the length of a port's bore between its mouth and the channel's wall, [mm].

    On an edge it ends at the channel's round end or side, elsewhere at its roof or floor.
    """
    if port.on in EDGES:
        return max(0.0, math.dist(port.at[:2], port.foot) - channel.width / 2)
    return max(0.0, port.depth - channel.depth / 2)


def pump_bore(panel: Panel, layer: Layer) -> float:
    """Return the length of a bore of the pump between its seat and its channel in a layer, [mm]."""
    z0, z1 = layer_z(panel, layer)
    face = face_z(panel, panel.pump.on)
    return max(0.0, (face - z1 if panel.pump.on == "front" else z0 - face) - panel.pump.seat_depth)


def list_hole_elements(panel: Panel, channel: Channel) -> tuple[Segment, ...]:
    """Return what a through hole of a channel consists of: the turn into its bore, the bore, the turn out of it.

    The two turns are those of ports, at the channel's section and the hole's bore. They stand close, which widens
    their band; no published shape has a round bore between two channels.

    Parameters
    ----------
    panel : Panel
    channel : Channel

    Returns
    -------
    tuple of Segment
        In flow order, in SI.
    """
    width, depth = channel.width / 1e3, channel.depth / 1e3
    bore = hole_bore(channel.width) / 1e3
    length = max(0.0, floor_thickness(panel.make.body, channel.depth)) / 1e3
    return (
        PortTurn("channel_to_bore", bore, width, depth, close=True),
        Bore(length, bore),
        PortTurn("bore_to_channel", bore, width, depth, close=True),
    )


def _node_of(end: str, ports: dict[str, PlacedPort]) -> str:
    port = ports.get(end)
    if port is not None:
        return TANK if port.part == TANK else end
    return TANK if end in (TANK_OUTLET, TANK_RETURN) else end


def _leg_elements(
    panel: Panel, channel: Channel, leg: Leg, ports: dict[str, PlacedPort]
) -> tuple[Segment, ...]:
    width, depth = channel.width / 1e3, channel.depth / 1e3
    elements = [*reversed(_end_elements(panel, channel, leg.start, leg.layer, ports))]
    for number, piece in enumerate(split_at_holes(leg.points, leg.holes)):
        if number > 0:
            elements += list_hole_elements(panel, channel)
        for k, straight in enumerate(split_leg(piece, channel.bend_radius)):
            if k > 0:
                elements.append(Bend(channel.bend_radius / 1e3, width, depth))
            if straight > SAME_MM:
                elements.append(Straight(straight / 1e3, width, depth))
    elements += _end_elements(panel, channel, leg.end, last_layer(leg), ports)
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
    panel: Panel, channel: Channel, end: str, layer: Layer, ports: dict[str, PlacedPort]
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
        into_channel, bore, length = False, panel.pump.inlet_bore, pump_bore(panel, "back")
    elif end == PUMP_OUTLET:
        into_channel, bore, length = True, panel.pump.outlet_bore, pump_bore(panel, layer)
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
