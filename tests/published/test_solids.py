"""Volumes of solids with a closed form, by plan and by kernel."""

from __future__ import annotations

import math

import pytest
from printed import assert_as_printed
from sample_detail import channel, make_plate

from geom.build import build_solids
from geom.features import Cylinder, Feature, Prism
from geom.outline import outline_route, path_length, round_corners
from geom.skins import find_euler
from geom.tessellate import mesh_solid
from geom.volume import plan_volume


def bore(name: str, mouth, direction, length: float, radius: float) -> Feature:
    return Feature(name, "port", "wet", Cylinder(mouth, direction, length, radius))


def wet_volumes(*features: Feature) -> tuple[float, float]:
    detail = make_plate(*features)
    return build_solids(detail).volumes["wet"], plan_volume(detail, 1e-5)


STADIUM = channel("channel", ((20.0, 30.0), (80.0, 30.0)), 0.0, 6.0)


@pytest.mark.published(source="closed form: stadium, V = (L w + pi w^2 / 4) d")
def test_stadium_volume():
    solid, plan = wet_volumes(STADIUM)
    assert_as_printed(solid, "3181.5929")
    assert_as_printed(plan, "3181.5929")


@pytest.mark.published(source="closed form: stadium, A = 2 (L w + pi w^2 / 4) + (2 L + pi w) d")
def test_stadium_surface():
    assert_as_printed(build_solids(make_plate(STADIUM)).wet.Area(), "1931.3274")


@pytest.mark.published(source="closed form: stadium meshed at 0.01 mm and 0.05 rad, tolerance 1e-4")
def test_stadium_mesh():
    wet = build_solids(make_plate(STADIUM)).wet
    mesh = mesh_solid(wet, 0.01, 0.05)
    assert mesh.is_watertight
    assert mesh.euler_number == find_euler(wet) == 2
    assert_as_printed(mesh.volume, "3181.5929", rel=1e-4)


@pytest.mark.published(source="closed form (Pappus): bend of 90 degrees in plan, V = pi R w d / 2")
def test_plan_bend():
    points = ((20.0, 10.0), (60.0, 10.0), (60.0, 50.0))
    straight = 2 * (40 - 12)
    ends = math.pi * 8**2 / 4
    solid, plan = wet_volumes(channel("channel", points, 0.0, 6.0, bend=12.0))
    assert_as_printed(solid - (straight * 8 + ends) * 6, "904.7787")
    assert_as_printed(plan - (straight * 8 + ends) * 6, "904.7787", rel=1e-6)
    assert path_length(round_corners(points, 12.0)) == pytest.approx(straight + math.pi * 6)


@pytest.mark.published(source="closed form: channel with a mitred corner, legs 30 and 20, V = (a + b) w d")
def test_mitred_channel():
    """Two straight legs that overlap in the corner's square: the union counts it once."""
    legs = (
        outline_route(((20.0, 20.0), (50.0, 20.0)), 14.0, 8.0),
        outline_route(((50.0, 20.0), (50.0, 40.0)), 14.0, 8.0),
    )
    solid, plan = wet_volumes(Feature("channel", "channel", "wet", Prism(legs, 0.0, 6.0)))
    # Two free ends round (half a disc each) and a quarter disc for the mitre's outer square.
    rounding = (math.pi * 4**2 - (4**2 - math.pi * 4**2 / 4)) * 6
    assert_as_printed(solid - rounding, "2400", rel=1e-9)
    assert_as_printed(plan - rounding, "2400", rel=1e-6)


@pytest.mark.published(source="closed form (Steinmetz): two equal crossing bores share 16 r^3 / 3")
def test_crossing_bores():
    bores = (bore("a", (0, 30, 10), (1, 0, 0), 100, 4.0), bore("b", (50, 0, 10), (0, 1, 0), 60, 4.0))
    both = math.pi * 16 * 160
    solid, plan = wet_volumes(*bores)
    assert_as_printed(both - solid, "341.3333")
    assert_as_printed(both - plan, "341.3333", rel=1e-5)


@pytest.mark.published(source="closed form: plate 100 x 60 x 20 less a bore of 11.8 mm, 15 mm deep")
def test_plate_with_blind_bore():
    solids = build_solids(make_plate(bore("port", (50, 30, 20), (0, 0, -1), 15, 5.9)))
    assert_as_printed(solids.volumes["part panel"], "118359.617")
    assert_as_printed(solids.part("panel").Volume(), "118359.617")


@pytest.mark.published(source="closed form: pi d^2 / 4 for the tapping drill of 11.8 mm, per mm of depth")
def test_tapping_bore_per_mm():
    solid, plan = wet_volumes(bore("port", (50, 30, 20), (0, 0, -1), 10, 5.9))
    assert_as_printed(solid / 10, "109.359")
    assert_as_printed(plan / 10, "109.359")
