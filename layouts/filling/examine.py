"""How a panel fills, bleeds and drains, from its features: all of it, in one call."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from geom.features import Feature
from geom.wet.raster import raster_wet
from layouts.filling.left import find_left
from layouts.filling.openings import find_openings
from layouts.filling.values import Filling
from layouts.panel import Panel
from layouts.plan import Flowing, Routed

PLAN_SPACING = 1.0
"""Side of the voxels that a plan is looked at with, [mm]."""

CHECK_SPACING = 0.5
"""Side of those that the made panel is, [mm]."""


def examine_filling(
    panel: Panel,
    routed: Routed,
    flowing: Flowing,
    features: Sequence[Feature],
    spacing: float,
    with_tilts: bool,
) -> Filling:
    """Return how a panel fills, bleeds and drains.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    flowing : Flowing
    features : sequence of Feature
    spacing : float
        Side of the voxels, [mm].
    with_tilts : bool
        Whether all tilts are looked at too.
    """
    voxels = raster_wet(features, spacing)
    openings = find_openings(panel, routed, features, voxels)
    tank = np.array([name == "tank" for name in voxels.names])[voxels.owner]
    return Filling(find_left(voxels, openings, panel.up, tank))
