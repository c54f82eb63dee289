"""A sheet in the making: what is fixed on it, and the tags that find their places once all else stands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
import shapely

from exports.drawing.annotations import SPACING, item_labels
from exports.drawing.overlaps import item_lines, sample_segment, view_lines
from exports.drawing.paper import Box, draw_frame, frame_box
from exports.drawing.placing import CELL, Field, Tag, ink_labels, place_tags
from exports.drawing.sheet_tables import wrap_text
from exports.drawing.title_block import HEIGHT, WIDTH, Titles, draw_title_block, title_box
from exports.drawing.values import HoleRow, Item, Label, PlacedView, Sheet
from exports.lettering import text_width
from geom.outline import region_polygon
from layouts.drawing_choice import DrawingChoice
from layouts.panel import Panel

LEFT_OUT = "No room on this sheet to name"
"""How the sheet begins to tell what it could not place."""

TOLD, TOLD_ROOM = 1.8, 80.0
"""Capitals and width of what is told, [mm]."""

AROUND = 6.5
"""Between the frame and what is drawn, [mm]: the centring marks end before it."""


@dataclass(slots=True)
class Draft:
    """One sheet before its tags are placed; see `Titles` and `Sheet` for the fields of the same names.

    Parameters
    ----------
    sheet : str
    part : str
    kind : str
    material : str
    joint : bool
        Whether the part has a joint face.
    scale : float
        Paper over true length, [-].
    views : list of PlacedView
    items : list of Item
    tags : list of Tag
    holes : list of HoleRow
    """

    sheet: str
    part: str
    kind: str
    material: str
    joint: bool
    scale: float
    views: list[PlacedView] = field(default_factory=list)
    items: list[Item] = field(default_factory=list)
    tags: list[Tag] = field(default_factory=list)
    holes: list[HoleRow] = field(default_factory=list)


def drawing_area(choice: DrawingChoice) -> Box:
    """Return the room above the title block, [mm]."""
    frame = frame_box(choice.paper)
    return Box(frame.x0 + AROUND, frame.y0 + HEIGHT + 4.0, frame.x1 - AROUND, frame.y1 - AROUND)


def view_area(choice: DrawingChoice) -> Box:
    """Return the room above the title block for views alone, [mm]: they may stand beside a centring mark."""
    frame = frame_box(choice.paper)
    return Box(frame.x0 + AROUND, frame.y0 + HEIGHT + 2.0, frame.x1 - AROUND, frame.y1 - 3.0)


def side_area(choice: DrawingChoice) -> Box:
    """Return the room at the left of the title block, over the whole height of the frame, [mm]."""
    frame = frame_box(choice.paper)
    return Box(
        frame.x0 + AROUND,
        frame.y0 + AROUND,
        frame.x1 - WIDTH - AROUND,
        frame.y1 - AROUND,
    )


def foot_area(choice: DrawingChoice) -> Box:
    """Return the room at the left of the title block and no higher than it, [mm]."""
    frame, block = frame_box(choice.paper), title_box(choice.paper)
    return Box(frame.x0 + AROUND, frame.y0 + AROUND, block.x0 - AROUND, block.y1 + 2.0)


def finish_sheet(draft: Draft, panel: Panel, number: int, count: int) -> Sheet:
    """Return a sheet with its frame, its title block and all tags in their places.

    Tags for which there is no room are named at the foot of the sheet.

    Parameters
    ----------
    draft : Draft
    panel : Panel
    number, count : int
        Of the sheet, of all sheets.
    """
    choice = panel.drawing
    titles = Titles(
        panel.name,
        draft.sheet,
        draft.kind,
        draft.material,
        f"ISO 2768-{panel.make.tolerance}",
        draft.scale if draft.views else None,
        number,
        count,
        panel.sha256,
        choice.paper,
        choice.projection,
        choice.flatness if draft.joint else None,
        choice.roughness if draft.joint else None,
    )
    fixed = (*draw_frame(choice.paper), *draw_title_block(titles))
    views = tuple(draft.views)
    frame = frame_box(choice.paper)
    ink = Field(frame)
    everything = (*fixed, *draft.items)
    ink.draw_lines(xy for _, xy in view_lines(views))
    ink.draw_lines(sample_segment(s) for item in everything for s in item_lines(item, views))
    ink_labels(ink, (label for item in everything for label in item_labels(item, views)))
    ink_cuts(ink, views)
    placed, left = place_tags(draft.tags, ink)
    told: tuple[Item, ...] = ()
    if left:
        names = ", ".join(" ".join(tag.text) for tag in left)
        told = tell_left_out(names, ink)
    return Sheet(
        number,
        draft.sheet,
        draft.part,
        (frame.x1 + 10.0, frame.y1 + 10.0),
        draft.scale,
        views,
        (*fixed, *draft.items, *placed, *told),
        tuple(draft.holes),
    )


def tell_left_out(names: str, ink: Field) -> tuple[Item, ...]:
    """Return the words that name what found no room, at the lowest free place; over all else where there is none.

    Parameters
    ----------
    names : str
    ink : Field
    """
    lines = wrap_text(f"{LEFT_OUT}: {names}", TOLD_ROOM, TOLD)
    wide = max(text_width(line, TOLD) for line in lines)
    tall = TOLD * (1 + SPACING * (len(lines) - 1)) + 2.0
    box = ink.box
    xs, ys = np.arange(box.x0 + 4.0, box.x1 - wide, 3.0), np.arange(box.y0 + 4.0, box.y1 - tall, 2.0)
    x, y = (axis.ravel() for axis in np.meshgrid(xs, ys))
    free = ink.is_free(np.column_stack([x - 1.0, y - 1.0, x + wide + 1.0, y + tall]))
    k = int(np.argmax(free)) if free.any() else 0
    top = float(y[k]) + tall - 2.0 - TOLD
    return tuple(
        Label(line, (float(x[k]), top - TOLD * SPACING * n + 1.0), TOLD) for n, line in enumerate(lines)
    )


def ink_cuts(ink: Field, views: Iterable[PlacedView]) -> None:
    """Ink what is hatched.

    Parameters
    ----------
    ink : Field
    views : iterable of PlacedView
    """
    for placed in views:
        for cut in placed.view.cuts:
            outer, *holes = cut.region
            shape = region_polygon((outer,), 0.05, tuple(holes))
            if shape.is_empty:
                continue
            x0, y0, x1, y1 = shape.bounds
            step = CELL / placed.scale
            us, vs = (axis.ravel() for axis in np.meshgrid(np.arange(x0, x1, step), np.arange(y0, y1, step)))
            shapely.prepare(shape)
            inside = shapely.contains_xy(shape, us, vs)
            points = np.column_stack([us[inside], vs[inside]])
            ink.draw_points(points * placed.scale + np.array(placed.corner))
