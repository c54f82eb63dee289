"""Pump curves: checking, reading between the points, joining pumps, changing speed."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

import numpy as np

from geom.errors import OutOfRange
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.interpolation import find_slopes

GRAVITY_M_S2 = 9.80665
"""Standard gravity, ISO 80000-3."""

CurvePoints = tuple[tuple[float, float], ...]
"""Points (flow [m3/s], head [m]) of a pump curve."""


def check_pump_curve(points: CurvePoints) -> None:
    """Refuse a pump curve that no pump can have.

    Parameters
    ----------
    points : tuple of (float, float)
        Flow [m3/s] and head [m].

    Raises
    ------
    OutOfRange
        Fewer than 2 points, a value that is negative or not finite, flows not increasing, a head that rises
        with flow anywhere, no head at the first point.
    """
    if len(points) < 2:
        raise OutOfRange(
            f"pump curve of {len(points)} point(s): give at least 2, from no flow to the largest"
        )
    for flow, head in points:
        if not (math.isfinite(flow) and math.isfinite(head) and flow >= 0 and head >= 0):
            raise OutOfRange(
                f"pump curve: the point {flow:g} m3/s, {head:g} m must have flow and head of 0 or more"
            )
    for (flow, head), (next_flow, next_head) in pairwise(points):
        if next_flow <= flow:
            raise OutOfRange(
                f"pump curve: flow {next_flow:g} m3/s follows {flow:g} m3/s; list the points by rising flow"
            )
        if next_head > head:
            raise OutOfRange(
                f"pump curve: head rises from {head:g} m at {flow:g} m3/s to {next_head:g} m at "
                f"{next_flow:g} m3/s; a rising part has no stable flow, give the falling part only"
            )
    if points[0][1] <= 0:
        raise OutOfRange("pump curve: the first head is 0 m, so the pump drives nothing; check the curve")


def pump_head_m(points: CurvePoints, flow_m3_s: float) -> float:
    """Return the head of a pump at a flow.

    Parameters
    ----------
    points : tuple of (float, float)
        Flow [m3/s] and head [m], as `check_pump_curve` lets pass.
    flow_m3_s : float
        [m3/s]

    Returns
    -------
    float
        [m]; a monotone cubic through the points, level below the first point and at reverse flow, falling on
        by its last slope beyond the last.

    Raises
    ------
    OutOfRange
        As `check_pump_curve`.

    Source
    ------
    Interpolation: Fritsch and Butland 1984, see `interpolation.find_slopes`.
    """
    return read_head(points, flow_m3_s)[0]


def read_head(points: CurvePoints, flow_m3_s: float) -> tuple[float, float]:
    """Return the head of a pump at a flow and its slope.

    Parameters
    ----------
    points : tuple of (float, float)
        As for `pump_head_m`.
    flow_m3_s : float
        [m3/s]

    Returns
    -------
    tuple of float
        Head as `pump_head_m`, [m], and how it changes with the flow, 0 or less, [s/m2].

    Raises
    ------
    OutOfRange
        As `check_pump_curve`.
    """
    flows, heads, slopes = _trace_pump(points)
    if flow_m3_s <= flows[0]:
        return heads[0], 0.0
    if flow_m3_s >= flows[-1]:
        # The steeper of the cubic's end and the last chord: a curve that levels out must still end.
        fall = min(slopes[-1], (heads[-1] - heads[-2]) / (flows[-1] - flows[-2]))
        return heads[-1] + fall * (flow_m3_s - flows[-1]), fall
    return read_cubic(flow_m3_s, flows, heads, slopes)


def read_cubic(
    at: float, x: tuple[float, ...], y: tuple[float, ...], slopes: tuple[float, ...]
) -> tuple[float, float]:
    """Return the cubic through points with slopes and its own slope, at one place within them.

    Parameters
    ----------
    at : float
        Within `x`, in its unit.
    x, y, slopes : tuple of float
        Points and slopes as `interpolation.find_slopes` gives them.

    Returns
    -------
    tuple of float
        Value in the unit of `y`, slope in that over the unit of `x`.
    """
    i = min(bisect_right(x, at), len(x) - 1) - 1
    step = x[i + 1] - x[i]
    t = (at - x[i]) / step
    u = 1.0 - t
    near, far = slopes[i], slopes[i + 1]
    low = u * u * ((1 + 2 * t) * y[i] + t * step * near)
    value = low + t * t * ((1 + 2 * u) * y[i + 1] - u * step * far)
    slope = 6 * t * u * (y[i + 1] - y[i]) / step + u * (1 - 3 * t) * near + t * (1 - 3 * u) * far
    return value, slope


def head_pressure_pa(head_m: float, coolant: Coolant) -> float:
    """Return the pressure of a head of coolant.

    Parameters
    ----------
    head_m : float
        [m]
    coolant : Coolant

    Returns
    -------
    float
        [Pa]

    Source
    ------
    Hydrostatics: density * gravity * head.
    """
    return coolant.density_kg_m3 * GRAVITY_M_S2 * head_m


def hydraulic_power_w(flow_m3_s: float, head_m: float, coolant: Coolant) -> float:
    """Return the power that the pump gives to the coolant.

    Parameters
    ----------
    flow_m3_s : float
        [m3/s]
    head_m : float
        [m]
    coolant : Coolant

    Returns
    -------
    float
        [W]

    Source
    ------
    Flow times pressure.
    """
    return flow_m3_s * head_pressure_pa(head_m, coolant)


def combine_series(curves: Sequence[CurvePoints]) -> CurvePoints:
    """Return the curve of pumps in series: heads add at equal flow.

    Parameters
    ----------
    curves : sequence of pump curves
        Flow [m3/s] and head [m]; equal or unlike pumps.

    Returns
    -------
    tuple of (float, float)
        Flow [m3/s] and head [m], up to where the weakest pump's curve ends.

    Raises
    ------
    OutOfRange
        No curve, or one that `check_pump_curve` refuses.

    Source
    ------
    Any text on pumps; for H0 - k Q2 twice: 2 H0 - 2 k Q2.
    """
    _check_all(curves)
    most = min(points[-1][0] for points in curves)
    flows = sorted({flow for points in curves for flow, _ in points if flow <= most})
    return tuple((flow, sum(pump_head_m(points, flow) for points in curves)) for flow in flows)


def combine_parallel(curves: Sequence[CurvePoints]) -> CurvePoints:
    """Return the curve of pumps in parallel: flows add at equal head.

    Parameters
    ----------
    curves : sequence of pump curves
        Flow [m3/s] and head [m]; equal or unlike pumps. A pump gives no flow at a head above its own
        shut-off (it needs a check valve there, or it is driven backwards).

    Returns
    -------
    tuple of (float, float)
        Flow [m3/s] and head [m], down to the highest of the curves' last heads.

    Raises
    ------
    OutOfRange
        No curve, one that `check_pump_curve` refuses, or curves that share no head.

    Source
    ------
    Any text on pumps; for H0 - k Q2 twice: H0 - (k/4) Q2.
    """
    _check_all(curves)
    least = max(points[-1][1] for points in curves)
    heads = sorted({head for points in curves for _, head in points if head >= least}, reverse=True)
    weakest = min(points[0][1] for points in curves)
    if weakest < least:
        raise OutOfRange(
            f"pumps in parallel: one gives at most {weakest:g} m, another's curve ends at {least:g} m; they share "
            "no head, extend that curve"
        )
    joined: dict[float, float] = {}
    for head in heads:
        for last in (False, True):
            flow = sum(_find_flow(points, head, last) for points in curves)
            joined.setdefault(flow, head)
    return tuple(sorted(joined.items()))


def scale_affinity(points: CurvePoints, speed_ratio: float) -> CurvePoints:
    """Return the pump curve at another speed.

    Parameters
    ----------
    points : tuple of (float, float)
        Flow [m3/s] and head [m].
    speed_ratio : float
        New speed over the curve's, greater than 0, [-].

    Returns
    -------
    tuple of (float, float)
        Flow [m3/s] and head [m].

    Raises
    ------
    OutOfRange
        `speed_ratio` not greater than 0, or a curve that `check_pump_curve` refuses.

    Source
    ------
    Affinity laws: flow with the speed, head with its square.
    """
    check_pump_curve(points)
    if not speed_ratio > 0:
        raise OutOfRange(f"pump speed ratio {speed_ratio:g}: it must be greater than 0")
    return tuple((flow * speed_ratio, head * speed_ratio**2) for flow, head in points)


@lru_cache(maxsize=256)
def _trace_pump(points: CurvePoints) -> tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]:
    check_pump_curve(points)
    flows, heads = (tuple(float(value) for value in column) for column in zip(*points, strict=True))
    slopes = find_slopes(np.array(flows), np.array(heads))
    return flows, heads, tuple(float(slope) for slope in slopes)


def _check_all(curves: Sequence[CurvePoints]) -> None:
    if not curves:
        raise OutOfRange("joining pumps: there is no pump curve; give at least one")
    for points in curves:
        check_pump_curve(points)


def _find_flow(points: CurvePoints, head_m: float, last: bool) -> float:
    """Return the first or last flow at which the pump has this head; 0 above its shut-off head."""
    for flow, head in reversed(points) if last else points:
        if head == head_m:
            return flow if flow > points[0][0] else 0.0
    if head_m >= points[0][1]:
        return 0.0
    low, high = points[0][0], points[-1][0]
    for _ in range(200):
        middle = 0.5 * (low + high)
        if not low < middle < high:
            break
        if pump_head_m(points, middle) > head_m:
            low = middle
        else:
            high = middle
    return high
