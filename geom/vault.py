"""A channel with a roof that prints, without a kernel: its outline at any height, its volume, its mesh.

A run's outline has no corners, so that all of it moves inwards alike: lines stay lines, arcs stay arcs.
"""

from __future__ import annotations

import math

import numpy as np
import shapely

from geom.errors import GeometryError
from geom.features import Vault
from geom.frame import SAG_MM, SAME_MM
from geom.outline import Arc, Loop, count_chords, loop_area, offset_path, path_length, region_polygon

ROUND_LEVELS = 16
"""Levels of a meshed quarter round."""


def spring_z(vault: Vault) -> float:
    """Return the height at which the walls stop being upright, [mm]."""
    return vault.z1 - vault.rise if vault.up else vault.z0 + vault.rise


def inset_at(vault: Vault, z: float) -> float:
    """Return how far the walls have leant in at a height, [mm].

    Parameters
    ----------
    vault : Vault
    z : float
        [mm], from z0 to z1.

    Returns
    -------
    float
        0 up to the spring line, `inset` at the top.
    """
    over = (z - spring_z(vault)) * (1.0 if vault.up else -1.0)
    if over <= 0.0:
        return 0.0
    if vault.profile == "pointed":
        return vault.inset * min(1.0, over / vault.rise)
    return vault.rise - math.sqrt(max(0.0, vault.rise**2 - over**2))


def loops_at(vault: Vault, z: float) -> tuple[Loop, ...]:
    """Return the outlines of a vault's runs at a height.

    Parameters
    ----------
    vault : Vault
    z : float
        [mm], from z0 to z1.

    Returns
    -------
    tuple of Loop

    Raises
    ------
    GeometryError
        Where an outline turns tighter than the walls lean in.
    """
    inset = inset_at(vault, z)
    return tuple(offset_path(loop, inset) for loop in vault.region) if inset > SAME_MM else vault.region


def section_at(vault: Vault, z: float, sag: float = SAG_MM) -> shapely.Geometry:
    """Return a vault's level section as a polygon; `sag` as in `loop_polygon`, [mm]."""
    return region_polygon(loops_at(vault, z), sag)


def run_volume(vault: Vault, loop: Loop) -> float:
    """Return the exact volume under one run's outline, [mm3].

    Parameters
    ----------
    vault : Vault
    loop : Loop
        One of its region.

    Returns
    -------
    float
        [mm3]

    Source
    ------
    Steiner's formula: an outline without corners moved inwards by s holds area - perimeter s + pi s2. Integrated
    over the rise.
    """
    area, rim, s, rise = loop_area(loop), path_length(loop), vault.inset, vault.rise
    if vault.profile == "pointed":
        roof = rise * (area - rim * s / 2 + math.pi * s**2 / 3)
    else:
        roof = s * (area - rim * s * (1 - math.pi / 4) + math.pi * s**2 * (5 / 3 - math.pi / 2))
    return area * (vault.z1 - vault.z0 - rise) + roof


def vault_volume(vault: Vault) -> float:
    """Return the volume of a vault's united runs, [mm3]; of a single run exact, else from polygons.

    Parameters
    ----------
    vault : Vault

    Returns
    -------
    float
        [mm3]
    """
    if len(vault.region) == 1:
        return run_volume(vault, vault.region[0])
    nodes, weights = np.polynomial.legendre.leggauss(6)
    angles = math.pi / 4 * (nodes + 1)
    foot, sign = spring_z(vault), 1.0 if vault.up else -1.0
    # With the height as the sine of an angle a quarter round is smooth to its very top.
    roof = math.fsum(
        w * section_at(vault, foot + sign * vault.rise * math.sin(a)).area * vault.rise * math.cos(a)
        for a, w in zip(angles, weights, strict=True)
    )
    upright = vault.z1 - vault.z0 - vault.rise
    return float(section_at(vault, foot).area) * upright + math.pi / 4 * roof


def check_vault(vault: Vault) -> None:
    """Raise a GeometryError where a vault's sizes make no shape."""
    if vault.inset < SAME_MM or vault.rise < SAME_MM or vault.z1 - vault.z0 - vault.rise < SAME_MM:
        raise GeometryError(
            f"a roof with a rise of {vault.rise:g} mm and walls that lean in by {vault.inset:g} mm cannot be made in "
            f"a channel {vault.z1 - vault.z0:g} mm deep"
        )
    if vault.profile == "round" and abs(vault.inset - vault.rise) > SAME_MM:
        raise GeometryError("a round roof has one radius: its rise is how far its walls lean in")


def mesh_rings(vault: Vault, loop: Loop) -> tuple[np.ndarray, np.ndarray]:
    """Return one run's skin as closed rings of corners, one over the other from z0 up.

    Parameters
    ----------
    vault : Vault
    loop : Loop

    Returns
    -------
    heights : (m,) float
        [mm]
    rings : (m, n, 2) float
        [mm]; a corner of one ring stands over the same one of the next, each ring with the outline's area.

    Raises
    ------
    GeometryError
        Where the outline turns tighter than the walls lean in.
    """
    heights, insets = _mesh_levels(vault)
    steps = [count_chords(piece.radius, piece.sweep) if isinstance(piece, Arc) else 1 for piece in loop]
    rings = []
    for inset in insets:
        moved = offset_path(loop, float(inset))
        if len(moved) != len(loop):
            raise GeometryError("a wall of a channel leans in by more than the radius of one of its turns")
        corners: list[tuple[float, float]] = []
        for piece, count in zip(moved, steps, strict=True):
            if not isinstance(piece, Arc):
                corners.append(piece.start)
                continue
            angle = abs(piece.sweep) / count
            # As `loop_polygon`: corners a little outside keep the area.
            swell = math.sqrt(angle / math.sin(angle))
            for k in range(count):
                x, y = piece.at(k / count)
                grow = 1.0 if k == 0 else swell
                cx, cy = piece.centre
                corners.append((cx + (x - cx) * grow, cy + (y - cy) * grow))
        rings.append(corners)
    return heights, np.array(rings)


def _mesh_levels(vault: Vault) -> tuple[np.ndarray, np.ndarray]:
    """Return the heights of a meshed vault from z0 up, and how far its walls have leant in there, (m,) [mm]."""
    if vault.profile == "pointed":
        over, insets = np.array([0.0, vault.rise]), np.array([0.0, vault.inset])
    else:
        angle = math.pi / 2 / ROUND_LEVELS
        angles = angle * np.arange(ROUND_LEVELS + 1)
        # As `loop_polygon`: levels a little outside keep the area.
        radii = np.full(ROUND_LEVELS + 1, vault.rise * math.sqrt(angle / math.sin(angle)))
        radii[[0, -1]] = vault.rise
        over, insets = radii * np.sin(angles), vault.rise - radii * np.cos(angles)
        insets[0], insets[-1] = 0.0, vault.inset
    over, insets = np.append(-(vault.z1 - vault.z0 - vault.rise), over), np.append(0.0, insets)
    foot = spring_z(vault)
    return (foot + over, insets) if vault.up else (foot - over[::-1], insets[::-1])
