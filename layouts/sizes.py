"""What width each channel needs, and what widening it would gain."""

from __future__ import annotations

from layouts.advice import ChannelSize
from layouts.panel import Panel
from layouts.plan import Flowing, Routed


def size_channels(panel: Panel, routed: Routed, flowing: Flowing) -> tuple[ChannelSize, ...]:
    """Return the size of each channel that carries flow."""
    return ()
