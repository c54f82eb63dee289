"""Solids cut by a plane: the halves behind it, and the faces that it cut as outlines of lines and true arcs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cadquery as cq
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox
from OCP.GeomAbs import GeomAbs_Plane
from OCP.gp import gp_Ax3, gp_Dir, gp_Pnt, gp_Trsf
from OCP.TopLoc import TopLoc_Location

from exports.drawing.frames import AXES, UNITS, CuttingPlane, ViewFrame
from exports.drawing.hidden_lines import CHAIN_MM
from exports.drawing.values import CutFace
from geom.build import SolidPart
from geom.frame import FUZZY_MM, SAME_MM
from geom.kernel import cut_shape, find_box, read_loops
from geom.outline import Point, Region

BESIDE_MM = 1.0
"""How far what is taken away reaches past the part, [mm]."""


@dataclass(frozen=True, slots=True)
class Half:
    """What of a part lies behind a plane; `cut`: whether the plane went through it."""

    name: str
    solid: cq.Shape
    cut: bool


def take_away(parts: Sequence[SolidPart], plane: CuttingPlane) -> tuple[Half, ...]:
    """Return what of each part lies behind a plane; parts before it are left out.

    Parameters
    ----------
    parts : sequence of SolidPart
    plane : CuttingPlane

    Returns
    -------
    tuple of Half

    Raises
    ------
    GeometryError
        Where the kernel cannot cut a part.
    """
    k = AXES.index(plane.axis)
    halves = []
    for part in parts:
        low, high = ([float(c) for c in corner] for corner in find_box(part.solid))
        nearest, farthest = (high[k], low[k]) if plane.towards > 0 else (low[k], high[k])
        if plane.towards * (nearest - plane.at) < SAME_MM:
            halves.append(Half(part.name, part.solid, False))
            continue
        if plane.towards * (plane.at - farthest) < SAME_MM:
            continue
        low, high = [c - BESIDE_MM for c in low], [c + BESIDE_MM for c in high]
        (low if plane.towards > 0 else high)[k] = plane.at
        tool = cq.Solid(BRepPrimAPI_MakeBox(gp_Pnt(*low), gp_Pnt(*high)).Solid())
        halves.append(Half(part.name, cut_shape(part.solid, [tool]), True))
    return tuple(halves)


def cut_faces(halves: Sequence[Half], plane: CuttingPlane, frame: ViewFrame) -> tuple[CutFace, ...]:
    """Return the faces of halves that lie in the plane that made them.

    Parameters
    ----------
    halves : sequence of Half
        Of `take_away`.
    plane : CuttingPlane
    frame : ViewFrame
        Of the section.

    Returns
    -------
    tuple of CutFace
        One for each separate face, by part and then from the lower left; the outer loop first, counter-clockwise,
        then the holes, clockwise; [mm] in the view's plane.
    """
    place = _to_view(plane, frame)
    out: list[CutFace] = []
    for half in halves:
        if half.cut:
            faces = [face for face in half.solid.Faces() if _lies_in(face, plane)]
            regions = [read_loops(face.moved(place), CHAIN_MM) for face in faces]
            out += [CutFace(half.name, region) for region in sorted(regions, key=_lower_left)]
    return tuple(out)


def _to_view(plane: CuttingPlane, frame: ViewFrame) -> cq.Location:
    """Return the move that lays the plane flat, its view's origin on that of the panel."""
    u0, v0 = frame.origin
    normal = UNITS[plane.axis]
    origin = [r * u0 + p * v0 + n * plane.at for r, p, n in zip(frame.right, frame.up, normal, strict=True)]
    turn = gp_Trsf()
    turn.SetTransformation(gp_Ax3(gp_Pnt(*origin), gp_Dir(*frame.towards), gp_Dir(*frame.right)))
    return cq.Location(TopLoc_Location(turn))


def _lies_in(face: cq.Face, plane: CuttingPlane) -> bool:
    surface = BRepAdaptor_Surface(face.wrapped)
    if surface.GetType() != GeomAbs_Plane:
        return False
    k = AXES.index(plane.axis)
    normal, place = surface.Plane().Axis().Direction(), surface.Plane().Location()
    flat = abs(normal.Coord(k + 1)) > 1 - SAME_MM and abs(place.Coord(k + 1) - plane.at) < FUZZY_MM
    return flat and face.normalAt().toTuple()[k] * plane.towards > 0


def _lower_left(region: Region) -> tuple[Point, ...]:
    return min(s.start for s in region[0]), min(s.start for loop in region for s in loop)
