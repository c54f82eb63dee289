"""Surface tension of the coolants."""

from __future__ import annotations

from geom.errors import OutOfRange
from layouts.hydraulics.coolant import ZERO_C_K, Coolant

CRITICAL_K = 647.096
"""Critical temperature of water, [K]."""

COLDEST_C = -25.0
"""Down to it the release says that its equation holds for water that is kept from freezing, [°C]."""


def water_surface_tension_n_m(temperature_c: float) -> float:
    """Return the surface tension of water against its vapour; air changes it by less than the digits used here.

    Parameters
    ----------
    temperature_c : float
        -25 to 373.9, [°C].

    Returns
    -------
    float
        [N/m]

    Raises
    ------
    OutOfRange
        A temperature outside the range.

    Source
    ------
    IAPWS R1-76(2014), Revised Release on Surface Tension of Ordinary Water Substance:
    235.8 mN/m tau^1.256 (1 - 0.625 tau), tau = 1 - T / 647.096 K.
    """
    tau = 1.0 - (temperature_c + ZERO_C_K) / CRITICAL_K
    if not (temperature_c >= COLDEST_C and tau >= 0):
        raise OutOfRange(
            f"surface tension of water at {temperature_c:g} °C: it is known from {COLDEST_C:g} °C to "
            f"{CRITICAL_K - ZERO_C_K:.1f} °C"
        )
    return 235.8e-3 * tau**1.256 * (1.0 - 0.625 * tau)


def most_surface_tension_n_m(coolant: Coolant) -> float:
    """Return the surface tension of water at the coolant's temperature: the most that the coolant may have.

    Parameters
    ----------
    coolant : Coolant
        Where it is colder than -25 °C, water's at that is taken.

    Returns
    -------
    float
        [N/m]

    Notes
    -----
    Glycol has less than water (some 48 mN/m and 36 mN/m against 72 mN/m at 25 °C: recalled, not verified), a mix lies
    between, and no free table of the mixes was at hand. More surface tension locks wider bores and slows bubbles down,
    so water's is on the safe side for both. What a mix really locks lies between water's diameter and 0.7 times it.

    Source
    ------
    As `water_surface_tension_n_m`.
    """
    return water_surface_tension_n_m(max(COLDEST_C, coolant.temperature_c))
