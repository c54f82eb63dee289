"""Cord loops: the middle of every groove round a wet region, as exact lines and arcs."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from geom.corners import round_reentrant
from geom.errors import GeometryError
from geom.frame import SAME_MM
from geom.outline import Loop, Point, Region, loop_area, loop_polygon, outline_circle, region_polygon
from geom.standards import tables
from geom.sweep import sweep_disc
from geom.union import unite_loops
from layouts.clearance import Clearances
from layouts.closing.cord_room import CordRoom
from layouts.closing.gland import squeezed_width
from layouts.closing.screw_room import groove_inset
from layouts.closing.shared_grooves import share_grooves
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
"""Least inner radius of a cord's turn, in cord sections; guides for O-rings in grooves that are not round."""

PREFERRED_SECTIONS = 6.0
"""Inner radius that a turn is given where there is room, in cord sections; the same guides."""


def seal_panel(panel: Panel, routed: Routed, clearances: Clearances) -> tuple[CordLoop, ...]:
    """Return the cord loops round the wet regions, joint by joint; none where the panel is bonded or one piece.

    The middle of a groove is the region grown by the land and half of the groove; growing a union grows its parts,
    so it consists of exact lines and arcs. Turns about what is dry are made as round as the cord asks; a groove
    then runs further off the region. The squeezed cord fills the groove's depth and keeps the area of its section.

    Every boundary of a region has its own loop, the inner one about an island too if a cover screw has room on it:
    its hole passes the cover, and coolant creeps over all lands. On a smaller island nothing stands, and the cord
    outside of it is enough.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    clearances : Clearances

    Returns
    -------
    tuple of CordLoop
        By joint and region, for each piece of a region its outer one first; open ones where grooves are shared.

    Raises
    ------
    GeometryError
        Where a groove has to turn on less than half of its width.
    """
    if panel.make.closing != "cord":
        return ()
    loops: list[CordLoop] = []
    for layer in joints_of(panel):
        drawn = draw_middles(panel, routed, clearances, layer)
        room = CordRoom(panel, routed, clearances, layer, tuple(middle for _, middle in drawn))
        for k, (region, middle) in enumerate(drawn):
            # Grooves of other regions may be shared; then only those of its own region must stand apart.
            beside = tuple(
                j
                for j, (other, _) in enumerate(drawn)
                if j != k and (other == region or not panel.make.share_groove)
            )
            path = _round_turns(panel, clearances, region, middle, room.judge(region.name, beside))
            room.settle(k, path)
            loops.append(
                CordLoop(
                    name=f"groove {len(loops) + 1}",
                    region=region.name,
                    path=path,
                    groove_width=clearances.groove_width,
                    cord_width=squeezed_width(tables.cord(panel.make.cord)),
                    layer=layer,
                )
            )
    if panel.make.share_groove:
        turn = CORNER_SECTIONS * panel.make.cord + clearances.groove_width / 2
        return share_grooves(tuple(loops), panel.rules.least_wall, turn)
    return tuple(loops)


def draw_middles(
    panel: Panel, routed: Routed, clearances: Clearances, layer: Layer
) -> list[tuple[WetRegion, Loop]]:
    """Return the middles of a joint's grooves before their turns are rounded, what is wet on their left."""
    middle = clearances.land + clearances.groove_width / 2
    return [
        (region, loop)
        for region in group_wet(panel, routed)
        for grow in _grow_pieces(panel, routed, region, layer)
        for loop in unite_loops(grow(middle))
        if loop_area(loop) > 0 or _holds_screw(panel, clearances, loop)
    ]


def corner_fillet(panel: Panel) -> float:
    """Return the least radius of the groove's outer wall where it turns round a T of channels, [mm].

    Source
    ------
    O-rings in non-circular groove patterns, https://barnwell.co.uk: inside radius at least 3 sections.
    """
    return CORNER_SECTIONS * panel.make.cord


def _round_turns(
    panel: Panel, clearances: Clearances, region: WetRegion, middle: Loop, accepts: Callable[[Loop], bool]
) -> Loop:
    half, cord = clearances.groove_width / 2, panel.make.cord
    radii = (PREFERRED_SECTIONS * cord + half, CORNER_SECTIONS * cord + half)
    path, corners = round_reentrant(middle, radii, accepts)
    tight = [corner for corner in corners if corner.radius < half + SAME_MM]
    if tight:
        x, y = tight[0].at
        raise GeometryError(
            f'the groove round "{region.name}" turns at ({x:.1f}, {y:.1f}) mm on a radius of '
            f"{tight[0].radius:.2g} mm, under half of its {clearances.groove_width:g} mm width: raise the bend "
            "radius, or keep the channels, ports and the tank that meet there further apart"
        )
    return path


def _holds_screw(panel: Panel, clearances: Clearances, middle: Loop) -> bool:
    """Return whether a cover screw has room on the island that a groove's middle goes round."""
    island = loop_polygon(tuple(middle), TOUCH_SAG)
    return not island.buffer(-(clearances.groove_width / 2 + groove_inset(panel, clearances))).is_empty


def _grow_pieces(
    panel: Panel, routed: Routed, region: WetRegion, layer: Layer
) -> tuple[Callable[[float], Region], ...]:
    """Return for each piece of a region's outline in a joint what grows it by an extra, [mm]."""
    parts: list[Callable[[float], Region]] = []
    if region.tank and layer == "back":
        parts.append(partial(_grow_tank, routed))
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

    def grow(piece: list[Callable[[float], Region]], by: float) -> Region:
        return tuple(loop for part in piece for loop in part(by))

    return tuple(partial(grow, piece) for piece in pieces if piece)


def _group_touching(parts: list[Callable[[float], Region]]) -> list[list[Callable[[float], Region]]]:
    """Return the parts of an outline by the pieces that they make up, in the order of their first parts."""
    shapes = [region_polygon(part(0.0), TOUCH_SAG) for part in parts]
    pieces: list[list[int]] = []
    for k, shape in enumerate(shapes):
        met = [piece for piece in pieces if any(shape.intersects(shapes[j]) for j in piece)]
        pieces = [piece for piece in pieces if piece not in met]
        pieces.append(sorted([k, *(j for piece in met for j in piece)]))
    return [[parts[k] for k in piece] for piece in sorted(pieces)]


def _grow_tank(routed: Routed, by: float) -> Region:
    return (outline_tank(routed, by),)


def _grow_run(channel: Channel, run: Run, by: float) -> Region:
    return sweep_disc(run.points, channel.bend_radius, channel.width + 2 * by)


def _grow_disc(centre: Point, radius: float, by: float) -> Region:
    return (outline_circle(centre, radius + by),)
