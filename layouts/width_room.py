"""How much room each routed channel has to grow in width, by the distances that `layouts.verify` measures.

Growing leaves centrelines where they are, so that one distance between two centrelines holds for all widths.
*Room*: every such distance of a routing, measured once. A channel is never asked to be narrower than it is.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely

from geom.frame import EDGES
from geom.outline import Line, Point, Segment, round_corners, segment_points
from geom.standards import tables
from layouts.clearance import INTO_TANK, clearances_of, off_tank
from layouts.closing.wet_regions import joint_discs, pump_bores, pump_layer
from layouts.detail import SHADOW_SAG, tapped_depth
from layouts.edge_bores import EdgeBore, list_edge_bores
from layouts.faces import bore_layers, face_z, joints_of, layer_z, layers_of
from layouts.nets import DRAIN, FEED
from layouts.outlines import (
    enters_tank,
    in_tank_region,
    list_tank_ends,
    outline_bore,
    passes_floor,
    sheet_outline,
    tank_outline,
)
from layouts.own_width import anchor_points, bound_itself, find_anchor, port_layers, spare_bore
from layouts.panel import Panel
from layouts.plan import Channel, Layer, Routed
from layouts.verify import NEAR_FOOT

LINE_SAG = 2e-4
"""Sagitta of the centrelines measured here, [mm]: a fifth of what the verifier lets pass."""

HALVINGS = 20
"""Steps of the search for the width at which a port's bore or a drawn end meets something: to a hundred-thousandth."""


@dataclass(frozen=True, slots=True)
class DrawnEnd:
    """Where a channel enters the tank, and the unit vector inwards: it is drawn on by its own width."""

    channel: str
    at: Point
    along: Point

    def shape(self, width: float) -> shapely.LineString:
        """Return the centreline inside the tank where the channel is `width` wide, [mm]."""
        past = INTO_TANK * width
        return shapely.LineString(
            [self.at, (self.at[0] + past * self.along[0], self.at[1] + past * self.along[1])]
        )


@dataclass(frozen=True, slots=True)
class Room:
    """What bounds the widths of a routing's channels, [mm].

    Parameters
    ----------
    names : tuple of str
    alone : dict of str to float
        Greatest width that everything but other channels allows.
    pairs : (n, n) float
        Greatest sum of the widths of two channels; infinite where they are far apart.
    bores : tuple of EdgeBore
        Those that could meet something as their channels grow.
    lines : dict of (str, layer) to shapely geometry
        Centrelines of each channel in a layer, those into a tank up to its wall; empty without `bores` and
        `ends`.
    solids : dict of str to shapely geometry
        For each of `bores`, what it must keep off besides channels and other bores.
    ends : tuple of DrawnEnd
        Empty where the tank is as deep as the channels: only coolant stands round them then.
    fills : shapely geometry
        Bores into the tank, which `ends` must keep off.
    wall : float
        Least solid between a bore and what it keeps off.
    """

    names: tuple[str, ...]
    alone: dict[str, float]
    pairs: np.ndarray
    bores: tuple[EdgeBore, ...]
    lines: dict[tuple[str, Layer], shapely.Geometry]
    solids: dict[str, shapely.Geometry]
    ends: tuple[DrawnEnd, ...]
    fills: shapely.Geometry
    wall: float

    def widest(self, name: str, widths: Mapping[str, float], most: float) -> float:
        """Return how wide a channel may be up to `most`, others at `widths`; never under its own there."""
        own = self.names.index(name)
        reach = min(most, self.alone[name])
        for other, others in enumerate(self.names):
            if other != own:
                reach = min(reach, self.pairs[own, other] - widths[others])
        if name == DRAIN and FEED in widths:
            # Its round end at the pump's inlet stays inside that of the feed.
            reach = min(reach, widths[FEED])
        for bore in self.bores:
            for layer in bore.layers:
                if (name, layer) in self.lines and (name, layer) != (bore.port.channel, bore.port.layer):
                    off = self.lines[name, layer].distance(bore.shape(widths[bore.port.channel]))
                    reach = min(reach, 2 * (off - self.wall))
        have = widths[name]
        if reach <= have:
            return have
        return self._reach_walls(name, reach, widths)

    def _reach_walls(self, name: str, most: float, widths: Mapping[str, float]) -> float:
        """Return the greatest width up to `most` at which a channel's bores and drawn ends keep their walls."""
        own = [bore for bore in self.bores if bore.port.channel == name]

        def holds(width: float) -> bool:
            return self._ends_hold(name, width, widths) and all(
                self._bore_holds(bore, width, widths) for bore in own
            )

        low, high = widths[name], most
        if holds(high):
            return high
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            low, high = (middle, high) if holds(middle) else (low, middle)
        return low

    def _ends_hold(self, name: str, width: float, widths: Mapping[str, float]) -> bool:
        entering = {end.channel for end in self.ends}
        if name not in entering:
            return True
        own = self._draw(name, width)
        if own.distance(self.fills) - width / 2 < self.wall:
            return False
        return all(
            own.distance(self._draw(other, widths[other])) - (width + widths[other]) / 2 >= self.wall
            for other in entering - {name}
        )

    def _draw(self, name: str, width: float) -> shapely.Geometry:
        """Return a channel's centrelines with what it is drawn on inside the tank."""
        ends = [end.shape(width) for end in self.ends if end.channel == name]
        return shapely.GeometryCollection([self.lines[name, "back"], *ends])

    def _bore_holds(self, bore: EdgeBore, width: float, widths: Mapping[str, float]) -> bool:
        shape = bore.shape(width)
        if shape.distance(self.solids[bore.port.name]) < self.wall:
            return False
        if any(
            shape.distance(other.shape(widths[other.port.channel])) < self.wall
            for other in self.bores
            if other.port.on != bore.port.on
        ):
            return False
        return all(
            shape.distance(line) - widths[name] / 2 >= self.wall
            for (name, layer), line in self.lines.items()
            if layer in bore.layers and (name, layer) != (bore.port.channel, bore.port.layer)
        )


def measure_room(panel: Panel, routed: Routed, most: float) -> Room:
    """Return what bounds the widths of a routing's channels up to `most`.

    Parameters
    ----------
    panel : Panel
    routed : Routed
        Verified.
    most : float
        [mm]; what cannot matter up to it is left out.

    Returns
    -------
    Room
    """
    channels = routed.channels
    most = max(most, *(channel.width for channel in channels))
    pieces = [_trace(panel, routed, channel) for channel in channels]
    owners = np.repeat(np.arange(len(channels)), [len(piece) for piece in pieces])
    shapes = np.array(
        [shapely.linestrings(segment_points(segment, LINE_SAG)) for piece in pieces for segment, _ in piece],
        dtype=object,
    )
    lying = np.array([layer for piece in pieces for _, layer in piece])
    alone = _measure_alone(panel, routed, shapes, owners, lying)
    bores, solids = list_edge_bores(panel, routed, shapes, owners, lying, most)
    ends = _list_ends(routed) if routed.tank.box is not None and passes_floor(panel) else ()
    return Room(
        names=tuple(channel.name for channel in channels),
        alone={
            channel.name: min(float(room), bound_itself(panel, routed, channel))
            for channel, room in zip(channels, alone, strict=True)
        },
        pairs=_measure_pairs(panel, routed, shapes, owners, lying, most),
        bores=bores,
        lines={
            (channel.name, layer): shapely.MultiLineString(list(shapes[own]))
            for k, channel in enumerate(channels if bores or ends else ())
            for layer in layers_of(panel)
            if (own := (owners == k) & (lying == layer)).any()
        },
        solids=solids,
        ends=ends,
        fills=shapely.GeometryCollection(
            [outline_bore(port) for port in routed.ports if port.channel == "tank"]
        ),
        wall=clearances_of(panel).solid_gap,
    )


def _trace(panel: Panel, routed: Routed, channel: Channel) -> list[tuple[Segment, Layer]]:
    """Return a channel's centrelines as lines and arcs, each in its layer; those into a tank end at its wall."""
    out: list[tuple[Segment, Layer]] = []
    anchors = [anchor for anchor in anchor_points(panel, routed, channel) if anchor[1] > 0]
    for run in channel.runs:
        segments = list(round_corners(run.points, channel.bend_radius))
        for place, end in ((0, run.points[0]), (-1, run.points[-1])):
            anchor = find_anchor(tuple(anchors), end, channel.width)
            segment = segments[place]
            if anchor is not None and isinstance(segment, Line):
                segments[place] = (
                    Line(anchor[0], segment.end) if place == 0 else Line(segment.start, anchor[0])
                )
        out += [(segment, run.layer) for segment in segments]
    return out


def _list_ends(routed: Routed) -> tuple[DrawnEnd, ...]:
    """Return where channels enter the pocket tank."""
    ends = []
    for channel in routed.channels:
        for at, before in list_tank_ends(channel):
            far = math.dist(at, before)
            ends.append(DrawnEnd(channel.name, at, ((at[0] - before[0]) / far, (at[1] - before[1]) / far)))
    return tuple(ends)


def _measure_alone(
    panel: Panel, routed: Routed, shapes: np.ndarray, owners: np.ndarray, lying: np.ndarray
) -> np.ndarray:
    """Return the greatest width of each channel beside what does not grow, (n,) [mm]."""
    gaps, box = clearances_of(panel), tank_outline(routed)
    names = [channel.name for channel in routed.channels]
    kin = [channel.name for channel in routed.channels if in_tank_region(channel)]
    room = np.full(len(names), math.inf)

    def keep_off(
        what: shapely.Geometry,
        least: float,
        free: tuple[str, ...] = (),
        layers: tuple[Layer, ...] = layers_of(panel),
    ) -> None:
        held = ~np.isin(owners, [names.index(name) for name in free if name in names])
        if layers != layers_of(panel):
            held &= np.isin(lying, layers)
        np.minimum.at(room, owners[held], 2 * (shapely.distance(shapes[held], what) - least))

    keep_off(sheet_outline(panel).exterior, gaps.edge_gap)
    for clear in panel.keep_clear:
        keep_off(shapely.box(*clear.box), max(gaps.seal_reach, gaps.solid_gap))
    if box is not None:
        keep_off(box, gaps.channel_gap, tuple(c.name for c in routed.channels if enters_tank(c)), ("back",))
        # Of the tank's region, but not in it: all but the drain enter.
        keep_off(box, gaps.own_gap, tuple(name for name in names if name != DRAIN), ("back",))
        if panel.channel.layers == 2 and off_tank(panel) > 0:
            keep_off(box, off_tank(panel), (), ("front",))
    for port in routed.ports:
        if port.on not in EDGES or port.channel == "tank":
            keep_off(*spare_bore(port, gaps.solid_gap), (port.channel,), port_layers(panel, port))
    for layer in joints_of(panel):
        for name, at, radius in joint_discs(panel, routed, layer):
            if name != "tank" or layer == "front":
                keep_off(shapely.Point(at), radius + gaps.channel_gap, (name,), (layer,))
                if name in kin:
                    others = tuple(other for other in names if other not in kin or other == name)
                    keep_off(shapely.Point(at), radius + gaps.own_gap, others, (layer,))
    for end, at, bore in pump_bores(panel, routed):
        free = tuple(channel.name for channel in routed.channels if end in channel.ends)
        layers = bore_layers(panel, panel.pump.on, pump_layer(routed, end), bore / 2, 0.0)
        keep_off(shapely.Point(at), bore / 2 + gaps.solid_gap, free, layers)
    pump = panel.pump
    # What lies under the seat or a screw already may grow there.
    if (
        pump.seat_diameter > 0
        and pump.seat_depth > 0
        and _over_channels(panel) < gaps.solid_gap + pump.seat_depth
    ):
        under = shapely.Point(routed.pump.inlet)
        keep_off(under, pump.seat_diameter / 2, _within(routed, routed.pump.inlet, pump.seat_diameter / 2))
    if pump.screw_size is not None:
        screw = tables.screw(pump.screw_size)
        reach = screw.tap_drill / 2 + gaps.solid_gap + SHADOW_SAG
        if _over_channels(panel) < tapped_depth(panel, screw) + gaps.solid_gap + pump.seat_depth:
            for at in routed.pump.screws:
                keep_off(shapely.Point(at), reach, _within(routed, at, reach))
    return room


def _over_channels(panel: Panel) -> float:
    """Return how much solid stands between the pump's face and a channel, [mm]; a cover is whole."""
    if panel.pump.on in joints_of(panel):
        return math.inf
    z0, z1 = layer_z(panel, "back")
    return face_z(panel, "front") - z1 if panel.pump.on == "front" else z0


def _within(routed: Routed, at: Point, reach: float) -> tuple[str, ...]:
    """Return the channels that come within `reach` of a point as they are."""
    spot = shapely.Point(at)
    return tuple(
        channel.name
        for channel in routed.channels
        if any(
            shapely.LineString(run.points).distance(spot) < reach + channel.width / 2 for run in channel.runs
        )
    )


def _measure_pairs(
    panel: Panel, routed: Routed, shapes: np.ndarray, owners: np.ndarray, lying: np.ndarray, most: float
) -> np.ndarray:
    """Return the greatest sum of the widths of every two channels, (n, n) [mm]."""
    gaps, count = clearances_of(panel), len(routed.channels)
    gap = gaps.own_gap
    names = [channel.name for channel in routed.channels]
    x0, y0, x1, y1 = shapely.bounds(shapes).T
    across = np.maximum(x0[:, None] - x1, y0[:, None] - y1)
    across = np.maximum(across, np.maximum(x0 - x1[:, None], y0 - y1[:, None]))
    near = np.triu((across < most + gap) & (owners[:, None] != owners) & (lying[:, None] == lying), 1)
    if {FEED, DRAIN} <= {*names}:
        feed, drain = owners == names.index(FEED), owners == names.index(DRAIN)
        near &= ~(feed[:, None] & drain) & ~(drain[:, None] & feed)
    one, two = np.nonzero(near)
    apart = np.full((count, count), math.inf)
    np.minimum.at(apart, (owners[one], owners[two]), shapely.distance(shapes[one], shapes[two]))
    if {FEED, DRAIN} <= {*names}:
        # Beyond the pump's inlet they keep apart; a straight way out of it cannot come back to the feed.
        reach = max(routed.channel(FEED).width, routed.channel(DRAIN).width) * NEAR_FOOT + gap
        disc = shapely.Point(routed.pump.inlet).buffer(reach)
        rest = shapely.union_all(shapes[drain & (lying == "back")][1:]).difference(disc)
        if not rest.is_empty:
            apart[names.index(FEED), names.index(DRAIN)] = rest.distance(shapely.union_all(shapes[feed]))
    kin = [in_tank_region(channel) for channel in routed.channels]
    return 2 * (np.minimum(apart, apart.T) - np.where(np.logical_and.outer(kin, kin), gap, gaps.channel_gap))
