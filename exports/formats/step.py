"""Solids as STEP AP242: names, colours, one product a part, and thread call-outs as names of faces."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import cadquery as cq
from OCP.APIHeaderSection import APIHeaderSection_MakeHeader
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.GeomAbs import GeomAbs_SurfaceType
from OCP.IFSelect import IFSelect_ReturnStatus
from OCP.Interface import Interface_Static
from OCP.Quantity import Quantity_Color, Quantity_ColorRGBA, Quantity_TypeOfColor
from OCP.STEPCAFControl import STEPCAFControl_Controller, STEPCAFControl_Writer
from OCP.STEPControl import STEPControl_StepModelType
from OCP.TCollection import TCollection_ExtendedString, TCollection_HAsciiString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label
from OCP.TDocStd import TDocStd_Document
from OCP.TopLoc import TopLoc_Location
from OCP.XCAFDoc import XCAFDoc_ColorType, XCAFDoc_DocumentTool, XCAFDoc_ShapeTool

from exports.formats.step_text import canonical_step
from exports.pictures.colours import Colour
from geom.errors import GeometryError
from geom.features import Cylinder, Feature

PINNED_TIME = "1980-01-01T00:00:00"
"""The header's time: a clock would give the same panel other bytes."""

AXIS_MM = 1e-4
"""A face belongs to a bore when axis and radius agree this closely, [mm]."""


@dataclass(frozen=True, slots=True)
class StepPart:
    """A solid to be written: product name, shape, colour."""

    name: str
    shape: cq.Shape
    colour: Colour


def write_step(
    path: Path, title: str, parts: tuple[StepPart, ...], features: tuple[Feature, ...], assembly: bool
) -> None:
    """Write parts as one STEP file.

    Parameters
    ----------
    path : Path
    title : str
        Name of the assembly's product; not used for a single part.
    parts : tuple of StepPart
        All of them under one assembly, or exactly one.
    features : tuple of Feature
        Bores whose faces get the feature's name, thread call-out included.
    assembly : bool

    Raises
    ------
    GeometryError
        Where the kernel cannot translate or write the solids.
    """
    STEPCAFControl_Controller.Init_s()
    # These settings belong to the process: each writer sets all that it relies on.
    if not Interface_Static.SetCVal_s("write.step.schema", "AP242DIS"):
        raise GeometryError("the CAD kernel does not know STEP AP242: install cadquery 2.6 or later")
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    Interface_Static.SetIVal_s("write.surfacecurve.mode", 0)
    Interface_Static.SetIVal_s("write.stepcaf.subshapes.name", 1)
    document = TDocStd_Document(TCollection_ExtendedString("XmlOcaf"))
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    colours = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    root = shapes.NewShape() if assembly else None
    if root is not None:
        _name(root, title)
    for part in parts:
        label = shapes.AddShape(part.shape.wrapped, False)
        _name(label, part.name)
        tint = Quantity_Color(*part.colour[:3], Quantity_TypeOfColor.Quantity_TOC_sRGB)
        shade = Quantity_ColorRGBA(tint, part.colour[3])
        colours.SetColor(label, shade, XCAFDoc_ColorType.XCAFDoc_ColorSurf)
        _name_faces(shapes, label, part.shape, features)
        if root is not None:
            _name(shapes.AddComponent(root, label, TopLoc_Location()), part.name)
    shapes.UpdateAssemblies()
    writer = STEPCAFControl_Writer()
    writer.SetColorMode(True)
    writer.SetNameMode(True)
    if not writer.Transfer(document, STEPControl_StepModelType.STEPControl_AsIs):
        raise GeometryError(f"the CAD kernel could not translate {path.name} to STEP")
    header = APIHeaderSection_MakeHeader(writer.ChangeWriter().Model())
    header.SetTimeStamp(TCollection_HAsciiString(PINNED_TIME))
    header.SetName(TCollection_HAsciiString(path.name))
    header.SetAuthorValue(1, TCollection_HAsciiString(""))
    header.SetOrganizationValue(1, TCollection_HAsciiString(""))
    header.SetOriginatingSystem(TCollection_HAsciiString("rillplate"))
    if writer.Write(str(path)) != IFSelect_ReturnStatus.IFSelect_RetDone:
        raise OSError(f"{path.name} could not be written")
    text = canonical_step(path.read_text(encoding="utf-8"))
    path.write_text(text, encoding="ascii", newline="\n")


def _name(label: TDF_Label, text: str) -> None:
    TDataStd_Name.Set_s(label, TCollection_ExtendedString(text, True))


def _name_faces(
    shapes: XCAFDoc_ShapeTool, label: TDF_Label, shape: cq.Shape, features: tuple[Feature, ...]
) -> None:
    bores: dict[int, list[tuple[str, Cylinder]]] = {}
    for feature in features:
        if isinstance(feature.shape, Cylinder):
            bores.setdefault(round(feature.shape.radius / AXIS_MM), []).append((feature.name, feature.shape))
    for face in shape.Faces():
        surface = BRepAdaptor_Surface(face.wrapped)
        if surface.GetType() != GeomAbs_SurfaceType.GeomAbs_Cylinder:
            continue
        cylinder = surface.Cylinder()
        axis = cylinder.Axis()
        at, along = axis.Location(), axis.Direction()
        middle = (surface.FirstVParameter() + surface.LastVParameter()) / 2
        centre = (at.X() + along.X() * middle, at.Y() + along.Y() * middle, at.Z() + along.Z() * middle)
        direction = (along.X(), along.Y(), along.Z())
        for name, bore in bores.get(round(cylinder.Radius() / AXIS_MM), ()):
            if _belongs(bore, centre, direction):
                sub = shapes.AddSubShape(label, face.wrapped)
                if not sub.IsNull():
                    _name(sub, name)
                break


def _belongs(bore: Cylinder, at: tuple[float, float, float], along: tuple[float, float, float]) -> bool:
    """Return whether a face round the line through its middle `at` is a bore's: on its axis, within its length.

    Two bores in line, such as the screws of both covers, have one axis.
    """
    d = bore.direction
    if abs(abs(sum(a * b for a, b in zip(d, along, strict=True))) - 1.0) > 1e-9:
        return False
    v = tuple(a - b for a, b in zip(at, bore.mouth, strict=True))
    s = sum(a * b for a, b in zip(v, d, strict=True))
    if not -AXIS_MM < s < bore.length + AXIS_MM:
        return False
    return math.dist(v, tuple(s * a for a in d)) < AXIS_MM
