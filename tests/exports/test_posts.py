"""A whole panel with a large pocket under a thin cover: made with posts, planned without, and where none fit."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import pytest
import shapely

from exports.pictures.plan_posts import draw_level, draw_posts, find_level, post_squares
from exports.pictures.svg import View
from exports.pipeline import make_panel, plan_panel
from geom.findings import has_fault
from layouts.strength.posts import bow_between_posts

FILE = Path(__file__).parent / "large-tank.toml"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    out = tmp_path_factory.mktemp("posts")
    return make_panel(FILE, out), out


def variant(tmp_path, *changes):
    text = FILE.read_text()
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = tmp_path / "panel.toml"
    path.write_text(text)
    return plan_panel(path)


def test_panel_with_posts_is_made_without_faults(made):
    result, out = made
    tank, sealed = result.plan.routed.tank, result.plan.sealed
    assert not has_fault(result.findings), [f for f in result.findings if f.severity == "fault"]
    assert result.checked is not None
    assert {"body.step", "cover.step", "assembly.step"} <= {file.name for file in result.files}
    count = len(tank.posts)
    assert count in (2, 3)
    assert sealed.screws[:count] == tank.posts
    assert [loop.name for loop in sealed.loops[-2:]] == [f"groove of post {k}" for k in (count - 1, count)]
    report = json.loads((out / "report.json").read_text())
    assert report["tank"]["posts_mm"] == [list(at) for at in tank.posts]
    assert report["tank"]["post_diameter_mm"] == tank.post_diameter == 19.9
    assert report["volumes"]["tank_ml"] < 150 * 90 * 14 / 1e3 - count * math.pi / 4 * 1.99**2 * 1.4
    (told,) = [f for f in result.findings if f.code == "tank.posts"]
    assert told.severity == "note"


def test_no_other_screw_stands_in_the_tank(made):
    plan = made[0].plan
    pocket = shapely.box(*plan.routed.tank.box)
    assert not any(
        pocket.intersects(shapely.Point(at)) for at in plan.sealed.screws[len(plan.routed.tank.posts) :]
    )


def test_real_cover_lifts_over_posts_about_as_the_estimate(made):
    """Finite elements of the whole cover against the series: the screws round the tank hold it besides."""
    result, _ = made
    plan, tank = result.plan, result.plan.routed.tank
    (bending,) = result.checked.bending
    estimate = bow_between_posts(plan.panel, plan.routed, tank.posts)
    pocket = shapely.box(*tank.box)
    for case in bending.cases:
        over = shapely.contains_xy(pocket, case.bent.points)
        assert case.bent.lift[over].max() < 1.1 * estimate
        near = [math.dist(at, post) < 8.0 for at in case.bent.points for post in tank.posts]
        assert any(near)
        assert len(case.bent.reactions_n) == len(plan.sealed.screws)
        assert min(case.bent.reactions_n[:2]) > 0


def test_walls_of_posts_are_the_least(made):
    result, _ = made
    assert result.checked.thinnest.thickness >= result.plan.panel.rules.least_wall - 1e-6


def test_posts_are_drawn(made):
    plan = made[0].plan
    view = View(2.0, plan.panel.height)
    assert len(draw_posts(plan, view)) == 3 * len(plan.routed.tank.posts)
    count = len(plan.routed.tank.posts)
    assert len(post_squares(plan, view)) == count
    (line,) = draw_level(plan, view)
    x0, y0, x1, y1 = plan.routed.tank.box
    posts = count * math.pi / 4 * plan.routed.tank.post_diameter**2
    level = find_level(plan)
    assert level is not None
    height = y1 - 0.15 * ((x1 - x0) * (y1 - y0) - posts) / (x1 - x0)
    assert sorted(level) == [pytest.approx((x0 + 2, height)), pytest.approx((x1 - 2, height))]
    assert "stroke-dasharray" in line
    bare = replace(plan, routed=replace(plan.routed, tank=replace(plan.routed.tank, posts=())))
    assert draw_posts(bare, view) == post_squares(bare, view) == []
    flat = replace(plan, panel=replace(plan.panel, up=(0.0, 0.0, 1.0)))
    assert draw_level(flat, view) == []


def test_without_posts_they_are_proposed(tmp_path):
    plan = variant(tmp_path, ('posts = "auto"', 'posts = "none"'))
    assert plan.routed.tank.posts == ()
    (told,) = [f for f in plan.findings if f.code == "tank.posts"]
    assert told.severity == "note"
    assert 'posts = "auto"' in told.remedy


def test_a_cord_too_thick_for_posts_is_told(tmp_path):
    plan = variant(
        tmp_path,
        ('size = ["150 mm", "90 mm"]', 'size = ["150 mm", "40 mm"]'),
        ('"6 mm"\ncord = "1.78 mm"', '"3 mm"\ncord = "3.53 mm"'),
    )
    assert plan.routed.tank.posts == ()
    (told,) = [f for f in plan.findings if f.code == "tank.posts"]
    assert told.severity == "caution"
    assert "needs a pocket of" in told.text
