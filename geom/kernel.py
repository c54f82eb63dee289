"""Thin wrappers over the geometry kernel: edges, faces, prisms, booleans, volumes, boxes, distances.

Everything here is stateless. Every boolean is a cut with the one fuzzy value `FUZZY_MM`: cuts are right at
tangencies where fuses are not. Booleans run on one thread, so that the same input gives the same order of
faces.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager

import cadquery as cq
import numpy as np
from OCP.Bnd import Bnd_Box
from OCP.BRep import BRep_Builder
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.BRepGProp import BRepGProp
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism, BRepPrimAPI_MakeRevol
from OCP.BRepTools import BRepTools, BRepTools_WireExplorer
from OCP.gp import gp_Ax1, gp_Ax2, gp_Circ, gp_Dir, gp_Pnt, gp_Vec
from OCP.GProp import GProp_GProps
from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain
from OCP.Standard import (
    Standard_ConstructionError,
    Standard_DimensionError,
    Standard_DomainError,
    Standard_Failure,
    Standard_NoSuchObject,
    Standard_NullObject,
    Standard_NumericError,
    Standard_OutOfRange,
    Standard_ProgramError,
    Standard_RangeError,
    Standard_TypeMismatch,
)
from OCP.StdFail import StdFail_NotDone
from OCP.TopoDS import TopoDS_Compound, TopoDS_Edge, TopoDS_Wire
from OCP.TopTools import TopTools_ListOfShape

from geom.edges import read_edge
from geom.errors import GeometryError
from geom.frame import FUZZY_MM, Vec
from geom.outline import Line, Loop, Segment, reverse_segment

KERNEL_ERRORS = (
    Standard_ConstructionError,
    Standard_DimensionError,
    Standard_DomainError,
    Standard_Failure,
    Standard_NoSuchObject,
    Standard_NullObject,
    Standard_NumericError,
    Standard_OutOfRange,
    Standard_ProgramError,
    Standard_RangeError,
    Standard_TypeMismatch,
    StdFail_NotDone,
)
"""What the kernel raises; in Python none of them inherits another."""

SEAM_RAD = 0.65
"""Turn of every bore's seam from the axes: no usual bore, channel or wall touches a bore there."""

VOLUME_REL = 1e-6
"""Relative accuracy asked of each face's integral; volumes then come out good to 1e-9."""


@contextmanager
def explain_failure(text: str) -> Iterator[None]:
    """Turn what the kernel raises inside the block into a GeometryError that says `text`."""
    try:
        yield
    except KERNEL_ERRORS as error:
        raise GeometryError(f"{text} (kernel: {type(error).__name__})") from error


def make_face(loop: Loop, z: float) -> cq.Face:
    """Return the planar face inside a closed loop at height `z`, with exact line and arc edges.

    Parameters
    ----------
    loop : tuple of Line or Arc
        Closed outline, [mm].
    z : float
        [mm].

    Returns
    -------
    cadquery.Face

    Raises
    ------
    GeometryError
        Where the loop does not close.
    """
    x, y = loop[0].start
    wire = BRepBuilderAPI_MakeWire()
    with explain_failure(
        f"the outline that starts at ({x:g}, {y:g}) mm is not a closed, plane loop: each piece must start "
        f"where the last one ends"
    ):
        for segment in loop:
            wire.Add(_make_edge(segment, z))
        made = BRepBuilderAPI_MakeFace(wire.Wire(), True).Face()
    if not wire.Wire().Closed():
        raise GeometryError(
            f"the outline that starts at ({x:g}, {y:g}) mm does not close: its last piece must end where the "
            f"first one starts"
        )
    return cq.Face(made)


def unite_faces(faces: Sequence[cq.Face]) -> tuple[cq.Face, ...]:
    """Return the union of coplanar faces as whole faces, seams between them removed.

    The union is a sheet less (the sheet less the faces): a cut is right where outlines only touch, a fuse
    is not always.

    Parameters
    ----------
    faces : sequence of cadquery.Face
        All at one height.

    Returns
    -------
    tuple of cadquery.Face
        One for each separate piece; holes are inner wires.
    """
    if len(faces) == 1:
        return tuple(faces)
    low, high = find_box(make_compound(faces))
    sheet = make_face(_rectangle(low[0] - 1, low[1] - 1, high[0] + 1, high[1] + 1), float(low[2]))
    rest = cut_shape(sheet, faces)
    return unify_faces(cut_shape(sheet, rest.Faces()))


def subtract_faces(faces: Sequence[cq.Face], less: Sequence[cq.Face]) -> tuple[cq.Face, ...]:
    """Return coplanar faces less others, as whole faces.

    Parameters
    ----------
    faces, less : sequence of cadquery.Face
        All at one height.

    Returns
    -------
    tuple of cadquery.Face
    """
    return unify_faces(make_compound([cut_shape(face, less) for face in faces]))


def unify_faces(shape: cq.Shape) -> tuple[cq.Face, ...]:
    """Return the faces of `shape` with neighbours on one surface, and edges on one curve, made one."""
    unify = ShapeUpgrade_UnifySameDomain(shape.wrapped, True, True, False)
    unify.Build()
    return tuple(cq.Shape.cast(unify.Shape()).Faces())


def read_loops(face: cq.Face, sag: float | None = None) -> tuple[Loop, ...]:
    """Return the wires of a horizontal planar face as loops of lines and arcs.

    Parameters
    ----------
    face : cadquery.Face
    sag : float or None
        Greatest distance of a chain of lines from an edge that is neither, [mm]; None: such an edge is an error.

    Returns
    -------
    tuple of Loop
        The outer loop first, counter-clockwise; then the holes, clockwise.

    Raises
    ------
    GeometryError
        Where an edge is neither a line nor a circle, and no sag is given.
    """
    upward = face.normalAt().z > 0
    loops = []
    for wire in (face.outerWire(), *face.innerWires()):
        segments = _read_wire(wire.wrapped, face, sag)
        loops.append(segments if upward else tuple(reverse_segment(s) for s in reversed(segments)))
    return tuple(loops)


def extrude_face(face: cq.Face, height: float) -> cq.Solid:
    """Return the prism on a horizontal face, `height` up, [mm]."""
    return cq.Solid(BRepPrimAPI_MakePrism(face.wrapped, gp_Vec(0, 0, height)).Shape())


def revolve_profile(profile: Sequence[tuple[float, float]], mouth: Vec, direction: Vec) -> cq.Solid:
    """Return the solid of revolution of a profile about an axis.

    Parameters
    ----------
    profile : sequence of (float, float)
        Corners (radius, distance along the axis), [mm]; the polygon closes itself.
    mouth : (float, float, float)
        Origin of the axis, [mm].
    direction : (float, float, float)
        Unit vector of the axis, [-].

    Returns
    -------
    cadquery.Solid
    """
    # The seam is where the profile starts. Other surfaces touch a bore at its quarters: keep the seam off them.
    across = gp_Ax2(gp_Pnt(*mouth), gp_Dir(*direction)).XDirection()
    across.Rotate(gp_Ax1(gp_Pnt(*mouth), gp_Dir(*direction)), SEAM_RAD)
    points = [
        gp_Pnt(*(m + across.Coord()[k] * r + direction[k] * t for k, m in enumerate(mouth)))
        for r, t in profile
    ]
    wire = BRepBuilderAPI_MakeWire()
    for a, b in zip(points, (*points[1:], points[0]), strict=True):
        wire.Add(BRepBuilderAPI_MakeEdge(a, b).Edge())
    face = BRepBuilderAPI_MakeFace(wire.Wire(), True).Face()
    turned = cq.Solid(BRepPrimAPI_MakeRevol(face, gp_Ax1(gp_Pnt(*mouth), gp_Dir(*direction))).Shape())
    # Which way the skin is turned needs no refined integral.
    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(turned.wrapped, properties)
    return cq.Solid(turned.wrapped.Reversed()) if properties.Mass() < 0 else turned


def cut_shape(base: cq.Shape, tools: Iterable[cq.Shape]) -> cq.Shape:
    """Return `base` less all `tools` in one boolean.

    Parameters
    ----------
    base : cadquery.Shape
    tools : iterable of cadquery.Shape
        They may overlap and touch one another.

    Returns
    -------
    cadquery.Shape

    Raises
    ------
    GeometryError
        Where the kernel reports failure.
    """
    arguments, cutters = TopTools_ListOfShape(), TopTools_ListOfShape()
    arguments.Append(base.wrapped)
    for tool in tools:
        cutters.Append(tool.wrapped)
    if cutters.IsEmpty():
        return base
    cut = BRepAlgoAPI_Cut()
    cut.SetArguments(arguments)
    cut.SetTools(cutters)
    cut.SetFuzzyValue(FUZZY_MM)
    cut.SetNonDestructive(True)
    cut.SetRunParallel(False)
    with explain_failure(f"the kernel gave up a cut with {cutters.Size()} tools"):
        cut.Build()
    if not cut.IsDone():
        raise GeometryError(f"the kernel could not cut with {cutters.Size()} tools")
    return cq.Shape.cast(cut.Shape())


def drop_slits(shape: cq.Shape) -> cq.Shape:
    """Return a shape without edges that lie loose inside its faces.

    A cut leaves one in a face that a tool only touches. The mesher fails on some; but a further cut needs
    them, so they go last.
    """
    clean = shape.wrapped.Located(shape.wrapped.Location())
    BRepTools.RemoveInternals_s(clean, True)
    return cq.Shape.cast(clean)


def make_compound(shapes: Iterable[cq.Shape]) -> cq.Compound:
    """Return the shapes side by side in one compound; the shapes themselves are shared, not copied."""
    builder, compound = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(compound)
    for shape in shapes:
        builder.Add(compound, shape.wrapped)
    return cq.Compound(compound)


def find_volume(shape: cq.Shape) -> float:
    """Return the volume of a shape's solids, [mm3], integrated to `VOLUME_REL`.

    The kernel's plain integral is off by up to 2e-6 where bores cross; this one refines until it is not.
    """
    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape.wrapped, properties, VOLUME_REL, False, False)
    return float(properties.Mass())


def find_box(shape: cq.Shape) -> np.ndarray:
    """Return the tight bounding box of a shape.

    Parameters
    ----------
    shape : cadquery.Shape

    Returns
    -------
    (2, 3) float
        Least and greatest corner, [mm].
    """
    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape.wrapped, box, False, False)
    x0, y0, z0, x1, y1, z1 = box.Get()
    return np.array(((x0, y0, z0), (x1, y1, z1)))


def is_valid(shape: cq.Shape) -> bool:
    """Return whether the kernel's own checker passes; it says nothing about being right."""
    return bool(BRepCheck_Analyzer(shape.wrapped).IsValid())


def measure_distance(a: cq.Shape, b: cq.Shape) -> tuple[float, Vec, Vec]:
    """Return the least distance between two shapes, and where.

    Parameters
    ----------
    a, b : cadquery.Shape

    Returns
    -------
    (float, (float, float, float), (float, float, float))
        Distance (0 where they meet), the point on `a`, the point on `b`, [mm].

    Raises
    ------
    GeometryError
        Where the kernel finds no solution.
    """
    distance = BRepExtrema_DistShapeShape()
    distance.LoadS1(a.wrapped)
    distance.LoadS2(b.wrapped)
    with explain_failure("the kernel found no distance between two shapes"):
        distance.Perform()
    if not distance.IsDone() or distance.NbSolution() == 0:
        raise GeometryError("the kernel found no distance between two shapes")
    p, q = distance.PointOnShape1(1), distance.PointOnShape2(1)
    return float(distance.Value()), (p.X(), p.Y(), p.Z()), (q.X(), q.Y(), q.Z())


def _make_edge(segment: Segment, z: float) -> TopoDS_Edge:
    if isinstance(segment, Line):
        return BRepBuilderAPI_MakeEdge(gp_Pnt(*segment.start, z), gp_Pnt(*segment.end, z)).Edge()
    up = math.copysign(1.0, segment.sweep)
    across = gp_Dir(math.cos(segment.first), math.sin(segment.first), 0)
    circle = gp_Circ(gp_Ax2(gp_Pnt(*segment.centre, z), gp_Dir(0, 0, up), across), segment.radius)
    if abs(abs(segment.sweep) - 2 * math.pi) < 1e-12:
        return BRepBuilderAPI_MakeEdge(circle).Edge()
    return BRepBuilderAPI_MakeEdge(circle, 0.0, abs(segment.sweep)).Edge()


def _rectangle(x0: float, y0: float, x1: float, y1: float) -> Loop:
    corners = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
    return tuple(Line(corners[k], corners[(k + 1) % 4]) for k in range(4))


def _read_wire(wire: TopoDS_Wire, face: cq.Face, sag: float | None) -> Loop:
    segments: list[Segment] = []
    explorer = BRepTools_WireExplorer(wire, face.wrapped)
    while explorer.More():
        segments += read_edge(explorer.Current(), sag)
        explorer.Next()
    return tuple(segments)
