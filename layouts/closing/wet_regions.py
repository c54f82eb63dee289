"""Wet regions at the joints, and their outlines in plan.

*Wet region*: channels, tank and bores that touch one another; coolant passes freely inside one. *Outline*:
where a wet region meets a joint; with two layers it may have several pieces in each.
"""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from geom.outline import (
    Loop,
    Point,
    Region,
    outline_circle,
    outline_rectangle,
    outline_route,
    region_polygon,
)
from geom.standards import tables
from layouts.faces import layers_of, passes_joint
from layouts.nets import PUMP_INLET, PUMP_OUTLET, TANK_OUTLET, TANK_RETURN
from layouts.panel import Panel
from layouts.plan import Channel, Layer, PlacedPort, Routed, Run

TANK_ENDS = (TANK_OUTLET, TANK_RETURN)
"""Channel ends that open into a tank pocket."""

TOUCH_SAG = 0.05
"""Coarseness of the outlines by which wet things are grouped, [mm]: those that join overlap by far more."""


@dataclass(frozen=True, slots=True)
class WetRegion:
    """Wet things that touch one another, by name.

    Parameters
    ----------
    name : str
        "tank" where the pocket is in it, else the name of its first channel.
    channels : tuple of str
        In flow order.
    tank : bool
        Whether the tank pocket belongs to it.
    """

    name: str
    channels: tuple[str, ...]
    tank: bool


def group_wet(panel: Panel, routed: Routed) -> tuple[WetRegion, ...]:
    """Return the wet regions of a routed panel, in flow order of their first channel.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    tuple of WetRegion
        Every channel is in exactly one.
    """
    names = [channel.name for channel in routed.channels]
    if routed.tank.box is not None:
        names.append("tank")
    group = list(range(len(names)))
    for layer in layers_of(panel):
        shapes = [_plan_shape(panel, routed, channel, layer) for channel in routed.channels]
        if routed.tank.box is not None and layer == "back":
            shapes.append(region_polygon((outline_tank(routed, 0.0),), TOUCH_SAG))
        for a in range(len(shapes)):
            for b in range(a):
                if group[a] != group[b] and shapes[a].intersects(shapes[b]):
                    joined, kept = max(group[a], group[b]), min(group[a], group[b])
                    group = [kept if g == joined else g for g in group]
    regions = []
    for first in sorted(set(group)):
        members = [name for name, g in zip(names, group, strict=True) if g == first]
        tank = routed.tank.box is not None and group[-1] == first
        channels = tuple(members[:-1] if tank else members)
        regions.append(WetRegion("tank" if tank else members[0], channels, tank))
    return tuple(regions)


def outline_tank(routed: Routed, grow: float) -> Loop:
    """Return the tank pocket's outline grown by `grow`, [mm]."""
    box = routed.tank.box
    if box is None:
        raise ValueError("a separate tank has no pocket in the panel")
    x0, y0, x1, y1 = box
    return outline_rectangle(x0 - grow, y0 - grow, x1 + grow, y1 + grow, routed.tank.corner_radius + grow)


def layer_runs(channel: Channel, layer: Layer) -> tuple[Run, ...]:
    """Return a channel's runs in a layer."""
    return tuple(run for run in channel.runs if run.layer == layer)


def outline_channel(channel: Channel, grow: float, layer: Layer = "back") -> Region:
    """Return a channel's runs in a layer outlined at its width, grown by `grow` to each side, [mm]."""
    width = channel.width + 2 * grow
    return tuple(outline_route(run.points, channel.bend_radius, width) for run in layer_runs(channel, layer))


def joint_discs(panel: Panel, routed: Routed, layer: Layer = "back") -> tuple[tuple[str, Point, float], ...]:
    """Return the bores that pass the joint of a layer: (channel or "tank", centre, radius), [mm].

    Those from the cover over it do, whichever layer they open into; all others end before it.
    """
    discs = [
        (port.channel, port.foot, tables.thread(port.thread).tap_drill / 2)
        for port in routed.ports
        if passes_joint(panel, port.on, layer)
    ]
    if passes_joint(panel, panel.pump.on, layer):
        for end, at, bore in pump_bores(panel, routed):
            discs.append((pump_channel(routed, end).name, at, bore / 2))
    return tuple(discs)


def pump_bores(panel: Panel, routed: Routed) -> tuple[tuple[str, Point, float], ...]:
    """Return the pump's bores: (end name, centre, diameter), [mm]."""
    return (
        (PUMP_INLET, routed.pump.inlet, panel.pump.inlet_bore),
        (PUMP_OUTLET, routed.pump.outlet, panel.pump.outlet_bore),
    )


def pump_layer(routed: Routed, end: str) -> Layer:
    """Return the layer that a bore of the pump opens into."""
    return routed.pump.outlet_layer if end == PUMP_OUTLET else "back"


def pump_channel(routed: Routed, end: str) -> Channel:
    """Return the first channel that has `end` ("pump inlet", "pump outlet") among its ends."""
    for channel in routed.channels:
        if end in channel.ends:
            return channel
    raise KeyError(end)


def _plan_shape(panel: Panel, routed: Routed, channel: Channel, layer: Layer) -> shapely.Geometry:
    """Return all that is wet in plan with a channel in a layer: its runs, its ports' and the pump's bores."""
    loops = list(outline_channel(channel, 0.0, layer))
    loops.extend(
        outline_circle(port.foot, tables.thread(port.thread).tap_drill / 2)
        for port in ports_of(routed, channel.name)
        if port.on in ("front", "back") and layer in (port.layer, port.on)
    )
    loops.extend(
        outline_circle(at, bore / 2)
        for end, at, bore in pump_bores(panel, routed)
        if end in channel.ends and layer in (pump_layer(routed, end), panel.pump.on)
    )
    return region_polygon(tuple(loops), TOUCH_SAG)


def ports_of(routed: Routed, channel: str) -> tuple[PlacedPort, ...]:
    """Return the ports that open into a channel (or into "tank")."""
    return tuple(port for port in routed.ports if port.channel == channel)
