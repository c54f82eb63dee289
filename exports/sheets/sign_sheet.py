"""The page to tick and sign: what was checked, with its readings, and what the file accepts."""

from __future__ import annotations

from pathlib import Path

from exports.sheets.caution_sheet import CODES, find_caution, is_split
from exports.sheets.leak_sheet import WATER_MIN
from exports.sheets.matters import tell_finding
from exports.sheets.values import Blank, Block, Grid, Heading, Matter, Say, Step, WorkSheet
from exports.wording.leak_words import show_allowed, show_bar, tell_correction
from geom.findings import Finding
from geom.words import join_names
from layouts.faces import joints_of
from layouts.leak_test import WET_TEST_H, LeakTest
from layouts.plan import Plan
from layouts.rules.cautions import ESTIMATES
from layouts.strength.tightening_order import TOLD_ROUNDS


def sign_sheet(plan: Plan, test: LeakTest, findings: tuple[Finding, ...]) -> WorkSheet:
    """Return the sheet to sign.

    Parameters
    ----------
    plan : Plan
    test : LeakTest
    findings : tuple of Finding
        All of the run.
    """
    panel = plan.panel
    accepted = [one for one in findings if one.accepted is not None]
    blocks: list[Block] = [
        Grid(
            ("panel", "file", "SHA-256 of the file"),
            ((panel.name, Path(panel.path).name, panel.sha256),),
        ),
        Heading("Checked"),
        Step(f"Parts as drawn: {join_names(_list_looked_at(plan))}."),
        Step(f"Assembled as told: {join_names(_list_assembled(plan))}."),
        *_record_air(test),
        Grid(
            ("leak test", "pressure", "hold", "may leak"),
            (
                ("W: with water", show_bar(test.water_pa), f"{WATER_MIN} min", "no drop"),
                ("filled, on paper", "pump runs", f"{WET_TEST_H} h", "no stain"),
            ),
            ticked=True,
            blanks=("date", "start, time", "end, time", "level %", "leaks: none / where"),
        ),
        Step(
            "Filled to its level, bled, the tank closed with its vented plug or cap and no tight one, all dry before "
            "power."
        ),
    ]
    if accepted:
        blocks.append(Heading("Accepted by the file, with its reason"))
        blocks += [Matter(one.code, f"{tell_finding(one)} Accepted: {one.accepted}") for one in accepted]
    blocks += [
        Heading("Notes"),
        Blank(("", "", "")),
        Heading("Signed"),
        Blank(("made by", "assembled by", "tested by", "place and date")),
        Say(ESTIMATES),
        find_caution(CODES),
    ]
    return WorkSheet("Record to tick and sign", tuple(blocks))


def _record_air(test: LeakTest) -> list[Block]:
    """Return what is written down of the tests with air; none where strength is not known."""
    if not test.air:
        return []
    rows = tuple(
        (f"{letter}: {one.what}, air", f"{show_bar(test.pressure_pa)}, {one.hold_min} min", show_allowed(one))
        for letter, one in zip("AB", test.air, strict=True)
    )
    return [
        *(
            Step(
                f"{letter}: lay dry in the room for {test.lies_h:g} h or more before the test, and settled under "
                f"pressure for {test.settle_min} min or more before the first reading.",
                ("date", "lay, h", "settled, min"),
            )
            for letter in "AB"
        ),
        Grid(
            ("leak test", "held", "may fall"),
            rows,
            ticked=True,
            blanks=(
                "start mbar",
                "end mbar",
                "start °C",
                "end °C",
                "barometer mbar, end - start",
                "corrected mbar",
            ),
        ),
        Say(f"Corrected fall, in mbar = {tell_correction(test)}."),
    ]


def _list_looked_at(plan: Plan) -> list[str]:
    jointed, cords = bool(joints_of(plan.panel)), bool(plan.sealed.loops)
    return [
        *(["joint faces flat"] if jointed or is_split(plan) else []),
        *(["grooves measured"] if cords or is_split(plan) else []),
        "threads tried",
        "channels free",
    ]


def _list_assembled(plan: Plan) -> list[str]:
    cords, bonded = bool(plan.sealed.loops), bool(plan.sealed.lands)
    return [
        *(["cords"] if cords else []),
        *(["bond"] if bonded else []),
        *(["pieces joined"] if is_split(plan) else []),
        *([f"screws in {TOLD_ROUNDS}"] if cords or is_split(plan) else []),
        "fittings",
        "plugs",
    ]
