"""The report's covers: how each bends, case by case."""

from __future__ import annotations

from typing import Any

import numpy as np

from exports.wording.figures import round_plain
from geom.standards import tables
from geom.units import kpa
from layouts.plan import Plan
from layouts.strength.cover_limits import bow_limits, stress_limits
from layouts.strength.peaks import CordLift, cord_lifts, find_stress
from layouts.strength.results import CoverBending


def cover_section(plan: Plan, bendings: tuple[CoverBending, ...]) -> list[dict[str, Any]]:
    """Return the report's key "cover", ready for JSON.

    Parameters
    ----------
    plan : Plan
    bendings : tuple of CoverBending
        Empty where no cover lies on a cord, or none was calculated.

    Returns
    -------
    list of dict
        One for each cover: its layer, how far it may lift off a cord before it is a caution and a fault, and its
        cases.
    """
    return [_cover(plan, bending) for bending in bendings]


def _cover(plan: Plan, bending: CoverBending) -> dict[str, Any]:
    quarter, most = bow_limits(tables.cord(plan.panel.make.cord))
    return {
        "layer": bending.layer,
        "caution_mm": round_plain(quarter, 4),
        "fault_mm": round_plain(most, 4),
        "cases": [_case(plan, lift) for lift in cord_lifts(plan.sealed, bending)],
    }


def _case(plan: Plan, lift: CordLift) -> dict[str, Any]:
    case = lift.case
    bent = case.bent
    top = int(np.argmax(bent.lift.round(9)))
    stress, stress_at = find_stress(case)
    caution, fault = stress_limits(tables.material(plan.panel.make.cover_row), case)
    return {
        "name": case.name,
        "pressure_kpa": round_plain(kpa(case.pressure_pa), 2),
        "temperature_c": round_plain(case.temperature_c, 1),
        "young_mpa": round_plain(case.young_mpa, 0),
        "bow_mm": round_plain(float(bent.lift[top]), 4),
        "bow_at_mm": [round_plain(float(c), 1) for c in bent.points[top]],
        "at_cord_mm": round_plain(lift.lift, 4),
        "cover_mm": round_plain(lift.cover, 4),
        "body_mm": round_plain(lift.body, 4),
        "cord": lift.loop,
        "cord_at_mm": [round_plain(c, 1) for c in lift.at],
        "stress_mpa": round_plain(stress, 2),
        "caution_mpa": round_plain(caution, 2),
        "allowable_mpa": round_plain(fault, 2),
        "stress_at_mm": [round_plain(c, 1) for c in stress_at],
        "screws_n": [round_plain(pull, 0) for pull in bent.reactions_n],
        "seat_n": round_plain(bent.contact_n, 0),
    }
