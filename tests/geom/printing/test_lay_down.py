"""Laid meshes as the files hold them: read back closed, no corner twice, no triangle that collapsed."""

from __future__ import annotations

from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from exports.formats.stl import write_stl
from exports.formats.threemf import write_threemf
from geom.errors import GeometryError
from geom.features import Cylinder
from geom.printing.lay_down import THIN_MM, lay_down, settle_mesh
from geom.printing.mesh_fits import PrintFit, ThreadCut, WideBore
from geom.printing.print_mesh import fit_mesh
from geom.rebuild import turn_bore
from geom.standards import tables
from geom.tessellate import to_manifold

TILTS = [(0.0, 0.5**0.5, 0.5**0.5), (0.6, 0.0, 0.8), (-0.36, 0.48, 0.8)]


def mesh_of(solid: manifold3d.Manifold) -> trimesh.Trimesh:
    data = solid.to_mesh64()
    return trimesh.Trimesh(
        np.array(data.vert_properties)[:, :3], np.array(data.tri_verts, dtype=np.int64), process=False
    )


def box_with_a_corner_more(off: float, cap: bool = False) -> trimesh.Trimesh:
    """Return a box of 20 x 30 x 40 mm with a corner more on an edge, so far from that edge's end, [mm].

    With a cap one of the faces at the edge keeps its triangle, and one without an area lies between it and the corner.
    """
    box = trimesh.creation.box(bounds=((0, 0, 0), (20, 30, 40)))
    start = box.vertices[0]
    far = next(b for b in range(8) if np.count_nonzero(box.vertices[b] - start) == 1)
    along = (box.vertices[far] - start) / np.linalg.norm(box.vertices[far] - start)
    faces, split = [], 0
    for tri in box.faces.tolist():
        edge = next((k for k in range(3) if {tri[k], tri[(k + 1) % 3]} == {0, far}), None)
        if edge is None or (cap and split):
            faces.append(tri)
            continue
        a, b, top = tri[edge], tri[(edge + 1) % 3], tri[(edge + 2) % 3]
        faces += [[a, 8, top], [8, b, top], *([[a, b, 8]] if cap else [])]
        split += 1
    return trimesh.Trimesh(np.vstack((box.vertices, start + off * along)), faces, process=False)


def read_back(mesh: trimesh.Trimesh, folder: Path) -> tuple[trimesh.Trimesh, trimesh.Trimesh]:
    write_stl(folder / "part.stl", "part", mesh)
    write_threemf(folder / "part.3mf", "part", "t", mesh)
    return (
        trimesh.load(folder / "part.stl"),
        trimesh.load(folder / "part.3mf", force="mesh", process=False),
    )


def assert_files_are_sound(mesh: trimesh.Trimesh, folder: Path) -> None:
    stl, threemf = read_back(mesh, folder)
    assert stl.is_watertight
    assert len(stl.faces) == len(mesh.faces)
    assert (stl.area_faces > 0).all()
    assert threemf.is_watertight
    assert len(np.unique(threemf.vertices, axis=0)) == len(threemf.vertices)
    for read in (stl, threemf):
        assert read.volume == pytest.approx(mesh.volume, rel=1e-6)


def test_a_corner_nearer_than_the_files_tell_is_one(tmp_path):
    """As it was, the files of at least one of the poses are open or have a corner twice."""
    torn = 0
    for up in TILTS:
        laid = lay_down(box_with_a_corner_more(2e-7), up)
        stl, threemf = read_back(laid, tmp_path)
        torn += not stl.is_watertight or len(np.unique(threemf.vertices, axis=0)) < len(threemf.vertices)
        made = settle_mesh(laid, "part")
        assert len(made.vertices) - len(made.faces) / 2 == 2
        assert_files_are_sound(made, tmp_path)
    assert torn


def test_a_triangle_without_height_is_turned_into_its_neighbour(tmp_path):
    """A corner on the side of a triangle: the kernel of meshes leaves such where two cuts end in one plane."""
    flat = box_with_a_corner_more(7.0, cap=True)
    assert flat.is_watertight
    assert (flat.area_faces < THIN_MM).any()
    made = settle_mesh(flat, "part")
    assert made.area_faces.min() > 1.0
    assert made.volume == pytest.approx(24000.0)
    assert_files_are_sound(made, tmp_path)


@pytest.mark.parametrize(("name", "up"), list(zip(tables.thread_names(), (*TILTS, TILTS[0]), strict=False)))
def test_tilted_threads_are_closed_in_the_files(name, up, tmp_path):
    row = tables.thread(name)
    bores = [
        Cylinder(at, into, 16.0, row.tap_drill / 2, (row.major - row.tap_drill) / 2)
        for at, into in (
            ((20.0, 20.0, 0.0), (0.0, 0.0, 1.0)),
            ((0.0, 55.0, 20.0), (1.0, 0.0, 0.0)),
        )
    ]
    solid = to_manifold(trimesh.creation.box(bounds=((0, 0, 0), (40, 80, 40))))
    wide = Cylinder((20.0, 35.0, 0.0), (0.0, 0.0, 1.0), 40.0, 2.0)
    for bore in (*bores, wide):
        solid -= turn_bore(bore)
    cuts = tuple(
        ThreadCut(f"port {k}", bore.mouth, bore.direction, 12.0, row.pitch, row.major, 0.3)
        for k, bore in enumerate(bores)
    )
    fit = PrintFit("body", up, (WideBore("bore", wide, True),), 0.2, cuts, 0.004)
    assert_files_are_sound(settle_mesh(lay_down(fit_mesh(mesh_of(solid), fit), up), "body"), tmp_path)


@settings(max_examples=20, deadline=None)
@given(
    up=st.tuples(st.floats(-1, 1), st.floats(-1, 1), st.floats(0.2, 1)),
    off=st.floats(1e-9, 1e-4),
)
def test_settling_changes_no_more_than_the_files_do(up, off):
    laid = lay_down(box_with_a_corner_more(off), up)
    made = settle_mesh(laid, "part")
    assert made.is_watertight
    assert made.volume == pytest.approx(laid.volume, rel=1e-6)
    assert np.array_equal(made.vertices, made.vertices.astype(np.float32))
    again = settle_mesh(made, "part")
    assert np.array_equal(again.vertices, made.vertices)
    assert np.array_equal(again.faces, made.faces)


def test_what_does_not_close_is_refused():
    """Two boxes that touch along an edge have it four times."""
    boxes = [trimesh.creation.box(bounds=b) for b in (((0, 0, 0), (9, 9, 9)), ((9, 9, 0), (18, 18, 9)))]
    with pytest.raises(GeometryError, match="the mesh of the lid is not closed once its corners are rounded"):
        settle_mesh(trimesh.util.concatenate(boxes), "lid")
