"""192 ports that are tangent or flush to a channel's end, sides and floor: none may come out wrong.

Measured on these: a cut without a fuzzy value gets 3 wrong, a fuse of the wet tools 70; a cut at 1e-5 none.
"""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from sample_detail import channel, make_plate

from geom.build import build_solids
from geom.features import Cylinder, Feature
from geom.kernel import is_valid
from geom.tessellate import mesh_solid
from geom.volume import plan_volume

RADIUS = 5.9
ENDS = {"centre": 20.0, "tangent end": 0.0, "through": 100.0, "flush side": 20.0 + RADIUS}


def wet(name: str, mouth, direction, length: float, radius: float) -> Feature:
    return Feature(name, "port", "wet", Cylinder(mouth, direction, length, radius))


def is_torn(mesh: trimesh.Trimesh) -> bool:
    """Return whether some edge has an odd number of triangles; a line of contact has four and is no tear."""
    _, triangles = np.unique(mesh.edges_sorted, axis=0, return_counts=True)
    return bool(np.any(triangles % 2))


@pytest.mark.parametrize("height", [14.0, 17.9, 12.0, 16.1])
@pytest.mark.parametrize("width", [8.0, 11.8, 10.0])
def test_tangent_ports_come_out_right(width, height):
    """Four lengths by four offsets of the edge port, with a side port and a flush face port each."""
    for end, length in ENDS.items():
        for offset in (0.0, (width - 2 * RADIUS) / 2, width / 2, RADIUS - width / 2):
            reach = 20 - width / 2 if end == "tangent end" else length
            detail = make_plate(
                channel("channel", ((20, 30), (80, 30)), 12, 22, width),
                wet("edge port", (0, 30 + offset, height), (1, 0, 0), reach, RADIUS),
                wet("side port", (50, 0, height), (0, 1, 0), 30, RADIUS),
                wet("face port", (80, 30, 0), (0, 0, 1), 12, width / 2),
                size=(100, 60, 22),
            )
            solids = build_solids(detail)
            where = f"width {width}, height {height}, {end}, offset {offset:.2f}"
            assert solids.volumes["wet"] == pytest.approx(plan_volume(detail, 1e-3), rel=1e-6), where
            assert is_valid(solids.part("panel")), where
            assert not any(is_torn(mesh_solid(shape)) for shape in (solids.part("panel"), solids.wet)), where
            assert solids.volumes["part panel"] + solids.volumes["wet"] == pytest.approx(132_000), where
