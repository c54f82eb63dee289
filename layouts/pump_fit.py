"""What keeps a pump from fitting a panel: one function for each obstacle, a clause with numbers or None."""

from __future__ import annotations

import math

from geom.frame import SAME_MM
from geom.units import l_min, show_number
from layouts.clearance import feed_width, inlet_section
from layouts.hydraulics.pump_speed import scale_sound_db
from layouts.panel import Panel, PumpChoice

MOST_DIGITS = 6
"""Of a sound level or speed that the file gives: they have one unit, so they are told as they stand there."""
FILE_DIGITS = 3
"""Of another value that the file gives, perhaps in another unit."""


def find_bore_obstacle(panel: Panel) -> str | None:
    """Return why no feed has room that is as large as the pump's inlet bore; None where one has.

    Parameters
    ----------
    panel : Panel
        With this pump's bores.

    Returns
    -------
    str or None
    """
    width, depth = feed_width(panel), panel.channel.depth
    has, needs = width * depth, inlet_section(panel)
    if has >= needs * (1 - SAME_MM):
        return None
    return (
        f"its inlet bore of {panel.pump.inlet_bore:g} mm has {needs:.0f} mm2, there is room for a feed of "
        f"{width:g} x {depth:g} mm, {has:.0f} mm2"
    )


def find_overlap_obstacle(panel: Panel) -> str | None:
    """Return why a pump's bores are no two bores; None where they are.

    Parameters
    ----------
    panel : Panel
        With this pump's bores.

    Returns
    -------
    str or None
    """
    pump = panel.pump
    apart, touching = math.hypot(*pump.outlet_offset), (pump.inlet_bore + pump.outlet_bore) / 2
    if apart >= touching + SAME_MM:
        return None
    return (
        f"its inlet bore of {pump.inlet_bore:g} mm and its outlet bore of {pump.outlet_bore:g} mm overlap, "
        f"{apart:.4g} mm apart"
    )


def find_flow_shortfall(panel: Panel, flow_m3_s: float, band: float, quiet: bool) -> str | None:
    """Return how a pump falls short of the wanted flow; None where it reaches it or none is wanted.

    Parameters
    ----------
    panel : Panel
    flow_m3_s : float
        That it reaches within the allowed noise, [m3/s].
    band : float
        Relative band of that flow, [-].
    quiet : bool
        Whether it is slowed for the noise.

    Returns
    -------
    str or None
    """
    wanted = panel.wanted_flow_m3_s
    if wanted is None or flow_m3_s >= wanted:
        return None
    reached, asked = show_apart(l_min(flow_m3_s), l_min(wanted), FILE_DIGITS)
    flow = f"{reached} L/min (±{100 * band:.0f} %)"
    told = f"it reaches {flow} at its most speed"
    if quiet and panel.pump.most_noise_db is not None:
        told = f"within {show_number(panel.pump.most_noise_db, MOST_DIGITS)} dB it reaches {flow}"
    if lies_within(wanted, flow_m3_s, band):
        return f"{told}, and the wanted {asked} L/min lies within that band"
    return f"{told}, not the wanted {asked} L/min"


def lies_within(wanted_m3_s: float, flow_m3_s: float, band: float) -> bool:
    """Return whether a flow, or the upper end of its relative band [-], is the wanted flow or more, [m3/s]."""
    return wanted_m3_s - flow_m3_s <= band * flow_m3_s


def find_head_obstacle(choice: PumpChoice, available_m: float | None) -> str | None:
    """Return why a pump's inlet is short of head; None where it is not, or where one of the two is not known.

    Parameters
    ----------
    choice : PumpChoice
    available_m : float or None
        Head at its inlet over the coolant's vapour pressure, [m].

    Returns
    -------
    str or None
    """
    least = choice.least_inlet_head_m
    if least is None or available_m is None or available_m >= least:
        return None
    there, asked = show_apart(available_m, least, FILE_DIGITS)
    return f"its inlet asks for {asked} m of head, the feed gives {there} m"


def find_noise_obstacle(panel: Panel, choice: PumpChoice) -> str | None:
    """Return why a pump is too loud even at its least speed; None where it is not, or where that is not known.

    Parameters
    ----------
    panel : Panel
    choice : PumpChoice

    Returns
    -------
    str or None
    """
    most, level = panel.pump.most_noise_db, find_least_sound_db(choice)
    if most is None or level is None or level <= most:
        return None
    where = "its only speed" if choice.speed is None else f"its least speed of {show_rpm(choice.speed[0])}"
    heard, allowed = show_apart(level, most, MOST_DIGITS)
    return f"it makes {heard} dB even at {where}, {allowed} dB are allowed"


def find_sound_db(choice: PumpChoice, speed_rpm: float | None) -> float | None:
    """Return a pump's sound level.

    Parameters
    ----------
    choice : PumpChoice
    speed_rpm : float or None
        Within its range, [rpm]; None for the most.

    Returns
    -------
    float or None
        [dB]; None where the file does not give it.
    """
    if choice.noise_db is None:
        return None
    if choice.speed is None or speed_rpm is None:
        return choice.noise_db
    return scale_sound_db(choice.noise_db, speed_rpm / choice.speed[1])


def find_least_sound_db(choice: PumpChoice) -> float | None:
    """Return a pump's sound level at its least speed, [dB]; None where the file does not give it."""
    return find_sound_db(choice, None if choice.speed is None else choice.speed[0])


def show_rpm(speed_rpm: float) -> str:
    """Return a speed as it can be written into the file: "4375 rpm"."""
    return f"{show_number(speed_rpm, MOST_DIGITS)} rpm"


def show_apart(one: float, other: float, other_digits: int = 2) -> tuple[str, str]:
    """Return two numbers with two digits, and with more where they would read the same.

    Parameters
    ----------
    one, other : float
        In any unit.
    other_digits : int
        Least significant digits of `other`: more where the file gives it.

    Returns
    -------
    tuple of str
    """
    for count in range(2, MOST_DIGITS):
        shown = show_number(one, count), show_number(other, max(count, other_digits))
        if one == other or float(shown[0]) != float(shown[1]):
            return shown
    return show_number(one, MOST_DIGITS), show_number(other, MOST_DIGITS)
