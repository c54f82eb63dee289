"""Design rules of filling, growth and draining.

Heights are along the panel's `up`.
"""

from __future__ import annotations

import math

from geom.findings import Finding, KeyChange
from geom.frame import SAME_MM, Vec
from layouts.advice import Feeding
from layouts.basin import find_surface
from layouts.feed import FILL_C, HOSES, find_fill_port, hot_c, outside_volume_ml, pocket_basin
from layouts.file.offers import keep_readable
from layouts.file_changes import UPRIGHT, set_key, write_length
from layouts.installed import TURN_UPRIGHT, lies_flat, outlet_stands_high, place_at, rise_along
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.rules.findings import make_finding

LEAST_LEVEL = 50
"""A remedy asks for no lower filling level than this, [%]."""

MOST_LEVEL = 85
"""A remedy asks for no higher one, [%]: the usual level."""


TO_FILL = 'give [tank] a fill port, best: fill = { on = "top" }'
"""What a pocket without one needs."""

FILL_ON_TOP = 'put the fill port on the top edge: fill = { on = "top" }'
"""What one needs whose fill port lies too low."""


def fill_on_top(panel: Panel) -> tuple[KeyChange, ...]:
    """Return the changes that put a pocket's fill port anywhere over it on the top edge, its thread kept."""
    fill = panel.tank.fill
    thread = {} if fill is None else {"thread": fill.thread}
    return (set_key({"on": "top", **thread}, "tank", "fill"),)


def check_fill(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the tank can be filled to its level from above (`tank.fill`)."""
    if routed.tank.box is None:
        return ()
    fill = find_fill_port(panel, routed)
    if fill is None:
        return (
            make_finding(
                "tank.fill",
                "caution",
                "the tank has no fill port",
                TO_FILL,
                at_mm=_middle_of_tank(panel, routed),
                features=("tank",),
                changes=keep_readable(panel, *fill_on_top(panel)),
            ),
        )
    basin = pocket_basin(panel, routed)
    if basin is None:
        return ()
    level = find_surface(basin, panel.up, panel.tank.level * basin.volume)
    mouth = rise_along(panel.up, fill.at)
    if mouth >= level - SAME_MM:
        return ()
    turned = outlet_stands_high(panel, routed)
    if fill.on == "top" or lies_flat(panel):
        remedy = TURN_UPRIGHT if turned else f"{TURN_UPRIGHT}, or lower level in [tank]"
        changes = UPRIGHT
    else:
        remedy = f"{TURN_UPRIGHT}, then {FILL_ON_TOP}" if turned else FILL_ON_TOP
        changes = (*UPRIGHT, *fill_on_top(panel)) if turned else fill_on_top(panel)
    return (
        make_finding(
            "tank.fill",
            "caution",
            f"the mouth of the fill port lies {level - mouth:.3g} mm under the tank's filling level",
            remedy,
            mouth - level,
            0.0,
            "mm",
            fill.at,
            (fill.name, "tank"),
            keep_readable(panel, *changes),
        ),
    )


def check_growth(panel: Panel, routed: Routed, feeding: Feeding) -> tuple[Finding, ...]:
    """Ask whether the tank has room for the coolant's growth over its cold level (`tank.room`)."""
    growth, room = feeding.growth_ml, feeding.room_ml
    if growth is None or room is None or room >= growth:
        return ()
    whole = feeding.tank_ml + room
    share = growth / (feeding.tank_ml + feeding.loop_ml)
    most = min(MOST_LEVEL, math.floor(100 * (whole - share * feeding.loop_ml) / (whole * (1 + share))))
    larger = "make the tank larger"
    more = " at least, for not every volume is given" if feeding.unknown_parts else ""
    level = (set_key(f"{most} %", "tank", "level"),) if most > LEAST_LEVEL else ()
    return (
        make_finding(
            "tank.room",
            "caution",
            f"filled to {100 * panel.tank.level:.3g} %, the tank has {max(room, 0.0):.2g} mL of room; the coolant "
            f"grows by {growth:.2g} mL from {FILL_C:g} to {hot_c(panel):.3g} °C{more}",
            f'set level = "{most} %" or less in [tank], or {larger}' if most > LEAST_LEVEL else larger,
            room,
            growth,
            "mL",
            _middle_of_tank(panel, routed),
            ("tank",),
            keep_readable(panel, *level),
        ),
    )


def note_volume(panel: Panel, routed: Routed, feeding: Feeding) -> tuple[Finding, ...]:
    """Say how much coolant the loop takes (`fill.volume`); in which steps, `feed.first` says."""
    if feeding.tank_ml <= 0:
        return ()
    whole = feeding.tank_ml + feeding.loop_ml
    known = outside_volume_ml(panel)
    outside = f", parts and hoses {known:.0f} mL" if known > 0 else ""
    unknown = ""
    if feeding.unknown_parts:
        *names, last = (name if name == HOSES else f'"{name}"' for name in feeding.unknown_parts)
        unknown = f"; what {', '.join(names)}{' and ' if names else ''}{last} hold comes on top"
    return (
        make_finding(
            "fill.volume",
            "note",
            f"the tank holds {feeding.tank_ml:.0f} mL at its filling level, the channels with the bores into them "
            f"{feeding.loop_ml - known:.0f} mL{outside}{unknown}",
            f"have {whole:.0f} mL of coolant ready"
            + (", and besides it what the others hold" if unknown else ""),
            whole,
            None,
            "mL",
            _middle_of_tank(panel, routed),
            ("tank",),
        ),
    )


def check_drain(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether there is a drain (`drain.low`); what stays with it is told by `drain.left`."""
    if any(port.role == "drain" for port in routed.ports):
        return ()
    return (
        make_finding(
            "drain.low",
            "caution",
            "the panel has no drain, so it can be emptied only through an opened part",
            "add a [drain] port at the panel's lowest edge",
            changes=keep_readable(panel, *_drain_low(panel)),
        ),
    )


def _drain_low(panel: Panel) -> tuple[KeyChange, ...]:
    """Return the changes that let a drain stand anywhere along the edge that is lowest as installed."""
    if lies_flat(panel):
        return ()
    x, y, _ = panel.up
    upright = abs(y) >= abs(x)
    edge = ("bottom" if y > 0 else "top") if upright else ("left" if x > 0 else "right")
    span = [write_length(0.0), write_length(panel.width if upright else panel.height)]
    return (set_key({"on": edge, "between": span}, "drain", "port"),)


def _middle_of_tank(panel: Panel, routed: Routed) -> Vec | None:
    """Return the middle of a pocket tank, [mm]; None for a separate one."""
    if routed.tank.box is None:
        return None
    x0, y0, x1, y1 = routed.tank.box
    return place_at(panel, ((x0 + x1) / 2, (y0 + y1) / 2))
