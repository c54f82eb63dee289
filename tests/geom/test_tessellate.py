"""Meshes: closed, outward, near their solid, and refused where they are not."""

from __future__ import annotations

import cadquery as cq
import numpy as np
import pytest
import trimesh
from sample_detail import channel, make_panel, make_plate

from geom.build import build_solids
from geom.errors import GeometryError
from geom.frame import MERGE_MM
from geom.kernel import find_volume, make_compound
from geom.skins import find_euler
from geom.tessellate import _merge_vertices, mesh_solid, to_manifold


@pytest.fixture(scope="module")
def solids():
    return build_solids(make_panel())


def test_every_mesh_is_one_closed_skin_with_the_genus_of_its_solid(solids):
    for shape in (*(part.solid for part in solids.parts), solids.wet):
        mesh = mesh_solid(shape)
        assert mesh.is_watertight
        assert mesh.is_winding_consistent
        assert mesh.euler_number == find_euler(shape)
        assert mesh.volume == pytest.approx(find_volume(shape), rel=1e-3)
        assert to_manifold(mesh).volume() == pytest.approx(mesh.volume, rel=1e-12)


def test_face_numbers_point_to_the_faces_of_the_solid(solids):
    body = solids.part("body")
    mesh = mesh_solid(body)
    numbers = mesh.metadata["face_id"]
    assert len(numbers) == len(mesh.faces)
    faces = body.Faces()
    areas = np.bincount(numbers, mesh.area_faces, minlength=len(faces))
    assert areas == pytest.approx([face.Area() for face in faces], rel=5e-3)


def test_finer_mesh_is_nearer(solids):
    exact = find_volume(solids.wet)
    errors = [
        abs(mesh_solid(solids.wet, *fine).volume - exact)
        for fine in ((0.05, 0.4), (0.02, 0.2), (0.005, 0.05))
    ]
    assert errors[0] > errors[1] > errors[2]
    # A coarse mesh asked for later must not be the fine one left on the shape.
    assert abs(mesh_solid(solids.wet, 0.05, 0.4).volume - exact) == pytest.approx(errors[0], rel=1e-9)


def test_vertices_are_merged_across_a_rounding_step():
    half = MERGE_MM / 2
    near = np.array([[half - 1e-9, 0, 0], [half + 1e-9, 0, 0], [1, 1, 1], [1, 1, 1 + 3 * MERGE_MM]])
    merged, kept = _merge_vertices(near)
    assert np.round(near[0, 0] / MERGE_MM) != np.round(near[1, 0] / MERGE_MM)
    assert merged.tolist() == [0, 0, 1, 2]
    assert kept.tolist() == [0, 2, 3]


def test_mesh_of_loose_leaves_is_refused():
    box = mesh_solid(cq.Solid.makeBox(1, 2, 3))
    loose = trimesh.Trimesh(
        box.vertices[box.faces].reshape(-1, 3), np.arange(3 * len(box.faces)).reshape(-1, 3), process=False
    )
    with pytest.raises(GeometryError, match="no closed skin"):
        to_manifold(loose)


def test_mesh_turned_inside_out_is_refused():
    box = mesh_solid(cq.Solid.makeBox(1, 2, 3))
    with pytest.raises(GeometryError, match="inside out"):
        to_manifold(trimesh.Trimesh(box.vertices, box.faces[:, ::-1], process=False))


def test_nothing_cannot_be_meshed():
    with pytest.raises(GeometryError, match="no faces"):
        mesh_solid(make_compound([]))


def test_moved_solid_is_meshed_where_it_stands():
    moved = cq.Solid.makeBox(1, 2, 3).moved(cq.Location(10.0, 0.0, 0.0))
    assert mesh_solid(moved).bounds.tolist() == [[10, 0, 0], [11, 2, 3]]


def test_same_solid_gives_same_bytes():
    solid = build_solids(make_plate(channel("c", ((20, 20), (60, 20), (60, 45)), 0, 8))).part("panel")
    first, second = mesh_solid(solid), mesh_solid(solid)
    assert first.vertices.tobytes() == second.vertices.tobytes()
    assert first.faces.tobytes() == second.faces.tobytes()
