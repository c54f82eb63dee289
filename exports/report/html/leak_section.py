"""The page on the leak test: its numbers in few lines; the steps stand on the sheets."""

from __future__ import annotations

from typing import TYPE_CHECKING

from exports.report.html.blocks import Section, said_of, section_of, table_of
from exports.wording.leak_words import list_numbers, show_bar, tell_accepted, tell_shut_tank
from geom.units import mbar, show_number
from layouts.leak_test import plan_leak_test
from layouts.plan import Plan

if TYPE_CHECKING:
    from exports.check_solids import Checked


def leak_section(plan: Plan, checked: Checked | None) -> tuple[Section, ...]:
    """Return the section on the leak test.

    Parameters
    ----------
    plan : Plan
    checked : Checked or None
    """
    test = plan_leak_test(plan, None if checked is None else checked.volumes.wet_plan)
    head = ("", *(one.what for one in test.air))
    rows = [("with air, dry", *head[1:]), *list_numbers(test)] if test.air else []
    drift = (
        f"the gauge falls by {show_number(mbar(test.drift_pa_k), 2)} mbar for each kelvin that the air cools"
    )
    return section_of(
        "leak-test",
        "Leak test",
        table_of(rows, "The panel alone, then the whole loop; step by step on the sheets (sheets.pdf)"),
        said_of(
            (
                drift if test.air else tell_accepted(test),
                f"with water: {show_bar(test.water_pa)}; in use the panel sees up to {show_bar(test.working_pa)}",
                tell_shut_tank(plan),
            )
        ),
    )
