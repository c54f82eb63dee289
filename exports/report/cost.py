"""The cost sheet in the report."""

from __future__ import annotations

from typing import Any

from layouts.cost.sheet import CostSheet


def cost_section(sheet: CostSheet) -> dict[str, Any]:
    """Return a cost sheet, ready for JSON; `sum` and `total` are None without prices.

    Parameters
    ----------
    sheet : CostSheet
    """
    return {
        "currency": sheet.currency or None,
        "items": [
            {
                "item": item.item,
                "what": item.what,
                "quantity": item.shown,
                "unit": item.unit,
                "bought": item.bought,
                "each": item.each,
                "sum": item.sum,
            }
            for item in sheet.items
        ],
        "total": sheet.total,
        "not_priced": list(dict.fromkeys(sheet.unpriced)),
        "assumptions": list(sheet.assumptions),
    }
