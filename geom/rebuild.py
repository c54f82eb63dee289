"""Every feature once more as a mesh, made from its plain values without the CAD kernel.

Bores are turned and prisms are raised by the mesh kernel itself, round where the outline is round to within
`SAG_MM`, with the exact volume.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import manifold3d
import numpy as np
import shapely

from geom.build import Solids
from geom.errors import GeometryError
from geom.features import Cylinder, Feature, Prism, Track, Vault
from geom.frame import SAG_MM, Vec
from geom.outline import Loop, region_polygon, track_polygon
from geom.vault import mesh_rings

LEAST_CHORDS = 24
"""Chords of a bore's circle, however small it is."""

Models = Mapping[str, tuple[manifold3d.Manifold, ...]]
"""Feature name to its pieces."""


def rebuild_features(solids: Solids) -> Models:
    """Return every feature as closed meshes.

    Parameters
    ----------
    solids : Solids

    Returns
    -------
    mapping of str to tuple of manifold3d.Manifold
        Feature name to its pieces: one, or more where a prism's region falls into several.

    Raises
    ------
    GeometryError
        Where a mesh is no closed skin.
    """
    models: dict[str, tuple[manifold3d.Manifold, ...]] = {}
    for feature, _ in solids.tools:
        if isinstance(feature.shape, Cylinder):
            models[feature.name] = (turn_bore(feature.shape),)
        elif isinstance(feature.shape, Vault):
            models[feature.name] = _roof(feature, feature.shape)
        else:
            models[feature.name] = _raise(feature, feature.shape)
    return models


def turn_bore(bore: Cylinder) -> manifold3d.Manifold:
    """Return a bore, its chamfer included, with the volume of the round one.

    Parameters
    ----------
    bore : Cylinder
        [mm]

    Returns
    -------
    manifold3d.Manifold
    """
    chords = max(LEAST_CHORDS, math.ceil(math.pi / math.acos(1 - SAG_MM / (bore.radius + bore.chamfer))))
    angle = 2 * math.pi / chords
    # A polygon a little larger than the circle, of the same area.
    swell = math.sqrt(angle / math.sin(angle))
    mouth, radius = (bore.radius + bore.chamfer) * swell, bore.radius * swell
    profile = [(0.0, 0.0), (mouth, 0.0), (radius, bore.chamfer), (radius, bore.length), (0.0, bore.length)]
    if bore.chamfer == 0:
        del profile[2]
    if bore.core > 0:
        core = bore.core * swell
        profile = [(core, 0.0), (radius, 0.0), (radius, bore.length), (core, bore.length)]
    return (
        manifold3d.CrossSection([profile]).revolve(chords).transform(find_frame(bore.mouth, bore.direction))
    )


def find_frame(mouth: Vec, direction: Vec) -> np.ndarray:
    """Return the frame whose z runs along a bore from its mouth.

    Parameters
    ----------
    mouth : (float, float, float)
        [mm]
    direction : (float, float, float)
        Unit vector.

    Returns
    -------
    numpy.ndarray
        (3, 4) float: a turn without mirroring, then the mouth, [mm].
    """
    axis = np.asarray(direction)
    across = np.cross(axis, (0.0, 1.0, 0.0) if abs(axis[1]) < 0.9 else (1.0, 0.0, 0.0))
    across /= np.linalg.norm(across)
    return np.column_stack((across, np.cross(axis, across), axis, mouth))


def _raise(feature: Feature, prism: Prism | Track) -> tuple[manifold3d.Manifold, ...]:
    region = (
        region_polygon(prism.region, islands=prism.islands)
        if isinstance(prism, Prism)
        else track_polygon(prism.path, prism.closed, prism.width)
    )
    pieces = [piece for piece in shapely.get_parts(region) if piece.area > 0]
    raised = []
    for piece in pieces:
        rings = [piece.exterior, *piece.interiors]
        section = manifold3d.CrossSection(
            [np.asarray(ring.coords)[:-1] for ring in rings], manifold3d.FillRule.EvenOdd
        )
        solid = section.extrude(prism.z1 - prism.z0).translate((0.0, 0.0, prism.z0))
        if solid.status() != manifold3d.Error.NoError or solid.is_empty():
            raise GeometryError(f"{feature.name}: the mesh kernel could not raise its outline")
        raised.append(solid)
    return tuple(raised)


def _roof(feature: Feature, vault: Vault) -> tuple[manifold3d.Manifold, ...]:
    """Return the united runs of a roofed channel."""
    runs = [_stack_rings(feature, vault, loop) for loop in vault.region]
    united = runs[0] if len(runs) == 1 else manifold3d.Manifold.batch_boolean(runs, manifold3d.OpType.Add)
    return tuple(united.decompose())


def _stack_rings(feature: Feature, vault: Vault, loop: Loop) -> manifold3d.Manifold:
    heights, rings = mesh_rings(vault, loop)
    levels, corners = rings.shape[:2]
    points = np.concatenate((rings, np.broadcast_to(heights[:, None, None], (levels, corners, 1))), axis=2)
    here = np.arange(levels - 1)[:, None] * corners + np.arange(corners)
    beside = np.arange(levels - 1)[:, None] * corners + (np.arange(corners) + 1) % corners
    sides = np.concatenate(
        (
            np.stack((here, beside, beside + corners), axis=-1).reshape(-1, 3),
            np.stack((here, beside + corners, here + corners), axis=-1).reshape(-1, 3),
        )
    )
    floor, roof = (np.asarray(manifold3d.triangulate([rings[k]])) for k in (0, -1))
    triangles = np.concatenate((sides, floor[:, ::-1], roof + (levels - 1) * corners))
    skin = manifold3d.Mesh64(points.reshape(-1, 3), triangles.astype(np.uint64))
    solid = manifold3d.Manifold(skin)
    if solid.status() != manifold3d.Error.NoError or solid.is_empty():
        raise GeometryError(f"{feature.name}: the mesh kernel could not raise its roof")
    return solid
