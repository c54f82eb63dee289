"""How a panel fills, bleeds and drains, from its features: all of it, in one call."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from geom.features import Feature
from geom.wet.raster import raster_wet
from geom.wet.voxels import WetVoxels
from layouts.filling.bleed_order import order_bleeding
from layouts.filling.fill_steps import fill_in_steps
from layouts.filling.left import find_left_pockets
from layouts.filling.moved_ports import try_moves
from layouts.filling.moving_air import find_carries, find_locked_bores
from layouts.filling.openings import find_openings
from layouts.filling.pocket_remedies import add_reliefs, channels_of
from layouts.filling.proposals import propose_ports
from layouts.filling.tilts import FEW_DEGREES, map_tilts
from layouts.filling.values import Filling, TiltMap
from layouts.panel import Panel
from layouts.plan import Flowing, Routed

PLAN_SPACING = 1.0
"""Side of the voxels that a plan is looked at with, [mm]."""

CHECK_SPACING = 0.5
"""Side of those that the made panel is, [mm]."""

TILT_SPACING = 1.0
"""Side of those that all tilts are looked at with, [mm]."""


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
    tank = _find_tank(voxels)
    left, air, coolant = find_left_pockets(voxels, openings, panel.up, tank)
    tilts = _map_tilts(panel, routed, features) if with_tilts else None
    proposals = propose_ports(panel, routed, voxels, openings)
    told = add_reliefs(
        routed,
        voxels,
        openings,
        left,
        air,
        coolant,
        proposals,
        lambda: tilts or map_tilts(panel, routed, voxels, openings, tank, FEW_DEGREES),
        # Each try is a routing, too much for a plan.
        lambda pocket: (
            try_moves(panel, routed, pocket, channels_of(routed, pocket), left.air_mm3) if with_tilts else ()
        ),
    )
    carries, locked = find_carries(panel, routed, flowing), find_locked_bores(panel, routed)
    return Filling(
        told,
        fill_in_steps(panel, routed, voxels, openings, air.number >= 0),
        carries=carries,
        locked=locked,
        bleed_order=order_bleeding(panel, routed, carries, left, locked, tilts),
        proposals=proposals,
        tilts=tilts,
    )


def _find_tank(voxels: WetVoxels) -> np.ndarray:
    """Return which voxels lie in the pocket tank, (n,) bool."""
    return np.asarray(np.array([name == "tank" for name in voxels.names])[voxels.owner])


def _map_tilts(panel: Panel, routed: Routed, features: Sequence[Feature]) -> TiltMap:
    voxels = raster_wet(features, TILT_SPACING)
    return map_tilts(
        panel, routed, voxels, find_openings(panel, routed, features, voxels), _find_tank(voxels)
    )
