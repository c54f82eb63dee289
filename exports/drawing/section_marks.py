"""Marks of cutting planes on a view: thick ends, arrows and letters (ISO 128-3)."""

from __future__ import annotations

import math
from collections.abc import Sequence

from exports.drawing.annotations import TEXT, on_paper
from exports.drawing.draft import Draft
from exports.drawing.frames import AXES, CuttingPlane
from exports.drawing.needed_views import Cut
from exports.drawing.placing import Tag
from exports.drawing.values import Leader, Stroke
from geom.features import Blank
from geom.frame import SAME_MM, Face
from geom.outline import Arc, Line, Point
from layouts.milling.frame import SetUpPlane, plane_of

OFF, LONG, ARROW_LONG = 0.8, 6.0, 5.0
"""From the view to a mark, length of its thick end, and of its arrow, [mm]."""

NEAR_CORNER = 0.06
"""Where the arrow of an edge stands along that edge, from the upper or left corner, [-]."""

LETTER = 3.5

BESIDE = 1.1
"""How far letters keep off the middle of their arrow, [mm]."""


def mark_cuts(draft: Draft, cuts: Sequence[Cut], face: Face, plane: SetUpPlane) -> None:
    """Mark sections on the first view of a draft, the one that is seen from `face`.

    Parameters
    ----------
    draft : Draft
    cuts : sequence of Cut
        Those parallel to the view are left out.
    face : Face
    plane : SetUpPlane
        Of the view.
    """
    w, h = draft.views[0].view.size
    for cut in cuts:
        if cut.plane.axis == "z":
            continue
        u, v, _ = plane.to_plane(cut.about)
        mirrored = -1.0 if face == "back" else 1.0
        if cut.plane.axis == "x":
            mark_plane(draft, 0, cut.letter, (u, 0.0), (u, h), (-mirrored * cut.plane.towards, 0.0))
        else:
            mark_plane(draft, 0, cut.letter, (0.0, v), (w, v), (0.0, -float(cut.plane.towards)))


def passes(plane: CuttingPlane, blank: Blank) -> bool:
    """Return whether a cutting plane goes through a part."""
    k, box = AXES.index(plane.axis), plane_of(blank, "front")
    return box.low[k] + SAME_MM < plane.at < box.high[k] - SAME_MM


def mark_plane(draft: Draft, view: int, letter: str, first: Point, last: Point, look: Point) -> None:
    """Mark the ends of a cutting plane that is seen edge on.

    Parameters
    ----------
    draft : Draft
    view : int
        Number of the view on its sheet.
    letter : str
    first, last : (float, float)
        Where it leaves the view, [mm] in its plane.
    look : (float, float)
        Unit vector of the line of sight.
    """
    placed = draft.views[view]
    for at, other in ((first, last), (last, first)):
        x, y = on_paper(placed, at)
        long = math.dist(at, other)
        dx, dy = (at[0] - other[0]) / long, (at[1] - other[1]) / long
        start, end = (x + dx * OFF, y + dy * OFF), (x + dx * (OFF + LONG), y + dy * (OFF + LONG))
        draft.items.append(Stroke(Line(start, end), "cut"))
        tail = (end[0] - look[0] * ARROW_LONG, end[1] - look[1] * ARROW_LONG)
        draft.items.append(Leader((end, tail), (), TEXT))
        middle = ((tail[0] + end[0]) / 2, (tail[1] + end[1]) / 2)
        draft.tags.append(Tag((letter,), middle, BESIDE, LETTER))


def circle_detail(draft: Draft, letter: str, at: Point, radius: float) -> None:
    """Draw the circle with its letter round what a detail shows larger (ISO 128-3).

    Parameters
    ----------
    draft : Draft
    letter : str
    at : (float, float)
        Its middle, on the paper, [mm].
    radius : float
        [mm]
    """
    draft.items.append(Stroke(Arc(at, radius, 0.0, 2 * math.pi), "thin"))
    draft.tags.append(Tag((letter,), at, radius, LETTER))


def mark_edge(draft: Draft, face: Face, letter: str) -> None:
    """Draw on the first view the arrow that says from where an edge on another sheet is seen (ISO 128-3).

    Parameters
    ----------
    draft : Draft
    face : Face
        The edge.
    letter : str
    """
    placed = draft.views[0]
    w, h = placed.view.size
    where: dict[Face, tuple[Point, Point]] = {
        "top": ((NEAR_CORNER * w, h), (0.0, 1.0)),
        "bottom": ((NEAR_CORNER * w, 0.0), (0.0, -1.0)),
        "left": ((0.0, (1 - NEAR_CORNER) * h), (-1.0, 0.0)),
        "right": ((w, (1 - NEAR_CORNER) * h), (1.0, 0.0)),
    }
    point, (dx, dy) = where[face]
    x, y = on_paper(placed, point)
    far, near = OFF + LONG, OFF + LONG - ARROW_LONG
    tail, tip = (x + dx * far, y + dy * far), (x + dx * near, y + dy * near)
    draft.items.append(Leader((tip, tail), (), TEXT))
    middle = (x + dx * (far + near) / 2, y + dy * (far + near) / 2)
    draft.tags.append(Tag((letter,), middle, BESIDE, LETTER))
