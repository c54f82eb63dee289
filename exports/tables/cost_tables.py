"""The cost sheet for the terminal and as cost.csv."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from exports.tables.text_tables import LINE, NAME, align_rows
from exports.wording.figures import shorten_text, wrap_words
from layouts.cost.quantities import cost_sheet
from layouts.cost.sheet import CostItem, CostSheet, Unit
from layouts.plan import Plan

if TYPE_CHECKING:
    from exports.pipeline import Checked

COLUMNS = ("item", "what", "quantity", "unit", "each", "sum")
"""Of cost.csv, in this order."""

DIGITS: dict[Unit, int] = {"kg": 3, "cm3": 1, "cm2": 1, "m": 2, "pcs": 0, "L": 2, "h": 2}


def make_sheet(plan: Plan, checked: Checked | None) -> CostSheet:
    """Return the cost sheet of a run, by the solids' volumes where there are solids.

    Parameters
    ----------
    plan : Plan
    checked : Checked or None
    """
    measured = () if checked is None else checked.volumes.parts
    return cost_sheet(plan, {part.name: part.solid for part in measured})


def describe_cost(sheet: CostSheet) -> str:
    """Return a cost sheet as a table, with what it stands on and what has no price."""
    priced = bool(sheet.currency)
    rows: list[tuple[str, ...]] = [("cost sheet", "", "quantity", *(("each", "sum") if priced else ()))]
    for item in sheet.items:
        row = (item.item, shorten_text(item.what, NAME), f"{show_quantity(item)} {item.unit}")
        rows.append((*row, _money(item.each), _money(item.sum)) if priced else row)
    lines = align_rows(rows, left=2)
    if sheet.total is not None:
        lines.append(f"sum {sheet.total:.2f} {sheet.currency}")
    if sheet.unpriced:
        lines += wrap_words(f"not priced: {', '.join(dict.fromkeys(sheet.unpriced))}", LINE)
    return "\n".join(lines)


def cost_csv(sheet: CostSheet) -> str:
    """Return a cost sheet as CSV: a row for each item; where there are prices, the sum and what has none last."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(COLUMNS)
    for item in sheet.items:
        rows.writerow(
            (item.item, item.what, show_quantity(item), item.unit, _plain(item.each), _cents(item.sum))
        )
    if sheet.total is not None:
        rows.writerow(("sum", "all that is priced", "", sheet.currency, "", _cents(sheet.total)))
    if sheet.unpriced:
        rows.writerow(("not priced", "; ".join(dict.fromkeys(sheet.unpriced)), "", "", "", ""))
    return out.getvalue()


def show_quantity(item: CostItem) -> str:
    """Return an item's quantity with the digits of its unit: 0.842 for kg, 62 for pieces."""
    return f"{item.quantity:.{DIGITS[item.unit]}f}"


def _money(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"


def _plain(value: float | None) -> str:
    return "" if value is None else f"{value:.10g}"


def _cents(value: float | None) -> str:
    return "" if value is None else f"{value:.2f}"
