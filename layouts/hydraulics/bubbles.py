"""Air in round bores: what locks it, how fast it rises, which flow carries it down.

All formulas are of round bores. In a rectangular channel the one of two diameters is taken that errs to the safe side:
its smaller side where a bubble may lock or must rise by itself, which is the gap that holds it (in a square channel
coolant also runs down the corners, so that a bubble there creeps on a little; that is no bleeding); its hydraulic
diameter, never less than the smaller side, where the flow must carry it, since a larger bore asks for more speed.
"""

from __future__ import annotations

import math

from geom.errors import OutOfRange
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.pump import GRAVITY_M_S2
from layouts.hydraulics.surface_tension import most_surface_tension_n_m

LOCKED = 0.842
"""rho g r2 / sigma under which a bubble stays in a vertical bore, [-]; Bretherton 1961."""

SURE_FROUDE = 1.2
"""V / sqrt(g D) from which both formulas say that air is carried down any slope, [-]."""

SELF_VENTING_FROUDE = 0.3
"""V / sqrt(g D) under which air rises past what runs down a drain, [-]; within 30 %."""

_DOSE_A = (0.34, 14.793, -3.06, 0.58)
_DOSE_B = (31.08, 29.868, -1.96, -0.49)
_DOSE_C = (-1.45, 24.867, -9.93, -0.094)
_DOSE_M = -1.0295
"""Parameters of the rise's correlation, as its source writes a logistic dose curve; compared with those of an open
program that cites it (Larus, src/Correlation/Taylor.cpp)."""


def lock_diameter_m(density_kg_m3: float, surface_tension_n_m: float) -> float:
    """Return the diameter of a vertical round bore under which a bubble stays in it.

    Parameters
    ----------
    density_kg_m3 : float
        Greater than 0, [kg/m3].
    surface_tension_n_m : float
        [N/m]

    Returns
    -------
    float
        [m]

    Raises
    ------
    OutOfRange
        A density that is not greater than 0, a surface tension under 0.

    Source
    ------
    Bretherton, The motion of long bubbles in tubes, J. Fluid Mech. 10 (1961) 166: locked where
    rho g r2 / sigma < 0.842.
    """
    if not (density_kg_m3 > 0 and surface_tension_n_m >= 0):
        raise OutOfRange(
            f"bubble in coolant of {density_kg_m3:g} kg/m3 and {surface_tension_n_m:g} N/m: the density must be "
            "greater than 0, the surface tension 0 or more"
        )
    return 2.0 * math.sqrt(LOCKED * surface_tension_n_m / (density_kg_m3 * GRAVITY_M_S2))


def coolant_lock_diameter_m(coolant: Coolant) -> float:
    """Return the diameter under which a bubble stays in a bore of this coolant, [m]; at most, as a mix has less.

    Parameters
    ----------
    coolant : Coolant

    Source
    ------
    As `lock_diameter_m`, with the surface tension of water.
    """
    return lock_diameter_m(coolant.density_kg_m3, most_surface_tension_n_m(coolant))


def bubble_rise_m_s(bore_m: float, coolant: Coolant) -> float:
    """Return how fast a long bubble rises in a vertical bore of coolant at rest.

    Parameters
    ----------
    bore_m : float
        Greater than 0, [m].
    coolant : Coolant

    Returns
    -------
    float
        [m/s]; 0 under the lock diameter. At least, as a mix has less surface tension.

    Raises
    ------
    OutOfRange
        A bore that is not greater than 0.

    Source
    ------
    Viana, Pardo, Yanez, Trallero and Joseph, Universal correlation for the rise velocity of long gas bubbles in round
    pipes, J. Fluid Mech. 494 (2003) 379-398. Form and limits are those of its abstract: for a buoyancy Reynolds number
    over 200, Fr = 0.34 / (1 + 3805 / Eo^3.06)^0.58; under 10, Fr = 9.494e-3 Re^1.026 / (1 + 6197 / Eo^2.561)^0.5793.
    The tests hold the whole to both.
    """
    _check_bore(bore_m)
    if bore_m < coolant_lock_diameter_m(coolant):
        return 0.0
    eotvos = coolant.density_kg_m3 * GRAVITY_M_S2 * bore_m**2 / most_surface_tension_n_m(coolant)
    return rise_froude(buoyancy_reynolds(bore_m, coolant), eotvos) * math.sqrt(GRAVITY_M_S2 * bore_m)


def buoyancy_reynolds(bore_m: float, coolant: Coolant) -> float:
    """Return a bore's buoyancy Reynolds number, rho sqrt(g D3) / viscosity, [-]; the air's density is left out.

    Parameters
    ----------
    bore_m : float
        [m]
    coolant : Coolant
    """
    return coolant.density_kg_m3 * math.sqrt(GRAVITY_M_S2 * bore_m**3) / coolant.viscosity_pa_s


def rise_froude(reynolds: float, eotvos: float) -> float:
    """Return the Froude number at which a long bubble rises in a vertical bore.

    Parameters
    ----------
    reynolds : float
        Buoyancy Reynolds number, greater than 0, [-].
    eotvos : float
        rho g D2 / sigma, greater than 0, [-]; the tests start at 6.

    Returns
    -------
    float
        U / sqrt(g D), [-].

    Source
    ------
    As `bubble_rise_m_s`.
    """
    a, b, c = (_dose(eotvos, *parameters) for parameters in (_DOSE_A, _DOSE_B, _DOSE_C))
    return _dose(reynolds, a, b, c, _DOSE_M / c)


def wisner_velocity_m_s(bore_m: float, slope_deg: float) -> float:
    """Return the velocity that carries a pocket of air down a slope, by Wisner.

    Parameters
    ----------
    bore_m : float
        Greater than 0, [m]; tested in wide pipes.
    slope_deg : float
        Below the horizontal, 0 to 90, [deg].

    Returns
    -------
    float
        [m/s]; within 20 %.

    Raises
    ------
    OutOfRange
        A bore or a slope outside the range.

    Source
    ------
    Wisner, Mohsen and Kouwen, Removal of air from water lines by hydraulic means, J. Hydraulics Division ASCE 101
    (1975) 243-257, title and pages by the society's data base; the formula as Sanks, Pumping Station Design, has it:
    V / sqrt(g D) = 0.825 + 0.25 sqrt(sin slope). That it is theirs: recalled, not verified.
    """
    return _clearing_m_s(bore_m, slope_deg, 0.825, 0.25)


def escarameia_velocity_m_s(bore_m: float, slope_deg: float) -> float:
    """Return the velocity that carries a large pocket of air down a slope, by Escarameia.

    Parameters
    ----------
    bore_m : float
        Greater than 0, [m]; tested in wide pipes.
    slope_deg : float
        Below the horizontal, 0 to 90, [deg].

    Returns
    -------
    float
        [m/s]; within 20 %.

    Raises
    ------
    OutOfRange
        A bore or a slope outside the range.

    Source
    ------
    Escarameia and others, Air in pipelines, HR Wallingford report SR 649 (2005): V / sqrt(g D) = a + 0.56
    sqrt(sin slope); a = 0.61 of large pockets: recalled, not verified.
    """
    return _clearing_m_s(bore_m, slope_deg, 0.61, 0.56)


def sure_velocity_m_s(bore_m: float) -> float:
    """Return the velocity that carries air down any slope by both formulas.

    Parameters
    ----------
    bore_m : float
        Greater than 0, [m].

    Returns
    -------
    float
        [m/s]

    Raises
    ------
    OutOfRange
        A bore that is not greater than 0.

    Source
    ------
    1.2 sqrt(g D): over `wisner_velocity_m_s` and `escarameia_velocity_m_s` at any slope.
    """
    _check_bore(bore_m)
    return SURE_FROUDE * math.sqrt(GRAVITY_M_S2 * bore_m)


def self_venting_flow_m3_s(bore_m: float) -> float:
    """Return the flow down a bore up to which air still comes up past it.

    Parameters
    ----------
    bore_m : float
        Greater than 0, [m].

    Returns
    -------
    float
        [m3/s]; within 30 %.

    Raises
    ------
    OutOfRange
        A bore that is not greater than 0.

    Source
    ------
    Simpson, Sizing piping for process plants, Chemical Engineering 75 no. 13 (June 1968) 192, title and place as others
    cite them: V / sqrt(g D) < 0.3; its 0.3: recalled, not verified.
    """
    _check_bore(bore_m)
    return SELF_VENTING_FROUDE * math.sqrt(GRAVITY_M_S2 * bore_m) * math.pi / 4 * bore_m**2


def _clearing_m_s(bore_m: float, slope_deg: float, level: float, steep: float) -> float:
    _check_bore(bore_m)
    if not 0.0 <= slope_deg <= 90.0:
        raise OutOfRange(f"air carried down {slope_deg:g} degrees: a slope lies between 0 and 90 degrees")
    return (level + steep * math.sqrt(math.sin(math.radians(slope_deg)))) * math.sqrt(GRAVITY_M_S2 * bore_m)


def _check_bore(bore_m: float) -> None:
    if not bore_m > 0:
        raise OutOfRange(f"air in a bore of {bore_m:g} m: it must be greater than 0")


def _dose(x: float, a: float, b: float, c: float, g: float) -> float:
    """Return a logistic dose curve, a / (1 + (x / b)^c)^g."""
    return a / (1.0 + (x / b) ** c) ** g
