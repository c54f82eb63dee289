"""A panel without a layout, for the local page: what stands where as far as that is known, and nothing of routes."""

from __future__ import annotations

from typing import Any

from exports.page.documents.plan_document import plan_document
from layouts.panel import Panel
from layouts.plan import Flowing, Routed

STILL = Flowing((), (), 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
"""Nothing flows."""


def loose_document(panel: Panel, loose: Routed) -> dict[str, Any]:
    """Return a panel without routes as the page draws it.

    Parameters
    ----------
    panel : Panel
    loose : Routed
        As `layouts.replan.loose_places` gives it.

    Returns
    -------
    dict
        A `PlanDoc` without channels, ready for JSON.
    """
    return plan_document(panel, loose, STILL, None)
