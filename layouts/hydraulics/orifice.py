"""A restrictor: a thin plate with a sharp-edged bore, in a round fitting."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from geom.errors import OutOfRange
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.turn_table import RE_KNOTS, LossCurve, trace_curve

FITTING_WALL_MM = 1.5
"""A fitting's bore is taken as the tap drill of its thread less two walls of this: common practice, no source."""

ORIFICE_BAND = 0.30
"""Relative error to expect, [-]: 20 % of the formula against ISO 5167's permanent loss, 10 % for a plate as
thick as 0.4 bores (Idelchik, diagram 4-15; recalled, not verified), 20 % for a fitting's bore that is not known."""

CREEPING_BAND = 0.60
"""The same up to Re 1000 in the bore, where the formula does not reach."""

MOST_BORE_SHARE = 0.95
"""An orifice of more of the fitting's bore is none."""


def loss_orifice(area_ratio: float) -> float:
    """Return K of a thin sharp-edged orifice in a straight pipe.

    Parameters
    ----------
    area_ratio : float
        Area of the bore over that of the pipe, above 0 to 1, [-].

    Returns
    -------
    float
        K on the velocity in the bore, [-]; either way of flow. Expect `ORIFICE_BAND`.

    Raises
    ------
    OutOfRange
        `area_ratio` outside 0 to 1.

    Source
    ------
    Idelchik, Handbook of Hydraulic Resistance, 3rd edition, 1994, diagram 4-14, page 221, as quoted in the
    documentation of the Modelica Standard Library, `LossFactorData.sharpEdgedOrifice`. Stated for Re from 1e5
    in the bore and held below: at a bore of half the pipe's the permanent loss of ISO 5167-2 is 4 % less at
    1e5, 11 % at 1e4, 20 % at 5000.
    """
    if not 0 < area_ratio <= 1:
        raise OutOfRange(f"orifice of area ratio {area_ratio:g}: it must be above 0, and at most 1")
    rest = 1.0 - area_ratio
    return (rest + 0.707 * rest**0.375) ** 2


@lru_cache(maxsize=1024)
def trace_orifice(area_ratio: float) -> LossCurve:
    """Return the curve of `loss_orifice` over the Reynolds number in the bore, which is level.

    Parameters
    ----------
    area_ratio : float
        As for `loss_orifice`, [-].

    Returns
    -------
    LossCurve
    """
    bands = np.where(np.array(RE_KNOTS) <= 1000.0, CREEPING_BAND, ORIFICE_BAND)
    return trace_curve(np.full(len(RE_KNOTS), loss_orifice(area_ratio)), bands)


def fitting_bore_mm(tap_drill: float) -> float:
    """Return the bore of a fitting in a threaded port.

    Parameters
    ----------
    tap_drill : float
        Of the port's thread, [mm].

    Returns
    -------
    float
        [mm]

    Source
    ------
    Common practice, no source: see `FITTING_WALL_MM`.
    """
    return tap_drill - 2.0 * FITTING_WALL_MM


def size_orifice_m(drop_pa: float, flow_m3_s: float, fitting_m: float, coolant: Coolant) -> float | None:
    """Return the bore of the orifice that costs a drop at a flow.

    Parameters
    ----------
    drop_pa : float
        Greater than 0, [Pa].
    flow_m3_s : float
        Greater than 0, [m3/s].
    fitting_m : float
        Bore of the fitting that it sits in, [m].
    coolant : Coolant

    Returns
    -------
    float or None
        [m]; None where even the widest that is one (`MOST_BORE_SHARE`) costs more.

    Source
    ------
    `loss_orifice`, by bisection: the drop falls with the bore.
    """
    low, high = 0.0, MOST_BORE_SHARE * fitting_m

    def find_drop(bore: float) -> float:
        velocity = flow_m3_s / (math.pi / 4 * bore**2)
        return loss_orifice((bore / fitting_m) ** 2) * 0.5 * coolant.density_kg_m3 * velocity**2

    if find_drop(high) >= drop_pa:
        return None
    for _ in range(60):
        middle = 0.5 * (low + high)
        if find_drop(middle) > drop_pa:
            low = middle
        else:
            high = middle
    return high
