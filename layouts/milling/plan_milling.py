"""How a milled panel is cut: its set-ups, the cutters for each pocket, the cutter list with its time."""

from __future__ import annotations

from geom.features import Detail
from layouts.milling.work import Milled
from layouts.panel import Panel


def plan_milling(panel: Panel, detail: Detail) -> Milled | None:
    """Return how a milled panel is cut; None for a printed one.

    Parameters
    ----------
    panel : Panel
    detail : Detail

    Returns
    -------
    Milled or None
    """
    if panel.make.method != "milled":
        return None
    return Milled(())
