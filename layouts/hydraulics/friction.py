"""Friction in rectangular channels and round bores; factors are Darcy's."""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from geom.errors import OutOfRange

ROUND_F_RE = 64.0
"""Darcy f times Re of developed laminar flow in a round pipe (Hagen-Poiseuille)."""

SMALLEST_RE = 1e-6
"""Friction is evaluated no lower than this, where f * Re is long constant, so that f stays finite."""

BAND_RE, BANDS = (1000.0, 1500.0, 4000.0, 5000.0), (0.02, 0.25, 0.25, 0.08)
"""Reynolds numbers and the friction factor's band at them, [-]."""

FLAT_ASPECT = 1e-9
"""A channel flatter than this is two parallel plates: its ends count for less than rounding."""


def hydraulic_diameter(width: float, depth: float) -> float:
    """Return four times the area over the perimeter of a rectangle.

    Parameters
    ----------
    width, depth : float
        In one unit, [mm] or [m].

    Returns
    -------
    float
        In the unit of `width`.

    Raises
    ------
    OutOfRange
        A side that is not greater than 0.
    """
    if not (width > 0 and depth > 0):
        raise OutOfRange(f"channel {width:g} x {depth:g}: both sides must be greater than 0")
    return 2 * width * depth / (width + depth)


def channel_aspect(width: float, depth: float) -> float:
    """Return the short side over the long side.

    Parameters
    ----------
    width, depth : float
        In one unit, [mm] or [m].

    Returns
    -------
    float
        0 to 1, [-].
    """
    return min(width, depth) / max(width, depth)


@lru_cache(maxsize=1024)
def laminar_f_re(aspect: float) -> float:
    """Return Darcy f times Re of developed laminar flow in a rectangular channel.

    Parameters
    ----------
    aspect : float
        Short side over long side, [-]; 0 (parallel plates) to 1.

    Returns
    -------
    float
        f * Re on the hydraulic diameter, [-].

    Raises
    ------
    OutOfRange
        `aspect` outside 0 to 1.

    Source
    ------
    White, Viscous Fluid Flow, equation 3-48: the exact series; values as in Shah and London, Laminar Flow
    Forced Convection in Ducts (1978), rectangular ducts.
    """
    _check_aspect(aspect)
    if aspect == 0.0:
        return 96.0
    series = sum(math.tanh(n * math.pi / (2 * aspect)) / n**5 for n in range(1, 200, 2))
    return 96.0 / ((1 + aspect) ** 2 * (1 - 192 * aspect / math.pi**5 * series))


def friction_factor(
    re: float | NDArray[np.float64],
    aspect: float | None = None,
    roughness_ratio: float | NDArray[np.float64] = 0.0,
) -> float | NDArray[np.float64]:
    """Return the Darcy friction factor, laminar to turbulent without a jump.

    Parameters
    ----------
    re : float or (n,) float
        Reynolds number on the hydraulic diameter, [-]; values under 1e-6 are taken as 1e-6.
    aspect : float or None
        Short side over long side, [-]; None for a round bore.
    roughness_ratio : float or (n,) float
        Roughness over hydraulic diameter, [-].

    Returns
    -------
    float or (n,) float
        Darcy f, [-].

    Raises
    ------
    OutOfRange
        Negative `re` or `roughness_ratio`, `aspect` outside 0 to 1.

    Source
    ------
    Churchill, Friction-factor equation spans all fluid-flow regimes, Chem. Eng. 84 (1977) 91-92, at the
    Reynolds number that gives the channel's exact laminar friction in it (the method of Jones, An improvement
    in the calculation of turbulent friction in rectangular ducts, J. Fluids Eng. 98 (1976) 173-181, with the
    exact series for its polynomial).
    """
    if np.any(np.asarray(re) < 0) or np.any(np.asarray(roughness_ratio) < 0):
        raise OutOfRange(f"friction at Re {re}, roughness ratio {roughness_ratio}: both must be 0 or more")
    f_re = ROUND_F_RE if aspect is None else laminar_f_re(aspect)
    factor = churchill_factor(np.asarray(re, dtype=float), np.asarray(f_re), roughness_ratio)
    return factor if np.ndim(re) or np.ndim(roughness_ratio) else float(factor)


def churchill_factor(
    re: NDArray[np.float64],
    f_re: NDArray[np.float64],
    roughness_ratio: float | NDArray[np.float64] = 0.0,
) -> NDArray[np.float64]:
    """Return the Darcy friction factor from a known laminar f * Re, without checks.

    Parameters
    ----------
    re : (n,) float
        Reynolds number on the hydraulic diameter, 0 or more, [-].
    f_re : (n,) float
        Laminar Darcy f times Re of the section, [-].
    roughness_ratio : float or (n,) float
        Roughness over hydraulic diameter, [-].

    Returns
    -------
    (n,) float
        Darcy f, [-].

    Source
    ------
    Churchill 1977, see `friction_factor`.
    """
    re_star = np.maximum(re, SMALLEST_RE) * (ROUND_F_RE / f_re)
    a = (2.457 * np.log(1.0 / ((7.0 / re_star) ** 0.9 + 0.27 * roughness_ratio))) ** 16
    b = (37530.0 / re_star) ** 16
    factor: NDArray[np.float64] = 8.0 * ((8.0 / re_star) ** 12 + (a + b) ** -1.5) ** (1 / 12)
    return factor


def churchill_slope(re: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the Darcy friction factor of a smooth round pipe and its slope, in one pass, without checks.

    Parameters
    ----------
    re : (n,) float
        Reynolds number, [-]; values under 1e-6 are taken as 1e-6.

    Returns
    -------
    tuple of (n,) float
        Darcy f, [-], as `churchill_factor`, and df / d ln Re, [-].

    Source
    ------
    Churchill 1977, see `friction_factor`, without roughness, where ln (1 / (7 / Re)^0.9) = 0.9 ln (Re / 7);
    the slope by differentiation.
    """
    re = np.maximum(re, SMALLEST_RE)
    g = np.log(re * (1.0 / 7.0)) * (2.457 * 0.9)
    g2 = g * g
    g4 = g2 * g2
    g15 = g4 * g4 * g4 * g2 * g
    b = (37530.0 / re) ** 2
    b *= b
    b *= b
    b *= b
    whole = g15 * g + b
    rough = 1.0 / (whole * np.sqrt(whole))
    smooth = (8.0 / re) ** 2
    smooth *= smooth * smooth
    smooth *= smooth
    both = smooth + rough
    factor = 8.0 * both ** (1 / 12)
    fall = rough * 1.5 * 16.0 / whole * (2.457 * 0.9 * g15 - b) + 12.0 * smooth
    return factor, factor * fall / (-12.0 * both)


def friction_band(re: float | NDArray[np.float64]) -> float | NDArray[np.float64]:
    """Return the relative error to expect of `friction_factor`.

    Parameters
    ----------
    re : float or (n,) float
        Reynolds number on the hydraulic diameter, [-].

    Returns
    -------
    float or (n,) float
        0.02 to Re 1000 (exact series; the channel's own tolerance stays), 0.25 from 1500 to 4000, 0.08 from
        5000, [-]. Straight in ln Re between, so that no figure jumps with the flow.

    Source
    ------
    McKeon, Swanson, Zagarola, Donnelly and Smits, Friction factors for smooth pipe flow, J. Fluid Mech. 511
    (2004) 41-44: measured factors scatter by 20 % between Re 2800 and 3100. Turbulent: Beavers, Sparrow and
    Lloyd 1971 and Dean 1978 lie 5 to 9 % on either side for wide channels.
    """
    log_re = np.log(np.maximum(re, SMALLEST_RE))
    band: NDArray[np.float64] = np.interp(log_re, np.log(BAND_RE), BANDS)
    return band if np.ndim(re) else float(band)


@lru_cache(maxsize=1024)
def entry_loss(aspect: float | None) -> float:
    """Return what a laminar flow loses in static pressure, beyond friction, until it is developed.

    Parameters
    ----------
    aspect : float or None
        Short side over long side, [-]; None for a round bore.

    Returns
    -------
    float
        K(infinity) on mean velocity, from a flat profile, [-]. It holds the growth of the profile's kinetic
        energy: with an exit loss on energy, charge only `entry_loss` - (`kinetic_energy_factor` - 1).

    Raises
    ------
    OutOfRange
        `aspect` outside 0 to 1.

    Source
    ------
    Lundgren, Sparrow and Starr, Pressure drop due to the entrance region in ducts of arbitrary cross section,
    J. Basic Eng. 86 (1964) 620-626: 2/A times the integral of (u/U)^3 - (u/U)^2, here integrated over the
    exact profile (no polynomial).
    """
    momentum, energy = _integrate_profile(aspect)
    return 2.0 * (energy - momentum)


def kinetic_energy_factor(aspect: float | None) -> float:
    """Return the kinetic energy that developed laminar flow carries, over that of a flat profile.

    Parameters
    ----------
    aspect : float or None
        Short side over long side, [-]; None for a round bore.

    Returns
    -------
    float
        2 for a round bore, 2.154 for a square channel, 54/35 between plates, [-].

    Raises
    ------
    OutOfRange
        `aspect` outside 0 to 1.

    Source
    ------
    1/A times the integral of (u/U)^3 over the exact profile: White, Viscous Fluid Flow, equation 3-48.
    """
    return _integrate_profile(aspect)[1]


def _check_aspect(aspect: float) -> None:
    if not 0.0 <= aspect <= 1.0:
        raise OutOfRange(
            f"channel aspect {aspect:g} is outside 0 to 1; give the short side over the long side"
        )


@lru_cache(maxsize=1)
def _find_gauss_points() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return np.polynomial.legendre.leggauss(24)


@lru_cache(maxsize=1024)
def _integrate_profile(aspect: float | None) -> tuple[float, float]:
    """Return the means of (u/U)^2 and (u/U)^3 of the developed laminar profile."""
    if aspect is None:
        return 4.0 / 3.0, 2.0
    _check_aspect(aspect)
    if aspect < FLAT_ASPECT:
        return 6.0 / 5.0, 54.0 / 35.0
    nodes, weights = _find_gauss_points()
    y, weight_y = (nodes + 1) / 2, weights / 2
    # The profile changes along the long side within some two half-heights of its end: finer panels there.
    long_half = 1.0 / aspect
    cuts = long_half - np.array([long_half, *(c for c in (8.0, 4.0, 2.0, 1.0, 0.3) if c < long_half), 0.0])
    z = np.concatenate([a + (b - a) * y for a, b in pairwise(cuts)])
    weight_z = np.concatenate([(b - a) * weight_y for a, b in pairwise(cuts)])
    n = np.arange(1.0, 120.0, 2.0)
    rate = n[:, None] * (math.pi / 2)
    fall = (np.exp(rate * (z - long_half)) + np.exp(-rate * (z + long_half))) / (
        1 + np.exp(-2 * rate * long_half)
    )
    signs = np.where(np.arange(len(n)) % 2 == 0, 1.0, -1.0) / n**3
    profile = (np.cos(rate * y) * signs[:, None]).T @ (1 - fall)
    weight = np.outer(weight_y, weight_z)
    weight /= weight.sum()
    flat = profile / (weight * profile).sum()
    return float((weight * flat**2).sum()), float((weight * flat**3).sum())
