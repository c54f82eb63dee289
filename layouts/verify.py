"""The independent check of a routing: exact outlines against each other, by distance, without the grid."""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import combinations, pairwise

import shapely

from geom.errors import GeometryError
from geom.frame import EDGES, SAME_MM, WALL_MM
from geom.outline import (
    Point,
    loop_polygon,
    outline_circle,
    outline_rectangle,
    outline_route,
    region_polygon,
)
from geom.standards import tables
from layouts.clearance import INTO_TANK, channel_z, clearances_of, port_axis_z, ports_apart, tank_z
from layouts.detail import tapped_depth
from layouts.nets import DRAIN, FEED, TANK_OUTLET, TANK_RETURN
from layouts.panel import Box, Panel
from layouts.place import pump_reach
from layouts.plan import Channel, PlacedPort, Routed
from layouts.seal import joint_discs, pump_bores

FINE_SAG = 5e-4
"""Sagitta of the outlines measured here, [mm]: a distance is then right to 0.7 um, under `WALL_MM`."""

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
            outlines[channel.name] = _outline(panel, routed, channel)
        except GeometryError as error:
            problems.append(f'channel "{channel.name}": {error}')
    if problems:
        return tuple(problems)
    problems.extend(_check_feed(panel, routed))
    problems.extend(_check_channels(panel, routed, outlines))
    problems.extend(_check_surroundings(panel, routed, outlines))
    problems.extend(_check_ports(panel, routed, outlines))
    problems.extend(_check_pump(panel, routed, outlines))
    for channel in routed.channels:
        problems.extend(_check_itself(panel, channel))
    problems.extend(_check_ends(routed))
    return tuple(problems)


def _outline(panel: Panel, routed: Routed, channel: Channel) -> shapely.Geometry:
    """Return what a channel takes of the joint face: its runs, and the bores that pass the joint."""
    loops = [outline_route(run.points, channel.bend_radius, channel.width) for run in channel.runs]
    if panel.make.closing != "one-piece":
        discs = joint_discs(panel, routed)
        loops += [outline_circle(at, radius) for name, at, radius in discs if name == channel.name]
    return region_polygon(tuple(loops), FINE_SAG)


def sheet_outline(panel: Panel) -> shapely.Geometry:
    """Return the panel in plan, as fine as what is measured here."""
    return loop_polygon(outline_rectangle(0.0, 0.0, panel.width, panel.height, panel.corner_radius), FINE_SAG)


def _check_feed(panel: Panel, routed: Routed) -> list[str]:
    feed = routed.channel(FEED)
    (top, bottom) = feed.runs[0].points[0], feed.runs[0].points[-1]
    one_piece = len(feed.runs) == 1 and len(feed.runs[0].points) == 2
    if one_piece and top[0] == bottom[0] and top[1] > bottom[1] and bottom == routed.pump.inlet:
        return []
    return [f"the drop from ({top[0]:g}, {top[1]:g}) mm is not one straight column down to the pump inlet"]


def _check_channels(panel: Panel, routed: Routed, outlines: dict[str, shapely.Geometry]) -> list[str]:
    gaps, tank = clearances_of(panel), tank_outline(routed)
    gap, wall = gaps.channel_gap, gaps.solid_gap
    out = []
    for a, b in combinations(routed.channels, 2):
        one, two = outlines[a.name], outlines[b.name]
        if {a.name, b.name} == {FEED, DRAIN}:
            # They are one at the pump inlet; beyond it they keep apart.
            reach = max(a.width, b.width) * NEAR_FOOT + gap
            if not one.intersects(two):
                out.append("the drain does not meet the pump inlet")
            one = outlines[FEED]
            two = outlines[DRAIN].difference(shapely.Point(routed.pump.inlet).buffer(reach))
        elif tank is not None and enters_tank(a) and enters_tank(b):
            # Inside the tank they are one.
            have = one.distance(two)
            if passes_floor(panel) and have < wall - WALL_MM:
                out.append(
                    f'channels "{a.name}" and "{b.name}": {have:.3f} mm between them under the tank\'s floor, '
                    f"{wall:g} needed"
                )
            one, two = one.difference(tank), two.difference(tank)
        if one.is_empty or two.is_empty:
            continue
        have = one.distance(two)
        if have < gap - WALL_MM:
            out.append(f'channels "{a.name}" and "{b.name}": {have:.3f} mm between them, {gap:g} needed')
    return out


def _check_surroundings(panel: Panel, routed: Routed, outlines: dict[str, shapely.Geometry]) -> list[str]:
    gaps = clearances_of(panel)
    sheet = sheet_outline(panel)
    tank = tank_outline(routed)
    out = []
    if tank is not None:
        have = tank.distance(sheet.exterior) if sheet.contains(tank) else 0.0
        if have < gaps.edge_gap - WALL_MM:
            out.append(f"the tank: {have:.3f} mm to the edge, {gaps.edge_gap:g} needed")
    for channel in routed.channels:
        inside = sheet.contains(outlines[channel.name])
        have = outlines[channel.name].distance(sheet.exterior) if inside else 0.0
        if have < gaps.edge_gap - WALL_MM:
            out.append(f'channel "{channel.name}": {have:.3f} mm to the edge, {gaps.edge_gap:g} needed')
        for clear in panel.keep_clear:
            least = max(gaps.seal_reach, gaps.solid_gap)
            have = outlines[channel.name].distance(shapely.box(*clear.box))
            if have < least - WALL_MM:
                out.append(f'channel "{channel.name}": {have:.3f} mm to "{clear.name}", {least:g} needed')
        if tank is None:
            continue
        if enters_tank(channel):
            if not outlines[channel.name].intersects(tank):
                out.append(f'channel "{channel.name}" does not reach the tank')
            elif channel.width > mouth_width(routed, channel) + WALL_MM:
                out.append(f'channel "{channel.name}" does not enter the tank between its corners')
        else:
            have = outlines[channel.name].distance(tank)
            if have < gaps.channel_gap - WALL_MM:
                out.append(
                    f'channel "{channel.name}": {have:.3f} mm to the tank, {gaps.channel_gap:g} needed'
                )
    return out


def enters_tank(channel: Channel) -> bool:
    """Return whether a channel has an end at the tank; a separate tank's are ports."""
    return TANK_OUTLET in channel.ends or TANK_RETURN in channel.ends


def list_tank_ends(channel: Channel) -> tuple[tuple[Point, Point], ...]:
    """Return where a channel's ends meet the tank, each with the corner or end before it, [mm]."""
    return tuple(
        (at, before)
        for leg in channel.legs
        for end, at, before in (
            (leg.start, leg.points[0], leg.points[1]),
            (leg.end, leg.points[-1], leg.points[-2]),
        )
        if end in (TANK_OUTLET, TANK_RETURN)
    )


def passes_floor(panel: Panel) -> bool:
    """Return whether channels are cut deeper than the pocket tank: walls then stand between their drawn ends."""
    (z0, z1), (floor, ceiling) = channel_z(panel), tank_z(panel)
    return z0 < floor - SAME_MM or z1 > ceiling + SAME_MM


def mouth_width(routed: Routed, channel: Channel) -> float:
    """Return the greatest width at which a channel enters a pocket tank on the straight of a wall, [mm].

    Its round end has to lie inside the tank too.
    """
    box, corner = routed.tank.box, routed.tank.corner_radius
    if box is None:
        return math.inf
    most = math.inf
    for at, before in list_tank_ends(channel):
        along = 1 if abs(at[0] - before[0]) > abs(at[1] - before[1]) else 0
        low, high = box[along] + corner, box[along + 2] - corner
        across = box[3 - along] - box[1 - along]
        most = min(most, 2 * (at[along] - low), 2 * (high - at[along]), across / (INTO_TANK + 0.5))
    return most


def tank_outline(routed: Routed) -> shapely.Geometry | None:
    """Return the pocket tank in plan, as fine as what is measured here; None for a separate tank."""
    if routed.tank.box is None:
        return None
    return _outline_box(routed.tank.box, routed.tank.corner_radius)


@lru_cache(maxsize=64)
def _outline_box(box: Box, corner_radius: float) -> shapely.Polygon:
    return loop_polygon(outline_rectangle(*box, corner_radius), FINE_SAG)


def outline_bore(port: PlacedPort) -> shapely.Geometry:
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
    sheet, tank = sheet_outline(panel), tank_outline(routed)
    bores = {port.name: outline_bore(port) for port in routed.ports}
    # A channel's end and a fill bore may meet inside the tank.
    outside = {
        name: outline.difference(tank)
        if tank is not None and enters_tank(routed.channel(name)) and not passes_floor(panel)
        else outline
        for name, outline in outlines.items()
    }
    out = []
    for port in routed.ports:
        thread = tables.thread(port.thread)
        # A round bore is measured from its axis: quicker, and exact.
        round_bore = port.on not in EDGES
        core = shapely.Point(port.foot) if round_bore else bores[port.name]
        around = outlines if port.channel != "tank" else outside
        apart = shapely.distance([*around.values()], core) - (thread.tap_drill / 2 if round_bore else 0.0)
        for name, have in zip(outlines, apart, strict=True):
            if name != port.channel and have < wall - WALL_MM:
                out.append(f'port "{port.name}": {have:.3f} mm to channel "{name}", {wall:g} needed')
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
        if port.channel == "tank" and (tank is None or not bores[port.name].intersects(tank)):
            out.append(f'port "{port.name}" misses the tank')
        if port.on not in EDGES:
            foot = shapely.Point(port.foot)
            if not sheet.contains(foot) or foot.distance(sheet.exterior) < thread.collar / 2 - WALL_MM:
                out.append(f'port "{port.name}": its collar would stand over the panel\'s edge')
        for screw in routed.pump.screws if port.on in EDGES else ():
            row = tables.screw(panel.pump.screw_size or "M4")
            radius, deep = row.diameter / 2, tapped_depth(panel, row)
            above = port_axis_z(panel, thread, port.name) + thread.tap_drill / 2 + wall
            if panel.pump.on == "back" or above <= panel.make.body - deep:
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


def _check_pump(panel: Panel, routed: Routed, outlines: dict[str, shapely.Geometry]) -> list[str]:
    """The pump's bores keep off other channels, its seat and screws off keep-clear regions and the edge."""
    wall, pump = panel.rules.least_wall, panel.pump
    inlet = shapely.Point(routed.pump.inlet)
    out = []
    for end, at, bore in pump_bores(panel, routed):
        for name, outline in outlines.items():
            have = outline.distance(shapely.Point(at)) - bore / 2
            if end not in routed.channel(name).ends and have < wall - WALL_MM:
                out.append(f'the bore of the {end}: {have:.3f} mm to channel "{name}", {wall:g} needed')
    for clear in panel.keep_clear:
        box = shapely.box(*clear.box)
        if inlet.distance(box) < pump.seat_diameter / 2 - WALL_MM:
            out.append(f'the pump\'s seat lies over "{clear.name}"')
        if pump.screw_size is not None:
            least = tables.screw(pump.screw_size).diameter / 2 + wall
            if any(shapely.Point(at).distance(box) < least - WALL_MM for at in routed.pump.screws):
                out.append(f'a pump screw comes within {wall:g} mm of "{clear.name}"')
    if pump.screw_size is not None:
        inside = sheet_outline(panel).buffer(-tables.screw(pump.screw_size).diameter / 2 - wall + WALL_MM)
        if not all(inside.contains(shapely.Point(at)) for at in routed.pump.screws):
            out.append(f"a pump screw comes within {wall:g} mm of the panel's edge")
    return out


def _check_itself(panel: Panel, channel: Channel) -> list[str]:
    """A channel keeps the distance between channels to itself, but for what adjoins: a corner, a T."""
    least = channel.width + clearances_of(panel).channel_gap
    legs: list[tuple[int, int, shapely.LineString]] = []
    for number, run in enumerate(channel.runs):
        legs.extend(
            (number, place, shapely.LineString(pair)) for place, pair in enumerate(pairwise(run.points))
        )
    out = []
    for (run_a, leg_a, a), (run_b, leg_b, b) in combinations(legs, 2):
        # The last leg of a later run is the stub of its T.
        stub = run_a != run_b and leg_b == len(channel.runs[run_b].points) - 2
        if stub or (run_a == run_b and abs(leg_a - leg_b) < 2):
            continue
        have = a.distance(b)
        if have < least - WALL_MM:
            x, y = b.centroid.x, b.centroid.y
            out.append(
                f'channel "{channel.name}" comes back to itself near ({x:.0f}, {y:.0f}) mm: '
                f"{max(0.0, have - channel.width):.3f} mm between, {least - channel.width:g} needed"
            )
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
