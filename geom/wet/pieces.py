"""Connected pieces of a part of the voxels."""

from __future__ import annotations

import numpy as np

from geom.compiled import compile_cached
from geom.wet.voxels import WetVoxels


def label_pieces(voxels: WetVoxels, mask: np.ndarray) -> np.ndarray:
    """Return the number of the piece that each voxel of `mask` lies in, by faces that touch.

    Parameters
    ----------
    voxels : WetVoxels
    mask : numpy.ndarray
        (n,) bool.

    Returns
    -------
    numpy.ndarray
        (n,) int32, from 0 in the order of their first voxels; -1 outside the mask.
    """
    return _label(voxels.beside, mask)


@compile_cached
def _label(beside, mask):  # type: ignore[no-untyped-def]
    count = mask.size
    piece = np.full(count, -1, np.int32)
    waiting = np.empty(count, np.int32)
    number = 0
    for first in range(count):
        if not mask[first] or piece[first] >= 0:
            continue
        piece[first] = number
        waiting[0] = first
        size = 1
        while size > 0:
            size -= 1
            v = waiting[size]
            for side in range(6):
                u = beside[v, side]
                if u >= 0 and mask[u] and piece[u] < 0:
                    piece[u] = number
                    waiting[size] = u
                    size += 1
        number += 1
    return piece
