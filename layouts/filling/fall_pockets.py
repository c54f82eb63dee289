"""Pockets of air at the heads of falls: whether flowing coolant carries them out."""

from __future__ import annotations

from collections.abc import Sequence

from layouts.filling.values import Carry, Pocket
from layouts.installed import place_at, rise_along
from layouts.panel import Panel


def find_head_pocket(panel: Panel, pockets: Sequence[Pocket], carry: Carry) -> Pocket | None:
    """Return the pocket of air that a still fill leaves at a fall's head; None where there is none.

    Parameters
    ----------
    panel : Panel
    pockets : sequence of Pocket
        Of air, the largest first.
    carry : Carry
    """
    head = rise_along(panel.up, place_at(panel, carry.top, carry.layer))
    for pocket in pockets:
        high = rise_along(panel.up, pocket.at)
        # Half the bore on both sides: the head is told at mid-depth, the pocket to its wall.
        reaches = high - pocket.depth - carry.bore / 2 <= head <= high + carry.bore / 2
        if reaches and f"channel {carry.channel}" in pocket.features:
            return pocket
    return None


def is_carried_out(carries: Sequence[Carry], pocket: Pocket, channels: Sequence[str]) -> bool:
    """Return whether coolant surely carries a pocket of air out of the panel.

    Parameters
    ----------
    carries : sequence of Carry
    pocket : Pocket
        Without any way out it would have to go down a hose that falls, whose bore and flow are not known: not surely.
    channels : sequence of str
        Those that hold it.
    """
    if pocket.way_out is None:
        return False
    falls = [carry for carry in carries if carry.channel in channels]
    return bool(falls) and all(carry.verdict == "carried" for carry in falls)
