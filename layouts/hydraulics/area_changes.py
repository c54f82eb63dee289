"""Losses where the area changes: expansion, contraction, entrance from a tank and exit into one.

As K, of total pressure (flux-weighted), friction left out. Entrance and exit are continuous functions of the
Reynolds number on the hydraulic diameter and mean velocity, and K times Re squared always rises with Re.

What a laminar flow loses until it is developed (K infinity) is part of `loss_entrance` behind the tank, and
fades with the laminar profile from Re 2000 to 4000.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from geom.errors import OutOfRange
from layouts.hydraulics.friction import entry_loss, kinetic_energy_factor
from layouts.hydraulics.interpolation import Floats
from layouts.hydraulics.turn_table import RE_KNOTS, LossCurve, check_shape, read_loss, trace_curve

LAMINAR_RE, TURBULENT_RE = 2000.0, 4000.0
"""Entrance and exit change from the laminar to the flat profile between these."""


def loss_expansion(area_ratio: float) -> float:
    """Return K of a sudden expansion.

    Parameters
    ----------
    area_ratio : float
        Smaller area over larger, 0 to 1, [-].

    Returns
    -------
    float
        K on the velocity in the smaller area, [-]. Exact for flat profiles; expect 30 %.

    Raises
    ------
    OutOfRange
        `area_ratio` outside 0 to 1.

    Source
    ------
    Borda and Carnot: momentum balance over the expansion.
    """
    _check_area_ratio("expansion", area_ratio)
    return (1.0 - area_ratio) ** 2


def loss_contraction(area_ratio: float) -> float:
    """Return K of a sudden contraction.

    Parameters
    ----------
    area_ratio : float
        Smaller area over larger, 0 to 1, [-].

    Returns
    -------
    float
        K on the velocity in the smaller area, [-]. Expect 30 %.

    Raises
    ------
    OutOfRange
        `area_ratio` outside 0 to 1.

    Source
    ------
    Crane, Technical Paper 410, sudden contraction: 0.5 (1 - area ratio).
    """
    _check_area_ratio("contraction", area_ratio)
    return 0.5 * (1.0 - area_ratio)


def loss_entrance(re: float, aspect: float | None) -> float:
    """Return K of a sharp flush entrance from a tank.

    Parameters
    ----------
    re : float
        Reynolds number on the hydraulic diameter, [-].
    aspect : float or None
        Short side over long side, [-]; None for a round bore.

    Returns
    -------
    float
        0.5 turbulent; laminar also what the flow loses until it is developed, `entry_loss` less the gain in
        kinetic energy, which `loss_exit` charges, [-]. A run shorter than the entry length of 0.09 Re
        diameters loses less: laminar the band is 40 %.

    Raises
    ------
    OutOfRange
        Negative `re`, `aspect` outside 0 to 1.

    Source
    ------
    0.5: Crane, Technical Paper 410, and Idelchik. Laminar: Lundgren, Sparrow and Starr 1964.
    """
    check_shape("entrance", re, 1.0)
    return read_loss(trace_entrance(aspect), re)


def loss_exit(re: float, aspect: float | None) -> float:
    """Return K of an exit into a tank: the kinetic energy of the flow.

    Parameters
    ----------
    re : float
        Reynolds number on the hydraulic diameter, [-].
    aspect : float or None
        Short side over long side, [-]; None for a round bore.

    Returns
    -------
    float
        1 turbulent (from Re 4000), laminar (to Re 2000) the factor of the exact profile, [-].

    Raises
    ------
    OutOfRange
        Negative `re`, `aspect` outside 0 to 1.

    Source
    ------
    Kinetic energy of the profile, see `kinetic_energy_factor`.
    """
    check_shape("exit", re, 1.0)
    return read_loss(trace_exit(aspect), re)


@lru_cache(maxsize=1024)
def trace_entrance(aspect: float | None) -> LossCurve:
    """Return the curve of `loss_entrance` over the Reynolds number.

    Parameters
    ----------
    aspect : float or None
        As for `loss_entrance`, [-].

    Returns
    -------
    LossCurve
    """
    laminar = _share_laminar()
    values = 0.5 + laminar * (entry_loss(aspect) - (kinetic_energy_factor(aspect) - 1.0))
    return trace_curve(values, 0.15 + 0.25 * laminar)


@lru_cache(maxsize=1024)
def trace_exit(aspect: float | None) -> LossCurve:
    """Return the curve of `loss_exit` over the Reynolds number.

    Parameters
    ----------
    aspect : float or None
        As for `loss_exit`, [-].

    Returns
    -------
    LossCurve
    """
    laminar = _share_laminar()
    return trace_curve(1.0 + laminar * (kinetic_energy_factor(aspect) - 1.0), 0.05 + 0.25 * laminar)


def _share_laminar() -> Floats:
    """Return 1 at laminar knots, 0 at turbulent ones; the cubic between the two is the smooth step."""
    share: Floats = np.interp(RE_KNOTS, [LAMINAR_RE, TURBULENT_RE], [1.0, 0.0])
    return share


def _check_area_ratio(what: str, area_ratio: float) -> None:
    if not 0 <= area_ratio <= 1:
        raise OutOfRange(
            f"{what} of area ratio {area_ratio:g}: give the smaller area over the larger, 0 to 1"
        )
