"""Every printed part measured in every pose that is tried."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from exports.print_meshes import list_fits
from geom.printing.overhangs import measure_pose
from geom.printing.owners import find_owners
from geom.printing.survey import PartSurvey, survey_part
from layouts.faces import cover_name, joints_of
from layouts.plan import Plan
from layouts.printing.poses import list_poses
from layouts.printing.printed import Pose, Vec
from layouts.printing.process import PrintProcess, process_of
from layouts.printing.tried import PartPoses, RoofPlace, TriedPose, fits_room, rank_poses

if TYPE_CHECKING:
    import trimesh

    from geom.rebuild import Models

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
        Empty for a milled panel. Covers are tried lying flat only.
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
        survey = survey_part(meshes[fit.part], wet_mesh)
        if fit.part in covers and fit.up is not None:
            found.append(_try_poses(plan, fit.part, survey, _pose_along(flat, fit.up), flat, models))
        else:
            found.append(_try_poses(plan, fit.part, survey, plan.printed.pose, poses, models))
    return tuple(found)


def _try_poses(
    plan: Plan, part: str, survey: PartSurvey, made: Pose, poses: tuple[Pose, ...], models: Models
) -> PartPoses:
    process = process_of(plan.panel)
    others = tuple(pose for pose in poses if not _are_one(pose.up, made.up))
    # The pose that it is made for comes first: where another is only as good, it stays.
    tried = tuple(_try(plan, survey, pose, process) for pose in (made, *others))
    first = tried[0]
    down = (-first.measure.up[0], -first.measure.up[1], -first.measure.up[2])
    places = (*(roof.at for roof in first.measure.roofs), *first.measure.islands)
    named = tuple(RoofPlace(at, find_owners(models, at, down)) for at in places)
    return PartPoses(part, first, rank_poses(tried, process.bridge), named)


def _try(plan: Plan, survey: PartSurvey, pose: Pose, process: PrintProcess) -> TriedPose:
    measure = measure_pose(
        survey, pose.up, process.overhang_deg, process.bridge, process.line_width, process.layer
    )
    return TriedPose(pose, measure, fits_room(measure.footprint, measure.height, plan.panel.make.room))


def _are_one(a: Vec, b: Vec) -> bool:
    return sum(x * y for x, y in zip(a, b, strict=True)) > SAME_WAY


def _pose_along(poses: tuple[Pose, ...], up: Vec) -> Pose:
    return next(pose for pose in poses if _are_one(pose.up, up))
