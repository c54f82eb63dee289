"""The narrowest way through a region where a disc does not pass: from wall to wall, by rays from the walls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from geom.outline import Point

STEP = 0.1
"""Rays start this far apart on a wall, [mm]."""

MOST_RAYS = 4000
"""From the walls of one piece: of a longer one they start further apart."""

FACING = -0.9
"""Cosine between the normals of two walls from which they face each other: corners of up to 25 degrees are ways."""

SHOWN = 2
"""Decimals of a width: what the coarseness of the region adds lies under them."""

ALIKE = 0.01
"""Ways that differ by less are equally wide, [mm]: more than the coarseness of the region."""


@dataclass(frozen=True, slots=True)
class NarrowWay:
    """The middle of the narrowest way, and its width, [mm]."""

    at: Point
    width: float


def find_way(space: shapely.Geometry, piece: shapely.Polygon, width: float) -> NarrowWay | None:
    """Return the narrowest way of a region where a piece of it lies.

    Parameters
    ----------
    space : shapely.Geometry
        The region.
    piece : shapely.Polygon
        What a disc does not reach.
    width : float
        Wider ways do not count, [mm].

    Returns
    -------
    NarrowWay or None
        Of ways that are equally narrow the one nearest to the piece's middle; None where walls face each other at
        `width` or more.
    """
    x0, y0, x1, y1 = piece.bounds
    near = shapely.box(x0 - width, y0 - width, x1 + width, y1 + width)
    starts, ends = _walls(shapely.boundary(shapely.orient_polygons(space)), near)
    if not len(starts):
        return None
    along = ends - starts
    length = np.hypot(*along.T)
    normals = np.column_stack((-along[:, 1], along[:, 0])) / length[:, None]
    points, owners = _sample(starts, along, length, piece)
    best: list[tuple[float, float, float]] = []
    for k in range(0, len(points), 256):
        best += _cast(points[k : k + 256], owners[k : k + 256], starts, along, normals, width)
    if not best:
        return None
    found = np.array(best)
    narrow = found[found[:, 0] <= found[:, 0].min() + ALIKE]
    if np.ptp(narrow[:, 1:], axis=0).max() < width:
        # A neck: the middle of its narrowest stretch.
        at = (narrow[:, 1:].min(axis=0) + narrow[:, 1:].max(axis=0)) / 2
    else:
        middle = piece.representative_point()
        off = np.hypot(narrow[:, 1] - middle.x, narrow[:, 2] - middle.y)
        at = narrow[int(np.argmin(off)), 1:]
    return NarrowWay((float(at[0]), float(at[1])), round(float(found[:, 0].min()), SHOWN))


def _walls(boundary: shapely.Geometry, near: shapely.Polygon) -> tuple[np.ndarray, np.ndarray]:
    """Return the pieces of a boundary that come into a box, the region on their left."""
    starts, ends = [], []
    x0, y0, x1, y1 = near.bounds
    for line in shapely.get_parts(boundary).tolist():
        xy = shapely.get_coordinates(line)
        a, b = xy[:-1], xy[1:]
        low, high = np.minimum(a, b), np.maximum(a, b)
        into = (low[:, 0] <= x1) & (high[:, 0] >= x0) & (low[:, 1] <= y1) & (high[:, 1] >= y0)
        into &= np.hypot(*(b - a).T) > 1e-9
        starts.append(a[into])
        ends.append(b[into])
    return np.concatenate(starts), np.concatenate(ends)


def _sample(
    starts: np.ndarray, along: np.ndarray, length: np.ndarray, piece: shapely.Polygon
) -> tuple[np.ndarray, np.ndarray]:
    """Return points on the walls that touch a piece, and whose wall each is."""
    step = max(STEP, float(length.sum()) / MOST_RAYS)
    counts = np.maximum(1, np.ceil(length / step)).astype(int)
    owners = np.repeat(np.arange(len(starts)), counts)
    first = np.concatenate(([0], np.cumsum(counts)[:-1]))
    share = (np.arange(len(owners)) - first[owners] + 0.5) / counts[owners]
    points = starts[owners] + share[:, None] * along[owners]
    shapely.prepare(piece)
    touch = shapely.dwithin(piece, shapely.points(points), 1e-3)
    return points[touch], owners[touch]


def _cast(
    points: np.ndarray,
    owners: np.ndarray,
    starts: np.ndarray,
    along: np.ndarray,
    normals: np.ndarray,
    width: float,
) -> list[tuple[float, float, float]]:
    """Return width and middle of the ways that rays find, straight off their walls, to walls that face them."""
    way = normals[owners]
    gap = starts[None, :, :] - points[:, None, :]
    cross = way[:, None, 0] * along[None, :, 1] - way[:, None, 1] * along[None, :, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = (gap[:, :, 0] * along[None, :, 1] - gap[:, :, 1] * along[None, :, 0]) / cross
        share = (gap[:, :, 0] * way[:, None, 1] - gap[:, :, 1] * way[:, None, 0]) / cross
    hit = np.isfinite(reach) & (reach > 1e-6) & (share >= 0) & (share <= 1)
    hit[np.arange(len(points)), owners] = False
    reach = np.where(hit, reach, np.inf)
    first = np.argmin(reach, axis=1)
    least = reach[np.arange(len(points)), first]
    faces = np.sum(way * normals[first], axis=1) < FACING
    good = np.isfinite(least) & faces & (least < width)
    middle = points + way * (least / 2)[:, None].clip(max=1e6)
    return [(float(w), float(x), float(y)) for w, (x, y) in zip(least[good], middle[good], strict=True)]
