"""Sections through solids: what a plane cuts as true outlines, and the edges beyond it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from exports.drawing.frames import CuttingPlane, ViewFrame, cut_frame
from exports.drawing.merged_lines import merge_lines
from exports.drawing.values import CutFace, View, ViewLine
from exports.drawing.views import box_of
from geom.outline import Arc, Point, move_path, move_segment

if TYPE_CHECKING:
    from geom.build import SolidPart


def section_frame(parts: Sequence[SolidPart], plane: CuttingPlane) -> ViewFrame:
    """Return the frame in which `cut_parts` draws parts: where a point of the panel stands on the section.

    Parameters
    ----------
    parts : sequence of SolidPart
    plane : CuttingPlane
    """
    low, high = box_of(parts)
    return cut_frame(plane, low, high)


def cut_parts(parts: Sequence[SolidPart], plane: CuttingPlane, name: str, beyond: bool = True) -> View:
    """Return a section through several parts.

    Parameters
    ----------
    parts : sequence of SolidPart
        Parts and cords as they stand together: `solids.parts`.
    plane : CuttingPlane
        `exports.drawing.frames` says which way u and v run.
    name : str
        Of the view: "section A-A".
    beyond : bool
        Whether the edges behind the plane are drawn.

    Returns
    -------
    View
        A `CutFace` for each separate face of each part that is cut, its outlines as lines of the style "visible",
        edges beyond the plane as "beyond". The origin is the lower left corner of the box of all parts, cut or not.
    """
    from exports.drawing.cut_faces import cut_faces, take_away
    from exports.drawing.hidden_lines import trace_edges

    frame = section_frame(parts, plane)
    halves = take_away(parts, plane)
    cuts = cut_faces(halves, plane, frame)
    outlines = [ViewLine(s, "visible") for cut in cuts for loop in cut.region for s in loop]
    behind = trace_edges([half.solid for half in halves], frame, "beyond") if beyond else []
    return View(name, frame.size, merge_lines([*outlines, *behind]), cuts)


def detail_of(view: View, centre: Point, radius: float, name: str) -> View:
    """Return what of a view lies inside a circle, to be drawn larger.

    Parameters
    ----------
    view : View
    centre : (float, float)
        [mm] in the view's plane.
    radius : float
        [mm].
    name : str
        Of the detail: "detail C".

    Returns
    -------
    View
        In the plane of the view, shifted: its point (u, v) is (u - centre u + radius, v - centre v + radius) here.
        The circle itself is a line of the style "thin"; cut faces are clipped to it.
    """
    from exports.drawing.inside_circle import clip_region, clip_segment

    du, dv = radius - centre[0], radius - centre[1]
    circle = Arc((radius, radius), radius, 0.0, 2 * math.pi)
    lines = [
        ViewLine(piece, line.style)
        for line in view.lines
        for piece in clip_segment(move_segment(line.segment, du, dv), circle)
    ]
    cuts = [
        CutFace(cut.part, region)
        for cut in view.cuts
        for region in clip_region(tuple(move_path(loop, du, dv) for loop in cut.region), circle)
    ]
    return View(name, (2 * radius, 2 * radius), (*lines, ViewLine(circle, "thin")), tuple(cuts))
