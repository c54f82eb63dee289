"""The solids of a plan: built and meshed by `build_meshes`, built and measured by `check_solids`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from exports.stage_clock import Progress, StageClock
from geom.errors import GeometryError
from geom.findings import Finding, accept_findings
from layouts.plan import Plan, Routed
from layouts.routing.effort import NORMAL, Effort

if TYPE_CHECKING:
    import trimesh

    from exports.print_meshes import PrintMesh
    from geom.build import Solids
    from geom.measured import Wall
    from geom.rebuild import Models
    from geom.volume import Volumes
    from layouts.filling.values import Filling
    from layouts.panel import Panel
    from layouts.printing.tried import PartPoses
    from layouts.strength.results import CoverBending
    from layouts.tolerances.walls import WorstWall

DRY_WALL_MM = 1.0
"""Least solid between two dry features, [mm]; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Built:
    """The solids and their meshes, each part's by its name: nothing is measured yet."""

    solids: Solids
    meshes: dict[str, trimesh.Trimesh]
    wet_mesh: trimesh.Trimesh


@dataclass(frozen=True, slots=True)
class Checked(Built):
    """The solids and what was measured on them; `thinnest` is the thinnest wall beside coolant.

    `bending` is how each cover on a cord bends, empty where there is none; `worst` are the walls that general
    tolerances may make too thin, and those near their limit, at their worst; `poses` how each printed part lies in
    the poses that were tried, `prints` their meshes as they are printed; `filling` how the panel fills and drains on
    fine voxels and in all tilts.
    """

    volumes: Volumes
    thinnest: Wall | None
    findings: tuple[Finding, ...]
    bending: tuple[CoverBending, ...] = ()
    worst: tuple[WorstWall, ...] = ()
    poses: tuple[PartPoses, ...] = ()
    prints: tuple[PrintMesh, ...] = ()
    filling: Filling | None = None


def build_meshes(plan: Plan, progress: Progress | None = None) -> Built:
    """Return the solids of a plan and their meshes.

    Parameters
    ----------
    plan : Plan
    progress : callable, optional
        Called with (stage, seconds) after each stage.

    Returns
    -------
    Built

    Raises
    ------
    GeometryError
        A solid that did not come out as its features say.
    """
    from geom.build import build_solids
    from geom.tessellate import LINEAR_MM, THIN_LINEAR_MM, mesh_closely

    clock = StageClock(progress)
    solids = build_solids(plan.detail)
    clock.tell("build")
    sheets = {blank.name for blank in plan.detail.blanks}
    meshes = {}
    for part in solids.parts:
        kind, linear = ("part", LINEAR_MM) if part.name in sheets else ("insert", THIN_LINEAR_MM)
        meshes[part.name] = mesh_closely(part.solid, solids.volumes[f"{kind} {part.name}"], linear)
    wet_mesh = mesh_closely(solids.wet, solids.volumes["wet"])
    clock.tell("mesh")
    return Built(solids, meshes, wet_mesh)


def check_solids(
    plan: Plan,
    progress: Progress | None = None,
    seed: int = 0,
    effort: Effort = NORMAL,
    built: Built | None = None,
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
    built : Built, optional
        What `build_meshes` made of this plan; built here unless given.

    Returns
    -------
    Checked
        Its findings are those of the solids alone, with the file's accepted ones turned into notes.

    Raises
    ------
    GeometryError
        A solid that did not come out as its features say.
    """
    clock = StageClock(progress)
    from exports.pose_search import search_poses
    from exports.print_meshes import check_prints, make_print_meshes, measured_to
    from geom.rebuild import rebuild_features
    from geom.skins import check_meshes
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
    built = build_meshes(plan, progress) if built is None else built
    solids, meshes, wet_mesh = built.solids, built.meshes, built.wet_mesh
    clock.start()
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
