"""The program in one sentence:

    read panel -> place ports -> route -> size flow -> seal -> plan the making -> fill -> build -> check -> write

`plan_panel` goes as far as every rule that needs no solid and loads no CAD kernel; `check_solids` builds and
measures; `make_panel` does all of it and writes.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from exports.writing import FileRecord
from geom.errors import GeometryError, LayoutError
from geom.findings import Finding, accept_findings, has_fault
from layouts.clearance import clearances_of
from layouts.plan import Plan, Routed
from layouts.routing.effort import NORMAL, Effort

if TYPE_CHECKING:
    import trimesh

    from exports.print_meshes import PrintMesh
    from geom.build import Solids
    from geom.measured import Wall
    from geom.rebuild import Models
    from geom.volume import Volumes
    from layouts.cost.sheet import CostSheet
    from layouts.filling.values import Filling
    from layouts.panel import Panel
    from layouts.printing.tried import PartPoses
    from layouts.strength.results import CoverBending
    from layouts.tolerances.walls import WorstWall

DRY_WALL_MM = 1.0
"""Least solid between two dry features, [mm]; common practice, no source."""

BY_PULL = ("screw.thread", "screw.head", "screw.length", "screw.torque")
"""Codes that are judged again once covers are calculated: what `check_fastening` finds."""

BY_FILLING = ("air.left", "air.carry", "drain.left", "feed.first")
"""Codes that are judged again on the finer voxels: what `check_filling` finds."""

Progress = Callable[[str, float], None]
"""Called after each stage with its name and the seconds it took."""


@dataclass(frozen=True, slots=True)
class Checked:
    """The solids and what was measured on them; `thinnest` is the thinnest wall beside coolant.

    `bending` is how each cover on a cord bends, empty where there is none; `worst` are the walls that general
    tolerances may make too thin, and those near their limit, at their worst; `poses` how each printed part lies in
    the poses that were tried, `prints` their meshes as they are printed; `filling` how the panel fills and drains on
    fine voxels and in all tilts.
    """

    solids: Solids
    meshes: dict[str, trimesh.Trimesh]
    wet_mesh: trimesh.Trimesh
    volumes: Volumes
    thinnest: Wall | None
    findings: tuple[Finding, ...]
    bending: tuple[CoverBending, ...] = ()
    worst: tuple[WorstWall, ...] = ()
    poses: tuple[PartPoses, ...] = ()
    prints: tuple[PrintMesh, ...] = ()
    filling: Filling | None = None


@dataclass(frozen=True, slots=True)
class Made:
    """A whole run: `checked` is None where the plan's faults stopped it before any solid."""

    plan: Plan
    checked: Checked | None
    findings: tuple[Finding, ...]
    cost: CostSheet
    files: tuple[FileRecord, ...]


class _Clock:
    """Tells the progress callback how long each stage took."""

    def __init__(self, progress: Progress | None) -> None:
        self._progress = progress
        self._last = time.perf_counter()

    def tell(self, stage: str) -> None:
        now = time.perf_counter()
        if self._progress is not None:
            self._progress(stage, now - self._last)
        self._last = now


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

    clock = _Clock(progress)
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
    from layouts.route import route_panel
    from layouts.rules.check_plan import check_plan
    from layouts.strength.posts import add_posts
    from layouts.strength.working_pressure import hottest_coolant_c
    from layouts.tubes.lay_tubes import lay_tubes
    from layouts.widen import widen_channels

    clock = _Clock(progress)
    routed = widen_channels(panel, route_panel(panel, seed, effort, note))
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
    return Plan(panel, routed, sealed, flowing, advised, detail, accepted, milled, printed, filling, tubes)


def check_solids(
    plan: Plan, progress: Progress | None = None, seed: int = 0, effort: Effort = NORMAL
) -> Checked:
    """Return the solids of a plan, measured.

    Parameters
    ----------
    plan : Plan
    progress : callable, optional
        Called with (stage, seconds) after each stage.
    seed : int
    effort : Effort
        With which the plan was routed: what is tried as a remedy is routed so too.

    Returns
    -------
    Checked
        Its findings are those of the solids alone, with the file's accepted ones turned into notes.

    Raises
    ------
    GeometryError
        A solid that did not come out as its features say.
    """
    clock = _Clock(progress)
    from exports.pose_search import search_poses
    from exports.print_meshes import check_prints, make_print_meshes, measured_to
    from geom.build import build_solids
    from geom.rebuild import rebuild_features
    from geom.skins import check_meshes
    from geom.tessellate import LINEAR_MM, THIN_LINEAR_MM, mesh_closely
    from geom.volume import check_pieces, check_volumes, measure_volumes
    from geom.walls import MESH_MM, check_walls, find_thin_spots, measure_walls, thinnest
    from layouts.closing.wet_regions import group_wet
    from layouts.filling.examine import examine_filling
    from layouts.filling.spacing import CHECK_SPACING
    from layouts.rules.filling_rules import check_filling
    from layouts.rules.pose_rules import check_poses
    from layouts.rules.tolerance_rules import check_tolerance_walls
    from layouts.tolerances.walls import thickest_at_risk, worst_walls

    clock.tell("load kernel")
    solids = build_solids(plan.detail)
    clock.tell("build")
    sheets = {blank.name for blank in plan.detail.blanks}
    meshes = {}
    for part in solids.parts:
        kind, linear = ("part", LINEAR_MM) if part.name in sheets else ("insert", THIN_LINEAR_MM)
        meshes[part.name] = mesh_closely(part.solid, solids.volumes[f"{kind} {part.name}"], linear)
    wet_mesh = mesh_closely(solids.wet, solids.volumes["wet"])
    clock.tell("mesh")
    limit = plan.panel.rules.least_wall
    dry_limit = min(DRY_WALL_MM, limit)
    models = rebuild_features(solids)
    asked = thickest_at_risk(plan).at_least(measured_to(plan))
    walls = measure_walls(plan.detail, solids, limit, dry_limit, models, asked)
    # A wall over its limit explains no thin spot.
    near = tuple(wall for wall in walls if wall.thickness < wall.limit + MESH_MM)
    spots = find_thin_spots(solids, meshes, near, limit, dry_limit, models)
    worst = worst_walls(plan, walls)
    clock.tell("walls")
    volumes = measure_volumes(plan.detail, solids, meshes, wet_mesh, models)
    shapes = {part.name: part.solid for part in solids.parts}
    torn = check_meshes({**meshes, "coolant": wet_mesh}, {**shapes, "coolant": solids.wet})
    # What is torn is a fault by itself; no more is asked of it.
    named = {name for finding in torn for name in finding.features}
    whole = {} if "coolant" in named else {name: mesh for name, mesh in meshes.items() if name not in named}
    found = (
        *check_walls(walls, spots),
        *check_tolerance_walls(plan.panel, worst),
        *check_volumes(volumes),
        *torn,
        *check_pieces(solids, len(group_wet(plan.panel, plan.routed))),
        *_look_for_feathers(plan, solids, meshes, models),
        *check_prints(plan, whole, walls),
    )
    clock.tell("volumes")
    filling = examine_filling(
        plan.panel,
        plan.routed,
        plan.flowing,
        plan.detail.features,
        CHECK_SPACING,
        with_tilts=True,
        lay_out=lambda panel: _lay_out(panel, seed, effort),
    )
    filled = check_filling(plan.panel, plan.routed, filling)
    clock.tell("fill")
    bending, bent = _bend_covers(plan)
    clock.tell("cover")
    poses = search_poses(plan, whole, wet_mesh, models)
    clock.tell("poses")
    prints = make_print_meshes(plan, whole)
    clock.tell("print meshes")
    accepted = accept_findings(
        (*found, *filled, *bent, *check_poses(plan.panel, plan.routed, plan.printed, poses)),
        plan.panel.rules.accept,
    )
    thin = thinnest(walls)
    return Checked(solids, meshes, wet_mesh, volumes, thin, accepted, bending, worst, poses, prints, filling)


def _lay_out(panel: Panel, seed: int, effort: Effort) -> Routed:
    """Return a changed panel laid out as `plan_panel` does it."""
    from layouts.filling.service.service_ports import add_service_ports
    from layouts.flow import size_flow
    from layouts.heat import follow_heat
    from layouts.route import route_panel
    from layouts.strength.posts import add_posts
    from layouts.strength.working_pressure import hottest_coolant_c
    from layouts.widen import widen_channels

    routed = widen_channels(panel, route_panel(panel, seed, effort))
    hottest_c = hottest_coolant_c(panel, follow_heat(panel, size_flow(panel, routed)))
    return add_service_ports(panel, add_posts(panel, routed, hottest_c))


def _look_for_feathers(
    plan: Plan, solids: Solids, meshes: dict[str, trimesh.Trimesh], models: Models
) -> tuple[Finding, ...]:
    """Return what is found of the feather edges of milled parts."""
    from geom.feather import find_feathers, name_feathers
    from layouts.printing.process import is_printed
    from layouts.rules.feather_rules import FEATHER_DEG, check_feathers

    sheets = [blank.name for blank in plan.detail.blanks]
    found: list[Finding] = []
    for name in (name for name in sheets if not is_printed(plan.panel, name)):
        feathers = find_feathers(solids.part(name), meshes[name], FEATHER_DEG)
        found += check_feathers(plan.panel, name, name_feathers(models, feathers))
    return tuple(found)


def _bend_covers(plan: Plan) -> tuple[tuple[CoverBending, ...], tuple[Finding, ...]]:
    """Return how the covers on cords bend, with the findings; a cover that cannot be calculated is one of these."""
    from layouts.faces import joints_of
    from layouts.rules.cover_rules import check_bending, tell_unbent
    from layouts.rules.fastening_rules import check_fastening
    from layouts.strength.cover import bend_cover
    from layouts.strength.fastening import add_pulls

    bendings, unbent = [], []
    for layer in joints_of(plan.panel):
        try:
            bending = bend_cover(plan, layer)
        except GeometryError as error:
            unbent.append(tell_unbent(error, layer))
            continue
        if bending is not None:
            bendings.append(bending)
    found = (*unbent, *check_bending(plan, tuple(bendings)))
    if bendings:
        pulled = add_pulls(plan, tuple(bendings))
        found += check_fastening(plan.panel, plan.routed, pulled.sealed, plan.detail, plan.advised)
    return tuple(bendings), found


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
    from exports.written_files import write_failure, write_made
    from layouts.cost.quantities import cost_sheet
    from layouts.strength.fastening import add_pulls

    try:
        plan = plan_panel(path, progress, seed, effort, note)
    except LayoutError as error:
        if error.failure is not None:
            write_failure(error.failure, Path(out))
        raise
    checked = None if has_fault(plan.findings) else check_solids(plan, progress, seed, effort)
    findings = join_findings(plan, checked)
    if checked is not None:
        plan = replace(add_pulls(plan, checked.bending), filling=checked.filling or plan.filling)
    clock = _Clock(progress)
    cost = cost_sheet(plan, {} if checked is None else checked.volumes.by_part)
    files = write_made(plan, checked, findings, cost, Path(out))
    clock.tell("write")
    return Made(plan, checked, findings, cost, files)
