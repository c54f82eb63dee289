"""Pockets with islands left standing, three ways and in their walls."""

from __future__ import annotations

import itertools
import math

import pytest

from geom.build import build_solids, unite_region
from geom.errors import GeometryError
from geom.features import Blank, Cylinder, Detail, Feature, Prism, Track
from geom.outline import Arc, Line, outline_circle, outline_rectangle, region_polygon
from geom.rebuild import rebuild_features
from geom.skins import check_meshes, find_euler
from geom.tessellate import mesh_solid
from geom.volume import check_volumes, measure_volumes, plan_volume
from geom.walls import measure_walls

POSTS = ((35.0, 30.0), (65.0, 32.0))
RADIUS, GROOVE = 10.0, 6.0


def pocket_detail(*posts):
    """Return a plate with a pocket in which posts stand, a groove and a hole in each."""
    pocket = Prism(
        (outline_rectangle(10.0, 10.0, 90.0, 50.0, 6.0),),
        0.0,
        14.0,
        tuple(outline_circle(p, RADIUS) for p in posts),
    )
    features = [Feature("tank", "tank", "wet", pocket, region="tank")]
    for number, at in enumerate(posts, start=1):
        ring = Track((Arc(at, GROOVE, 0.0, -2 * math.pi),), True, 2.0, 0.0, 1.3)
        features.append(Feature(f"groove {number}", "groove", "dry", ring))
        hole = Cylinder((*at, 0.0), (0.0, 0.0, 1.0), 10.0, 1.65)
        features.append(Feature(f"hole {number}", "screw hole", "dry", hole))
    return Detail(
        (Blank("body", outline_rectangle(0.0, 0.0, 100.0, 60.0, 3.0), 0.0, 20.0),), tuple(features), ()
    )


@pytest.mark.published(source="closed form: rectangle with rounded corners less circles, times depth")
def test_volumes_agree_with_the_closed_form():
    detail = pocket_detail(*POSTS)
    expected = 14.0 * (80 * 40 - (4 - math.pi) * 36 - 2 * math.pi * RADIUS**2)
    solids = build_solids(detail)
    assert plan_volume(detail) == pytest.approx(expected, rel=1e-6)
    assert solids.volumes["wet"] == pytest.approx(expected, rel=1e-9)
    meshes, wet = {"body": mesh_solid(solids.part("body"))}, mesh_solid(solids.wet)
    volumes = measure_volumes(detail, solids, meshes, wet)
    assert check_volumes(volumes) == ()
    assert (
        check_meshes({**meshes, "coolant": wet}, {"body": solids.part("body"), "coolant": solids.wet}) == ()
    )
    # One skin with two holes through it.
    assert find_euler(solids.wet) == 2 - 2 * 2
    models = rebuild_features(solids)
    assert models["tank"][0].volume() == pytest.approx(expected, rel=1e-5)


def test_walls_of_a_post_are_measured_from_the_coolant_round_it():
    detail = pocket_detail(*POSTS)
    walls = {wall.between: wall for wall in measure_walls(detail, build_solids(detail), 4.0, 4.0)}
    for number, at in enumerate(POSTS, start=1):
        wall = walls["tank", f"groove {number}"]
        assert wall.thickness == pytest.approx(RADIUS - GROOVE - 1.0, abs=1e-6)
        assert wall.wet
        assert not wall.overlap
        assert math.dist(wall.points[0][:2], at) == pytest.approx(RADIUS, abs=1e-6)
        assert walls[f"groove {number}", f"hole {number}"].thickness == pytest.approx(
            GROOVE - 1.0 - 1.65, abs=1e-6
        )


def test_a_groove_that_breaks_out_of_its_post_is_a_breach():
    detail = pocket_detail(POSTS[0])
    features = list(detail.features)
    wide = Track((Arc(POSTS[0], RADIUS - 0.5, 0.0, -2 * math.pi),), True, 2.0, 0.0, 1.3)
    features[1] = Feature("groove 1", "groove", "dry", wide)
    detail = Detail(detail.blanks, tuple(features), ())
    walls = {wall.between: wall for wall in measure_walls(detail, build_solids(detail), 2.0, 1.0)}
    assert walls["tank", "groove 1"].thickness == 0.0
    assert walls["tank", "groove 1"].overlap


def test_faces_with_islands_are_held_to_their_outline():
    rectangle, island = outline_rectangle(0.0, 0.0, 20.0, 10.0, 0.0), outline_circle((10.0, 5.0), 2.0)
    (face,) = unite_region("pocket", (rectangle,), 0.0, (island,))
    assert face.Area() == pytest.approx(200 - 4 * math.pi, rel=1e-9)
    assert region_polygon((rectangle,), islands=(island,)).area == pytest.approx(200 - 4 * math.pi, rel=1e-6)
    bow = tuple(Line(a, b) for a, b in itertools.pairwise(((1, 1), (4, 4), (4, 1), (1, 4), (1, 1))))
    with pytest.raises(GeometryError, match="crosses itself"):
        region_polygon((rectangle,), islands=(bow,))
