"""The leak test in the report: pressures, volumes, times and limits, as the sheets tell them."""

from __future__ import annotations

import math
from typing import Any

from exports.wording.figures import round_plain
from geom.units import bar, mbar
from layouts.closed_tank import shut_tank
from layouts.leak_test import AirTest, gauge_scale_bar, plan_leak_test
from layouts.plan import Plan


def leak_test_section(plan: Plan, wet_mm3: float | None = None) -> dict[str, Any]:
    """Return how a panel is tested for leaks, ready for JSON.

    `air` is empty where the file accepts checks of strength (`accepted`). `shut_tank` tells what a tight plug in the
    tank would do: at which temperatures, and under which pressure, None where there is no room left.

    Parameters
    ----------
    plan : Plan
    wet_mm3 : float, optional
        Measured volume of all that is wet in the panel, [mm3].
    """
    test, shut = plan_leak_test(plan, wet_mm3), shut_tank(plan)
    return {
        "air_bar": round_plain(bar(test.pressure_pa), 3) if test.air else None,
        "water_bar": round_plain(bar(test.water_pa), 3),
        "working_bar": round_plain(bar(test.working_pa), 3),
        "water_gauge_bar": gauge_scale_bar(test.water_pa),
        "accepted": list(test.accepted),
        "gauge_port": test.gauge_port,
        "test_plugs": [port.name for port in test.plugged],
        "water_ml": round_plain(test.water_ml, 1),
        "air": [_air(one) for one in test.air],
        "drift_mbar_k": round_plain(mbar(test.drift_pa_k), 3),
        "barometer_mbar_h": round_plain(mbar(test.barometer_pa_h), 2),
        "settle_min": test.settle_min,
        "lies_h": test.lies_h,
        "locked_bar_k": round_plain(bar(test.locked_pa_k), 1),
        "water_locked_bar_k": round_plain(bar(test.water_locked_pa_k), 1),
        "shut_tank": None
        if shut is None
        else {
            "air_ml": round_plain(shut.air_ml, 1),
            "at_least": shut.least,
            "at": [
                {
                    "temperature_c": round_plain(celsius, 1),
                    "gauge_bar": round_plain(bar(pressure), 2) if math.isfinite(pressure) else None,
                }
                for celsius, pressure in shut.at
            ],
        },
    }


def _air(one: AirTest) -> dict[str, Any]:
    return {
        "what": one.what,
        "air_ml": round_plain(one.volume_ml, 1),
        "unknown": list(one.unknown),
        "energy_j": round_plain(one.energy_j, 3),
        "hold_min": one.hold_min,
        "allowed_mbar": round_plain(mbar(one.allowed_pa), 2),
        "told_ml_min": round_plain(one.told_ml_min, 4),
    }
