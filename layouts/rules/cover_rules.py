"""Design rules of covers under pressure: what finite elements say of the real cover."""

from __future__ import annotations

import math

import shapely

from geom.errors import GeometryError
from geom.findings import Finding
from geom.outline import Point
from geom.standards import tables
from geom.units import show_number
from layouts.closing.spacing import LEAST_DIAMETERS, METAL_COVER, THICKEST, limit_spacing, round_up
from layouts.cures import Cure, join_cures
from layouts.faces import cover_name, face_z, joint_z
from layouts.file.offers import offer_changes
from layouts.file_changes import set_key, set_length
from layouts.panel import Make
from layouts.plan import Layer, Plan
from layouts.rules.findings import make_finding
from layouts.strength.cover_limits import CRAZING, LEAST_LEFT, bow_limits, squeeze_margin
from layouts.strength.peaks import CordLift, cord_lifts, find_stress, tell_case
from layouts.strength.posts import cure_by_posts
from layouts.strength.results import CoverBending, CoverCase
from layouts.strength.working_pressure import hottest_coolant_c

BY_THICKNESS, BY_DISTANCE = 1.5, 3.0
"""Powers by which a lift falls with thickness, and grows with the distance of screws: a plate bends by the third and
the fourth, and shears by the first and the second, which counts for half in a cover a fifth as thick as its span."""

BODY_COUNTS = 0.05
"""Share of a lift from which the body's part of it is told."""

BY_TANK = 15.0
"""A place no farther from the tank is stressed by what presses over it, [mm]: the cord's groove and a row of screws."""


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


def tell_unbent(error: GeometryError, layer: Layer = "back") -> Finding:
    """Return the finding of a cover whose bending could not be calculated (`cover.bow`)."""
    return make_finding(
        "cover.bow",
        "caution",
        f"how the {cover_name(layer)} bows could not be calculated: {error}",
        "judge the cover by the spacing of its screws, or change its screws or thickness a little and make it again",
    )


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
    bodys = worst.body > BODY_COUNTS * worst.lift
    part = f", {show_number(worst.body, 2)} mm of it by the body's bow" if bodys else ""
    cures = _cure_bow(plan, bending.layer, worst, quarter)
    return (
        make_finding(
            "cover.bow",
            "fault" if fault else "caution",
            f"{tell_case(worst.case)} the {cover_name(bending.layer)} lifts by {show_number(worst.lift, 2)} mm off "
            f"the cord of {worst.loop} at ({x:.0f}, {y:.0f}) mm{part}, {so}",
            join_cures(cures),
            worst.lift,
            limit,
            "mm",
            (x, y, joint_z(plan.panel, bending.layer)),
            (worst.loop,),
            offer_changes(plan.panel, *cures),
        ),
    )


def _cure_bow(plan: Plan, layer: Layer, worst: CordLift, limit: float) -> list[Cure]:
    """Return what brings a lift under a limit: thickness or a metal for cover or body, posts, a nearer screw.

    How the lift goes with thickness and distance is between what bending and what shear do (`BY_THICKNESS`,
    `BY_DISTANCE`), with the modulus by its inverse. The placing of screws takes what a stiffer cover allows, so that
    both are about.
    """
    make = plan.panel.make
    cures = _thicken(make, worst, limit)
    lasting = worst.case.name == "working"
    metal, body = (
        tables.material(row).young_at(worst.case.temperature_c, lasting)
        for row in (METAL_COVER, make.material)
    )
    if (
        tables.material(make.cover_row).kind == "plastic"
        and worst.cover * worst.case.young_mpa / metal + worst.body <= limit
    ):
        cures.append(
            Cure(
                f'make the cover of metal (cover_material = "{METAL_COVER}")',
                (set_key(METAL_COVER, "make", "cover_material"),),
            )
        )
    if tables.material(make.material).kind == "plastic" and worst.cover + worst.body * body / metal <= limit:
        cures.append(
            Cure(
                f'make the body of metal (material = "{METAL_COVER}")',
                (set_key(METAL_COVER, "make", "material"),),
            )
        )
    region = next(loop.region for loop in plan.sealed.loops if loop.name == worst.loop)
    if region == "tank":
        cures += _offer_posts(plan)
    near = min(math.dist(worst.at, screw) for screw in plan.sealed.screws_of(layer))
    closer = (limit / worst.lift) ** (1 / BY_DISTANCE)
    cures.append(
        Cure(
            f"leave room for a screw about {closer * near:.0f} mm from there (the nearest stands {near:.0f} mm off)"
        )
    )
    spacing = math.floor(closer * limit_spacing(plan.panel, layer)[0])
    if spacing >= LEAST_DIAMETERS * tables.screw(make.screw).diameter:
        cures.append(
            Cure(
                f'set screw_spacing = "{spacing} mm" in [make]',
                (set_length(spacing, "make", "screw_spacing"),),
            )
        )
    return cures


def _thicken(make: Make, worst: CordLift, limit: float) -> list[Cure]:
    """Return how thick cover or body must be about; both, where neither is enough alone."""
    cures = []
    for name, thickness, own, other in (
        ("cover", make.cover, worst.cover, worst.body),
        ("body", make.body, worst.body, worst.cover),
    ):
        # What hardly lifts is not what is too thin.
        if own > BODY_COUNTS * worst.lift and other < limit:
            thick = round_up(thickness * (own / (limit - other)) ** (1 / BY_THICKNESS))
            if thick <= THICKEST:
                cures.append(
                    Cure(
                        f"make the {name} about {thick:g} mm thick ({name} in [make])",
                        (set_length(thick, "make", name),),
                    )
                )
    if not cures:
        more = (worst.lift / limit) ** (1 / BY_THICKNESS)
        cover, body = round_up(make.cover * more), round_up(make.body * more)
        cures.append(
            Cure(
                f"make the cover about {cover:g} mm thick and the body {body:g} mm (both in [make])",
                (set_length(cover, "make", "cover"), set_length(body, "make", "body")),
            )
        )
    return cures


def _offer_posts(plan: Plan) -> list[Cure]:
    """Return the remedy of posts in the tank, where the file does not ask for them and they do something."""
    posts = cure_by_posts(plan.panel, plan.routed, hottest_coolant_c(plan.panel, plan.advised.heating))
    return [] if posts is None else [posts]


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
    # A thicker cover is otherwise given fewer screws, and carries as much again.
    spacing = math.floor(limit_spacing(panel, bending.layer)[0])
    cures = [
        Cure(
            f'set cover = "{thick:g} mm" and screw_spacing = "{spacing} mm" in [make]',
            (set_length(thick, "make", "cover"), set_length(spacing, "make", "screw_spacing")),
        )
    ]
    box = plan.routed.tank.box
    if box is not None and bending.layer == "back" and shapely.box(*box).dwithin(shapely.Point(at), BY_TANK):
        cures += _offer_posts(plan)
    cures.append(Cure("leave room for a screw nearer to that place, or set a smaller screw_spacing"))
    if case.name == "test":
        cures.append(Cure("test at less pressure"))
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
                f"screws{_tell_attack(panel.make.cover_row)}"
            ),
            join_cures(cures),
            stress,
            limit,
            "MPa",
            (*at, face_z(panel, bending.layer)),
            changes=offer_changes(panel, *cures),
        ),
    )


def _tell_attack(name: str) -> str:
    """Return which coolants take as much off a material's strength as screws do, in words; empty where none."""
    attacks = [one for one in ("glycol", "alcohol") if one in tables.material(name).attacked_by]
    return f" and with {' or '.join(attacks)}" if attacks else ""
