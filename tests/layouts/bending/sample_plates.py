"""Small plates for the tests of bending."""

from __future__ import annotations

import numpy as np
import shapely

from layouts.bending.elements import Elements, hold, lift_at, solve_held
from layouts.bending.loads import place_points
from layouts.bending.mesh import Mesh
from layouts.bending.plate import ClampRing, LineLoad, PlateCase, Sheet

EMPTY = shapely.Polygon()


def grid_mesh(width: float, height: float, columns: int, rows: int) -> Mesh:
    """Return a rectangle cut into like right triangles; corner (i, j) has the number i (rows + 1) + j."""
    x, y = np.meshgrid(np.linspace(0, width, columns + 1), np.linspace(0, height, rows + 1), indexing="ij")
    first = np.add.outer(np.arange(columns) * (rows + 1), np.arange(rows)).ravel()
    across, up = first + rows + 1, first + 1
    # Cut both ways in turn, so that the mesh leans to no side.
    lean = np.add.outer(np.arange(columns), np.arange(rows)).ravel() % 2 == 0
    halves = [
        np.column_stack(np.where(lean, (first, across, across + 1), (first, across, up))),
        np.column_stack(np.where(lean, (first, across + 1, up), (across, across + 1, up))),
    ]
    return Mesh(np.column_stack([x.ravel(), y.ravel()]), np.concatenate(halves))


def hold_outline(elements: Elements, clamped: bool) -> np.ndarray:
    """Return the unknowns that a support along every edge holds: deflections, and slopes if it clamps."""
    corners = np.unique(elements.outer)
    return np.concatenate([3 * corners + k for k in range(3)]) if clamped else 3 * corners


def solve_supported(elements: Elements, loads: np.ndarray, held: np.ndarray) -> np.ndarray:
    """Return the unknowns of a plate with some of them held, without a seat."""
    return solve_held(hold(elements, held), loads)


def lift_in(elements: Elements, unknowns: np.ndarray, *at: tuple[float, float]) -> np.ndarray:
    """Return the deflection at points, [mm]."""
    return lift_at(elements, unknowns, *place_points(elements.mesh, np.array(at)))


def least_angles(mesh: Mesh) -> np.ndarray:
    """Return the least angle of each triangle, [°]."""
    corners = mesh.points[mesh.triangles]
    angles = []
    for k in range(3):
        u, v = (corners[:, (k + i) % 3] - corners[:, k] for i in (1, 2))
        cosine = np.sum(u * v, axis=1) / np.hypot(*u.T) / np.hypot(*v.T)
        angles.append(np.degrees(np.arccos(np.clip(cosine, -1, 1))))
    return np.min(angles, axis=0)


def screwed_plate(
    places: tuple[tuple[float, float], ...],
    width: float = 100.0,
    height: float = 60.0,
    thickness: float = 5.0,
    hole: float = 2.25,
    head: float = 3.5,
) -> tuple[Sheet, tuple[ClampRing, ...]]:
    """Return a sheet with rounded corners and a hole for each screw, and the screws' rings."""
    outline = shapely.box(3, 3, width - 3, height - 3).buffer(3, quad_segs=8)
    for at in places:
        outline = outline.difference(shapely.Point(at).buffer(hole, quad_segs=16))
    return Sheet(outline, thickness, 3200.0, 0.37), tuple(ClampRing(at, hole, head) for at in places)


CORNERS = ((8.0, 8.0), (92.0, 8.0), (92.0, 52.0), (8.0, 52.0))


def corner_case(pressure: float = 0.05, n_mm: float = 2.0, seat: shapely.Geometry = EMPTY) -> PlateCase:
    """Return a plate on four screws, pressed within a cord that presses too."""
    sheet, clamps = screwed_plate(CORNERS)
    wet = shapely.box(20, 18, 80, 42)
    return PlateCase(sheet, clamps, wet, pressure, (line_along(wet.exterior, n_mm),), seat)


def line_along(path: shapely.LineString, n_mm: float, step: float = 1.0) -> LineLoad:
    """Return a load along a path."""
    pieces = int(np.ceil(path.length / step))
    piece = path.length / pieces
    points = shapely.get_coordinates(shapely.line_interpolate_point(path, (np.arange(pieces) + 0.5) * piece))
    return LineLoad(points, np.full(pieces, piece), n_mm)
