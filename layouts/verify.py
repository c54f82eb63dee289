"""The independent check of a routing: exact outlines against each other, by distance, without the grid."""

from __future__ import annotations

import math
from itertools import combinations, pairwise

import shapely

from geom.errors import GeometryError
from geom.frame import WALL_MM
from geom.outline import Point, outline_circle, region_polygon
from layouts.bore_checks import Outlines, check_ports, check_pump, say_where
from layouts.clearance import BACK_FROM_TEE, clearances_of, off_tank
from layouts.closing.wet_regions import joint_discs, outline_channel
from layouts.detail import end_layer
from layouts.faces import joints_of, layers_of
from layouts.layer_checks import check_floor, check_holes, check_pieces
from layouts.legs import last_layer
from layouts.nets import DRAIN, FEED
from layouts.outlines import (
    FINE_SAG,
    enters_tank,
    in_tank_region,
    measure_within,
    mouth_width,
    passes_floor,
    sheet_outline,
    tank_outline,
)
from layouts.panel import Panel
from layouts.plan import Channel, Layer, Routed

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
    layers: dict[Layer, Outlines] = {layer: {} for layer in layers_of(panel)}
    for channel in routed.channels:
        try:
            for layer, outlines in layers.items():
                outline = _outline(panel, routed, channel, layer)
                if not outline.is_empty:
                    outlines[channel.name] = outline
        except GeometryError as error:
            problems.append(f'channel "{channel.name}": {error}')
    if problems:
        return tuple(problems)
    problems.extend(_check_feed(panel, routed))
    for layer, outlines in layers.items():
        problems.extend(_check_channels(panel, routed, outlines, layer))
        problems.extend(_check_surroundings(panel, routed, outlines, layer))
    problems.extend(check_ports(panel, routed, layers))
    problems.extend(check_pump(panel, routed, layers))
    for channel in routed.channels:
        problems.extend(_check_itself(panel, channel))
    problems.extend(_check_ends(routed))
    if len(layers) > 1:
        problems.extend(check_floor(panel))
        problems.extend(check_holes(panel, routed))
        problems.extend(check_pieces(panel, routed))
    return tuple(problems)


def _outline(panel: Panel, routed: Routed, channel: Channel, layer: Layer) -> shapely.Geometry:
    """Return what a channel takes of a layer and its joint: its runs, and the bores that pass the joint."""
    loops = [*outline_channel(channel, 0.0, layer)]
    if layer in joints_of(panel):
        discs = joint_discs(panel, routed, layer)
        loops += [outline_circle(at, radius) for name, at, radius in discs if name == channel.name]
    return region_polygon(tuple(loops), FINE_SAG)


def _check_feed(panel: Panel, routed: Routed) -> list[str]:
    feed = routed.channel(FEED)
    (top, bottom) = feed.runs[0].points[0], feed.runs[0].points[-1]
    one_piece = len(feed.runs) == 1 and len(feed.runs[0].points) == 2 and feed.runs[0].layer == "back"
    if one_piece and top[0] == bottom[0] and top[1] > bottom[1] and bottom == routed.pump.inlet:
        return []
    return [f"the drop from ({top[0]:g}, {top[1]:g}) mm is not one straight column down to the pump inlet"]


def _check_channels(panel: Panel, routed: Routed, outlines: Outlines, layer: Layer) -> list[str]:
    gaps, tank = clearances_of(panel), tank_outline(routed)
    wall, where = gaps.solid_gap, say_where(panel, layer)
    out = []
    for a, b in combinations((channel for channel in routed.channels if channel.name in outlines), 2):
        one, two = outlines[a.name], outlines[b.name]
        gap = gaps.own_gap if in_tank_region(a) and in_tank_region(b) else gaps.channel_gap
        if layer == "back" and {a.name, b.name} == {FEED, DRAIN}:
            # They are one at the pump inlet; beyond it they keep apart.
            reach = max(a.width, b.width) * NEAR_FOOT + gap
            if not one.intersects(two):
                out.append("the drain does not meet the pump inlet")
            one = outlines[FEED]
            two = outlines[DRAIN].difference(shapely.Point(routed.pump.inlet).buffer(reach))
        elif layer == "back" and tank is not None and enters_tank(a) and enters_tank(b):
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
        have = measure_within(one, two, gap - WALL_MM)
        if have is not None:
            out.append(
                f'channels "{a.name}" and "{b.name}": {have:.3f} mm between them{where}, {gap:g} needed'
            )
    return out


def _check_surroundings(panel: Panel, routed: Routed, outlines: Outlines, layer: Layer) -> list[str]:
    gaps = clearances_of(panel)
    sheet = sheet_outline(panel)
    tank = tank_outline(routed)
    out = []
    if tank is not None and layer == "back":
        have = tank.distance(sheet.exterior) if sheet.contains(tank) else 0.0
        if have < gaps.edge_gap - WALL_MM:
            out.append(f"the tank: {have:.3f} mm to the edge, {gaps.edge_gap:g} needed")
    for channel in routed.channels:
        if channel.name not in outlines:
            continue
        inside = sheet.contains(outlines[channel.name])
        have = outlines[channel.name].distance(sheet.exterior) if inside else 0.0
        if have < gaps.edge_gap - WALL_MM:
            out.append(f'channel "{channel.name}": {have:.3f} mm to the edge, {gaps.edge_gap:g} needed')
        for clear in panel.keep_clear:
            least = max(gaps.seal_reach, gaps.solid_gap)
            have = measure_within(outlines[channel.name], shapely.box(*clear.box), least - WALL_MM)
            if have is not None:
                out.append(f'channel "{channel.name}": {have:.3f} mm to "{clear.name}", {least:g} needed')
        if tank is None:
            continue
        if layer == "front":
            least = off_tank(panel)
            have = measure_within(outlines[channel.name], tank, least - WALL_MM)
            if have is not None:
                out.append(
                    f'channel "{channel.name}": {have:.3f} mm to the tank in the front face, {least:g} needed, as '
                    "it is too deep to pass over it"
                )
        elif enters_tank(channel):
            if not outlines[channel.name].intersects(tank):
                out.append(f'channel "{channel.name}" does not reach the tank')
            elif channel.width > mouth_width(routed, channel) + WALL_MM:
                out.append(f'channel "{channel.name}" does not enter the tank between its corners')
        else:
            least = gaps.own_gap if in_tank_region(channel) else gaps.channel_gap
            have = measure_within(outlines[channel.name], tank, least - WALL_MM)
            if have is not None:
                out.append(f'channel "{channel.name}": {have:.3f} mm to the tank, {least:g} needed')
    return out


def _check_itself(panel: Panel, channel: Channel) -> list[str]:
    """A channel keeps the distance within a wet region to itself, but for what adjoins: a corner, a T."""
    least = channel.width + clearances_of(panel).own_gap
    legs: list[tuple[int, int, shapely.LineString]] = []
    for number, run in enumerate(channel.runs):
        legs.extend(
            (number, place, shapely.LineString(pair)) for place, pair in enumerate(pairwise(run.points))
        )
    out = []
    for (run_a, leg_a, a), (run_b, leg_b, b) in combinations(legs, 2):
        one, two = channel.runs[run_a], channel.runs[run_b]
        # The last leg of a later run is the stub of its T, unless a through hole or an end follows.
        stub = run_a != run_b and leg_b == len(two.points) - 2 and _ends_at_tee(channel, two.points[-1])
        if one.layer != two.layer or stub or (run_a == run_b and abs(leg_a - leg_b) < 2):
            continue
        have = measure_within(a, b, least - WALL_MM)
        if have is not None:
            x, y = b.centroid.x, b.centroid.y
            out.append(
                f'channel "{channel.name}" comes back to itself near ({x:.0f}, {y:.0f}) mm: '
                f"{max(0.0, have - channel.width):.3f} mm between, {least - channel.width:g} needed"
            )
    return out


def _ends_at_tee(channel: Channel, end: Point) -> bool:
    """Return whether the last point of a run is that of a branch at a T."""
    reach = BACK_FROM_TEE * channel.width + WALL_MM
    return any(math.dist(junction.at, end) <= reach for junction in channel.junctions)


def _check_ends(routed: Routed) -> list[str]:
    """Every end of every channel is where its feature is."""
    places = {port.name: port.foot for port in routed.ports}
    places |= {"pump inlet": routed.pump.inlet, "pump outlet": routed.pump.outlet}
    out = []
    for channel in routed.channels:
        reached = {leg.start: leg.points[0] for leg in channel.legs} | {
            leg.end: leg.points[-1] for leg in channel.legs
        }
        lying = {leg.start: leg.layer for leg in channel.legs} | {
            leg.end: last_layer(leg) for leg in channel.legs
        }
        for end in channel.ends:
            if end not in reached:
                out.append(f'channel "{channel.name}" does not reach "{end}"')
            elif end in places and math.dist(reached[end], places[end]) > WALL_MM:
                out.append(f'channel "{channel.name}" misses "{end}"')
            elif lying[end] != end_layer(routed, end):
                out.append(f'channel "{channel.name}" passes "{end}" in the {lying[end]} face')
    return out
