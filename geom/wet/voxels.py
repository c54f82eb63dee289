"""The wet volume as cubes of one size (voxels), as plain arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geom.frame import Vec

SIDES = ((-1, 0, 0), (1, 0, 0), (0, -1, 0), (0, 1, 0), (0, 0, -1), (0, 0, 1))
"""Steps to the six neighbours of a voxel, in the order of `WetVoxels.beside`."""


@dataclass(frozen=True, slots=True, eq=False)
class WetVoxels:
    """The voxels whose centre is wet, by place: x first, then y, then z.

    Parameters
    ----------
    spacing : float
        Side of a voxel, [mm].
    origin : (float, float, float)
        Corner of the voxel (0, 0, 0), [mm].
    shape : (int, int, int)
        Voxels along x, y, z, dry ones included.
    cells : numpy.ndarray
        (n, 3) int32: their places.
    beside : numpy.ndarray
        (n, 6) int32: the wet neighbour on each of `SIDES`; -1 where there is none.
    owner : numpy.ndarray
        (n,) int16: which of `names` holds it; the first one where several do.
    names : tuple of str
        Names of the wet features.
    """

    spacing: float
    origin: Vec
    shape: tuple[int, int, int]
    cells: np.ndarray
    beside: np.ndarray
    owner: np.ndarray
    names: tuple[str, ...]

    @property
    def count(self) -> int:
        """Number of wet voxels."""
        return len(self.cells)

    @property
    def volume_mm3(self) -> float:
        """Their volume, [mm3]."""
        return self.count * self.spacing**3

    def centres(self) -> np.ndarray:
        """Return their centres, (n, 3) float64, [mm]."""
        return np.asarray(self.origin) + (self.cells + 0.5) * self.spacing

    def elevations(self, up: Vec) -> np.ndarray:
        """Return how high their centres stand along `up`, a unit vector, (n,) float32, [mm]."""
        x, y, z = (self.origin[k] + (self.cells[:, k] + 0.5) * self.spacing for k in range(3))
        return (up[0] * x + up[1] * y + up[2] * z).astype(np.float32)


def voxels_of_mask(
    mask: np.ndarray,
    spacing: float,
    origin: Vec = (0.0, 0.0, 0.0),
    owner: np.ndarray | None = None,
    names: tuple[str, ...] = ("wet",),
) -> WetVoxels:
    """Return the wet voxels of a grid.

    Parameters
    ----------
    mask : numpy.ndarray
        (nx, ny, nz) bool: what is wet.
    spacing : float
        [mm]
    origin : (float, float, float)
        [mm]
    owner : numpy.ndarray or None
        (nx, ny, nz) int16: which of `names` holds each; all the first where None.
    names : tuple of str
    """
    flat = np.flatnonzero(mask.ravel())
    number = np.full(mask.shape, -1, np.int32)
    number.ravel()[flat] = np.arange(len(flat), dtype=np.int32)
    cells = np.stack(np.unravel_index(flat, mask.shape), axis=1).astype(np.int32)
    padded = np.pad(number, 1, constant_values=-1)
    places = cells + 1
    beside = np.stack(
        [padded[places[:, 0] + dx, places[:, 1] + dy, places[:, 2] + dz] for dx, dy, dz in SIDES], axis=1
    )
    own = np.zeros(len(flat), np.int16) if owner is None else owner.ravel()[flat].astype(np.int16)
    shape = (mask.shape[0], mask.shape[1], mask.shape[2])
    return WetVoxels(spacing, origin, shape, cells, beside, own, names)
