"""What stays in one attitude: air when the panel is filled, coolant when it is drained."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from geom.frame import Vec
from geom.wet.flooding import climb
from geom.wet.voxels import WetVoxels
from layouts.filling.openings import air_links, coolant_links, exits_of, vents_of
from layouts.filling.values import Left, Opening, Pocket

STEP_SHARE = 1.5
"""A pocket no deeper than so many voxels is a step of their own stairs, not one of the panel."""


def find_left(voxels: WetVoxels, openings: Sequence[Opening], up: Vec, tank: np.ndarray) -> Left:
    """Return what stays in one attitude.

    Parameters
    ----------
    voxels : WetVoxels
    openings : sequence of Opening
        Of these voxels.
    up : (float, float, float)
        Unit vector.
    tank : numpy.ndarray
        (n,) bool: voxels of the pocket tank, whose air is no pocket: it needs some.
    """
    heights = voxels.elevations(up)
    air = stays_air(voxels, openings, heights) & ~tank
    coolant = stays_coolant(voxels, openings, heights)
    cube = voxels.spacing**3
    return Left(up, voxels.spacing, voxels.volume_mm3, (), (), air.sum() * cube, coolant.sum() * cube)


def stays_air(voxels: WetVoxels, openings: Sequence[Opening], heights: np.ndarray) -> np.ndarray:
    """Return which voxels air stays in, (n,) bool: those higher than the lowest place of its best way out."""
    down = -heights
    seeds = _voxels_of(vents_of(openings))
    return climb(voxels, down, seeds, air_links(openings, down)) > down


def stays_coolant(voxels: WetVoxels, openings: Sequence[Opening], heights: np.ndarray) -> np.ndarray:
    """Return which voxels coolant stays in, (n,) bool: those lower than the highest place of its best way out."""
    seeds = _voxels_of(exits_of(openings))
    return climb(voxels, heights, seeds, coolant_links(openings, heights)) > heights


def _voxels_of(openings: Sequence[Opening]) -> np.ndarray:
    return np.concatenate([np.empty(0, np.int32), *(opening.voxels for opening in openings)])


def group_pockets(voxels: WetVoxels, stays: np.ndarray) -> tuple[Pocket, ...]:
    """Return the connected pieces of what stays, the largest first."""
    raise NotImplementedError
