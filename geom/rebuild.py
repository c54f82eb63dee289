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
from geom.features import Cylinder, Feature, Prism, Track
from geom.frame import SAG_MM
from geom.outline import region_polygon, track_polygon

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
            models[feature.name] = (_turn(feature.shape),)
        else:
            models[feature.name] = _raise(feature, feature.shape)
    return models


def _turn(bore: Cylinder) -> manifold3d.Manifold:
    """Return a bore, its chamfer included, with the volume of the round one."""
    chords = max(LEAST_CHORDS, math.ceil(math.pi / math.acos(1 - SAG_MM / (bore.radius + bore.chamfer))))
    angle = 2 * math.pi / chords
    # A polygon a little larger than the circle, of the same area.
    swell = math.sqrt(angle / math.sin(angle))
    mouth, radius = (bore.radius + bore.chamfer) * swell, bore.radius * swell
    profile = [(0.0, 0.0), (mouth, 0.0), (radius, bore.chamfer), (radius, bore.length), (0.0, bore.length)]
    if bore.chamfer == 0:
        del profile[2]
    turned = manifold3d.CrossSection([profile]).revolve(chords)
    axis = np.asarray(bore.direction)
    across = np.cross(axis, (0.0, 1.0, 0.0) if abs(axis[1]) < 0.9 else (1.0, 0.0, 0.0))
    across /= np.linalg.norm(across)
    frame = np.column_stack((across, np.cross(axis, across), axis, bore.mouth))
    return turned.transform(frame)


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
