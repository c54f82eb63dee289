"""Marks of round features that no solid shows: centre lines, and the second line of threads (ISO 6410-1)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import shapely

from exports.drawing.frames import AXES, CuttingPlane, ViewFrame
from exports.drawing.merged_lines import SAME_TRACK, merge_lines
from exports.drawing.projection import turn_point
from exports.drawing.values import CutFace, View, ViewLine
from geom.features import Cylinder, Feature
from geom.frame import SAME_MM, Vec
from geom.outline import Arc, Line, Point, region_polygon
from geom.standards import tables

OVERSHOOT = 3.0
"""How far a centre line runs beyond its circle, [mm]; common practice, no source."""

OPEN_AT = math.radians(10.0)
THREE_QUARTERS = 1.5 * math.pi
"""A thread's circle is open in the upper right quarter, and ends off the centre lines; ISO 6410-1, 3.2.2."""

MARK_DIGITS = 4
"""Decimals by which features on one axis are told, [mm]."""


def add_threads(view: View, features: Sequence[Feature], frame: ViewFrame, turns: int = 0) -> View:
    """Return a view with the threads of the tapped holes that look at the viewer.

    Where the chamfer's circle is that of the thread it gives way to it (ISO 6410-1, 3.2.2). The open quarter stands at
    the upper right however the view is turned.

    Parameters
    ----------
    view : View
        As it stands on the sheet.
    features : sequence of Feature
    frame : ViewFrame
        `frame_of` the view before turning.
    turns : int
        Right angles, counter-clockwise, by which the view is turned.
    """
    arcs = [
        replace(line.segment, centre=turn_point(line.segment.centre, frame.size, turns))
        for line in thread_lines(features, frame)
        if isinstance(line.segment, Arc)
    ]
    threads = [ViewLine(arc, "thread") for arc in arcs]

    def covered(line: ViewLine) -> bool:
        s = line.segment
        return isinstance(s, Arc) and any(
            math.dist(s.centre, a.centre) < SAME_TRACK and abs(s.radius - a.radius) < SAME_TRACK for a in arcs
        )

    return replace(view, lines=(*(line for line in view.lines if not covered(line)), *threads))


def thread_lines(features: Sequence[Feature], frame: ViewFrame) -> tuple[ViewLine, ...]:
    """Return three quarters of a thin circle for every tapped hole whose mouth looks at the viewer.

    Parameters
    ----------
    features : sequence of Feature
        Of any parts: those whose mouth lies within the frame's box and that run away from the viewer are drawn.
    frame : ViewFrame
        `frame_of` or `section_frame`.

    Returns
    -------
    tuple of ViewLine
        Style "thread", [mm] in the view's plane: arcs of the major diameter.
    """
    return tuple(
        _thread_circle(frame.to_view(bore.mouth), feature.thread)
        for feature, bore in _bores(features, frame)
        if feature.thread and _dot(bore.direction, frame.towards) < SAME_MM - 1
    )


def cut_thread_lines(
    features: Sequence[Feature], plane: CuttingPlane, frame: ViewFrame, cuts: Sequence[CutFace] = ()
) -> tuple[ViewLine, ...]:
    """Return the threads of tapped holes that are cut along or across their axis.

    Parameters
    ----------
    features : sequence of Feature
        Those whose axis lies in the plane, or is square to it and met within the full thread.
    plane : CuttingPlane
    frame : ViewFrame
        `section_frame` of the same plane.
    cuts : sequence of CutFace
        Of the section: lines are drawn in the material only. Empty: they are drawn whole.

    Returns
    -------
    tuple of ViewLine
        Style "thread", the end of the full thread "visible", [mm].
    """
    material = shapely.union_all([region_polygon(c.region[:1], islands=c.region[1:]) for c in cuts])
    out: list[ViewLine] = []
    for feature, bore in _bores(features, frame):
        if not feature.thread:
            continue
        if _lies_in(bore, plane):
            out += _thread_along(feature, bore, frame, material if cuts else None)
        elif abs(_dot(bore.direction, frame.towards)) > 1 - SAME_MM:
            k = AXES.index(plane.axis)
            depth = (plane.at - bore.mouth[k]) * bore.direction[k]
            if -SAME_MM < depth < feature.thread_depth - SAME_MM:
                out.append(_thread_circle(frame.to_view(bore.mouth), feature.thread))
    return tuple(out)


def centre_marks(
    features: Sequence[Feature], frame: ViewFrame, overshoot: float = OVERSHOOT
) -> tuple[ViewLine, ...]:
    """Return a cross of two centre lines for each round feature along the line of sight, one for those on one axis.

    Parameters
    ----------
    features : sequence of Feature
        Those whose shape is a `Cylinder` along the line of sight, whichever side its mouth is on, and that lie
        within the frame's box.
    frame : ViewFrame
    overshoot : float
        How far the lines run beyond the largest circle, [mm] at full size.

    Returns
    -------
    tuple of ViewLine
        Style "centre".
    """
    reach: dict[Point, float] = {}
    for _, bore in _bores(features, frame):
        if abs(_dot(bore.direction, frame.towards)) > 1 - SAME_MM:
            u, v = frame.to_view(bore.mouth)
            at = (round(u, MARK_DIGITS) + 0.0, round(v, MARK_DIGITS) + 0.0)
            reach[at] = max(reach.get(at, 0.0), bore.radius + bore.chamfer)
    crosses = [
        ViewLine(segment, "centre")
        for (u, v), radius in reach.items()
        for r in (radius + overshoot,)
        for segment in (Line((u - r, v), (u + r, v)), Line((u, v - r), (u, v + r)))
    ]
    return merge_lines(crosses)


def cut_centre_lines(
    features: Sequence[Feature], plane: CuttingPlane, frame: ViewFrame, overshoot: float = OVERSHOOT
) -> tuple[ViewLine, ...]:
    """Return the axes of round features that lie in a cutting plane, one for those on one axis.

    Parameters
    ----------
    features : sequence of Feature
    plane : CuttingPlane
    frame : ViewFrame
        `section_frame` of the same plane.
    overshoot : float
        How far the lines run beyond mouth and end, [mm] at full size.

    Returns
    -------
    tuple of ViewLine
        Style "centre".
    """
    axes = []
    for _, bore in _bores(features, frame):
        if _lies_in(bore, plane):
            ends = [_down(bore, t) for t in (-overshoot, bore.length + overshoot)]
            axes.append(ViewLine(Line(frame.to_view(ends[0]), frame.to_view(ends[1])), "centre"))
    return merge_lines(axes)


def major_diameter(thread: str) -> float:
    """Return the major diameter of a thread by its name, "G1/4" or "M4", [mm]."""
    if thread in tables.screw_names():
        return tables.screw(thread).diameter
    return tables.thread(thread).major


def _bores(features: Sequence[Feature], frame: ViewFrame) -> Iterator[tuple[Feature, Cylinder]]:
    """Yield the round features that lie within the frame's box."""
    for feature in features:
        if not isinstance(feature.shape, Cylinder):
            continue
        middle = _down(feature.shape, feature.shape.length / 2)
        box = zip(frame.low, middle, frame.high, strict=True)
        if all(low - SAME_MM < m < high + SAME_MM for low, m, high in box):
            yield feature, feature.shape


def _thread_circle(at: Point, thread: str) -> ViewLine:
    arc = Arc(at, major_diameter(thread) / 2, math.pi / 2 + OPEN_AT, THREE_QUARTERS)
    return ViewLine(arc, "thread")


def _thread_along(
    feature: Feature, bore: Cylinder, frame: ViewFrame, material: shapely.Geometry | None
) -> list[ViewLine]:
    outer = major_diameter(feature.thread) / 2
    first = max(0.0, bore.radius + bore.chamfer - outer)
    start, end = (frame.to_view(_down(bore, t)) for t in (first, feature.thread_depth))
    length = math.dist(start, end)
    across = (-(end[1] - start[1]) / length, (end[0] - start[0]) / length)

    def beside(p: Point, off: float) -> Point:
        return p[0] + across[0] * off, p[1] + across[1] * off

    # Material is looked for in the middle of the teeth: at their roots a line may run along the edge of what was cut.
    teeth = (outer + bore.radius) / 2
    out, reaches = [], material is None
    for side in (-1.0, 1.0):
        pieces = [(start, end)]
        if material is not None:
            probe = shapely.LineString([beside(p, side * teeth) for p in pieces[0]])
            kept = shapely.intersection(probe, material)
            pieces = [_straight(piece) for piece in shapely.get_parts(kept) if piece.length > SAME_TRACK]
            pieces = [(beside(p, -side * teeth), beside(q, -side * teeth)) for p, q in pieces]
            # Half of the teeth begins half of the chamfer further in; the thread begins where its roots do.
            pieces = [
                (start if math.dist(p, start) < outer - teeth + SAME_TRACK else p, q) for p, q in pieces
            ]
            reaches |= any(math.dist(p, end) < SAME_TRACK for piece in pieces for p in piece)
        out += [ViewLine(Line(beside(p, side * outer), beside(q, side * outer)), "thread") for p, q in pieces]
    if reaches and feature.thread_depth < bore.length - SAME_MM:
        out.append(ViewLine(Line(beside(end, -outer), beside(end, outer)), "visible"))
    return out


def _straight(piece: shapely.LineString) -> tuple[Point, Point]:
    (a, b), (c, d) = piece.coords[0], piece.coords[-1]
    return (a, b), (c, d)


def _lies_in(bore: Cylinder, plane: CuttingPlane) -> bool:
    k = AXES.index(plane.axis)
    return abs(bore.direction[k]) < SAME_MM and abs(bore.mouth[k] - plane.at) < SAME_TRACK


def _down(bore: Cylinder, depth: float) -> Vec:
    x, y, z = (m + d * depth for m, d in zip(bore.mouth, bore.direction, strict=True))
    return x, y, z


def _dot(a: Vec, b: Vec) -> float:
    return sum(p * q for p, q in zip(a, b, strict=True))
