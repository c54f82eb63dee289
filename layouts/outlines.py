"""Exact outlines in plan, as fine as a routing is measured: the sheet, the tank, bores; and who enters the tank."""

from __future__ import annotations

import math
from functools import lru_cache

import shapely

from geom.frame import EDGES, SAME_MM
from geom.outline import Point, loop_polygon, outline_rectangle
from geom.standards import tables
from layouts.clearance import INTO_TANK, tank_z
from layouts.faces import layer_z
from layouts.nets import DRAIN, FEED, TANK_OUTLET, TANK_RETURN
from layouts.panel import Box, Panel
from layouts.plan import Channel, PlacedPort, Routed

FINE_SAG = 5e-4
"""Sagitta of these outlines, [mm]: a distance is then right to 0.7 um, under `geom.frame.WALL_MM`."""


def sheet_outline(panel: Panel, sag: float = FINE_SAG) -> shapely.Polygon:
    """Return the panel in plan, its corners as fine as `sag`, [mm]."""
    return loop_polygon(outline_rectangle(0.0, 0.0, panel.width, panel.height, panel.corner_radius), sag)


def measure_within(one: shapely.Geometry, other: shapely.Geometry, least: float) -> float | None:
    """Return the distance of two outlines where it is less than `least`, [mm]; None where they keep it.

    What is far apart is told by its box, which is much quicker than to measure it.
    """
    if not shapely.dwithin(one, other, least):
        return None
    have = float(one.distance(other))
    return have if have < least else None


def enters_tank(channel: Channel) -> bool:
    """Return whether a channel has an end at the tank; a separate tank's are ports."""
    return TANK_OUTLET in channel.ends or TANK_RETURN in channel.ends


def in_tank_region(channel: Channel) -> bool:
    """Return whether a channel is of the wet region of tank and feed: the drain meets the feed at the pump."""
    return channel.name in (FEED, DRAIN) or enters_tank(channel)


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
    (z0, z1), (floor, ceiling) = layer_z(panel, "back"), tank_z(panel)
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
