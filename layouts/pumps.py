"""The pumps of the file on this loop: which one, at which speed, and two of one kind."""

from __future__ import annotations

from layouts.advice import Pumping
from layouts.panel import Panel
from layouts.plan import Flowing, Routed


def rate_pumps(panel: Panel, routed: Routed, flowing: Flowing) -> Pumping:
    """Return the pumps of the file, the best first."""
    return Pumping((), (), "")
