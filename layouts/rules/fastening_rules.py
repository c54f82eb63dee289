"""Design rules of the cover screws: thread, head, length, torque; inserts have rules of their own."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from geom.features import Detail
from geom.findings import Finding, KeyChange, Severity
from geom.frame import SAME_MM
from geom.standards import tables
from geom.units import parse_quantity, show_number
from geom.words import tell_torque
from layouts.advice import Advised
from layouts.cures import Cure, join_cures
from layouts.faces import joint_z
from layouts.file.offers import keep_readable, offer_changes
from layouts.file_changes import set_key, set_length, thicken_sheet
from layouts.panel import Panel
from layouts.plan import Routed, Sealed
from layouts.rules.findings import make_finding
from layouts.strength.fastening import FRICTION, fasten_covers, head_holds, holding
from layouts.strength.results import Fastening
from layouts.strength.screw_hole import LARGE_WASHER, ScrewFit, find_insert, fit_screw
from layouts.strength.threads import insert_holds
from layouts.strength.tightening_order import HOW
from layouts.strength.working_pressure import hottest_coolant_c

Place = tuple[float, float, float]

MORE_SCREWS = "leave room for another screw beside that one, or test at less pressure"
MORE_AT_POST = "make the tank smaller, so that less of its cover hangs on that post, or test at less pressure"
"""What is left to do where a screw is loaded too much, after closer screws and more posts were tried."""


def check_fastening(
    panel: Panel, routed: Routed, sealed: Sealed, detail: Detail, advised: Advised
) -> tuple[Finding, ...]:
    """Ask whether the cover screws hold (`screw.thread`, `screw.head`, `screw.length`); tell their torque.

    Asked again with what bent covers pull, once these are calculated.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    sealed : Sealed
    detail : Detail
    advised : Advised
    """
    hottest_c = hottest_coolant_c(panel, advised.heating)
    fastened = fasten_covers(panel, sealed, detail, hottest_c)
    if not fastened:
        return ()
    fit = fit_screw(panel)
    worst = max(fastened, key=lambda one: one.asked_n)
    most = int(np.argmax(worst.loads_n))
    screw = sealed.screws_of(worst.layer)[most]
    at = (*screw, joint_z(panel, worst.layer))
    more = MORE_AT_POST if screw in routed.tank.posts else MORE_SCREWS
    return (
        *_check_length(panel, fit),
        *_check_thread(panel, fit, worst, at, hottest_c, more),
        *_check_head(panel, worst, at, hottest_c, more),
        *_note_torque(panel, worst),
    )


def _check_length(panel: Panel, fit: ScrewFit) -> tuple[Finding, ...]:
    screw, body = tables.screw(panel.make.screw), panel.make.material
    lengths = tables.screw_lengths(screw)
    if fit.length is None:
        return (
            make_finding(
                "screw.length",
                "fault",
                f"no {screw.name} screw of a preferred length ({lengths[0]:g} to {lengths[-1]:g} mm) grips the body "
                f"behind {fit.grip:.3g} mm of cover and washer and keeps its tip off the bottom of the hole",
                "use another cover thickness, a thicker body, or another screw",
                0.0,
                fit.needed,
                "mm",
            ),
        )
    short = fit.needed - fit.engagement
    # Where the body itself is too thin, the thread tells.
    if short <= SAME_MM or fit.most < fit.needed - SAME_MM:
        return ()
    longer = next((length for length in lengths if length > fit.length), None)
    remedy, next_one = f"make the cover {show_number(short, 2)} mm thinner", ""
    thinner = math.floor((panel.make.cover - short) * 10 + SAME_MM) / 10
    ways = [set_length(thinner, "make", "cover")]
    if longer is not None:
        spare = show_number(longer - fit.grip - fit.most, 2)
        next_one = f"; the next longer one, {longer:g} mm, would touch the bottom of the deepest hole"
        remedy += f" or {spare} mm thicker, or the body {spare} mm thicker"
        by = longer - fit.grip - fit.most
        # A thicker sheet takes no strength away: a thinner cover is offered last.
        ways = [thicken_sheet(panel, "cover", by), thicken_sheet(panel, "body", by), *ways]
    return (
        make_finding(
            "screw.length",
            "caution",
            f"a {screw.name} screw of {fit.length:g} mm has {fit.engagement:.3g} mm of thread in {body}, which needs "
            f"{fit.needed:.3g} mm{next_one}",
            remedy,
            fit.engagement,
            fit.needed,
            "mm",
            changes=_offer_engaging(panel, ways),
        ),
    )


def _offer_engaging(panel: Panel, ways: list[KeyChange]) -> tuple[KeyChange, ...]:
    """Return the first thickness of body or cover with which the screws have the thread they need."""
    return next((kept for way in ways if _engages(panel, way) and (kept := keep_readable(panel, way))), ())


def _engages(panel: Panel, change: KeyChange) -> bool:
    """Return whether the screws have the thread they need with another thickness of body or cover."""
    thickness = parse_quantity(change.value, "length")
    make = panel.make
    made = replace(make, cover=thickness) if change.path[-1] == "cover" else replace(make, body=thickness)
    fit = fit_screw(replace(panel, make=made))
    return fit.length is not None and fit.engagement >= fit.needed - SAME_MM


def _check_thread(
    panel: Panel, fit: ScrewFit, worst: Fastening, at: Place, hottest_c: float, more: str
) -> tuple[Finding, ...]:
    body, severity = panel.make.material, _judge(worst, worst.holds_n)
    if fit.length is None:
        return ()
    if severity is None:
        if fit.most >= fit.needed - SAME_MM:
            return ()
        return (
            make_finding(
                "screw.thread",
                "caution",
                f"the body is thick enough for {fit.most:.3g} mm of {worst.screw} thread, {body} needs "
                f"{fit.needed:.3g} mm",
                f"make the body {show_number(fit.needed - fit.most, 2)} mm thicker, or use a smaller screw",
                fit.most,
                fit.needed,
                "mm",
                changes=keep_readable(panel, thicken_sheet(panel, "body", fit.needed - fit.most)),
            ),
        )
    options: list[Cure] = []
    insert = find_insert(panel)
    if fit.insert is None and insert is not None:
        allowable = tables.material(body).allowable_at(hottest_c, lasting=True)
        would = insert_holds(insert.outer_diameter, insert.length, allowable)
        if would >= worst.asked_n:
            options.append(
                Cure(
                    f"inserts {insert.name} (inserts = true in [make]), which bear {would:.0f} N",
                    (set_key(True, "make", "inserts"),),
                )
            )
    options += _larger(panel, lambda other: holding(other, fit_screw(other), hottest_c)[0], worst.asked_n)
    thread = f"{fit.engagement:.3g} mm of {worst.screw} thread"
    what = f"an insert {fit.insert.name}" if fit.insert is not None else thread
    return (
        make_finding(
            "screw.thread",
            severity,
            _tell_forces(f"{what} in {body}", worst, worst.holds_n),
            _tell_options(options, more),
            worst.holds_n,
            _limit(worst, severity),
            "N",
            at,
            changes=offer_changes(panel, *options),
        ),
    )


def _check_head(
    panel: Panel, worst: Fastening, at: Place, hottest_c: float, more: str
) -> tuple[Finding, ...]:
    severity = _judge(worst, worst.head_holds_n)
    if severity is None:
        return ()
    options: list[Cure] = []
    large = replace(panel, make=replace(panel.make, large_washers=True))
    would = head_holds(large, hottest_c)
    if not panel.make.large_washers and would >= worst.asked_n:
        across = tables.screw(worst.screw).large_washer
        options.append(
            Cure(
                f"washers of {across:g} mm (large_washers = true in [make]; {LARGE_WASHER}), which bear {would:.0f} N",
                (set_key(True, "make", "large_washers"),),
            )
        )
    options += _larger(panel, lambda other: holding(other, fit_screw(other), hottest_c)[1], worst.asked_n)
    under = f"a washer of {worst.washer:g} mm" if worst.washer else "a screw's head"
    return (
        make_finding(
            "screw.head",
            severity,
            _tell_forces(f"{panel.make.cover_row} under {under}", worst, worst.head_holds_n),
            _tell_options(options, more),
            worst.head_holds_n,
            _limit(worst, severity),
            "N",
            at,
            changes=offer_changes(panel, *options),
        ),
    )


def _note_torque(panel: Panel, worst: Fastening) -> tuple[Finding, ...]:
    """Tell the torque where plastic creeps under it."""
    names = dict.fromkeys((panel.make.material, panel.make.cover_row))
    plastics = [name for name in names if tables.material(name).kind == "plastic"]
    if not plastics or worst.preload_n <= 0.0:
        return ()
    low, high = FRICTION
    key = tables.screw(worst.screw).key
    creeping = f"{' and '.join(plastics)} {'creeps' if len(plastics) == 1 else 'creep'}"
    return (
        make_finding(
            "screw.torque",
            "note",
            f"the cover's {worst.screw} screws are tightened to {worst.preload_n:.0f} N: "
            f"{tell_torque(*worst.torque_nm)}, an estimate for friction of {low:g} to {high:g}; {creeping}, and the "
            "preload falls",
            f"tighten with a {key:g} mm key, {HOW}, again after a day and after the "
            "first warm run; use no anaerobic thread locker, which cracks stressed plastics",
        ),
    )


def _judge(worst: Fastening, holds_n: float) -> Severity | None:
    if holds_n >= worst.asked_n:
        return None
    return "caution" if holds_n >= max(worst.loads_n) else "fault"


def _limit(worst: Fastening, severity: Severity) -> float:
    return max(worst.loads_n) if severity == "fault" else worst.asked_n


def _tell_forces(what: str, worst: Fastening, holds_n: float) -> str:
    most = max(worst.loads_n)
    pulled = f"is pulled by {most:.0f} N" if worst.calculated else f"has a share of the load of {most:.0f} N"
    return (
        f"{what} bears {holds_n:.0f} N for years; the most loaded screw {pulled} at the test pressure, and asks for "
        f"{worst.asked_n:.0f} N to keep the joint closed"
    )


def _tell_options(options: list[Cure], more: str) -> str:
    return f"use {join_cures(options)}, or {more}" if options else more


def _larger(panel: Panel, holds: Callable[[Panel], float], asked_n: float) -> list[Cure]:
    """Return the next larger screw that bears what is asked; none where no row does."""
    names = tables.screw_names()
    for name in names[names.index(panel.make.screw) + 1 :]:
        would = holds(replace(panel, make=replace(panel.make, screw=name)))
        if would >= asked_n:
            return [Cure(f"{name} screws, which bear {would:.0f} N", (set_key(name, "make", "screw"),))]
    return []
