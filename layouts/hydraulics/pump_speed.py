"""What a pump does at another speed: the speed for a head, power, sound; the steps of a speed."""

from __future__ import annotations

import math

from geom.errors import OutOfRange
from layouts.hydraulics.pump import CurvePoints, pump_head_m

SOUND_DB = 50.0
"""A pump's sound level rises by this many times log10 of its speed, [dB]; common practice, no source."""

STEP_RPM = 10
"""A speed is set in whole steps of this, [rpm]."""


def step_speed(speed_rpm: float, limits_rpm: tuple[float, float], up: bool) -> float:
    """Return the next speed that can be set: a whole step, or an end of the pump's range.

    Parameters
    ----------
    speed_rpm : float
        Within the range, [rpm].
    limits_rpm : (float, float)
        Least and most speed, [rpm].
    up : bool
        Whether to the faster one.

    Returns
    -------
    float
        [rpm]; `speed_rpm` itself where it can be set.
    """
    steps = speed_rpm / STEP_RPM
    whole = STEP_RPM * float(math.ceil(steps) if up else math.floor(steps))
    least, most = limits_rpm
    return min(max(whole, least), most)


def find_speed_ratio(points: CurvePoints, flow_m3_s: float, head_m: float) -> float:
    """Return the speed at which a pump gives a head at a flow, over the speed of its curve.

    Parameters
    ----------
    points : tuple of (float, float)
        Flow [m3/s] and head [m].
    flow_m3_s, head_m : float
        0 or more, and greater than 0, [m3/s], [m].

    Returns
    -------
    float
        [-]; greater than 1 where the curve runs under the point.

    Raises
    ------
    OutOfRange
        A flow or head outside its range, or a curve that `check_pump_curve` refuses.

    Source
    ------
    Affinity laws, solved by bisection: the head at one flow only rises with the speed.
    """
    if not (flow_m3_s >= 0 and head_m > 0 and math.isfinite(flow_m3_s + head_m)):
        raise OutOfRange(
            f"pump speed for {flow_m3_s:g} m3/s, {head_m:g} m: the flow must be 0 or more and the head above 0"
        )
    low, high = 0.0, 1.0
    while high**2 * pump_head_m(points, flow_m3_s / high) < head_m:
        low, high = high, 2.0 * high
    for _ in range(200):
        middle = 0.5 * (low + high)
        if not low < middle < high or high - low <= 1e-13 * high:
            break
        if middle**2 * pump_head_m(points, flow_m3_s / middle) < head_m:
            low = middle
        else:
            high = middle
    return high


def scale_power_w(power_w: float, speed_ratio: float) -> float:
    """Return what a pump takes at another speed: an estimate, as its motor's losses follow their own law.

    Parameters
    ----------
    power_w : float
        [W]
    speed_ratio : float
        New speed over that of `power_w`, [-].

    Returns
    -------
    float
        [W]

    Source
    ------
    Affinity laws: power with the cube of the speed.
    """
    return power_w * speed_ratio**3


def scale_sound_db(level_db: float, speed_ratio: float) -> float:
    """Return a pump's sound level at another speed: an estimate, as bearings and motor have their own tones.

    Parameters
    ----------
    level_db : float
        [dB]
    speed_ratio : float
        New speed over that of `level_db`, greater than 0, [-].

    Returns
    -------
    float
        [dB]

    Source
    ------
    50 log10 of the speed ratio, as for fans: common practice, no source.
    """
    return level_db + SOUND_DB * math.log10(speed_ratio)


def find_sound_ratio(level_db: float, most_db: float) -> float:
    """Return the speed at which a pump makes no more than a sound level, over the speed of its own level.

    Parameters
    ----------
    level_db, most_db : float
        The pump's, and what is allowed, [dB].

    Returns
    -------
    float
        [-]; greater than 1 where it is quieter than allowed.

    Source
    ------
    `scale_sound_db`, turned round.
    """
    return float(10.0 ** ((most_db - level_db) / SOUND_DB))
