"""Features to voxels, against shapely's polygons, the kernel's solids and VTK's stencil."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_demos import plan_demo

from geom.build import build_solids
from geom.features import Cylinder, Feature, Prism, Shape, Track, Vault, chamfer_volume
from geom.outline import (
    Arc,
    Line,
    outline_circle,
    outline_rectangle,
    outline_route,
    region_polygon,
    reverse_path,
    round_corners,
    track_polygon,
)
from geom.tessellate import LINEAR_MM, mesh_solid
from geom.vault import section_at, vault_volume
from geom.volume import plan_volume
from geom.wet.raster import raster_wet
from geom.wet.scan import bounds_of, cover_region
from geom.wet.voxels import WetVoxels

FINE = 1e-4
"""Greatest distance from an arc of the polygons that stand for it here, [mm]."""

ROUTE = ((10.0, 10.0), (40.0, 10.0), (40.0, 35.0), (20.0, 35.0))
L_TURN = ((0.0, 0.0), (30.0, 0.0), (30.0, 25.0))
LENGTHS = st.floats(-3.0, 3.0)


def wet(*shapes: Shape) -> list[Feature]:
    return [Feature(f"feature {n}", "channel", "wet", shape) for n, shape in enumerate(shapes)]


def dense(voxels: WetVoxels) -> np.ndarray:
    held = np.zeros(voxels.shape, bool)
    held[tuple(voxels.cells.T)] = True
    return held


def grid_of(voxels: WetVoxels) -> list[np.ndarray]:
    """Return the centres of all voxels, dry ones included, as x, y and z."""
    axes = [voxels.origin[k] + (np.arange(voxels.shape[k]) + 0.5) * voxels.spacing for k in range(3)]
    return list(np.meshgrid(*axes, indexing="ij"))


def assert_like_polygon(voxels: WetVoxels, polygon: shapely.Geometry, level: int) -> None:
    """Compare a level of voxels with a polygon, but for points within the polygon's own error of its outline."""
    x, y, _ = (axis[:, :, level] for axis in grid_of(voxels))
    right = shapely.contains_xy(polygon, x, y)
    differ = right != dense(voxels)[:, :, level]
    off = shapely.distance(shapely.points(x[differ], y[differ]), shapely.boundary(polygon))
    assert (off <= 2 * FINE).all(), off


@settings(max_examples=15, deadline=None)
@given(dx=LENGTHS, dy=LENGTHS, width=st.floats(2.0, 9.0), spacing=st.sampled_from((0.5, 0.7, 1.0)))
def test_prisms_with_islands_are_as_shapely_has_them(
    dx: float, dy: float, width: float, spacing: float
) -> None:
    route = outline_route(tuple((x + dx, y + dy) for x, y in ROUTE), 7.0, width)
    circle = outline_circle((25.0 + dx, 22.0 - dy), 9.3)
    islands = (outline_rectangle(20.0, 18.0, 26.0 + dx, 24.0, 1.5), outline_circle((30.0, 20.0), 2.2))
    voxels = raster_wet(wet(Prism((route, circle), 1.3, 4.9, islands)), spacing)
    polygon = region_polygon((route, circle), FINE, islands)
    for level in range(voxels.shape[2]):
        z = voxels.origin[2] + (level + 0.5) * spacing
        if 1.3 < z < 4.9:
            assert_like_polygon(voxels, polygon, level)
        else:
            assert not dense(voxels)[:, :, level].any()


@pytest.mark.parametrize("closed", [False, True])
@pytest.mark.parametrize("turned", [False, True])
def test_tracks_are_as_shapely_has_them(closed: bool, turned: bool) -> None:
    path = outline_rectangle(3.1, 4.2, 41.7, 30.3, 8.0) if closed else round_corners(L_TURN, 9.0)
    path = reverse_path(path) if turned else path
    voxels = raster_wet(wet(Track(path, closed, 3.7, 0.0, 2.0)), 0.5)
    assert_like_polygon(voxels, track_polygon(path, closed, 3.7, FINE), 1)


@pytest.mark.parametrize("profile", ["pointed", "round"])
@pytest.mark.parametrize("up", [True, False])
def test_vaults_are_as_their_sections(profile: str, up: bool) -> None:
    region = (outline_route(ROUTE, 12.0, 12.0), outline_route(((30.0, 5.0), (30.0, 40.0)), 12.0, 11.0))
    vault = Vault(region, 2.0, 13.5, 4.0, 4.0, profile, up)  # type: ignore[arg-type]
    voxels = raster_wet(wet(vault), 0.5)
    for level in range(voxels.shape[2]):
        z = voxels.origin[2] + (level + 0.5) * 0.5
        if 2.0 < z < 13.5:
            assert_like_polygon(voxels, section_at(vault, z, FINE), level)
    assert abs(voxels.volume_mm3 - vault_volume(vault)) < 0.01 * vault_volume(vault)


@settings(max_examples=25, deadline=None)
@given(
    way=st.tuples(st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, 1)).filter(
        lambda w: math.hypot(*w) > 0.1
    ),
    chamfer=st.sampled_from((0.0, 0.9)),
    core=st.sampled_from((0.0, 1.7)),
)
def test_bores_in_any_direction_are_bodies_of_revolution(
    way: tuple[float, float, float], chamfer: float, core: float
) -> None:
    direction = np.asarray(way) / math.hypot(*way)
    mouth = np.array([3.3, -2.1, 5.7])
    core = 0.0 if chamfer else core
    bore = Cylinder(tuple(mouth), tuple(direction), 12.4, 3.1, chamfer, core)
    voxels = raster_wet(wet(bore), 0.5)
    # Two vectors across the bore, so that a point is a length along it and one off its axis.
    across = np.linalg.svd(direction[None, :])[2][1:]
    away = np.stack(grid_of(voxels), axis=-1) - mouth
    along, off = away @ direction, np.linalg.norm(away @ across.T, axis=-1)
    wide = np.where(along < chamfer, 3.1 + chamfer - along, 3.1)
    right = (along > 0) & (along < 12.4) & (off < wide) & (off > core)
    skin = np.minimum.reduce([np.abs(along), np.abs(along - 12.4), np.abs(off - wide), np.abs(off - core)])
    assert not (right ^ dense(voxels))[skin > 1e-5].any()
    true = math.pi * (3.1**2 - core**2) * 12.4 + chamfer_volume(3.1, chamfer)
    assert voxels.volume_mm3 == pytest.approx(true, rel=0.05)


@pytest.mark.parametrize("shift", [0.0, 0.5, 0.25])
def test_walls_through_centres_make_no_bias(shift: float) -> None:
    """A box of whole voxels holds as many, wherever the grid lies; so does a bore's length, into any face."""
    box = raster_wet(
        wet(Prism((outline_rectangle(shift, shift, shift + 10, shift + 7, 0.0),), shift, shift + 4)), 1.0
    )
    assert box.count == 280
    for axis in range(3):
        for sense in (-1.0, 1.0):
            direction = [0.0, 0.0, 0.0]
            direction[axis] = sense
            bore = Cylinder((shift, shift, shift), tuple(direction), 9.0, 2.6)
            voxels = raster_wet(wet(bore), 1.0)
            assert len(np.unique(voxels.cells[:, axis])) == 9


def test_features_that_meet_at_a_centre_leave_no_gap_and_share_no_voxel() -> None:
    lower = Prism((outline_rectangle(0.0, 0.0, 6.5, 6.0, 0.0),), 0.0, 4.5)
    upper = Prism((outline_rectangle(0.0, 0.0, 6.5, 6.0, 0.0),), 4.5, 8.0)
    right = Prism((outline_rectangle(6.5, 0.0, 12.0, 6.0, 0.0),), 0.0, 8.0)
    voxels = raster_wet(wet(lower, upper, right), 1.0)
    assert (
        voxels.count
        == sum(raster_wet(wet(shape), 1.0).count for shape in (lower, upper, right))
        == 12 * 6 * 8
    )
    bore = Cylinder((3.0, 3.0, 9.5), (0.0, 0.0, -1.0), 5.0, 2.0)
    joined = raster_wet(wet(Prism((outline_circle((3.0, 3.0), 2.0),), 0.0, 4.5), bore), 1.0)
    heights = np.bincount(joined.cells[:, 2])
    assert (heights == heights[0]).all()
    assert len(heights) == 9


def test_the_first_feature_holds_what_several_share() -> None:
    boxes = [Prism((outline_rectangle(x, 0.0, x + 6, 4.0, 0.0),), 0.0, 2.0) for x in (0.0, 4.0)]
    features = [*wet(*boxes), Feature("groove", "groove", "dry", boxes[0])]
    voxels = raster_wet(features, 1.0)
    assert voxels.names == ("feature 0", "feature 1")
    assert np.bincount(voxels.owner).tolist() == [48, 32]
    assert raster_wet([features[2]], 1.0).count == 0


@pytest.mark.parametrize("closed", [False, True])
def test_bounds_are_those_of_arcs_too(closed: bool) -> None:
    loop = outline_circle((3.0, 4.0), 2.5) if closed else outline_route(ROUTE, 7.0, 5.0)
    right = region_polygon((loop,), 1e-7).bounds
    assert bounds_of((loop,)) == pytest.approx(right, abs=1e-6)


def test_lines_of_the_grid_through_joints_of_an_outline_leak_nowhere() -> None:
    """Grid lines through end points of arcs, computed otherwise than those of the lines that they meet."""
    chance = np.random.default_rng(3)
    for _ in range(200):
        angle = chance.uniform(0, math.tau)
        centre = tuple(chance.uniform(-5, 5, 2))
        radius = chance.uniform(1, 9)
        half = Arc(centre, radius, angle, math.pi)
        loop = (half, Line(half.end, half.start))
        first = (half.end[0] - 40.0, half.end[1] - 40.0)
        held = cover_region((loop,), first, 0.5, (160, 160))
        assert held.sum() * 0.25 == pytest.approx(math.pi / 2 * radius**2, abs=2.5 * radius + 0.5)


@pytest.mark.published(
    source="the plan's volume, exact for lines and arcs; geom.volume holds it to the kernel's solid"
)
@pytest.mark.parametrize(("spacing", "allowed"), [(1.0, 0.005), (0.5, 0.002)])
def test_voxels_of_the_main_demo_hold_its_wet_volume(spacing: float, allowed: float) -> None:
    detail = plan_demo("workshop-render").detail
    assert raster_wet(detail.features, spacing).volume_mm3 == pytest.approx(plan_volume(detail), rel=allowed)


def test_errors_of_volume_fall_at_least_like_the_voxels() -> None:
    detail = plan_demo("laser-driver").detail
    bores = [
        feature
        for feature in detail.features
        if isinstance(feature.shape, Cylinder) and feature.medium == "wet"
    ]
    errors = []
    for spacing in (2.0, 1.0, 0.5, 0.25):
        off = [abs(raster_wet([bore], spacing).volume_mm3 / bore_volume(bore.shape) - 1.0) for bore in bores]
        errors.append(float(np.mean(off)))
    assert np.polyfit(np.log([2.0, 1.0, 0.5, 0.25]), np.log(errors), 1)[0] > 1.0


def bore_volume(bore: Shape) -> float:
    assert isinstance(bore, Cylinder)
    return math.pi * bore.radius**2 * bore.length + chamfer_volume(bore.radius, bore.chamfer)


@pytest.mark.published(source="VTK, vtkPolyDataToImageStencil, on the mesh of the kernel's wet solid")
def test_voxels_are_those_of_vtk_but_at_the_skin() -> None:
    plan = plan_demo("laser-driver")
    mesh = mesh_solid(build_solids(plan.detail).wet)
    voxels = raster_wet(plan.detail.features, 0.5)
    ours, theirs = dense(voxels), stencil(mesh.vertices, mesh.faces, voxels)
    differ = np.argwhere(ours != theirs)
    centres = np.asarray(voxels.origin) + (differ + 0.5) * voxels.spacing
    assert skin_distance(mesh.vertices, mesh.faces, centres).max(initial=0.0) <= LINEAR_MM
    assert len(differ) < 0.01 * voxels.count
    # A shift by a voxel would be seen.
    assert (np.roll(ours, 1, axis=1) != theirs).sum() > 20 * len(differ)


def poly_data(vertices: np.ndarray, faces: np.ndarray) -> object:
    from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData

    points, cells, skin = vtkPoints(), vtkCellArray(), vtkPolyData()
    points.SetData(numpy_to_vtk(np.ascontiguousarray(vertices, float), deep=True))
    corners = np.hstack((np.full((len(faces), 1), 3), faces)).astype(np.int64)
    cells.ImportLegacyFormat(numpy_to_vtkIdTypeArray(corners.ravel(), deep=True))
    skin.SetPoints(points)
    skin.SetPolys(cells)
    return skin


def stencil(vertices: np.ndarray, faces: np.ndarray, voxels: WetVoxels) -> np.ndarray:
    """Return which centres of a grid VTK finds inside a mesh."""
    from vtkmodules.util.numpy_support import vtk_to_numpy
    from vtkmodules.vtkImagingStencil import vtkImageStencilToImage, vtkPolyDataToImageStencil

    cut, image = vtkPolyDataToImageStencil(), vtkImageStencilToImage()
    cut.SetInputData(poly_data(vertices, faces))
    cut.SetOutputSpacing(*[voxels.spacing] * 3)
    cut.SetOutputOrigin(*(np.asarray(voxels.origin) + voxels.spacing / 2))
    cut.SetOutputWholeExtent([end for size in voxels.shape for end in (0, size - 1)])
    cut.SetTolerance(0.0)
    image.SetInputConnection(cut.GetOutputPort())
    image.SetInsideValue(1)
    image.SetOutsideValue(0)
    image.SetOutputScalarTypeToUnsignedChar()
    image.Update()
    flat = vtk_to_numpy(image.GetOutput().GetPointData().GetScalars())
    return flat.reshape(voxels.shape[::-1]).transpose(2, 1, 0).astype(bool)


def skin_distance(vertices: np.ndarray, faces: np.ndarray, points: Sequence[np.ndarray]) -> np.ndarray:
    """Return how far points lie from a mesh, [mm]."""
    from vtkmodules.vtkFiltersCore import vtkImplicitPolyDataDistance

    distance = vtkImplicitPolyDataDistance()
    distance.SetInput(poly_data(vertices, faces))
    return np.abs([distance.EvaluateFunction(*point) for point in points])
