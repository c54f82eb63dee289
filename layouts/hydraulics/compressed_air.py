"""Air shut in under pressure: its energy, what its gauge shows when it cools, what leaks out; a liquid shut in, with
a cushion of air or without.

Air is an ideal gas here: at a few bar it is one to a thousandth.
"""

from __future__ import annotations

import math

ATMOSPHERE_PA = 101_325.0
"""Pressure of the air around, [Pa]: the standard atmosphere."""

GAMMA = 1.4
"""Ratio of the heat capacities of air, [-]."""

AIR_PA_S = 1.82e-5
"""Dynamic viscosity of air at 20 °C, [Pa s]; Lemmon and Jacobsen, Int. J. Thermophys. 25 (2004) 21."""

AIR_KG_M3 = 1.204
"""Density of air at 20 °C and one atmosphere, [kg/m3]; the ideal gas of 28.96 g/mol."""

AIR_M2_S = 2.12e-5
"""Thermal diffusivity of air at 20 °C and one atmosphere, [m2/s]; as `AIR_PA_S`."""

LIQUID_PER_PA = 4.6e-10
"""Compressibility of water at 20 °C, [1/Pa]; IAPWS-95. That of glycol mixes is less, so that they push more."""


def stored_energy_j(gauge_pa: float, volume_m3: float) -> float:
    """Return what air under pressure sets free when it bursts out, its expansion isentropic.

    Parameters
    ----------
    gauge_pa : float
        Over the air around, [Pa].
    volume_m3 : float
        That it fills, [m3].

    Returns
    -------
    float
        [J]

    Source
    ------
    ASME PCC-2, Mandatory Appendix 501-II: E = p V / (k - 1) (1 - (pa / p)^((k - 1) / k)).
    """
    pressure = ATMOSPHERE_PA + gauge_pa
    share = 1.0 - (ATMOSPHERE_PA / pressure) ** ((GAMMA - 1.0) / GAMMA)
    return pressure * volume_m3 / (GAMMA - 1.0) * share


def liquid_energy_j(gauge_pa: float, volume_m3: float) -> float:
    """Return what a liquid under pressure sets free, [J]: that of its own squeeze, in a rigid vessel.

    Parameters
    ----------
    gauge_pa : float
        [Pa]
    volume_m3 : float
        [m3]

    Source
    ------
    Hooke's law for a volume: p^2 V kappa / 2.
    """
    return gauge_pa**2 * volume_m3 * LIQUID_PER_PA / 2.0


def drift_pa_k(gauge_pa: float, temperature_k: float) -> float:
    """Return how much less a gauge shows for each kelvin that the air shut in cools.

    Parameters
    ----------
    gauge_pa : float
        [Pa]
    temperature_k : float
        [K]

    Returns
    -------
    float
        [Pa/K]

    Source
    ------
    Ideal gas at constant volume: p / T, both absolute.
    """
    return (ATMOSPHERE_PA + gauge_pa) / temperature_k


def warmed_k(gauge_pa: float, temperature_k: float) -> float:
    """Return how much air warms that is pumped up so fast that it keeps its heat.

    Parameters
    ----------
    gauge_pa : float
        [Pa]
    temperature_k : float
        Before, [K].

    Returns
    -------
    float
        [K]

    Source
    ------
    Isentropic compression of an ideal gas: T2 / T1 = (p2 / p1)^((k - 1) / k).
    """
    return temperature_k * ((1.0 + gauge_pa / ATMOSPHERE_PA) ** ((GAMMA - 1.0) / GAMMA) - 1.0)


def cooling_time_s(gap_mm: float, gauge_pa: float, from_k: float, to_k: float) -> float:
    """Return how long still air between two walls takes to come to their temperature.

    Parameters
    ----------
    gap_mm : float
        Between the walls, [mm].
    gauge_pa : float
        [Pa]
    from_k, to_k : float
        Over that of the walls, in the mean, [K]; to less than from.

    Returns
    -------
    float
        [s]; stirred air is faster.

    Source
    ------
    Carslaw and Jaeger, Conduction of Heat in Solids: first term of the plate's mean temperature,
    8 / pi^2 exp(-pi^2 a t / L^2).
    """
    diffusivity = AIR_M2_S / (1.0 + gauge_pa / ATMOSPHERE_PA)
    left = math.pi**2 / 8.0 * to_k / from_k
    return max(0.0, -math.log(left)) * (gap_mm * 1e-3) ** 2 / (math.pi**2 * diffusivity)


def leaked_ml_min(drop_pa: float, volume_ml: float, minutes: float) -> float:
    """Return the leak that lets a pressure fall.

    Parameters
    ----------
    drop_pa : float
        At one temperature, [Pa].
    volume_ml : float
        Of the air shut in, [mL].
    minutes : float
        [min]

    Returns
    -------
    float
        Of air at atmospheric pressure, [mL/min].

    Source
    ------
    Ideal gas: V dp / (pa dt).
    """
    return volume_ml * drop_pa / (ATMOSPHERE_PA * minutes)


def viscous_share(gauge_pa: float, liquid_pa: float, viscosity_pa_s: float) -> float:
    """Return the flow of a liquid through a long fine leak over that of air through the same leak.

    Parameters
    ----------
    gauge_pa : float
        Of the air, [Pa].
    liquid_pa : float
        Of the liquid, over the air around, [Pa].
    viscosity_pa_s : float
        Of the liquid, [Pa s].

    Returns
    -------
    float
        Liquid over air at atmospheric pressure, [-].

    Source
    ------
    Poiseuille: of a liquid K p / mu, of a gas K (p1^2 - p2^2) / (2 p2 mu), at the pressure p2 behind the leak.
    """
    squares = (ATMOSPHERE_PA + gauge_pa) ** 2 - ATMOSPHERE_PA**2
    return liquid_pa / viscosity_pa_s * 2.0 * ATMOSPHERE_PA * AIR_PA_S / squares


def orifice_share(gauge_pa: float, liquid_pa: float, density_kg_m3: float) -> float:
    """Return the same of a leak so short that nothing brakes in it but its mouth: the most there can be.

    Parameters
    ----------
    gauge_pa : float
        Of the air, [Pa].
    liquid_pa : float
        Of the liquid, over the air around, [Pa].
    density_kg_m3 : float
        Of the liquid, [kg/m3].

    Returns
    -------
    float
        Liquid over air at atmospheric pressure, [-].

    Source
    ------
    Isentropic nozzle and Torricelli, with one coefficient of discharge: Liepmann and Roshko, Elements of Gasdynamics.
    """
    pressure = ATMOSPHERE_PA + gauge_pa
    choked = (2.0 / (GAMMA + 1.0)) ** (GAMMA / (GAMMA - 1.0))
    ratio = max(ATMOSPHERE_PA / pressure, choked)
    inside = AIR_KG_M3 * pressure / ATMOSPHERE_PA
    air = 2.0 * GAMMA / (GAMMA - 1.0) * pressure * inside
    mass_flux = math.sqrt(air * (ratio ** (2.0 / GAMMA) - ratio ** ((GAMMA + 1.0) / GAMMA)))
    return math.sqrt(2.0 * liquid_pa / density_kg_m3) * AIR_KG_M3 / mass_flux


def cushion_pa(air_m3: float, growth_m3: float, cold_k: float, warm_k: float) -> float:
    """Return the pressure of air that is shut in over a liquid, once both are warm and the liquid has grown into it.

    Parameters
    ----------
    air_m3 : float
        When it was shut in, at the pressure of the air around, [m3].
    growth_m3 : float
        Of the liquid, [m3].
    cold_k, warm_k : float
        [K]

    Returns
    -------
    float
        Over the air around, [Pa], in a rigid vessel; endless where the liquid needs more room than there is. Without
        the vapour of the liquid: of water that is up to 0.2 bar more at 60 °C.

    Source
    ------
    Ideal gas: p V / T stays.
    """
    left = air_m3 - growth_m3
    if left <= 0.0:
        return math.inf
    return ATMOSPHERE_PA * (air_m3 / left * warm_k / cold_k - 1.0)


def locked_pa_k(growth_per_k: float) -> float:
    """Return how much the pressure of a liquid rises for each kelvin where it has no room to grow.

    Parameters
    ----------
    growth_per_k : float
        Its growth in volume, [1/K].

    Returns
    -------
    float
        In a rigid vessel that is full, [Pa/K].

    Source
    ------
    (dp/dT) at constant volume = growth over compressibility.
    """
    return growth_per_k / LIQUID_PER_PA
