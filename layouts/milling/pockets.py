"""What a cutter leaves standing in the pockets of a set-up.

A cutter reaches a pocket's floor through what is open as deep as that floor: the pocket itself, and what overlaps it
and is as deep or deeper. Where its disc lies inside this region it cuts; the rest stays: inner *corners* rounder
than they should be, and *ways* that it does not pass. What is open gets wider upwards, so the floor's level decides.

Corners are judged exactly, by the arcs and turns of the outlines. Ways are found by opening the region with the disc
and measured from wall to wall. Uniting regions makes no new corners: a corner of the union is one of a part's, so a
pocket that a cutter clears alone need not be asked again with its neighbours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import shapely

from geom.frame import SAME_MM, Vec
from geom.outline import Arc, Loop, Point, Segment, direction_at, outline_circle, region_polygon, reverse_path
from layouts.milling.drilling import see_shaft
from layouts.milling.frame import SetUpPlane
from layouts.milling.ways import NarrowWay, find_way
from layouts.milling.work import Pocket, Rest, SetUp

SAG = 0.01
"""Coarseness of the regions that are opened, [mm]."""

FINE_SAG = 0.001
"""Coarseness of the regions in which ways are measured, [mm]."""

CHORDS = 24
"""Chords to a quarter of the discs that open them: an 8 mm disc is then right to 2 um."""

LEFT = 0.02
"""What stands less than this off its outline counts as cut, [mm]: finer than any cutter keeps its line."""

TURN = 1e-3
"""Least turn of an outline that is a corner, [rad]: what is below it is a tangent joint seen through rounding."""

ROUND_END = 0.9 * math.pi
"""An arc that turns by more is the round end of a slot: as wide as its way, and no corner of its own, [rad]."""

BESIDE = 0.05
"""How near a corner lies to what is left in it, [mm]."""


@dataclass(frozen=True, slots=True)
class Corner:
    """An inner corner of a pocket in the set-up's plane: its place and radius, 0 where it is sharp; its turn [rad]."""

    at: Point
    radius: float
    turn: float


@dataclass(frozen=True, slots=True)
class OpenPocket:
    """A pocket, and what is open beside it.

    Parameters
    ----------
    setup : SetUp
        In which it is cut.
    plane : SetUpPlane
    pocket : Pocket
    plan : shapely.Geometry
        Its region, as coarse as `SAG`.
    deeper : tuple of (Pocket, shapely.Geometry)
        What overlaps it and is open from the face to its floor or deeper, with its region.
    drilled : tuple of shapely.Geometry
        Holes that drills make in it over its whole depth, from either face.
    corners : tuple of Corner
        Inner corners that it keeps beside these, the tightest first. The round ends of slots are none.
    """

    setup: SetUp
    plane: SetUpPlane
    pocket: Pocket
    plan: shapely.Geometry
    deeper: tuple[tuple[Pocket, shapely.Geometry], ...]
    drilled: tuple[shapely.Geometry, ...]
    corners: tuple[Corner, ...]


def open_pockets(setup: SetUp, plane: SetUpPlane, setups: tuple[SetUp, ...] = ()) -> tuple[OpenPocket, ...]:
    """Return the pockets of a set-up, each with what is open beside it.

    Parameters
    ----------
    setup : SetUp
    plane : SetUpPlane
    setups : tuple of SetUp
        What is drilled in others of them, from the part's other face, is open too.
    """
    shafts = [
        shaft
        for other in (setup, *(one for one in setups if one.part == setup.part and one != setup))
        for shaft in (see_shaft(hole, plane) for hole in other.holes)
        if shaft is not None
    ]
    plans = [region_polygon(p.region, SAG, p.islands) for p in setup.pockets]
    boxes = shapely.bounds(plans).reshape(-1, 4)
    found = []
    for k, (pocket, plan) in enumerate(zip(setup.pockets, plans, strict=True)):
        near = (boxes[:, :2] <= boxes[k, 2:]).all(axis=1) & (boxes[:, 2:] >= boxes[k, :2]).all(axis=1)
        deeper = tuple(
            (other, plans[j])
            for j, other in enumerate(setup.pockets)
            if near[j]
            and j != k
            and other.floor >= pocket.floor - SAME_MM
            and other.top <= pocket.top + SAME_MM
        )
        drilled = tuple(
            region_polygon((outline_circle(shaft.at, shaft.radius),), SAG)
            for shaft in shafts
            if shaft.high <= pocket.top + SAME_MM
            and shaft.low >= pocket.floor - SAME_MM
            and plan.dwithin(shapely.Point(shaft.at), shaft.radius)
        )
        corners = _list_corners(pocket, (*(other for _, other in deeper), *drilled))
        found.append(OpenPocket(setup, plane, pocket, plan, deeper, drilled, corners))
    return tuple(found)


def is_cleared(space: OpenPocket, radius: float) -> bool:
    """Return whether a disc gets everywhere in a pocket.

    Parameters
    ----------
    space : OpenPocket
    radius : float
        [mm]
    """
    if space.corners and space.corners[0].radius < radius - SAME_MM:
        return False
    return _is_disc(space.pocket, radius) or not _find_left(space, radius, whole=False)[0]


def find_middle(space: OpenPocket) -> Vec:
    """Return a place on a pocket's floor, in the panel frame, [mm]."""
    middle = space.plan.representative_point()
    return space.plane.to_panel((middle.x, middle.y, space.pocket.floor))


def goes_in(space: OpenPocket, radius: float) -> bool:
    """Return whether a disc gets to any of a pocket, be it through what is open beside it.

    Parameters
    ----------
    space : OpenPocket
    radius : float
        [mm]
    """
    if not shapely.buffer(space.plan, -radius, quad_segs=CHORDS).is_empty:
        return True
    if not space.deeper:
        return False
    joined = shapely.union_all([space.plan, *(other for _, other in space.deeper)])
    return bool(shapely.buffer(joined, -radius, quad_segs=CHORDS).dwithin(space.plan, radius - LEFT))


def cleared_share(space: OpenPocket, radius: float) -> tuple[float, int]:
    """Return which share of a pocket's plan a disc clears within the pocket alone, in how many pieces its centre moves.

    Parameters
    ----------
    space : OpenPocket
    radius : float
        [mm]
    """
    centres = shapely.buffer(space.plan, -radius, quad_segs=CHORDS)
    if centres.is_empty:
        return 0.0, 0
    opened = shapely.buffer(centres, radius, quad_segs=CHORDS)
    return float(opened.area / space.plan.area), shapely.get_num_geometries(centres)


def list_rests(space: OpenPocket, radius: float) -> tuple[Rest, ...]:
    """Return what a cutter of a radius leaves in a pocket.

    Parameters
    ----------
    space : OpenPocket
    radius : float
        Of the cutter, [mm].

    Returns
    -------
    tuple of Rest
        The narrowest ways first, then the tightest corners.
    """
    if _is_disc(space.pocket, radius):
        return ()
    tight = [corner for corner in space.corners if corner.radius < radius - SAME_MM]
    found, region = _find_left(space, radius)
    pieces = [part for piece in found for part in _part(piece)]
    fine = _open_region(space, FINE_SAG) if pieces else region
    ways: list[tuple[NarrowWay, list[shapely.Polygon]]] = []
    loose = []
    for piece in pieces:
        way = find_way(fine, piece, 2 * radius - LEFT)
        if way is None:
            loose.append(piece)
            continue
        same = next((known for known in ways if math.dist(known[0].at, way.at) < way.width / 2), None)
        if same is None:
            ways.append((way, [piece]))
        else:
            # What stands on both sides of one neck.
            same[1].append(piece)
    rests = []
    for way, both in sorted(ways, key=lambda row: (row[0].width, row[0].at)):
        inside = [c.radius for c in tight if _beside(c, both)]
        area = float(sum(piece.area for piece in both))
        rests.append(_rest(space, way.at, min([*inside, way.width / 2]), way.width, radius, area))
    blocked = [piece for _, both in ways for piece in both]
    for corner in tight:
        if _beside(corner, blocked):
            continue
        near = [piece for piece in loose if _beside(corner, [piece])]
        area = float(near[0].area) if near else _corner_area(corner, radius)
        rests.append(_rest(space, corner.at, corner.radius, 2 * radius, radius, area))
        loose = [piece for piece in loose if piece not in near]
    for piece in loose:
        x, y = piece.representative_point().coords[0]
        rests.append(_rest(space, (x, y), 0.0, 2 * radius, radius, float(piece.area)))
    return tuple(rests)


def _rest(space: OpenPocket, at: Point, inner: float, width: float, radius: float, area: float) -> Rest:
    place = space.plane.to_panel((*at, space.pocket.floor))
    return Rest(space.pocket.name, place, inner, width, 2 * radius, area)


def _find_left(
    space: OpenPocket, radius: float, whole: bool = True
) -> tuple[list[shapely.Polygon], shapely.Geometry]:
    """Return the pieces of a pocket that a disc does not cover, and the region in which it moves.

    With `whole` False some of them are enough.
    """
    plan, drilled, others = space.plan, list(space.drilled), [other for _, other in space.deeper]
    pieces = _leave(plan, plan, radius)
    if not pieces or not (others or drilled):
        return pieces, plan
    if not whole and others and not drilled and _is_far(pieces, others, 2 * radius):
        return pieces, plan
    region = shapely.union_all([plan, *others]) if others else plan
    target = shapely.difference(plan, shapely.union_all(drilled)) if drilled else plan
    return _leave(target, region, radius), region


def _open_region(space: OpenPocket, sag: float) -> shapely.Geometry:
    """Return the region in which a cutter moves down to a pocket's floor, as fine as `sag`."""
    open_there = [space.pocket, *(pocket for pocket, _ in space.deeper)]
    return shapely.union_all([region_polygon(p.region, sag, p.islands) for p in open_there])


def _list_corners(pocket: Pocket, beside: tuple[shapely.Geometry, ...]) -> tuple[Corner, ...]:
    """Return the inner corners of a pocket that do not lie in regions beside it, the tightest first."""
    loops = (*pocket.region, *(reverse_path(loop) for loop in pocket.islands))
    found = [corner for loop in loops for corner in _corners(loop)]
    for other in beside if found else ():
        found = [corner for corner in found if not shapely.contains_xy(other, *corner.at)]
    return tuple(sorted(found, key=lambda corner: (corner.radius, corner.at)))


def _is_disc(pocket: Pocket, radius: float) -> bool:
    """Return whether a pocket is a plain circle that a disc goes into."""
    if len(pocket.region) != 1 or len(pocket.region[0]) != 1 or pocket.islands:
        return False
    (whole,) = pocket.region[0]
    return isinstance(whole, Arc) and whole.radius >= radius - SAME_MM


def _leave(target: shapely.Geometry, space: shapely.Geometry, radius: float) -> list[shapely.Polygon]:
    """Return the pieces of `target` that a disc moved inside `space` does not cover, each over `LEFT` thick."""
    centres = shapely.buffer(space, LEFT / 2 - radius, quad_segs=CHORDS)
    covered = shapely.buffer(centres, radius + LEFT / 2, quad_segs=CHORDS)
    thick = shapely.difference(target, covered)
    if thick.is_empty:
        return []
    left = shapely.difference(target, shapely.buffer(centres, radius - LEFT / 2, quad_segs=CHORDS))
    return [
        piece
        for piece in shapely.get_parts(left).tolist()
        if isinstance(piece, shapely.Polygon) and piece.intersects(thick)
    ]


def _part(piece: shapely.Polygon) -> list[shapely.Polygon]:
    """Return the parts of what is left that only hairs along straight walls join: rounding, not material."""
    thick = shapely.buffer(shapely.buffer(piece, -LEFT / 4), LEFT / 4)
    return [part for part in shapely.get_parts(thick).tolist() if not part.is_empty] or [piece]


def _is_far(pieces: list[shapely.Polygon], others: list[shapely.Geometry], reach: float) -> bool:
    """Return whether some of what is left lies so far from other regions that no disc in them helps."""
    points = shapely.points(shapely.get_coordinates(pieces))
    for other in others:
        shapely.prepare(other)
        points = points[~shapely.dwithin(other, points, reach)]
    return len(points) > 0


def _corners(loop: Loop) -> list[Corner]:
    """Return the turns to the left of a loop with its open side on the left: sharp ones, and arcs."""
    found = []
    for before, piece in pairwise((loop[-1], *loop)):
        turn = _turn(before, piece) if len(loop) > 1 else 0.0
        if turn > TURN:
            found.append(Corner(piece.start, 0.0, turn))
        if isinstance(piece, Arc) and 0 < piece.sweep < ROUND_END:
            found.append(Corner(piece.at(0.5), piece.radius, piece.sweep))
    return found


def _turn(before: Segment, after: Segment) -> float:
    """Return by how much an outline turns to the left between two pieces, -pi to pi, [rad]."""
    turn = direction_at(after, 0.0) - direction_at(before, 1.0)
    return (turn + math.pi) % (2 * math.pi) - math.pi


def _beside(corner: Corner, pieces: list[shapely.Polygon]) -> bool:
    """Return whether a corner lies beside one of the pieces."""
    at = shapely.Point(corner.at)
    return any(piece.dwithin(at, BESIDE) for piece in pieces)


def _corner_area(corner: Corner, radius: float) -> float:
    """Return what a disc leaves in a corner between straight walls beside its own arc, [mm2]."""
    half = min(corner.turn, 0.99 * math.pi) / 2
    return float((radius**2 - corner.radius**2) * (math.tan(half) - half))
