"""Panels by hand with fewer screws than they need, or with a narrow place."""

from __future__ import annotations

from dataclasses import replace

from layouts.clearance import clearances_of
from layouts.closing.screw_room import find_room
from layouts.closing.screws import measure_coverage
from layouts.panel import Panel
from layouts.plan import Layer, Routed, Sealed


def keep_screws(panel: Panel, routed: Routed, sealed: Sealed, count: int, layer: Layer = "back") -> Sealed:
    """Return a closing with the first screws of a cover only, and how well these hold its cords."""
    loops = tuple(loop for loop in sealed.loops if loop.layer == layer)
    screws = (sealed.front_screws if layer == "front" else sealed.screws)[:count]
    room = find_room(panel, routed, loops, clearances_of(panel), layer)
    coverage = measure_coverage(panel, loops, room, layer, screws, count)
    others = tuple(one for one in sealed.coverage if one.layer != layer)
    if layer == "front":
        return replace(sealed, front_screws=screws, coverage=(*others, coverage))
    return replace(sealed, screws=screws, coverage=(coverage, *others))
