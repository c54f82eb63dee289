"""The wet volume as cubes of one size (voxels), as plain arrays."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from geom.compiled import compile_cached
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

    def centre(self, number: int) -> Vec:
        """Return the centre of one of them, [mm]."""
        x, y, z = (float(self.origin[k] + (self.cells[number, k] + 0.5) * self.spacing) for k in range(3))
        return (x, y, z)

    def owned_by(self, names: Collection[str]) -> np.ndarray:
        """Return which of them some features hold, (n,) bool."""
        return np.asarray(np.array([name in names for name in self.names], bool)[self.owner])

    def elevations(self, up: Vec) -> np.ndarray:
        """Return how high their centres stand along `up`, a unit vector, (n,) float32, [mm]."""
        along = [up[k] * (self.origin[k] + (np.arange(self.shape[k]) + 0.5) * self.spacing) for k in range(3)]
        return np.asarray(_add_up(self.cells, *along))


def voxels_of_mask(
    mask: np.ndarray,
    spacing: float,
    origin: Vec = (0.0, 0.0, 0.0),
) -> WetVoxels:
    """Return the wet voxels of a grid, all of one feature, "wet".

    Parameters
    ----------
    mask : numpy.ndarray
        (nx, ny, nz) bool: what is wet.
    spacing : float
        [mm]
    origin : (float, float, float)
        [mm]
    """
    return voxels_of_owners(np.where(mask, np.int16(0), np.int16(-1)), spacing, origin, ("wet",))


def voxels_of_owners(owner: np.ndarray, spacing: float, origin: Vec, names: tuple[str, ...]) -> WetVoxels:
    """Return the wet voxels of a grid.

    Parameters
    ----------
    owner : numpy.ndarray
        (nx, ny, nz) int16: which of `names` holds each; -1: dry.
    spacing : float
        [mm]
    origin : (float, float, float)
        [mm]
    names : tuple of str
    """
    cells, beside, own = _gather(owner)
    return WetVoxels(spacing, origin, owner.shape, cells, beside, own, names)


def take_part(voxels: WetVoxels, mask: np.ndarray) -> tuple[WetVoxels, np.ndarray]:
    """Return the voxels of a mask alone, and which of them each voxel is, (n,) int32; -1 outside it.

    Parameters
    ----------
    voxels : WetVoxels
    mask : numpy.ndarray
        (n,) bool.
    """
    index = np.full(voxels.count + 1, -1, np.int32)
    index[:-1][mask] = np.arange(np.count_nonzero(mask), dtype=np.int32)
    # A neighbour that there is none of is number -1: the last entry, which stays -1.
    beside = index[voxels.beside[mask]]
    return replace(voxels, cells=voxels.cells[mask], beside=beside, owner=voxels.owner[mask]), index[:-1]


@compile_cached
def _add_up(cells, x, y, z):  # type: ignore[no-untyped-def]
    heights = np.empty(len(cells), np.float32)
    for v in range(len(cells)):
        heights[v] = x[cells[v, 0]] + y[cells[v, 1]] + z[cells[v, 2]]
    return heights


@compile_cached
def _gather(owner):  # type: ignore[no-untyped-def]
    nx, ny, nz = owner.shape
    # Voxels of column (x, y): from its entry up to the next one.
    starts = np.empty(nx * ny + 1, np.int32)
    count = 0
    for x in range(nx):
        for y in range(ny):
            starts[x * ny + y] = count
            for z in range(nz):
                count += owner[x, y, z] >= 0
    starts[nx * ny] = count
    cells = np.empty((count, 3), np.int32)
    beside = np.full((count, 6), -1, np.int32)
    own = np.empty(count, np.int16)
    v = 0
    for x in range(nx):
        for y in range(ny):
            first = starts[x * ny + y]
            if starts[x * ny + y + 1] == first:
                continue
            for z in range(nz):
                if owner[x, y, z] >= 0:
                    cells[v, 0], cells[v, 1], cells[v, 2] = x, y, z
                    own[v] = owner[x, y, z]
                    if v > first and cells[v - 1, 2] == z - 1:
                        beside[v, 4] = v - 1
                        beside[v - 1, 5] = v
                    v += 1
            for axis in range(2):
                if (x, y)[axis] == 0:
                    continue
                # The column before this one along the axis: both are sorted by z.
                before = (x - 1) * ny + y if axis == 0 else x * ny + y - 1
                u, last = starts[before], starts[before + 1]
                for w in range(first, v):
                    while u < last and cells[u, 2] < cells[w, 2]:
                        u += 1
                    if u < last and cells[u, 2] == cells[w, 2]:
                        beside[w, 2 * axis] = u
                        beside[u, 2 * axis + 1] = w
    return cells, beside, own
