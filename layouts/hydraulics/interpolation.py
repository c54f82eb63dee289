"""Monotone piecewise cubics on numpy: no overshoot, first derivative continuous."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def find_slopes(x: Floats, y: Floats) -> Floats:
    """Return the slopes of the monotone cubic through the points.

    Parameters
    ----------
    x : (n,) float
        Strictly increasing; n at least 2.
    y : (n,) or (n, m) float
        One curve, or m curves over the same `x`.

    Returns
    -------
    (n,) or (n, m) float
        Slopes at the points, in units of y over x.

    Source
    ------
    Fritsch and Butland, A method for constructing local monotone piecewise cubic interpolants, SIAM J. Sci.
    Stat. Comput. 5 (1984) 300-304: weighted harmonic mean of the neighbouring secants; ends by the
    three-point formula held to the shape of the data.
    """
    step = np.diff(x)
    secant = np.diff(y, axis=0) / (step if y.ndim == 1 else step[:, None])
    slopes = np.empty_like(y, dtype=float)
    if len(x) == 2:
        slopes[:] = secant[0]
        return slopes
    left, right = secant[:-1], secant[1:]
    weight_left = 2 * step[1:] + step[:-1]
    weight_right = step[1:] + 2 * step[:-1]
    if y.ndim > 1:
        weight_left, weight_right = weight_left[:, None], weight_right[:, None]
    agree = left * right > 0
    safe_left, safe_right = np.where(agree, left, 1.0), np.where(agree, right, 1.0)
    with np.errstate(over="ignore"):  # next to a level piece: infinite resistance, slope 0
        mean = (weight_left + weight_right) / (weight_left / safe_left + weight_right / safe_right)
    slopes[1:-1] = np.where(agree, mean, 0.0)
    slopes[0] = _find_end_slope(step[0], step[1], secant[0], secant[1])
    slopes[-1] = _find_end_slope(step[-1], step[-2], secant[-1], secant[-2])
    return slopes


def _find_end_slope(near_step: float, far_step: float, near: Floats, far: Floats) -> Floats:
    slope = ((2 * near_step + far_step) * near - near_step * far) / (near_step + far_step)
    slope = np.where(np.sign(slope) == np.sign(near), slope, 0.0)
    return np.where((np.sign(near) != np.sign(far)) & (np.abs(slope) > 3 * np.abs(near)), 3 * near, slope)


def evaluate_cubic(t: Floats, step: Floats, y0: Floats, y1: Floats, s0: Floats, s1: Floats) -> Floats:
    """Return the cubic Hermite value.

    Parameters
    ----------
    t : (n,) float
        Place in the interval, 0 to 1, [-].
    step : (n,) float
        Length of the interval, in the unit of x.
    y0, y1 : (n,) float
        Values at both ends.
    s0, s1 : (n,) float
        Slopes at both ends.

    Returns
    -------
    (n,) float
        In the unit of y.
    """
    u = 1.0 - t
    value: Floats = u * u * ((1 + 2 * t) * y0 + t * step * s0) + t * t * ((1 + 2 * u) * y1 - u * step * s1)
    return value


def interpolate_monotone(at: float, x: Floats, y: Floats) -> Floats:
    """Return the monotone cubic through the points at one place, held at the end values beyond them.

    Parameters
    ----------
    at : float
        In the unit of `x`.
    x : (n,) float
        Strictly increasing.
    y : (n,) or (n, m) float

    Returns
    -------
    () or (m,) float
        In the unit of `y`.
    """
    return read_monotone(at, x, y, find_slopes(x, y))


def read_monotone(at: float, x: Floats, y: Floats, slopes: Floats) -> Floats:
    """Return the same as `interpolate_monotone`, from slopes found before.

    Parameters
    ----------
    at : float
        In the unit of `x`.
    x : (n,) float
        Strictly increasing.
    y, slopes : (n,) or (n, m) float

    Returns
    -------
    () or (m,) float
        In the unit of `y`.
    """
    if at <= x[0]:
        return np.asarray(y[0], dtype=float)
    if at >= x[-1]:
        return np.asarray(y[-1], dtype=float)
    i = int(np.searchsorted(x, at, side="right")) - 1
    step = x[i + 1] - x[i]
    return evaluate_cubic((at - x[i]) / step, step, y[i], y[i + 1], slopes[i], slopes[i + 1])
