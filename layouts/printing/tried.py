"""The poses in which a part was tried: what each asks of the printer, and which is better."""

from __future__ import annotations

from dataclasses import dataclass

from geom.frame import SAME_MM
from geom.printing.measured import PoseMeasure, Roof
from layouts.printing.printed import Pose

ROUND_MM = 0.05
"""A roof as wide as the limit is no wider: what its largest circle is off."""

STEP_MM2 = 100.0
"""Supports are compared in whole square centimetres: less is no reason to lay a part otherwise."""


@dataclass(frozen=True, slots=True)
class TriedPose:
    """A pose, what was measured in it, and whether the part so laid fits the printer."""

    pose: Pose
    measure: PoseMeasure
    fits: bool


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
    return tuple(roof for roof in measure.roofs if roof.inside and roof.span > bridge + ROUND_MM)


def rank_poses(tried: tuple[TriedPose, ...], bridge: float) -> tuple[TriedPose, ...]:
    """Return poses, the best first.

    Parameters
    ----------
    tried : tuple of TriedPose
    bridge : float
        Widest roof that prints without support, [mm].

    Returns
    -------
    tuple of TriedPose
        First by whether the part fits, then by the fewest and narrowest roofs inside over the bridge, islands,
        whether it stands, support outside in whole cm2, height. Equals keep their order.
    """
    return tuple(sorted(tried, key=lambda one: pose_rank(one, bridge)))


def pose_rank(one: TriedPose, bridge: float) -> tuple[float, ...]:
    """Return what poses are compared by, the weightiest first; less is better.

    Parameters
    ----------
    one : TriedPose
    bridge : float
        [mm]
    """
    wide = wide_roofs(one.measure, bridge)
    return (
        float(not one.fits),
        float(len(wide)),
        round(max((roof.span for roof in wide), default=0.0), 1),
        float(len(one.measure.islands)),
        float(not one.measure.stands),
        float(round(one.measure.support_mm2 / STEP_MM2)),
        round(one.measure.height, 1),
    )


def fits_room(footprint: tuple[float, float], height: float, room: tuple[float, float, float] | None) -> bool:
    """Return whether a part fits the printer, turned on the bed by quarter turns.

    Parameters
    ----------
    footprint : (float, float)
        Sides of the box round it on the bed, long and short, [mm].
    height : float
        [mm]
    room : (float, float, float) or None
        The printer's travel, its height last, [mm]; None: unknown, it fits.

    Returns
    -------
    bool
    """
    if room is None:
        return True
    long, short = footprint
    return (
        height <= room[2] + SAME_MM and long <= max(room[:2]) + SAME_MM and short <= min(room[:2]) + SAME_MM
    )
