"""What a tank with posts holds, upright and askew."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.features import Cylinder, Prism
from geom.outline import outline_circle, outline_rectangle
from geom.volume import plan_volume
from layouts.basin import Basin, find_surface, volume_under
from layouts.clearance import clearances_of
from layouts.detail import cast_shadow, detail_panel
from layouts.feed import cold_surface, examine_feed, tank_volume_ml
from layouts.flow import size_flow
from layouts.milling.plan_milling import plan_milling
from layouts.plan import PlacedTank, Sealed
from layouts.rules.cutter_rules import check_reach
from layouts.strength.posts import add_posts
from layouts.tank import pocket_area
from layouts.wet_volume import channel_volume_ml
from tests.layouts.sample_posts import sample_large_tank

UPRIGHT = (0.0, 1.0, 0.0)


def basin_with(*posts, radius=8.0):
    return Basin((10.0, 20.0, 0.0), (100.0, 60.0, 14.0), ((60.0, 20.0, 0.0),), posts, radius)


@pytest.mark.published(source="closed form: box less cylinders")
def test_volume_of_a_pocket_with_posts():
    tank = PlacedTank((0.0, 0.0, 100.0, 60.0), (50.0, 0.0), 6.0, ((30.0, 30.0), (70.0, 30.0)), 16.0)
    assert pocket_area(tank) == pytest.approx(6000 - (4 - math.pi) * 36 - 2 * math.pi * 64)
    assert pocket_area(replace(tank, box=None)) == 0.0
    assert basin_with((60.0, 50.0)).volume == pytest.approx((6000 - math.pi * 64) * 14)


@pytest.mark.published(source="closed form: a circle's segment over the post's height")
def test_upright_surface_cuts_a_segment_off_each_post():
    basin = basin_with((60.0, 50.0), (90.0, 30.0))
    for height in (44.0, 50.0, 55.0):
        t = (height - 50.0) / 8.0
        segment = 64 * (math.acos(-t) + t * math.sqrt(1 - t * t))
        whole = math.pi * 64
        expected = 14 * (100 * (height - 20.0) - segment - whole)
        assert volume_under(basin, UPRIGHT, height) == pytest.approx(expected, rel=1e-12)


@pytest.mark.published(
    source="Archimedes: the hoof of a cylinder cut through its base's diameter holds 2/3 r2 h"
)
def test_askew_surface_cuts_a_hoof_off_a_post():
    basin, bare = basin_with((60.0, 50.0)), basin_with()
    tall, radius = 10.0, 8.0
    length = math.hypot(tall, radius)
    up = (-tall / length, 0.0, radius / length)
    height = up[0] * 60.0
    hoof = volume_under(bare, up, height) - volume_under(basin, up, height)
    assert hoof == pytest.approx(2 / 3 * radius**2 * tall, rel=1e-12)
    turned = (-up[0], 0.0, up[2])
    mirrored = volume_under(bare, turned, -height) - volume_under(basin, turned, -height)
    assert mirrored == pytest.approx(hoof, rel=1e-12)


@settings(max_examples=40, deadline=None)
@given(
    turn=st.floats(0, 2 * math.pi),
    lean=st.floats(-1.5, 1.5),
    share=st.floats(0.05, 0.95),
)
def test_volume_under_any_surface_against_thin_slices(turn, lean, share):
    basin = basin_with((40.0, 45.0), (85.0, 60.0))
    up = (math.cos(turn) * math.cos(lean), math.sin(turn) * math.cos(lean), math.sin(lean))
    corners = [
        sum(
            u * (low + step * size)
            for u, low, size, step in zip(up, basin.low, basin.size, steps, strict=True)
        )
        for steps in np.ndindex(2, 2, 2)
    ]
    height = min(corners) + share * (max(corners) - min(corners))
    plan = shapely.box(10.0, 20.0, 110.0, 80.0)
    plan = plan.difference(shapely.union_all([shapely.Point(p).buffer(8.0, 64) for p in basin.posts]))
    slices, total = 60, 0.0
    for k in range(slices):
        left = height - up[2] * 14.0 * (k + 0.5) / slices
        far = 1e4
        across = math.hypot(up[0], up[1])
        nx, ny = up[0] / across, up[1] / across
        line = (nx * left / across, ny * left / across)
        half = shapely.Polygon(
            [
                (line[0] - ny * far, line[1] + nx * far),
                (line[0] + ny * far, line[1] - nx * far),
                (line[0] + ny * far - nx * far, line[1] - nx * far - ny * far),
                (line[0] - ny * far - nx * far, line[1] + nx * far - ny * far),
            ]
        )
        total += plan.intersection(half).area * 14.0 / slices
    assert volume_under(basin, up, height) == pytest.approx(total, abs=0.004 * basin.volume)
    assert find_surface(basin, up, volume_under(basin, up, height)) == pytest.approx(height, abs=1e-3)


@pytest.fixture(scope="module")
def posted():
    panel, routed = sample_large_tank()
    return panel, add_posts(panel, routed), routed


def test_tank_holds_what_its_feature_does(posted):
    panel, routed, plain = posted
    detail = detail_panel(panel, routed, Sealed((), ()), clearances_of(panel))
    pocket = replace(detail, features=tuple(f for f in detail.features if f.kind == "tank"))
    assert tank_volume_ml(panel, routed) * 1e3 == pytest.approx(plan_volume(pocket), rel=1e-6)
    count, diameter = len(routed.tank.posts), routed.tank.post_diameter
    less = count * math.pi / 4 * diameter**2 * panel.tank.depth / 1e3
    assert tank_volume_ml(panel, plain) - tank_volume_ml(panel, routed) == pytest.approx(less)
    wet = tuple(f for f in detail.features if not f.name.startswith("port fill"))
    whole = plan_volume(replace(detail, features=wet), 0.02) / 1e3
    assert channel_volume_ml(panel, routed) + tank_volume_ml(panel, routed) == pytest.approx(whole, rel=0.005)
    assert channel_volume_ml(panel, routed) == pytest.approx(channel_volume_ml(panel, plain))


@pytest.mark.published(
    source="closed form: no post stands in the air, which is 15 % of what the pocket holds"
)
def test_level_over_posts(posted):
    panel, routed, plain = posted
    x0, y0, x1, y1 = routed.tank.box
    posts = len(routed.tank.posts) * math.pi / 4 * routed.tank.post_diameter**2
    air = 0.15 * ((x1 - x0) * (y1 - y0) - posts) / (x1 - x0)
    assert cold_surface(panel, routed) == pytest.approx(y1 - air, abs=1e-9)
    assert cold_surface(panel, plain) == pytest.approx(y1 - 0.15 * (y1 - y0), abs=1e-9)
    feeding = examine_feed(panel, routed, size_flow(panel, routed))
    assert feeding.tank_ml == pytest.approx(0.85 * tank_volume_ml(panel, routed))
    assert feeding.room_ml == pytest.approx(0.15 * tank_volume_ml(panel, routed))


def test_a_post_casts_no_shadow_of_the_tank():
    tank = Prism(
        (outline_rectangle(0.0, 0.0, 100.0, 60.0, 6.0),), 0.0, 14.0, (outline_circle((50.0, 30.0), 10.0),)
    )
    shadow, low, high = cast_shadow(tank)
    assert (low, high) == (0.0, 14.0)
    assert not shadow.contains(shapely.Point(50.0, 30.0))
    assert shadow.area == pytest.approx(6000 - (4 - math.pi) * 36 - math.pi * 100, rel=1e-4)


def test_a_larger_cutter_must_pass_between_posts(posted):
    """The pocket's corners let a cutter of 12 mm in, posts 7 mm apart let none of that size pass."""
    panel, routed, plain = posted
    deep = replace(
        panel,
        make=replace(panel.make, body=60.0),
        tank=replace(panel.tank, depth=46.0),
        channel=replace(panel.channel, depth=9.0),
    )
    close = replace(routed, tank=replace(routed.tank, posts=((170.0, 130.0), (196.9, 130.0))))
    assert tank_cutter(deep, plain).diameter == 12.0
    assert tank_cutter(deep, close).diameter == 6.0, "the largest of the common sizes that passes 7 mm"
    milled = plan_milling(deep, detail_panel(deep, close, Sealed((), ()), clearances_of(deep)))
    (found,) = (one for one in check_reach(deep, milled) if one.features == ("tank",))
    assert found.value == pytest.approx(46.0 / 6.0)


def tank_cutter(panel, routed):
    milled = plan_milling(panel, detail_panel(panel, routed, Sealed((), ()), clearances_of(panel)))
    return next(cutting.finish for cutting in milled.cuttings if cutting.pocket == "tank")


def test_screw_holes_end_in_their_posts_or_the_floor(posted):
    panel, routed, _ = posted
    sealed = Sealed((), routed.tank.posts)
    detail = detail_panel(panel, routed, sealed, clearances_of(panel))
    holes = [f.shape for f in detail.features if f.kind == "screw hole" and f.name.startswith("cover")]
    assert len(holes) == len(routed.tank.posts)
    for hole, at in zip(holes, routed.tank.posts, strict=True):
        assert isinstance(hole, Cylinder)
        assert hole.mouth[:2] == at
        assert hole.radius < routed.tank.post_diameter / 2 - panel.rules.least_wall
