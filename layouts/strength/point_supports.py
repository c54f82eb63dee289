"""A simply supported rectangular plate under uniform pressure that points inside hold down.

All by Navier's double sine series: the plate without points, less what the forces at the points do, which are such
that the plate stands still there. Bows are told for a stiffness and a load of one, so that plates of any thickness
and material follow by a factor.
"""

from __future__ import annotations

import math

import numpy as np

MODES = 40
"""Waves of the series along each side: the bow under a force at the middle of a square is then right to 0.05 %."""


def free_bow(width: float, height: float, points: np.ndarray) -> np.ndarray:
    """Return the bow under uniform pressure without points that hold it, times stiffness over pressure.

    Parameters
    ----------
    width, height : float
        Of the plate, [mm].
    points : (n, 2) float
        From its lower left corner, [mm].

    Returns
    -------
    (n,) float
        [mm4]

    Source
    ------
    Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, chapter 5, Navier's solution.
    """
    rows, columns = np.meshgrid(np.arange(1, MODES + 1), np.arange(1, MODES + 1), indexing="ij")
    odd = (rows % 2 == 1) & (columns % 2 == 1)
    load = np.where(odd, 16 / (math.pi**2 * rows * columns), 0.0)
    shares = load / _mode_stiffness(width, height)
    return _mode_shapes(width, height, points) @ shares.ravel()


def influence(width: float, height: float, points: np.ndarray, forces_at: np.ndarray) -> np.ndarray:
    """Return the bow at points under one force at each of other points, times stiffness over force.

    Parameters
    ----------
    width, height : float
        Of the plate, [mm].
    points : (n, 2) float
        Where the bow is told, from the lower left corner, [mm].
    forces_at : (k, 2) float
        [mm]

    Returns
    -------
    (n, k) float
        [mm2]

    Source
    ------
    Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, chapter 5, a concentrated load.
    """
    shares = 4 / (width * height) / _mode_stiffness(width, height).ravel()
    at = _mode_shapes(width, height, forces_at)
    return (_mode_shapes(width, height, points) * shares) @ at.T


def held_bow(width: float, height: float, supports: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Return the bow under uniform pressure of a plate that stands still at supports, times stiffness over pressure.

    Parameters
    ----------
    width, height : float
        Of the plate, [mm].
    supports, points : (k, 2) and (n, 2) float
        From the lower left corner, [mm].

    Returns
    -------
    (n,) float
        [mm4]
    """
    free = free_bow(width, height, points)
    if not len(supports):
        return free
    forces = support_forces(width, height, supports)
    return np.asarray(free - influence(width, height, points, supports) @ forces)


def support_forces(width: float, height: float, supports: np.ndarray) -> np.ndarray:
    """Return the force that each support takes, over the pressure.

    Parameters
    ----------
    width, height : float
        Of the plate, [mm].
    supports : (k, 2) float
        From the lower left corner, [mm].

    Returns
    -------
    (k,) float
        [mm2]
    """
    return np.linalg.solve(influence(width, height, supports, supports), free_bow(width, height, supports))


def _mode_shapes(width: float, height: float, points: np.ndarray) -> np.ndarray:
    """Return every mode's value at points, (n, MODES**2) [-]."""
    waves = math.pi * np.arange(1, MODES + 1)
    along, up = np.sin(np.outer(points[:, 0] / width, waves)), np.sin(np.outer(points[:, 1] / height, waves))
    return (along[:, :, None] * up[:, None, :]).reshape(len(points), -1)


def _mode_stiffness(width: float, height: float) -> np.ndarray:
    """Return what holds each mode, over the plate's stiffness, (MODES, MODES) [1/mm4]."""
    waves = np.arange(1, MODES + 1)
    return np.asarray(math.pi**4 * ((waves[:, None] / width) ** 2 + (waves[None, :] / height) ** 2) ** 2)
