"""Ways between places of the wet volume that are no voxels: through the pump, through a part and its hoses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True, eq=False)
class Links:
    """Each link joins all its voxels with each other, by a way that passes a height of its own.

    Parameters
    ----------
    link_of : numpy.ndarray
        (n,) int32: the link that a voxel belongs to; -1: none.
    starts, members : numpy.ndarray
        int32: the voxels of link k are `members[starts[k]:starts[k + 1]]`.
    heights : numpy.ndarray
        (m,) float32: what its way passes, [mm] along up: the highest place for what flows, the lowest for air.
    """

    link_of: np.ndarray
    starts: np.ndarray
    members: np.ndarray
    heights: np.ndarray


def join_links(count: int, groups: Sequence[np.ndarray], heights: Sequence[float]) -> Links:
    """Return the links of groups of voxels.

    Parameters
    ----------
    count : int
        Wet voxels.
    groups : sequence of numpy.ndarray
        Voxel numbers of each link; no voxel in two of them.
    heights : sequence of float
        [mm]
    """
    link_of = np.full(count, -1, np.int32)
    for number, group in enumerate(groups):
        link_of[group] = number
    starts = np.cumsum([0, *(len(group) for group in groups)]).astype(np.int32)
    members = np.concatenate(groups).astype(np.int32) if groups else np.empty(0, np.int32)
    return Links(link_of, starts, members, np.asarray(heights, np.float32))
