"""How far off what a plan tells may be, where the stage that works it out does not say so with the value."""

from __future__ import annotations

from exports.report.filling import VOXEL_BAND

CHANNEL_BAND = 5e-3
"""Relative error of what channels and bores hold, as `layouts.wet_volume` states it, [-]."""

POCKET_ERROR_ML = 0.3
"""Of what stays in a plan's voxels of 1 mm, [mL]: voxels half as large tell up to as much more or less on the demos."""

MASS_BAND = 1e-3
"""Relative error of a mass from the plan's features alone, [-]: on the demos it is within a tenth of that of the
solid's."""

VALUE_BAND = 5e-3
"""To which a finding's value is told whose error is not known, relative: three digits that count."""

FLOW_UNITS = ("L/min", "m/s", "kPa", "m")
"""Of values that are as uncertain as the flow and its drops."""

DRAWN_UNITS = ("mm", "deg", "")
"""Of values that are exact, as drawn or counted."""

RECKONED = ("cover.bow", "tank.posts", "screw.growth", "feed.depth", "feed.tilt", "tank.fill")
"""Checks whose values are lengths or angles that are calculated, not drawn."""

RECKONED_BAND = 0.05
"""To which these are compared, relative: formulas and finite elements of plates and surfaces; common practice, no
source."""


def volume_error_ml(volume_ml: float) -> float:
    """Return the error of a volume of air or coolant that stays, [mL]."""
    return max(POCKET_ERROR_ML, VOXEL_BAND * abs(volume_ml))


def finding_error(value: float, unit: str, flow_band: float, code: str = "") -> float:
    """Return the error of a finding's value, in its unit.

    Parameters
    ----------
    value : float
    unit : str
    flow_band : float
        Relative band of the flow, [-].
    code : str
        Of the finding.
    """
    if code in RECKONED:
        return abs(value) * RECKONED_BAND
    if unit in DRAWN_UNITS:
        return 0.0
    if unit == "mL":
        return volume_error_ml(value)
    return abs(value) * (2.0 * flow_band if unit in FLOW_UNITS else VALUE_BAND)
