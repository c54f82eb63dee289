"""Wet features to voxels, exactly: a voxel is wet where its centre is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from geom.compiled import compile_cached
from geom.features import Cylinder, Feature, Prism, Vault
from geom.frame import Vec
from geom.outline import track_loops
from geom.vault import inset_at, loops_at
from geom.wet.scan import bounds_of, cover_loop, cover_region
from geom.wet.voxels import WetVoxels, voxels_of_owners

HAIR = (1.0e-6, 0.7e-6, 0.4e-6)
"""How far from a voxel's centre along x, y, z it is looked at, [mm].

Walls often run right through centres; so each counts on one side of a cut and not on the other, the volume comes out
neither too large nor too small, and rounding decides nothing.
"""


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
    boxes = np.array([_box(feature) for feature in wet]).reshape(-1, 6)
    firsts = np.floor(boxes[:, :3] / spacing).astype(int)
    lasts = np.ceil(boxes[:, 3:] / spacing).astype(int)
    low = firsts.min(axis=0) if wet else np.zeros(3, int)
    high = lasts.max(axis=0) if wet else low
    owner = np.full(tuple(high - low), -1, np.int16)
    for number, feature in enumerate(wet):
        first, last = firsts[number] - low, lasts[number] - low
        _claim(owner, number, feature, first, last, low, spacing)
    origin: Vec = (low[0] * spacing, low[1] * spacing, low[2] * spacing)
    return voxels_of_owners(owner, spacing, origin, tuple(feature.name for feature in wet))


def _box(feature: Feature) -> tuple[float, ...]:
    """Return the corners of a box round a feature: least x, y, z, greatest x, y, z, [mm]."""
    shape = feature.shape
    if isinstance(shape, Cylinder):
        wide = shape.radius + shape.chamfer
        direction = np.asarray(shape.direction)
        ends = np.array([shape.mouth, shape.mouth + shape.length * direction])
        room = wide * np.sqrt(np.maximum(1.0 - direction**2, 0.0))
        return (*(ends.min(axis=0) - room), *(ends.max(axis=0) + room))
    if isinstance(shape, Prism | Vault):
        x0, y0, x1, y1 = bounds_of(shape.region)
    else:
        x0, y0, x1, y1 = bounds_of(track_loops(shape.path, shape.closed, shape.width)[:1])
    return (x0, y0, shape.z0, x1, y1, shape.z1)


def _claim(
    owner: np.ndarray,
    number: int,
    feature: Feature,
    first: np.ndarray,
    last: np.ndarray,
    low: np.ndarray,
    spacing: float,
) -> None:
    """Give the voxels of a feature to it, of those that no other has.

    Parameters
    ----------
    owner : numpy.ndarray
        (nx, ny, nz) int16; written to.
    number : int
        The feature's.
    feature : Feature
    first, last : numpy.ndarray
        (3,) int: where voxels may be its, up to but without the last.
    low : numpy.ndarray
        (3,) int: place of the grid's first voxel, in voxels from the panel's origin.
    spacing : float
        [mm]
    """
    shape = feature.shape
    centre = (first + low + 0.5) * spacing + np.asarray(HAIR)
    if isinstance(shape, Cylinder):
        away = centre - np.asarray(shape.mouth, float)
        sizes = np.array((shape.length, shape.radius, shape.chamfer, shape.core))
        _fill_bore(owner, number, first, last, away, spacing, np.asarray(shape.direction, float), sizes)
        return
    corner, plan = (float(centre[0]), float(centre[1])), (int(last[0] - first[0]), int(last[1] - first[1]))
    heights = centre[2] + spacing * np.arange(last[2] - first[2])
    inside = np.flatnonzero((heights >= shape.z0) & (heights < shape.z1))
    if len(inside) == 0:
        return
    if isinstance(shape, Vault):
        insets = np.array([inset_at(shape, float(z)) for z in heights[inside]])
        for inset in np.unique(insets):
            alike = inside[insets == inset]
            held = cover_region(loops_at(shape, float(heights[alike[0]])), corner, spacing, plan)
            _fill_plan(owner, number, first, held, alike)
        return
    if isinstance(shape, Prism):
        held = cover_region(shape.region, corner, spacing, plan)
        if shape.islands:
            held &= ~cover_region(shape.islands, corner, spacing, plan)
    else:
        outer, inner = track_loops(shape.path, shape.closed, shape.width)
        held = cover_loop(outer, corner, spacing, plan)
        if inner is not None:
            held &= ~cover_loop(inner, corner, spacing, plan)
    _fill_plan(owner, number, first, held, inside)


@compile_cached
def _fill_plan(owner, number, first, held, levels):  # type: ignore[no-untyped-def]
    for i in range(held.shape[0]):
        for j in range(held.shape[1]):
            if held[i, j]:
                x, y = first[0] + i, first[1] + j
                for k in levels:
                    z = first[2] + k
                    if owner[x, y, z] < 0:
                        owner[x, y, z] = number


@compile_cached
def _fill_bore(owner, number, first, last, away, spacing, direction, sizes):  # type: ignore[no-untyped-def]
    length, radius, chamfer, core = sizes
    for x in range(first[0], last[0]):
        a = away[0] + (x - first[0]) * spacing
        for y in range(first[1], last[1]):
            b = away[1] + (y - first[1]) * spacing
            for z in range(first[2], last[2]):
                c = away[2] + (z - first[2]) * spacing
                along = a * direction[0] + b * direction[1] + c * direction[2]
                if owner[x, y, z] >= 0 or along < 0.0 or along > length:
                    continue
                across = a * a + b * b + c * c - along * along
                wide = radius + max(chamfer - along, 0.0)
                if core * core <= across <= wide * wide:
                    owner[x, y, z] = number
