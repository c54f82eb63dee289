"""Where letters and lines of dimensions and leaders stand on the paper: for all that writes or checks a sheet.

Sizes are those on the paper, [mm]; ISO 129-1, lettering ISO 3098.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from exports.drawing.values import Item, Label, Leader, Linear, Ordinate, PlacedView, Sheet
from exports.lettering import text_width
from exports.wording.figures import show_mm
from geom.outline import Line, Point

TEXT = 2.5
"""Capitals of dimensions."""

ARROW = 2.0
GAP = 0.8
"""Between a line and its letters."""

OFF_FEATURE = 1.0
"""Between a feature and the extension line or the ordinate that starts at it."""

PAST_LINE = 1.25
"""How far an extension line runs past its dimension line."""

LEG = 2 * ARROW
"""An ordinate's leader runs straight over it before its text, and slants over as much before that."""

SPACING = 1.7
"""From one line of a text to the next, over the height of its capitals, [-]."""


def on_paper(placed: PlacedView, point: Point) -> Point:
    """Return where a point of a view stands on the paper, [mm]."""
    return placed.corner[0] + placed.scale * point[0], placed.corner[1] + placed.scale * point[1]


def ordinate_lines(ordinate: Ordinate, placed: PlacedView) -> tuple[Line, ...]:
    """Return an ordinate's leader, from the feature to its text, [mm] on the paper.

    Parameters
    ----------
    ordinate : Ordinate
    placed : PlacedView
        The view that it measures.
    """
    (x, y), (ex, ey) = on_paper(placed, ordinate.at), ordinate.label
    along, across = (ey - y, ex - x) if ordinate.axis == "u" else (ex - x, ey - y)
    sign = math.copysign(1.0, along)
    far = abs(along)
    start = min(OFF_FEATURE, far)
    knee, end = max(far - 2 * LEG, start), max(far - LEG, start)

    def point(run: float, off: float) -> Point:
        run *= sign
        return (x + off, y + run) if ordinate.axis == "u" else (x + run, y + off)

    points = [point(start, 0.0), point(knee, 0.0), point(end, across), (ex, ey)]
    return tuple(Line(a, b) for a, b in pairwise(points) if math.dist(a, b) > 1e-6)


def ordinate_value(ordinate: Ordinate, placed: PlacedView) -> float:
    """Return how far an ordinate's point is from its view's datum along its axis, [mm].

    Parameters
    ----------
    ordinate : Ordinate
    placed : PlacedView
        The view that it measures.
    """
    k = 0 if ordinate.axis == "u" else 1
    return abs(ordinate.at[k] - placed.datum[k])


def ordinate_label(ordinate: Ordinate, placed: PlacedView) -> Label:
    """Return an ordinate's text: its middle line goes on where the leader ends; that of axis u is turned by 90 deg.

    Parameters
    ----------
    ordinate : Ordinate
    placed : PlacedView
        The view that it measures.
    """
    ex, ey = ordinate.label
    x, y = on_paper(placed, ordinate.at)
    text = show_mm(ordinate_value(ordinate, placed))
    if ordinate.axis == "u":
        up = ey >= y
        at = (ex + TEXT / 2, ey + (GAP if up else -GAP))
        return Label(text, at, TEXT, "left" if up else "right", 90.0)
    out = ex >= x
    return Label(text, (ex + (GAP if out else -GAP), ey - TEXT / 2), TEXT, "left" if out else "right")


def linear_text(linear: Linear) -> str:
    """Return what a linear dimension says: its length, its tolerance behind it.

    Parameters
    ----------
    linear : Linear
    """
    k = 0 if linear.axis == "u" else 1
    # What is half a digit is rounded like the same length in a table.
    said = show_mm(round(abs(linear.end[k] - linear.start[k]), 6))
    return f"{said} {linear.tolerance}" if linear.tolerance else said


def linear_ends(linear: Linear, placed: PlacedView) -> tuple[Point, Point]:
    """Return both ends of a linear dimension's line on the paper, the lower first, [mm].

    Parameters
    ----------
    linear : Linear
    placed : PlacedView
        The view that it measures.
    """
    k = 0 if linear.axis == "u" else 1
    a, b = sorted((on_paper(placed, linear.start)[k], on_paper(placed, linear.end)[k]))
    return ((a, linear.line), (b, linear.line)) if k == 0 else ((linear.line, a), (linear.line, b))


def arrows_outside(linear: Linear, placed: PlacedView) -> bool:
    """Return whether a linear dimension is too short for its arrows between its extension lines."""
    a, b = linear_ends(linear, placed)
    return math.dist(a, b) < 2 * ARROW + GAP


def linear_lines(linear: Linear, placed: PlacedView) -> tuple[Line, ...]:
    """Return a linear dimension's line, with what its arrows take outside, and its extension lines, [mm] on paper.

    Parameters
    ----------
    linear : Linear
    placed : PlacedView
        The view that it measures.
    """
    k = 0 if linear.axis == "u" else 1
    a, b = linear_ends(linear, placed)
    more = 2 * ARROW if arrows_outside(linear, placed) else 0.0
    low, high = a[k] - more, b[k] + more
    if linear.text is not None:
        # The line goes on under a text that stands beside it.
        half = text_width(linear_text(linear), TEXT) / 2
        low, high = min(low, linear.text - half), max(high, linear.text + half)
    line = linear.line
    lines = [Line((low, line), (high, line)) if k == 0 else Line((line, low), (line, high))]
    for point in (linear.start, linear.end):
        foot = on_paper(placed, point)
        run = linear.line - foot[1 - k]
        if abs(run) <= OFF_FEATURE:
            continue
        sign = math.copysign(1.0, run)
        near, far = foot[1 - k] + sign * OFF_FEATURE, linear.line + sign * PAST_LINE
        lines.append(
            Line((foot[0], near), (foot[0], far)) if k == 0 else Line((near, foot[1]), (far, foot[1]))
        )
    return tuple(lines)


def linear_label(linear: Linear, placed: PlacedView) -> Label:
    """Return a linear dimension's text: above its line, or at its left where it is upright and turned by 90 deg.

    Its middle stands over the middle of the line, or at `linear.text` along it.

    Parameters
    ----------
    linear : Linear
    placed : PlacedView
        The view that it measures.
    """
    a, b = linear_ends(linear, placed)
    k = 0 if linear.axis == "u" else 1
    middle = (a[k] + b[k]) / 2 if linear.text is None else linear.text
    if k == 0:
        return Label(linear_text(linear), (middle, linear.line + GAP), TEXT, "middle")
    return Label(linear_text(linear), (linear.line - GAP, middle), TEXT, "middle", 90.0)


def leader_labels(leader: Leader) -> tuple[Label, ...]:
    """Return the lines of a leader's text.

    They start where its line ends and go on to that side of its last piece, the block's middle at the line's height.

    Parameters
    ----------
    leader : Leader
    """
    (px, _), (x, y) = leader.points[-2], leader.points[-1]
    right = x >= px
    step = SPACING * leader.height
    top = y + step * (len(leader.text) - 1) / 2 - leader.height / 2
    at = x + (GAP if right else -GAP)
    return tuple(
        Label(text, (at, top - step * k), leader.height, "left" if right else "right")
        for k, text in enumerate(leader.text)
    )


def leader_lines(leader: Leader) -> tuple[Line, ...]:
    """Return a leader's line, [mm] on the paper."""
    return tuple(Line(a, b) for a, b in pairwise(leader.points))


def item_labels(item: Item, views: Sequence[PlacedView]) -> tuple[Label, ...]:
    """Return all letters of an item.

    Parameters
    ----------
    item : Item
    views : sequence of PlacedView
        Of its sheet.
    """
    if isinstance(item, Label):
        return (item,)
    if isinstance(item, Ordinate):
        return (ordinate_label(item, views[item.view]),)
    if isinstance(item, Linear):
        return (linear_label(item, views[item.view]),)
    return leader_labels(item) if isinstance(item, Leader) else ()


def sheet_labels(sheet: Sheet) -> tuple[Label, ...]:
    """Return all letters of a sheet, item by item."""
    return tuple(label for item in sheet.items for label in item_labels(item, sheet.views))


def label_width(label: Label) -> float:
    """Return how long a label is, [mm]."""
    return text_width(label.text, label.height, label.bold)
