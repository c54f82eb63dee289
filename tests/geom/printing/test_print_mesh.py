"""Meshes made ready to print: bores wider by a closed form, threads, shrinkage, closed skins."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from exports.formats.stl import write_stl
from geom.features import Cylinder
from geom.printing.mesh_fits import PrintFit, ThreadCut, WideBore
from geom.printing.print_mesh import DEEPER_MM, fit_mesh
from geom.rebuild import turn_bore
from geom.standards import tables
from geom.tessellate import to_manifold

SIDE = 30.0
UP = (0.0, 0.0, 1.0)


def drilled(*bores: Cylinder) -> trimesh.Trimesh:
    """Return a cube of 30 mm from the origin on with bores."""
    solid = to_manifold(trimesh.creation.box(bounds=((0, 0, 0), (SIDE, SIDE, SIDE))))
    for bore in bores:
        solid -= turn_bore(bore)
    data = solid.to_mesh64()
    return trimesh.Trimesh(
        np.array(data.vert_properties)[:, :3], np.array(data.tri_verts, dtype=np.int64), process=False
    )


@settings(max_examples=15, deadline=None)
@given(
    radius=st.floats(1.5, 5.0),
    offset=st.floats(0.05, 0.6),
    length=st.floats(3.0, 25.0),
    across=st.floats(8.0, 22.0),
    axis=st.sampled_from([(1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)]),
)
def test_a_blind_bore_is_wider_by_what_was_asked(radius, offset, length, across, axis):
    mouth = tuple(0.0 if a else across for a in axis)
    bore = Cylinder(mouth, axis, length, radius)
    made = fit_mesh(drilled(bore), PrintFit("body", UP, (WideBore("bore", bore),), offset))
    wide = math.pi * (radius + offset / 2) ** 2 * (length + DEEPER_MM)
    assert made.is_watertight
    assert made.volume == pytest.approx(SIDE**3 - wide, rel=2e-6)
    assert made.euler_number == 2


def test_a_through_bore_leaves_no_film():
    bore = Cylinder((10.0, 12.0, 0.0), (0.0, 0.0, 1.0), SIDE, 2.0)
    made = fit_mesh(drilled(bore), PrintFit("cover", UP, (WideBore("bore", bore, True),), 0.2))
    assert made.euler_number == 0
    assert made.volume == pytest.approx(SIDE**3 - math.pi * 2.1**2 * SIDE, rel=2e-6)


def test_a_chamfer_grows_with_its_bore():
    bore = Cylinder((15.0, 15.0, 0.0), (0.0, 0.0, 1.0), 10.0, 3.0, 1.0)
    made = fit_mesh(drilled(bore), PrintFit("body", UP, (WideBore("bore", bore),), 0.4))
    rim = made.vertices[np.abs(made.vertices[:, 2]) < 1e-9]
    near = np.hypot(rim[:, 0] - 15.0, rim[:, 1] - 15.0)
    assert near[near < 10.0].max() == pytest.approx(4.2, abs=0.02)


def test_shrinkage_is_made_up_for():
    """What is printed at 0.5 % less is as long as in the file: 30 / 0.995."""
    made = fit_mesh(drilled(), PrintFit("body", UP, shrink=0.005))
    assert made.bounds[1] * (1 - 0.005) == pytest.approx([SIDE] * 3)
    assert made.volume * 0.995**3 == pytest.approx(SIDE**3)


def test_nothing_to_do_leaves_the_mesh_alone():
    mesh = drilled()
    assert fit_mesh(mesh, PrintFit("body", UP, offset=0.2)) is mesh


@pytest.mark.parametrize("name", tables.thread_names())
@pytest.mark.parametrize("clearance", [0.0, 0.3])
def test_threaded_parts_are_closed_when_they_are_read_back(name, clearance, tmp_path):
    row = tables.thread(name)
    bore = Cylinder(
        (15.0, 15.0, 0.0), (0.0, 0.0, 1.0), 14.0, row.tap_drill / 2, (row.major - row.tap_drill) / 2
    )
    cut = ThreadCut("port", bore.mouth, bore.direction, 10.0, row.pitch, row.major, clearance)
    made = fit_mesh(drilled(bore), PrintFit("body", UP, threads=(cut,), shrink=0.003))
    assert made.is_watertight
    assert made.euler_number == 2
    write_stl(tmp_path / "body.stl", "body", made)
    again = trimesh.load(tmp_path / "body.stl")
    assert again.is_watertight
    assert again.volume == pytest.approx(made.volume, rel=1e-6)


def test_the_same_part_gives_the_same_bytes():
    row = tables.thread("G1/4")
    bore = Cylinder((15.0, 15.0, 0.0), (0.0, 0.0, 1.0), 14.0, row.tap_drill / 2)
    fit = PrintFit(
        "body", UP, threads=(ThreadCut("p", bore.mouth, bore.direction, 10.0, row.pitch, row.major, 0.3),)
    )
    one, two = fit_mesh(drilled(bore), fit), fit_mesh(drilled(bore), fit)
    assert np.array_equal(one.vertices, two.vertices)
    assert np.array_equal(one.faces, two.faces)
