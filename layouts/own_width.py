"""What a channel's own bends, Ts, ports and ends allow it in width; and how its drawn ends move with it."""

from __future__ import annotations

import math
from itertools import combinations, pairwise

import shapely

from geom.frame import EDGES, SAME_MM, Face
from geom.outline import Point
from geom.standards import tables
from layouts.clearance import BACK_FROM_TEE, INTO_TANK, Clearances, back_from_inlet, clearances_of, feed_width
from layouts.closing.cords import corner_fillet
from layouts.closing.wet_regions import pump_bores, pump_layer
from layouts.faces import bore_layers, layers_of, passes_joint
from layouts.legs import find_corner, last_layer
from layouts.nets import DRAIN, FEED
from layouts.outlines import enters_tank, list_tank_ends, mouth_width, outline_bore, tank_outline
from layouts.panel import Panel
from layouts.plan import Channel, Junction, Layer, PlacedPort, Routed

PRINTED_INNER = 0.5
"""Least inner radius of a printed bend, [mm], as the file's check asks; common practice, no source."""


def anchor_points(panel: Panel, routed: Routed, channel: Channel) -> tuple[tuple[Point, float], ...]:
    """Return where the drawn ends of a channel move with its width: (true end, shift in widths outwards)."""
    anchors = [(junction.at, -BACK_FROM_TEE) for junction in channel.junctions]
    if channel.name == DRAIN:
        feed = next((each.width for each in routed.channels if each.name == FEED), feed_width(panel))
        anchors.append((routed.pump.inlet, -back_from_inlet(panel, channel.width, feed)))
    if routed.tank.box is not None:
        anchors += [(at, INTO_TANK) for at, _ in list_tank_ends(channel)]
    return tuple(anchors)


def find_anchor(
    anchors: tuple[tuple[Point, float], ...], end: Point, width: float
) -> tuple[Point, float] | None:
    """Return the anchor that the drawn end of a channel of `width` belongs to; None for ports and pump."""
    for at, shift in anchors:
        if math.dist(at, end) <= abs(shift) * width + SAME_MM:
            return at, shift
    return None


_Leg = tuple[int, int, shapely.LineString]
"""A straight piece of a run: the run's number, its place in the run, its centreline corner to corner."""


def bound_itself(panel: Panel, routed: Routed, channel: Channel) -> float:
    """Return the greatest width that a channel's own bends, legs, ports and ends allow, [mm].

    Parameters
    ----------
    panel : Panel
    routed : Routed
    channel : Channel
        One of `routed`.

    Returns
    -------
    float
        Less than the channel has where it stands nearer to itself than channels do.
    """
    most = min(
        mouth_width(routed, channel),
        _bound_bends(panel, routed, channel),
        _bound_tees(panel, channel),
    )
    for layer in layers_of(panel):
        legs = [
            (number, place, shapely.LineString(pair))
            for number, run in enumerate(channel.runs)
            if run.layer == layer
            for place, pair in enumerate(pairwise(run.points))
        ]
        most = min(
            most,
            _bound_legs(panel, routed, channel, legs, layer),
            _bound_ports(panel, routed, channel, legs, layer),
        )
    return most


def _bound_bends(panel: Panel, routed: Routed, channel: Channel) -> float:
    """Return the greatest width at which bends keep their inner radius, and straights before drawn ends hold."""
    radius, most = channel.bend_radius, math.inf
    if any(find_corner(run.points) is not None for run in channel.runs):
        most = 2 * (radius - _inner_radius(panel))
    anchors = tuple(anchor for anchor in anchor_points(panel, routed, channel) if anchor[1] < 0)
    for run in channel.runs:
        points = run.points
        for end, before in ((points[0], points[1]), (points[-1], points[-2])):
            anchor = find_anchor(anchors, end, channel.width)
            if anchor is not None and len(points) > 2:
                # A wider drain may stop nearer, but none stops further off.
                most = min(most, (math.dist(anchor[0], before) - radius) / BACK_FROM_TEE)
    return most


def _bound_legs(panel: Panel, routed: Routed, channel: Channel, legs: list[_Leg], layer: Layer) -> float:
    """Return the greatest width at which legs that do not adjoin keep apart, and off the tank they enter."""
    gap, most = clearances_of(panel).own_gap, math.inf
    for one, two in combinations(legs, 2):
        apart = one[2].distance(two[2])
        # What is nearer than a width meets in a T.
        if apart > channel.width and not _adjoin(one, two):
            most = min(most, apart - gap)
    box = tank_outline(routed)
    if box is not None and enters_tank(channel) and layer == "back":
        within = [leg for leg in legs if leg[2].intersects(box)]
        for leg in legs:
            if not any(_adjoin(leg, other) for other in within):
                most = min(most, 2 * (leg[2].distance(box) - gap))
    return most


def _bound_ports(panel: Panel, routed: Routed, channel: Channel, legs: list[_Leg], layer: Layer) -> float:
    """Return the greatest width at which walls stand between a channel's ports and legs that pass them by.

    And at which the bore of an edge port holds the short thread before the channel's round end.
    """
    gaps, most = clearances_of(panel), math.inf
    ports = [port for port in routed.ports if port.channel == channel.name]
    bores = [
        (port.foot, *spare_bore(port, _off_bore(gaps, panel, port.on, port.layer, layer)), port.layer)
        for port in ports
        if layer in port_layers(panel, port)
    ]
    bores += [
        (
            at,
            shapely.Point(at),
            bore / 2 + _off_bore(gaps, panel, panel.pump.on, pump_layer(routed, end), layer),
            pump_layer(routed, end),
        )
        for end, at, bore in pump_bores(panel, routed)
        if end in channel.ends
        and layer in bore_layers(panel, panel.pump.on, pump_layer(routed, end), 0.0, 0.0)
    ]
    for foot, shape, least, opens in bores:
        # Where a bore only passes a layer, even the leg that ends there would be one that it must keep off.
        own = [
            leg for leg in legs if opens == layer and leg[2].distance(shapely.Point(foot)) < channel.width / 2
        ]
        for leg in legs:
            if not any(_adjoin(leg, other) for other in own):
                most = min(most, 2 * (shape.distance(leg[2]) - least))
    for port in ports:
        if port.on in EDGES and port.layer == layer:
            thread = tables.thread(port.thread)
            most = min(most, 2 * (math.dist(port.at[:2], port.foot) - thread.short_thread - thread.pitch))
    return most


def _adjoin(one: _Leg, two: _Leg) -> bool:
    """Return whether two legs of a channel are the same, or meet in a bend."""
    return one[0] == two[0] and abs(one[1] - two[1]) < 2


def _bound_tees(panel: Panel, channel: Channel) -> float:
    """Return the greatest width at which a groove's corners at the Ts of a channel are as round as a cord asks.

    From the other centreline to the next bend or end, each way from a T holds half a channel, land, groove and
    the corner's radius.
    """
    if panel.make.closing != "cord":
        return math.inf
    gaps = clearances_of(panel)
    corner = gaps.land + gaps.groove_width + corner_fillet(panel)
    most = math.inf
    for junction in channel.junctions:
        layer = junction_layer(channel, junction)
        for run in channel.runs:
            points, last = run.points, len(run.points) - 1
            for place, (a, b) in enumerate(pairwise(points)):
                if (
                    shapely.LineString((a, b)).distance(shapely.Point(junction.at))
                    > BACK_FROM_TEE * channel.width + SAME_MM
                    or run.layer != layer
                ):
                    continue
                for way, end in ((a, place == 0), (b, place + 1 == last)):
                    straight = math.dist(junction.at, way) - (0.0 if end else channel.bend_radius)
                    if math.dist(junction.at, way) > channel.width:
                        most = min(most, 2 * (straight - corner))
    return most


def junction_layer(channel: Channel, junction: Junction) -> Layer:
    """Return the layer that a T lies in: that of its legs' ends there."""
    for leg in channel.legs:
        if leg.start == junction.name:
            return leg.layer
        if leg.end == junction.name:
            return last_layer(leg)
    return "back"


def _inner_radius(panel: Panel) -> float:
    """Return the least inner radius of a bend at the channel's wall, [mm]: for the cutter and for the cord."""
    least = panel.make.cutter / 2 if panel.make.method == "milled" else PRINTED_INNER
    if panel.make.closing == "cord":
        gaps = clearances_of(panel)
        least = max(least, gaps.land + gaps.groove_width + corner_fillet(panel))
    return least


def port_layers(panel: Panel, port: PlacedPort) -> tuple[Layer, ...]:
    """Return the layers in which a port's bore keeps off channels not its own."""
    radius = tables.thread(port.thread).tap_drill / 2
    return bore_layers(panel, port.on, port.layer, radius, port.at[2])


def _off_bore(gaps: Clearances, panel: Panel, on: Face, opens: Layer, layer: Layer) -> float:
    """Return the least solid beside an own bore in a layer: with a groove between where it only passes its joint."""
    return gaps.own_gap if layer != opens and passes_joint(panel, on, layer) else gaps.solid_gap


def spare_bore(port: PlacedPort, wall: float) -> tuple[shapely.Geometry, float]:
    """Return what to measure from to a port's bore in plan, and the least distance to it, [mm]."""
    if port.on in EDGES:
        return outline_bore(port), wall
    return shapely.Point(port.foot), tables.thread(port.thread).tap_drill / 2 + wall
