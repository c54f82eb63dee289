"""The program in one sentence:

    read panel -> place ports -> route -> size flow -> seal -> plan the making -> fill -> build -> check -> write

`plan_panel` goes as far as every rule that needs no solid and loads no CAD kernel; `make_panel` does all of it and
writes. Building and checking are told in `exports/check_solids.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from exports.check_solids import Checked, check_solids
from exports.stage_clock import Progress, StageClock
from exports.writing import FileRecord
from geom.errors import LayoutError
from geom.findings import Finding, accept_findings, has_fault
from layouts.clearance import clearances_of
from layouts.plan import Plan
from layouts.routing.effort import NORMAL, Effort

if TYPE_CHECKING:
    from layouts.cost.sheet import CostSheet
    from layouts.laid_out import LaidOut
    from layouts.panel import Panel

BY_PULL = ("screw.thread", "screw.head", "screw.length", "screw.torque")
"""Codes that are judged again once covers are calculated: what `check_fastening` finds."""

BY_FILLING = ("air.left", "air.carry", "drain.left", "feed.first")
"""Codes that are judged again on the finer voxels: what `check_filling` finds."""


@dataclass(frozen=True, slots=True)
class Made:
    """A whole run: `checked` is None where the plan's faults stopped it before any solid."""

    plan: Plan
    checked: Checked | None
    findings: tuple[Finding, ...]
    cost: CostSheet
    files: tuple[FileRecord, ...]


def plan_panel(
    path: str | Path,
    progress: Progress | None = None,
    seed: int = 0,
    effort: Effort = NORMAL,
    note: Callable[[str], None] | None = None,
) -> Plan:
    """Return the plan of a panel file: ports, routes, seal, flow, features, findings of the plan's rules.

    Parameters
    ----------
    path : str or Path
    progress : callable, optional
        Called with (stage, seconds) after each stage.
    seed : int
        Of the router; the same seed gives the same plan.
    effort : Effort
        How long the router may try, in counts.
    note : callable, optional
        Told in a few words what the router is at.

    Returns
    -------
    Plan
        With the file's accepted findings turned into notes.

    Raises
    ------
    PanelFileError
        A file that cannot be used.
    LayoutError
        No layout was found.
    """
    from layouts.file.read import read_panel

    clock = StageClock(progress)
    panel = read_panel(Path(path))
    clock.tell("read")
    return plan_read(panel, progress, seed, effort, note)


def plan_read(
    panel: Panel,
    progress: Progress | None = None,
    seed: int = 0,
    effort: Effort = NORMAL,
    note: Callable[[str], None] | None = None,
) -> Plan:
    """Return the plan of a panel that has been read, as `plan_panel` does.

    Parameters
    ----------
    panel : Panel
    progress : callable, optional
    seed : int
    effort : Effort
    note : callable, optional

    Returns
    -------
    Plan

    Raises
    ------
    LayoutError
        No layout was found.
    """
    return plan_laid(panel, progress, seed, effort, note)[0]


def plan_laid(
    panel: Panel,
    progress: Progress | None = None,
    seed: int = 0,
    effort: Effort = NORMAL,
    note: Callable[[str], None] | None = None,
) -> tuple[Plan, LaidOut]:
    """Return the plan of a panel as `plan_read` does, and its layout on the grid.

    Parameters
    ----------
    panel : Panel
    progress : callable, optional
    seed : int
    effort : Effort
    note : callable, optional

    Returns
    -------
    Plan
    LaidOut
        As routed: before channels are widened, and without posts and service ports.

    Raises
    ------
    LayoutError
        No layout was found.
    """
    from layouts.advise import advise_plan
    from layouts.closing.close import close_panel
    from layouts.detail import detail_panel
    from layouts.filling.examine import examine_filling
    from layouts.filling.service.service_ports import add_service_ports
    from layouts.filling.spacing import PLAN_SPACING
    from layouts.flow import size_flow
    from layouts.heat import follow_heat
    from layouts.milling.plan_milling import plan_milling
    from layouts.printing.plan_print import plan_print
    from layouts.route import lay_out
    from layouts.rules.check_plan import check_plan
    from layouts.strength.posts import add_posts
    from layouts.strength.working_pressure import hottest_coolant_c
    from layouts.tubes.lay_tubes import lay_tubes
    from layouts.widen import widen_channels

    clock = StageClock(progress)
    laid = lay_out(panel, seed, effort, note)
    routed = widen_channels(panel, laid.routed)
    clock.tell("route")
    flowing = size_flow(panel, routed)
    clock.tell("flow")
    # Posts stand in no channel's way: flow and heat are those without them.
    hottest_c = hottest_coolant_c(panel, follow_heat(panel, flowing))
    routed = add_posts(panel, routed, hottest_c)
    clock.tell("posts")
    routed = add_service_ports(panel, routed)
    clock.tell("service")
    advised = advise_plan(panel, routed, flowing)
    clock.tell("advise")
    clearances = clearances_of(panel)
    sealed = close_panel(panel, routed, clearances, hottest_c)
    clock.tell("seal")
    printed = plan_print(panel, routed, hottest_c)
    detail = detail_panel(panel, routed, sealed, clearances, printed)
    milled = plan_milling(panel, detail)
    clock.tell("making")
    filling = examine_filling(panel, routed, flowing, detail.features, PLAN_SPACING, with_tilts=False)
    clock.tell("fill")
    tubes = lay_tubes(panel, routed)
    found = check_plan(panel, routed, sealed, flowing, advised, detail, milled, printed, filling, tubes)
    clock.tell("rules")
    accepted = accept_findings(found, panel.rules.accept)
    plan = Plan(panel, routed, sealed, flowing, advised, detail, accepted, milled, printed, filling, tubes)
    return plan, laid


def join_findings(plan: Plan, checked: Checked | None) -> tuple[Finding, ...]:
    """Return the findings of a run: of its plan, without the estimates that its check has calculated, and its check.

    Parameters
    ----------
    plan : Plan
    checked : Checked or None
        None where no solids were built.
    """
    if checked is None:
        return plan.findings
    from layouts.faces import face_z

    faces = {face_z(plan.panel, bending.layer) for bending in checked.bending}
    planned = (
        finding
        for finding in plan.findings
        if not (finding.code == "cover.thick" and finding.at_mm is not None and finding.at_mm[2] in faces)
        and not (checked.bending and finding.code in BY_PULL)
        and finding.code != "print.wall"
        and not (checked.filling is not None and finding.code in BY_FILLING)
        and not (checked.poses and finding.code == "print.bridge")
    )
    return (*planned, *checked.findings)


def take_measured(plan: Plan, checked: Checked | None) -> Plan:
    """Return a plan with what its check has calculated in place of its estimates: pulls on screws, the filling.

    Parameters
    ----------
    plan : Plan
    checked : Checked or None
        None where no solids were built: the plan is then as it was.
    """
    from layouts.strength.fastening import add_pulls

    if checked is None:
        return plan
    return replace(add_pulls(plan, checked.bending), filling=checked.filling or plan.filling)


def make_panel(
    path: str | Path,
    out: str | Path,
    progress: Progress | None = None,
    seed: int = 0,
    effort: Effort = NORMAL,
    note: Callable[[str], None] | None = None,
) -> Made:
    """Plan, build, check and write a panel.

    A fault stops the export: then only the report, the cost sheet and the pictures are written, those of the set-ups
    among them, and where solids were built those of the bow and of the print; the panel itself is only pictured in
    report.html. Faults of the plan stop the run before any solid. Where no routing was found the report and a picture
    tell why, before the error is raised.

    Parameters
    ----------
    path : str or Path
        Panel file.
    out : str or Path
        Target folder.
    progress : callable, optional
        Called with (stage, seconds) after each stage.
    seed : int
        Of the router.
    effort : Effort
        How long the router may try, in counts.
    note : callable, optional
        Told in a few words what the router is at.

    Returns
    -------
    Made

    Raises
    ------
    RillplateError
        A file, a layout, a solid or a folder that could not be; nothing is then written, but for a layout's
        failure.
    """
    from exports.written_files import write_failure

    try:
        plan = plan_panel(path, progress, seed, effort, note)
    except LayoutError as error:
        if error.failure is not None:
            write_failure(error.failure, Path(out))
        raise
    checked = None if has_fault(plan.findings) else check_solids(plan, progress, seed, effort)
    return write_checked(plan, checked, out, progress)


def write_checked(
    plan: Plan, checked: Checked | None, out: str | Path, progress: Progress | None = None
) -> Made:
    """Write a panel that has been planned and checked, as `make_panel` does.

    Parameters
    ----------
    plan : Plan
    checked : Checked or None
        None where the plan's faults stopped it before any solid.
    out : str or Path
        Target folder.
    progress : callable, optional
        Called with (stage, seconds) after each stage.

    Returns
    -------
    Made

    Raises
    ------
    OutputError
        Where the folder cannot be written; it is then as it was.
    """
    from exports.written_files import write_made
    from layouts.cost.quantities import cost_sheet

    findings = join_findings(plan, checked)
    plan = take_measured(plan, checked)
    clock = StageClock(progress)
    cost = cost_sheet(plan, {} if checked is None else checked.volumes.by_part)
    files = write_made(plan, checked, findings, cost, Path(out))
    clock.tell("write")
    return Made(plan, checked, findings, cost, files)
