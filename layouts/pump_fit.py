"""What keeps a pump from fitting a panel: one function for each obstacle, a clause with numbers or None."""

from __future__ import annotations

from geom.frame import SAME_MM
from geom.units import l_min, show_number
from layouts.clearance import feed_width, inlet_section
from layouts.hydraulics.pump_speed import scale_sound_db
from layouts.panel import Panel, PumpChoice
from layouts.plan import Routed

MOST_DIGITS = 6
FILE_DIGITS = 3
"""Of a value that the file gives."""


def find_seat_obstacle(panel: Panel, routed: Routed, choice: PumpChoice) -> str | None:
    """Return why a pump's seat has no room, where the pump stands; None where it has.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    choice : PumpChoice

    Returns
    -------
    str or None
    """
    box, name = (0.0, 0.0, panel.width, panel.height), "the panel"
    if panel.pump.within is not None:
        box, name = panel.pump.within, "the box that [pump] within allows"
    seat = choice.seat_diameter
    x0, y0, x1, y1 = box
    room = min(x1 - x0, y1 - y0)
    if seat > room + SAME_MM:
        return f"its seat of {seat:g} mm is larger than {name}, {x1 - x0:g} x {y1 - y0:g} mm"
    x, y = routed.pump.inlet
    past = seat / 2 - min(x - x0, x1 - x, y - y0, y1 - y)
    if past > SAME_MM:
        return f"its seat of {seat:g} mm about ({x:g}, {y:g}) mm reaches {past:.3g} mm out of {name}"
    return None


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


def find_flow_obstacle(panel: Panel, flow_m3_s: float, band: float) -> str | None:
    """Return why a pump does not do at its most speed; None where it reaches the wanted flow or none is wanted.

    Parameters
    ----------
    panel : Panel
    flow_m3_s : float
        That it reaches at its most speed, [m3/s].
    band : float
        Relative band of that flow, [-].

    Returns
    -------
    str or None
    """
    wanted = panel.wanted_flow_m3_s
    if wanted is None or flow_m3_s >= wanted:
        return None
    reached, asked = show_apart(l_min(flow_m3_s), l_min(wanted), FILE_DIGITS)
    return f"it reaches {reached} L/min (±{100 * band:.0f} %) at its most speed, not the wanted {asked} L/min"


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
    most = panel.pump.most_noise_db
    if most is None or choice.noise_db is None:
        return None
    level, where = choice.noise_db, "its only speed"
    if choice.speed is not None:
        level = scale_sound_db(level, choice.speed[0] / choice.speed[1])
        where = f"its least speed of {choice.speed[0]:.0f} rpm"
    if level <= most:
        return None
    heard, allowed = show_apart(level, most, FILE_DIGITS)
    return f"it makes {heard} dB even at {where}, {allowed} dB are allowed"


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
