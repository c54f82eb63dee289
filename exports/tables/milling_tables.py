"""How a milled panel is cut, as plain text for the terminal: set-ups and cutter list."""

from __future__ import annotations

from exports.tables.text_tables import align_rows
from exports.wording.milling_words import JOB_HEADS, job_row, number_jobs, tell_setup, tell_total
from geom.units import ml
from geom.words import count_of
from layouts.milling.work import Milled
from layouts.plan import Plan


def describe_setups(plan: Plan) -> list[str]:
    """Return the set-ups of the milled parts and how long they take together, in lines; none where all are printed.

    Parameters
    ----------
    plan : Plan
    """
    milled = plan.milled
    if milled is None or not milled.setups:
        return []
    lines = ["", f"milling: {_tell_whole(milled)}"]
    lines += [f"  {n}  {tell_setup(setup, milled.stocks)}" for n, setup in enumerate(milled.setups, 1)]
    return lines


def describe_cutters(milled: Milled) -> str:
    """Return the cutter list with its minutes, by set-up, and where it is told what they stand on.

    Parameters
    ----------
    milled : Milled
        With at least one set-up.
    """
    jobs = number_jobs(milled)
    rows = [JOB_HEADS, *(job_row(n, job, milled) for n, job in jobs.items())]
    head, *table = align_rows(rows, left=3)
    lines = [f"cutter list: {_tell_whole(milled)}", head]
    shown = None
    for job, line in zip(jobs.values(), table, strict=True):
        if (job.part, job.face) != shown:
            shown = (job.part, job.face)
            lines.append(f"{job.part}, {job.face} up")
        lines.append(line)
    if milled.assumptions:
        lines.append(
            "what the times stand on, how the part is held and where the holes are: setups.svg, report.json"
        )
    return "\n".join(lines)


def _tell_whole(milled: Milled) -> str:
    return f"{count_of(len(milled.setups), 'set-up')}, {tell_total(milled)}, {ml(milled.removed_mm3):.0f} cm3 cut out"
