"""Design rules of covers under pressure: what finite elements say of the real cover."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from geom.errors import GeometryError
from geom.findings import Finding
from geom.outline import Point
from geom.standards import tables
from geom.units import kpa, show_number
from layouts.faces import face_z, joint_z
from layouts.plan import Layer, Plan, Sealed
from layouts.rules.findings import make_finding
from layouts.strength.bow_limits import LEAST_LEFT, bow_limits, squeeze_margin
from layouts.strength.cover import CORD_STEP, cut_pieces
from layouts.strength.posts import posts_remedy
from layouts.strength.results import CoverBending, CoverCase

CRAZING = 0.5
"""Share of a plastic's lasting allowable stress that is left near screws, or with a coolant that attacks it: design
stress tables for acrylic sheet."""

THICKNESS_STEP = 0.5
"""Thicknesses that are proposed are whole multiples of it, [mm]."""

BY_THICKNESS, BY_DISTANCE = 1.5, 3.0
"""Powers by which a lift falls with thickness, and grows with the distance of screws: a plate bends by the third and
the fourth, and shears by the first and the second, which counts for half in a cover a fifth as thick as its span."""

BY_TANK = 15.0
"""A place no farther from the tank is stressed by what presses over it, [mm]: the cord's groove and a row of screws."""

OTHER_COVER = "aluminium 6082-T6"
"""The metal that is proposed for a cover of plastic."""


@dataclass(frozen=True, slots=True)
class CordLift:
    """Where a cover lifts most off its cords in one case: how far, [mm], from which cord, where."""

    case: CoverCase
    lift: float
    loop: str
    at: Point


def check_bending(plan: Plan, bendings: tuple[CoverBending, ...]) -> tuple[Finding, ...]:
    """Ask whether the covers stay on their cords (`cover.bow`) and stand their stress (`cover.stress`).

    Parameters
    ----------
    plan : Plan
        Of a panel closed by a cord.
    bendings : tuple of CoverBending
    """
    return tuple(
        finding
        for bending in bendings
        for finding in (*_check_bow(plan, bending), *_check_stress(plan, bending))
    )


def tell_unbent(error: GeometryError) -> Finding:
    """Return the finding of a cover whose bending could not be calculated (`cover.bow`)."""
    return make_finding(
        "cover.bow",
        "caution",
        f"how the cover bows could not be calculated: {error}",
        "judge the cover by the spacing of its screws, or change its screws or thickness a little and make it again",
    )


def cord_lifts(sealed: Sealed, bending: CoverBending) -> tuple[CordLift, ...]:
    """Return where a cover lifts most off its cords, case by case; 0 where it lies on all of them.

    Parameters
    ----------
    sealed : Sealed
    bending : CoverBending
    """
    loops = [loop for loop in sealed.loops if loop.layer == bending.layer]
    places = [cut_pieces(loop.path, CORD_STEP)[0] for loop in loops]
    lifts = []
    for case in bending.cases:
        peaks = [round(float(lift.max()), 9) for lift in case.bent.line_lift]
        worst = int(np.argmax(peaks))
        x, y = places[worst][int(np.argmax(case.bent.line_lift[worst].round(9)))]
        lifts.append(CordLift(case, max(0.0, peaks[worst]), loops[worst].name, (float(x), float(y))))
    return tuple(lifts)


def find_stress(case: CoverCase) -> tuple[float, Point]:
    """Return the greatest stress of a cover, [MPa], and where it is, [mm]."""
    worst = int(np.argmax(case.bent.stress_mpa.round(6)))
    x, y = case.bent.points[worst]
    return float(case.bent.stress_mpa[worst]), (float(x), float(y))


def _check_bow(plan: Plan, bending: CoverBending) -> tuple[Finding, ...]:
    worst = max(cord_lifts(plan.sealed, bending), key=lambda one: one.lift)
    cord = tables.cord(plan.panel.make.cord)
    quarter, most = bow_limits(cord)
    if worst.lift <= quarter:
        return ()
    fault = worst.lift > most
    limit = most if fault else quarter
    margin = squeeze_margin(cord)
    left = 100 * (margin - worst.lift) / (cord.section - cord.tolerance)
    if not fault:
        so = (
            f"more than a quarter of the {margin:.2g} mm by which the cord is squeezed at the worst tolerances "
            f"({limit:.2g} mm)"
        )
    elif left > 0:
        so = (
            f"so that {left:.0f} % of squeeze is left at the worst tolerances, less than the {100 * LEAST_LEFT:g} % "
            "under which a cord weeps"
        )
    else:
        so = "so that it lies loose at the worst tolerances"
    x, y = worst.at
    return (
        make_finding(
            "cover.bow",
            "fault" if fault else "caution",
            f"{tell_case(worst.case)} the {cover_name(bending.layer)} lifts by {show_number(worst.lift, 2)} mm off "
            f"the cord of {worst.loop} at ({x:.0f}, {y:.0f}) mm, {so}",
            _cure_bow(plan, bending.layer, worst, quarter),
            worst.lift,
            limit,
            "mm",
            (x, y, joint_z(plan.panel, bending.layer)),
            (worst.loop,),
        ),
    )


def _cure_bow(plan: Plan, layer: Layer, worst: CordLift, limit: float) -> str:
    """Return what brings a lift under a limit: thickness, a metal, posts, a nearer screw.

    How the lift goes with thickness and distance is between what bending and what shear do (`BY_THICKNESS`,
    `BY_DISTANCE`), with the modulus by its inverse. The placing of screws takes what a stiffer cover allows, so that
    both are about.
    """
    make = plan.panel.make
    thick = round_up(make.cover * (worst.lift / limit) ** (1 / BY_THICKNESS))
    cures = [f"make the cover about {thick:g} mm thick (cover in [make])"]
    other = tables.material(OTHER_COVER).young_at(worst.case.temperature_c, worst.case.name == "working")
    if (
        tables.material(make.cover_row).kind == "plastic"
        and worst.lift * worst.case.young_mpa / other <= limit
    ):
        cures.append(f'make the cover of metal (cover_material = "{OTHER_COVER}")')
    region = next(loop.region for loop in plan.sealed.loops if loop.name == worst.loop)
    if region == "tank":
        cures += _offer_posts(plan)
    screws = plan.sealed.front_screws if layer == "front" else plan.sealed.screws
    near = min(math.dist(worst.at, screw) for screw in screws)
    wanted = near * (limit / worst.lift) ** (1 / BY_DISTANCE)
    cures.append(
        f"leave room for a screw about {wanted:.0f} mm from there (the nearest stands {near:.0f} mm off)"
    )
    return ", or ".join(cures)


def _offer_posts(plan: Plan) -> list[str]:
    """Return the remedy of posts in the tank, where the file does not ask for them and they have room."""
    return (
        ['let posts stand in the tank (posts = "auto" in [tank])']
        if posts_remedy(plan.panel, plan.routed)
        else []
    )


def _check_stress(plan: Plan, bending: CoverBending) -> tuple[Finding, ...]:
    panel = plan.panel
    plastic = tables.material(panel.make.cover_row).kind == "plastic"
    worst: tuple[float, CoverCase, float, Point, float] | None = None
    for case in bending.cases:
        stress, at = find_stress(case)
        share = CRAZING if plastic and case.name == "working" else 1.0
        over = stress / (share * case.allowable_mpa)
        # What is over the allowable itself comes before what is over half of it.
        rank = (stress > case.allowable_mpa, over)
        if over > 1.0 and (worst is None or rank > (worst[2] > worst[1].allowable_mpa, worst[0])):
            worst = (over, case, stress, at, share)
    if worst is None:
        return ()
    _, case, stress, at, share = worst
    fault = stress > case.allowable_mpa
    limit = case.allowable_mpa * (1.0 if fault else share)
    lasts = "for years" if case.name == "working" else "for the time of a test"
    thick = round_up(panel.make.cover * math.sqrt(stress / (share * case.allowable_mpa)))
    cures = [f'set cover = "{thick:g} mm" in [make]']
    box = plan.routed.tank.box
    if box is not None and bending.layer == "back" and shapely.box(*box).dwithin(shapely.Point(at), BY_TANK):
        cures += _offer_posts(plan)
    cures.append("leave room for a screw nearer to that place")
    if case.name == "test":
        cures.append("test at less pressure")
    return (
        make_finding(
            "cover.stress",
            "fault" if fault else "caution",
            f"{tell_case(case)} the {cover_name(bending.layer)} carries {show_number(stress, 2)} MPa at ({at[0]:.0f}, "
            f"{at[1]:.0f}) mm, more than "
            + (
                f"the {limit:.3g} MPa that {panel.make.cover_row} stands {lasts}"
                if fault
                else f"{limit:.3g} MPa, half of what {panel.make.cover_row} stands {lasts}: as much as it stands near "
                "screws and with glycol or alcohol"
            ),
            ", or ".join(cures),
            stress,
            limit,
            "MPa",
            (*at, face_z(panel, bending.layer)),
        ),
    )


def tell_case(case: CoverCase) -> str:
    """Return a case in words: "in use (40 kPa, 37 °C)"."""
    when = "in use" if case.name == "working" else "at the test pressure"
    return f"{when} ({kpa(case.pressure_pa):.0f} kPa, {case.temperature_c:.0f} °C)"


def cover_name(layer: Layer) -> str:
    """Return what a cover is called: "cover", or "front cover"."""
    return "front cover" if layer == "front" else "cover"


def round_up(thickness: float) -> float:
    """Return a thickness rounded up to one that is proposed, [mm]."""
    return THICKNESS_STEP * math.ceil(thickness / THICKNESS_STEP - 1e-9)
