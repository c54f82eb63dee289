"""What is told of a routing: how good it is proven to be and among what, and what it takes of the pump's head."""

from __future__ import annotations

from geom.units import kpa, l_min, show_number
from geom.words import count_of, join_names
from layouts.clearance import feed_width
from layouts.nets import FEED
from layouts.panel import Panel
from layouts.plan import Routed


def tell_status(panel: Panel, routed: Routed) -> str:
    """Return the status with what it holds among: the layouts on the panel's grid, with the routes that are kept."""
    grid = f"on the {panel.pitch:g} mm grid{_tell_held(panel)}"
    if routed.status.startswith("optimal"):
        return f"{routed.status} among layouts {grid}"
    if routed.status.startswith("within"):
        return f"{routed.status} of the best layout {grid}"
    return f"{routed.status} {grid}"


def tell_proof(panel: Panel, routed: Routed) -> str:
    """Return the status in few words: a proof among layouts that keep routes says so."""
    return f"{routed.status}{_tell_held(panel)}"


def _tell_held(panel: Panel) -> str:
    return f" with {count_of(len(panel.keep_routes), 'route')} kept" if panel.keep_routes else ""


def tell_kept(panel: Panel) -> str:
    """Return which channels' routes the file keeps; empty where it keeps none."""
    names = tuple(f'"{route.channel}"' for route in panel.keep_routes)
    if not names:
        return ""
    return f"route{'s' if len(names) > 1 else ''} kept from the file: {join_names(names)}"


def is_kept(panel: Panel, channel: str) -> bool:
    """Return whether the file keeps a channel's route."""
    return any(route.channel == channel for route in panel.keep_routes)


def tell_cost(panel: Panel, routed: Routed) -> str:
    """Return what the channels take of the head, as the router reckoned it: with their widths before widening."""
    flow = show_number(l_min(routed.design_flow_m3_s), 3)
    before = "as routed, before widening, " if is_widened(panel, routed) else ""
    return (
        f"{before}at the {flow} L/min that they are routed for the channels take "
        f"{show_number(kpa(routed.channels_pa), 3)} kPa of the pump's head, turns at ports and pump left out"
    )


def is_widened(panel: Panel, routed: Routed) -> bool:
    """Return whether a channel is wider than it was routed."""
    return any(
        channel.width > (feed_width(panel) if channel.name == FEED else panel.channel.width_of(channel.name))
        for channel in routed.channels
    )
