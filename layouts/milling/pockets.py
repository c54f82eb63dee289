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

from geom.frame import SAME_MM
from geom.outline import Arc, Loop, Point, Segment, direction_at, outline_circle, region_polygon, reverse_path
from layouts.milling.frame import SetUpPlane
from layouts.milling.ways import NarrowWay, find_way
from layouts.milling.work import Hole, Pocket, Rest, SetUp

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


class OpenSpace:
    """The pockets and holes of a set-up as regions, each opened by as many discs as are asked for.

    Parameters
    ----------
    setup : SetUp
    plane : SetUpPlane
    """

    def __init__(self, setup: SetUp, plane: SetUpPlane) -> None:
        self.setup, self.plane = setup, plane
        self._polygons = [region_polygon(p.region, SAG, p.islands) for p in setup.pockets]
        self._boxes = shapely.bounds(self._polygons).reshape(-1, 4)
        self._corners: dict[int, tuple[Corner, ...]] = {}
        self._drilled: dict[int, list[shapely.Geometry]] = {}

    def is_cleared(self, pocket: Pocket, radius: float) -> bool:
        """Return whether a disc gets everywhere in a pocket."""
        tight = next(iter(self.list_corners(pocket)), None)
        if tight is not None and tight.radius < radius - SAME_MM:
            return False
        return _is_disc(pocket, radius) or not self._leave(pocket, radius, whole=False)[0]

    def find_middle(self, pocket: Pocket) -> tuple[float, float, float]:
        """Return a place on a pocket's floor, in the panel frame, [mm]."""
        middle = self._polygons[self.setup.pockets.index(pocket)].representative_point()
        return self.plane.to_panel((middle.x, middle.y, pocket.floor))

    def cleared_share(self, pocket: Pocket, radius: float) -> tuple[float, int]:
        """Return which share of a pocket's plan a disc gets to, and in how many pieces its centre moves."""
        whole = self._polygons[self.setup.pockets.index(pocket)]
        centres = shapely.buffer(whole, -radius, quad_segs=CHORDS)
        if centres.is_empty:
            return 0.0, 0
        opened = shapely.buffer(centres, radius, quad_segs=CHORDS)
        return float(opened.area / whole.area), shapely.get_num_geometries(centres)

    def list_corners(self, pocket: Pocket) -> tuple[Corner, ...]:
        """Return the inner corners that a pocket keeps beside what overlaps it and what is drilled.

        The round ends of slots are none.

        Parameters
        ----------
        pocket : Pocket

        Returns
        -------
        tuple of Corner
            The tightest first.
        """
        loops = (*pocket.region, *(reverse_path(loop) for loop in pocket.islands))
        k = self.setup.pockets.index(pocket)
        if k not in self._corners:
            found = [corner for loop in loops for corner in _corners(loop)]
            for other in (*self._as_deep(k), *self._drilled_in(k)) if found else ():
                found = [corner for corner in found if not shapely.contains_xy(other, *corner.at)]
            self._corners[k] = tuple(sorted(found, key=lambda corner: (corner.radius, corner.at)))
        return self._corners[k]

    def list_rests(self, pocket: Pocket, radius: float) -> tuple[Rest, ...]:
        """Return what a cutter of a radius leaves in a pocket.

        Parameters
        ----------
        pocket : Pocket
            One of the set-up's.
        radius : float
            Of the cutter, [mm].

        Returns
        -------
        tuple of Rest
            The narrowest ways first, then the tightest corners.
        """
        if _is_disc(pocket, radius):
            return ()
        tight = [corner for corner in self.list_corners(pocket) if corner.radius < radius - SAME_MM]
        found, space = self._leave(pocket, radius)
        pieces = [part for piece in found for part in _part(piece)]
        fine = self._space(pocket, FINE_SAG) if pieces else space
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
            rests.append(self._rest(pocket, way.at, min([*inside, way.width / 2]), way.width, radius, area))
        blocked = [piece for _, both in ways for piece in both]
        for corner in tight:
            if _beside(corner, blocked):
                continue
            near = [piece for piece in loose if _beside(corner, [piece])]
            area = float(near[0].area) if near else _corner_area(corner, radius)
            rests.append(self._rest(pocket, corner.at, corner.radius, 2 * radius, radius, area))
            loose = [piece for piece in loose if piece not in near]
        for piece in loose:
            x, y = piece.representative_point().coords[0]
            rests.append(self._rest(pocket, (x, y), 0.0, 2 * radius, radius, float(piece.area)))
        return tuple(rests)

    def _rest(
        self, pocket: Pocket, at: Point, inner: float, width: float, radius: float, area: float
    ) -> Rest:
        place = self.plane.to_panel((*at, pocket.floor))
        return Rest(pocket.name, place, inner, width, 2 * radius, area)

    def _leave(
        self, pocket: Pocket, radius: float, whole: bool = True
    ) -> tuple[list[shapely.Polygon], shapely.Geometry]:
        """Return the pieces of a pocket that a disc does not cover, and the region in which it moves.

        With `whole` False some of them are enough.
        """
        k = self.setup.pockets.index(pocket)
        plan = self._polygons[k]
        pieces = _leave(plan, plan, radius)
        others = self._as_deep(k) if pieces else []
        drilled = self._drilled_in(k) if pieces else []
        if not others and not drilled:
            return pieces, plan
        if not whole and others and not drilled and _is_far(pieces, others, 2 * radius):
            return pieces, plan
        space = shapely.union_all([plan, *others]) if others else plan
        target = shapely.difference(plan, shapely.union_all(drilled)) if drilled else plan
        return _leave(target, space, radius), space

    def _space(self, pocket: Pocket, sag: float) -> shapely.Geometry:
        """Return the region in which a cutter moves down to a pocket's floor, as fine as `sag`."""
        open_there = [pocket, *(self.setup.pockets[j] for j in self._deep_indices(pocket))]
        return shapely.union_all([region_polygon(p.region, sag, p.islands) for p in open_there])

    def _drilled_in(self, k: int) -> list[shapely.Geometry]:
        """Return the holes that a drill makes in a pocket over its whole depth."""
        if k not in self._drilled:
            pocket, plan = self.setup.pockets[k], self._polygons[k]
            near = [
                hole
                for hole in self.setup.holes
                if _drills(hole, pocket) and plan.dwithin(shapely.Point(hole.at), hole.diameter / 2)
            ]
            self._drilled[k] = [
                region_polygon((outline_circle(hole.at, hole.diameter / 2),), SAG) for hole in near
            ]
        return self._drilled[k]

    def _as_deep(self, k: int) -> list[shapely.Geometry]:
        """Return the regions of the pockets that overlap one and are open from the face to its floor or deeper."""
        return [self._polygons[j] for j in self._deep_indices(self.setup.pockets[k])]

    def _deep_indices(self, pocket: Pocket) -> list[int]:
        x0, y0, x1, y1 = self._boxes[self.setup.pockets.index(pocket)]
        return [
            j
            for j, (other, (u0, v0, u1, v1)) in enumerate(zip(self.setup.pockets, self._boxes, strict=True))
            if other is not pocket
            and other.floor >= pocket.floor - SAME_MM
            and other.top <= pocket.top + SAME_MM
            and u0 <= x1
            and x0 <= u1
            and v0 <= y1
            and y0 <= v1
        ]


def _is_disc(pocket: Pocket, radius: float) -> bool:
    """Return whether a pocket is a plain circle that a disc goes into."""
    if len(pocket.region) != 1 or len(pocket.region[0]) != 1 or pocket.islands:
        return False
    (whole,) = pocket.region[0]
    return isinstance(whole, Arc) and whole.radius >= radius - SAME_MM


def _drills(hole: Hole, pocket: Pocket) -> bool:
    """Return whether a hole takes a pocket's whole depth where it stands."""
    return hole.top <= pocket.top + SAME_MM and hole.top + hole.depth >= pocket.floor - SAME_MM


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
