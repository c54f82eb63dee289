"""Tables and notes of one part: beside its views where there is room, else on sheets of their own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from exports.drawing.annotations import item_labels
from exports.drawing.channel_table import NARROW as CHANNELS_NARROW
from exports.drawing.channel_table import WIDE as CHANNELS_WIDE
from exports.drawing.channel_table import tabulate_channels
from exports.drawing.draft import Draft, drawing_area, foot_area
from exports.drawing.flow_tables import Piece, flow_pieces
from exports.drawing.groove_table import tabulate_grooves
from exports.drawing.hole_table import NARROW, WIDE, tabulate_holes
from exports.drawing.notes import block_notes
from exports.drawing.overlaps import item_lines, label_box, sample_segment
from exports.drawing.paper import Box
from exports.drawing.sheet_tables import Table, draw_table, draw_text_block
from exports.drawing.title_block import title_box
from exports.drawing.values import HoleRow, Item
from geom.features import Blank
from geom.frame import Face
from layouts.drawing_choice import DrawingChoice
from layouts.plan import Plan

GUTTER = 9.0
"""Between views and tables, [mm]."""

NOTES_ROOM = 110.0
"""Width of notes that stand with the tables, [mm]."""

LEAST = 20.0
"""Rooms narrower or lower than it are left empty, [mm]."""


def add_tables(
    plan: Plan,
    draft: Draft,
    blank: Blank,
    group: Sequence[Face],
    views: Box,
    numbered: Sequence[HoleRow] | None,
) -> tuple[list[Piece], list[Box]]:
    """Add the tables of a sheet and the part's notes; return what found no room, and the rooms that are left.

    Parameters
    ----------
    plan : Plan
    draft : Draft
    blank : Blank
    group : sequence of Face
        That stand on the sheet.
    views : Box
        What they take of the paper with their annotations, [mm].
    numbered : sequence of HoleRow or None
        All holes of the part where its notes stand on this sheet, else None.
    """
    choice = plan.panel.drawing
    area, foot = drawing_area(choice), foot_area(choice)
    right = Box(views.x1 + GUTTER, area.y0, area.x1, area.y1)
    below = Box(foot.x0, foot.y0, foot.x1, views.y0 - 2.0)
    above_title = Box(title_box(choice.paper).x0, area.y0, right.x0 - GUTTER, views.y0 - 2.0)
    left: list[Piece] = []
    if numbered is not None:
        notes = block_notes(plan, blank, numbered, foot.width)
        if notes.height <= below.height and notes.width <= foot.width:
            draft.items += draw_text_block(notes, (foot.x0, foot.y0 + notes.height))
            top = foot.y0 + notes.height + GUTTER
            below = Box(foot.x0, top, foot.x1, below.y1)
            if foot.x0 + notes.width + GUTTER > right.x0:
                right = replace(right, y0=max(right.y0, top))
        else:
            left.append(block_notes(plan, blank, numbered, max(NOTES_ROOM, foot.width)))
    areas = [right, below, above_title]
    channels, slim = (
        [table for face in group for table in tabulate_channels(plan, blank, face, rooms)]
        for rooms in (CHANNELS_WIDE, CHANNELS_NARROW)
    )
    grooves = [table for face in group for table in tabulate_grooves(plan, blank, face)]
    wide, narrow = (tabulate_holes(draft.holes, blank.name, rooms) for rooms in (WIDE, NARROW))
    choices = (
        *zip(wide, narrow, strict=True),
        *zip(channels, slim, strict=True),
        *((one,) for one in grooves),
    )
    left += [ways[0] for ways in choices if not any(put_piece(draft, table, areas) for table in ways)]
    return left, areas


def put_piece(draft: Draft, piece: Piece, areas: list[Box]) -> bool:
    """Put a table or a text into the first of some areas that holds it whole; False where none does.

    Parameters
    ----------
    draft : Draft
    piece : Table or TextBlock
    areas : list of Box
        Free; what is left of the one that is taken stays among them.
    """
    for k, area in enumerate(areas):
        if area.width < LEAST or area.height < LEAST:
            continue
        items, rest = flow_pieces([piece], [area])
        if rest:
            continue
        draft.items += items
        x1, y0 = _reach(items)
        beside = Box(x1 + GUTTER, area.y0, area.x1, area.y1)
        under = Box(area.x0, area.y0, x1, y0 - GUTTER)
        areas[k : k + 1] = [under, beside]
        return True
    return False


def _reach(items: Sequence[Item]) -> tuple[float, float]:
    """Return how far items reach to the right and down, [mm]."""
    points = [
        *(label_box(label) for item in items for label in item_labels(item, ())),
        *(sample_segment(s) for item in items for s in item_lines(item, ())),
    ]
    return max(float(xy[:, 0].max()) for xy in points), min(float(xy[:, 1].min()) for xy in points)


def draft_tables(plan: Plan, part: str, material: str, pieces: Sequence[Piece]) -> list[Draft]:
    """Return the sheets of tables and notes that found no room beside the views of a part.

    Parameters
    ----------
    plan : Plan
    part, material : str
    pieces : sequence of Table or TextBlock
        None give no sheet.
    """
    return draft_pieces(
        plan.panel.drawing, Draft(f"{part}, tables", part, "part drawing", material, False, 1.0), pieces
    )


def draft_pieces(choice: DrawingChoice, empty: Draft, pieces: Sequence[Piece]) -> list[Draft]:
    """Return as many copies of an empty sheet as pieces need, with the pieces on them.

    Parameters
    ----------
    choice : DrawingChoice
    empty : Draft
    pieces : sequence of Table or TextBlock
        None give no sheet.
    """
    area, foot = drawing_area(choice), foot_area(choice)
    # Columns at the left of the title block reach down beside it.
    columns = Box(area.x0, foot.y0, foot.x1, area.y1)
    others = Box(foot.x1 + GUTTER, area.y0, area.x1, area.y1)
    widest = max((piece.width for piece in pieces), default=0.0)
    rooms = [columns, others] if columns.width >= max(NOTES_ROOM, widest) else [area]
    ways = [_fill_sheets(empty, pieces, rooms, area, whole) for whole in (True, False)]
    return min(ways, key=len)


def _fill_sheets(
    empty: Draft, pieces: Sequence[Piece], rooms: Sequence[Box], area: Box, whole: bool
) -> list[Draft]:
    """Return sheets with pieces that stand whole where they can, in any order, or flow through the rooms in theirs."""
    left, out = list(pieces), []
    while left:
        draft = replace(empty, items=[])
        areas = [*rooms]
        rest = [piece for piece in left if not whole or not put_piece(draft, piece, areas)]
        if len(rest) == len(left):
            draft.items, rest = flow_pieces(left, rooms)
        if not draft.items:
            # Wider than the paper: it runs over the frame, and its overlaps tell.
            draft.items, rest = _draw(left[0], area), left[1:]
        out.append(draft)
        left = rest
    return out


def _draw(piece: Piece, area: Box) -> list[Item]:
    corner = (area.x0, area.y1)
    return [*(draw_table(piece, corner) if isinstance(piece, Table) else draw_text_block(piece, corner))]
