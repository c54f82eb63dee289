"""The set-ups against the real solids: what they take, and what is open at a depth."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
import shapely
from sample_demos import plan_demo

from geom.build import Solids, build_solids
from geom.outline import loop_polygon, outline_circle, region_polygon
from geom.tessellate import mesh_solid
from layouts.milling.frame import SetUpPlane, plane_of
from layouts.milling.work import Hole, Pocket, SetUp

NAMES = ("workshop-render", "observatory-camera")


@pytest.fixture(scope="module", params=NAMES)
def built(request):
    plan = plan_demo(request.param)
    assert plan.milled is not None
    return plan, build_solids(plan.detail)


def sweep(plane: SetUpPlane, plan: shapely.Geometry, top: float, floor: float) -> manifold3d.Manifold:
    """Return a region of a set-up's plane between two depths as a mesh in the panel frame."""
    rings = [
        np.asarray(ring.coords)[:-1]
        for polygon in shapely.get_parts(shapely.orient_polygons(plan)).tolist()
        for ring in (polygon.exterior, *polygon.interiors)
    ]
    solid = manifold3d.CrossSection(rings).extrude(floor - top).translate((0.0, 0.0, top))
    origin = np.array(plane.to_panel((0.0, 0.0, 0.0)))
    axes = [np.array(plane.to_panel(tuple(row))) - origin for row in np.eye(3)]
    return solid.transform(np.column_stack([*axes, origin]))


def take(plane: SetUpPlane, one: Pocket | Hole) -> list[manifold3d.Manifold]:
    if isinstance(one, Pocket):
        return [sweep(plane, region_polygon(one.region, islands=one.islands), one.top, one.floor)]
    disc = region_polygon((outline_circle(one.at, one.diameter / 2),))
    out = [sweep(plane, disc, one.top, one.top + one.depth)]
    if one.chamfer > 0:
        wide, narrow = one.diameter / 2 + one.chamfer, one.diameter / 2
        cone = manifold3d.Manifold.cylinder(one.chamfer, wide, narrow, 256)
        origin = np.array(plane.to_panel((*one.at, one.top)))
        start = np.array(plane.to_panel((0.0, 0.0, 0.0)))
        axes = [np.array(plane.to_panel(tuple(row))) - start for row in np.eye(3)]
        out.append(cone.transform(np.column_stack([*axes, origin])))
    return out


def test_all_set_ups_together_take_what_the_solid_lacks(built):
    plan, solids = built
    for blank in plan.detail.blanks:
        whole = loop_polygon(blank.loop)
        sheet = sweep(plane_of(blank, "front"), whole, 0.0, blank.z1 - blank.z0)
        pieces = [
            piece
            for setup in plan.milled.setups
            if setup.part == blank.name
            for one in (*setup.pockets, *setup.holes)
            for piece in take(plane_of(blank, setup.face), one)
        ]
        union = manifold3d.Manifold.batch_boolean(pieces, manifold3d.OpType.Add)
        removed = (sheet ^ union).volume()
        lacks = whole.area * (blank.z1 - blank.z0) - solids.volumes[f"part {blank.name}"]
        assert removed == pytest.approx(lacks, rel=1e-3)


@pytest.mark.parametrize(("face", "depth"), [("back", 0.7), ("back", 5.0), ("front", 0.25), ("front", 1.0)])
def test_a_section_of_the_solid_is_what_is_open_there(built, face, depth):
    plan, solids = built
    blank = next(blank for blank in plan.detail.blanks if blank.name == "body")
    plane = plane_of(blank, face)
    setup = next(s for s in plan.milled.setups if (s.part, s.face) == ("body", face))
    z = plane.to_panel((0.0, 0.0, depth))[2]
    solid = solid_of(solids, "body")
    # As the machinist sees it: mirrored from behind.
    section = mesh_solid(solid, 0.01).section(plane_origin=(0, 0, z), plane_normal=(0, 0, 1))
    rings = [shapely.Polygon([plane.to_plane(tuple(p))[:2] for p in ring]) for ring in section.discrete]
    standing = shapely.Polygon()
    for ring in sorted(rings, key=lambda ring: -ring.area):
        standing = standing.symmetric_difference(ring)
    open_there = loop_polygon(plane.loop_to_plane(blank.loop)).difference(standing)
    ours = shapely.union_all([*open_at(setup, depth), *edge_shadow(plan, setup, z)])
    assert open_there.symmetric_difference(ours).area < 2e-3 * open_there.area + 0.5


def solid_of(solids: Solids, name: str):
    return next(part.solid for part in solids.parts if part.name == name)


def open_at(setup: SetUp, depth: float) -> list[shapely.Geometry]:
    out = [region_polygon(p.region, islands=p.islands) for p in setup.pockets if p.top < depth < p.floor]
    for hole in setup.holes:
        if hole.top < depth < hole.top + hole.depth:
            radius = hole.diameter / 2 + max(0.0, hole.chamfer - (depth - hole.top))
            out.append(region_polygon((outline_circle(hole.at, radius),)))
    return out


def edge_shadow(plan, setup: SetUp, z: float) -> list[shapely.Geometry]:
    """Return what the bores of the edges, and of the other face, open at a height, seen in the set-up's plane."""
    blank = next(blank for blank in plan.detail.blanks if blank.name == setup.part)
    plane, out = plane_of(blank, setup.face), []
    for other in plan.milled.setups:
        if other.part != setup.part or other.face == setup.face:
            continue
        seen = plane_of(blank, other.face)
        if other.face in ("front", "back"):
            depth = seen.to_plane((0.0, 0.0, z))[2]
            out += [shapely.transform(g, lambda xy: flip(plane, xy)) for g in open_at(other, depth)]
            continue
        for hole in other.holes:
            high = z - blank.z0 - hole.at[1]
            for start, end, radius in (
                (0.0, hole.depth, hole.diameter / 2),
                *chamfer_steps(hole),
            ):
                if abs(high) < radius:
                    half = math.sqrt(radius**2 - high**2)
                    corners = [
                        plane.to_plane(
                            seen.to_panel((hole.at[0] + side * half, hole.at[1], hole.top + along))
                        )[:2]
                        for side, along in ((-1, start), (1, start), (1, end), (-1, end))
                    ]
                    out.append(shapely.Polygon(corners))
    return out


def chamfer_steps(hole: Hole) -> list[tuple[float, float, float]]:
    """Return a chamfer in discs of 0.05 mm: first and last depth, radius."""
    wide, step = hole.diameter / 2 + hole.chamfer, 0.05
    steps = range(round(hole.chamfer / step))
    return [(k * step, (k + 1) * step, wide - (k + 0.5) * step) for k in steps]


def flip(plane: SetUpPlane, xy: np.ndarray) -> np.ndarray:
    """Return points of one face's plane in that of the other face."""
    return np.column_stack((plane.size[0] - xy[:, 0], xy[:, 1]))
