"""How views of one part stand to each other (ISO 5456-2): the six views of first and third angle.

In first angle the view from the left stands on the right, that from above below; in third angle each stands on its own
side. The views themselves are the same in both: those of the edges are turned so that their long side lies along the
edge that they show, their back towards the front view in first angle, their front in third. The back view stands at
the far right, both times. However a view is turned, places are counted from the corner of its part that is the lower
left one of the set-up: `PlacedView.datum`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from exports.drawing.values import CutFace, View, ViewLine
from geom.frame import Face
from geom.outline import Arc, Line, Loop, Point, Segment
from layouts.drawing_choice import Projection

Side = Literal["left", "right", "above", "below"]

TURNS: dict[Face, int] = {"front": 0, "back": 0, "bottom": 0, "top": 2, "left": 3, "right": 1}
"""Right angles, counter-clockwise, by which the view of a set-up (`layouts.milling.frame`) is turned to stand beside
the front view: y then runs up in all that stand at its sides, x to the right in those above and below."""

_THIRD: dict[Face, Side] = {"left": "left", "right": "right", "top": "above", "bottom": "below"}
_OTHER: dict[Side, Side] = {"left": "right", "right": "left", "above": "below", "below": "above"}


@dataclass(frozen=True, slots=True)
class Pads:
    """Room that a view's annotations take at its sides, [mm] on the paper."""

    left: float = 0.0
    right: float = 0.0
    below: float = 0.0
    above: float = 0.0


def side_of(face: Face, projection: Projection) -> Side:
    """Return on which side of the front view the view of another face stands.

    Parameters
    ----------
    face : Face
        Any but the front.
    projection : {"first angle", "third angle"}
    """
    if face == "back":
        return "right"
    side = _THIRD[face]
    return side if projection == "third angle" else _OTHER[side]


def turn_point(point: Point, size: tuple[float, float], turns: int) -> Point:
    """Return a point of a view after the view is turned by right angles, from its new lower left corner, [mm].

    Parameters
    ----------
    point : (float, float)
        [mm] in the view's plane.
    size : (float, float)
        Of the view before turning, [mm].
    turns : int
        Right angles, counter-clockwise.
    """
    (u, v), (w, h) = point, size
    return ((u, v), (h - v, u), (w - u, h - v), (v, w - u))[turns % 4]


def turn_view(view: View, turns: int) -> View:
    """Return a view turned by right angles, counter-clockwise.

    Parameters
    ----------
    view : View
    turns : int
    """
    if turns % 4 == 0:
        return view

    def move(s: Segment) -> Segment:
        if isinstance(s, Line):
            return Line(turn_point(s.start, view.size, turns), turn_point(s.end, view.size, turns))
        centre = turn_point(s.centre, view.size, turns)
        return Arc(centre, s.radius, s.first + turns * math.pi / 2, s.sweep)

    def move_loop(loop: Loop) -> Loop:
        return tuple(move(s) for s in loop)

    w, h = view.size
    return replace(
        view,
        size=(h, w) if turns % 2 else (w, h),
        lines=tuple(ViewLine(move(line.segment), line.style) for line in view.lines),
        cuts=tuple(CutFace(cut.part, tuple(move_loop(loop) for loop in cut.region)) for cut in view.cuts),
    )


def arrange_views(
    sizes: Mapping[Face, tuple[float, float]],
    pads: Mapping[Face, Pads],
    projection: Projection,
) -> tuple[dict[Face, Point], tuple[float, float]]:
    """Return the lower left corner of each view, and the size of all with their annotations, [mm] on the paper.

    Parameters
    ----------
    sizes : mapping of Face to (float, float)
        Of the views as they stand (turned), on the paper, [mm]; the front, or whatever stands for it, is among them.
    pads : mapping of Face to Pads
    projection : {"first angle", "third angle"}

    Returns
    -------
    (dict of Face to (float, float), (float, float))
        Counted from the lower left corner of all.
    """
    main: Face = "front" if "front" in sizes else "back"
    at: dict[Face, Point] = {main: (0.0, 0.0)}
    (w, h), pad = sizes[main], pads[main]
    reach = {"left": -pad.left, "right": w + pad.right, "below": -pad.below, "above": h + pad.above}
    for face in (f for f in ("left", "right", "top", "bottom", "back") if f in sizes and f != main):
        side = side_of(face, projection)
        (fw, fh), mine = sizes[face], pads[face]
        if side == "left":
            at[face] = (reach["left"] - mine.right - fw, 0.0)
            reach["left"] = at[face][0] - mine.left
        elif side == "right":
            at[face] = (reach["right"] + mine.left, 0.0)
            reach["right"] = at[face][0] + fw + mine.right
        elif side == "below":
            at[face] = (0.0, reach["below"] - mine.above - fh)
            reach["below"] = at[face][1] - mine.below
        else:
            at[face] = (0.0, reach["above"] + mine.below)
            reach["above"] = at[face][1] + fh + mine.above
    # What stands beside the front view may reach further up or down than it, and the other way round.
    x0 = min(at[f][0] - pads[f].left for f in at)
    y0 = min(at[f][1] - pads[f].below for f in at)
    x1 = max(at[f][0] + sizes[f][0] + pads[f].right for f in at)
    y1 = max(at[f][1] + sizes[f][1] + pads[f].above for f in at)
    return {f: (x - x0, y - y0) for f, (x, y) in at.items()}, (x1 - x0, y1 - y0)
