"""Whether a part as it lies, and a box in any pose, fit the printer."""

from __future__ import annotations

import math
from collections.abc import Iterator

from geom.frame import SAME_MM, Face, Vec
from layouts.panel import Panel

SAME_SHARE = 1e-6
"""A part of a unit vector no larger is none, [-]."""


def fits_room(footprint: tuple[float, float], height: float, room: tuple[float, float, float] | None) -> bool:
    """Return whether a part fits the printer as it lies, turned on the bed by quarter turns.

    Parameters
    ----------
    footprint : (float, float)
        Sides of the box round it on the bed, long and short, [mm].
    height : float
        [mm]
    room : (float, float, float) or None
        The printer's travel, its height last, [mm]; None: unknown, it fits.
    """
    if room is None:
        return True
    long, short = footprint
    return (
        height <= room[2] + SAME_MM and long <= max(room[:2]) + SAME_MM and short <= min(room[:2]) + SAME_MM
    )


def lie_box(sides: Vec, up: Vec) -> tuple[float, tuple[float, float]]:
    """Return height and footprint, long side first, of a box as it lies, [mm].

    Parameters
    ----------
    sides : (float, float, float)
        [mm]
    up : (float, float, float)
        Unit vector of the layers' growth: along one side, or turned about one.
    """
    height = math.fsum(side * abs(part) for side, part in zip(sides, up, strict=True))
    tilted = [k for k in range(3) if abs(up[k]) > SAME_SHARE]
    level = [sides[k] for k in range(3) if k not in tilted]
    if len(tilted) == 2:
        (a, b), (u, v) = (sides[k] for k in tilted), (abs(up[k]) for k in tilted)
        level.append(a * v + b * u)
    return height, (max(level), min(level))


def fits_printer(sides: Vec, room: Vec, lies_on: Face | None, tilts: tuple[float, ...] = ()) -> bool:
    """Return whether a box fits the printer in some pose, turned in plan by quarter turns.

    Parameters
    ----------
    sides : (float, float, float)
        Width, height and thickness as the panel stands, [mm].
    room : (float, float, float)
        The printer's travel, the last one upwards, [mm].
    lies_on : Face or None
        The face on the bed; None: any.
    tilts : tuple of float
        Angles by which it may be tilted too, [deg].
    """
    for up in _list_ups(lies_on, tilts):
        height, footprint = lie_box(sides, up)
        if fits_room(footprint, height, room):
            return True
    return False


def _list_ups(lies_on: Face | None, tilts: tuple[float, ...]) -> Iterator[Vec]:
    """Yield the ways in which a box may lie; of two that are mirrored one."""
    upward = {None: (0, 1, 2), "front": (2,), "back": (2,), "top": (1,), "bottom": (1,)}.get(lies_on, (0,))
    for tilt in (0.0, *tilts):
        turn = math.radians(tilt)
        for axis in upward:
            for other in (k for k in range(3) if k != axis):
                up = [0.0, 0.0, 0.0]
                up[axis], up[other] = math.cos(turn), math.sin(turn)
                yield up[0], up[1], up[2]


def find_scale(panel: Panel) -> float:
    """Return what a printed part is larger than its nominal size when it is printed, [-]: it shrinks afterwards."""
    return 1.0 / (1.0 - panel.printing.shrink)


def fits_panel(panel: Panel, sides: Vec) -> bool:
    """Return whether a part fits the panel's printer as the file lets it lie; so it does where the file names no room.

    Parameters
    ----------
    panel : Panel
    sides : (float, float, float)
        Nominal width, height and thickness as the panel stands, [mm].
    """
    if panel.make.room is None:
        return True
    scale, asked = find_scale(panel), panel.printing
    x, y, z = (scale * side for side in sides)
    return fits_printer((x, y, z), panel.make.room, asked.lies_on, asked.tilts)


def fits_whole(panel: Panel) -> bool:
    """Return whether a printed panel fits the printer in one piece; so it does where the file names no room.

    Parameters
    ----------
    panel : Panel
    """
    return fits_panel(panel, (panel.width, panel.height, max(panel.make.body, panel.make.cover)))
