"""The page on closing and strength: cords, screws or bonded lands of each joint, how its cover bows."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from exports.pictures.closing_notes import clamp_rows, cord_rows, tell_bond
from exports.report.html.blocks import Block, Facts, Section, group_of, said_of, section_of, table_of
from exports.report.html.inline_svg import figure_of
from exports.tables.cover_tables import LEFT_COLUMNS, bending_rows, tell_cases
from exports.tables.fastening_tables import ESTIMATED, screw_rows, tell_extras
from exports.wording.closing_work import list_work
from exports.wording.screw_words import tell_coverage
from layouts.faces import cover_name, joints_of
from layouts.plan import Layer, Plan
from layouts.strength.fastening import fasten_plan

if TYPE_CHECKING:
    from exports.check_solids import Checked


def closing_section(plan: Plan, checked: Checked | None, pictures: Mapping[str, str]) -> tuple[Section, ...]:
    """Return the section on how the panel is closed and what holds its pressure; none for one in one piece.

    Parameters
    ----------
    plan : Plan
    checked : Checked or None
    pictures : mapping of str to str
    """
    joints = joints_of(plan.panel)
    return section_of(
        "closing",
        "Closing and strength",
        *(_joint(plan, layer, pictures) for layer in joints),
        _screws(plan),
        _bending(plan, checked, pictures),
    )


def _joint(plan: Plan, layer: Layer, pictures: Mapping[str, str]) -> tuple[Block, ...]:
    name = cover_name(layer)
    file = "closing-front.svg" if layer == "front" else "closing.svg"
    lands = plan.sealed.lands_of(layer)
    drawn = figure_of(pictures, file, f"How the {name} is closed, to work by.")
    if lands is not None:
        pressed = table_of(
            _unfold(clamp_rows(plan, lands)), f"What presses the {name} while the bond sets", 2
        )
        return group_of(f"Bond of the {name}", drawn, said_of(tell_bond(plan, lands)), pressed)
    work = tuple(list_work(plan, layer))
    cords = (
        table_of(cord_rows(plan, layer), f"Cords under the {name}", 2) if plan.sealed.loops_of(layer) else ()
    )
    return group_of(f"Closing of the {name}", drawn, cords, (Facts(work),) if work else ())


def _unfold(rows: list[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """Return rows that hold two entries each with one each."""
    heads, *both = rows
    half = len(heads) // 2
    cells = [row[:half] for row in both] + [row[half:] for row in both if any(row[half:])]
    return [("pressed with", *heads[1:half]), *cells]


def _screws(plan: Plan) -> tuple[Block, ...]:
    fastened = fasten_plan(plan)
    if not fastened:
        return ()
    caption = "Cover screws at the test pressure; torque by an estimate of friction"
    return group_of(
        "Cover screws",
        table_of(screw_rows(fastened), caption, 2),
        said_of(
            (
                *(tell_coverage(plan, one) for one in plan.sealed.coverage),
                *tell_extras(fastened[0]),
                "" if fastened[0].calculated else ESTIMATED,
            )
        ),
    )


def _bending(plan: Plan, checked: Checked | None, pictures: Mapping[str, str]) -> tuple[Block, ...]:
    bendings = () if checked is None else checked.bending
    if not bendings:
        return ()
    drawn = [
        figure
        for name, cover in (("bow.svg", "cover"), ("bow-front.svg", "front cover"))
        for figure in figure_of(
            pictures,
            name,
            f"How far the {cover} lifts under pressure, where most, and where its stress is greatest.",
        )
    ]
    return group_of(
        "How the covers bow" if len(bendings) > 1 else "How the cover bows",
        drawn,
        table_of(
            bending_rows(plan, bendings),
            "Covers by finite elements, in use and at the test pressure",
            len(LEFT_COLUMNS),
        ),
        said_of((tell_cases(plan, bendings),)),
    )
