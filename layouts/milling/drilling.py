"""What is drilled into the parts of a panel, from which face, in which order, and how far each drill goes."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geom.errors import GeometryError
from geom.features import Blank, Cylinder, Feature
from geom.frame import EDGES, FUZZY_MM, INTO, SAME_MM, Face
from geom.outline import Point
from layouts.milling.frame import SetUpPlane, plane_of
from layouts.milling.work import Hole, Milled

POINT_DEG = 118.0
"""Point angle of a twist drill, [deg]: the standard one."""

MOST_DRILLED = 20.0
"""Bores wider than this are milled, [mm]; common practice, no source."""

DEPTH_GOOD, DEPTH_MOST = 4.0, 10.0
"""Depth over diameter that is drilled in one go, and with an ordinary drill at all."""

MILLED_KINDS = ("seat", "spot face")
"""Round features with a flat floor, which no drill leaves."""

SQUARE = 1e-9
"""What the direction of a bore that stands square to a face may be off, [-]."""


@dataclass(frozen=True, slots=True)
class Piece:
    """What of a round feature lies in one part.

    Parameters
    ----------
    face : Face
        From which it is made.
    bore : Cylinder
        From its own mouth in the part, in the panel frame, [mm]; a chamfer only where the feature's mouth is.
    mouthed : bool
        Whether the feature's mouth is its mouth.
    starts, ends : bool
        Whether it opens the part's near side, and its far side.
    """

    face: Face
    bore: Cylinder
    mouthed: bool
    starts: bool
    ends: bool


def cut_piece(blank: Blank, feature: Feature) -> Piece | None:
    """Return what of a round feature lies in a part; None where nothing does.

    Parameters
    ----------
    blank : Blank
    feature : Feature
        A cylinder.

    Raises
    ------
    GeometryError
        Where it stands square to no face, or is not round.
    """
    bore = feature.shape
    if not isinstance(bore, Cylinder):
        raise GeometryError(f"{feature.name} is not round: no drill makes it")
    face = drilled_from(bore)
    if face in EDGES:
        low, high = bore.mouth[2] - bore.radius, bore.mouth[2] + bore.radius
        if min(high, blank.z1) - max(low, blank.z0) <= FUZZY_MM:
            return None
        return _piece(blank, face, bore, True)
    end = bore.mouth[2] + bore.direction[2] * bore.length
    low, high = max(min(bore.mouth[2], end), blank.z0), min(max(bore.mouth[2], end), blank.z1)
    if high - low <= FUZZY_MM:
        return None
    mouthed = abs(bore.mouth[2] - (high if face == "front" else low)) < SAME_MM
    if feature.kind == "through hole":
        # It begins and ends inside what is cut in both faces.
        face = nearer_face(blank, low, high, face)
    mouth = (*bore.mouth[:2], high if face == "front" else low)
    # Lead chamfer and thread are at the mouth: a part further in has a plain bore.
    chamfer = bore.chamfer if mouthed else 0.0
    cut = Cylinder(mouth, INTO[face], high - low, bore.radius, chamfer, bore.core)
    return _piece(blank, face, cut, mouthed)


def _piece(blank: Blank, face: Face, bore: Cylinder, mouthed: bool) -> Piece:
    plane = plane_of(blank, face)
    _, _, top = plane.to_plane(bore.mouth)
    return Piece(face, bore, mouthed, top < SAME_MM, top + bore.length > plane.height - SAME_MM)


def drilled_from(bore: Cylinder) -> Face:
    """Return the face that a bore is made from: the one that its direction goes into.

    Parameters
    ----------
    bore : Cylinder

    Raises
    ------
    GeometryError
        Where it stands square to no face.
    """
    faces: tuple[Face, ...] = ("front", "back", *EDGES)
    for face in faces:
        if math.dist(INTO[face], bore.direction) < SQUARE:
            return face
    x, y, z = bore.mouth
    raise GeometryError(
        f"the bore from ({x:g}, {y:g}, {z:g}) mm slants: only bores square to a face of the panel are made"
    )


def nearer_face(blank: Blank, low: float, high: float, tie: Face) -> Face:
    """Return the face, front or back, from which what lies between two z is reached; `tie` where both are alike."""
    from_front, from_back = blank.z1 - low, high - blank.z0
    if abs(from_front - from_back) < SAME_MM:
        return tie
    opened: list[Face] = []
    if high > blank.z1 - SAME_MM:
        opened.append("front")
    if low < blank.z0 + SAME_MM:
        opened.append("back")
    if len(opened) == 1:
        return opened[0]
    return "front" if from_front < from_back else "back"


def is_drilled(kind: str, diameter: float) -> bool:
    """Return whether a drill makes a round feature of a kind and a diameter, [mm]; else an end mill does."""
    return kind not in MILLED_KINDS and diameter <= MOST_DRILLED


def list_drilled(milled: Milled) -> tuple[Hole, ...]:
    """Return all that is drilled, in the order in which it is.

    Parameters
    ----------
    milled : Milled
    """
    return tuple(
        hole for setup in milled.setups for hole in setup.holes if is_drilled(hole.kind, hole.diameter)
    )


def tip_height(diameter: float) -> float:
    """Return how far a drill's point stands before its whole width, [mm].

    Parameters
    ----------
    diameter : float
        [mm]

    Source
    ------
    A cone of 118 degrees: half of the diameter over tan 59 degrees.
    """
    return diameter / 2 / math.tan(math.radians(POINT_DEG / 2))


@dataclass(frozen=True, slots=True)
class Shaft:
    """What a drill opens in a set-up's plane: a disc between two depths under its face, [mm]."""

    at: Point
    radius: float
    high: float
    low: float


def see_shaft(hole: Hole, plane: SetUpPlane) -> Shaft | None:
    """Return what a hole opens in the plane of a set-up; None where it does not run straight into it.

    Parameters
    ----------
    hole : Hole
        Made in this or another set-up of the part.
    plane : SetUpPlane
    """
    (u, v, top), (far_u, far_v, floor) = plane.to_plane(hole.bore.mouth), plane.to_plane(hole.end)
    if math.hypot(far_u - u, far_v - v) > SAME_MM:
        return None
    return Shaft((u, v), hole.bore.radius, min(top, floor), max(top, floor))
