"""The cords on posts: circles round their screws, at the land from the coolant."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely

from geom.outline import Arc, region_polygon, track_loops
from layouts.clearance import clearances_of
from layouts.closing.close import close_panel
from layouts.closing.post_cords import post_diameter, post_loops
from layouts.strength.posts import add_posts
from layouts.tank import outline_posts
from tests.layouts.sample_posts import sample_large_tank


@pytest.fixture(scope="module")
def posted():
    panel, routed = sample_large_tank()
    return panel, add_posts(panel, routed)


@pytest.mark.published(
    source="O-rings in non-circular groove patterns, https://barnwell.co.uk: inside radius at least 3 sections"
)
def test_each_post_has_a_clockwise_circle_at_three_sections(posted):
    panel, routed = posted
    loops = post_loops(panel, routed.tank.posts, clearances_of(panel))
    assert [loop.name for loop in loops] == ["groove of post 1", "groove of post 2", "groove of post 3"]
    for loop, at in zip(loops, routed.tank.posts, strict=True):
        (circle,) = loop.path
        assert isinstance(circle, Arc)
        assert circle.centre == at
        assert circle.sweep == -2 * math.pi
        assert circle.radius - loop.groove_width / 2 == pytest.approx(3 * 1.78)
        assert loop.length == pytest.approx(2 * math.pi * (3 * 1.78 + 1.3))


def test_groove_keeps_the_land_from_the_coolant(posted):
    panel, routed = posted
    posts = outline_posts(routed.tank)
    for loop, post in zip(post_loops(panel, routed.tank.posts, clearances_of(panel)), posts, strict=True):
        outer, inner = track_loops(loop.path, loop.closed, loop.groove_width)
        rim = region_polygon((post,), 1e-4).exterior
        assert region_polygon((outer,), 1e-4).distance(rim) == pytest.approx(
            panel.rules.least_wall, abs=0.051
        )
        assert region_polygon((outer,), 1e-4).distance(rim) >= panel.rules.least_wall - 1e-3
        assert inner is not None


def test_closing_has_a_cord_and_a_screw_on_each_post(posted):
    panel, routed = posted
    sealed = close_panel(panel, routed, clearances_of(panel))
    plain = close_panel(panel, replace(routed, tank=replace(routed.tank, posts=())), clearances_of(panel))
    posts = routed.tank.posts
    assert sealed.screws[: len(posts)] == posts
    assert len(sealed.loops) == len(plain.loops) + len(posts)
    assert len({loop.name for loop in sealed.loops}) == len(sealed.loops)
    pocket = shapely.box(*routed.tank.box)
    half = post_diameter(panel) / 2
    for screw in sealed.screws[len(posts) :]:
        assert not pocket.contains(shapely.Point(screw))
        assert all(math.dist(screw, post) > half for post in posts)
