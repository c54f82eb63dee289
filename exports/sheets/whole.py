"""All work sheets as one PDF: A4 upright, in black, searchable, with a bookmark for each sheet and heading."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    NextPageTemplate,
    PageBreak,
    PageTemplate,
    Paragraph,
)

from exports.formats.pdf_canvas import MAKER, name_canvas
from exports.lettering import BOLD, MM, PLAIN, register_fonts, spell_letters, text_points
from exports.sheets.flowables import TITLE, belongs_to, figure_height, lay_block
from exports.sheets.list_sheets import list_sheets
from exports.sheets.values import Heading, WorkSheet
from exports.wording.figures import shorten_until, show_hash
from geom.findings import Finding
from layouts.cost.sheet import CostSheet
from layouts.plan import Plan

if TYPE_CHECKING:
    from exports.check_solids import Checked

MARGIN = 16.0 * MM
HEAD = 18.0 * MM
"""From the paper's upper edge to the text."""

FOOT = 15.5 * MM

LEAST_UNDER = 26.0 * MM
"""Room for a heading with what begins under it, or with a figure's caption; else it goes to the next page."""

SMALL = 7.5
PAGES = "pages"
"""Name of the form that holds the count of pages: it is known last."""


SUBJECT = "making, parts, assembly, leak test, filling, draining, record"


def write_sheets(
    path: Path, plan: Plan, checked: Checked, findings: tuple[Finding, ...], cost: CostSheet
) -> None:
    """Write the sheets for making, assembly, filling and leak test, with the parts list and a page to sign.

    Parameters
    ----------
    path : Path
    plan : Plan
    checked : Checked
    findings : tuple of Finding
        All of the run.
    cost : CostSheet
        Of the same run.
    """
    write_pages(path, plan, list_sheets(plan, checked, findings, cost))


def write_pages(path: Path, plan: Plan, sheets: tuple[WorkSheet, ...]) -> None:
    """Lay sheets out and write them.

    Parameters
    ----------
    path : Path
    plan : Plan
        Its name, file and hash stand on every page; figures are drawn from it.
    sheets : tuple of WorkSheet
    """
    register_fonts()
    title = f"{plan.panel.name}: work sheets"
    document = BaseDocTemplate(
        str(path),
        pagesize=A4,
        title=title,
        subject=SUBJECT,
        creator=MAKER,
        author=MAKER,
        lang="en",
        invariant=1,
        displayDocTitle=1,
        initialFontName=PLAIN,
    )
    document.addPageTemplates(
        [
            PageTemplate(f"sheet {k}", [_frame()], onPage=_draw_edges(plan, sheet.title))
            for k, sheet in enumerate(sheets)
        ]
    )
    story: list[Flowable] = []
    for k, sheet in enumerate(sheets):
        if k:
            story += [NextPageTemplate(f"sheet {k}"), PageBreak()]
        tight = _count_pages(plan, sheet, True) < _count_pages(plan, sheet, False)
        story += _lay_sheet(plan, sheet, f"{k}", tight)
    story.append(_Count())
    document.build(story, canvasmaker=partial(_start_canvas, title))


def _frame() -> Frame:
    """Return the room of a page."""
    return Frame(
        MARGIN,
        FOOT,
        A4[0] - 2 * MARGIN,
        A4[1] - HEAD - FOOT,
        leftPadding=0,
        rightPadding=0,
        topPadding=0,
        bottomPadding=0,
    )


def _lay_sheet(plan: Plan, sheet: WorkSheet, key: str, tight: bool) -> list[Flowable]:
    """Return a sheet's flowables; `tight` with less room between them."""
    story: list[Flowable] = [
        _Mark(sheet.title, key, 0),
        Paragraph(f'<font name="{BOLD}">{sheet.title}</font>', TITLE),
    ]
    for n, block in enumerate(sheet.blocks):
        laid = lay_block(block, plan, A4[0] - 2 * MARGIN, tight)
        if n + 1 < len(sheet.blocks) and belongs_to(block, sheet.blocks[n + 1]):
            for one in laid:
                one.keepWithNext = 1
        if isinstance(block, Heading):
            under = [figure_height(one, plan, A4[0] - 2 * MARGIN) for one in sheet.blocks[n + 1 : n + 2]]
            story.append(CondPageBreak(LEAST_UNDER + sum(under)))
            story.append(_Mark(block.text, f"{key}.{n}", 1))
        story += laid
    return story


def _count_pages(plan: Plan, sheet: WorkSheet, tight: bool) -> int:
    """Return how many pages a sheet takes."""
    document = BaseDocTemplate(BytesIO(), pagesize=A4, invariant=1, initialFontName=PLAIN)
    document.addPageTemplates([PageTemplate("sheet", [_frame()])])
    document.build(_lay_sheet(plan, sheet, "0", tight))
    return int(document.page)


def _start_canvas(title: str, *given: object, **more: object) -> Canvas:
    canvas = Canvas(*given, **more)
    name_canvas(canvas, title, SUBJECT)
    return canvas


class _Mark(Flowable):
    """A bookmark; as high as nothing."""

    def __init__(self, text: str, key: str, level: int) -> None:
        super().__init__()
        self._text, self._key, self._level = text, key, level
        self.keepWithNext = 1

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Return its size, [pt]."""
        return 0.0, 0.0

    def draw(self) -> None:
        """Set it where it stands."""
        self.canv.bookmarkHorizontal(self._key, 0, 14.0)
        self.canv.addOutlineEntry(self._text, self._key, self._level, closed=self._level == 0)


class _Count(Flowable):
    """Writes the count of pages into the form that every page shows, once the last page is reached."""

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Return its size, [pt]."""
        return 0.0, 0.0

    def draw(self) -> None:
        """Define the form."""
        canvas: Canvas = self.canv
        canvas.beginForm(PAGES, 0, -3, 40, 10)
        canvas.setFont(PLAIN, SMALL)
        canvas.drawString(0, 0, str(canvas.getPageNumber()))
        canvas.endForm()


def _draw_edges(plan: Plan, title: str) -> Callable[[Canvas, BaseDocTemplate], None]:
    """Return what draws the upper and lower edge of each page of a sheet."""

    def draw(canvas: Canvas, document: BaseDocTemplate) -> None:
        canvas.saveState()
        top, left, right = A4[1] - 11.5 * MM, MARGIN, A4[0] - MARGIN
        canvas.setFont(BOLD, SMALL + 1)
        canvas.drawRightString(right, top, title)
        room = right - left - text_points(title, SMALL + 1, bold=True) - 6 * MM
        canvas.setFont(PLAIN, SMALL + 1)
        name = shorten_until(plan.panel.name, lambda short: text_points(short, SMALL + 1) <= room)
        canvas.drawString(left, top, spell_letters(name))
        canvas.setLineWidth(0.6)
        canvas.line(left, top - 2 * MM, right, top - 2 * MM)
        foot = 10.0 * MM
        canvas.line(left, foot + 3.5 * MM, right, foot + 3.5 * MM)
        canvas.setFont(PLAIN, SMALL)
        canvas.drawString(left, foot, f"file {show_hash(plan.panel.sha256)}")
        canvas.drawCentredString(A4[0] / 2, foot, "engineering estimates, not a certificate")
        said = f"page {document.page} of "
        start = right - text_points(f"{said}00", SMALL)
        canvas.drawString(start, foot, said)
        canvas.translate(start + text_points(said, SMALL), foot)
        canvas.doForm(PAGES)
        canvas.restoreState()

    return draw
