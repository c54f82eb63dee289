"""Lays tables and blocks of text into free rectangles of a sheet, column by column."""

from __future__ import annotations

from collections.abc import Sequence

from exports.drawing.paper import Box
from exports.drawing.sheet_tables import LEAST_ROWS, Table, TextBlock, draw_table, draw_text_block
from exports.drawing.values import Item

Piece = Table | TextBlock

BETWEEN, UNDER = 7.0, 5.0
"""Between columns, and between pieces below each other, [mm]."""


def flow_pieces(pieces: Sequence[Piece], areas: Sequence[Box]) -> tuple[list[Item], list[Piece]]:
    """Return what is drawn of pieces that fill areas one after the other, and the pieces that found no room.

    Parameters
    ----------
    pieces : sequence of Table or TextBlock
        In order; tables may be cut, blocks not.
    areas : sequence of Box
        Free, apart from each other.

    Returns
    -------
    (list of Item, list of Table or TextBlock)
    """
    out: list[Item] = []
    left = list(pieces)
    for number, area in enumerate(areas):
        left = _fill(area, left, out, areas[number + 1 :])
        if not left:
            break
    return out, left


def _fill(area: Box, pieces: list[Piece], out: list[Item], later: Sequence[Box]) -> list[Piece]:
    x, y, widest = area.x0, area.y1, 0.0
    left = list(pieces)
    while left:
        piece = left[0]
        if piece.width > area.x1 - x + 1e-6:
            break
        room = y - area.y0
        if piece.height <= room:
            whole, rest = piece, None
        elif (
            isinstance(piece, Table)
            and room >= _least_height(piece)
            and not _next_holds(area, piece, x + widest)
            and not any(piece.width <= one.width and piece.height <= one.height for one in later)
        ):
            whole, rest = piece.cut(room)
        elif y < area.y1:
            x, y, widest = x + widest + BETWEEN, area.y1, 0.0
            continue
        else:
            break
        out += draw_table(whole, (x, y)) if isinstance(whole, Table) else draw_text_block(whole, (x, y))
        widest = max(widest, whole.width)
        y -= whole.height + UNDER
        if rest is None:
            left.pop(0)
        else:
            left[0] = rest
            x, y, widest = x + widest + BETWEEN, area.y1, 0.0
    return left


def _next_holds(area: Box, piece: Piece, x: float) -> bool:
    """Return whether a column that begins beyond `x` holds a piece whole."""
    return x > area.x0 and x + BETWEEN + piece.width <= area.x1 and piece.height <= area.height


def _least_height(table: Table) -> float:
    """Return the height of a table's heading, head and first rows, [mm]."""
    return Table(table.heading, table.head, table.rows[:LEAST_ROWS]).height
