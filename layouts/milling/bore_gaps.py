"""How two bores lie to each other: the least distance between them, and where one drill meets the other's wall."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geom.features import Cylinder
from geom.frame import SAME_MM, Vec

PARALLEL = 1e-6
"""Axes at an angle of a smaller sine are parallel, [-]."""

MOST_STEPS = 4000
"""Steps from one bore to the other and back until the distance stands still; a hundred are enough for most."""

STILL_MM = 1e-9
"""A step that moves the points by less ends the search, [mm]."""


@dataclass(frozen=True, slots=True)
class Meeting:
    """Where a drill's axis meets the wall of another bore.

    Parameters
    ----------
    at : (float, float, float)
        [mm]
    slope : float
        Angle between the axis and the wall's normal there, [deg].
    """

    at: Vec
    slope: float


def measure_gap(a: Cylinder, b: Cylinder) -> tuple[float, Vec]:
    """Return the material between two bores with flat ends, and its middle.

    Parameters
    ----------
    a, b : Cylinder
        Without their chamfers.

    Returns
    -------
    (float, (float, float, float))
        [mm]; where they overlap, less than 0 by as much as they do beside each other, or 0 where an end reaches in.
    """
    p, q, inside = nearest_on_axes(a, b)
    apart = float(np.linalg.norm(q - p))
    if inside:
        gap = apart - a.radius - b.radius
        toward = (q - p) / apart if apart > SAME_MM else np.zeros(3)
        return gap, _point(p + toward * (a.radius + gap / 2))
    return _alternate(a, b, q)


def nearest_on_axes(a: Cylinder, b: Cylinder) -> tuple[np.ndarray, np.ndarray, bool]:
    """Return the nearest points of two bores' axes, and whether both lie between the ends.

    Parameters
    ----------
    a, b : Cylinder

    Returns
    -------
    ((3,) float, (3,) float, bool)
        [mm]; of parallel axes, the middle of the length that they have in common.
    """
    (p, u, k), (q, v, m) = _axis(a), _axis(b)
    between, cosine = q - p, float(u @ v)
    sine2 = float(np.sum(np.cross(u, v) ** 2))
    if sine2 < PARALLEL**2:
        start, stop = sorted((float(between @ u), float(between @ u) + math.copysign(m, cosine)))
        low, high = max(0.0, start), min(k, stop)
        s = min(max((low + high) / 2, 0.0), k)
        t = min(max(float((p + s * u - q) @ v), 0.0), m)
        return p + s * u, q + t * v, high > low
    s = (float(between @ u) - cosine * float(between @ v)) / sine2
    t = (cosine * float(between @ u) - float(between @ v)) / sine2
    inside = 0 < s < k and 0 < t < m
    if not inside:
        s = min(max(s, 0.0), k)
        t = min(max(float((p + s * u - q) @ v), 0.0), m)
        s = min(max(float((q + t * v - p) @ u), 0.0), k)
    return p + s * u, q + t * v, inside


def meet_axis(drill: Cylinder, bore: Cylinder) -> Meeting | None:
    """Return where a drill's axis first meets another bore's wall or end; None where it passes beside.

    Parameters
    ----------
    drill, bore : Cylinder

    Returns
    -------
    Meeting or None
    """
    (p, u, length), (q, v, depth) = _axis(drill), _axis(bore)
    along, off = float(u @ v), float((p - q) @ v)
    across, beside = u - along * v, (p - q) - off * v
    square = float(across @ across)
    enter, leave, end = 0.0, length, False
    if square > PARALLEL**2:
        half = float(across @ beside)
        root = half * half - square * (float(beside @ beside) - bore.radius**2)
        if root <= 0:
            return None
        enter, leave = (
            max(enter, (-half - math.sqrt(root)) / square),
            min(leave, (-half + math.sqrt(root)) / square),
        )
    elif float(beside @ beside) >= bore.radius**2:
        return None
    if abs(along) > PARALLEL:
        first, last = sorted((-off / along, (depth - off) / along))
        end, enter, leave = first > enter, max(enter, first), min(leave, last)
    elif not 0 < off < depth:
        return None
    if leave - enter < SAME_MM:
        return None
    at = p + enter * u
    normal = v if end else (beside + enter * across) / bore.radius
    return Meeting(_point(at), math.degrees(math.acos(min(1.0, abs(float(u @ normal))))))


def overlap_share(radius: float, other: float, apart: float) -> float:
    """Return how much of a drill's circle lies in a bore beside it, [-].

    Parameters
    ----------
    radius : float
        Of the drill, [mm].
    other : float
        Of the bore, [mm].
    apart : float
        Between their parallel axes, [mm].

    Source
    ------
    The lens of two circles.
    """
    if apart >= radius + other:
        return 0.0
    if apart <= abs(radius - other):
        return min(1.0, (other / radius) ** 2)
    first = (apart**2 + radius**2 - other**2) / (2 * apart)
    second = apart - first
    lens = (
        radius**2 * math.acos(first / radius)
        - first * math.sqrt(radius**2 - first**2)
        + other**2 * math.acos(second / other)
        - second * math.sqrt(other**2 - second**2)
    )
    return lens / (math.pi * radius**2)


def _alternate(a: Cylinder, b: Cylinder, start: np.ndarray) -> tuple[float, Vec]:
    """Return gap and middle by going to the nearest point of either bore in turn: both are convex.

    Each step goes on a little beyond, as fast as the ones before it (Nesterov's momentum, begun anew where it turns
    back): bores that only just touch would take many more steps else.
    """
    p = _nearest(a, start)
    ahead, pace = p, 1.0
    for _ in range(MOST_STEPS):
        q = _nearest(b, ahead)
        p_next = _nearest(a, q)
        step = p_next - p
        if float((ahead - p_next) @ step) > 0.0:
            pace = 1.0
        faster = (1.0 + math.sqrt(1.0 + 4.0 * pace * pace)) / 2
        ahead, pace = p_next + (pace - 1.0) / faster * step, faster
        p = p_next
        if float(np.abs(step).max()) < STILL_MM:
            break
    q = _nearest(b, p)
    return float(np.linalg.norm(q - p)), _point((p + q) / 2)


def _nearest(bore: Cylinder, point: np.ndarray) -> np.ndarray:
    """Return the point of a bore nearest to a point."""
    mouth, direction, length = _axis(bore)
    along = float((point - mouth) @ direction)
    beside = point - mouth - along * direction
    off = float(np.linalg.norm(beside))
    if off > bore.radius:
        beside = beside * (bore.radius / off)
    return mouth + min(max(along, 0.0), length) * direction + beside


def _axis(bore: Cylinder) -> tuple[np.ndarray, np.ndarray, float]:
    return np.array(bore.mouth), np.array(bore.direction), bore.length


def _point(place: np.ndarray) -> Vec:
    return float(place[0]), float(place[1]), float(place[2])
