"""What is read off a bent cover: where it lifts most off its cords, and where it is stressed most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geom.outline import Point
from geom.units import kpa
from layouts.plan import Sealed
from layouts.strength.cover import CORD_STEP, cut_pieces
from layouts.strength.results import CoverBending, CoverCase


@dataclass(frozen=True, slots=True)
class CordLift:
    """Where the joint opens most at its cords in one case: how far, [mm], at which cord, where.

    `cover` and `body` are the parts of the lift, [mm].
    """

    case: CoverCase
    lift: float
    loop: str
    at: Point
    cover: float
    body: float


def cord_lifts(sealed: Sealed, bending: CoverBending) -> tuple[CordLift, ...]:
    """Return where cover and body part most at the cords, case by case; 0 where they touch at all of them.

    Parameters
    ----------
    sealed : Sealed
    bending : CoverBending
    """
    loops = sealed.loops_of(bending.layer)
    places = [cut_pieces(loop.path, CORD_STEP)[0] for loop in loops]
    lifts = []
    for case in bending.cases:
        # Lines after the cords' are those of openings.
        parts = list(zip(case.bent.line_lift, case.body.line_lift, strict=False))[: len(loops)]
        gaps = [(cover + body).round(9) for cover, body in parts]
        worst = int(np.argmax([gap.max() for gap in gaps]))
        place = int(np.argmax(gaps[worst]))
        x, y = places[worst][place]
        cover, body = (float(part[place]) for part in parts[worst])
        gap = max(0.0, float(gaps[worst][place]))
        lifts.append(CordLift(case, gap, loops[worst].name, (float(x), float(y)), cover, body))
    return tuple(lifts)


def find_stress(case: CoverCase) -> tuple[float, Point]:
    """Return the greatest stress of a cover, [MPa], and where it is, [mm]."""
    worst = int(np.argmax(case.bent.stress_mpa.round(6)))
    x, y = case.bent.points[worst]
    return float(case.bent.stress_mpa[worst]), (float(x), float(y))


def tell_case(case: CoverCase) -> str:
    """Return a case in words: "in use (40 kPa, 37 °C)"."""
    return tell_load(case.name == "working", case.pressure_pa, case.temperature_c)


def tell_load(lasting: bool, pressure_pa: float, temperature_c: float) -> str:
    """Return a load in words, as `tell_case` does."""
    when = "in use" if lasting else "at the test pressure"
    return f"{when} ({kpa(pressure_pa):.0f} kPa, {temperature_c:.0f} °C)"
