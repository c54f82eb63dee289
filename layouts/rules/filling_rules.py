"""Design rules of filling, bleeding and draining, on the voxels of the wet volume."""

from __future__ import annotations

from geom.findings import Finding
from layouts.filling.values import Filling
from layouts.panel import Panel
from layouts.plan import Routed


def check_filling(panel: Panel, routed: Routed, filling: Filling | None) -> tuple[Finding, ...]:
    """Return what is found of filling, bleeding and draining.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    filling : Filling or None
        Of a plan, or of the made panel; None: not looked at.
    """
    return ()
