"""The papers of a run: drawing, sheets and parts list of a panel without faults; the report of every run."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from exports.writing import OutFile
from geom.findings import Finding
from layouts.cost.sheet import CostSheet
from layouts.plan import Plan

if TYPE_CHECKING:
    from pathlib import Path

    from exports.check_solids import Checked


PAGE = "report.html"


def work_papers(
    plan: Plan, checked: Checked, findings: tuple[Finding, ...], cost: CostSheet
) -> list[OutFile]:
    """Return what a panel is made by: drawing, sheets, parts list. Only for a run without faults.

    Parameters
    ----------
    plan : Plan
    checked : Checked
    findings : tuple of Finding
    cost : CostSheet
    """
    from exports.drawing.draw_sheets import draw_sheets
    from exports.drawing.dxf_document import build_document, write_drawing_dxf
    from exports.drawing.pdf_pages import write_drawing_pdf
    from exports.sheets.whole import write_sheets
    from exports.tables.parts_list import parts_csv

    drawing = build_document(draw_sheets(plan, checked))

    def sheets(p: Path) -> None:
        write_sheets(p, plan, checked, findings, cost)

    def parts(p: Path) -> None:
        p.write_bytes(parts_csv(plan, cost).encode("utf-8"))

    return [
        OutFile(
            "drawing.pdf", "drawing of all parts and their assembly", lambda p: write_drawing_pdf(p, drawing)
        ),
        OutFile(
            "drawing.dxf",
            "the same drawing, 2D, mm, true size, with true dimensions",
            lambda p: write_drawing_dxf(p, drawing),
        ),
        OutFile("sheets.pdf", "sheets to make, assemble, fill and leak-test by, to tick and sign", sheets),
        OutFile("parts.csv", "parts list with counts and cut lengths", parts),
    ]


def report_file(
    plan: Plan,
    checked: Checked | None,
    findings: tuple[Finding, ...],
    cost: CostSheet,
    pictures: Mapping[str, str],
    files: tuple[tuple[str, str], ...],
    left: tuple[str, ...] = (),
) -> OutFile:
    """Return the report as a page.

    Parameters
    ----------
    plan : Plan
    checked : Checked or None
    findings : tuple of Finding
    cost : CostSheet
    pictures : mapping of str to str
        File name to SVG document.
    files : tuple of (str, str)
        Names of the other files, with what each is.
    left : tuple of str
        Names of an earlier run's files that stay beside it.
    """
    from exports.report.html.whole import report_page

    def put(p: Path) -> None:
        p.write_bytes(report_page(plan, checked, findings, cost, pictures, files, left).encode("utf-8"))

    return OutFile(PAGE, "the report to look at: opens in a browser, offline", put)
