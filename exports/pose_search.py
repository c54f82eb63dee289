"""Every printed part measured in every pose that is tried."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from exports.print_meshes import list_fits
from geom.frame import Vec
from geom.owners import find_owners
from geom.printing.find_hollows import find_cups
from geom.printing.overhangs import measure_pose
from geom.printing.part_skin import STEP_OFF_MM, PartSkin, survey_skin
from layouts.faces import cover_name, joints_of
from layouts.plan import Plan
from layouts.printing.poses import list_poses
from layouts.printing.printed import Pose
from layouts.printing.printer_room import find_scale, fits_room
from layouts.printing.process import PrintProcess, process_of
from layouts.printing.tried import PartPoses, RoofPlace, TriedPose, rank_poses
from layouts.rules.cup_rules import CUP_AREA, CUP_DEPTH

if TYPE_CHECKING:
    import trimesh

    from geom.rebuild import Models

GRAIN_MM = 0.01
"""How far round a place in a hollow its feature is looked for."""

SAME_WAY = 1 - 1e-9
"""Cosine from which two directions are one."""


def search_poses(
    plan: Plan, meshes: Mapping[str, trimesh.Trimesh], wet_mesh: trimesh.Trimesh, models: Models
) -> tuple[PartPoses, ...]:
    """Return how each printed part lies in each pose that is tried, the best first.

    Parameters
    ----------
    plan : Plan
    meshes : mapping of str to trimesh.Trimesh
        Those of the parts, [mm].
    wet_mesh : trimesh.Trimesh
        The coolant's.
    models : mapping of str to tuple of manifold3d.Manifold
        The features, to name places by.

    Returns
    -------
    tuple of PartPoses
        Empty for a milled panel. Covers are tried lying flat only, and as they are made.
    """
    if plan.printed is None:
        return ()
    poses = list_poses(plan.panel)
    flat = tuple(pose for pose in poses if pose.tilt_deg == 0 and abs(pose.up[2]) > SAME_WAY)
    covers = {cover_name(layer) for layer in joints_of(plan.panel)}
    found = []
    for fit in list_fits(plan):
        if fit.part not in meshes:
            continue
        surveyed = _Surveyed(fit.part, meshes[fit.part], survey_skin(meshes[fit.part], wet_mesh))
        if fit.part in covers:
            found.append(_try_poses(plan, surveyed, _pose_along(poses, fit.up), flat, models))
        else:
            found.append(_try_poses(plan, surveyed, plan.printed.pose, poses, models))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Surveyed:
    """A part's mesh, and what of its skin no pose changes."""

    part: str
    mesh: trimesh.Trimesh
    skin: PartSkin


def _try_poses(
    plan: Plan, surveyed: _Surveyed, made: Pose, poses: tuple[Pose, ...], models: Models
) -> PartPoses:
    process = process_of(plan.panel)
    others = tuple(pose for pose in poses if not _are_one(pose.up, made.up))
    # The pose that it is made for comes first: where another is only as good, it stays.
    tried = tuple(_try(plan, surveyed, pose, process) for pose in (made, *others))
    first = tried[0]
    places = (*(roof.at for roof in first.measure.roofs), *first.measure.islands)
    named = tuple(RoofPlace(at, find_owners(models, _under(at, first.measure.up), GRAIN_MM)) for at in places)
    return PartPoses(surveyed.part, first, rank_poses(tried, process.bridge), named)


def _try(plan: Plan, surveyed: _Surveyed, pose: Pose, process: PrintProcess) -> TriedPose:
    nominal = measure_pose(
        surveyed.skin, pose.up, process.overhang_deg, process.bridge, process.line_width, process.layer
    )
    long, short = nominal.footprint
    scale = find_scale(plan.panel)
    measure = replace(nominal, height=scale * nominal.height, footprint=(scale * long, scale * short))
    fits = fits_room(measure.footprint, measure.height, plan.panel.make.room)
    cups = find_cups(surveyed.mesh, pose.up, CUP_AREA, CUP_DEPTH) if process.name == "resin" else ()
    return TriedPose(pose, measure, fits, cups)


def _under(at: Vec, up: Vec) -> Vec:
    """Return the place in the hollow just under a roof."""
    x, y, z = (a - STEP_OFF_MM * u for a, u in zip(at, up, strict=True))
    return x, y, z


def _are_one(a: Vec, b: Vec) -> bool:
    return sum(x * y for x, y in zip(a, b, strict=True)) > SAME_WAY


def _pose_along(poses: tuple[Pose, ...], up: Vec) -> Pose:
    return next(pose for pose in poses if _are_one(pose.up, up))
