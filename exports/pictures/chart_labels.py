"""Labels of a chart: each covers nothing that is drawn and no other label, or is left out."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise

import numpy as np

from exports.pictures.axes import LABEL, draw_line
from exports.pictures.labels import APART, Rect, meet
from exports.pictures.plan_symbols import SOFT
from exports.pictures.svg import guess_width, text_at
from geom.outline import Point

STEPS = (0.0, 5.0, 11.0, 18.0, 27.0, 40.0, 56.0, 75.0, 100.0, 130.0)
WAYS = (
    (1.0, -1.0),
    (1.0, 1.0),
    (-1.0, -1.0),
    (-1.0, 1.0),
    (0.0, -1.0),
    (0.0, 1.0),
    (1.0, 0.0),
    (-1.0, 0.0),
    (0.5, -1.0),
    (-0.5, -1.0),
    (0.5, 1.0),
    (-0.5, 1.0),
    (1.0, -0.4),
    (1.0, 0.4),
    (-1.0, -0.4),
    (-1.0, 0.4),
)
"""Where a label may stand about its anchor: how much farther off than its gap, and which way."""
CLEAR = 3.0
"""Between a label and a drawn line, picture units."""
LED = 22.0
"""A label farther off than this from its anchor has a leader line, picture units."""
DENSE = 4.0
"""Most distance of the points that stand for a drawn line, picture units; less than a label's height."""
HEIGHT = 1.2 * LABEL


class ChartLabels:
    """Places labels one after the other within a box, among lines already drawn.

    Parameters
    ----------
    within : Rect
        Where all labels must lie, picture units.
    lines : iterable of lists of Point
        Drawn polylines, picture units.
    marks : iterable of Rect
        Boxes that no label may cover.
    """

    def __init__(self, within: Rect, lines: Iterable[list[Point]], marks: Iterable[Rect] = ()) -> None:
        self._within = within
        self._drawn = np.vstack([np.empty((0, 2)), *(fill_densely(line) for line in lines)])
        self._taken = list(marks)
        self.elements: list[str] = []

    @property
    def boxes(self) -> tuple[Rect, ...]:
        """Boxes of the marks and, after them, of the labels written."""
        return tuple(self._taken)

    def write(self, anchor: Point, text: str, ink: str, gap: float, led: bool = True) -> bool:
        """Write a label at the free place nearest to its anchor; return whether there was one.

        Parameters
        ----------
        anchor : Point
        text, ink : str
        gap : float
            Least distance from the anchor, picture units.
        led : bool
            Whether it may stand so far off that it needs a leader line.
        """
        for box in _offers(anchor, (guess_width(text, LABEL), HEIGHT), gap):
            foot = (min(max(anchor[0], box[0]), box[2]), min(max(anchor[1], box[1]), box[3]))
            leader = [anchor, foot] if math.dist(anchor, foot) > LED else []
            if (leader and not led) or not self._is_free(box) or self._is_crossed(leader):
                continue
            if leader:
                self.elements.append(draw_line(leader, SOFT, 0.8))
                self._drawn = np.vstack((self._drawn, fill_densely(leader)))
            self._taken.append(box)
            middle = (box[0] + box[2]) / 2
            self.elements.append(
                text_at(middle, box[1] + 0.95 * LABEL, text, LABEL, ink, 'text-anchor="middle"')
            )
            return True
        return False

    def _is_free(self, box: Rect) -> bool:
        x0, y0, x1, y1 = box
        left, top, right, bottom = self._within
        if x0 < left or y0 < top or x1 > right or y1 > bottom:
            return False
        grown = (x0 - APART[0], y0 - APART[1], x1 + APART[0], y1 + APART[1])
        if any(meet(grown, other) > 0.0 for other in self._taken):
            return False
        near = (self._drawn >= (x0 - CLEAR, y0 - CLEAR)) & (self._drawn <= (x1 + CLEAR, y1 + CLEAR))
        return not bool(np.any(near[:, 0] & near[:, 1]))

    def _is_crossed(self, leader: list[Point]) -> bool:
        """Return whether a leader line runs over a box that is taken, other than the mark it starts from."""
        if not leader:
            return False
        boxes = [b for b in self._taken if not _holds(b, leader[0])]
        return any(_holds(box, (x, y)) for x, y in fill_densely(leader) for box in boxes)


def fill_densely(points: list[Point]) -> np.ndarray:
    """Return points along a polyline no farther than `DENSE` apart, (n, 2) picture units."""
    dense = points[:1]
    for (x0, y0), (x1, y1) in pairwise(points):
        pieces = max(1, math.ceil(math.dist((x0, y0), (x1, y1)) / DENSE))
        dense += [(x0 + (x1 - x0) * k / pieces, y0 + (y1 - y0) * k / pieces) for k in range(1, pieces + 1)]
    return np.array(dense, dtype=float).reshape(-1, 2)


def _offers(anchor: Point, size: tuple[float, float], gap: float) -> Iterable[Rect]:
    w, h = size
    for step in STEPS:
        for dx, dy in WAYS:
            x = anchor[0] + dx * (gap + step + w / 2)
            y = anchor[1] + dy * (gap + step + h / 2)
            yield (x - w / 2, y - h / 2, x + w / 2, y + h / 2)


def _holds(box: Rect, p: Point) -> bool:
    return box[0] <= p[0] <= box[2] and box[1] <= p[1] <= box[3]
