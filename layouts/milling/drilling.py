"""What is drilled into the parts of a milled panel, in which order, and how far each drill goes.

*Drilling*: the piece of a round feature that lies in one part: a port through a cover into the body is two. Edges are
drilled first, then the front, then the back; channels and tank are milled last. So a drill starts and ends in whole
material, except where it meets an earlier bore.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from geom.features import Blank, Cylinder, Detail, Feature
from geom.frame import EDGES, INTO, SAME_MM, Face

POINT_DEG = 118.0
"""Point angle of a twist drill, [deg]: the standard one."""

ORDER: tuple[Face, ...] = (*EDGES, "front", "back")
"""Faces in the order in which their bores are drilled."""

DRILLED = ("port", "pump bore", "through hole", "screw hole", "clearance hole")
"""Kinds of features that a drill makes; seats and spot faces are milled."""

Point3 = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Drilling:
    """A bore in one part.

    Parameters
    ----------
    part : str
        "body", "cover", "front cover".
    feature : Feature
    face : Face
        The face from which it is drilled.
    bore : Cylinder
        What of the feature lies in the part.
    starts, ends : bool
        Whether it opens the part's near side, and its far side.
    """

    part: str
    feature: Feature
    face: Face
    bore: Cylinder
    starts: bool
    ends: bool

    @property
    def name(self) -> str:
        """The feature's name."""
        return self.feature.name

    @property
    def diameter(self) -> float:
        """Of the drill, [mm]."""
        return 2 * self.bore.radius

    @property
    def length(self) -> float:
        """Depth from the mouth to where the bore has its whole width, [mm]."""
        return self.bore.length

    @property
    def end(self) -> Point3:
        """The middle of its end, [mm]."""
        return walk(self.bore, self.bore.length)

    @property
    def order(self) -> int:
        """Place of its face in the order of drilling."""
        return ORDER.index(self.face)


def list_drillings(detail: Detail) -> tuple[Drilling, ...]:
    """Return every bore of every part, in the order in which they are drilled.

    Parameters
    ----------
    detail : Detail

    Returns
    -------
    tuple of Drilling
        Part by part; within one by face, and then as the features stand in the detail.
    """
    found = []
    for blank in detail.blanks:
        pieces = (_cut_piece(blank, feature) for feature in detail.features if feature.kind in DRILLED)
        found += sorted((piece for piece in pieces if piece is not None), key=lambda piece: piece.order)
    return tuple(found)


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


def walk(bore: Cylinder, by: float) -> Point3:
    """Return the point of a bore's axis that lies `by` from its mouth, [mm]."""
    (x, y, z), (dx, dy, dz) = bore.mouth, bore.direction
    return x + dx * by, y + dy * by, z + dz * by


def drilled_from(bore: Cylinder) -> Face:
    """Return the face that a bore is drilled from: the one whose inward normal is nearest to its direction."""
    dx, dy, dz = bore.direction
    return max(ORDER, key=lambda face: INTO[face][0] * dx + INTO[face][1] * dy + INTO[face][2] * dz)


def _cut_piece(blank: Blank, feature: Feature) -> Drilling | None:
    """Return what of a round feature lies in a part; None where nothing does."""
    bore = feature.shape
    if not isinstance(bore, Cylinder):
        return None
    face, z, dz = drilled_from(bore), bore.mouth[2], bore.direction[2]
    if face in EDGES:
        inside = blank.z0 - SAME_MM < z < blank.z1 + SAME_MM
        return Drilling(blank.name, feature, face, bore, True, False) if inside else None
    first, last = sorted(((blank.z0 - z) / dz, (blank.z1 - z) / dz))
    start, stop = max(first, 0.0), min(last, bore.length)
    if stop - start < SAME_MM:
        return None
    whole = start < SAME_MM
    piece = Cylinder(
        bore.mouth if whole else walk(bore, start),
        bore.direction,
        stop - start,
        bore.radius,
        bore.chamfer if whole else 0.0,
    )
    return Drilling(
        blank.name, feature, face, piece, abs(start - first) < SAME_MM, abs(stop - last) < SAME_MM
    )
