"""Design rule of air that the flow should carry down (`air.carry`)."""

from __future__ import annotations

import math

from geom.findings import Finding, Severity
from geom.units import l_min, ml, show_ml
from layouts.cures import Cure, join_cures
from layouts.feed import find_fill_coolant
from layouts.file.offers import offer_changes
from layouts.file_changes import set_channel_width, set_key
from layouts.filling.carry_tilts import find_rising_tilt
from layouts.filling.carry_width import find_carrying_width
from layouts.filling.fall_pockets import find_head_pocket
from layouts.filling.moving_air import full_speed_rpm
from layouts.filling.tilt_words import say_tilt
from layouts.filling.values import Carry, Filling, Pocket
from layouts.filling.vented_falls import is_vented
from layouts.hydraulics.bubbles import coolant_lock_diameter_m
from layouts.installed import place_at
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.pump_fit import show_apart
from layouts.rules.findings import make_finding
from layouts.rules.pocket_words import list_asked, list_served

FLOW_DIGITS = 2
"""Of flows in remedies; more where two would read alike."""

MOST_TIMES = 3.0
"""More than so many times its flow no pump gives that was chosen for the loop: nine times its head."""


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
            and not is_vented(panel, routed, carry)
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
        pocket = find_head_pocket(panel, filling.left.air, worst)
        cures = _list_cures(panel, routed, filling, worst, pocket)
        found.append(
            make_finding(
                "air.carry",
                _judge(panel, filling, worst),
                _describe(panel, worst, pocket),
                join_cures(cures),
                worst.velocity_m_s,
                worst.surely_m_s,
                "m/s",
                place_at(panel, worst.top, worst.layer),
                (f"channel {channel.name}",),
                offer_changes(panel, *cures),
            )
        )
    return tuple(found)


def _judge(panel: Panel, filling: Filling, carry: Carry) -> Severity:
    """Return how grave a fall is: whether air that stays at its head goes nowhere."""
    stuck = (
        carry.verdict in ("rises back", "locks")
        and find_head_pocket(panel, filling.left.air, carry) is not None
    )
    return "caution" if stuck else "note"


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
        least = coolant_lock_diameter_m(find_fill_coolant(panel)) * 1e3
        tells = f"bubbles lock in bores under {least:.1f} mm and are surely pushed on only from {surely}"
    else:
        tells = f"air goes back up: it is carried along from {low} to {high} m/s, surely from {surely}"
    if pocket is None:
        return f"{runs}; {tells}"
    return (
        f"{runs}; {tells}; {show_ml(ml(pocket.volume_mm3))} mL of air stays at its head when it is filled and "
        f"costs up to {carry.falls:.0f} mm of the pump's head"
    )


def _list_cures(
    panel: Panel, routed: Routed, filling: Filling, carry: Carry, pocket: Pocket | None
) -> list[Cure]:
    cures = []
    if carry.verdict == "carried at full speed":
        most = full_speed_rpm(panel)
        cures.append(Cure("bleed with the pump at full speed" + ("" if most is None else f", {most:g} rpm")))
    if pocket is not None and carry.channel not in list_asked(panel, routed, "bleed"):
        bled = list_served(panel, routed, "bleed", carry.channel)
        listed = ", ".join(f'"{name}"' for name in bled)
        cures.append(
            Cure(
                f"put a bleed port at its head: bleed = [{listed}] in [service]",
                (set_key(list(bled), "service", "bleed"),),
            )
        )
    tilt = find_rising_tilt(panel, routed, carry, filling.tilts)
    if tilt is not None:
        cures.append(Cure(f"{say_tilt(panel, tilt)} while bleeding, so that it rises"))
    narrower = find_carrying_width(panel, routed, carry.channel)
    if narrower is not None:
        width, before, after = narrower
        now, then = show_apart(l_min(before), l_min(after), FLOW_DIGITS)
        own = ", ".join(
            f'"{name}" = "{each:g} mm"'
            for name, each in {**dict(panel.channel.own), carry.channel: width}.items()
        )
        cures.append(
            Cure(
                f"write own = {{ {own} }} into [channel], which takes the loop from {now} to {then} L/min",
                (set_channel_width(carry.channel, width),),
            )
        )
    if not cures:
        times = math.ceil(carry.surely_m_s / carry.velocity_m_s * 10 - 1e-9) / 10
        more = (
            f"let {times:g} times as much coolant run through this leg, with a stronger pump or parts of less "
            "resistance, or let it rise along its flow"
        )
        cures.append(
            Cure(more if times <= MOST_TIMES else "let it rise along its flow: no flow of this pump does it")
        )
    return cures
