"""What to write into the file so that a pump keeps within the noise, reaches the wanted flow, or both.

Ways between which the maker may choose are set apart by "; or ". Each names every key that must change, so that
it holds when it is followed to the letter.
"""

from __future__ import annotations

import math

from geom.units import l_min, show_number
from layouts.advice import Advised, Pumping, PumpRating
from layouts.cures import Cure, join_cures
from layouts.file_changes import set_key
from layouts.panel import Panel
from layouts.pump_fit import (
    FILE_DIGITS,
    MOST_DIGITS,
    find_least_sound_db,
    find_sound_db,
    lies_within,
    show_apart,
    show_rpm,
)
from layouts.pump_order import find_counted_band, find_counted_flow, is_slowed, judge_fit, list_hard

LEAST_GAIN = 0.02
"""A channel whose widening gains less of the flow is no remedy, [-]."""

STEP_DB = 0.1
"""A noise to be allowed is named in whole steps of this, [dB]."""


def find_used(pumping: Pumping) -> PumpRating:
    """Return the rating of the pump that the panel is made for."""
    return next(rating for rating in pumping.ratings if rating.used)


def write_setting(panel: Panel, rating: PumpRating) -> Cure:
    """Return what to write so that the panel runs with a pump as it was judged, and the flow that it then reaches.

    Parameters
    ----------
    panel : Panel
    rating : PumpRating
        That runs on the loop.

    Returns
    -------
    Cure
        'write use = "small" and run_at = "4100 rpm" in [pump]; there it reaches 3.7 L/min (±8 %)'.
    """
    speed = rating.speed_for_noise_rpm if is_slowed(rating) else None
    flow = show_number(l_min(find_counted_flow(rating)), 2)
    written = _write_pump(panel, rating, speed)
    told = f"{written.text}; there it reaches {flow} L/min {_show_band(rating)}"
    if rating.move is not None:
        told += f" or near it, as it would be placed anew: {rating.move}"
    return Cure(told, written.changes)


def cannot_hold_both(panel: Panel, rating: PumpRating) -> bool:
    """Return whether a pump can be quiet enough, but reaches the wanted flow only at a louder speed."""
    return rating.speed_for_noise_rpm is not None and _is_loud(panel, rating, rating.speed_for_flow_rpm)


def weigh_noise(panel: Panel, pumping: Pumping) -> Cure:
    """Return the compromise of a pump that cannot hold both noise and flow, in numbers, and the ways out.

    Parameters
    ----------
    panel : Panel
        With a wanted flow and an allowed noise.
    pumping : Pumping
        Whose used pump `cannot_hold_both`.

    Returns
    -------
    Cure
        Its changes are those to another pump that holds both; none where the maker has to give way in one or the other.
    """
    used, wanted, most = find_used(pumping), panel.wanted_flow_m3_s, panel.pump.most_noise_db
    speed, quiet, flow = used.speed_for_flow_rpm, used.speed_for_noise_rpm, used.flow_for_noise_m3_s
    assert wanted is not None
    assert most is not None
    assert speed is not None
    assert flow is not None
    louder = _name_level(panel, used, speed)
    reached, asked = show_apart(l_min(flow), l_min(wanted), FILE_DIGITS)
    within = f"within {show_number(most, MOST_DIGITS)} dB it reaches {reached} L/min {_show_band(used)}"
    if lies_within(wanted, flow, find_counted_band(used)):
        within += f", and the wanted {asked} L/min lies within that band"
    lower = f'flow = "{_round_down(l_min(flow))} L/min" in [loop]'
    others = [_write_other(panel, rating) for rating in _list_both(panel, pumping)[:1]]
    ways = (
        *others,
        Cure(f"{_write_pump(panel, used, quiet).text} and {lower}"),
        Cure(_write_pump(panel, used, speed, f"{louder} dB").text),
    )
    return Cure(
        f'"{used.name}" cannot hold both: {within}; at {asked} L/min it makes {louder} dB. '
        f"Choose: {join_cures(ways, '; or ')}",
        next((other.changes for other in others), ()),
    )


def quieten(panel: Panel, pumping: Pumping) -> Cure:
    """Return what would bring the used pump, or another, within the allowed noise.

    Parameters
    ----------
    panel : Panel
        With an allowed noise.
    pumping : Pumping

    Returns
    -------
    Cure
    """
    used, wanted = find_used(pumping), panel.wanted_flow_m3_s
    if cannot_hold_both(panel, used):
        return weigh_noise(panel, pumping)
    others = _list_both(panel, pumping)
    if used.speed_for_noise_rpm is None:
        return _write_other(panel, others[0]) if others else Cure(_tell_quietest(panel, used))
    if used.flow_for_noise_m3_s is None:
        return _write_pump(panel, used, used.speed_for_noise_rpm)
    own = write_setting(panel, used)
    if wanted is None or used.flow_for_noise_m3_s >= wanted:
        return own
    weak = f"{own.text}, and the wanted {show_number(l_min(wanted), FILE_DIGITS)} L/min at no speed"
    stronger = [_write_other(panel, rating) for rating in others[:1]]
    best = next(iter(stronger), own)
    return Cure(join_cures((Cure(weak), *stronger), "; or "), best.changes)


def raise_flow(panel: Panel, advised: Advised, wanted_m3_s: float) -> tuple[Cure, ...]:
    """Return what would bring the wanted flow, the simplest first.

    Parameters
    ----------
    panel : Panel
    advised : Advised
    wanted_m3_s : float
        [m3/s]

    Returns
    -------
    tuple of Cure
        At least one.
    """
    pumping = advised.pumping
    used = find_used(pumping)
    if cannot_hold_both(panel, used):
        return (weigh_noise(panel, pumping),)
    if used.speed_for_flow_rpm is not None:
        speed, asked = used.speed_for_flow_rpm, show_number(l_min(wanted_m3_s), FILE_DIGITS)
        written = _write_pump(panel, used, speed)
        told = f"{written.text}; there it reaches the wanted {asked} L/min"
        loud = _is_loud(panel, used, speed)
        told += f" and makes {_name_level(panel, used, speed)} dB" if loud else ""
        return (Cure(told, written.changes),)
    others = [rating for rating in pumping.ratings if not rating.used and not rating.obstacles]
    ways = [write_setting(panel, rating) for rating in others if rating.shortfall is None][:1]
    if not is_slowed(used):
        ways += [
            Cure(f"use two of the pump in {pair.joined}, {show_number(l_min(pair.flow_m3_s), 2)} L/min")
            for pair in pumping.pairs
            if pair.name == used.name and pair.flow_m3_s >= wanted_m3_s
        ]
    widest = max(advised.sizes, key=lambda size: size.gain, default=None)
    if widest is not None and widest.gain >= LEAST_GAIN:
        ways.append(
            Cure(
                f'make channel "{widest.channel}" as wide as its walls allow, {widest.widest_mm:.3g} mm, for '
                f"{100 * widest.gain:.0f} % more flow"
            )
        )
    if not ways and used.head_margin_m is not None and used.head_margin_m < 0:
        more = show_number(-used.head_margin_m, 2)
        ways.append(Cure(f"use a pump with {more} m more head at the wanted flow"))
    return tuple(ways) or (Cure("use wider channels or parts of less resistance"),)


def is_better_choice(panel: Panel, rating: PumpRating, used: PumpRating) -> bool:
    """Return whether a pump that stands before the used one is worth a change.

    Parameters
    ----------
    panel : Panel
    rating, used : PumpRating

    Returns
    -------
    bool
        False for a pump that cannot be mounted, run or be quiet, and for one that falls short of the wanted flow
        and reaches less than the used one, or no more within the band where it only just fits.
    """
    if list_hard(rating):
        return False
    wanted, flow, has = panel.wanted_flow_m3_s, find_counted_flow(rating), find_counted_flow(used)
    if list_hard(used) or wanted is None:
        return True
    # Of two that are as short, the one whose band just reaches the wanted flow is no better.
    if judge_fit(rating) == "just" and used.obstacles:
        return flow - has > find_counted_band(rating) * flow
    return flow >= min(wanted, has)


def _list_both(panel: Panel, pumping: Pumping) -> list[PumpRating]:
    """Return the other pumps that fit, reach the wanted flow and are known to keep within the allowed noise."""
    return [
        rating
        for rating in pumping.ratings
        if not rating.used
        and not rating.obstacles
        and rating.shortfall is None
        and panel.pump.choice(rating.name).noise_db is not None
    ]


def _is_loud(panel: Panel, rating: PumpRating, speed_rpm: float | None) -> bool:
    """Return whether a pump is known to be louder at a speed than allowed; False without a speed."""
    most = panel.pump.most_noise_db
    if most is None or speed_rpm is None or panel.pump.choice(rating.name).noise_db is None:
        return False
    return _find_level(panel, rating, speed_rpm) > most


def _find_level(panel: Panel, rating: PumpRating, speed_rpm: float) -> float:
    """Return the sound level of a pump whose noise is known, [dB]."""
    level = find_sound_db(panel.pump.choice(rating.name), speed_rpm)
    assert level is not None, "asked only where the file gives the noise"
    return level


def _write_other(panel: Panel, rating: PumpRating) -> Cure:
    """Return what to write for another pump that holds both noise and flow."""
    written = write_setting(panel, rating)
    return Cure(f"{written.text} within the allowed noise", written.changes)


def _write_pump(panel: Panel, rating: PumpRating, speed_rpm: float | None, noise: str | None = None) -> Cure:
    """Return what to write in [pump] to run with a pump at a speed: None for its most."""
    values = {} if rating.used else {"use": rating.name}
    if speed_rpm is not None:
        values["run_at"] = show_rpm(speed_rpm)
    if noise is not None:
        values["most_noise"] = noise
    changes = [set_key(value, "pump", key) for key, value in values.items()]
    keys = " and ".join(f'{key} = "{value}"' for key, value in values.items())
    told = [f"write {keys} in [pump]"] if keys else []
    if speed_rpm is None and panel.pump.run_at_rpm is not None:
        told.append("remove run_at")
        changes.append(set_key(None, "pump", "run_at"))
    return Cure(" and ".join(told), tuple(changes))


def _show_band(rating: PumpRating) -> str:
    """Return the band of the flow that a pump reaches within the noise."""
    return f"(±{100 * find_counted_band(rating):.0f} %)"


def _name_level(panel: Panel, rating: PumpRating, speed_rpm: float) -> str:
    """Return the sound level at a speed, rounded up to what can be written for it to be allowed, [dB].

    So it never reads as the level that it is over.
    """
    level = _find_level(panel, rating, speed_rpm)
    return show_number(math.ceil(level / STEP_DB - 1e-9) * STEP_DB, MOST_DIGITS)


def _round_down(value: float) -> str:
    """Return a number above 0 cut to the digits of a value of the file: what is asked for is then reached."""
    decimals = FILE_DIGITS - 1 - math.floor(math.log10(value))
    return show_number(math.floor(value * 10.0**decimals) / 10.0**decimals, FILE_DIGITS)


def _tell_quietest(panel: Panel, used: PumpRating) -> str:
    """Return how quiet the quietest pump of the file can be, where that is too loud; else that a quieter is needed."""
    levels = [(level, one) for one in panel.pump.choices if (level := find_least_sound_db(one)) is not None]
    level, quietest = min(levels, key=lambda pair: pair[0])
    most, speed = panel.pump.most_noise_db, used.speed_for_flow_rpm
    told = "use a quieter pump, or raise most_noise in [pump]"
    if speed is not None:
        at_flow = _name_level(panel, used, speed)
        told += f': for the wanted flow "{used.name}" makes {at_flow} dB, at {show_rpm(speed)}'
    if most is None or level <= most:
        return told
    heard, allowed = show_apart(level, most, MOST_DIGITS)
    at = "" if quietest.speed is None else f" at its least speed of {show_rpm(quietest.speed[0])}"
    return (
        f"none of the file's pumps whose noise is known can be as quiet as {allowed} dB: the quietest, "
        f'"{quietest.name}", makes {heard} dB{at}; {told}'
    )
