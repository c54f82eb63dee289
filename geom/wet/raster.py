"""Wet features to voxels, from their exact outlines: a voxel is wet where its centre is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from geom.features import Cylinder, Feature, Prism, Track, Vault
from geom.frame import Vec
from geom.outline import region_polygon, track_polygon
from geom.vault import section_at
from geom.wet.voxels import WetVoxels, voxels_of_mask

SAG = 0.01
"""Coarseness of outlines; their arcs keep their area, [mm]."""


def raster_wet(features: Sequence[Feature], spacing: float) -> WetVoxels:
    """Return the voxels of all wet features.

    Parameters
    ----------
    features : sequence of Feature
        Dry ones are left out.
    spacing : float
        Side of a voxel, [mm].

    Returns
    -------
    WetVoxels
        Voxel corners lie at whole multiples of the spacing from the panel's origin.
    """
    wet = [feature for feature in features if feature.medium == "wet"]
    boxes = np.array([_box(feature) for feature in wet])
    low = np.floor(boxes[:, :3].min(axis=0) / spacing).astype(int)
    high = np.ceil(boxes[:, 3:].max(axis=0) / spacing).astype(int)
    owner = np.full(tuple(high - low), -1, np.int16)
    for number, feature in enumerate(wet):
        first = np.maximum(np.floor(boxes[number, :3] / spacing).astype(int), low) - low
        last = np.minimum(np.ceil(boxes[number, 3:] / spacing).astype(int), high) - low
        window = owner[first[0] : last[0], first[1] : last[1], first[2] : last[2]]
        axes = [(np.arange(first[k], last[k]) + low[k] + 0.5) * spacing for k in range(3)]
        window[_holds(feature, *axes) & (window < 0)] = number
    origin: Vec = (low[0] * spacing, low[1] * spacing, low[2] * spacing)
    return voxels_of_mask(owner >= 0, spacing, origin, owner, tuple(feature.name for feature in wet))


def _box(feature: Feature) -> tuple[float, ...]:
    """Return the corners of a box round a feature: least x, y, z, greatest x, y, z, [mm]."""
    shape = feature.shape
    if isinstance(shape, Cylinder):
        wide = shape.radius + shape.chamfer
        ends = np.array([shape.mouth, np.asarray(shape.mouth) + shape.length * np.asarray(shape.direction)])
        room = wide * np.sqrt(1.0 - np.asarray(shape.direction) ** 2)
        return (*(ends.min(axis=0) - room), *(ends.max(axis=0) + room))
    x0, y0, x1, y1 = _plan(shape).bounds
    return (x0, y0, shape.z0, x1, y1, shape.z1)


def _plan(shape: Prism | Track | Vault) -> shapely.Geometry:
    if isinstance(shape, Track):
        return track_polygon(shape.path, shape.closed, shape.width, SAG)
    return region_polygon(shape.region, SAG, shape.islands if isinstance(shape, Prism) else ())


def _holds(feature: Feature, x: np.ndarray, y: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Return which points of a grid lie in a feature, (len(x), len(y), len(z)) bool."""
    shape = feature.shape
    if isinstance(shape, Cylinder):
        away = [axis - at for axis, at in zip((x, y, z), shape.mouth, strict=True)]
        a, b, c = away[0][:, None, None], away[1][None, :, None], away[2][None, None, :]
        dx, dy, dz = shape.direction
        along = a * dx + b * dy + c * dz
        across = np.sqrt(np.maximum(a * a + b * b + c * c - along**2, 0.0))
        radius = shape.radius + np.maximum(shape.chamfer - along, 0.0)
        return (along >= 0) & (along <= shape.length) & (across <= radius) & (across >= shape.core)
    grid = np.meshgrid(x, y, indexing="ij")
    if isinstance(shape, Vault):
        held = np.zeros((len(x), len(y), len(z)), bool)
        for k, height in enumerate(z):
            if shape.z0 < height < shape.z1:
                held[:, :, k] = shapely.contains_xy(section_at(shape, float(height), SAG), *grid)
        return held
    plan = _plan(shape)
    shapely.prepare(plan)
    return shapely.contains_xy(plan, *grid)[:, :, None] & ((z > shape.z0) & (z < shape.z1))[None, None, :]
