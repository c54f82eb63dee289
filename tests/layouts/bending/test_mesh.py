"""Triangles fill a sheet, keep to its edges and are well shaped."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layouts.bending.mesh import Mesh, mesh_sheet
from layouts.bending.plate import ClampRing
from tests.layouts.bending.sample_plates import CORNERS, least_angles, screwed_plate

LEAST_ANGLE_DEG = 5.0


def area_of(mesh: Mesh) -> float:
    return float(shapely.area(shapely.polygons(mesh.points[mesh.triangles])).sum())


def outer_corners(mesh: Mesh) -> np.ndarray:
    """Return the corners on sides that only one triangle has, and check that no side has three."""
    triangles = mesh.triangles
    sides = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    sides, count = np.unique(np.sort(sides, axis=1), axis=0, return_counts=True)
    assert count.max() == 2
    return np.unique(sides[count == 1])


@st.composite
def sheets(draw):
    width, height = draw(st.floats(30, 160)), draw(st.floats(30, 120))
    outline = shapely.box(0, 0, width, height)
    if draw(st.booleans()):
        outline = outline.difference(shapely.box(0.6 * width, 0.5 * height, width + 1, height + 1))
    if draw(st.booleans()):
        outline = outline.buffer(-4).buffer(4, quad_segs=8)
    gap, rings, taken = draw(st.floats(0.8, 4)), [], []
    for x, y, kind in draw(
        st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1), st.integers(0, 3)), max_size=20)
    ):
        radius = (1.7, 2.25, 3.5, 9.0)[kind]
        head = 1.55 * radius if kind < 2 else radius
        at = (x * width, y * height)
        room = shapely.Point(at).buffer(head + gap)
        if outline.contains(room) and not any(room.intersects(other) for other in taken):
            taken.append(shapely.Point(at).buffer(head))
            if kind < 2:
                rings.append(ClampRing(at, radius, head))
            outline = outline.difference(shapely.Point(at).buffer(radius, quad_segs=16))
    return outline, tuple(rings), draw(st.sampled_from((3.0, 4.0, 5.6)))


@settings(max_examples=20, deadline=None)
@given(sheets())
def test_random_sheets_are_filled_by_sound_triangles(sheet):
    outline, rings, size = sheet
    mesh = mesh_sheet(outline, rings, size)
    corners = mesh.points[mesh.triangles]
    u, v = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    assert (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0] > 0).all()
    assert len(np.unique(mesh.triangles)) == len(mesh.points)
    assert least_angles(mesh).min() > LEAST_ANGLE_DEG
    edge = mesh.points[outer_corners(mesh)]
    assert shapely.distance(outline.boundary, shapely.points(edge)).max() < 1e-9
    # Twelve chords of the smallest circles leave 4.5 % of its area to the plate.
    assert area_of(mesh) == pytest.approx(outline.area, rel=0.03)
    longest = np.max([np.hypot(*(corners[:, k] - corners[:, k - 1]).T) for k in range(3)], axis=0)
    assert longest.max() < 2.5 * size


def test_edges_close_together_are_cut_until_triangles_keep_to_them():
    """Two windows 0.5 mm apart, and one as near to the rim: sides laid by size alone would be crossed."""
    windows = (shapely.box(10, 10, 30, 20), shapely.box(12, 20.5, 34, 30), shapely.box(40, 0.5, 55, 9))
    outline = shapely.box(0, 0, 60, 40).difference(shapely.union_all(windows))
    mesh = mesh_sheet(outline, (), 6.0)
    assert shapely.distance(outline.boundary, shapely.points(mesh.points[outer_corners(mesh)])).max() < 1e-9
    assert area_of(mesh) == pytest.approx(outline.area, rel=1e-9)


def test_most_triangles_are_nearly_even():
    sheet, clamps = screwed_plate(CORNERS)
    angles = least_angles(mesh_sheet(sheet.outline, clamps, 4.0))
    assert np.percentile(angles, 5) > 38


def test_a_rectangle_is_filled_exactly():
    mesh = mesh_sheet(shapely.box(0, 0, 40, 80), (), 3.0)
    assert area_of(mesh) == pytest.approx(3200, rel=1e-12)
    assert least_angles(mesh).min() > 25


def test_corners_lie_on_hole_and_head_and_are_finest_there():
    sheet, clamps = screwed_plate(CORNERS)
    mesh = mesh_sheet(sheet.outline, clamps, 4.0)
    for ring in clamps:
        away = np.hypot(*(mesh.points - ring.at).T)
        assert np.sum(np.abs(away - ring.outer) < 1e-9) >= 12
        assert np.sum(np.abs(away - ring.inner) < 0.02) >= 12
        assert not (away < ring.inner - 0.1).any()
    area = shapely.area(shapely.polygons(mesh.points[mesh.triangles]))
    far = np.min([np.hypot(*(mesh.points[mesh.triangles].mean(axis=1) - c.at).T) for c in clamps], axis=0)
    assert area[far < 4.5].mean() < 0.25 * area[far > 15].mean()


def test_a_clamp_without_a_hole_has_corners_on_both_circles():
    mesh = mesh_sheet(shapely.box(0, 0, 60, 60), (ClampRing((30.0, 30.0), 3.0, 6.0),), 5.0)
    away = np.hypot(*(mesh.points - 30.0).T)
    for radius in (3.0, 6.0):
        assert np.sum(np.abs(away - radius) < 1e-9) >= 12
    assert area_of(mesh) == pytest.approx(3600, rel=1e-12)


def test_the_same_sheet_gives_the_same_mesh():
    sheet, clamps = screwed_plate(CORNERS)
    one, two = (mesh_sheet(sheet.outline, clamps, 4.0) for _ in range(2))
    assert one.points.tobytes() == two.points.tobytes()
    assert one.triangles.tobytes() == two.triangles.tobytes()
