"""Design rules of the pump: which one, whether it fits, its noise, the flow wanted, the end of its curve."""

from __future__ import annotations

import math

from geom.findings import Finding
from geom.units import l_min, show_number
from layouts.advice import Advised, Pumping, PumpRating
from layouts.hydraulics.pump_speed import scale_sound_db
from layouts.installed import place_at
from layouts.panel import Panel, PumpChoice
from layouts.plan import Flowing, Routed
from layouts.pump_fit import FILE_DIGITS, find_seat_obstacle, show_apart
from layouts.pump_order import explain_order, find_counted_flow
from layouts.rule_catalogue import make_finding

STEP_RPM = 10
"""A remedy names a speed in whole steps of this, [rpm]."""

LEAST_GAIN = 0.02
"""A channel whose widening gains less of the flow is no remedy, [-]."""


def check_choice(panel: Panel, pumping: Pumping) -> tuple[Finding, ...]:
    """Ask whether another pump of the file would be better (`pump.choice`)."""
    best, used = pumping.ratings[0], _find_used(pumping)
    if best is used:
        return ()
    found = make_finding(
        "pump.choice",
        "note",
        f'the panel is made for "{used.name}"; "{best.name}" would be the better pump: '
        f"{explain_order(best, used, panel.wanted_flow_m3_s)}",
        f'write use = "{best.name}" in [pump] and run again',
        l_min(find_counted_flow(used)),
        l_min(find_counted_flow(best)),
        "L/min",
        features=("pump",),
    )
    return (found,)


def check_fit(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the used pump has room for its seat (`pump.fit`)."""
    choice = panel.pump.choice(panel.pump.used)
    seat = find_seat_obstacle(panel, routed, choice)
    if seat is None:
        return ()
    return (
        make_finding(
            "pump.fit",
            "fault",
            f'"{choice.name}" does not fit: {seat}',
            "give it more room with within in [pump], or use a pump with a smaller seat",
            at_mm=place_at(panel, routed.pump.inlet),
            features=("pump",),
        ),
    )


def check_noise(panel: Panel, pumping: Pumping) -> tuple[Finding, ...]:
    """Ask whether the used pump, at the speed at which it runs, keeps within the allowed noise (`pump.noise`)."""
    choice, used = panel.pump.choice(panel.pump.used), _find_used(pumping)
    most = panel.pump.most_noise_db
    level = _find_sound(panel, choice)
    if most is None or level is None or level <= most:
        return ()
    shown, allowed = show_apart(level, most, FILE_DIGITS)
    speed = f" at {panel.pump.run_at_rpm:.0f} rpm" if panel.pump.run_at_rpm is not None else ""
    return (
        make_finding(
            "pump.noise",
            "caution",
            f'"{choice.name}" makes {shown} dB{speed}, {allowed} dB are allowed',
            _quieten(panel, used),
            level,
            most,
            "dB",
            features=("pump",),
        ),
    )


def check_flow(panel: Panel, flowing: Flowing, advised: Advised) -> tuple[Finding, ...]:
    """Ask whether the loop reaches the wanted flow (`pump.flow`)."""
    wanted, flow = panel.wanted_flow_m3_s, flowing.flow_m3_s
    if wanted is None or flow >= wanted:
        return ()
    reached, asked = show_apart(l_min(flow), l_min(wanted), FILE_DIGITS)
    return (
        make_finding(
            "pump.flow",
            "caution",
            f"the loop reaches {reached} L/min (±{100 * flowing.band:.0f} %), not the wanted {asked} L/min",
            _help_flow(panel, advised, wanted),
            l_min(flow),
            l_min(wanted),
            "L/min",
            features=("pump",),
        ),
    )


def check_beyond(panel: Panel, flowing: Flowing) -> tuple[Finding, ...]:
    """Ask whether the pump works within its curve (`flow.beyond`)."""
    flow, last = l_min(flowing.flow_m3_s), l_min(panel.pump.curve[-1][0])
    if flow <= last:
        return ()
    return (
        make_finding(
            "flow.beyond",
            "caution",
            f"the loop lets {show_number(flow, 3)} L/min through, more than the {show_number(last, 3)} L/min "
            "where the pump's curve ends",
            "give more points of the pump's curve, or use a smaller pump",
            flow,
            last,
            "L/min",
            None,
            ("pump",),
        ),
    )


def _find_used(pumping: Pumping) -> PumpRating:
    return next(rating for rating in pumping.ratings if rating.used)


def _find_sound(panel: Panel, choice: PumpChoice) -> float | None:
    """Return the pump's sound level at the speed at which it runs, [dB]; None where the file does not say."""
    if choice.noise_db is None:
        return None
    if choice.speed is None or panel.pump.run_at_rpm is None:
        return choice.noise_db
    return scale_sound_db(choice.noise_db, panel.pump.run_at_rpm / choice.speed[1])


def _quieten(panel: Panel, used: PumpRating) -> str:
    speed, flow = used.speed_for_noise_rpm, used.flow_for_noise_m3_s
    if speed is None or flow is None:
        return "use a quieter pump, or raise most_noise in [pump]"
    rpm = math.floor(speed / STEP_RPM) * STEP_RPM
    told = f'write run_at = "{rpm} rpm" in [pump]; there it reaches'
    wanted = panel.wanted_flow_m3_s
    if wanted is None or flow >= wanted:
        return f"{told} {show_number(l_min(flow), 2)} L/min"
    reached, asked = show_apart(l_min(flow), l_min(wanted), FILE_DIGITS)
    return f"{told} {reached} L/min, under the wanted {asked} L/min: use a quieter pump for both"


def _help_flow(panel: Panel, advised: Advised, wanted_m3_s: float) -> str:
    """Return what would bring the wanted flow, the simplest first."""
    pumping = advised.pumping
    used = _find_used(pumping)
    if panel.pump.run_at_rpm is not None and used.speed_for_flow_rpm is not None:
        rpm = math.ceil(used.speed_for_flow_rpm / STEP_RPM) * STEP_RPM
        told = f'write run_at = "{rpm} rpm" in [pump]'
        quiet = used.speed_for_noise_rpm
        return told if quiet is None or rpm <= quiet else f"{told}, which is louder than most_noise allows"
    others = [rating for rating in pumping.ratings if not rating.used and rating.flow_m3_s >= wanted_m3_s]
    ways = [f'use = "{rating.name}" in [pump]' for rating in others[:1]]
    ways += [
        f"two of the pump in {pair.joined}, {show_number(l_min(pair.flow_m3_s), 2)} L/min"
        for pair in pumping.pairs
        if pair.name == used.name and pair.flow_m3_s >= wanted_m3_s
    ]
    widest = max(advised.sizes, key=lambda size: size.gain, default=None)
    if widest is not None and widest.gain >= LEAST_GAIN:
        ways.append(
            f'channel "{widest.channel}" as wide as its walls allow, {widest.widest_mm:.3g} mm, for '
            f"{100 * widest.gain:.0f} % more flow"
        )
    if not ways and used.head_margin_m is not None:
        ways.append(f"a pump with {show_number(-used.head_margin_m, 2)} m more head at the wanted flow")
    return f"choose: {'; '.join(ways)}" if ways else "use wider channels or parts of less resistance"
