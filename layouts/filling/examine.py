"""How a panel fills, bleeds and drains, from its features: all of it, in one call."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from geom.features import Feature
from geom.wet.raster import raster_wet
from layouts.filling.bleed_order import order_bleeding
from layouts.filling.drain_order import order_draining
from layouts.filling.fill_steps import fill_in_steps
from layouts.filling.left import add_untold, find_air, find_left_pockets, mark_shut
from layouts.filling.moved_ports import try_moves
from layouts.filling.moving_air import find_carries, find_locked_bores
from layouts.filling.openings import find_openings, tank_voxels
from layouts.filling.pocket_remedies import Trials, add_reliefs
from layouts.filling.service.proposals import propose_ports
from layouts.filling.spacing import PLAN_SPACING
from layouts.filling.tilts import FEW_DEGREES, look_at_tilts, map_tilts
from layouts.filling.values import Filling
from layouts.panel import Panel
from layouts.plan import Flowing, Routed


def examine_filling(
    panel: Panel,
    routed: Routed,
    flowing: Flowing,
    features: Sequence[Feature],
    spacing: float,
    with_tilts: bool,
    lay_out: Callable[[Panel], Routed] | None = None,
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
    lay_out : callable or None
        Lays a changed panel out anew, as this one was; None: no port is moved, for that is too much for a plan.
    """
    voxels = raster_wet(features, spacing)
    openings = find_openings(panel, routed, features, voxels)
    tank = tank_voxels(voxels)
    left, air, coolant = find_left_pockets(voxels, openings, panel.up, tank)
    coarse = voxels if spacing == PLAN_SPACING else raster_wet(features, PLAN_SPACING)
    mouths = openings if coarse is voxels else find_openings(panel, routed, features, coarse)
    inside = tank_voxels(coarse)
    tilts = map_tilts(panel, routed, coarse, mouths, inside) if with_tilts else None
    proposals = propose_ports(panel, routed, voxels, openings, air, coolant)
    trials = Trials(
        lambda: tilts or map_tilts(panel, routed, coarse, mouths, inside, FEW_DEGREES),
        lambda: look_at_tilts(panel, routed, coarse, mouths, inside),
        lambda pocket: () if lay_out is None else try_moves(panel, routed, pocket, left.air_mm3, lay_out),
    )
    told = add_reliefs(panel, routed, voxels, openings, left, air, coolant, proposals, trials)
    told = add_untold(told, coarse, mouths, inside)
    carries, locked = find_carries(panel, routed, flowing), find_locked_bores(panel, routed)
    if coarse is voxels:
        sequence = fill_in_steps(panel, routed, voxels, openings, air.number >= 0)
    else:
        stays = find_air(coarse, mouths, coarse.elevations(panel.up), inside).number >= 0
        sequence = fill_in_steps(panel, routed, voxels, openings, air.number >= 0, (coarse, mouths, stays))
    if sequence is not None and sequence.may_run_ml is None:
        none = np.zeros(voxels.count, bool)
        told = mark_shut(told, voxels, sequence.steps[-1].wet if sequence.steps else none)
    return Filling(
        told,
        sequence,
        carries=carries,
        locked=locked,
        bleed_order=order_bleeding(panel, routed, carries, told, locked, tilts, sequence, openings),
        drain_order=order_draining(panel, routed, told, proposals),
        proposals=proposals,
        tilts=tilts,
    )
