"""Filling, bleeding, the test on paper, draining: step by step, each with a box and room for what is read."""

from __future__ import annotations

from exports.sheets.caution_sheet import HOT, METALS, POWER, find_caution, warn_of_locking
from exports.sheets.matters import list_matters
from exports.sheets.values import (
    Block,
    Caution,
    Grid,
    Heading,
    Say,
    Step,
    WorkSheet,
    number_steps,
    number_through,
)
from exports.tables.filling_tables import step_rows
from exports.wording.fill_step_words import tell_no_run, tell_ranges, tell_sequence
from exports.wording.filling_words import (
    list_left,
    split_small,
    tell_attitude,
    tell_left,
    tell_pocket,
    tell_small,
    tell_tilts,
    tell_untold,
)
from exports.wording.leak_words import tell_shut_tank
from geom.findings import Finding
from geom.units import show_number
from geom.words import make_sentence
from layouts.filling.values import BenchStep, Filling
from layouts.leak_test import WET_TEST_H, LeakTest
from layouts.plan import Plan


def filling_sheet(plan: Plan, filling: Filling, test: LeakTest, findings: tuple[Finding, ...]) -> WorkSheet:
    """Return the sheet of filling and bleeding, with the test on paper that comes with it.

    Parameters
    ----------
    plan : Plan
    filling : Filling
        As measured on the fine voxels, where it is.
    test : LeakTest
    findings : tuple of Finding
        All of the run.
    """
    panel, sequence = plan.panel, filling.sequence
    coolant = panel.coolant
    mix = f", {100 * coolant.mass_fraction:g} % by mass" if coolant.mass_fraction > 0 else ""
    inhibited = ", with inhibitors for every metal of the loop" if coolant.inhibited else ""
    level = f"{100 * panel.tank.level:.0f} %"
    blocks: list[Block] = [
        find_caution(POWER),
        find_caution(METALS),
        warn_of_locking(test),
        *(Say(make_sentence(text)) for text in (tell_shut_tank(plan),) if text),
        Say(
            f"Only after the leak test, {'A and B (or W)' if test.air else 'W'}. Coolant: {coolant.fluid}{mix}"
            f"{inhibited}, as cool as the room when it is filled in; in use {show_number(coolant.temperature_c, 3)} "
            f"°C. Level: {level} of the tank, cold, the pump at rest. The panel {tell_attitude(panel)}."
        ),
    ]
    if sequence is not None:
        blocks.append(Say(make_sentence(tell_sequence(sequence))))
        blocks += [
            Caution(make_sentence(text))
            for text in (tell_no_run(sequence) if sequence.steps else "",)
            if text
        ]
        ranges = tell_ranges(sequence)
        if ranges:
            blocks.append(Say(make_sentence(ranges)))
    if filling.tilts is not None:
        blocks.append(Say(tell_tilts(panel, filling.tilts, filling.left)[0]))
    blocks += list_matters(findings, "filling")
    if sequence is not None and sequence.steps:
        head, *rows = step_rows(sequence)
        blocks += [
            Heading("What goes in, step by step"),
            Grid(
                ("no.", *head[1:]), tuple(rows), right=(0, 2, 3, 4, 5, 6), ticked=True, blanks=("poured, mL",)
            ),
        ]
    if filling.bleed_order:
        blocks += [Heading("Fill and bleed"), *number_steps(_list_steps(filling.bleed_order), "F")]
    blocks += _list_left(plan, filling)
    blocks += [
        Heading("Leak test on paper, filled, all else unplugged"),
        *number_steps(_paper_steps(), "L"),
    ]
    return WorkSheet("Fill, bleed, wet test", tuple(blocks))


def _list_steps(steps: tuple[BenchStep, ...]) -> list[Step]:
    """Return the steps of a bench order; the level is read once bubbles have had time to rise."""
    last = len(steps) - 1
    return [Step(step.text, ("level, %", "time") if k == last else ()) for k, step in enumerate(steps)]


def _list_left(plan: Plan, filling: Filling) -> list[Block]:
    pockets, _ = list_left(filling, "air")
    told, small = split_small(pockets)
    said = [*(tell_pocket(plan.panel, "air", pocket) for pocket in told), *tell_small(small)]
    untold = tell_untold(filling.left)
    if not said and not untold:
        return []
    blocks: list[Block] = [Heading("Where air may stay")]
    if said:
        blocks.append(Say(f"{make_sentence(tell_left(filling, 'air'))} {'; '.join(said)}."))
    if untold:
        blocks.append(Say(make_sentence(untold)))
    return blocks


def _paper_steps() -> list[Step]:
    return [
        Step(
            "Everything near the panel is unplugged; the pump alone has power, from a supply of its own. Dry all "
            "outside, lay white paper towels under and round every joint, fitting, plug and hose end."
        ),
        Step(
            "Let it stand an hour, the pump at rest and unplugged: no paper is wet.",
            ("start, time", "level, %"),
        ),
        Step(
            f"Let the pump run {WET_TEST_H} h, on a tray that holds all of the coolant; look after 10 minutes, after "
            "an hour, and do not leave it alone before that.",
            ("start, time", "end, time", "level, %"),
        ),
        Step("Tight: no paper is wet or has a stain, the level has not fallen beyond the bubbles that rose."),
        Step(
            "A wet place: pump off, drain as on the next sheet, cure it, and begin with the leak test again."
        ),
        Step("All dry, coolant wiped up, hands dry: only then does anything else get power."),
    ]


def draining_sheet(plan: Plan, filling: Filling, findings: tuple[Finding, ...]) -> WorkSheet | None:
    """Return the sheet of draining; None where no order is known.

    Parameters
    ----------
    plan : Plan
    filling : Filling
    findings : tuple of Finding
        All of the run.
    """
    if not filling.drain_order:
        return None
    blocks: list[Block] = [find_caution(POWER), find_caution(HOT)]
    if filling.tilts is not None:
        blocks.append(Say(tell_tilts(plan.panel, filling.tilts, filling.left)[1]))
    blocks += [
        *list_matters(findings, "draining"),
        Heading("In this order"),
        *(Step(step.text) for step in filling.drain_order),
    ]
    pockets, _ = list_left(filling, "coolant")
    told, small = split_small(pockets)
    if told:
        said = [*(tell_pocket(plan.panel, "coolant", pocket) for pocket in told), *tell_small(small)]
        blocks += [
            Heading("Where coolant stays"),
            Say(f"{make_sentence(tell_left(filling, 'coolant'))} {'; '.join(said)}."),
        ]
    blocks += [
        Heading("After that"),
        Step(
            "Old coolant goes where your local rules say; glycol is not for the drain where they forbid it."
        ),
        *(
            (Step("A cover that was off gets new cords; then the leak test comes first again."),)
            if plan.panel.make.closing == "cord"
            else (Step("Before it is filled again, the leak test comes first."),)
        ),
    ]
    return WorkSheet("Drain", number_through(blocks))
