"""The page on making: set-ups and cutters, or the print; volumes, tolerances, what it takes and costs; tubes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from exports.report.html.blocks import Block, Facts, Section, Table, group_of, said_of, section_of, table_of
from exports.report.html.inline_svg import figure_of
from exports.report.split import split_section
from exports.report.tolerances import tell_model, worst_rows
from exports.tables.cost_tables import cost_rows
from exports.tables.panel_tables import tell_thinnest, volume_rows
from exports.tables.printing_tables import MADE, pose_rows
from exports.wording.figures import show_mm, show_place
from exports.wording.milling_words import (
    JOB_HEADS,
    job_row,
    number_jobs,
    tell_holding,
    tell_setup,
    tell_total,
)
from exports.wording.print_words import tell_settings
from geom.units import ml
from geom.words import tell_torque, tell_within
from layouts.cost.sheet import CostSheet
from layouts.milling.cut_times import TIME_BAND
from layouts.milling.work import Milled
from layouts.plan import Plan
from layouts.printing.split_ring import ring_cut_length

if TYPE_CHECKING:
    from exports.check_solids import Checked

PRINTS = "print"
"""How the names of pictures of printed parts begin."""


def making_section(
    plan: Plan, checked: Checked | None, cost: CostSheet, pictures: Mapping[str, str]
) -> tuple[Section, ...]:
    """Return the section on how the panel is made.

    Parameters
    ----------
    plan : Plan
    checked : Checked or None
    cost : CostSheet
    pictures : mapping of str to str
    """
    return section_of(
        "making",
        "Making",
        group_of("Milling", _milling(plan.milled, pictures)),
        group_of("Printing", _printing(plan, checked, pictures)),
        group_of("Split", _split(plan)),
        group_of("Volumes and walls", _measured(checked)),
        group_of("Worst case of the tolerances", _tolerances(plan, checked)),
        group_of("What it takes", _cost(plan, cost)),
    )


def _milling(milled: Milled | None, pictures: Mapping[str, str]) -> tuple[Block, ...]:
    if milled is None or not milled.setups:
        return ()
    heads = ("", "set-up", "held")
    setups = [
        (str(n), tell_setup(setup, milled.stocks), tell_holding(setup, milled.stocks))
        for n, setup in enumerate(milled.setups, 1)
    ]
    places = {
        (setup.part, setup.face): f"{n}: {setup.part}, {setup.face} up"
        for n, setup in enumerate(milled.setups, 1)
    }
    jobs: list[tuple[str, ...]] = [(JOB_HEADS[0], "set-up", *JOB_HEADS[1:])]
    for number, job in number_jobs(milled).items():
        first, *rest = job_row(number, job, milled)
        jobs.append((first, places[job.part, job.face], *rest))
    whole = f"{tell_total(milled)}, {ml(milled.removed_mm3):.0f} cm3 cut out"
    minutes = f"Cutter list; minutes are estimates, ±{100 * TIME_BAND:.0f} %"
    return (
        *said_of((whole,)),
        *figure_of(pictures, "setups.svg", "Set-ups for milling, with what each tool cuts."),
        *table_of([heads, *setups], "Set-ups, in their order", 3),
        *table_of(jobs, minutes, 4),
        *said_of(milled.assumptions),
    )


def _printing(plan: Plan, checked: Checked | None, pictures: Mapping[str, str]) -> tuple[Block, ...]:
    if plan.printed is None:
        return ()
    drawn: list[Block] = []
    for part in () if checked is None else checked.poses:
        assert checked is not None
        file = f"{PRINTS}.svg" if part is checked.poses[0] else f"{PRINTS}-{part.part.replace(' ', '-')}.svg"
        said = f"How the {part.part} lies in the printer, what hangs, and how other poses compare."
        drawn += figure_of(pictures, file, said)
        heads, *rows = pose_rows(plan.panel, part)
        caption = f"Poses of the {part.part}, the best first; {MADE} marks the one that it is made for"
        drawn += table_of([("on the bed", *heads[1:]), *rows], caption, folded=True)
    fits = _print_fits(checked)
    return (*said_of(tell_settings(plan.panel)), *drawn, *fits)


def _print_fits(checked: Checked | None) -> tuple[Block, ...]:
    if checked is None or not checked.prints:
        return ()
    from exports.print_meshes import describe_meshes

    return said_of(describe_meshes(checked.prints).split("\n"))


def _split(plan: Plan) -> tuple[Block, ...]:
    split, joint = split_section(plan), None if plan.printed is None else plan.printed.split
    if split is None or joint is None:
        return ()
    facts = [
        ("pieces", " and ".join(split["pieces"])),
        ("where", f"at {split['axis']} = {show_mm(split['at_mm'])} mm"),
        *(
            (
                ring["name"],
                f'round channel "{ring["channel"]}", cord of {show_mm(ring["cord_mm"])} mm, cut to '
                f"{tell_within(*ring_cut_length(joint))}",
            )
            for ring in split["rings"]
        ),
    ]
    screws = split["screws"]
    if screws is not None:
        facts.append(
            (
                "screws",
                f"{screws['count']} {screws['screw']} × {show_mm(screws['length_mm'])} mm, tightened to "
                f"{tell_torque(*screws['torque_nm'])}, an estimate",
            )
        )
    return (Facts(tuple(facts)),)


def _measured(checked: Checked | None) -> tuple[Block, ...]:
    if checked is None:
        return ()
    wall = tell_thinnest(checked)
    where = ""
    if checked.thinnest is not None:
        a, b = checked.thinnest.points
        ax, bx = tuple(a), tuple(b)
        middle = ((ax[0] + bx[0]) / 2, (ax[1] + bx[1]) / 2, (ax[2] + bx[2]) / 2)
        where = f", at {show_place(middle)}"
    return (
        *table_of(volume_rows(checked), "Volumes of the solids, exact and by their meshes"),
        *said_of((f"thinnest wall beside coolant {wall}{where}" if wall else "",)),
    )


def _tolerances(plan: Plan, checked: Checked | None) -> tuple[Block, ...]:
    rows = [] if checked is None else worst_rows(plan, checked.worst)
    if not rows:
        return ()
    heads, *walls = rows
    caption = f"Thinnest walls as drawn and at the worst of class {plan.panel.make.tolerance}, ISO 2768"
    table: tuple[Table, ...] = table_of([("wall between", *heads[1:]), *walls], caption, 2)
    return (*table, *said_of(tell_model(plan.panel)))


def _cost(plan: Plan, cost: CostSheet) -> tuple[Block, ...]:
    told_already = () if plan.milled is None else plan.milled.assumptions
    assumptions = [one for one in cost.assumptions if one not in told_already]
    heads, *rows = cost_rows(cost)
    priced = cost.currency
    money = (f"each, {priced}", f"sum, {priced}") if priced else ()
    told = [("item", "what", heads[2], *money), *rows]
    caption = "What goes into the panel, and what it costs" if priced else "What goes into the panel"
    total = "" if cost.total is None else f"sum {cost.total:.2f} {priced}"
    unpriced = ", ".join(dict.fromkeys(cost.unpriced))
    return (
        *table_of(told, caption, 2),
        *said_of((total, f"not priced: {unpriced}" if unpriced else "", *assumptions)),
    )
