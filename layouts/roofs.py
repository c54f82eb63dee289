"""How wide a roof over a channel may be: a printed panel in one piece spans it without support.

It is taken to be printed lying, with flat roofs.
"""

from __future__ import annotations

import math

from layouts.panel import Panel

MOST_BRIDGE = 10.0
"""Widest roof that prints without support, [mm]."""


def find_widest_roof(panel: Panel) -> float:
    """Return how wide a channel's roof may be, [mm]; infinite where its channels are open when they are made.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    float

    Source
    ------
    Printing guides for fused filament: 5 to 25 mm, 10 mm taken.
    """
    closed = panel.make.method == "printed" and panel.make.closing == "one-piece"
    return MOST_BRIDGE if closed else math.inf
