"""What is told of the leak test: its numbers, how a reading is corrected, what a tight plug in the tank would do."""

from __future__ import annotations

import math
from collections.abc import Callable

from geom.units import GRAVITY_M_S2, bar, mbar, show_ml, show_number
from geom.words import join_names
from layouts.closed_tank import shut_tank
from layouts.leak_test import AirTest, LeakTest
from layouts.plan import Plan


def show_bar(pressure_pa: float) -> str:
    """Return a pressure as "0.5 bar"."""
    return f"{show_number(bar(pressure_pa), 2)} bar"


def show_allowed(test: AirTest) -> str:
    """Return what the reading may fall, as "14 mbar"."""
    return f"{mbar(test.allowed_pa):.0f} mbar"


def tell_correction(test: LeakTest) -> str:
    """Return how a fall of the gauge is corrected, in one formula."""
    factor = show_number(mbar(test.drift_pa_k), 2)
    return (
        f"(gauge at start - gauge at end) - {factor} x (°C at start - °C at end) - (barometer at end - barometer at "
        "start)"
    )


def tell_accepted(test: LeakTest) -> str:
    """Return that nothing tells that a panel holds, where the file accepts checks of strength."""
    return (
        f"the file accepts {join_names(test.accepted)}: nothing says that this panel holds more pressure than it sees "
        "in use, or even that; test it with water alone, never with air, and stay out of the way of what may burst"
    )


def list_numbers(test: LeakTest) -> tuple[tuple[str, ...], ...]:
    """Return the rows of the tests with air: what it is, then the panel alone and the whole loop.

    Parameters
    ----------
    test : LeakTest
        With tests with air.
    """
    least = ["" if not one.unknown else "at least " for one in test.air]

    def both(what: str, tell: Callable[[AirTest], str]) -> tuple[str, ...]:
        return (what, *(f"{at}{tell(one)}" for at, one in zip(least, test.air, strict=True)))

    return (
        ("test pressure, over the room's", *(show_bar(test.pressure_pa) for _ in test.air)),
        both("air shut in", lambda one: f"{show_ml(one.volume_ml)} mL"),
        both("energy in it, if it bursts out", lambda one: f"{show_number(one.energy_j, 2)} J"),
        both("as a 1 kg weight that falls", _fall),
        (f"hold, after {test.settle_min} min of settling", *(f"{one.hold_min} min" for one in test.air)),
        ("leaks if it falls, corrected, by more than", *(show_allowed(one) for one in test.air)),
        ("that tells a leak of air from", *(_unless_unknown(one, _tell_told(one)) for one in test.air)),
        ("which in use is coolant, an hour", *(_unless_unknown(one, _drops(one)) for one in test.air)),
    )


def _unless_unknown(one: AirTest, told: str) -> str:
    """Return what is told of the least leak: with more air than is known it is larger, by how much nobody knows."""
    return "not known" if one.unknown else told


def _tell_told(one: AirTest) -> str:
    return f"{show_number(one.told_ml_min, 2)} mL/min"


def _fall(one: AirTest) -> str:
    height = one.energy_j / GRAVITY_M_S2
    return f"{show_number(height, 2)} m"


def _drops(one: AirTest) -> str:
    return f"{show_number(one.drops_h, 1)} to {show_number(one.most_drops_h, 1)} drops"


def tell_shut_tank(plan: Plan) -> str:
    """Return what a tight plug in the tank would do, without a full stop; empty where its volume is not known.

    Parameters
    ----------
    plan : Plan
    """
    shut = shut_tank(plan)
    if shut is None:
        return ""
    least = "at least " if shut.least else ""
    told = [
        f"at {show_number(celsius, 3)} °C "
        + (
            f"{least}{show_rounded_up(bar(pressure))} bar"
            if math.isfinite(pressure)
            else "there is no room left for it, and it bursts what gives first"
        )
        for celsius, pressure in shut.at
    ]
    return (
        f"what a tight plug or cap would do: the cushion of {least}{show_ml(shut.air_ml)} mL of air over the cold "
        f"coolant would come under pressure as the coolant warms and grows; {join_names(told)} over the room's, "
        "rounded up, walls taken as rigid; no check of this panel's strength counts on that"
    )


def show_rounded_up(value: float) -> str:
    """Return a positive number rounded up to one digit, from 1 on to two."""
    digits = (0 if value < 1.0 else 1) - math.floor(math.log10(value))
    return show_number(math.ceil(value * 10**digits - 1e-9) / 10**digits, 2)
