"""Design rules of the pump: which one, whether it fits, its noise, the flow wanted, the end of its curve."""

from __future__ import annotations

import math

from geom.findings import Finding
from geom.frame import SAME_MM
from geom.units import l_min, show_number
from layouts.advice import Advised, Pumping
from layouts.cures import join_cures
from layouts.faces import face_z
from layouts.file.offers import offer_changes
from layouts.installed import place_at
from layouts.nets import PUMP_OUTLET
from layouts.panel import Panel
from layouts.plan import Flowing, Routed
from layouts.pump_fit import FILE_DIGITS, MOST_DIGITS, find_sound_db, show_apart, show_rpm
from layouts.pump_order import explain_order, find_counted_flow
from layouts.pump_place import find_seat_trouble
from layouts.pump_remedies import (
    cannot_hold_both,
    find_used,
    is_better_choice,
    quieten,
    raise_flow,
    write_setting,
)
from layouts.rules.findings import make_finding

MOST_BORE_RATIO = 4.0
"""Section of the pump's outlet bore over the channel's from which the bore is remarked on, [-].

There the sudden contraction costs three quarters of the most that one can cost, so a larger bore gains nothing;
common practice, no source.
"""


def check_choice(panel: Panel, pumping: Pumping) -> tuple[Finding, ...]:
    """Ask whether another pump of the file would be better (`pump.choice`)."""
    if not pumping.ratings:
        return ()
    used = find_used(pumping)
    before = pumping.ratings[: pumping.ratings.index(used)]
    better = next((rating for rating in before if is_better_choice(panel, rating, used)), None)
    if better is None:
        return ()
    cure = write_setting(panel, better)
    found = make_finding(
        "pump.choice",
        "note",
        f'the panel is made for "{used.name}"; "{better.name}" would be the better pump: '
        f"{explain_order(better, used, panel.wanted_flow_m3_s)}",
        cure.text,
        l_min(find_counted_flow(used)),
        l_min(find_counted_flow(better)),
        "L/min",
        features=("pump",),
        changes=offer_changes(panel, cure),
    )
    return (found,)


def check_fit(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the used pump has room for its seat (`pump.fit`)."""
    choice = panel.pump.choice(panel.pump.used)
    seat = find_seat_trouble(panel, routed.pump.inlet, choice.seat_diameter)
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


def check_bore(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the pump's outlet bore suits the channel behind it (`pump.bore`).

    The feed is never narrower than the inlet bore.
    """
    channel = next(channel for channel in routed.channels if PUMP_OUTLET in channel.ends)
    bore, has = panel.pump.outlet_bore, channel.width * channel.depth
    ratio = math.pi / 4 * bore**2 / has
    if ratio <= MOST_BORE_RATIO:
        return ()
    fits = math.sqrt(MOST_BORE_RATIO * has * 4 / math.pi)
    return (
        make_finding(
            "pump.bore",
            "note",
            f"the pump's outlet bore of {bore:g} mm has {show_number(ratio, 2)} times the section of channel "
            f"{channel.name} behind it, {channel.width:g} x {channel.depth:g} mm",
            f"check outlet_bore, write it no larger than the pump's own outlet, best up to {math.floor(fits):d} mm, "
            "or make the channel wider",
            ratio,
            MOST_BORE_RATIO,
            "",
            place_at(panel, routed.pump.outlet, routed.pump.outlet_layer),
            ("pump outlet bore", f"channel {channel.name}"),
        ),
    )


def check_seat(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the pump's outlet bore keeps off the rim of its seat (`pump.seat`).

    A bore wholly inside the seat, or wholly outside it, does.
    """
    pump = panel.pump
    apart, seat, bore = math.hypot(*pump.outlet_offset), pump.seat_diameter / 2, pump.outlet_bore / 2
    if seat <= 0 or apart + bore <= seat + SAME_MM or apart - bore >= seat - SAME_MM:
        return ()
    cures = []
    if apart > bore + pump.inlet_bore / 2 and seat - bore > bore + pump.inlet_bore / 2:
        cures.append(f"an outlet_offset of {_round_down(seat - bore):g} mm at most")
    if apart < seat - SAME_MM:
        cures.append(f"an outlet_bore of {_round_down(2 * (seat - apart)):g} mm at most")
    cures.append(f"a seat of more than {2 * (apart + bore):.4g} mm diameter")
    return (
        make_finding(
            "pump.seat",
            "caution",
            f"the pump's outlet bore of {pump.outlet_bore:g} mm, {apart:.4g} mm from the inlet, reaches "
            f"{apart + bore:.4g} mm out and cuts the rim of the seat at {seat:.4g} mm",
            "compare outlet_offset, outlet_bore and seat in [pump] with the pump's own drawing; to keep the seal whole "
            f"it takes {', or '.join(cures)}",
            apart + bore,
            seat,
            "mm",
            (*routed.pump.outlet, face_z(panel, pump.on)),
            ("pump outlet bore", "pump seat"),
        ),
    )


def _round_down(length: float) -> float:
    """Return a length down to a tenth, [mm]."""
    return math.floor(length * 10 + SAME_MM) / 10


def needs_ratings(panel: Panel, flowing: Flowing) -> bool:
    """Return whether the remedies of noise or flow ask for rated pumps: without, nothing is found of either."""
    most, wanted = panel.pump.most_noise_db, panel.wanted_flow_m3_s
    level = find_sound_db(panel.pump.choice(panel.pump.used), panel.pump.run_at_rpm)
    loud = most is not None and level is not None and level > most
    return loud or (wanted is not None and flowing.flow_m3_s < wanted)


def check_noise(panel: Panel, flowing: Flowing, pumping: Pumping) -> tuple[Finding, ...]:
    """Ask whether the used pump, at the speed at which it runs, keeps within the allowed noise (`pump.noise`)."""
    choice, most = panel.pump.choice(panel.pump.used), panel.pump.most_noise_db
    if most is None:
        return ()
    level = find_sound_db(choice, panel.pump.run_at_rpm)
    if level is None:
        return (
            make_finding(
                "pump.noise",
                "note",
                f'the noise of "{choice.name}" is not in the file, so nothing was checked against the '
                f"{show_number(most, MOST_DIGITS)} dB that are allowed",
                "write noise beside its curve, at its most speed",
                features=("pump",),
            ),
        )
    if level <= most:
        return ()
    shown, allowed = show_apart(level, most, MOST_DIGITS)
    speed = f" at {show_rpm(panel.pump.run_at_rpm)}" if panel.pump.run_at_rpm is not None else ""
    short = panel.wanted_flow_m3_s is not None and flowing.flow_m3_s < panel.wanted_flow_m3_s
    told = short and cannot_hold_both(panel, find_used(pumping))
    cure = quieten(panel, pumping)
    return (
        make_finding(
            "pump.noise",
            "caution",
            f'"{choice.name}" makes {shown} dB{speed}, {allowed} dB are allowed',
            "follow pump.flow: the two cannot both be held with this pump" if told else cure.text,
            level,
            most,
            "dB",
            features=("pump",),
            changes=offer_changes(panel, cure),
        ),
    )


def check_flow(panel: Panel, flowing: Flowing, advised: Advised) -> tuple[Finding, ...]:
    """Ask whether the loop reaches the wanted flow (`pump.flow`)."""
    wanted, flow = panel.wanted_flow_m3_s, flowing.flow_m3_s
    if wanted is None or flow >= wanted:
        return ()
    reached, asked = show_apart(l_min(flow), l_min(wanted), FILE_DIGITS)
    cures = raise_flow(panel, advised, wanted)
    return (
        make_finding(
            "pump.flow",
            "caution",
            f"the loop reaches {reached} L/min (±{100 * flowing.band:.0f} %), not the wanted {asked} L/min",
            join_cures(cures, "; or "),
            l_min(flow),
            l_min(wanted),
            "L/min",
            features=("pump",),
            changes=offer_changes(panel, *cures),
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
