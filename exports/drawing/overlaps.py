"""Which letters of a sheet touch what they must not: other letters, or lines that are not their own.

Leaders may cross lines and hatching lies under letters; nothing else does. What a box measures is in `label_box`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely

from exports.drawing.annotations import (
    item_labels,
    label_width,
    leader_lines,
    linear_lines,
    ordinate_lines,
)
from exports.drawing.values import Item, Label, Leader, Linear, Ordinate, PlacedView, Sheet, Stroke
from geom.outline import Segment, segment_points

DESCENT, SIDE = 0.33, 0.02
"""How far letters reach under their baseline, and tell beside their width, over the height of capitals, [-]."""

HANGING = frozenset("gjpqy,;()[]QµØ↧/")
"""What reaches under the baseline."""

CHORD = 0.05
"""Greatest distance of a chord from its arc, [mm]."""

TOUCH = 0.02
"""Boxes that overlap by less only touch, [mm]."""


def label_box(label: Label) -> np.ndarray:
    """Return the four corners of a label's letters, [mm] on the paper.

    Parameters
    ----------
    label : Label

    Returns
    -------
    (4, 2) float
    """
    width = label_width(label)
    start = {"left": 0.0, "middle": -width / 2, "right": -width}[label.anchor]
    low = -DESCENT * label.height if HANGING & set(label.text) else 0.0
    side = SIDE * label.height
    x0, x1, y0, y1 = start - side, start + width + side, low, label.height
    corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    angle = math.radians(label.turned)
    c, s = math.cos(angle), math.sin(angle)
    return corners @ np.array([(c, s), (-s, c)]) + np.array(label.at)


def sample_segment(segment: Segment, placed: PlacedView | None = None) -> np.ndarray:
    """Return a segment as a polyline, on the paper where its view is given.

    Parameters
    ----------
    segment : Line or Arc
    placed : PlacedView or None

    Returns
    -------
    (n, 2) float
        [mm].
    """
    scale = 1.0 if placed is None else placed.scale
    points = segment_points(segment, CHORD / scale)
    return points if placed is None else points * scale + np.array(placed.corner)


def item_lines(item: Item, views: tuple[PlacedView, ...]) -> tuple[Segment, ...]:
    """Return the lines of an item, [mm] on the paper.

    Parameters
    ----------
    item : Item
    views : tuple of PlacedView
        Of its sheet.
    """
    if isinstance(item, Stroke):
        return (item.segment,)
    if isinstance(item, Ordinate):
        return ordinate_lines(item, views[item.view])
    if isinstance(item, Linear):
        return linear_lines(item, views[item.view])
    return leader_lines(item) if isinstance(item, Leader) else ()


def view_lines(views: tuple[PlacedView, ...]) -> Iterator[tuple[str, np.ndarray]]:
    """Yield all lines of views as polylines on the paper, (n, 2) float, [mm], with the view's name."""
    for placed in views:
        for line in placed.view.lines:
            yield placed.view.name, sample_segment(line.segment, placed)


def count_overlaps(sheet: Sheet) -> tuple[tuple[str, str], ...]:
    """Return all pairs of a label and what it overlaps: another label's text, or what the line belongs to.

    Parameters
    ----------
    sheet : Sheet

    Returns
    -------
    tuple of (str, str)
        Empty where the sheet is clean. What runs out of the paper is told with "the edge of the paper".
    """
    owners: list[int] = []
    texts: list[str] = []
    boxes: list[shapely.Polygon] = []
    for number, item in enumerate(sheet.items):
        for label in item_labels(item, sheet.views):
            owners.append(number)
            texts.append(label.text)
            boxes.append(shapely.Polygon(label_box(label)).buffer(-TOUCH / 2, join_style="mitre"))
    lines = [(-1, name, xy) for name, xy in view_lines(sheet.views)]
    for number, item in enumerate(sheet.items):
        name = "a line" if isinstance(item, Stroke) else f"the line of {_name_item(item, sheet.views)}"
        lines += [(number, name, sample_segment(s)) for s in item_lines(item, sheet.views)]
    found: list[tuple[str, str]] = []
    tree = shapely.STRtree(boxes)
    for a, b in tree.query(boxes, predicate="intersects").T:
        if a < b:
            found.append((texts[a], texts[b]))
    drawn = [shapely.LineString(xy) for _, _, xy in lines]
    for line, box in tree.query(drawn, predicate="intersects").T if drawn else ():
        owner, name, _ = lines[line]
        if owner != owners[box]:
            found.append((texts[box], name))
    paper = shapely.box(0.0, 0.0, *sheet.size)
    found += [
        (text, "the edge of the paper")
        for text, box in zip(texts, boxes, strict=True)
        if not paper.covers(box)
    ]
    return tuple(found)


def _name_item(item: Item, views: tuple[PlacedView, ...]) -> str:
    labels = item_labels(item, views)
    return f'"{labels[0].text}"' if labels else "nothing"
