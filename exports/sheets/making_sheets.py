"""How the parts are made: set-ups with their cutter lists; pose, settings and threads of prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

from exports.formats.dxf import dxf_name
from exports.print_meshes import describe_print, list_fits
from exports.sheets.caution_sheet import CEMENTS, CHIPS, find_caution, is_split
from exports.sheets.matters import list_matters
from exports.sheets.values import Block, Grid, Heading, Say, Small, Step, WorkSheet, number_steps
from exports.tables.printing_tables import list_shown, pose_rows
from exports.wording.figures import show_mm
from exports.wording.finish_words import show_edges, tell_flatness
from exports.wording.hole_numbers import hole_numbers
from exports.wording.milling_words import (
    JOB_HEADS,
    job_row,
    list_cuts,
    number_jobs,
    tell_axes,
    tell_holding,
    tell_setup,
    tell_total,
)
from exports.wording.print_words import tell_settings, tell_time
from geom.findings import Finding
from geom.standards import tables
from geom.words import count_of, join_names, make_sentence
from layouts.cost.parts import weigh_parts
from layouts.cost.quantities import time_print
from layouts.faces import joints_of
from layouts.milling.work import Hole, Milled, Pocket, SetUp
from layouts.plan import Plan
from layouts.strength.screw_hole import fit_screw

if TYPE_CHECKING:
    from exports.check_solids import Checked

JOBS = (*(head or "no." for head in JOB_HEADS[:4]), "about, min", *JOB_HEADS[5:])
"""Heads of the cutter list."""


def milling_sheet(plan: Plan, milled: Milled, findings: tuple[Finding, ...]) -> WorkSheet:
    """Return the sheet of the set-ups of all parts that are milled.

    Parameters
    ----------
    plan : Plan
    milled : Milled
    findings : tuple of Finding
        All of the run.
    """
    panel, drawing = plan.panel, plan.panel.drawing
    count = count_of(len(milled.setups), "set-up")
    body_milled = panel.make.method == "milled"
    across = "a groove or its lands" if plan.sealed.loops else "them"
    stocks = (
        f"{stock.part}: {show_mm(stock.width)} x {show_mm(stock.height)} x {show_mm(stock.thickness)} mm"
        for stock in milled.stocks
    )
    blocks: list[Block] = [
        find_caution(CHIPS),
        Say(
            f"{count}, {tell_total(milled)} with set-ups and changes of tool. Sheets: {'; '.join(stocks)}. Their "
            "thickness is that of the finished part: their faces are its faces, so keep the film on until a face is "
            "cut."
        ),
        Say(
            "Zero in each set-up: the lower left corner of the part's face as it looks up at you, u to the right, v "
            "up, depth from that face down. Places and profiles stand in the DXF file of the set-up; P1, S1 and the "
            "like are the numbers of the drawing's hole tables."
        ),
    ]
    jobs, holes = number_jobs(milled), hole_numbers(plan)
    for number, setup in enumerate(milled.setups, 1):
        own = [
            job_row(k, job, milled, holes)
            for k, job in jobs.items()
            if (job.part, job.face) == (setup.part, setup.face)
        ]
        blocks += [
            Heading(f"Set-up {number}: {tell_setup(setup, milled.stocks)}"),
            Say(
                f"{tell_axes(setup)}. {make_sentence(tell_holding(setup, milled.stocks))} File: {dxf_name(setup)}."
            ),
            Grid(JOBS, tuple(own), right=(3, 4, 5, 6), ticked=True),
            Step(f"Before it is unclamped: {'; '.join(_list_checks(setup))}."),
        ]
    blocks += [
        Heading("When all is cut"),
        *number_steps(
            [
                Step(
                    f"Break all edges that are not to be sharp by {show_edges()} mm; leave "
                    f"{'grooves and joint faces' if plan.sealed.loops else 'joint faces'} as cut."
                ),
                Step(
                    f"Lay a straight edge over the joint faces: flat {tell_flatness(plan, joints_of(panel))}; no tool "
                    f"mark across {across} coarser than Ra "
                    f"{show_mm(drawing.roughness)} µm."
                ),
                *(
                    [_measure_grooves(plan, "no tool mark across them")]
                    if body_milled and plan.sealed.loops
                    else []
                ),
                Step(
                    "Run every thread through by hand with its own screw or fitting; blow and wash out all chips."
                ),
            ]
        ),
        *list_matters(findings, "making"),
        *(
            [Small(f"What speeds and times stand on. {' '.join(milled.assumptions)}")]
            if milled.assumptions
            else []
        ),
    ]
    return WorkSheet("Making: milling" if body_milled else "Making: covers from sheet", tuple(blocks))


def _list_checks(setup: SetUp) -> list[str]:
    """Return what is measured before a part is unclamped: depths of pockets, holes by size, threads."""
    said: list[str] = []
    groups: dict[tuple[str, str], int] = {}
    for cut in list_cuts(setup):
        key = (cut.kind, _measure(cut))
        groups[key] = groups.get(key, 0) + 1
    for (kind, measure), number in groups.items():
        said.append(f"{kind if number == 1 else count_of(number, kind)} {measure}")
    if setup.outline is not None:
        said.append(f"outline {show_mm(setup.size[0])} x {show_mm(setup.size[1])} mm")
    return said or ["all as drawn"]


def _measure(cut: Pocket | Hole) -> str:
    if isinstance(cut, Pocket):
        return f"{show_mm(cut.depth)} mm deep" if cut.top <= 0.0 else f"to {show_mm(cut.floor)} mm deep"
    deep = "through" if cut.through else f"{show_mm(cut.top + cut.depth)} mm deep"
    thread = f", {cut.thread} {show_mm(cut.thread_depth)} mm" if cut.thread else ""
    return f"Ø{show_mm(cut.diameter)} {deep}{thread}"


def printing_sheet(plan: Plan, checked: Checked, findings: tuple[Finding, ...]) -> WorkSheet:
    """Return the sheet of all parts that are printed.

    Parameters
    ----------
    plan : Plan
    checked : Checked
    findings : tuple of Finding
        All of the run.
    """
    panel = plan.panel
    parts = weigh_parts(panel, plan.detail, plan.milled, checked.volumes.by_part)
    time = time_print(plan, parts)
    blocks: list[Block] = [
        find_caution(CHIPS),
        *([find_caution(CEMENTS)] if panel.printing.process == "resin" else []),
        *(Say(make_sentence(text)) for text in tell_settings(panel)),
    ]
    if time is not None:
        blocks.append(Say(make_sentence(tell_time(time))))
    blocks.append(Heading("How the parts lie"))
    rows = []
    for part in checked.poses:
        lines = zip(pose_rows(panel, part)[1:], list_shown(part), strict=True)
        made = next(line for line, one in lines if one is part.made)
        done = describe_print(list_fits(plan), part.part)
        rows.append((part.part, part.made.pose.name, made[2], made[3], made[-1], done or "as drawn"))
    if rows:
        blocks.append(
            Grid(
                ("part", "lies", "height", "on the bed", "support", "STL and 3MF"),
                tuple(rows),
                right=(2, 3, 4),
                ticked=True,
            )
        )
        blocks.append(Say("The STL and 3MF files lie in this pose already; STEP keeps the sizes as drawn."))
    shaped = [roof for roof in plan.printed.roofs if roof.kind != "flat"] if plan.printed is not None else []
    if shaped:
        names = join_names(tuple(f"{roof.channel} ({roof.kind})" for roof in shaped))
        blocks.append(Say(f"Roofs that carry themselves, no support inside: {names}."))
    blocks += [
        Heading("When it is printed"),
        *number_steps(_list_finishing(plan)),
        *list_matters(findings, "making"),
    ]
    return WorkSheet("Making: printing", tuple(blocks))


def _list_finishing(plan: Plan) -> list[Step]:
    panel = plan.panel
    resin = panel.printing.process == "resin"
    steps = [
        Step(
            "Wash out all resin, drain every channel through its ports until the wash comes clear, then cure as the "
            "resin's maker says, light from inside the channels too where it reaches."
            if resin
            else "Take off support, outside only; inside channels nothing may be left: push a soft wire through each "
            "from port to port, and rinse until the water runs clear and free."
        )
    ]
    threads: dict[str, list[str]] = {}
    for port in plan.routed.ports:
        threads.setdefault(port.thread, []).append(port.name)
    printed = panel.printing.port_threads == "printed"
    for thread, names in threads.items():
        row = tables.thread(thread)
        listed = f"{count_of(len(names), 'port')} {thread}: {join_names(tuple(names))}"
        if printed:
            steps.append(
                Step(
                    f"Run a {thread} fitting into each printed thread by hand, {listed}; ease it with a tap."
                )
            )
        else:
            steps.append(
                Step(
                    f"Open the bore to {show_mm(row.tap_drill)} mm and tap it by hand, straight and slowly, backing "
                    f"off each turn, {listed}."
                )
            )
    if panel.make.closing == "cord":
        fit, count = fit_screw(panel), sum(len(plan.sealed.screws_of(one)) for one in ("back", "front"))
        if fit.insert is not None:
            steps.append(
                Step(
                    f"Open the {count_of(count, 'hole')} of the cover screws to {show_mm(fit.diameter)} mm, "
                    f"{show_mm(fit.depth)} mm deep; the inserts come on the assembly sheet."
                )
            )
        else:
            steps.append(
                Step(
                    f"Tap the {count_of(count, 'hole')} of the cover screws {panel.make.screw}, "
                    f"{show_mm(fit.engagement)} mm of thread."
                )
            )
        steps.append(_measure_grooves(plan, "scrape seams and blobs off their floors"))
    joined = "joint faces and pump seat" if joints_of(panel) or is_split(plan) else "the pump's seat"
    steps.append(
        Step(f"Lay a straight edge over {joined}: flat {tell_flatness(plan, joints_of(panel))}; dress them.")
    )
    return steps


def _measure_grooves(plan: Plan, more: str) -> Step:
    cord = tables.cord(plan.panel.make.cord)
    return Step(
        f"Measure the grooves: {show_mm(cord.groove_depth)} to "
        f"{show_mm(cord.groove_depth + cord.groove_depth_tolerance)} mm deep, {show_mm(cord.groove_width)} to "
        f"{show_mm(cord.groove_width + cord.groove_width_tolerance)} mm wide; {more}.",
        ("depth, mm", "width, mm"),
    )
