"""The cost sheet for the terminal and as cost.csv."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from exports.tables.text_tables import LINE, NAME, align_rows
from exports.wording.figures import shorten_text, wrap_words
from layouts.cost.sheet import CostItem, CostSheet

COLUMNS = ("item", "what", "quantity", "unit", "each", "sum", "currency")
"""Of cost.csv, in this order."""

FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""With these a spreadsheet takes a text for a formula."""


def describe_cost(sheet: CostSheet) -> str:
    """Return a cost sheet as a table, with what it stands on and what has no price."""
    rows = [(item, shorten_text(what, NAME), *rest) for item, what, *rest in cost_rows(sheet)]
    lines = align_rows(rows, left=2)
    if sheet.total is not None:
        lines.append(f"sum {sheet.total:.2f} {sheet.currency}")
    if sheet.unpriced:
        lines += wrap_words(f"not priced: {', '.join(dict.fromkeys(sheet.unpriced))}", LINE)
    return "\n".join(lines)


def cost_rows(sheet: CostSheet) -> list[tuple[str, ...]]:
    """Return the lines of a cost sheet, headings first; with prices where it has any."""
    priced = bool(sheet.currency)
    rows: list[tuple[str, ...]] = [("cost sheet", "", "quantity", *(("each", "sum") if priced else ()))]
    for item in sheet.items:
        row = (item.item, item.what, f"{show_quantity(item)} {item.unit}")
        rows.append((*row, _money(item.each), _money(item.sum)) if priced else row)
    return rows


def cost_csv(sheet: CostSheet) -> str:
    """Return a cost sheet as CSV: a row for each item; where there are prices, the sum and what has none last."""
    rows: list[tuple[str, ...]] = [COLUMNS]
    for item in sheet.items:
        money = (_plain(item.each), _cents(item.sum), "" if item.each is None else sheet.currency)
        rows.append((item.item, item.what, show_quantity(item), item.unit, *money))
    if sheet.total is not None:
        rows.append(("sum", "all that is priced", "", "", "", _cents(sheet.total), sheet.currency))
    if sheet.unpriced:
        rows.append(("not priced", "; ".join(dict.fromkeys(sheet.unpriced)), "", "", "", "", ""))
    return write_csv(rows)


def write_csv(rows: Sequence[tuple[str, ...]]) -> str:
    """Return rows as CSV text, as RFC 4180 has it, with no cell that a spreadsheet takes for a formula.

    Parameters
    ----------
    rows : sequence of tuple of str
        Headings first.
    """
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerows([as_text(cell) for cell in row] for row in rows)
    return out.getvalue()


def as_text(cell: str) -> str:
    """Return a cell that no spreadsheet takes for a formula: with an apostrophe before it where one might."""
    return f"'{cell}" if cell.startswith(FORMULA) else cell


def show_quantity(item: CostItem) -> str:
    """Return an item's quantity with the digits of its unit: 0.842 for kg, 62 for pieces."""
    return f"{item.shown:.{max(0, item.decimals)}f}"


def _money(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"


def _plain(value: float | None) -> str:
    return "" if value is None else f"{value:.10g}"


def _cents(value: float | None) -> str:
    return "" if value is None else f"{value:.2f}"
