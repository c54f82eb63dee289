"""What is written at the view of a face: what is seen and from where, its datum corner, front and back of an edge."""

from __future__ import annotations

import math

from exports.drawing.annotations import TEXT, on_paper
from exports.drawing.ordinates import PITCH, spread
from exports.drawing.sheet_tables import wrap_text
from exports.drawing.values import Label, PlacedView, Stroke
from exports.lettering import text_width
from geom.features import Blank
from geom.frame import Face
from geom.outline import Arc
from layouts.faces import COVERS, cover_name, joints_of
from layouts.plan import Plan

BESIDE_WIDTH = 20.0
"""Width at which what is said of a view is broken into lines where its caption stands beside it, [mm]."""

LEAST_WIDTH = 34.0
"""No narrower where it stands above the view, [mm]."""

ORIGIN = 1.5
"""Radius of the circle on the corner from which places are counted, [mm] on the paper; ISO 129-1."""

OFF = ORIGIN + 1.0
"""From the end of an edge's view to "front" and "back", [mm]."""

SIDES_ROOM = OFF + text_width("front", TEXT) + 1.5
"""Room that "front" and "back" take at the end of an edge's view, [mm]."""


def joint_faces(plan: Plan, blank: Blank) -> tuple[Face, ...]:
    """Return the faces of a part that lie on another part, with coolant between them; none of a panel in one piece.

    Parameters
    ----------
    plan : Plan
    blank : Blank
    """
    layers = joints_of(plan.panel)
    if blank.name not in COVERS:
        return layers
    return tuple(
        "back" if layer == "front" else "front" for layer in layers if cover_name(layer) == blank.name
    )


def tell_face(plan: Plan, blank: Blank, face: Face) -> str:
    """Return what is to be said of the view of the front or the back of a part; empty where nothing is.

    Parameters
    ----------
    plan : Plan
    blank : Blank
    face : Face
    """
    joints, said = joint_faces(plan, blank), []
    if face in joints:
        said.append("joint face")
    elif blank.name in COVERS and joints:
        said.append(f"outer face; the joint face, its {joints[0]}, is not shown")
    if face == "back":
        whole = "part" if blank.name.startswith("panel ") else "panel"
        said.append(f"seen from behind: x runs from the {whole}'s right edge")
    return "; ".join(said)


def wrap_face(plan: Plan, blank: Blank, face: Face, width: float) -> tuple[str, ...]:
    """Return what is said of the view of a face in lines, none where nothing is.

    Parameters
    ----------
    plan : Plan
    blank : Blank
    face : Face
    width : float
        [mm].
    """
    said = tell_face(plan, blank, face)
    return wrap_text(said, width) if said else ()


def mark_datum(placed: PlacedView) -> Stroke:
    """Return the circle on the corner from which the ordinates of a view are counted (ISO 129-1, origin).

    Parameters
    ----------
    placed : PlacedView
    """
    return Stroke(Arc(on_paper(placed, placed.datum), ORIGIN, 0.0, 2 * math.pi), "thin")


def mark_sides(placed: PlacedView) -> tuple[Label, Label]:
    """Return "back" and "front" at the ends of the long sides of an edge's view: at its right, or above it.

    Parameters
    ----------
    placed : PlacedView
        Of the view that the set-up has, front up, after any turns.
    """
    w, h = placed.view.size
    right, top = on_paper(placed, (w, h))
    lying = placed.turns % 2 == 0
    k = 1 if lying else 0
    low, high = spread([placed.corner[k], (right, top)[k]], PITCH)
    # The datum lies on the back.
    back, front = (low, high) if placed.datum[k] == 0.0 else (high, low)

    def label(text: str, at: float) -> Label:
        if lying:
            return Label(text, (right + OFF, at - TEXT / 2), TEXT)
        return Label(text, (at + TEXT / 2, top + OFF), TEXT, turned=90.0)

    return label("back", back), label("front", front)
