"""The width at which a channel's coolant is so fast that it carries its air down."""

from __future__ import annotations

import math

from geom.errors import LayoutError, OutOfRange
from layouts.filling.moving_air import find_carries
from layouts.flow import size_flow
from layouts.panel import Panel
from layouts.plan import Flowing, Routed
from layouts.sizes import KEPT_FLOW, STEP_MM, find_least_made
from layouts.widen import set_widths


def find_carrying_width(panel: Panel, routed: Routed, name: str) -> tuple[float, float, float] | None:
    """Return the widest width at which a channel surely carries all its air, and the loop's flow now and then.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    name : str
        Of the channel.

    Returns
    -------
    (float, float, float) or None
        [mm], [m3/s], [m3/s]. None where no width does that can be made, keeps to the file's speed and flow, and is not
        widened again by the file.
    """
    if panel.channel.widen_to is not None:
        return None
    try:
        now = size_flow(panel, routed)
        widths = {channel.name: channel.width for channel in routed.channels}
        steps = math.ceil(widths[name] / STEP_MM - 1e-9) - 1
        while steps * STEP_MM >= find_least_made(panel):
            width = steps * STEP_MM
            narrower = set_widths(panel, routed, {**widths, name: width})
            then = size_flow(panel, narrower)
            if not _is_fit(panel, now, then, name):
                return None
            if all(
                carry.verdict == "carried"
                for carry in find_carries(panel, narrower, then)
                if carry.channel == name
            ):
                return width, now.flow_m3_s, then.flow_m3_s
            steps -= 1
    except (LayoutError, OutOfRange):
        return None
    return None


def _is_fit(panel: Panel, now: Flowing, then: Flowing, name: str) -> bool:
    """Return whether a narrower channel keeps to the file's speed and flow; where that is missed, to most of now's."""
    velocity = next(flow.velocity_m_s for flow in then.channels if flow.channel == name)
    wanted = panel.wanted_flow_m3_s
    kept = KEPT_FLOW * now.flow_m3_s if wanted is None or wanted > now.flow_m3_s else wanted
    return velocity <= panel.rules.most_velocity_m_s and then.flow_m3_s >= kept
