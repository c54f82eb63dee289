"""Plates under even pressure whose bending has a closed form: what rests or is held along its whole edge."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

MOST_RATIO = 5.0
"""A longer rectangle bends in its middle like one of this ratio of sides: within 0.1 % of an endless strip."""

TERMS = 10
"""Of the clamped plate's shape along either side: the bow changes by less than 1e-5 with more."""


def plate_rigidity(thickness: float, young_mpa: float, poisson: float) -> float:
    """Return a plate's bending rigidity, E t^3 / (12 (1 - nu^2)).

    Parameters
    ----------
    thickness : float
        [mm]
    young_mpa, poisson : float
        [MPa], [-].

    Returns
    -------
    float
        [N mm]
    """
    return young_mpa * thickness**3 / (12 * (1 - poisson**2))


def simply_supported(
    pressure_pa: float, side: float, other: float, thickness: float, young_mpa: float, poisson: float
) -> tuple[float, float]:
    """Return how far a rectangle that rests on its edges bows in its middle, and its stress there.

    Parameters
    ----------
    pressure_pa : float
        On one face, [Pa].
    side, other, thickness : float
        [mm]
    young_mpa, poisson : float
        [MPa], [-].

    Returns
    -------
    bow, stress : float
        [mm], [MPa].

    Source
    ------
    Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, Levy's solution, chapter 5.
    """
    short, long = sorted((side, other))
    pressure = pressure_pa * 1e-6
    m = np.arange(1, 100, 2)
    half = m * math.pi * min(long / short, 50.0) / 2
    sech = 2 * np.exp(-half) / (1 + np.exp(-2 * half))
    ends = (half * np.tanh(half) + 2) * sech / 2
    sign = np.where(m % 4 == 1, 1.0, -1.0)
    bow = 4 / math.pi**5 * np.sum(sign / m**5 * (1 - ends))
    moment = 4 / math.pi**3 * np.sum(sign / m**3 * (1 - ends - poisson * (sech - ends)))
    rigidity = plate_rigidity(thickness, young_mpa, poisson)
    return float(bow * pressure * short**4 / rigidity), float(6 * moment * pressure * short**2 / thickness**2)


def clamped(
    pressure_pa: float, side: float, other: float, thickness: float, young_mpa: float, poisson: float
) -> tuple[float, float]:
    """Return how far a rectangle held along its edges bows in its middle, and its stress in the middle of a long edge.

    Parameters
    ----------
    pressure_pa : float
        On one face, [Pa].
    side, other, thickness : float
        [mm]
    young_mpa, poisson : float
        [MPa], [-].

    Returns
    -------
    bow, stress : float
        [mm], [MPa].

    Source
    ------
    Ritz's method with polynomials, as in Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, chapter 10.
    """
    short, long = sorted((side, other))
    pressure = pressure_pa * 1e-6
    bow, moment = _clamped_shares(min(long / short, MOST_RATIO))
    rigidity = plate_rigidity(thickness, young_mpa, poisson)
    return bow * pressure * short**4 / rigidity, 6 * moment * pressure * short**2 / thickness**2


@lru_cache(maxsize=1024)
def _clamped_shares(ratio: float) -> tuple[float, float]:
    """Return w D / (q a^4) in the middle and |M| / (q a^2) in the middle of a long edge; a is the short side."""
    place, weight = np.polynomial.legendre.leggauss(2 * TERMS + 6)
    shapes = []
    for k in range(TERMS):
        # Squared, so that value and slope vanish at both ends; even, as the load is.
        shape = np.polynomial.Legendre.basis(2 * k) * np.polynomial.Polynomial([1, 0, -2, 0, 1]).convert(
            kind=np.polynomial.Legendre
        )
        shapes.append(shape)
    value = np.array([s(place) for s in shapes])
    curve = np.array([s.deriv(2)(place) for s in shapes])
    mass, cross, bend = ((f * weight) @ g.T for f, g in ((value, value), (curve, value), (curve, curve)))
    lift = value @ weight
    # Halves of the sides are 1 and `ratio`; where the edge is held, bending work is (w_xx + w_yy)^2.
    work = np.kron(bend, mass) + (np.kron(cross, cross.T) + np.kron(cross.T, cross)) / ratio**2
    work = work + np.kron(mass, bend) / ratio**4
    share = np.linalg.solve(work, np.kron(lift, lift)).reshape(TERMS, TERMS)
    middle = np.array([s(0.0) for s in shapes])
    edge = np.array([s.deriv(2)(1.0) for s in shapes])
    return float(middle @ share @ middle) / 16, float(edge @ share @ middle) / 4
