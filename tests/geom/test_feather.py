"""Feather edges: wedges of a known angle, cusps between bores, and none on square parts."""

from __future__ import annotations

import math

import cadquery as cq
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_detail import make_plate

from geom.build import build_solids
from geom.feather import find_feathers, measure_edges, name_feathers
from geom.features import Blank, Cylinder, Detail, Feature
from geom.measured import Feather
from geom.outline import outline_rectangle
from geom.rebuild import rebuild_features
from geom.tessellate import mesh_solid
from layouts.rules.feather_rules import FEATHER_DEG


def find(shape: cq.Shape, limit: float = FEATHER_DEG) -> tuple[Feather, ...]:
    return find_feathers(shape, mesh_solid(shape), limit)


def wedge(angle: float, height: float = 5.0) -> cq.Solid:
    """Return a wedge, its sharp edge upright at the origin."""
    far = 20.0
    flat = cq.Wire.makePolygon(
        [cq.Vector(0, 0, 0), cq.Vector(far, 0, 0), cq.Vector(far, far * math.tan(math.radians(angle)), 0)],
        close=True,
    )
    return cq.Solid.extrudeLinear(flat, [], cq.Vector(0, 0, height))


def two_holes(apart: float, radius: float = 4.0, depth: float = 6.0) -> Detail:
    """Return a plate with two holes that overlap."""
    holes = tuple(
        Feature(
            f"hole {n}",
            "screw hole",
            "dry",
            Cylinder((x, 20.0, 12.0), (0.0, 0.0, -1.0), depth, radius),
            joins,
        )
        for n, x, joins in ((1, 20.0, ("hole 2",)), (2, 20.0 + apart, ("hole 1",)))
    )
    return Detail((Blank("body", outline_rectangle(0, 0, 60, 40, 0), 0.0, 12.0),), holes, ())


@settings(max_examples=12, deadline=None)
@given(st.floats(3, 60))
def test_a_wedge(angle: float) -> None:
    found = find(wedge(angle))
    assert len(found) == (angle < FEATHER_DEG)
    for feather in found:
        assert feather.angle == pytest.approx(angle, abs=1e-6)
        assert feather.length == pytest.approx(5.0)
        assert math.hypot(*feather.at[:2]) < 1e-6


def test_a_step_of_a_few_microns_is_no_edge() -> None:
    assert find(wedge(10.0, height=0.15)) == ()


def test_every_edge_of_a_box_is_square() -> None:
    mesh = mesh_solid(cq.Solid.makeBox(3, 4, 5))
    edges, sides, angles = measure_edges(mesh.vertices, mesh.faces, mesh.metadata["face_id"])
    assert (len(edges), len(sides)) == (12, 12)
    assert angles == pytest.approx([90.0] * 12)
    # A square hole's inner corners are more than flat.
    frame = cq.Solid.makeBox(9, 9, 5).cut(cq.Solid.makeBox(3, 3, 5).moved(cq.Location(3, 3, 0)))
    mesh = mesh_solid(frame)
    _, _, angles = measure_edges(mesh.vertices, mesh.faces, mesh.metadata["face_id"])
    assert sorted(set(np.round(angles).tolist())) == [90.0, 270.0]


@pytest.mark.parametrize(("apart", "told"), [(7.9, True), (7.76, True), (7.7, False), (6.0, False)])
def test_the_cusps_between_two_holes(apart: float, told: bool) -> None:
    """Circles of radius r with axes a apart leave 180 degrees less 2 asin(a / 2 r) on either side: 30 at 7.727 mm."""
    angle = 180.0 - 2 * math.degrees(math.asin(apart / 8.0))
    assert (angle < FEATHER_DEG) == told
    solids = build_solids(two_holes(apart))
    found = name_feathers(rebuild_features(solids), find(solids.part("body")))
    assert len(found) == 2 * told
    high = math.sqrt(16.0 - apart * apart / 4)
    for feather in found:
        assert feather.angle == pytest.approx(angle, abs=1e-3)
        assert feather.length == pytest.approx(6.0)
        assert feather.between == ("hole 1", "hole 2")
        x, y, z = feather.at
        assert (x, abs(y - 20.0)) == pytest.approx((20.0 + apart / 2, high), abs=1e-4)
        assert 6.0 - 1e-6 <= z <= 12.0 + 1e-6


def test_a_lip_over_a_bore_that_breaks_out_of_a_face() -> None:
    """A bore whose axis lies r cos(20 deg) under a face comes out of it at edges of 20 degrees."""
    deep = 4.0 * math.cos(math.radians(20.0))
    bored = Feature(
        "bore",
        "screw hole",
        "dry",
        Cylinder((0.0, 20.0, 12.0 - deep), (1.0, 0.0, 0.0), 30.0, 4.0),
        opens=("left",),
    )
    solids = build_solids(Detail(two_holes(7.0).blanks, (bored,), ()))
    found = name_feathers(rebuild_features(solids), find(solids.part("body")))
    assert {round(feather.angle, 3) for feather in found} == {20.0}
    assert sum(feather.length for feather in found) == pytest.approx(60.0, abs=0.01)
    for feather in found:
        assert feather.between == ("bore",)
        assert (abs(feather.at[1] - 20.0), feather.at[2]) == pytest.approx(
            (4.0 * math.sin(math.radians(20.0)), 12.0), abs=1e-4
        )


def test_a_sound_plate_has_none() -> None:
    solids = build_solids(make_plate())
    assert find(solids.parts[0].solid) == ()
