"""From where each cut is measured, in which set-up it is made, and how far off the class lets its sides be.

The model: across the sheet everything is measured from the panel's lower left corner, so that a coordinate's tolerance
is that of its distance from there. Depths are measured from the face that a feature is cut from; edge bores stand
above the body's back (its joint, in one piece its back face). A side of a feature is off by its place and by half of
what its width or diameter is off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from geom.features import Cylinder, Detail, Feature, Track
from geom.frame import EDGES, INTO, SAME_MM, Face
from geom.standards import tables
from layouts.milling.work import Milled
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.tolerances.classes import length_tolerance

Vec = tuple[float, float, float]
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
        feature.name: _locate(panel, detail, feature, tuple(known.get(feature.name, ())))
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
    if located.feature.kind == "tank" and routed.tank.box is not None:
        x0, y0, x1, y1 = routed.tank.box
        middle = ((x0 + x1) / 2, (y0 + y1) / 2, 0.0)
        sizes = abs(dx) * length_tolerance(panel, x1 - x0) + abs(dy) * length_tolerance(panel, y1 - y0)
        return _place(panel, middle, (dx, dy, 0.0)) + sizes / 2
    width = _width(routed, located.feature)
    flat = math.hypot(dx, dy)
    if flat < SAME_MM:
        return 0.0
    middle = (at[0] - dx / flat * width / 2, at[1] - dy / flat * width / 2, 0.0)
    off = length_tolerance(panel, width)
    if located.feature.kind == "groove":
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
    if located.feature.kind == "groove":
        off = max(off, tables.cord(panel.make.cord).groove_depth_tolerance)
    return rise * off


def shares_setup(a: Located, b: Located) -> bool:
    """Return whether two features are made in one set-up: for a print, in one part."""
    if not a.setups and not b.setups:
        return bool(set(a.parts) & set(b.parts))
    return bool(set(a.setups) & set(b.setups))


def _locate(panel: Panel, detail: Detail, feature: Feature, known: tuple[SetUpKey, ...]) -> Located:
    low, high = _heights(feature)
    parts = tuple(blank.name for blank in detail.blanks if min(high, blank.z1) - max(low, blank.z0) > SAME_MM)
    flat = {face for _, face in known}
    face = next(iter(flat)) if len(flat) == 1 else _face_of(detail, feature, low)
    setups: tuple[SetUpKey, ...] = known or tuple((part, face) for part in parts)
    if panel.make.method == "printed":
        setups = ()
    if face in EDGES or not parts:
        return Located(feature, parts, setups, face, 0.0)
    cut = [blank for blank in detail.blanks if blank.name in parts]
    reference = max(blank.z1 for blank in cut) if face == "front" else min(blank.z0 for blank in cut)
    return Located(feature, parts, setups, face, reference)


def _face_of(detail: Detail, feature: Feature, low: float) -> Face:
    """Return the face that a feature is cut from."""
    shape = feature.shape
    if isinstance(shape, Cylinder):
        faces: tuple[Face, ...] = ("front", "back", *EDGES)
        return next(face for face in faces if math.dist(INTO[face], shape.direction) < 0.5)
    body = next((blank for blank in detail.blanks if blank.name in ("body", "panel")), detail.blanks[0])
    return "back" if abs(low - body.z0) < abs(shape.z1 - body.z1) else "front"


def _heights(feature: Feature) -> tuple[float, float]:
    shape = feature.shape
    if not isinstance(shape, Cylinder):
        return shape.z0, shape.z1
    if abs(shape.direction[2]) < 0.5:
        return shape.mouth[2] - shape.radius, shape.mouth[2] + shape.radius
    end = shape.mouth[2] + shape.direction[2] * shape.length
    return min(shape.mouth[2], end), max(shape.mouth[2], end)


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


def _width(routed: Routed, feature: Feature) -> float:
    """Return how wide a slot is, [mm]."""
    if isinstance(feature.shape, Track):
        return feature.shape.width
    names = {f"channel {channel.name}": channel.width for channel in routed.channels}
    return names.get(feature.name.removesuffix(" front"), names.get(feature.name, 0.0))
