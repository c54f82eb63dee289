"""Channels of unlike width: how wide walls and roof let each one grow, and growing them together."""

from __future__ import annotations

import math
from dataclasses import replace

from geom.frame import EDGES
from geom.outline import Point
from layouts.clearance import port_bore_length
from layouts.flow import size_flow
from layouts.own_width import anchor_points, find_anchor
from layouts.panel import Panel
from layouts.plan import Channel, PlacedPort, Routed
from layouts.printing.roof_shapes import find_widest_roof
from layouts.verify import verify_routed
from layouts.width_room import measure_room

GROWTH_MM = 0.5
"""All channels grow by this much before one grows on, [mm]."""

EXACT_MM = 0.01
"""A width that a wall stops is a whole multiple of it, [mm]: finer is not cut."""


def widen_channels(panel: Panel, routed: Routed) -> Routed:
    """Return the routing with its channels as wide as the file asks for, and walls and roofs allow.

    Depths and centrelines stay. The channels grow together by steps of `GROWTH_MM`, those with more drop first
    in each step, the last step up to `widen_to`, to the wall or to the widest roof that prints; none gives way
    to another. Cost, bound and `channels_pa` stay those of the channels as routed, before widening.

    Parameters
    ----------
    panel : Panel
    routed : Routed
        Verified.

    Returns
    -------
    Routed
        Verified; as given where the file has no `widen_to`.

    Raises
    ------
    LayoutError
        The pump does not meet the loop as routed.
    """
    if panel.channel.widen_to is None:
        return routed
    most = min(panel.channel.widen_to, find_widest_roof(panel))
    room = measure_room(panel, routed, most)
    widths = {channel.name: channel.width for channel in routed.channels}
    drops = {flow.channel: flow.drop_pa for flow in size_flow(panel, routed).channels}
    growing = sorted(widths, key=lambda name: -drops[name])
    stages = [dict(widths)]
    while growing:
        for name in tuple(growing):
            reach = _round_down(room.widest(name, widths, most), most)
            if reach <= widths[name] + GROWTH_MM:
                growing.remove(name)
            widths[name] = max(widths[name], min(reach, widths[name] + GROWTH_MM))
        stages.append(dict(widths))
    # The verifier has the last word: should it measure less room, the last steps are taken back.
    for stage in reversed(stages[1:]):
        widened = set_widths(panel, routed, stage)
        if not verify_routed(panel, widened):
            return widened
    return routed


def find_widest(panel: Panel, routed: Routed, most: float) -> dict[str, float]:
    """Return for each channel the greatest width up to `most` that walls and roof allow it alone, [mm].

    Parameters
    ----------
    panel : Panel
    routed : Routed
        Verified.
    most : float
        [mm]

    Returns
    -------
    dict of str to float
        Each with all others as they are; never less than the channel has.
    """
    most = min(most, find_widest_roof(panel))
    room = measure_room(panel, routed, most)
    widths = {channel.name: channel.width for channel in routed.channels}
    return {
        name: max(have, _round_down(room.widest(name, widths, most), most)) for name, have in widths.items()
    }


def set_widths(panel: Panel, routed: Routed, widths: dict[str, float]) -> Routed:
    """Return a routing with channels of other widths: their drawn ends and edge ports' bores go with them.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    widths : dict of str to float
        Of every channel, [mm].

    Returns
    -------
    Routed
        Not verified.
    """
    wider = replace(
        routed, channels=tuple(replace(channel, width=widths[channel.name]) for channel in routed.channels)
    )
    return replace(
        routed,
        channels=tuple(_set_width(panel, routed, wider, channel) for channel in routed.channels),
        ports=tuple(_set_depth(panel, port, widths) for port in routed.ports),
    )


def _set_width(panel: Panel, routed: Routed, wider: Routed, channel: Channel) -> Channel:
    """Return a channel as wide as it is in `wider`, which has the widths wanted and the drawn ends of `routed`."""
    changed = wider.channel(channel.name)
    width = changed.width
    anchors = anchor_points(panel, routed, channel)
    shifts = dict(anchor_points(panel, wider, changed))
    if width == channel.width and shifts == dict(anchors):
        return channel

    def drawn(end: Point, before: Point) -> Point:
        anchor = find_anchor(anchors, end, channel.width)
        if anchor is None:
            return end
        (x, y), shift = anchor[0], shifts[anchor[0]]
        far = math.dist(before, (x, y))
        return x + (x - before[0]) / far * shift * width, y + (y - before[1]) / far * shift * width

    runs = []
    for run in channel.runs:
        points = list(run.points)
        points[0] = drawn(points[0], run.points[1])
        points[-1] = drawn(points[-1], run.points[-2])
        runs.append(replace(run, points=tuple(points)))
    return replace(channel, width=width, runs=tuple(runs))


def _set_depth(panel: Panel, port: PlacedPort, widths: dict[str, float]) -> PlacedPort:
    if port.on not in EDGES or port.channel not in widths:
        return port
    inset = math.dist(port.at[:2], port.foot)
    return replace(port, depth=port_bore_length(panel, port.on, inset, widths[port.channel]))


def _round_down(width: float, most: float) -> float:
    return most if width >= most else round(math.floor(width / EXACT_MM + 1e-4) * EXACT_MM, 6)
