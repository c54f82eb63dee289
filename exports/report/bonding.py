"""The report's section on bonded covers: lands, pull, squeezed-out adhesive, clamps, cautions."""

from __future__ import annotations

from typing import Any

from exports.wording.figures import round_plain
from geom.standards import tables
from layouts.closing.bond import (
    channel_loss,
    clamp_forces,
    clamp_pressure,
    mean_pull,
    rim_pull,
    squeezed_ml,
)
from layouts.closing.wet_regions import layer_runs
from layouts.plan import BondedLands, Plan
from layouts.rules.cautions import list_bonding_cautions


def bonding_section(plan: Plan) -> dict[str, Any] | None:
    """Return how bonded covers are bonded; None where the panel is closed in another way.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    dict or None
        "joints", one for each bonded cover, and "cautions"; lengths in [mm], forces in [N].
    """
    if not plan.sealed.lands:
        return None
    return {
        "joints": [_joint(plan, lands) for lands in plan.sealed.lands],
        "cautions": list(list_bonding_cautions(plan.panel)),
    }


def _joint(plan: Plan, lands: BondedLands) -> dict[str, Any]:
    make, pressure = plan.panel.make, plan.panel.rules.test_pressure_pa
    kind = tables.material(make.cover_row).kind
    pressing = [
        {
            "kind": "weight" if k >= len(lands.clamps) else "clamp",
            "at_mm": [round_plain(c, 4) for c in at],
            "force_n": [round_plain(low, 1), round_plain(high, 1)],
        }
        for k, (at, (low, high)) in enumerate(
            zip((*lands.clamps, *lands.weights), clamp_forces(lands, kind), strict=True)
        )
    ]
    losses = [
        channel_loss(lands, channel.width, channel.depth)
        for channel in plan.routed.channels
        if layer_runs(channel, lands.layer)
    ]
    return {
        "layer": lands.layer,
        "land_mm2": round_plain(lands.area_mm2, 1),
        "wet_mm2": round_plain(lands.wet_mm2, 1),
        "least_land_mm": round_plain(lands.least_width, 3),
        "between": list(lands.between),
        "least_land_at_mm": [[round_plain(c, 4) for c in end] for end in lands.least_ends],
        "mean_pull_mpa": round_plain(mean_pull(lands, pressure), 4),
        "rim_pull_mpa": round_plain(rim_pull(pressure, lands.span, lands.beside, make.cover), 3),
        "rim_of": lands.pulled or None,
        "squeezed_out_ml": round_plain(squeezed_ml(lands), 3),
        "most_channel_loss": round_plain(max(losses, default=0.0), 3),
        "bond_pressure_mpa": list(clamp_pressure(kind)),
        "reach_mm": round_plain(lands.reach, 3),
        "pressing": pressing,
        "unpressed_mm2": round_plain(lands.unpressed_mm2, 1),
    }
