"""Tables on a sheet: columns as wide as their text, rows as high as their lines, cut to what fits below each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from exports.drawing.annotations import SPACING, TEXT
from exports.drawing.paper import Box, box_strokes
from exports.drawing.values import Item, Label, Stroke
from exports.lettering import text_width
from geom.outline import Line, Point

INSET, ABOVE, BELOW = 1.2, 1.3, 1.3
"""Room beside, above and below the text of a cell, [mm]."""

STEP = SPACING * TEXT
HEADING = 2.5
"""Capitals of a heading, bold, [mm]."""

HEAD_ROOM = 2.5
"""Between a heading and what stands under it, [mm]."""

LEAST_ROWS = 3
"""No fewer rows of a table that is cut stand alone at the end of a column or at the head of the next."""

CONTINUED = "(continued)"

Cell = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under a head; a cell is a tuple of lines.

    Parameters
    ----------
    heading : tuple of str
        Its lines.
    head : tuple of str
    rows : tuple of tuple of Cell
    """

    heading: Cell
    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]

    @property
    def widths(self) -> tuple[float, ...]:
        """Of the columns, [mm]."""
        columns = zip(*((self._head_cells(), *self.rows)), strict=True)
        return tuple(
            max(text_width(line, TEXT, bold=not row) for row, cell in enumerate(column) for line in cell)
            + 2 * INSET
            for column in columns
        )

    @property
    def width(self) -> float:
        """[mm]"""
        return max(sum(self.widths), *(text_width(line, HEADING, bold=True) for line in self.heading))

    @property
    def height(self) -> float:
        """With its heading, [mm]."""
        return self._above_rows() + sum(row_height(row) for row in self.rows)

    def _above_rows(self) -> float:
        return heading_height(self.heading) + row_height(self._head_cells())

    def _head_cells(self) -> tuple[Cell, ...]:
        return tuple((text,) for text in self.head)

    def cut(self, height: float) -> tuple[Table, Table | None]:
        """Return what of a table is no higher than `height`, [mm], and the rest; at least one row in the first."""
        used, count = self._above_rows(), 0
        while count < len(self.rows) and (count == 0 or used + row_height(self.rows[count]) <= height):
            used += row_height(self.rows[count])
            count += 1
        if count == len(self.rows):
            return self, None
        # No few rows alone at the head of the next column.
        count = max(1, min(count, len(self.rows) - LEAST_ROWS))
        more = self.heading if self.heading[-1] == CONTINUED else (*self.heading, CONTINUED)
        return Table(self.heading, self.head, self.rows[:count]), Table(more, self.head, self.rows[count:])


def heading_height(heading: Cell) -> float:
    """Return the height of a heading with the room under it, [mm]."""
    return HEADING + STEP * (len(heading) - 1) + HEAD_ROOM


def row_height(row: Sequence[Cell]) -> float:
    """Return the height of a row, [mm]."""
    return ABOVE + TEXT + BELOW + STEP * (max(len(cell) for cell in row) - 1)


def draw_table(table: Table, corner: Point) -> tuple[Item, ...]:
    """Return a table's lines and letters.

    Parameters
    ----------
    table : Table
    corner : (float, float)
        Its upper left corner, [mm].
    """
    x0, y = corner
    widths = table.widths
    right = x0 + sum(widths)
    out: list[Item] = [
        Label(line, (x0, y - HEADING - k * STEP), HEADING, bold=True) for k, line in enumerate(table.heading)
    ]
    top = y = y - heading_height(table.heading)
    for number, row in enumerate((tuple((text,) for text in table.head), *table.rows)):
        x = x0
        for width, cell in zip(widths, row, strict=True):
            for k, line in enumerate(cell):
                if line:
                    at = (x + INSET, y - ABOVE - TEXT - k * STEP)
                    out.append(Label(line, at, TEXT, bold=number == 0))
            x += width
        y -= row_height(row)
        out.append(Stroke(Line((x0, y), (right, y)), "thin"))
    out += box_strokes(Box(x0, y, right, top))
    x = x0
    for width in widths[:-1]:
        x += width
        out.append(Stroke(Line((x, top), (x, y)), "thin"))
    return tuple(out)


@dataclass(frozen=True, slots=True)
class TextBlock:
    """Lines of text under a heading."""

    heading: str
    lines: tuple[str, ...]

    @property
    def height(self) -> float:
        """[mm]"""
        return heading_height((self.heading,)) + STEP * len(self.lines)

    @property
    def width(self) -> float:
        """[mm]"""
        texts = [text_width(line, TEXT) for line in self.lines]
        return max(text_width(self.heading, HEADING, bold=True), *texts)


def draw_text_block(block: TextBlock, corner: Point) -> tuple[Item, ...]:
    """Return a block's letters.

    Parameters
    ----------
    block : TextBlock
    corner : (float, float)
        Its upper left corner, [mm].
    """
    x, y = corner
    out = [Label(block.heading, (x, y - HEADING), HEADING, bold=True)]
    for k, line in enumerate(block.lines):
        out.append(Label(line, (x, y - heading_height((block.heading,)) - TEXT - k * STEP), TEXT))
    return tuple(out)


def wrap_text(text: str, width: float, height: float = TEXT) -> tuple[str, ...]:
    """Return a text in lines no wider than `width`, [mm], broken between words.

    Parameters
    ----------
    text : str
    width : float
        [mm].
    height : float
        Of capitals, [mm].
    """
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, height) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return tuple(lines)
