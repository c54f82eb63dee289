"""Design rule of the channels' widths."""

from __future__ import annotations

import math

from geom.findings import Finding
from geom.frame import SAME_MM
from geom.units import show_number
from layouts.advice import ChannelSize
from layouts.cures import Cure
from layouts.file.offers import offer_changes
from layouts.file_changes import set_length
from layouts.installed import place_at
from layouts.legs import list_pieces
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.rules.findings import make_finding
from layouts.sizes import STEP_MM

WORTH_GAIN = 0.02
"""Growth of the loop's flow for which widening is worth the cutting, [-]; common practice, no source."""

WORTH_MM = 1.0
"""A channel that lacks less of its recommended width is let pass, [mm]: a millimetre brings next to nothing."""


def check_narrow(panel: Panel, routed: Routed, sizes: tuple[ChannelSize, ...]) -> tuple[Finding, ...]:
    """Ask whether every channel is as wide as its flow asks for (`channel.narrow`)."""
    narrow = [size for size in sizes if _lacks(size) > WORTH_MM - SAME_MM or _is_too_narrow(size)]
    worth = [size for size in sizes if size.gain >= WORTH_GAIN and size not in narrow]
    named = narrow + worth
    if not named:
        return ()
    too_narrow = [size for size in narrow if _is_too_narrow(size)]
    first = max(too_narrow or named, key=lambda size: (_lacks(size), size.gain))
    layer, points = list_pieces(routed.channel(first.channel).legs[0])[0]
    asked = first.recommended_mm if first in narrow else first.widest_mm
    cure = _cure_narrow(panel, named)
    return (
        make_finding(
            "channel.narrow",
            "caution" if too_narrow else "note",
            "; ".join(_describe(size) for size in named),
            cure.text,
            first.width_mm,
            asked,
            "mm",
            place_at(panel, points[len(points) // 2], layer),
            tuple(f"channel {size.channel}" for size in named),
            offer_changes(panel, cure),
        ),
    )


def _is_too_narrow(size: ChannelSize) -> bool:
    return size.least_mm is None or size.width_mm < size.least_mm - SAME_MM


def _lacks(size: ChannelSize) -> float:
    """Return how much wider a channel ought to be, [mm]; infinite where no width is enough."""
    return math.inf if size.recommended_mm is None else size.recommended_mm - size.width_mm


def _describe(size: ChannelSize) -> str:
    """Return what one channel is and ought to be, and what its walls allow."""
    is_wide = f"channel {size.channel} is {_mm(size.width_mm)} wide"
    if size.least_mm is None:
        needs = ", and no width is enough for its flow"
    elif size.recommended_mm is None:
        needs = f", needs {_mm(size.least_mm)}, and no width is enough for the speed and flow recommended"
    elif _is_too_narrow(size):
        needs = f", needs {_mm(size.least_mm)}, better {_mm(size.recommended_mm)}"
    elif _lacks(size) > SAME_MM:
        needs = f", better {_mm(size.recommended_mm)}"
    else:
        needs = ""
    if size.widest_mm <= size.width_mm + SAME_MM:
        return f"{is_wide}{needs} (its walls allow no more)"
    return f"{is_wide}{needs} (its walls allow {_mm(size.widest_mm)}, for {100 * size.gain:.1f} % more flow)"


def _cure_narrow(panel: Panel, named: list[ChannelSize]) -> Cure:
    aims = [size.widest_mm if _lacks(size) <= SAME_MM else size.recommended_mm for size in named]
    reached = [
        aim
        for size, aim in zip(named, aims, strict=True)
        if aim is not None and (size.widest_mm >= aim - SAME_MM or size.gain >= WORTH_GAIN)
    ]
    otherwise = "make the channels deeper, or leave more room beside them"
    if not reached or (panel.channel.widen_to or 0.0) >= max(reached) - SAME_MM:
        return Cure(otherwise)
    width = math.ceil(max(reached) / STEP_MM - 1e-9) * STEP_MM
    return Cure(
        f'write widen_to = "{_mm(width)}" into [channel], or {otherwise}',
        (set_length(width, "channel", "widen_to"),),
    )


def _mm(length: float) -> str:
    return f"{show_number(length, 3)} mm"
