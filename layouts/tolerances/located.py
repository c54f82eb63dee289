"""From where each cut is measured, in which set-up it is made, and how far off the class lets its sides be.

The model: across the sheet everything is measured from the panel's lower left corner, so that a coordinate's tolerance
is that of its distance from there. Depths are measured from the face that a feature is cut from; edge bores stand
above the body's back (its joint, in one piece its back face). A side of a feature is off by its place and by half of
what its width or diameter is off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from geom.features import Blank, Cylinder, Detail, Feature, Track
from geom.frame import EDGES, SAME_MM, Face, Vec
from geom.standards import tables
from layouts.detail import cast_shadow
from layouts.milling.drilling import cut_piece, nearer_face
from layouts.milling.work import Milled
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.tolerances.classes import length_tolerance

SetUpKey = tuple[str, Face]
"""Part, and the face that looks up."""

CORNER_SHARE = math.sqrt(2.0) - 1.0
"""How far a rounded corner's middle moves for a change of its radius."""


@dataclass(frozen=True, slots=True)
class Located:
    """One feature, and how it stands in its part.

    Parameters
    ----------
    feature : Feature
    parts : tuple of str
        Parts that it is cut from.
    setups : tuple of (str, Face)
        Set-ups that it is cut in; of a printed panel, none.
    face : Face
        The face that it is cut from.
    reference_z : float
        Height that its own heights are measured from, [mm].
    """

    feature: Feature
    parts: tuple[str, ...]
    setups: tuple[SetUpKey, ...]
    face: Face
    reference_z: float


def locate_features(panel: Panel, detail: Detail, milled: Milled | None) -> dict[str, Located]:
    """Return how each feature stands in its part, by name, heights in [mm].

    Parameters
    ----------
    panel : Panel
    detail : Detail
    milled : Milled or None
        Its set-ups; where a feature is in none of them, it is taken as cut from the face that it opens into.
    """
    known: dict[str, list[SetUpKey]] = {}
    for setup in () if milled is None else milled.setups:
        cuts = (*(pocket.name for pocket in setup.pockets), *(hole.name for hole in setup.holes))
        for name in dict.fromkeys(cuts):
            known.setdefault(name, []).append((setup.part, setup.face))
    return {
        feature.name: _locate(panel, detail.blanks, feature, tuple(known.get(feature.name, ())))
        for feature in detail.features
    }


def across(panel: Panel, routed: Routed, located: Located, at: Vec, way: Vec) -> float:
    """Return how far a feature's side may be off across the sheet, towards another, [mm].

    Parameters
    ----------
    panel : Panel
    routed : Routed
    located : Located
    at : (float, float, float)
        Where its side is nearest to the other, [mm].
    way : (float, float, float)
        Unit vector from there to the other.
    """
    shape, (dx, dy, _) = located.feature.shape, way
    if isinstance(shape, Cylinder):
        lateral = _lateral(way, shape.direction)
        off = _place(panel, shape.mouth, lateral)
        size = math.hypot(*lateral) * length_tolerance(panel, 2 * shape.radius) / 2
        return off + size + _along_edge(panel, shape, way)
    width = _slot_width(routed, located.feature)
    if width is None:
        x0, y0, x1, y1 = cast_shadow(shape)[0].bounds
        middle = ((x0 + x1) / 2, (y0 + y1) / 2, 0.0)
        sizes = abs(dx) * length_tolerance(panel, x1 - x0) + abs(dy) * length_tolerance(panel, y1 - y0)
        return _place(panel, middle, (dx, dy, 0.0)) + sizes / 2
    flat = math.hypot(dx, dy)
    if flat < SAME_MM:
        return 0.0
    middle = (at[0] - dx / flat * width / 2, at[1] - dy / flat * width / 2, 0.0)
    off = length_tolerance(panel, width)
    if is_groove(located.feature):
        off = max(off, tables.cord(panel.make.cord).groove_width_tolerance)
    return _place(panel, middle, (dx, dy, 0.0)) + flat * off / 2


def upright(panel: Panel, located: Located, at: Vec, way: Vec) -> float:
    """Return how far a feature's floor, roof or side may be off in height, towards another, [mm].

    Parameters
    ----------
    panel : Panel
    located : Located
    at : (float, float, float)
        Where it is nearest to the other, [mm].
    way : (float, float, float)
        Unit vector from there to the other.
    """
    rise = abs(way[2])
    if rise < SAME_MM:
        return 0.0
    shape = located.feature.shape
    if isinstance(shape, Cylinder) and located.face in EDGES:
        # The diameter's half is counted with the sides.
        return rise * length_tolerance(panel, abs(shape.mouth[2] - located.reference_z))
    off = length_tolerance(panel, abs(at[2] - located.reference_z))
    if is_groove(located.feature):
        off = max(off, tables.cord(panel.make.cord).groove_depth_tolerance)
    return rise * off


def shares_setup(a: Located, b: Located) -> bool:
    """Return whether two features are made in one set-up: for a print, in one part."""
    if not a.setups and not b.setups:
        return bool(set(a.parts) & set(b.parts))
    return bool(set(a.setups) & set(b.setups))


def is_groove(feature: Feature) -> bool:
    """Return whether a feature holds a cord, and so has tolerances of its own."""
    return feature.kind in ("groove", "ring groove")


def _locate(
    panel: Panel, blanks: tuple[Blank, ...], feature: Feature, known: tuple[SetUpKey, ...]
) -> Located:
    # What is drawn as one stands in both pieces of a split panel.
    faces: dict[Blank, Face] = {}
    for blank in blanks:
        made_from = _made_from(blank, feature)
        if made_from is not None:
            faces[blank] = made_from
    parts = tuple(blank.name for blank in faces)
    of_setups = {face for _, face in known} or set(faces.values())
    face: Face = "front"
    if len(of_setups) == 1:
        face = of_setups.pop()
    elif faces:
        face = next(iter(faces.values()))
    setups: tuple[SetUpKey, ...] = known or tuple((part, face) for part in parts)
    if panel.make.method == "printed":
        setups = ()
    if face in EDGES or not parts:
        return Located(feature, parts, setups, face, 0.0)
    reference = max(blank.z1 for blank in faces) if face == "front" else min(blank.z0 for blank in faces)
    return Located(feature, parts, setups, face, reference)


def _made_from(blank: Blank, feature: Feature) -> Face | None:
    """Return the face of a part that a feature is made from; None where it does not lie in that part."""
    shape = feature.shape
    if isinstance(shape, Cylinder):
        piece = cut_piece(blank, feature)
        return None if piece is None else piece.face
    if min(shape.z1, blank.z1) - max(shape.z0, blank.z0) <= SAME_MM:
        return None
    return nearer_face(blank, shape.z0, shape.z1, "front")


def _lateral(way: Vec, axis: Vec) -> Vec:
    along = sum(w * a for w, a in zip(way, axis, strict=True))
    x, y, z = (w - along * a for w, a in zip(way, axis, strict=True))
    return x, y, z


def _place(panel: Panel, middle: Vec, lateral: Vec) -> float:
    """Return what both coordinates of a middle, from the lower left corner, add to a distance, [mm]."""
    return math.fsum(
        abs(part) * length_tolerance(panel, abs(coordinate))
        for part, coordinate in zip(lateral[:2], middle[:2], strict=True)
        if abs(part) > SAME_MM
    )


def _along_edge(panel: Panel, shape: Cylinder, way: Vec) -> float:
    """Return what the end of an edge bore may be off along its axis: its depth, and the side that it starts from."""
    if abs(shape.direction[2]) > 0.5:
        return 0.0
    along = abs(sum(w * a for w, a in zip(way, shape.direction, strict=True)))
    if along < SAME_MM:
        return 0.0
    far = sum(shape.direction) < 0
    side = panel.width if abs(shape.direction[0]) > 0.5 else panel.height
    return along * (length_tolerance(panel, shape.length) + (length_tolerance(panel, side) if far else 0.0))


def _slot_width(routed: Routed, feature: Feature) -> float | None:
    """Return how wide a groove or channel is, [mm]; None for a pocket, which is a box."""
    if isinstance(feature.shape, Track):
        return feature.shape.width
    names = {f"channel {channel.name}": channel.width for channel in routed.channels}
    return names.get(feature.name.removesuffix(" front"), names.get(feature.name))
