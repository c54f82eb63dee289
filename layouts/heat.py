"""Heat round the loop in steady state."""

from __future__ import annotations

from layouts.advice import Heating
from layouts.panel import Panel
from layouts.plan import Flowing


def follow_heat(panel: Panel, flowing: Flowing) -> Heating:
    """Return the coolant's temperature before and behind each part."""
    return Heating((), panel.coolant.temperature_c, 0.0, 0.0, None, False, None, "")
