"""The pull on posts' screws, before and after all others are placed."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely

from geom.standards import tables
from layouts.clearance import clearances_of
from layouts.closing.close import close_panel
from layouts.closing.gland import greatest_line_load
from layouts.closing.post_cords import post_loops
from layouts.closing.screw_room import wet_shadows
from layouts.strength.fastening import pull_screws
from layouts.strength.post_loads import ESTIMATED, overload, pull_on_posts
from layouts.strength.posts import add_posts
from tests.layouts.sample_posts import resize_tank, sample_large_tank

SQUARE = (100.0, 85.0, 200.0, 185.0)


@pytest.mark.published(
    source="share of a square that lies nearer to its middle than to its sides, (4 sqrt(2) - 5) / 3: Putnam "
    "competition 1989, problem B1; recalled, not verified"
)
def test_a_post_bears_what_lies_nearer_to_it_than_to_the_row() -> None:
    panel, routed = resize_tank(SQUARE, 6.0)
    # Screws so near to each other that they are a line: their distance is limited by the cover's thickness.
    panel = replace(panel, make=replace(panel.make, cover=0.3))
    (loop,) = post_loops(panel, ((150.0, 135.0),), clearances_of(panel))
    gaps = clearances_of(panel)
    screw = tables.screw(panel.make.screw)
    half = 50.0 + gaps.seal_reach + screw.clearance / 2 + 1.0
    share = (4 * math.sqrt(2) - 5) / 3
    area = share * (2 * half) ** 2
    island = shapely.Point(150.0, 135.0).buffer(loop.path[0].radius, 64).area  # type: ignore[union-attr]
    push = greatest_line_load(tables.cord(panel.make.cord)) * loop.length
    pull = pull_on_posts(panel, routed, ((150.0, 135.0),))
    assert pull == pytest.approx(push + 0.05 * (area - island), rel=0.02)


@pytest.mark.parametrize("cover", [5.0, 6.0, 9.0])
def test_the_estimate_counts_no_less_than_the_screws_as_placed(cover: float) -> None:
    panel, routed = sample_large_tank(cover)
    routed = add_posts(panel, routed)
    sealed = close_panel(panel, routed, clearances_of(panel))
    wet = shapely.union_all([shadow for _, shadow in wet_shadows(panel, routed, "back")])
    placed = pull_screws(panel, sealed.screws, sealed.loops, wet)[: len(routed.tank.posts)].max()
    estimated = ESTIMATED * pull_on_posts(panel, routed, routed.tank.posts)
    assert placed <= estimated <= 1.15 * placed


def test_more_posts_stand_where_few_would_bear_too_little() -> None:
    panel, routed = sample_large_tank()
    posts = add_posts(panel, routed).tank.posts
    assert overload(panel, routed, posts) == 0
    lightly = replace(panel, rules=replace(panel.rules, test_pressure_pa=20_000.0))
    fewer = add_posts(lightly, routed).tank.posts
    assert len(fewer) < len(posts)
    assert overload(panel, routed, fewer) == 1
    heavily = replace(panel, rules=replace(panel.rules, test_pressure_pa=200_000.0))
    assert overload(heavily, routed, fewer) == 2
    assert pull_on_posts(panel, routed, ()) == 0.0
