"""Views of solids: what is seen of them from one of the six faces, as exact lines and arcs.

Sharp edges and outlines in sight are drawn; seams, and edges over which the surface runs on smoothly, are not (ISO
128-2, ISO 128-3). What lies behind material is shown by sections.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from exports.drawing.frames import ViewFrame, face_frame
from exports.drawing.values import View
from geom.frame import Face, Vec

if TYPE_CHECKING:
    import cadquery as cq

    from geom.build import SolidPart

BOX_DIGITS = 5
"""Decimals of a part's box, [mm]."""


def frame_of(parts: Sequence[SolidPart], face: Face) -> ViewFrame:
    """Return the frame in which `view_parts` draws parts: where a point of the panel stands on the view.

    Parameters
    ----------
    parts : sequence of SolidPart
    face : Face
    """
    low, high = box_of(parts)
    return face_frame(face, low, high)


def view_part(solid: cq.Shape, name: str, face: Face) -> View:
    """Return what is seen of a solid from one of the six faces.

    Parameters
    ----------
    solid : cadquery.Shape
    name : str
        Of the view.
    face : Face
        The face that looks at the viewer: its frame is that of `layouts.milling.frame`.
    """
    from geom.build import SolidPart

    return view_parts((SolidPart(name, solid),), name, face)


def view_parts(parts: Sequence[SolidPart], name: str, face: Face) -> View:
    """Return what is seen of several solids together from one of the six faces.

    Parameters
    ----------
    parts : sequence of SolidPart
    name : str
        Of the view.
    face : Face

    Returns
    -------
    View
        The origin is the lower left corner of the box of all; [mm].
    """
    from exports.drawing.hidden_lines import trace_edges

    frame = frame_of(parts, face)
    lines = trace_edges([part.solid for part in parts], frame, "visible")
    return View(name, frame.size, tuple(lines))


def box_of(parts: Sequence[SolidPart]) -> tuple[Vec, Vec]:
    """Return the least and the greatest corner of the box of all parts, [mm].

    Parameters
    ----------
    parts : sequence of SolidPart
    """
    from geom.kernel import find_box

    boxes = [find_box(part.solid) for part in parts]
    # The kernel finds a box to within its precision; a drawing counts from round numbers.
    x0, y0, z0 = (round(min(float(box[0][k]) for box in boxes), BOX_DIGITS) + 0.0 for k in range(3))
    x1, y1, z1 = (round(max(float(box[1][k]) for box in boxes), BOX_DIGITS) + 0.0 for k in range(3))
    return (x0, y0, z0), (x1, y1, z1)
