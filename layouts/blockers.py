"""What keeps channels away, as outlines in plan."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from geom.standards import tables
from layouts.clearance import clearances_of, edge_mouth, feed_width
from layouts.keep_routes import name_kept
from layouts.outlines import sheet_outline
from layouts.panel import Panel
from layouts.place import Placement
from layouts.tank import find_fill, tank_corner_radius


@dataclass(frozen=True, slots=True)
class Blocker:
    """Something that channels keep off: its outline, and how far from it a channel's outline stays, [mm]."""

    name: str
    shape: shapely.Geometry
    off: float


def outline_blockers(panel: Panel, placement: Placement) -> dict[str, Blocker]:
    """Return what blocks channels, by the names that a terrain's labels carry.

    Parameters
    ----------
    panel : Panel
    placement : Placement

    Returns
    -------
    dict of str to Blocker
    """
    gaps = clearances_of(panel)
    found = [Blocker("the panel's edge", sheet_outline(panel).exterior, gaps.edge_gap)]
    found += [
        Blocker(
            f'keep-clear region "{clear.name}"', shapely.box(*clear.box), max(gaps.seal_reach, gaps.solid_gap)
        )
        for clear in panel.keep_clear
    ]
    if placement.box is not None:
        radius = tank_corner_radius(panel)
        tank = shapely.box(*placement.box).buffer(-radius).buffer(radius, quad_segs=64)
        found.append(Blocker("the tank", tank, gaps.channel_gap))
    fill = find_fill(panel, placement.box)
    if fill is not None:
        bore = shapely.LineString([fill.mouth, fill.end]).buffer(fill.radius, quad_segs=64)
        found.append(Blocker("the fill port", bore, gaps.solid_gap))
    outlet = panel.tank.outlet
    if outlet is not None:
        radius = tables.thread(outlet.thread).tap_drill / 2
        mouth = edge_mouth(panel, outlet.on, placement.top)
        line = shapely.LineString([mouth, placement.top]) if mouth != placement.top else shapely.Point(mouth)
        found.append(Blocker("the tank's outlet port", line.buffer(radius, quad_segs=64), gaps.solid_gap))
    drop = shapely.LineString([placement.top, placement.inlet]).buffer(feed_width(panel) / 2, quad_segs=64)
    found.append(Blocker("the drop from tank to pump", drop, gaps.channel_gap))
    for route in panel.keep_routes:
        lines = shapely.MultiLineString([*route.back, *route.front])
        kept = lines.buffer(panel.channel.width_of(route.channel) / 2, quad_segs=64)
        found.append(Blocker(name_kept(route.channel), kept, gaps.channel_gap))
    return {blocker.name: blocker for blocker in found}
