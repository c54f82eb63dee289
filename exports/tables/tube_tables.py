"""The tubes between panel and parts, in plain text: a line for each."""

from __future__ import annotations

from exports.tables.text_tables import LINE
from exports.wording.figures import wrap_words
from exports.wording.tube_words import face_of, marks_of, number_of, show_cut, tell_mark, tell_tube
from layouts.plan import Plan
from layouts.tubes.values import TubeRun

TUBE_HEADS = ("tube", "from port", "to part", "cut to", "bends, marked from the panel's end")


def describe_tubes(plan: Plan) -> list[str]:
    """Return the lines of a plan's tubes, a blank one first; none where it has none.

    Parameters
    ----------
    plan : Plan
    """
    if not plan.tubes:
        return []
    lines = [""]
    for tube in plan.tubes:
        first, *more = wrap_words(tell_tube(plan, tube), LINE)
        lines += [first, *(f"  {line}" for line in more)]
    return lines


def tube_rows(plan: Plan) -> list[tuple[str, ...]]:
    """Return the rows of a plan's tubes, headings first: number, what it joins, cut length, marks of its bends.

    Parameters
    ----------
    plan : Plan
    """
    return [TUBE_HEADS, *(_row(plan, tube) for tube in plan.tubes)]


def _row(plan: Plan, tube: TubeRun) -> tuple[str, ...]:
    joins = (number_of(tube), f"{tube.port} ({face_of(plan, tube)})", tube.part)
    if not tube.points:
        return (*joins, "none", tube.why_none)
    marks = "; ".join(tell_mark(mark, k == 0) for k, mark in enumerate(marks_of(tube)))
    return (*joins, show_cut(tube.length), marks or "straight")
