"""Connected pieces of a part of the voxels, and how large and deep each is."""

from __future__ import annotations

from dataclasses import dataclass

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


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """What pieces hold, an entry for each.

    Parameters
    ----------
    counts : numpy.ndarray
        int64: voxels.
    depths : numpy.ndarray
        float32: the most that a voxel lies below its level, [mm]. Gravity that is not along an axis makes steps of
        the voxels' own, about one and a half voxels deep.
    deepest : numpy.ndarray
        int32: a voxel that lies lowest, of those half a voxel from it the one in their middle. Where the heights are
        those of air, turned round, it is the highest.
    """

    counts: np.ndarray
    depths: np.ndarray
    deepest: np.ndarray


def measure_pieces(voxels: WetVoxels, labels: np.ndarray, heights: np.ndarray, levels: np.ndarray) -> Pieces:
    """Return how much pieces hold and how far they lie below their levels.

    Parameters
    ----------
    voxels : WetVoxels
    labels : numpy.ndarray
        (n,) int32: the piece of each voxel, as from `label_pieces`.
    heights, levels : numpy.ndarray
        (n,) float32, [mm]: the heights that `climb` was given, and what it returned.
    """
    return Pieces(*_measure(voxels.cells, labels, heights, levels, np.float32(voxels.spacing / 2)))


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


@compile_cached
def _measure(cells, labels, heights, levels, near):  # type: ignore[no-untyped-def]
    pieces = 0
    for v in range(labels.size):
        pieces = max(pieces, labels[v] + 1)
    counts = np.zeros(pieces, np.int64)
    depths = np.zeros(pieces, np.float32)
    lowest = np.full(pieces, np.inf, np.float32)
    for v in range(labels.size):
        k = labels[v]
        if k >= 0:
            counts[k] += 1
            depths[k] = max(depths[k], levels[v] - heights[v])
            lowest[k] = min(lowest[k], heights[v])
    middles = np.zeros((pieces, 4))
    for v in range(labels.size):
        k = labels[v]
        if k >= 0 and heights[v] <= lowest[k] + near:
            middles[k, 3] += 1.0
            for axis in range(3):
                middles[k, axis] += cells[v, axis]
    deepest = np.full(pieces, -1, np.int32)
    away = np.full(pieces, np.inf)
    for v in range(labels.size):
        k = labels[v]
        if k >= 0 and heights[v] <= lowest[k] + near:
            far = 0.0
            for axis in range(3):
                far += (cells[v, axis] - middles[k, axis] / middles[k, 3]) ** 2
            if far < away[k]:
                away[k] = far
                deepest[k] = v
    return counts, depths, deepest
