"""The independent check of a routing: exact outlines against each other, by distance, without the grid."""

from __future__ import annotations

import math
from itertools import combinations

import shapely

from geom.errors import GeometryError
from geom.frame import EDGES, WALL_MM
from geom.outline import Point, loop_polygon, outline_rectangle, outline_route, region_polygon
from geom.standards import tables
from layouts.clearance import clearances_of, port_axis_z, ports_apart, tank_z
from layouts.nets import DRAIN, FEED, TANK_RETURN
from layouts.panel import Panel
from layouts.place import pump_reach
from layouts.plan import Channel, PlacedPort, Routed

NEAR_FOOT = 1.0
"""About a shared end (the pump inlet for feed and drain) two channels are one within this many widths plus a gap."""


def verify_routed(panel: Panel, routed: Routed) -> tuple[str, ...]:
    """Return what is wrong with a routing; empty where all distances hold.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    tuple of str
        One sentence for each pair that stands too near, with the distance and the least, [mm].
    """
    problems: list[str] = []
    outlines: dict[str, shapely.Geometry] = {}
    for channel in routed.channels:
        try:
            outlines[channel.name] = _outline(channel)
        except GeometryError as error:
            problems.append(f'channel "{channel.name}": {error}')
    if problems:
        return tuple(problems)
    problems.extend(_check_feed(panel, routed))
    problems.extend(_check_channels(panel, routed, outlines))
    problems.extend(_check_surroundings(panel, routed, outlines))
    problems.extend(_check_ports(panel, routed, outlines))
    problems.extend(_check_ends(routed))
    return tuple(problems)


def _outline(channel: Channel) -> shapely.Geometry:
    return region_polygon(
        tuple(outline_route(run.points, channel.bend_radius, channel.width) for run in channel.runs)
    )


def _check_feed(panel: Panel, routed: Routed) -> list[str]:
    feed = routed.channel(FEED)
    (top, bottom) = feed.runs[0].points[0], feed.runs[0].points[-1]
    one_piece = len(feed.runs) == 1 and len(feed.runs[0].points) == 2
    if one_piece and top[0] == bottom[0] and top[1] > bottom[1] and bottom == routed.pump.inlet:
        return []
    return [f"the drop from ({top[0]:g}, {top[1]:g}) mm is not one straight column down to the pump inlet"]


def _check_channels(panel: Panel, routed: Routed, outlines: dict[str, shapely.Geometry]) -> list[str]:
    gap = clearances_of(panel).channel_gap
    out = []
    for a, b in combinations(routed.channels, 2):
        one, two = outlines[a.name], outlines[b.name]
        if {a.name, b.name} == {FEED, DRAIN}:
            # They are one at the pump inlet; beyond it they keep apart.
            drain = routed.channel(DRAIN)
            reach = panel.channel.width * NEAR_FOOT + gap
            disc = shapely.Point(routed.pump.inlet).buffer(reach)
            if not one.intersects(two):
                out.append("the drain does not meet the pump inlet")
            two = outlines[drain.name].difference(disc)
            one = outlines[FEED]
            if two.is_empty:
                continue
            have = one.distance(two)
            if have < min(gap, reach - panel.channel.width / 2) - WALL_MM:
                out.append(f'channels "{a.name}" and "{b.name}": {have:.3f} mm between them, {gap:g} needed')
            continue
        have = one.distance(two)
        if have < gap - WALL_MM:
            out.append(f'channels "{a.name}" and "{b.name}": {have:.3f} mm between them, {gap:g} needed')
    return out


def _check_surroundings(panel: Panel, routed: Routed, outlines: dict[str, shapely.Geometry]) -> list[str]:
    gaps = clearances_of(panel)
    sheet = shapely.box(0, 0, panel.width, panel.height).exterior
    tank = _tank_outline(routed)
    out = []
    for channel in routed.channels:
        have = outlines[channel.name].distance(sheet)
        if have < gaps.edge_gap - WALL_MM:
            out.append(f'channel "{channel.name}": {have:.3f} mm to the edge, {gaps.edge_gap:g} needed')
        for clear in panel.keep_clear:
            least = max(gaps.seal_reach, gaps.solid_gap)
            have = outlines[channel.name].distance(shapely.box(*clear.box))
            if have < least - WALL_MM:
                out.append(f'channel "{channel.name}": {have:.3f} mm to "{clear.name}", {least:g} needed')
        if tank is None:
            continue
        enters = channel.name == FEED or TANK_RETURN in channel.ends
        if enters and not outlines[channel.name].intersects(tank):
            out.append(f'channel "{channel.name}" does not reach the tank')
        if not enters:
            have = outlines[channel.name].distance(tank)
            if have < gaps.channel_gap - WALL_MM:
                out.append(
                    f'channel "{channel.name}": {have:.3f} mm to the tank, {gaps.channel_gap:g} needed'
                )
    return out


def _tank_outline(routed: Routed) -> shapely.Geometry | None:
    if routed.tank.box is None:
        return None
    return loop_polygon(outline_rectangle(*routed.tank.box, routed.tank.corner_radius))


def _bore(panel: Panel, port: PlacedPort) -> shapely.Geometry:
    """Return a port's bore in plan: a disc, or an edge bore's rectangle."""
    radius = tables.thread(port.thread).tap_drill / 2
    if port.on not in EDGES:
        return shapely.Point(port.foot).buffer(radius, quad_segs=64)
    start: Point = (port.at[0], port.at[1])
    reach = port.depth / max(math.dist(start, port.foot), 1e-9)
    end = (
        start[0] + (port.foot[0] - start[0]) * reach,
        start[1] + (port.foot[1] - start[1]) * reach,
    )
    return shapely.LineString([start, end]).buffer(radius, cap_style="flat")


def _check_ports(panel: Panel, routed: Routed, outlines: dict[str, shapely.Geometry]) -> list[str]:
    gaps = clearances_of(panel)
    wall = gaps.solid_gap
    tank = _tank_outline(routed)
    bores = {port.name: _bore(panel, port) for port in routed.ports}
    out = []
    for port in routed.ports:
        thread = tables.thread(port.thread)
        for channel in routed.channels:
            if channel.name == port.channel:
                continue
            have = bores[port.name].distance(outlines[channel.name])
            if have < wall - WALL_MM:
                out.append(f'port "{port.name}": {have:.3f} mm to channel "{channel.name}", {wall:g} needed')
        if tank is not None and port.channel != "tank" and bores[port.name].distance(tank) < wall - WALL_MM:
            out.append(f'port "{port.name}" stands within {wall:g} mm of the tank')
        out.extend(
            f'port "{port.name}" stands within {wall:g} mm of "{clear.name}"'
            for clear in panel.keep_clear
            if bores[port.name].distance(shapely.box(*clear.box)) < wall - WALL_MM
        )
        if port.on == panel.pump.on:
            least = pump_reach(panel) + thread.spanner_radius
            have = math.dist(port.foot, routed.pump.inlet)
            if have < least - WALL_MM:
                out.append(f'port "{port.name}": {have:.3f} mm from the pump\'s middle, {least:g} needed')
        if port.on not in EDGES and port.channel != "tank":
            edge = shapely.box(0, 0, panel.width, panel.height).exterior
            if shapely.Point(port.foot).distance(edge) < thread.collar / 2 - WALL_MM:
                out.append(f'port "{port.name}": its collar would stand over the panel\'s edge')
        for screw in routed.pump.screws if port.on in EDGES else ():
            radius = tables.screw(panel.pump.screw_size or "M4").diameter / 2
            deep = (tables.material(panel.make.material).engagement + 0.5) * 2 * radius
            above = port_axis_z(panel, thread, port.name) + thread.tap_drill / 2 + wall
            if above <= panel.make.body - deep:
                continue
            if bores[port.name].distance(shapely.Point(screw)) < radius + wall - WALL_MM:
                out.append(f'port "{port.name}" runs into a pump screw')
    for a, b in combinations(routed.ports, 2):
        one, two = tables.thread(a.thread), tables.thread(b.thread)
        if a.on == b.on:
            have, least = math.dist(a.at, b.at), ports_apart(one, two)
            if have < least - WALL_MM:
                out.append(f'ports "{a.name}" and "{b.name}": {have:.3f} mm apart, {least:g} needed')
        elif {a.on, b.on} != {"front", "back"} and bores[a.name].distance(bores[b.name]) < wall - WALL_MM:
            out.append(f'ports "{a.name}" and "{b.name}" come within {wall:g} mm of each other')
    if tank is not None and tank_z(panel)[1] > panel.make.body - panel.rules.least_wall:
        out.append(f"the tank is {panel.tank.depth:g} mm deep in a body of {panel.make.body:g} mm")
    return out


def _check_ends(routed: Routed) -> list[str]:
    """Every end of every channel is where its feature is."""
    places = {port.name: port.foot for port in routed.ports}
    places |= {"pump inlet": routed.pump.inlet, "pump outlet": routed.pump.outlet}
    out = []
    for channel in routed.channels:
        reached = {leg.start: leg.points[0] for leg in channel.legs} | {
            leg.end: leg.points[-1] for leg in channel.legs
        }
        for end in channel.ends:
            if end not in reached:
                out.append(f'channel "{channel.name}" does not reach "{end}"')
            elif end in places and math.dist(reached[end], places[end]) > WALL_MM:
                out.append(f'channel "{channel.name}" misses "{end}"')
    return out
