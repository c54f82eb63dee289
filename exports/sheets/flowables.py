"""Blocks of a sheet as what the page layout takes: paragraphs, boxes, tables, steps with a box to tick.

Nothing here means anything by its colour: all of it is black on white, and grey where a table's head is.
"""

from __future__ import annotations

from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph, Spacer, Table, TableStyle

from exports.lettering import BOLD, MM, PLAIN, spell_letters, text_points
from exports.sheets.plan_figures import DrawnSchematic
from exports.sheets.values import Blank, Block, Caution, Grid, Heading, Matter, Say, Schematic, Small, Step
from layouts.plan import Plan

GREY = colors.Color(0.88, 0.88, 0.88)
TICK = 3.4 * MM
"""Side of a box to tick."""

NUMBER = 10.0 * MM
"""Width of a step's number."""

SPARE = 1.6 * MM
"""Between the border of a cell and its text."""

LEAST_READING, MOST_READING = 38.0 * MM, 84.0 * MM
"""Width of one blank with its label."""

LINE = 7.5 * MM
"""Height of a line to be written on."""

LEAST_BLANK = 15.0 * MM
"""Width of a table's column that is written in."""

HIGH_ROW = 7.5 * MM
"""Height of a row that is written in."""

LEAST_SPLIT = 130.0 * MM
"""What is lower than that is never split, but moved to the next page."""

MOST_KEPT = 200.0 * MM
"""A table that is higher is split, however few rows it has."""

TIGHT = 0.6
"""Share of the room between blocks that is left where that saves a page."""

KEPT_ROWS = 14
"""A table of no more rows stays in one piece, with what is said before it."""


def _style(name: str, size: float, **more: object) -> ParagraphStyle:
    return ParagraphStyle(
        name,
        fontName=PLAIN,
        fontSize=size,
        leading=1.32 * size,
        splitLongWords=1,
        allowWidows=0,
        allowOrphans=0,
        **more,
    )


TITLE = _style("title", 17.0, spaceAfter=3 * MM)
HEADING = _style("heading", 11.5, spaceBefore=3.4 * MM, spaceAfter=1.5 * MM, keepWithNext=1)
TEXT = _style("text", 9.0, spaceAfter=1.5 * MM)
CELL = _style("cell", 7.8)
CELL_RIGHT = _style("cell right", 7.8, alignment=TA_RIGHT)
SMALL = _style("small", 7.2, spaceBefore=0.8 * MM, spaceAfter=2.2 * MM)


def lay_block(block: Block, plan: Plan, width: float, tight: bool = False) -> list[Flowable]:
    """Return a block as flowables.

    Parameters
    ----------
    block : Block
    plan : Plan
    width : float
        Of the page between its margins, [pt].
    tight : bool
        With less room under it and in its rows: where a sheet takes a page less by that.
    """
    laid = _lay(block, plan, width, tight)
    if tight and not isinstance(block, Heading):
        for one in laid:
            one.spaceAfter = TIGHT * one.getSpaceAfter()
    return laid


def _lay(block: Block, plan: Plan, width: float, tight: bool) -> list[Flowable]:
    match block:
        case Heading(text):
            return [Paragraph(_bold(text), HEADING)]
        case Say(text):
            return [_paragraph(text, TEXT)]
        case Small(text):
            return [_paragraph(text, SMALL)]
        case Caution(text):
            return [CautionBox(_paragraph(text, TEXT))]
        case Matter(lead, text):
            return [Paragraph(f"{_bold('Mind ' + lead)}: {_escape(text)}", TEXT)]
        case Step():
            return [StepLine(block, _paragraph(block.text, TEXT))]
        case Grid():
            return [_lay_grid(block, width, TIGHT if tight else 1.0), Spacer(0, 2.5 * MM)]
        case Schematic():
            figure = DrawnSchematic(plan, block, width)
            figure.keepWithNext = 1
            return [figure, _paragraph(block.caption, SMALL)]
        case Blank(labels):
            return [BlankLine(label) for label in labels]


def figure_height(block: Block, plan: Plan, width: float) -> float:
    """Return the height of a figure, [pt]; 0 for what is none."""
    return DrawnSchematic(plan, block, width).height if isinstance(block, Schematic) else 0.0


def belongs_to(block: Block, following: Block) -> bool:
    """Return whether a block stays on one page with what follows: what is said before a table, a figure, a step.

    So does a table that is not split with the step after it.
    """
    if isinstance(block, Grid):
        return len(block.rows) <= KEPT_ROWS and isinstance(following, Step)
    if not isinstance(block, Say):
        return False
    return isinstance(following, Schematic | Step) or (
        isinstance(following, Grid) and len(following.rows) <= KEPT_ROWS
    )


def _escape(text: str) -> str:
    return escape(spell_letters(text))


def _paragraph(text: str, style: ParagraphStyle) -> Paragraph:
    return Paragraph(_escape(text), style)


def _bold(text: str) -> str:
    return f'<font name="{BOLD}">{_escape(text)}</font>'


class CautionBox(Flowable):
    """A caution in a box, with a triangle and a mark of exclamation; one longer than a page in several."""

    def __init__(self, text: Paragraph) -> None:
        super().__init__()
        self.spaceBefore = 1.2 * MM
        self.spaceAfter = 2.0 * MM
        self._text = text
        self._high = 0.0
        self._side = 13.0 * MM

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Return its size within the room that there is, [pt]."""
        self.width = width
        _, self._high = self._text.wrap(self._room(width), height)
        self.height = max(self._high + 2 * SPARE, 11.0 * MM)
        return width, self.height

    def _room(self, width: float) -> float:
        return width - self._side - 2.5 * MM

    def split(self, width: float, height: float) -> list[Flowable]:
        """Return what fits into a height and the rest, [pt]; nothing where a new page is better."""
        return [CautionBox(part) for part in _split_text(self._text, self._room(width), height - 2 * SPARE)]

    def draw(self) -> None:
        """Draw it at the origin of its canvas."""
        canvas: Canvas = self.canv
        canvas.setLineWidth(1.4)
        canvas.rect(0, 0, self.width, self.height)
        middle, side = self._side / 2, 8.0 * MM
        low = (self.height - 0.87 * side) / 2
        sign = canvas.beginPath()
        sign.moveTo(middle - side / 2, low)
        sign.lineTo(middle + side / 2, low)
        sign.lineTo(middle, low + 0.87 * side)
        sign.close()
        canvas.setLineJoin(1)
        canvas.drawPath(sign)
        canvas.setFont(BOLD, 13)
        canvas.drawCentredString(middle, low + 0.13 * side, "!")
        self._text.drawOn(canvas, self._side, (self.height - self._high) / 2)


class StepLine(Flowable):
    """A step: a box to tick, its number, its text, and under it blanks for what is read.

    One longer than a page runs on without box and number; its blanks come last.
    """

    def __init__(self, step: Step, text: Paragraph, readings: bool = True, goes_on: bool = False) -> None:
        super().__init__()
        self.spaceAfter = 2.0 * MM
        self._step = step
        self._text = text
        self._readings = step.readings if readings else ()
        self._goes_on = goes_on
        self._high = 0.0
        self._left = TICK + 2.2 * MM + (NUMBER if step.number else 0.0)

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Return its size within the room that there is, [pt]."""
        self.width = width
        _, self._high = self._text.wrap(width - self._left, height)
        self._rows = self._split_readings()
        self.height = max(self._high, TICK) + len(self._rows) * LINE
        return width, self.height

    def _split_readings(self) -> list[tuple[str, ...]]:
        """Return the readings by lines."""
        many = max(1, int((self.width - self._left) / LEAST_READING))
        readings = self._readings
        return [readings[k : k + many] for k in range(0, len(readings), many)]

    def split(self, width: float, height: float) -> list[Flowable]:
        """Return what fits into a height and the rest, [pt]; nothing where a new page is better."""
        parts = _split_text(self._text, width - self._left, height)
        return [
            StepLine(self._step, part, k + 1 == len(parts), self._goes_on or k > 0)
            for k, part in enumerate(parts)
        ]

    def draw(self) -> None:
        """Draw it at the origin of its canvas."""
        canvas: Canvas = self.canv
        canvas.setLineWidth(0.8)
        top = self.height
        if not self._goes_on:
            canvas.rect(0, top - TICK, TICK, TICK)
        if self._step.number and not self._goes_on:
            canvas.setFont(BOLD, TEXT.fontSize)
            canvas.drawString(TICK + 2.2 * MM, top - 0.92 * TEXT.fontSize, self._step.number)
        self._text.drawOn(canvas, self._left, top - self._high)
        y = top - max(self._high, TICK)
        for row in self._rows:
            y -= LINE
            _draw_blanks(canvas, row, self._left, self.width, y + 1.6 * MM)


def _split_text(text: Paragraph, width: float, height: float) -> list[Paragraph]:
    """Return a paragraph in two where it is higher than half a page, [pt]; nothing for a shorter one: it is moved."""
    _, high = text.wrap(width, height)
    if high < LEAST_SPLIT or height < LEAST_SPLIT / 4:
        return []
    parts = text.split(width, height)
    return parts if len(parts) > 1 else []


def _draw_blanks(canvas: Canvas, labels: tuple[str, ...], left: float, right: float, y: float) -> None:
    """Draw labels, each with a line to write on behind it, in columns of one width."""
    column = min((right - left) / len(labels), MOST_READING)
    canvas.setLineWidth(0.5)
    canvas.setFont(PLAIN, CELL.fontSize)
    for k, label in enumerate(labels):
        x = left + k * column
        start = x + (text_points(label, CELL.fontSize) + 1.5 * MM if label else 0.0)
        canvas.drawString(x, y, spell_letters(label))
        canvas.line(start, y - 0.6 * MM, x + column - 3.0 * MM, y - 0.6 * MM)


class BlankLine(Flowable):
    """A line across the page to be written on, with what for before it."""

    def __init__(self, label: str) -> None:
        super().__init__()
        self._label = label

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Return its size within the room that there is, [pt]."""
        self.width, self.height = width, LINE + 1.0 * MM
        return self.width, self.height

    def draw(self) -> None:
        """Draw it at the origin of its canvas."""
        canvas: Canvas = self.canv
        canvas.setFont(PLAIN, TEXT.fontSize)
        canvas.setLineWidth(0.5)
        canvas.drawString(0, 2.0 * MM, spell_letters(self._label))
        start = 32.0 * MM if self._label else 0.0
        canvas.line(start, 1.4 * MM, self.width, 1.4 * MM)


def _lay_grid(grid: Grid, width: float, airy: float = 1.0) -> Table:
    """Return a table as wide as the page at most; its head stands again on each page and never alone."""
    tick = 1 if grid.ticked else 0
    head = (*("" for _ in range(tick)), *grid.head, *grid.blanks)
    rows = [(*("" for _ in range(tick)), *row, *("" for _ in grid.blanks)) for row in grid.rows]
    right = {k + tick for k in grid.right}
    widths = _fit_columns(head, rows, width, tick, len(grid.blanks), right)
    cells = [[Paragraph(_bold(cell), CELL_RIGHT if k in right else CELL) for k, cell in enumerate(head)]]
    for row in rows:
        drawn = [
            _paragraph(cell, CELL_RIGHT if k in right else CELL) if cell else "" for k, cell in enumerate(row)
        ]
        parts = _split_row(drawn, widths)
        for number, part in enumerate(parts):
            # What runs on over a page has no box of its own.
            cells.append(
                [TickBox() if tick and k == 0 and not number else cell for k, cell in enumerate(part)]
            )
    high = sum(_row_height(row, widths) for row in cells[1:])
    whole = len(rows) <= KEPT_ROWS and high < MOST_KEPT
    style = [
        ("BACKGROUND", (0, 0), (-1, 0), GREY),
        ("GRID", (0, 0), (-1, -1), 0.4, colors.black),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("LEFTPADDING", (0, 0), (-1, -1), SPARE),
        ("RIGHTPADDING", (0, 0), (-1, -1), SPARE),
        ("TOPPADDING", (0, 0), (-1, -1), 1.6 * airy),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.8 * airy),
    ]
    if whole:
        style.append(("NOSPLIT", (0, 0), (-1, -1)))
    elif len(rows) > KEPT_ROWS:
        style += [("NOSPLIT", (0, 0), (-1, 2)), ("NOSPLIT", (0, -2), (-1, -1))]
    heights = (
        [None, *(HIGH_ROW if grid.blanks else None for _ in rows)] if _all_short(cells, widths) else None
    )
    table = Table(cells, colWidths=widths, rowHeights=heights, repeatRows=1, hAlign="LEFT")
    table.setStyle(TableStyle(style))
    return table


def _split_row(row: list[Paragraph | str], widths: list[float]) -> list[list[Paragraph | str]]:
    """Return a row as one or, where it is higher than a page takes, as several that are read on downwards."""
    if _row_height(row, widths) <= LEAST_SPLIT:
        return [row]
    columns: list[list[Paragraph | str]] = []
    for cell, wide in zip(row, widths, strict=True):
        parts: list[Paragraph | str] = []
        left = cell
        while isinstance(left, Paragraph):
            first, *rest = left.split(wide - 2 * SPARE, LEAST_SPLIT)
            parts.append(first)
            left = rest[0] if rest else ""
        columns.append(parts or [""])
    count = max(map(len, columns))
    return [[column[k] if k < len(column) else "" for column in columns] for k in range(count)]


def _row_height(row: list[Paragraph | str | TickBox], widths: list[float]) -> float:
    """Return the height of the highest text of a row, [pt]."""
    return max(
        (
            cell.wrap(wide - 2 * SPARE, 10_000.0)[1]
            for cell, wide in zip(row, widths, strict=True)
            if isinstance(cell, Paragraph)
        ),
        default=0.0,
    )


class TickBox(Flowable):
    """A box to tick in a table."""

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Return its size, [pt]."""
        self.width, self.height = TICK, TICK
        return self.width, self.height

    def draw(self) -> None:
        """Draw it at the origin of its canvas."""
        self.canv.setLineWidth(0.8)
        self.canv.rect(0, 0, TICK, TICK)


def _fit_columns(
    head: tuple[str, ...],
    rows: list[tuple[str, ...]],
    width: float,
    ticks: int,
    blanks: int,
    whole_columns: set[int],
) -> list[float]:
    """Return the columns' widths, [pt]: as their texts ask, the widest ones narrowed until all fit."""
    pad = 2 * SPARE + 1.0
    count = len(head)
    wanted, least = [], []
    for k in range(count):
        texts = [(head[k], True), *((row[k], False) for row in rows)]
        line = max(text_points(text, CELL.fontSize, bold) for text, bold in texts)
        # Numbers stay whole, only their heads break.
        words = [(word, bold) for text, bold in texts for word in text.split()]
        words += [(row[k], False) for row in rows] if k in whole_columns else []
        longest = max((text_points(word, CELL.fontSize, bold) for word, bold in words), default=0.0)
        wanted.append(line + pad)
        least.append(min(longest, width / 4) + pad)
    for k in range(ticks):
        wanted[k] = least[k] = TICK + pad
    for k in range(count - blanks, count):
        wanted[k] = max(wanted[k], LEAST_BLANK)
        least[k] = max(least[k], LEAST_BLANK)
    if sum(wanted) > width:
        wanted = _narrow(wanted, least, width)
    spare = width - sum(wanted)
    if blanks and spare > 0:
        for k in range(count - blanks, count):
            wanted[k] += spare / blanks
    return wanted


def _narrow(wanted: list[float], least: list[float], width: float) -> list[float]:
    """Return widths between the least and those wanted that fit together: each gets of the spare room as its text asks.

    The more a column wants, the more it gets, but less than in proportion: it may break its lines.
    """
    if sum(least) >= width:
        return [part * width / sum(least) for part in least]
    asked = [(large - small) ** 0.7 for small, large in zip(least, wanted, strict=True)]
    low, high = 0.0, max(large - small for small, large in zip(least, wanted, strict=True))
    for _ in range(50):
        share = (low + high) / 2
        fits = sum(map(_grow, least, wanted, asked, [share] * len(least))) <= width
        low, high = (share, high) if fits else (low, share)
    return list(map(_grow, least, wanted, asked, [low] * len(least)))


def _grow(least: float, wanted: float, asked: float, share: float) -> float:
    return min(wanted, least + share * asked)


def _all_short(cells: list[list[Paragraph | str]], widths: list[float]) -> bool:
    """Return whether every row's text is low enough for a row of `HIGH_ROW`."""
    room = HIGH_ROW - 4.4
    return all(
        not isinstance(cell, Paragraph) or cell.wrap(wide - 2 * SPARE, 1000.0)[1] <= room
        for row in cells[1:]
        for cell, wide in zip(row, widths, strict=True)
    )
