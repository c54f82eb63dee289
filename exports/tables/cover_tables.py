"""How covers bow, in plain text: a row for each case, and what the pressure in use is made of."""

from __future__ import annotations

import numpy as np

from exports.tables.text_tables import LINE, align_rows
from exports.wording.figures import wrap_words
from geom.standards import tables
from geom.units import kpa, show_number
from layouts.faces import cover_name
from layouts.plan import Plan
from layouts.strength.cover_limits import bow_limits, stress_limits
from layouts.strength.peaks import cord_lifts, find_stress
from layouts.strength.results import CoverBending
from layouts.strength.working_pressure import find_working_pressure

LEFT_COLUMNS = (0, 1, 2)
"""Of the table: those that hold words."""

CASES = {"working": "in use", "test": "test"}


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
    rows = align_rows(bending_rows(plan, bendings), left=len(LEFT_COLUMNS))
    return "\n".join((*rows, *wrap_words(tell_cases(plan, bendings), LINE)))


def tell_cases(plan: Plan, bendings: tuple[CoverBending, ...]) -> str:
    """Return how far a joint may open, the moduli, and what the pressure in use is made of.

    Parameters
    ----------
    plan : Plan
    bendings : tuple of CoverBending
        At least one.
    """
    working = find_working_pressure(plan.panel)
    limits = bow_limits(tables.cord(plan.panel.make.cord))
    moduli = dict.fromkeys(
        f"{case.young_mpa:.0f} MPa ({CASES[case.name]})" for bending in bendings for case in bending.cases
    )
    return (
        f"opening of the joint at a cord: {tell_limits(*limits, 'mm')}; modulus {' and '.join(moduli)}; "
        f"in use it stands the pump's {show_number(working.head_m, 2)} m of head without flow and "
        f"{show_number(working.height_m, 2)} m of coolant, at {working.density_kg_m3:.0f} kg/m3"
    )


def bending_rows(plan: Plan, bendings: tuple[CoverBending, ...]) -> list[tuple[str, ...]]:
    """Return the rows of that table, its headings first.

    Parameters
    ----------
    plan : Plan
    bendings : tuple of CoverBending
    """
    rows: list[tuple[str, ...]] = [
        (
            "cover",
            "case",
            "cord",
            "pressure",
            "at",
            "cover lifts",
            "joint opens",
            "stress",
            "caution",
            "fault",
        )
    ]
    cover = tables.material(plan.panel.make.cover_row)
    for bending in bendings:
        for lift in cord_lifts(plan.sealed, bending):
            case = lift.case
            most = float(np.max(case.bent.lift))
            caution, fault = stress_limits(cover, case)
            rows.append(
                (
                    cover_name(bending.layer),
                    CASES[case.name],
                    lift.loop,
                    f"{kpa(case.pressure_pa):.0f} kPa",
                    f"{case.temperature_c:.0f} °C",
                    show_lift(most),
                    show_lift(lift.lift),
                    f"{show_number(find_stress(case)[0], 2)} MPa",
                    "-" if caution == fault else f"{show_number(caution, 3)} MPa",
                    f"{show_number(fault, 3)} MPa",
                )
            )
    return rows


def show_lift(lift: float) -> str:
    """Return a lift as "0.031 mm": two digits, no finer than a ten-thousandth."""
    return f"{show_number(round(lift, 4), 2)} mm"


def tell_limits(caution: float, fault: float, unit: str) -> str:
    """Return from which value on there is a caution, and from which on a fault."""
    if caution == fault:
        return f"fault over {show_number(fault, 3)} {unit}"
    return f"caution over {show_number(caution, 3)} {unit}, fault over {show_number(fault, 3)} {unit}"
