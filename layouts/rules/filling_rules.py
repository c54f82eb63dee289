"""Design rules of filling, bleeding and draining, on the voxels of the wet volume."""

from __future__ import annotations

from geom.findings import Finding
from layouts.filling.values import Filling
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.rules.carry_rules import check_carries
from layouts.rules.first_fill_rules import check_first_fill
from layouts.rules.pocket_rules import check_air_left, check_drain_left


def check_filling(panel: Panel, routed: Routed, filling: Filling | None) -> tuple[Finding, ...]:
    """Return what is found of filling, bleeding and draining.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    filling : Filling or None
        Of a plan, or of the made panel; None: not looked at.
    """
    if filling is None:
        return ()
    return (
        *check_first_fill(panel, routed, filling),
        *check_air_left(panel, routed, filling),
        *check_carries(panel, routed, filling),
        *check_drain_left(panel, routed, filling),
    )
