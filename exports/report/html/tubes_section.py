"""The page on tubes: which port meets which part, and how each tube is cut and bent."""

from __future__ import annotations

from collections.abc import Mapping

from exports.report.html.blocks import Section, said_of, section_of, table_of
from exports.report.html.inline_svg import figure_of
from exports.report.html.plan_things import port_tokens
from exports.tables.tube_tables import tube_rows
from exports.wording.figures import show_mm
from geom.words import join_names
from layouts.plan import Plan
from layouts.tubes.values import TubeRun


def tubes_section(plan: Plan, pictures: Mapping[str, str]) -> tuple[Section, ...]:
    """Return the section on tubes; none where the file does not say where parts stand.

    Parameters
    ----------
    plan : Plan
    pictures : mapping of str to str
    """
    if not plan.tubes:
        return ()
    tokens = port_tokens(plan)
    return section_of(
        "tubes",
        "Tubes",
        figure_of(pictures, "tubes.svg", "Tubes between panel and parts: views, cut lengths, bends."),
        table_of(
            tube_rows(plan),
            "Tubes from the panel's ports to the parts",
            3,
            [tokens[tube.port] for tube in plan.tubes],
            last=True,
        ),
        said_of([line for tube in plan.tubes for line in (_tell_near(tube), _tell_move(tube))]),
    )


def _tell_near(tube: TubeRun) -> str:
    if not tube.near:
        return ""
    return f"{tube.name} comes too near to {join_names([one.what for one in tube.near])}"


def _tell_move(tube: TubeRun) -> str:
    if tube.straight_by is None:
        return ""
    steps = zip(tube.straight_by, "xyz", strict=True)
    moved = join_names([f"{show_mm(step)} mm in {axis}" for step, axis in steps if step])
    return f'{tube.name} would be straight with port "{tube.port}" moved by {moved}'
