"""Meshes as few bytes: places on a fine grid, corners told by how long ago they were first met, both in planes.

*Quantum*: side of the grid on which vertices are rounded. *Plane*: the low bytes of a run of numbers, then their
next higher bytes, and so on: like stands beside like, which packs well.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import trimesh

QUANTUM_MM = 0.01
"""Of all panels up to 655 mm: vertices lie within half of it of where they were."""

MOST = 0xFFFF
"""Greatest coordinate in quanta."""

PLACE_BYTES, CORNER_BYTES = 2, 3


@dataclass(frozen=True, slots=True)
class Grid:
    """Where coordinates count from, and in which quanta, [mm]."""

    origin: tuple[float, float, float]
    quantum: float


@dataclass(frozen=True, slots=True)
class PackedMesh:
    """A mesh's numbers of vertices and triangles, and its bytes."""

    vertices: int
    triangles: int
    data: bytes


def lay_grid(meshes: Iterable[trimesh.Trimesh]) -> Grid:
    """Return a grid that holds all vertices of meshes, [mm]."""
    corners = np.array([mesh.bounds for mesh in meshes])
    low, high = corners[:, 0].min(axis=0), corners[:, 1].max(axis=0)
    origin = np.floor(low / QUANTUM_MM) * QUANTUM_MM
    quantum = max(QUANTUM_MM, float((high - origin).max()) / MOST)
    x, y, z = (round(float(c), 6) for c in origin)
    return Grid((x, y, z), quantum)


def pack_mesh(mesh: trimesh.Trimesh, grid: Grid) -> PackedMesh:
    """Return a mesh as bytes: vertices in the order in which triangles meet them, then the triangles.

    Each coordinate is its difference from the vertex before, the least one modulo 2**16, with its sign in the lowest
    bit: a run of x in two planes, then y, then z. Each corner is how many vertices had been met before it, less its own
    number: 0 for a new one; all in three planes.

    Parameters
    ----------
    mesh : trimesh.Trimesh
        [mm]; vertices that no triangle has are left out.
    grid : Grid
    """
    corners = np.asarray(mesh.faces, dtype=np.int64).reshape(-1)
    met, first = np.unique(corners, return_index=True)
    order = met[np.argsort(first)]
    number = np.zeros(len(mesh.vertices), dtype=np.int64)
    number[order] = np.arange(len(order))
    corners = number[corners]
    before = np.concatenate(([0], np.maximum.accumulate(corners)[:-1] + 1))[: len(corners)]
    places = np.rint((np.asarray(mesh.vertices)[order] - grid.origin) / grid.quantum).astype(np.int64)
    steps = (np.diff(places, axis=0, prepend=0) + 0x8000 & MOST) - 0x8000
    signed = (steps << 1 ^ steps >> 63) & MOST
    data = [_planes(signed[:, axis], PLACE_BYTES) for axis in range(3)]
    data.append(_planes(before - corners, CORNER_BYTES))
    return PackedMesh(len(order), len(mesh.faces), b"".join(data))


def _planes(numbers: np.ndarray, count: int) -> bytes:
    return b"".join((numbers >> 8 * k & 0xFF).astype(np.uint8).tobytes() for k in range(count))
