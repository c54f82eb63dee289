"""Blocks of a sheet of sections and details: each a view with its caption and its dimensions, set beside each other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from exports.drawing.annotations import (
    ARROW,
    GAP,
    TEXT,
    item_labels,
    linear_ends,
    linear_label,
    linear_lines,
    linear_text,
)
from exports.drawing.draft import Draft, drawing_area, ink_cuts, side_area
from exports.drawing.overlaps import item_lines, label_box, sample_segment, view_lines
from exports.drawing.paper import Box
from exports.drawing.placing import Field, ink_labels
from exports.drawing.projection import Pads
from exports.drawing.scales import largest_scale, show_scale
from exports.drawing.values import Label, Linear, PlacedView, View
from exports.lettering import text_width
from geom.outline import Line, Point
from layouts.drawing_choice import DrawingChoice

CAPTION = 3.5
CAPTION_ROOM = 5.5
BETWEEN = 8.0
SPARE = 1e-6

Finish = Callable[[Draft, Field, int, PlacedView], None]


@dataclass(frozen=True, slots=True)
class ViewBlock:
    """A view to be set on a sheet.

    Parameters
    ----------
    view : View
    caption : str
        Its scale is written behind it.
    scale : float
        Paper over true length, [-].
    pads : Pads
        Room for its annotations, the caption's aside, [mm].
    finish : callable
        Adds its dimensions and tags to a draft: of the draft, its ink, the view's number there, and the view in its
        place.
    """

    view: View
    caption: str
    scale: float
    pads: Pads
    finish: Finish

    @property
    def size(self) -> tuple[float, float]:
        """With all its annotations, [mm] on the paper."""
        w, h = self.view.size
        wide = max(w * self.scale, text_width(self.full_caption, CAPTION, bold=True))
        return (
            self.pads.left + wide + self.pads.right,
            self.pads.below + h * self.scale + self.pads.above + CAPTION_ROOM,
        )

    @property
    def full_caption(self) -> str:
        """Name and scale."""
        return f"{self.caption}  {show_scale(self.scale)}"


def set_blocks(draft: Draft, blocks: Sequence[ViewBlock], choice: DrawingChoice) -> list[ViewBlock]:
    """Set blocks in order, each as far up and then left as it has room, and return those that found none.

    What ends at the left of the title block may reach down beside it. A first block that is larger than the paper is
    set all the same: that it runs over the frame is told by its overlaps.

    Parameters
    ----------
    draft : Draft
    blocks : sequence of ViewBlock
    choice : DrawingChoice
    """
    area, side = drawing_area(choice), side_area(choice)
    taken: list[Box] = []

    def is_free(box: Box) -> bool:
        floor = side.y0 if box.x1 <= side.x1 else area.y0
        inside = box.y0 >= floor - SPARE and box.x1 <= area.x1 + SPARE
        return inside and not any(_come_near(box, other) for other in taken)

    left = list(blocks)
    while left:
        width, height = left[0].size
        corners = [(area.x0, area.y1)]
        corners += [(box.x1 + BETWEEN, box.y1) for box in taken]
        corners += [(box.x0, box.y0 - BETWEEN) for box in taken]
        boxes = (
            Box(x, top - height, x + width, top) for x, top in sorted(corners, key=lambda p: (-p[1], p[0]))
        )
        box = next((box for box in boxes if is_free(box)), None)
        if box is None and taken:
            break
        if box is None:
            box = Box(area.x0, area.y1 - height, area.x0 + width, area.y1)
        _set_block(draft, left.pop(0), (box.x0, box.y0))
        taken.append(box)
    return left


def _come_near(one: Box, other: Box) -> bool:
    near = BETWEEN - SPARE
    across = one.x0 < other.x1 + near and other.x0 < one.x1 + near
    return across and one.y0 < other.y1 + near and other.y0 < one.y1 + near


def column_scale(view: View, area: Box, pads: Pads, share: float = 1.0) -> float:
    """Return the largest scale at which a section and its dimensions fit a part of an area.

    Parameters
    ----------
    view : View
    area : Box
    pads : Pads
    share : float
        Of the area's width, [-].
    """
    w, h = view.size

    def fits(scale: float) -> bool:
        wide = pads.left + w * scale + pads.right
        return (
            wide <= share * area.width and pads.below + h * scale + pads.above + CAPTION_ROOM <= area.height
        )

    return largest_scale(fits, 2.0) or 0.02


def _set_block(draft: Draft, block: ViewBlock, corner: Point) -> None:
    at = (corner[0] + block.pads.left, corner[1] + block.pads.below)
    placed = PlacedView(block.view, at, block.scale)
    draft.views.append(placed)
    top = at[1] + block.view.size[1] * block.scale + block.pads.above + CAPTION_ROOM
    draft.items.append(Label(block.full_caption, (at[0], top - CAPTION), CAPTION, bold=True))
    width, height = block.size
    around = Box(corner[0], corner[1], corner[0] + width, corner[1] + height)
    block.finish(draft, ink_of(draft, around), len(draft.views) - 1, placed)


def add_linear(draft: Draft, ink: Field, linear: Linear, lines: Sequence[float]) -> None:
    """Add a linear dimension whose line runs where its text overlaps nothing, the first such place, else the first.

    Parameters
    ----------
    draft : Draft
    ink : Field
        What stands there already; the dimension is added.
    linear : Linear
    lines : sequence of float
        Where its line may run, [mm] on the paper.
    """
    placed = draft.views[linear.view]
    boxes, made = [], []
    for line in lines:
        for text in _text_places(replace(linear, line=line), placed):
            one = replace(linear, line=line, text=text)
            corners = label_box(linear_label(one, placed))
            (x0, y0), (x1, y1) = corners.min(axis=0), corners.max(axis=0)
            boxes.append((x0 - CLEAR, y0 - CLEAR * 0.5, x1 + CLEAR, y1 + CLEAR))
            made.append(one)
    free = ink.is_free(np.array(boxes)) & ~np.array(
        [ink.cross_letters(_ends(linear_lines(one, placed))).any() for one in made]
    )
    chosen = made[int(np.argmax(free))] if free.any() else made[0]
    draft.items.append(chosen)
    ink.draw_lines(sample_segment(line) for line in linear_lines(chosen, placed))
    ink_labels(ink, (linear_label(chosen, placed),))


def _ends(lines: Sequence[Line]) -> np.ndarray:
    return np.array([(*line.start, *line.end) for line in lines])


FURTHER = (0.0, 3.0, 6.0, 9.0, 12.0, 16.0, 20.0)
"""How much further beyond a dimension's arrow its text may stand, [mm]."""

CLEAR = 0.4
"""Kept free beside a dimension's text, [mm]."""


def _text_places(linear: Linear, placed: PlacedView) -> tuple[float | None, ...]:
    """Return where a dimension's text may stand along its line: in its middle, or beyond either arrow."""
    ends, k = linear_ends(linear, placed), 0 if linear.axis == "u" else 1
    a, b = ends[0][k], ends[1][k]
    wide = text_width(linear_text(linear), TEXT)
    off = 2 * ARROW + GAP + wide / 2
    shift = (b - a - wide) / 2 - GAP
    inside = (None, (a + b) / 2 - shift, (a + b) / 2 + shift) if shift > 0 else ()
    beside = (place for more in FURTHER for place in (b + off + more, a - off - more))
    return (*inside, *beside)


def ink_of(draft: Draft, box: Box) -> Field:
    """Return the ink of what stands on a draft already, within a box.

    Parameters
    ----------
    draft : Draft
    box : Box
    """
    ink, views = Field(box), tuple(draft.views)
    ink.draw_lines(xy for _, xy in view_lines(views))
    ink.draw_lines(sample_segment(s) for item in draft.items for s in item_lines(item, views))
    ink_labels(ink, (label for item in draft.items for label in item_labels(item, views)))
    ink_cuts(ink, views)
    return ink


def view_box(placed: PlacedView) -> Box:
    """Return what a view takes of the paper, [mm]."""
    (x, y), (w, h) = placed.corner, placed.view.size
    return Box(x, y, x + w * placed.scale, y + h * placed.scale)
