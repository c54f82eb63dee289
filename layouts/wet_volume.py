"""What the panel's channels hold, with the bores of ports and pump.

The plan's own volumes are exact but slow (`geom.volume`); these need a few milliseconds and lie within
0.5 % of those, as tests hold on whole panels. Fittings are left out of account: what of them stands in a bore takes
its place.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from geom.frame import EDGES, INTO, Face
from geom.outline import Point, outline_circle, region_polygon
from geom.standards import tables
from layouts.clearance import tank_z
from layouts.closing.wet_regions import outline_channel, outline_tank, pump_bores, pump_layer
from layouts.detail import SPOT_FACE_DEPTH
from layouts.faces import face_z, floor_thickness, hole_bore, layer_z, layers_of
from layouts.panel import Panel
from layouts.plan import Layer, Routed
from layouts.port_threads import thread_room
from layouts.tank import outline_posts

SAG_MM = 0.2
"""Coarseness of outlines; their arcs keep their area, so that it only tells where outlines cross, [mm]."""

MM3_PER_ML = 1e3

NODES, WEIGHTS = np.polynomial.legendre.leggauss(3)
"""Heights at which a level bore's section is taken, and their weights, over (-1, 1)."""


@dataclass(frozen=True, slots=True)
class Bore:
    """A round hole into a channel: where its axis leaves the outer face, its way in, length and radius, [mm].

    `layer` is that of the channel where it opens into it.
    """

    mouth: tuple[float, float, float]
    on: Face
    length: float
    radius: float
    channel: str
    layer: Layer


def channel_volume_ml(panel: Panel, routed: Routed) -> float:
    """Return what all channels, their through holes and the bores into them hold, outside the tank.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    float
        [mL]. What lies in two channels, in a channel and the tank, or in a bore and its own channel counts once;
        where a bore meets another bore, the tank or a channel not its own, that counts twice. The fill port's
        bore is left out: it stands in air. A drain's bore into the pocket counts up to the pocket.
    """
    volume = 0.0
    bores = _list_bores(panel, routed)
    for layer in layers_of(panel):
        plans = {
            channel.name: region_polygon(outline_channel(channel, 0.0, layer), SAG_MM)
            for channel in routed.channels
        }
        whole = shapely.union_all(list(plans.values()))
        (low, high), (floor, roof) = layer_z(panel, layer), tank_z(panel)
        volume += whole.area * (high - low)
        if routed.tank.box is not None and layer == "back":
            shared = max(0.0, min(high, roof) - max(low, floor))
            pocket = region_polygon((outline_tank(routed, 0.0),), SAG_MM, outline_posts(routed.tank))
            volume -= shapely.intersection(whole, pocket).area * shared
        volume += math.fsum(
            _volume_beyond(bore, plans[bore.channel], low, high) for bore in bores if bore.layer == layer
        )
    volume += math.fsum(
        math.pi / 4 * tables.thread(port.thread).tap_drill ** 2 * thread_room(panel, routed, port)[0]
        for port in routed.ports
        if port.channel == "tank" and port.role == "drain"
    )
    # A through hole's ends lie inside the round ends of its channel.
    floor_mm = floor_thickness(panel.make.body, panel.channel.depth)
    volume += math.fsum(
        math.pi / 4 * hole_bore(channel.width) ** 2 * floor_mm * len(channel.holes)
        for channel in routed.channels
    )
    return float(volume / MM3_PER_ML)


def _list_bores(panel: Panel, routed: Routed) -> tuple[Bore, ...]:
    """Return the bores of ports and pump as `layouts.detail` cuts them, without lead chamfers."""
    channels = {channel.name for channel in routed.channels}
    bores = []
    for port in routed.ports:
        if port.channel in channels:
            (x, y, z), sunk = port.at, 0.0 if port.on in EDGES else SPOT_FACE_DEPTH
            mouth = (x, y, z + INTO[port.on][2] * sunk)
            radius = tables.thread(port.thread).tap_drill / 2
            bores.append(Bore(mouth, port.on, port.depth - sunk, radius, port.channel, port.layer))
    pump = panel.pump
    for end, at, bore in pump_bores(panel, routed):
        layer, face = pump_layer(routed, end), face_z(panel, pump.on)
        middle = sum(layer_z(panel, layer)) / 2
        if math.dist(at, routed.pump.inlet) <= (pump.seat_diameter - bore) / 2:
            face += INTO[pump.on][2] * pump.seat_depth
        channel = next((c.name for c in routed.channels if end in c.ends), None)
        if channel is not None:
            bores.append(Bore((*at, face), pump.on, abs(middle - face), bore / 2, channel, layer))
    return tuple(bores)


def _volume_beyond(bore: Bore, plan: shapely.Geometry, low: float, high: float) -> float:
    """Return what a bore holds outside a channel of that plan between two heights, [mm3]."""
    x, y, z = bore.mouth
    dx, dy, dz = INTO[bore.on]
    own = math.pi * bore.radius**2 * bore.length
    if bore.on not in EDGES:
        end = z + dz * bore.length
        shared = max(0.0, min(high, max(z, end)) - max(low, min(z, end)))
        disc = region_polygon((outline_circle((x, y), bore.radius),), SAG_MM)
        return own - float(shapely.intersection(disc, plan).area) * shared
    foot, roof = max(low, z - bore.radius), min(high, z + bore.radius)
    if roof <= foot:
        return own
    heights = (foot + roof) / 2 + (roof - foot) / 2 * NODES
    halves = np.sqrt(bore.radius**2 - (heights - z) ** 2)
    far: Point = (x + dx * bore.length, y + dy * bore.length)
    sections = shapely.box(
        min(x, far[0]) - abs(dy) * halves,
        min(y, far[1]) - abs(dx) * halves,
        max(x, far[0]) + abs(dy) * halves,
        max(y, far[1]) + abs(dx) * halves,
    )
    areas = shapely.area(shapely.intersection(sections, plan))
    return own - float((roof - foot) / 2 * np.dot(WEIGHTS, areas))
