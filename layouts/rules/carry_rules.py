"""Design rule of air that the flow should carry down (`air.carry`)."""

from __future__ import annotations

import math

from geom.errors import LayoutError, OutOfRange
from geom.findings import Finding, Severity
from geom.units import l_min, ml
from layouts.filling.carry_tilts import find_rising_tilt, name_tilt
from layouts.filling.moving_air import find_carries, full_speed_rpm
from layouts.filling.values import Carry, Filling, Pocket
from layouts.flow import size_flow
from layouts.hydraulics.bubbles import coolant_lock_diameter_m
from layouts.installed import place_at, rise_along
from layouts.loop_network import find_coolant
from layouts.panel import Panel
from layouts.plan import Flowing, Routed
from layouts.pump_fit import show_apart
from layouts.rules.findings import make_finding
from layouts.sizes import KEPT_FLOW, STEP_MM, find_least_made
from layouts.widen import set_widths

FLOW_DIGITS = 2
"""Of flows in remedies; more where two would read alike."""


def check_carries(panel: Panel, routed: Routed, filling: Filling) -> tuple[Finding, ...]:
    """Ask whether air is carried down where coolant flows downwards (`air.carry`).

    Parameters
    ----------
    panel : Panel
    routed : Routed
    filling : Filling
    """
    found = []
    for channel in routed.channels:
        falls = [
            carry
            for carry in filling.carries
            if carry.channel == channel.name
            and carry.verdict != "carried"
            and not _is_vented(panel, routed, carry)
        ]
        if not falls:
            continue
        worst = min(
            falls,
            key=lambda carry: (
                _judge(panel, filling, carry) != "caution",
                carry.verdict == "carried at full speed",
                carry.velocity_m_s / carry.surely_m_s,
            ),
        )
        pocket = _find_pocket(panel, filling, worst)
        found.append(
            make_finding(
                "air.carry",
                _judge(panel, filling, worst),
                _describe(panel, worst, pocket),
                _name_remedy(panel, routed, filling, worst, pocket),
                worst.velocity_m_s,
                worst.surely_m_s,
                "m/s",
                place_at(panel, worst.top, worst.layer),
                (f"channel {channel.name}",),
            )
        )
    return tuple(found)


def _judge(panel: Panel, filling: Filling, carry: Carry) -> Severity:
    """Return how grave a fall is: whether air that stays at its head goes nowhere."""
    stuck = carry.verdict in ("rises back", "locks") and _find_pocket(panel, filling, carry) is not None
    return "caution" if stuck else "note"


def _is_vented(panel: Panel, routed: Routed, carry: Carry) -> bool:
    """Return whether a bleed port of the channel stands at a fall's head, or higher."""
    head = rise_along(panel.up, place_at(panel, carry.top, carry.layer))
    low = head - routed.channel(carry.channel).width / 2
    return any(
        port.part == "bleed"
        and port.channel == carry.channel
        and rise_along(panel.up, place_at(panel, port.foot, port.layer)) >= low
        for port in routed.ports
    )


def _find_pocket(panel: Panel, filling: Filling, carry: Carry) -> Pocket | None:
    """Return the pocket of air that a still fill leaves at a fall's head; None where there is none."""
    head = rise_along(panel.up, place_at(panel, carry.top, carry.layer))
    for pocket in filling.left.air:
        high = rise_along(panel.up, pocket.at)
        # Half the bore on top: the head is told at mid-depth, the pocket to its wall.
        if f"channel {carry.channel}" in pocket.features and head >= high - pocket.depth - carry.bore / 2:
            return pocket
    return None


def _describe(panel: Panel, carry: Carry, pocket: Pocket | None) -> str:
    runs = (
        f"in channel {carry.channel} coolant runs {carry.falls:.0f} mm down, at {carry.slope_deg:.0f} degrees, "
        f"at {show_apart(carry.velocity_m_s, carry.surely_m_s, 2)[0]} m/s"
    )
    surely = f"{show_apart(carry.velocity_m_s, carry.surely_m_s, 2)[1]} m/s"
    low, high = (f"{value:.2f}" for value in carry.clears_m_s)
    if carry.verdict == "carried at full speed":
        tells = (
            f"air is surely carried along from {surely}, which it has with the pump at full speed "
            f"({carry.full_velocity_m_s:.2f} m/s)"
        )
    elif carry.verdict == "may be carried":
        tells = (
            f"air may be carried along from {low} m/s ({high} m/s by another formula), surely from {surely}"
        )
    elif carry.verdict == "locks":
        least = coolant_lock_diameter_m(find_coolant(panel)) * 1e3
        tells = f"bubbles lock in bores under {least:.1f} mm and are surely pushed on only from {surely}"
    else:
        tells = f"air goes back up: it is carried along from {low} to {high} m/s, surely from {surely}"
    if pocket is None:
        return f"{runs}; {tells}"
    return (
        f"{runs}; {tells}; {ml(pocket.volume_mm3):.1f} mL stay at its head when it is filled and "
        f"cost up to {carry.falls:.0f} mm of the pump's head"
    )


def _name_remedy(panel: Panel, routed: Routed, filling: Filling, carry: Carry, pocket: Pocket | None) -> str:
    cures = []
    if carry.verdict == "carried at full speed":
        most = full_speed_rpm(panel)
        cures.append("bleed with the pump at full speed" + ("" if most is None else f", {most:g} rpm"))
    if pocket is not None:
        cures.append(f'put a bleed port at its head: bleed = ["{carry.channel}"] in [service]')
    tilt = find_rising_tilt(panel, routed, carry, filling.tilts)
    if tilt is not None:
        cures.append(f"tilt the panel by {name_tilt(tilt)} while bleeding, so that it rises")
    narrower = _find_width(panel, routed, carry.channel)
    if narrower is not None:
        width, before, after = narrower
        now, then = show_apart(l_min(before), l_min(after), FLOW_DIGITS)
        own = ", ".join(
            f'"{name}" = "{each:g} mm"'
            for name, each in {**dict(panel.channel.own), carry.channel: width}.items()
        )
        cures.append(
            f"write own = {{ {own} }} into [channel], which takes the loop from {now} to {then} L/min"
        )
    if not cures:
        times = math.ceil(carry.surely_m_s / carry.velocity_m_s * 10 - 1e-9) / 10
        cures.append(
            f"let {times:g} times as much coolant run through this leg, with a stronger pump or parts of less "
            "resistance, or let it rise along its flow"
        )
    return ", or ".join(cures)


def _find_width(panel: Panel, routed: Routed, name: str) -> tuple[float, float, float] | None:
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
