"""The poses in which a part was tried: what each asks of the printer, and which is better."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from geom.printing.hollows import Cup
from geom.printing.measured import PoseMeasure, Roof, is_wide
from layouts.printing.printed import Pose

STEP_MM2 = 100.0
"""Areas are compared in whole square centimetres: less is no reason to lay a part otherwise."""

WEIGHTY = 4
"""So many of what poses are compared by, the first ones, tell whether a part prints: its fit, and its roofs inside."""

LEAST_ROOF_MM = 2.0
"""Roofs inside that are narrower are not counted: a bead to either side closes them; common practice, no source."""


@dataclass(frozen=True, slots=True)
class TriedPose:
    """A pose, what was measured in it, and whether the part so laid fits the printer.

    `cups` are the hollows that liquid resin is sucked in, the widest first; none in filament.
    """

    pose: Pose
    measure: PoseMeasure
    fits: bool
    cups: tuple[Cup, ...] = ()


@dataclass(frozen=True, slots=True)
class RoofPlace:
    """A place named: a roof or an island, and the features whose hollow lies under it."""

    at: tuple[float, float, float]
    features: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PartPoses:
    """A printed part in all poses that were tried.

    Parameters
    ----------
    part : str
        The blank's name.
    made : TriedPose
        The pose that it is made for.
    tried : tuple of TriedPose
        All, the best first.
    named : tuple of RoofPlace
        The roofs and islands of `made`, with the features under them.
    """

    part: str
    made: TriedPose
    tried: tuple[TriedPose, ...]
    named: tuple[RoofPlace, ...] = ()

    def features_at(self, at: tuple[float, float, float]) -> tuple[str, ...]:
        """Return the features under a roof or an island of the pose that the part is made for."""
        return next((place.features for place in self.named if place.at == at), ())


def wide_roofs(measure: PoseMeasure, bridge: float) -> tuple[Roof, ...]:
    """Return the roofs inside that are wider than a bridge, widest first.

    Parameters
    ----------
    measure : PoseMeasure
    bridge : float
        [mm]
    """
    return tuple(roof for roof in measure.roofs if roof.inside and is_wide(roof.span, bridge))


def rank_poses(tried: tuple[TriedPose, ...], bridge: float) -> tuple[TriedPose, ...]:
    """Return poses, the best first by `weigh_pose`; equals keep their order.

    Parameters
    ----------
    tried : tuple of TriedPose
    bridge : float
        Widest roof that prints without support, [mm].
    """
    return tuple(sorted(tried, key=lambda one: pose_rank(one, bridge)))


def pose_rank(one: TriedPose, bridge: float) -> tuple[float, ...]:
    """Return what poses are compared by, as measured.

    Parameters
    ----------
    one : TriedPose
    bridge : float
        [mm]
    """
    measure = one.measure
    wide = wide_roofs(measure, bridge)
    spans = tuple(roof.span for roof in wide)
    return weigh_pose(
        one.fits,
        spans,
        measure.stands,
        measure.support_mm2,
        measure.height,
        len(one.cups) + len(measure.islands),
        math.fsum(roof.area for roof in wide),
    )


def weigh_pose(
    fits: bool,
    spans: Sequence[float],
    stands: bool,
    support_mm2: float,
    height: float,
    faults: int = 0,
    roofs_mm2: float = 0.0,
) -> tuple[float, ...]:
    """Return what poses are compared by, the weightiest first; less is better.

    Parameters
    ----------
    fits : bool
        Whether the part so laid fits the printer.
    spans : sequence of float
        Of the roofs inside that are wider than a bridge, [mm]: first narrower ones, in whole millimetres, as a wide one
        falls in where some that are hardly too wide sag; then fewer.
    stands : bool
        Whether it stands by itself.
    support_mm2 : float
        Support outside, [mm2], in whole square centimetres.
    height : float
        [mm]
    faults : int
        Layers that start in the air, and hollows that suck at each peel; those are known of solids only. They weigh
        more than how it stands.
    roofs_mm2 : float
        Area of those roofs, [mm2], which weighs more than their count; known of solids only.
    """
    return (
        float(not fits),
        float(round(max(spans, default=0.0))),
        float(round(roofs_mm2 / STEP_MM2)),
        float(len(spans)),
        float(faults),
        float(not stands),
        float(round(support_mm2 / STEP_MM2)),
        round(height, 1),
    )
