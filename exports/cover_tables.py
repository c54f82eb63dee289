"""How covers bow, in plain text: a row for each case, and what the pressure in use is made of."""

from __future__ import annotations

import numpy as np

from exports.figures import wrap_words
from exports.text_tables import LINE, align_rows
from geom.standards import tables
from geom.units import kpa, show_number
from layouts.plan import Plan
from layouts.rules.cover_rules import cord_lifts, cover_name, find_stress
from layouts.strength.bow_limits import bow_limits
from layouts.strength.results import CoverBending
from layouts.strength.working_pressure import find_working_pressure

LEFT_COLUMNS = (0, 1, 2)
"""Of the table: those that hold words."""


def describe_bending(plan: Plan, bendings: tuple[CoverBending, ...]) -> str:
    """Return the table of how a panel's covers bow, and the pressure in use.

    Parameters
    ----------
    plan : Plan
    bendings : tuple of CoverBending
        At least one.

    Returns
    -------
    str
    """
    working = find_working_pressure(plan.panel)
    limit = bow_limits(tables.cord(plan.panel.make.cord))[0]
    said = (
        f"off a cord a cover may lift by {show_number(limit, 2)} mm; in use it stands the pump's "
        f"{show_number(working.head_m, 2)} m of head without flow and {show_number(working.height_m, 2)} m of coolant, "
        f"at {working.density_kg_m3:.0f} kg/m3"
    )
    return "\n".join(
        (*align_rows(bending_rows(plan, bendings), left=len(LEFT_COLUMNS)), *wrap_words(said, LINE))
    )


def bending_rows(plan: Plan, bendings: tuple[CoverBending, ...]) -> list[tuple[str, ...]]:
    """Return the rows of that table, its headings first.

    Parameters
    ----------
    plan : Plan
    bendings : tuple of CoverBending
    """
    rows: list[tuple[str, ...]] = [
        ("cover", "case", "cord", "pressure", "at", "modulus", "lifts", "at the cord", "stress", "allowed")
    ]
    for bending in bendings:
        for lift in cord_lifts(plan.sealed, bending):
            case = lift.case
            most = float(np.max(case.bent.lift))
            rows.append(
                (
                    cover_name(bending.layer),
                    "in use" if case.name == "working" else "test",
                    lift.loop,
                    f"{kpa(case.pressure_pa):.0f} kPa",
                    f"{case.temperature_c:.0f} °C",
                    f"{case.young_mpa:.0f} MPa",
                    show_lift(most),
                    show_lift(lift.lift),
                    f"{show_number(find_stress(case)[0], 2)} MPa",
                    f"{show_number(case.allowable_mpa, 3)} MPa",
                )
            )
    return rows


def show_lift(lift: float) -> str:
    """Return a lift as "0.031 mm": two digits, no finer than a ten-thousandth."""
    return f"{show_number(round(lift, 4), 2)} mm"
