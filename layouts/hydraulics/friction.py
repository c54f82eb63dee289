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


def friction_band(re: float) -> float:
    """Return the relative error to expect of `friction_factor`.

    Parameters
    ----------
    re : float
        Reynolds number on the hydraulic diameter, [-].

    Returns
    -------
    float
        0.02 below Re 1500 (exact series; the channel's own tolerance stays), 0.25 to 4000, 0.08 above, [-].

    Source
    ------
    McKeon, Swanson, Zagarola, Donnelly and Smits, Friction factors for smooth pipe flow, J. Fluid Mech. 511
    (2004) 41-44: measured factors scatter by 20 % between Re 2800 and 3100. Turbulent: Beavers, Sparrow and
    Lloyd 1971 and Dean 1978 lie 5 to 9 % on either side for wide channels.
    """
    if re < 1500:
        return 0.02
    return 0.25 if re <= 4000 else 0.08


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


@lru_cache(maxsize=1024)
def _integrate_profile(aspect: float | None) -> tuple[float, float]:
    """Return the means of (u/U)^2 and (u/U)^3 of the developed laminar profile."""
    if aspect is None:
        return 4.0 / 3.0, 2.0
    _check_aspect(aspect)
    if aspect < FLAT_ASPECT:
        return 6.0 / 5.0, 54.0 / 35.0
    nodes, weights = np.polynomial.legendre.leggauss(24)
    y, weight_y = (nodes + 1) / 2, weights / 2
    # The profile changes along the long side within some two half-heights of its end: finer panels there.
    long_half = 1.0 / aspect
    cuts = long_half - np.array([long_half, *(c for c in (8.0, 4.0, 2.0, 1.0, 0.3) if c < long_half), 0.0])
    z = np.concatenate([a + (b - a) * y for a, b in pairwise(cuts)])
    weight_z = np.concatenate([(b - a) * weight_y for a, b in pairwise(cuts)])
    profile = np.zeros((len(y), len(z)))
    for i, n in enumerate(range(1, 120, 2)):
        rate = n * math.pi / 2
        fall = (np.exp(rate * (z - long_half)) + np.exp(-rate * (z + long_half))) / (
            1 + math.exp(-2 * rate * long_half)
        )
        profile += (-1) ** i / n**3 * np.outer(np.cos(rate * y), 1 - fall)
    weight = np.outer(weight_y, weight_z)
    weight /= weight.sum()
    flat = profile / (weight * profile).sum()
    return float((weight * flat**2).sum()), float((weight * flat**3).sum())
