"""From a routing on the grid to the plan's values: channels with runs and legs, placed ports, tank and pump."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from geom.errors import LayoutError
from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from geom.standards import tables
from layouts.clearance import (
    BACK_FROM_TEE,
    INTO_TANK,
    back_from_inlet,
    edge_mouth,
    feed_width,
    port_axis_z,
    port_bore_length,
    tank_z,
)
from layouts.faces import face_z
from layouts.ground import Ground
from layouts.nets import DRAIN, FEED, PUMP_INLET, PUMP_OUTLET, TANK_OUTLET, TANK_RETURN, ChannelNeed
from layouts.panel import Panel, Port
from layouts.place import Placement
from layouts.plan import (
    Channel,
    Junction,
    Layer,
    Leg,
    PlacedPort,
    PlacedPump,
    PlacedTank,
    Routed,
    Run,
)
from layouts.routing.one_channel.runs import HOLE, TEE
from layouts.routing.one_channel.trace import Trace
from layouts.routing.solve import describe_proof
from layouts.tank import find_fill, tank_corner_radius
from layouts.terrain import Terrain

LAYERS: tuple[Layer, Layer] = ("back", "front")
"""Of the instance's layers 0 and 1."""


@dataclass(frozen=True, slots=True)
class _Piece:
    """A piece of a channel between two ends or junctions; `layer` is that of its first point."""

    first: str
    last: str
    points: tuple[Point, ...]
    layer: int
    holes: tuple[int, ...]

    def layer_at(self, number: int) -> int:
        """Return the layer behind the point of this number."""
        return (self.layer + sum(hole <= number for hole in self.holes)) % 2


def to_routed(terrain: Terrain, traces: tuple[Trace, ...], bound: float | None) -> Routed:
    """Return a routing as the plan's values.

    Parameters
    ----------
    terrain : Terrain
    traces : tuple of Trace
        In the order of the instance's nets; channels whose routes are kept stand in the terrain.
    bound : float or None
        No layout of the panel costs less, in the units of the panel's costs.

    Returns
    -------
    Routed
        Not yet verified.
    """
    ground, placement = terrain.ground, terrain.placement
    panel, costs = ground.panel, ground.costs
    ports: list[PlacedPort] = []
    channels = [_feed(panel, placement)]
    if panel.tank.outlet is not None:
        ports.append(place_port(panel, panel.tank.outlet, placement.top, channels[0], "back"))
    outlet_layer: Layer = "back"
    routes = dict(zip((need.name for need in terrain.needs), traces, strict=True))
    routes |= dict(zip((one.need.name for one in ground.kept), terrain.kept, strict=True))
    for need in ground.asked:
        trace = routes[need.name]
        channel = _as_channel(ground, placement, need, trace)
        channels.append(channel)
        for end, terminal in zip(need.ends, trace.chosen, strict=True):
            layer = LAYERS[terminal.cell // ground.grid.cells]
            if end.port is not None:
                foot = ground.grid.point_of(terminal.node % ground.grid.cells)
                ports.append(place_port(panel, end.port, foot, channel, layer))
            elif end.name == PUMP_OUTLET:
                outlet_layer = layer
    if panel.tank.fill is not None and placement.box is not None:
        ports.append(place_fill_port(panel, placement, panel.tank.fill))
    cost = terrain.feed + sum(trace.cost for trace in traces)
    drain = routes[DRAIN].cost if DRAIN in routes else 0.0
    known = bound is not None and math.isfinite(bound)
    return Routed(
        ports=tuple(ports),
        tank=PlacedTank(placement.box, placement.top, tank_corner_radius(panel)),
        pump=PlacedPump(
            placement.inlet, placement.outlet, placement.turn_deg, placement.screws, outlet_layer
        ),
        channels=tuple(channels),
        cost=cost * costs.unit_pa,
        bound=bound * costs.unit_pa if bound is not None and known else None,
        gap=max(0.0, (cost - bound) / cost) if bound is not None and known else None,
        status=describe_proof(cost, bound),
        channels_pa=(cost - drain) * costs.unit_pa,
        design_flow_m3_s=costs.flow_m3_s,
    )


def _feed(panel: Panel, placement: Placement) -> Channel:
    top, inlet, width = placement.top, placement.inlet, feed_width(panel)
    inside = (top[0], top[1] + INTO_TANK * width) if placement.box is not None else top
    leg = Leg(f"{FEED} leg 1", TANK_OUTLET, PUMP_INLET, (top, inlet))
    return _channel(panel, FEED, (TANK_OUTLET, PUMP_INLET), (Run((inside, inlet)),), (leg,), (), width)


def _channel(
    panel: Panel,
    name: str,
    ends: tuple[str, ...],
    runs: tuple[Run, ...],
    legs: tuple[Leg, ...],
    junctions: tuple[Junction, ...],
    width: float,
    holes: tuple[Point, ...] = (),
) -> Channel:
    section = panel.channel
    return Channel(name, ends, runs, legs, junctions, width, section.depth, section.bend_radius, holes)


def _as_channel(ground: Ground, placement: Placement, need: ChannelNeed, trace: Trace) -> Channel:
    names = tuple(end.name for end in need.ends)
    width, pitch = ground.costs.channels[need.name].width, ground.grid.pitch
    runs: list[Run] = []
    pieces: list[_Piece] = []
    tees: list[tuple[str, Point]] = []
    way: list[Point] = []
    holes: list[int] = []
    first = ""
    for grid_run in trace.runs:
        points = [(c * pitch, r * pitch) for c, r in grid_run.corners]
        drawn = list(points)
        for number, at, towards in ((grid_run.first, 0, 1), (grid_run.last, -1, -2)):
            if number >= 0 and names[number] == TANK_RETURN and placement.box is not None:
                points[at], drawn[at] = _into_tank(points[at], points[towards], placement.box, width)
        if grid_run.first >= 0:
            first = names[grid_run.first]
            if first == PUMP_INLET and need.name == DRAIN:
                back = back_from_inlet(ground.panel, width, feed_width(ground.panel))
                drawn[0] = _shift(drawn[0], drawn[1], back * width)
        if grid_run.last == TEE:
            drawn[-1] = _shift(drawn[-1], drawn[-2], BACK_FROM_TEE * width)
        runs.append(Run(tuple(drawn), LAYERS[grid_run.layer]))
        if grid_run.first == HOLE:
            holes.append(len(way) - 1)
            way.extend(points[1:])
        else:
            way, holes = points, []
        if grid_run.last == HOLE:
            continue
        layer = (grid_run.layer + len(holes)) % 2
        last = names[grid_run.last] if grid_run.last != TEE else f"{need.name} junction {len(tees) + 1}"
        if grid_run.last == TEE:
            tees.append((last, way[-1]))
            _split(pieces, way[-1], grid_run.layer, last)
        pieces.append(_Piece(first, last, tuple(way), layer, tuple(holes)))
    legs = _legs(need, pieces)
    junctions = tuple(_junction(name, at, legs) for name, at in tees)
    through = tuple(ground.grid.point_of(cell) for cell in trace.holes)
    return _channel(ground.panel, need.name, names, tuple(runs), legs, junctions, width, through)


def _shift(point: Point, towards: Point, by: float) -> Point:
    length = math.dist(point, towards)
    return (
        point[0] + (towards[0] - point[0]) * by / length,
        point[1] + (towards[1] - point[1]) * by / length,
    )


def _into_tank(
    node: Point, towards: Point, box: tuple[float, float, float, float], width: float
) -> tuple[Point, Point]:
    """Return where a channel's centreline meets the tank's wall, and where its drawn end lies inside."""
    inside = INTO_TANK * width
    if abs(node[1] - towards[1]) < SAME_MM:
        wall_x = box[0] if towards[0] < box[0] else box[2]
        inwards = 1.0 if towards[0] < box[0] else -1.0
        return (wall_x, node[1]), (wall_x + inwards * inside, node[1])
    wall_y = box[1] if towards[1] < box[1] else box[3]
    inwards = 1.0 if towards[1] < box[1] else -1.0
    return (node[0], wall_y), (node[0], wall_y + inwards * inside)


def _split(pieces: list[_Piece], at: Point, layer: int, name: str) -> None:
    """Split the piece on which a junction lies into two, in place."""
    for n, piece in enumerate(pieces):
        for k, (a, b) in enumerate(pairwise(piece.points)):
            on = abs(math.dist(a, at) + math.dist(at, b) - math.dist(a, b)) < SAME_MM
            if on and piece.layer_at(k) == layer:
                before = tuple(hole for hole in piece.holes if hole <= k)
                after = tuple(hole - k for hole in piece.holes if hole > k)
                pieces[n : n + 1] = [
                    _Piece(piece.first, name, (*piece.points[: k + 1], at), piece.layer, before),
                    _Piece(name, piece.last, (at, *piece.points[k + 1 :]), layer, after),
                ]
                return
    raise LayoutError(f"the T at ({at[0]:g}, {at[1]:g}) mm does not lie on its channel")


def _legs(need: ChannelNeed, pieces: list[_Piece]) -> tuple[Leg, ...]:
    """Return the pieces as legs, each turned the way coolant would flow if all ends shared alike."""
    sources = [end.name for end in need.ends[: need.sources]]
    sinks = [end.name for end in need.ends[need.sources :]]
    share = {name: 1.0 / len(sources) for name in sources} | {name: -1.0 / len(sinks) for name in sinks}
    legs = []
    for n, piece in enumerate(pieces):
        others = pieces[:n] + pieces[n + 1 :]
        near, grew = {piece.first}, True
        while grew:
            grew = False
            for other in others:
                if (other.first in near) != (other.last in near):
                    near |= {other.first, other.last}
                    grew = True
        forward = sum(share.get(name, 0.0) for name in near) >= -1e-9
        name = f"{need.name} leg {n + 1}"
        if forward:
            layer, holes = piece.layer, piece.holes
            legs.append(Leg(name, piece.first, piece.last, piece.points, LAYERS[layer], holes))
            continue
        end = len(piece.points) - 1
        layer, holes = piece.layer_at(end), tuple(end - hole for hole in reversed(piece.holes))
        legs.append(Leg(name, piece.last, piece.first, piece.points[::-1], LAYERS[layer], holes))
    return tuple(legs)


def _junction(name: str, at: Point, legs: tuple[Leg, ...]) -> Junction:
    """Return the T at a point: the two legs in line, and the one across."""
    ways: list[tuple[str, Point]] = []
    for leg in legs:
        if leg.start == name:
            ways.append((leg.name, _direction(leg.points[0], leg.points[1])))
        if leg.end == name:
            ways.append((leg.name, _direction(leg.points[-1], leg.points[-2])))
    for n, (branch, across) in enumerate(ways):
        (one, a), (two, b) = [way for m, way in enumerate(ways) if m != n]
        if a[0] * b[0] + a[1] * b[1] < -0.5 and abs(a[0] * across[0] + a[1] * across[1]) < 0.5:
            return Junction(name, at, (one, two), branch)
    raise LayoutError(f"{name} at ({at[0]:g}, {at[1]:g}) mm is not a T")


def _direction(a: Point, b: Point) -> Point:
    length = math.dist(a, b)
    return (b[0] - a[0]) / length, (b[1] - a[1]) / length


def place_port(panel: Panel, port: Port, foot: Point, channel: Channel, layer: Layer) -> PlacedPort:
    """Return a port with its place.

    Parameters
    ----------
    panel : Panel
    port : Port
    foot : (float, float)
        Where its axis meets the channel's end in plan, [mm].
    channel : Channel
        It opens into; its name and width count.
    layer : {"back", "front"}
        That of the channel's end.
    """
    inset = math.dist(edge_mouth(panel, port.on, foot), foot)
    if port.on in EDGES:
        x, y = edge_mouth(panel, port.on, foot)
        at = (x, y, port_axis_z(panel, tables.thread(port.thread), port.key, layer))
    else:
        at = (*foot, face_z(panel, port.on))
    depth = port_bore_length(panel, port.on, inset, channel.width, layer)
    return PlacedPort(
        port.name, port.part, port.role, port.thread, port.on, at, foot, channel.name, depth, layer
    )


def place_fill_port(panel: Panel, placement: Placement, fill: Port) -> PlacedPort:
    """Return the fill port of a pocket tank with its place.

    Parameters
    ----------
    panel : Panel
    placement : Placement
        Of tank and pump.
    fill : Port

    Raises
    ------
    LayoutError
        It misses the tank.
    """
    bore = find_fill(panel, placement.box)
    if bore is None:
        raise LayoutError(f"{panel.at_line(fill.key)}: the fill port misses the tank")
    thread = tables.thread(fill.thread)
    if fill.on in EDGES:
        z = port_axis_z(panel, thread, fill.key)
        depth = math.dist(bore.mouth, bore.end)
    else:
        z = face_z(panel, fill.on)
        depth = abs(z - sum(tank_z(panel)) / 2)
    return PlacedPort(
        fill.name, "tank", "fill", fill.thread, fill.on, (*bore.mouth, z), bore.end, "tank", depth
    )
