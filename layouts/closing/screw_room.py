"""Where a cover screw hits nothing, and what keeps screws away elsewhere."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from geom.outline import Point, track_polygon
from geom.standards import tables
from layouts.clearance import Clearances
from layouts.closing.head_room import list_face_things
from layouts.detail import SHADOW_SAG, cut_openings, cut_pump_screws, screws_apart
from layouts.outlines import sheet_outline
from layouts.over_joint import Cast, cast_over_joint
from layouts.panel import Panel
from layouts.plan import CordLoop, Layer, Routed
from layouts.strength.screw_hole import (
    BESIDE_GROOVE,
    OVER_EDGE,
    clearance_hole,
    footprint_diameter,
    hole_wall,
    insert_room,
    screw_hole,
)

HEAD_ROOM = 0.5
"""Clearance round a screw's head or its washer, [mm]; common practice, no source."""

HEADS_APART = 2.5
"""Least distance of two screws' axes, in screw diameters; common practice, no source."""

LEAST_SHARE = 0.03
"""Share of the place that a thing must take to be named; 3 % is a sliver on the plan."""

EDGE, OTHER_COVER, KEPT_CLEAR = "the panel's edge", "the screws of the other cover", "keep-clear region"


@dataclass(frozen=True, slots=True)
class Obstacle:
    """A thing that keeps screws away: its name, and where no screw's axis may stand for it, [mm]."""

    name: str
    shape: shapely.Geometry


@dataclass(frozen=True, slots=True)
class ScrewRoom:
    """Where the axes of a cover's screws may stand in plan, [mm].

    Parameters
    ----------
    free : shapely geometry
    obstacles : tuple of Obstacle
        All that is not free lies in one of them, but for places that a cord shuts in with what is wet.
    apart : float
        Least distance of two screws.
    """

    free: shapely.Geometry
    obstacles: tuple[Obstacle, ...]
    apart: float


def find_room(
    panel: Panel,
    routed: Routed,
    loops: tuple[CordLoop, ...],
    clearances: Clearances,
    layer: Layer = "back",
    facing: tuple[Point, ...] = (),
) -> ScrewRoom:
    """Return where screws of a cover hit nothing, and stand on the dry side of every cord.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    loops : tuple of CordLoop
        Those of the cover's joint.
    clearances : Clearances
    layer : {"back", "front"}
        Whose joint the cover closes.
    facing : tuple of (float, float)
        Screws of the other cover, [mm]: kept off where both holes would meet.

    Returns
    -------
    ScrewRoom
    """
    screw, washer = tables.screw(panel.make.screw), footprint_diameter(panel) / 2
    plate = sheet_outline(panel, SHADOW_SAG)
    inside = plate.buffer(-edge_inset(panel))
    beside = groove_inset(panel, clearances) + SHADOW_SAG
    tracks = [
        track_polygon(loop.path, loop.closed, loop.groove_width, SHADOW_SAG).buffer(0) for loop in loops
    ]
    obstacles = [Obstacle(EDGE, plate.buffer(washer).difference(inside))]
    wet: list[shapely.Geometry] = []
    for cast in _cast_cuts(panel, routed, layer):
        room = _keep_off(panel, cast, layer)
        if cast.wet_joint:
            wet.append(cast.shadow)
            room = max(room, wet_inset(panel, clearances))
        if room:
            obstacles.append(Obstacle(cast.feature.name, cast.shadow.buffer(room + SHADOW_SAG)))
    obstacles += [
        Obstacle(thing.name, thing.shape.buffer(thing.off + SHADOW_SAG))
        for thing in list_face_things(panel, routed, layer)
    ]
    obstacles += [
        Obstacle(f"{KEPT_CLEAR} {k.name}", shapely.box(*k.box).buffer(washer + HEAD_ROOM))
        for k in panel.keep_clear
    ]
    apart = screws_apart(panel)
    if facing and apart:
        obstacles.append(Obstacle(OTHER_COVER, shapely.MultiPoint(facing).buffer(apart + SHADOW_SAG)))
    blocked = [obstacle.shape for obstacle in obstacles[1:]]
    free = inside.intersection(_dry_side(plate, tracks, wet)).difference(
        shapely.union_all([*blocked, *(track.buffer(beside) for track in tracks)])
    )
    return ScrewRoom(free, tuple(obstacles), max(2 * (washer + HEAD_ROOM), HEADS_APART * screw.diameter))


def wet_shadows(panel: Panel, routed: Routed, layer: Layer) -> tuple[tuple[str, shapely.Geometry], ...]:
    """Return what is wet in a joint: names of features and their outlines in plan, [mm]."""
    return tuple(
        (cast.feature.name, cast.shadow) for cast in _cast_cuts(panel, routed, layer) if cast.wet_joint
    )


def edge_inset(panel: Panel) -> float:
    """Return how far a screw's axis stands off the panel's edge, [mm]."""
    screw, washer = tables.screw(panel.make.screw), footprint_diameter(panel) / 2
    hole = max(clearance_hole(panel) / 2 + panel.rules.least_wall, insert_room(panel))
    return max(hole, screw.head_diameter / 2, washer - OVER_EDGE)


def wet_inset(panel: Panel, clearances: Clearances) -> float:
    """Return how far a screw's axis stands off a wet outline, its groove between them, [mm]."""
    return clearances.seal_reach + groove_inset(panel, clearances)


def groove_inset(panel: Panel, clearances: Clearances) -> float:
    """Return how far a screw's axis stands off a groove, [mm]."""
    beside = max(BESIDE_GROOVE, clearances.solid_gap / 2)
    return max(clearance_hole(panel) / 2 + beside, insert_room(panel))


def name_blockers(room: ScrewRoom, at: Point, reach: float) -> tuple[str, ...]:
    """Return what keeps screws away within `reach` of a place: up to three names, the one that takes most first.

    Parameters
    ----------
    room : ScrewRoom
    at : (float, float)
        [mm]
    reach : float
        [mm]
    """
    left = shapely.Point(at).buffer(reach)
    least = LEAST_SHARE * left.area
    names: list[str] = []
    near = [obstacle for obstacle in room.obstacles if obstacle.shape.intersects(left)]
    while near and len(names) < 3 and left.area > least:
        shares = [obstacle.shape.intersection(left).area for obstacle in near]
        most = shares.index(max(shares))
        if shares[most] < least:
            break
        left = left.difference(near[most].shape)
        names.append(near.pop(most).name)
    return tuple(names)


def _cast_cuts(panel: Panel, routed: Routed, layer: Layer) -> tuple[Cast, ...]:
    openings = cut_openings(panel, routed)
    return cast_over_joint(panel, (*openings, *cut_pump_screws(panel, routed, openings)), layer)


def _keep_off(panel: Panel, cast: Cast, layer: Layer) -> float:
    """Return how far a screw's axis keeps off a feature in plan, [mm]; 0 where they do not share a height."""
    diameter, depth = screw_hole(panel)
    room = 0.0
    if cast.high > 0 and cast.low < depth + hole_wall(panel):
        room = diameter / 2 + hole_wall(panel)
    if cast.low < 0:
        room = max(room, clearance_hole(panel) / 2 + panel.rules.least_wall)
    if layer in cast.feature.opens:
        room = max(room, footprint_diameter(panel) / 2 + HEAD_ROOM)
    return room


def _dry_side(
    plate: shapely.Polygon, tracks: list[shapely.Polygon], wet: list[shapely.Geometry]
) -> shapely.Geometry:
    """Return what the grooves part from all that is wet: a screw's hole through the cover would leak elsewhere."""
    coolant = shapely.union_all(wet)
    shapely.prepare(coolant)
    pieces = shapely.get_parts(plate.difference(shapely.union_all(tracks)))
    return shapely.union_all([piece for piece in pieces if not coolant.intersects(piece)])
