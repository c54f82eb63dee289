"""Sides of the voxels that a panel is looked at with."""

from __future__ import annotations

PLAN_SPACING = 1.0
"""Of a plan, of all that is tried, and of the map of all tilts, [mm]."""

CHECK_SPACING = 0.5
"""Of a made panel as it is installed, [mm]."""
