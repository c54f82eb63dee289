"""Falls whose air rises to a bleed port by itself."""

from __future__ import annotations

import math

from geom.frame import SAME_MM, Vec
from layouts.filling.moving_air import trace_leg
from layouts.filling.values import Carry
from layouts.installed import place_at, rise_along
from layouts.panel import Panel
from layouts.plan import Routed


def is_vented(panel: Panel, routed: Routed, carry: Carry) -> bool:
    """Return whether air rises from a fall's head to a bleed port of its channel.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    carry : Carry
        Of this layout.

    Returns
    -------
    bool
        No valley of the channel on the way is deeper than half its width, which air in its upper half passes.
    """
    channel = routed.channel(carry.channel)
    bleeds = tuple(
        place_at(panel, port.foot, port.layer)
        for port in routed.ports
        if port.role == "bleed" and port.channel == channel.name
    )
    if not bleeds:
        return False
    pieces = [
        (piece.start, piece.end) for leg in channel.legs for piece in trace_leg(panel, leg, forward=True)
    ]
    feet = [_cut(pieces, bleed) for bleed in bleeds]
    head = place_at(panel, carry.top, carry.layer)
    low = rise_along(panel.up, head) - channel.width / 2
    reached, waiting = [head], [head]
    while waiting:
        here = waiting.pop()
        for one, other in pieces:
            for start, end in ((one, other), (other, one)):
                if (
                    _is_same(here, start)
                    and rise_along(panel.up, end) >= low
                    and not any(_is_same(end, place) for place in reached)
                ):
                    reached.append(end)
                    waiting.append(end)
    return any(_is_same(foot, place) for foot in feet for place in reached)


def _cut(pieces: list[tuple[Vec, Vec]], at: Vec) -> Vec:
    """Cut the piece that lies nearest to a port's foot, which stands anywhere on it, and return where it is cut."""
    _, number = min((math.dist(_nearest(piece, at), at), k) for k, piece in enumerate(pieces))
    start, end = pieces[number]
    foot = _nearest((start, end), at)
    pieces[number : number + 1] = [(start, foot), (foot, end)]
    return foot


def _nearest(piece: tuple[Vec, Vec], at: Vec) -> Vec:
    """Return the place of a straight piece that lies nearest to another place."""
    start, end = piece
    length2 = math.dist(start, end) ** 2
    if length2 == 0.0:
        return start
    along = math.fsum((b - a) * (p - a) for a, b, p in zip(start, end, at, strict=True)) / length2
    share = max(0.0, min(1.0, along))
    x, y, z = (a + share * (b - a) for a, b in zip(start, end, strict=True))
    return (x, y, z)


def _is_same(one: Vec, other: Vec) -> bool:
    return math.dist(one, other) <= SAME_MM
