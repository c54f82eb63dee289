"""Edges of solids in sight along an axis of the panel frame; those behind material are left out.

By the kernel's exact hidden line removal. Sharp edges and outlines come back; seams, and edges over which the surface
runs on smoothly, do not.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cadquery as cq
import shapely
from OCP.Bnd import Bnd_Box
from OCP.BRep import BRep_Builder
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepLib import BRepLib
from OCP.BRepTools import BRepTools, BRepTools_WireExplorer
from OCP.GeomAbs import GeomAbs_Circle, GeomAbs_Cylinder, GeomAbs_Line, GeomAbs_Plane
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt
from OCP.HLRAlgo import HLRAlgo_Projector
from OCP.HLRBRep import HLRBRep_Algo, HLRBRep_HLRToShape
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_REVERSED, TopAbs_ShapeEnum, TopAbs_WIRE
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Compound, TopoDS_Face, TopoDS_Shape, TopoDS_Wire

from exports.drawing.frames import ViewFrame
from exports.drawing.merged_lines import merge_lines
from exports.drawing.values import Style, ViewLine
from geom.edges import read_edge
from geom.frame import SAME_MM, Vec
from geom.kernel import explain_failure
from geom.outline import Point, Segment, move_segment

CHAIN_MM = 0.01
"""Greatest distance of a chain of lines from a curve that is neither a line nor a circle, [mm]: a tenth of the
thinnest pen."""

SLIVER_MM = 0.02
"""What is seen past an edge by less than this is not looked for, [mm]."""

GREAT = 0.002
"""A plane face hides others where its box takes this share of the view."""

CURVE_STEPS = 64
"""Chords of a curve in the outline of such a face: together with the least sliver more than fine enough."""


@dataclass(frozen=True, slots=True)
class _Box:
    """Of a face as seen, [mm]; `near` and `far` count towards the viewer."""

    u0: float
    v0: float
    u1: float
    v1: float
    far: float
    near: float

    def shrunk(self, by: float) -> shapely.Polygon:
        """Return its rectangle, `by` less on every side, but no less than a line."""
        du, dv = min(by, (self.u1 - self.u0) / 2), min(by, (self.v1 - self.v0) / 2)
        return shapely.box(self.u0 + du, self.v0 + dv, self.u1 - du, self.v1 - dv)


def trace_edges(solids: Sequence[cq.Shape], frame: ViewFrame, style: Style) -> list[ViewLine]:
    """Return the edges of solids in sight as lines and arcs, merged.

    Parameters
    ----------
    solids : sequence of cadquery.Shape
    frame : ViewFrame
        How they are seen; its origin is that of the lines.
    style : Style
        Of the lines.

    Returns
    -------
    list of ViewLine
        [mm] in the view's plane.

    Raises
    ------
    GeometryError
        Where the kernel gives up.
    """
    # Seen from the front or the back little of a plate lies behind anything else.
    whole = abs(frame.towards[2]) > 0
    shapes = [solid.wrapped for solid in solids] if whole else [_in_sight(solids, frame)]
    u0, v0 = frame.origin
    algorithm = HLRBRep_Algo()
    with explain_failure("the kernel could not tell which edges are hidden"):
        for shape in shapes:
            algorithm.Add(shape, 0)
        axes = gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(*frame.towards), gp_Dir(*frame.right))
        algorithm.Projector(HLRAlgo_Projector(axes))
        algorithm.Update()
        algorithm.Hide()
        traced = HLRBRep_HLRToShape(algorithm)
        lines = [
            ViewLine(move_segment(segment, -u0, -v0), style)
            for compound in (traced.VCompound(), traced.OutLineVCompound())
            for segment in _read(compound)
        ]
    return list(merge_lines(lines))


def _read(compound: TopoDS_Shape | None) -> Iterator[Segment]:
    if compound is None or compound.IsNull():
        return
    BRepLib.BuildCurves3d_s(compound)
    for edge in _pieces(compound, TopAbs_EDGE):
        yield from read_edge(TopoDS.Edge_s(edge), CHAIN_MM)


def _in_sight(solids: Sequence[cq.Shape], frame: ViewFrame) -> TopoDS_Compound:
    """Return the faces of solids without those that lie whole behind great ones: they neither show nor hide.

    Nor do plane faces that are seen end on: their edges are their neighbours' too. That saves most of the work: what
    hidden line removal takes grows with the square of the faces.
    """
    faces = [face for solid in solids for face in _faces(solid.wrapped) if not _seen_end_on(face, frame)]
    boxes = [_box(face, frame) for face in faces]
    wide, tall = frame.size
    covers: list[tuple[float, shapely.Geometry]] = []
    for face, box in zip(faces, boxes, strict=True):
        if (box.u1 - box.u0) * (box.v1 - box.v0) > GREAT * wide * tall:
            cover = _covered(face, box, frame)
            if not cover.is_empty:
                covers.append((box.far, cover))
    covers.sort(key=lambda c: -c[0])
    whole: list[shapely.Geometry] = []
    for _, cover in covers:
        # Grown by a hair: covers that share an edge are to leave no gap between them.
        grown = cover.buffer(SAME_MM, join_style="mitre")
        whole.append(shapely.union(whole[-1], grown) if whole else grown)
    for cover in whole:
        shapely.prepare(cover)
    builder, kept = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(kept)
    for face, box in zip(faces, boxes, strict=True):
        before = sum(1 for far, _ in covers if far > box.near + SAME_MM)
        if not before or not whole[before - 1].covers(box.shrunk(SLIVER_MM)):
            builder.Add(kept, face)
    return kept


def _pieces(shape: TopoDS_Shape, kind: TopAbs_ShapeEnum) -> list[TopoDS_Shape]:
    explorer = TopExp_Explorer(shape, kind)
    out = []
    while explorer.More():
        out.append(explorer.Current())
        explorer.Next()
    return out


def _faces(shape: TopoDS_Shape) -> list[TopoDS_Face]:
    return [TopoDS.Face_s(face) for face in _pieces(shape, TopAbs_FACE)]


def _box(shape: TopoDS_Shape, frame: ViewFrame) -> _Box:
    box = Bnd_Box()
    box.SetGap(0.0)
    BRepBndLib.Add_s(shape, box, False)
    x0, y0, z0, x1, y1, z1 = box.Get()
    low, high = (x0, y0, z0), (x1, y1, z1)
    spans = []
    for axis in (frame.right, frame.up, frame.towards):
        ends = [_along(axis, corner) for corner in (low, high)]
        spans.append((min(ends), max(ends)))
    (u0, u1), (v0, v1), (far, near) = spans
    return _Box(u0, v0, u1, v1, far, near)


def _seen_end_on(face: TopoDS_Face, frame: ViewFrame) -> bool:
    surface = BRepAdaptor_Surface(face)
    return surface.GetType() == GeomAbs_Plane and abs(_share(surface.Plane().Axis(), frame)) < SAME_MM


def _share(axis: gp_Ax1, frame: ViewFrame) -> float:
    x, y, z = frame.towards
    direction = axis.Direction()
    return direction.X() * x + direction.Y() * y + direction.Z() * z


def _covered(face: TopoDS_Face, box: _Box, frame: ViewFrame) -> shapely.Geometry:
    """Return what a face surely covers: a plane one all inside its outline, a rounded corner its box."""
    surface = BRepAdaptor_Surface(face)
    outer = BRepTools.OuterWire_s(face)
    if surface.GetType() == GeomAbs_Cylinder:
        kinds = [BRepAdaptor_Curve(TopoDS.Edge_s(edge)).GetType() for edge in _pieces(face, TopAbs_EDGE)]
        across = abs(_share(surface.Cylinder().Axis(), frame)) < SAME_MM
        quarter = len(kinds) == 4 and kinds.count(GeomAbs_Line) == kinds.count(GeomAbs_Circle) == 2
        return shapely.box(box.u0, box.v0, box.u1, box.v1) if across and quarter else shapely.Polygon()
    if surface.GetType() != GeomAbs_Plane or abs(abs(_share(surface.Plane().Axis(), frame)) - 1) > SAME_MM:
        return shapely.Polygon()
    wires = [TopoDS.Wire_s(wire) for wire in _pieces(face, TopAbs_WIRE)]
    holes = [
        _outline(wire, face, frame).buffer(SLIVER_MM, quad_segs=2) for wire in wires if not wire.IsSame(outer)
    ]
    return shapely.difference(_outline(outer, face, frame), shapely.union_all(holes))


def _outline(wire: TopoDS_Wire, face: TopoDS_Face, frame: ViewFrame) -> shapely.Polygon:
    points: list[Point] = []
    explorer = BRepTools_WireExplorer(wire, face)
    while explorer.More():
        edge = explorer.Current()
        curve = BRepAdaptor_Curve(edge)
        ends = [curve.FirstParameter(), curve.LastParameter()]
        if edge.Orientation() == TopAbs_REVERSED:
            ends.reverse()
        steps = 1 if curve.GetType() == GeomAbs_Line else CURVE_STEPS
        for k in range(steps):
            p = curve.Value(ends[0] + (ends[1] - ends[0]) * k / steps)
            at = (p.X(), p.Y(), p.Z())
            points.append((_along(frame.right, at), _along(frame.up, at)))
        explorer.Next()
    return shapely.Polygon(points)


def _along(axis: Vec, point: Vec) -> float:
    return sum(a * p for a, p in zip(axis, point, strict=True))
