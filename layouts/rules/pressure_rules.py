"""Design rule of the test pressure: no less than what the panel sees in use."""

from __future__ import annotations

import math

from geom.findings import Finding
from geom.units import kpa
from layouts.file.offers import keep_readable
from layouts.file_changes import set_key
from layouts.panel import Panel
from layouts.rules.findings import make_finding
from layouts.strength.working_pressure import find_working_pressure

STEP_PA = 1e3
"""A remedy names whole hundredths of a bar, [Pa]."""


def check_test_pressure(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether the panel is tested at no less than it sees in use (`test.low`).

    Parameters
    ----------
    panel : Panel
    """
    test, use = panel.rules.test_pressure_pa, find_working_pressure(panel).pressure_pa
    if test >= use:
        return ()
    least = math.ceil(use / STEP_PA) * STEP_PA / 1e5
    return (
        make_finding(
            "test.low",
            "caution",
            f"the test pressure of {kpa(test):.3g} kPa is under the {kpa(use):.3g} kPa that the panel sees in use when "
            "nothing flows: what holds the test may burst in use",
            f'write test_pressure = "{least:.2f} bar" or more in [rules]',
            kpa(test),
            kpa(use),
            "kPa",
            changes=keep_readable(panel, set_key(f"{least:.2f} bar", "rules", "test_pressure")),
        ),
    )
