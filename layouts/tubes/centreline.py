"""Centrelines of bent tubes: corners joined by straights, each corner rounded by an arc of one radius.

Arrays of shape (n, m, 3) hold n centrelines of m points each: both ends, and m - 2 corners; [mm].
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geom.frame import Vec

CHORDS = 8
"""Straight pieces that stand for one bend where distances are measured: 0.15 mm off a bend of 90 degrees, R 30 mm."""

FAR = 1e6
"""Tangent length of a bend that turns right back, in radii: it fits nowhere."""


@dataclass(frozen=True, slots=True)
class BendRule:
    """What a tube's bends need.

    Parameters
    ----------
    radius : float
        Of the centreline, [mm].
    lead : float
        Straight tube at each end, its insertion included, [mm].
    between : float
        Straight tube between two bends, [mm].
    """

    radius: float
    lead: float
    between: float


@dataclass(frozen=True, slots=True)
class BendMark:
    """A bend as it is marked on the straight tube.

    Parameters
    ----------
    angle_deg : float
    start, end : float
        Where it starts and ends along the tube, from the panel's end, [mm].
    turned_deg : float
        Where it points against the bend before: clockwise of it as seen along the tube from the panel's end, in
        (-180, 180], [deg]; 0 for the first. In a bender that stands fast the tube is turned the other way.
    """

    angle_deg: float
    start: float
    end: float
    turned_deg: float


def bend_angles(points: np.ndarray) -> np.ndarray:
    """Return the angle of each bend.

    Parameters
    ----------
    points : (n, m, 3) float
        [mm].

    Returns
    -------
    (n, m - 2) float
        [rad], 0 to pi.
    """
    legs = np.diff(points, axis=1)
    before, after = legs[:, :-1], legs[:, 1:]
    across = np.linalg.norm(np.cross(before, after), axis=2)
    return np.arctan2(across, np.einsum("nmk,nmk->nm", before, after))


def measure_lines(points: np.ndarray, rule: BendRule) -> tuple[np.ndarray, np.ndarray]:
    """Return how long centrelines are, and what they lack.

    Parameters
    ----------
    points : (n, m, 3) float
        [mm].
    rule : BendRule

    Returns
    -------
    lengths : (n,) float
        Along the centreline, arcs counted as arcs, [mm].
    lacking : (n,) float
        By how much the shortest of its straights falls short of what it needs, [mm]; 0 where all bends fit.

    Source
    ------
    Setback of a bend: R tan(angle / 2); geometry.
    """
    straights = np.linalg.norm(np.diff(points, axis=1), axis=2)
    angles = bend_angles(points)
    with np.errstate(over="ignore"):
        setbacks = rule.radius * np.minimum(np.abs(np.tan(angles / 2)), FAR)
    lengths = straights.sum(axis=1) - (2 * setbacks - rule.radius * angles).sum(axis=1)
    room = straights.copy()
    room[:, :-1] -= setbacks
    room[:, 1:] -= setbacks
    needs = np.full(room.shape[1], rule.between)
    needs[0] = needs[-1] = rule.lead
    return lengths, np.maximum(needs - room, 0.0).max(axis=1)


def trace_chords(points: np.ndarray, radius: float) -> np.ndarray:
    """Return centrelines as chains of chords, `CHORDS` for each bend.

    Parameters
    ----------
    points : (n, m, 3) float
        Centrelines whose bends fit, [mm].
    radius : float
        Of the bends, [mm].

    Returns
    -------
    (n, 2 + (m - 2) * (CHORDS + 1), 3) float
        The first two points are the first straight's ends, [mm].
    """
    legs = np.diff(points, axis=1)
    along = legs / np.maximum(np.linalg.norm(legs, axis=2, keepdims=True), 1e-12)
    angles = bend_angles(points)
    pieces = [points[:, :1]]
    for k in range(points.shape[1] - 2):
        angle = angles[:, k, None]
        inward = along[:, k + 1] - np.cos(angle) * along[:, k]
        inward = inward / np.maximum(np.sin(angle), 1e-12)
        start = points[:, k + 1] - radius * np.tan(angle / 2) * along[:, k]
        turn = np.linspace(0.0, 1.0, CHORDS + 1)[None, :, None] * angle[:, :, None]
        arc = start[:, None] + radius * (
            np.sin(turn) * along[:, None, k] + (1.0 - np.cos(turn)) * inward[:, None]
        )
        pieces.append(arc)
    return np.concatenate([*pieces, points[:, -1:]], axis=1)


def mark_bends(points: tuple[Vec, ...], radius: float) -> tuple[BendMark, ...]:
    """Return the bends of one tube as they are marked on it, from the panel's end.

    Parameters
    ----------
    points : tuple of (float, float, float)
        Its ends and corners, [mm].
    radius : float
        Of its bends, [mm].

    Returns
    -------
    tuple of BendMark
        Empty for a straight tube.
    """
    line = np.array(points, dtype=float)
    angles = bend_angles(line[None])[0]
    legs = np.diff(line, axis=0)
    marks: list[BendMark] = []
    at, normal = 0.0, None
    for k, angle in enumerate(angles.tolist()):
        setback = radius * math.tan(angle / 2)
        past = radius * math.tan(float(angles[k - 1]) / 2) if k else 0.0
        start = at + float(np.linalg.norm(legs[k])) - past - setback
        at = start + radius * angle
        across = np.cross(legs[k], legs[k + 1])
        turned = 0.0 if normal is None else _turn_about(legs[k], normal, across)
        marks.append(BendMark(math.degrees(angle), start, at, turned))
        normal = across
    return tuple(marks)


def _turn_about(axis: np.ndarray, first: np.ndarray, second: np.ndarray) -> float:
    """Return the angle from one direction to another about an axis, right-handed, in (-180, 180], [deg]."""
    along = axis / np.linalg.norm(axis)
    sine, cosine = float(along @ np.cross(first, second)), float(first @ second)
    # A turn right over stays positive whatever rounding says.
    if cosine < 0.0 and abs(sine) < 1e-9 * abs(cosine):
        return 180.0
    return math.degrees(math.atan2(sine, cosine))
