"""Bores from the edges, which grow longer with their channels' widths, and what each keeps off meanwhile."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from geom.frame import EDGES
from geom.outline import Point
from geom.standards import tables
from layouts.clearance import PAST_FOOT, clearances_of, port_axis_z
from layouts.detail import tapped_depth
from layouts.layer_checks import pass_each_other, reaches_tank
from layouts.outlines import outline_bore, tank_outline
from layouts.own_width import port_layers
from layouts.panel import Panel
from layouts.plan import Layer, PlacedPort, Routed


@dataclass(frozen=True, slots=True)
class EdgeBore:
    """A bore from an edge, which grows longer with its channel's width.

    `along` is its unit vector in plan, `layers` are those whose channels it keeps off.
    """

    port: PlacedPort
    along: Point
    radius: float
    layers: tuple[Layer, ...]

    def shape(self, width: float) -> shapely.Geometry:
        """Return the bore in plan where its channel is `width` wide, [mm]."""
        past = PAST_FOOT * width
        end = (self.port.foot[0] + past * self.along[0], self.port.foot[1] + past * self.along[1])
        return shapely.LineString([self.port.at[:2], end]).buffer(self.radius, cap_style="flat")


def list_edge_bores(
    panel: Panel, routed: Routed, shapes: np.ndarray, owners: np.ndarray, lying: np.ndarray, most: float
) -> tuple[tuple[EdgeBore, ...], dict[str, shapely.Geometry]]:
    """Return the edge bores that could meet something while channels grow, and what each must keep off."""
    wall, tank = clearances_of(panel).solid_gap, tank_outline(routed)
    names = [channel.name for channel in routed.channels]
    outlines = {port.name: outline_bore(port) for port in routed.ports}
    bores, solids = [], {}
    for port in routed.ports:
        if port.on not in EDGES or port.channel == "tank":
            continue
        inset = math.dist(port.at[:2], port.foot)
        along = ((port.foot[0] - port.at[0]) / inset, (port.foot[1] - port.at[1]) / inset)
        bore = EdgeBore(port, along, tables.thread(port.thread).tap_drill / 2, port_layers(panel, port))
        solid = [shapely.box(*clear.box) for clear in panel.keep_clear]
        solid += [] if tank is None or not reaches_tank(panel, port) else [tank]
        solid += [
            outlines[other.name]
            for other in routed.ports
            if other.on != port.on
            and (other.on not in EDGES or other.channel == "tank")
            and pass_each_other(panel, port, other)
        ]
        solid += _screws_beside(panel, routed, port)
        longest = bore.shape(most)
        own = (owners == names.index(port.channel)) & (lying == port.layer)
        others = shapes[np.isin(lying, bore.layers) & ~own]
        rest = [
            outlines[other.name]
            for other in routed.ports
            if other.on != port.on and other.on in EDGES and other.channel != "tank"
        ]
        if (
            (shapely.distance(solid, longest) < wall).any()
            or (shapely.distance(others, longest) < wall + most / 2).any()
            or (shapely.distance(rest, longest) < wall + PAST_FOOT * most).any()
        ):
            bores.append(bore)
            solids[port.name] = shapely.GeometryCollection(solid)
    return tuple(bores), solids


def _screws_beside(panel: Panel, routed: Routed, port: PlacedPort) -> list[shapely.Geometry]:
    """Return the pump's screws that reach down to the height of an edge bore, in plan."""
    if panel.pump.on == "back" or panel.channel.layers == 2 or panel.pump.screw_size is None:
        return []
    row, thread = tables.screw(panel.pump.screw_size), tables.thread(port.thread)
    top = port_axis_z(panel, thread, port.name) + thread.tap_drill / 2 + clearances_of(panel).solid_gap
    if top <= panel.make.body - tapped_depth(panel, row):
        return []
    return [shapely.Point(at).buffer(row.diameter / 2) for at in routed.pump.screws]
