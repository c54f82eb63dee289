"""The scales by which channels are coloured, in the page's plan and in the 3D view: equal values look alike."""

from __future__ import annotations

import math
from typing import Any

from geom.units import kpa
from layouts.plan import Flowing

BAND_COUNT = 5
"""Bands of colour from nothing to the top: as many as are told apart."""

LEAST_TOP = 1e-3
"""Of a scale where nothing flows, m/s or kPa."""

_STEPS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
_ROUNDING = 1e-9


def lay_flow_scales(flowing: Flowing) -> dict[str, dict[str, Any]]:
    """Return the scales of velocity and of pressure drop, from nothing to the next round number over the most.

    Parameters
    ----------
    flowing : Flowing

    Returns
    -------
    dict
        By "velocity" and "drop": ``unit`` (m/s, kPa), ``edges`` of the bands in that unit with how they are written,
        ``texts``.
    """
    legs = [leg for channel in flowing.channels for leg in channel.legs]
    return {
        "velocity": _scale("m/s", [abs(leg.velocity_m_s) for leg in legs]),
        "drop": _scale("kPa", [kpa(abs(leg.drop_pa)) for leg in legs]),
    }


def _scale(unit: str, values: list[float]) -> dict[str, Any]:
    least = max(*values, LEAST_TOP) / BAND_COUNT if values else LEAST_TOP / BAND_COUNT
    decimals = -math.floor(math.log10(least) + _ROUNDING)
    power = 10.0**-decimals
    share = next(share for share in _STEPS if share * power >= least * (1.0 - _ROUNDING))
    # One digit more for the steps of 1.2, 1.5 and 2.5.
    digits = max(0, decimals + (not share.is_integer()))
    edges = [round(k * share * power, decimals + 1) for k in range(BAND_COUNT + 1)]
    return {"unit": unit, "edges": edges, "texts": [f"{edge:.{digits}f}" for edge in edges]}
