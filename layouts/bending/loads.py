"""Pressure and line loads to forces at the corners of a mesh."""

from __future__ import annotations

import math

import numpy as np
import shapely

from layouts.bending.mesh import Mesh
from layouts.bending.plate import LineLoad

TILE_MM = 30.0
"""The pressed region is cut into tiles of this side first: few corners each, so that meeting them is cheap."""


def spread_pressure(mesh: Mesh, pressed: shapely.Geometry) -> np.ndarray:
    """Return the force at each corner from a pressure of 1 over a region.

    Each triangle gives a third of its pressed area to each of its corners, so that the sum is exact: the element's
    shapes meet only at the corners, and forces there are as good as any finer share.

    Parameters
    ----------
    mesh : Mesh
    pressed : shapely.Geometry
        [mm]

    Returns
    -------
    (n,) float
        [mm2]
    """
    if pressed.is_empty:
        return np.zeros(len(mesh.points))
    x0, y0, x1, y1 = pressed.bounds
    lefts = x0 + TILE_MM * np.arange(max(1, math.ceil((x1 - x0) / TILE_MM)))
    lows = y0 + TILE_MM * np.arange(max(1, math.ceil((y1 - y0) / TILE_MM)))
    tiles = [shapely.clip_by_rect(pressed, x, y, x + TILE_MM, y + TILE_MM) for x in lefts for y in lows]
    pieces = np.array([tile for tile in tiles if not tile.is_empty])
    shapes = triangle_polygons(mesh)
    which, piece = shapely.STRtree(pieces).query(shapes, predicate="intersects")
    covered = shapely.area(shapely.intersection(shapes[which], pieces[piece]))
    area = np.bincount(which, covered, len(shapes))
    return np.bincount(mesh.triangles.ravel(), np.repeat(area / 3, 3), len(mesh.points))


def triangle_polygons(mesh: Mesh) -> np.ndarray:
    """Return the triangles as shapely polygons, (m,)."""
    return shapely.polygons(mesh.points[mesh.triangles])


def place_points(mesh: Mesh, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return which triangle each point lies in, or is nearest to, and its place there.

    Parameters
    ----------
    mesh : Mesh
    points : (p, 2) float
        [mm]

    Returns
    -------
    triangle : (p,) int
    share : (p, 3) float
        Barycentric coordinates, [-]; none is negative.
    """
    tree = shapely.STRtree(triangle_polygons(mesh))
    marks = shapely.points(points)
    triangle = np.full(len(points), -1)
    which, found = tree.query(marks, predicate="intersects")
    # Points on a side lie in two triangles: the one with the lesser number, whatever the tree's order.
    order = np.lexsort((-found, which))
    triangle[which[order]] = found[order]
    lost = triangle < 0
    if lost.any():
        triangle[lost] = tree.nearest(marks[lost])
    a, b, c = (mesh.points[mesh.triangles[triangle, k]] for k in range(3))
    first, second = _cross(b - points, c - points), _cross(c - points, a - points)
    share = np.column_stack([first, second, _cross(a - points, b - points)]) / _cross(b - a, c - a)[:, None]
    share = np.maximum(share, 0.0)
    return triangle, share / share.sum(axis=1)[:, None]


def spread_line(mesh: Mesh, line: LineLoad, triangle: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Return the force at each corner from a line load.

    Parameters
    ----------
    mesh : Mesh
    line : LineLoad
    triangle : (p,) int
    share : (p, 3) float
        Where its points lie, from `place_points`, [-].

    Returns
    -------
    (n,) float
        [N]
    """
    force = share * (line.n_mm * line.lengths)[:, None]
    return np.bincount(mesh.triangles[triangle].ravel(), force.ravel(), len(mesh.points))


def _cross(u: np.ndarray, v: np.ndarray) -> np.ndarray:
    return u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
