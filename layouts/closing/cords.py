"""Cord loops: the middle of every groove round a wet region, as exact lines and arcs."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from functools import partial

import shapely

from geom.outline import Line, Loop, Point, Region, outline_circle, outline_route, region_polygon
from layouts.clearance import Clearances
from layouts.closing.wet_regions import (
    TOUCH_SAG,
    WetRegion,
    group_wet,
    joint_discs,
    layer_runs,
    outline_tank,
)
from layouts.faces import joints_of
from layouts.panel import Panel
from layouts.plan import Channel, CordLoop, Layer, Routed, Run

CORNER_SECTIONS = 3.0
"""Least inner radius of a cord's turn, in cord sections."""


def seal_panel(panel: Panel, routed: Routed, clearances: Clearances) -> tuple[CordLoop, ...]:
    """Return the cord loops round the wet regions, joint by joint; none where the panel is bonded or one piece.

    The groove lies between the region grown by the land and the region grown by the land and the groove's
    width: growing a union grows its parts, so the loops of both stay exact lines and arcs. The squeezed cord
    fills the groove's depth and keeps the area of its section: its width is pi d2 / (4 h), in mid-groove.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    clearances : Clearances

    Returns
    -------
    tuple of CordLoop

    Raises
    ------
    GeometryError
        Where a bend is tighter than half of the groove's outer width.
    """
    if panel.make.closing != "cord":
        return ()
    middle = clearances.land + clearances.groove_width / 2
    squeezed = clearances.groove_width - 2 * cord_inset(panel, clearances)
    loops: list[CordLoop] = []
    regions = group_wet(panel, routed)
    for layer in joints_of(panel):
        for region in regions:
            for grown in _grow_pieces(panel, routed, region, layer):
                for path in _provisional_paths(grown(middle), corner_fillet(panel)):
                    loops.append(
                        CordLoop(
                            name=f"groove {len(loops) + 1}",
                            region=region.name,
                            path=path,
                            groove_width=clearances.groove_width,
                            cord_width=squeezed,
                            layer=layer,
                        )
                    )
    return tuple(loops)


def _provisional_paths(region: Region, radius: float) -> list[tuple[Line, ...]]:
    united = region_polygon(region, 0.005)
    united = united.buffer(radius, 64).buffer(-radius, 64)
    paths = []
    for polygon in shapely.get_parts(united):
        for ring in (polygon.exterior, *polygon.interiors):
            outer = ring is polygon.exterior
            xy = shapely.get_coordinates(ring.simplify(0.002)).tolist()
            if ring.is_ccw != outer:
                xy.reverse()
            paths.append(tuple(Line(tuple(p), tuple(q)) for p, q in itertools.pairwise(xy)))
    return paths


def cord_inset(panel: Panel, clearances: Clearances) -> float:
    """Return the gap between the squeezed cord and either wall of its groove, [mm]."""
    squeezed = math.pi * panel.make.cord**2 / (4 * clearances.groove_depth)
    return (clearances.groove_width - squeezed) / 2


def corner_fillet(panel: Panel) -> float:
    """Return the least radius of the groove's outer wall where it turns round a T of channels, [mm].

    Source
    ------
    O-rings in non-circular groove patterns, https://barnwell.co.uk: inside radius at least 3 sections.
    """
    return CORNER_SECTIONS * panel.make.cord


def _grow_pieces(
    panel: Panel, routed: Routed, region: WetRegion, layer: Layer
) -> tuple[Callable[[float], Region], ...]:
    """Return for each piece of a region's outline in a joint what grows it by an extra, [mm]."""
    parts: list[Callable[[float], Loop]] = []
    if region.tank and layer == "back":
        parts.append(partial(outline_tank, routed))
    for name in region.channels:
        channel = routed.channel(name)
        parts += [partial(_grow_run, channel, run) for run in layer_runs(channel, layer)]
    parts += [
        partial(_grow_disc, centre, radius)
        for name, centre, radius in joint_discs(panel, routed, layer)
        if name in region.channels or (region.tank and name == "tank")
    ]
    # In one layer a region is one piece.
    pieces = [parts] if panel.channel.layers == 1 else _group_touching(parts)

    def grow(piece: list[Callable[[float], Loop]], by: float) -> Region:
        return tuple(part(by) for part in piece)

    return tuple(partial(grow, piece) for piece in pieces)


def _group_touching(parts: list[Callable[[float], Loop]]) -> list[list[Callable[[float], Loop]]]:
    """Return the parts of an outline by the pieces that they make up, in the order of their first parts."""
    shapes = [region_polygon((part(0.0),), TOUCH_SAG) for part in parts]
    pieces: list[list[int]] = []
    for k, shape in enumerate(shapes):
        met = [piece for piece in pieces if any(shape.intersects(shapes[j]) for j in piece)]
        pieces = [piece for piece in pieces if piece not in met]
        pieces.append(sorted([k, *(j for piece in met for j in piece)]))
    return [[parts[k] for k in piece] for piece in sorted(pieces)]


def _grow_run(channel: Channel, run: Run, by: float) -> Loop:
    return outline_route(run.points, channel.bend_radius, channel.width + 2 * by)


def _grow_disc(centre: Point, radius: float, by: float) -> Loop:
    return outline_circle(centre, radius + by)
