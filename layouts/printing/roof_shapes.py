"""Roofs over the channels of a panel that is printed in one piece, lying: what each spans, and its shape.

A flat roof is bridged. Where it is too wide for that, both of its edges are taken off until what is left is narrow
enough: straight, at the steepest lean that carries itself ("pointed"), or as quarters of a circle ("round"). The
section is kept: the top stands higher by what the edges took. Standing, a channel's roof is as wide as the channel is
deep, whatever its width, and nothing is taken off.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import shapely

from geom.frame import SAME_MM, Vec
from geom.outline import Arc, Line, Loop, Point
from geom.standards import tables
from layouts.closing.wet_regions import TANK_ENDS
from layouts.detail import SPOT_FACE_DEPTH
from layouts.faces import layer_z
from layouts.hydraulics.section_friction import compare_friction
from layouts.panel import Panel
from layouts.plan import Channel, Routed
from layouts.printing.printed import ChannelRoof, Pose, RoofKind
from layouts.printing.process import process_of

MEETING = 1.25
"""Largest circle where strips of one width meet in a T, over that width: it touches one side and two corners."""

NARROWER_MM = 0.15
"""What is left flat is drawn this much narrower than the widest bridge: no bore of that width then has its rim."""

OVER_MIDDLE_MM = 0.1
"""The walls of a channel are upright up to this far over its middle at least, where the bores into it end."""

ROUND_SPARE_MM = 0.05
"""What two quarters of a circle leave of a roof at least, to either side: the round ends of a channel need it."""

FACET_DEG = 6.0
"""Rounded edges are steep enough this far before the limit, [deg]: half of the largest turn from facet to facet."""

WIDTH_STEP = 0.01
"""Widths are found to this, [mm]."""


@dataclass(frozen=True, slots=True)
class _Edge:
    """What is taken off each edge of a roof: how far in, how far down, and what the top stands higher for it."""

    inset: float
    rise: float
    higher: float


def shape_roofs(panel: Panel, routed: Routed, pose: Pose) -> tuple[ChannelRoof, ...]:
    """Return the roof over each channel as it lies in a pose.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    pose : Pose

    Returns
    -------
    tuple of ChannelRoof
        In the order of the channels; empty where a cover closes them. In a pose that does not lie on the front or back
        all are flat and span the channel's depth, when it is tilted nothing.
    """
    if panel.make.closing != "one-piece":
        return ()
    if not lies_flat(pose):
        span = 0.0 if _carries_all(panel, pose) else panel.channel.depth
        return tuple(ChannelRoof(channel.name, "flat", span, span, 0.0, 0.0) for channel in routed.channels)
    return tuple(_shape_roof(panel, routed, channel, pose) for channel in routed.channels)


def lies_flat(pose: Pose) -> bool:
    """Return whether a panel lies on its front or back, so that channels run level."""
    return pose.tilt_deg == 0.0 and pose.lies_on in ("front", "back")


def find_widest_roof(panel: Panel) -> float:
    """Return how wide a channel may be so that its roof prints, [mm]; infinite where its width does not matter.

    It does not where the channels lie open when they are made, or the file has the panel printed standing.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    float
        With what is taken off, as far as the body has room for it over every channel, Ts and the pump's seat counted.
    """
    make, asked = panel.make, panel.printing
    if make.method != "printed" or make.closing != "one-piece":
        return math.inf
    if asked.lies_on not in (None, "front", "back"):
        return math.inf
    bridge = process_of(panel).bridge
    if asked.roofs == "flat":
        return bridge
    depth = panel.channel.depth
    spare = (make.body - depth) / 2 - panel.rules.least_wall - panel.pump.seat_depth
    flat = _narrow(bridge / MEETING)

    def prints(width: float) -> bool:
        edge = _point_edge(panel, width, depth, flat)
        return edge is not None and edge.higher <= spare + SAME_MM

    low, high = round(bridge / MEETING / WIDTH_STEP), round((bridge + 2 * depth * _slope(panel)) / WIDTH_STEP)
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if prints(middle * WIDTH_STEP) else (low, middle - 1)
    return low * WIDTH_STEP


def outline_section(width: float, depth: float, roof: ChannelRoof) -> Loop:
    """Return the section of a channel under its roof, counter-clockwise, its floor's left corner at the origin.

    Parameters
    ----------
    width, depth : float
        Of the channel, [mm].
    roof : ChannelRoof

    Returns
    -------
    Loop
    """
    top, s = depth + roof.higher, roof.inset
    spring, half_turn = top - roof.rise, math.pi / 2
    floor, wall = Line((0.0, 0.0), (width, 0.0)), Line((width, 0.0), (width, spring))
    flat, down = Line((width - s, top), (s, top)), Line((0.0, spring), (0.0, 0.0))
    if roof.kind == "flat":
        return (floor, wall, flat, down)
    if roof.kind == "round":
        right = Arc((width - s, spring), s, 0.0, half_turn)
        return (floor, wall, right, flat, Arc((s, spring), s, half_turn, half_turn), down)
    return (floor, wall, Line(wall.end, flat.start), flat, Line(flat.end, down.start), down)


def find_roof_place(panel: Panel, channel: Channel, roof: ChannelRoof, pose: Pose) -> Vec:
    """Return a place of a channel's roof in a panel that lies: at a T, or on its longest straight, [mm]."""
    low, high = layer_z(panel, channel.runs[0].layer)
    z = high + roof.higher if pose.up[2] > 0 else low - roof.higher
    if channel.junctions:
        return (*channel.junctions[0].at, z)
    legs = [pair for run in channel.runs for pair in pairwise(run.points)]
    (ax, ay), (bx, by) = max(legs, key=lambda pair: math.dist(*pair))
    return (ax + bx) / 2, (ay + by) / 2, z


def has_meeting(routed: Routed, channel: Channel) -> bool:
    """Return whether a channel meets another run across: at a T of its own, or one that shares an end with it.

    Parameters
    ----------
    routed : Routed
    channel : Channel
    """
    if channel.junctions:
        return True
    ends = {*channel.ends} - {*TANK_ENDS}
    tips = [
        (tip, before)
        for run in channel.runs
        for tip, before in ((run.points[0], run.points[1]), (run.points[-1], run.points[-2]))
    ]
    return any(
        shapely.LineString((a, b)).distance(shapely.Point(tip)) < (channel.width + other.width) / 2
        and not _in_line(tip, before, a, b)
        for other in routed.channels
        if other.name != channel.name and ends & {*other.ends}
        for run in other.runs
        for a, b in pairwise(run.points)
        for tip, before in tips
    )


def _in_line(tip: Point, before: Point, a: Point, b: Point) -> bool:
    """Return whether two straight pieces run the same way."""
    across = (tip[0] - before[0]) * (b[1] - a[1]) - (tip[1] - before[1]) * (b[0] - a[0])
    return abs(across) <= SAME_MM * math.dist(tip, before) * math.dist(a, b)


def _shape_roof(panel: Panel, routed: Routed, channel: Channel, pose: Pose) -> ChannelRoof:
    """Return the roof over one channel of a panel that lies on its front or back."""
    width, depth, bridge = channel.width, channel.depth, process_of(panel).bridge
    meeting = MEETING if has_meeting(routed, channel) else 1.0
    flat = ChannelRoof(channel.name, "flat", width * meeting, width * meeting, 0.0, 0.0)
    if width * meeting <= bridge + SAME_MM or panel.printing.roofs == "flat":
        return flat
    left, spare = _narrow(bridge / meeting), _find_spare(panel, routed, channel, pose)
    kinds: dict[RoofKind, Callable[[Panel, float, float, float], _Edge | None]] = {
        "round": _round_edge,
        "pointed": _point_edge,
    }
    # A pointed roof stands a quarter as high over a flat one as a round one, whose friction is 2 to 3 % less.
    order: tuple[RoofKind, ...] = ("round", "pointed") if panel.printing.roofs == "round" else ("pointed",)
    for kind in order:
        edge = kinds[kind](panel, width, depth, left)
        if edge is not None and edge.higher <= spare + SAME_MM:
            return _finish(panel, channel, kind, edge, meeting, 0.0)
    # As much as there is room for.
    whole = _point_edge(panel, width, depth, left)
    short = math.inf if whole is None else whole.higher - spare
    slope = _slope(panel)
    inset = min(math.sqrt(max(0.0, spare) * width * slope), _most_inset(panel, width, depth))
    if inset < WIDTH_STEP:
        return ChannelRoof(channel.name, "flat", flat.span, flat.left, 0.0, 0.0, short=short)
    edge = _Edge(inset, inset / slope, inset**2 / slope / width)
    return _finish(panel, channel, "pointed", edge, meeting, short)


def _finish(
    panel: Panel, channel: Channel, kind: RoofKind, edge: _Edge, meeting: float, short: float
) -> ChannelRoof:
    width, depth = channel.width, channel.depth
    # Of a quarter of a circle only what is steep enough carries itself.
    lean = math.radians(process_of(panel).overhang_deg)
    steep = edge.inset * (1.0 - math.cos(lean)) if kind == "round" else edge.inset
    left = (width - 2 * steep) * meeting
    roof = ChannelRoof(
        channel.name, kind, width * meeting, left, edge.rise, edge.higher, 1.0, edge.inset, short
    )
    flat = ChannelRoof(channel.name, "flat", width, width, 0.0, 0.0)
    share = compare_friction(outline_section(width, depth, roof), outline_section(width, depth, flat))
    return ChannelRoof(
        channel.name, kind, width * meeting, left, edge.rise, edge.higher, share, edge.inset, short
    )


def _point_edge(panel: Panel, width: float, depth: float, left: float) -> _Edge | None:
    """Return what leaves a flat roof `left` wide between straight edges; None where the channel is too shallow."""
    slope, inset = _slope(panel), (width - left) / 2
    edge = _Edge(inset, inset / slope, inset**2 / slope / width)
    return edge if edge.rise <= _most_rise(depth, edge.higher) + SAME_MM else None


def _round_edge(panel: Panel, width: float, depth: float, left: float) -> _Edge | None:
    """Return what leaves a flat roof `left` wide between quarters of a circle; None where they do not fit."""
    radius = (width - left) / 2 / (1.0 - math.cos(math.radians(process_of(panel).overhang_deg - FACET_DEG)))
    edge = _Edge(radius, radius, 2 * radius**2 * (1.0 - math.pi / 4) / width)
    fits = radius <= width / 2 - ROUND_SPARE_MM and radius <= _most_rise(depth, edge.higher) + SAME_MM
    return edge if fits else None


def _most_rise(depth: float, higher: float) -> float:
    return depth / 2 + higher - OVER_MIDDLE_MM


def _most_inset(panel: Panel, width: float, depth: float) -> float:
    """Return how far straight edges may reach in so that a channel's walls are upright past its middle, [mm]."""
    # inset / slope = depth / 2 + inset^2 / (slope width) - reserve; the smaller root, or the middle without one.
    room = 1.0 - 4.0 * _slope(panel) * (depth / 2 - OVER_MIDDLE_MM) / width
    return width / 2 * (1.0 - math.sqrt(max(0.0, room))) - WIDTH_STEP


def _slope(panel: Panel) -> float:
    """Return how far a wall may lean out for each millimetre that it rises, [-]."""
    return math.tan(math.radians(process_of(panel).overhang_deg))


def _narrow(bridge: float) -> float:
    return bridge - NARROWER_MM


def _carries_all(panel: Panel, pose: Pose) -> bool:
    """Return whether no level or upright wall of the panel leans out too far in a pose."""
    lean = max(abs(part) for part in pose.up)
    return lean <= math.sin(math.radians(process_of(panel).overhang_deg)) + SAME_MM


def _find_spare(panel: Panel, routed: Routed, channel: Channel, pose: Pose) -> float:
    """Return how much higher a channel may be so that the least wall is left over it, [mm].

    The pump's seat and the fittings' spot faces are cut into the wall over channels that they stand on.
    """
    over = "front" if pose.up[2] > 0 else "back"
    lines = shapely.MultiLineString([run.points for run in channel.runs])
    wall = panel.rules.least_wall
    cut = 0.0
    if panel.pump.on == over and panel.pump.seat_depth > 0.0:
        reach = panel.pump.seat_diameter / 2 + channel.width / 2 + wall
        if lines.distance(shapely.Point(routed.pump.inlet)) < reach:
            cut = panel.pump.seat_depth
    for port in routed.ports:
        reach = tables.thread(port.thread).spot_face / 2 + channel.width / 2 + wall
        if port.on == over and lines.distance(shapely.Point(port.foot)) < reach:
            cut = max(cut, SPOT_FACE_DEPTH)
    return (panel.make.body - channel.depth) / 2 - wall - cut
