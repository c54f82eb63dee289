"""Outlines: areas by Green's theorem, offsets, and what is refused."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import GeometryError
from geom.frame import SAME_MM
from geom.outline import (
    Arc,
    Line,
    loop_area,
    loop_polygon,
    outline_circle,
    outline_rectangle,
    outline_route,
    path_chords,
    path_length,
    path_points,
    region_polygon,
    round_corners,
    segment_points,
)

BENT = ((0.0, 0.0), (40.0, 0.0), (40.0, 35.0), (75.0, 70.0))


@given(
    a=st.floats(30, 80),
    b=st.floats(40, 80),
    turn=st.floats(-1.9, 1.9),
    width=st.floats(1, 16),
    extra=st.floats(0, 10),
)
@settings(max_examples=60, deadline=None)
def test_outline_of_route_has_area_of_swept_width(a, b, turn, width, extra):
    radius = width / 2 + extra
    room = radius * math.tan(abs(turn) / 2)
    points = (
        (0.0, 0.0),
        (a + room, 0.0),
        (a + room + b * math.cos(turn), b * math.sin(turn)),
    )
    if room > b:
        return
    length = path_length(round_corners(points, radius))
    loop = outline_route(points, radius, width)
    assert loop_area(loop) == pytest.approx(length * width + math.pi * width**2 / 4, rel=1e-9)
    for here, after in zip(loop, (*loop[1:], loop[0]), strict=True):
        # An inner arc under SAME_MM is left out; its ends are that far apart at most.
        assert math.dist(here.end, after.start) < 2 * SAME_MM


def test_area_by_green_agrees_with_polygon_area():
    loop = outline_route(BENT, 12.0, 8.0)
    polygon = loop_polygon(loop, 1e-4)
    assert polygon.is_valid
    assert loop_area(loop) == pytest.approx(polygon.area, rel=1e-7)


def test_polygon_of_circle_keeps_its_area_where_inscribed_polygon_loses():
    circle = outline_circle((3.0, -2.0), 5.9)
    polygon = loop_polygon(circle, 0.05)
    inscribed = shapely.Point(3, -2).buffer(5.9, quad_segs=len(polygon.exterior.coords) // 4)
    exact = math.pi * 5.9**2
    assert polygon.area == pytest.approx(exact, rel=1e-12)
    assert inscribed.area < exact * 0.998


def test_polygon_stays_within_its_sagitta():
    loop = outline_route(BENT, 12.0, 8.0)
    fine = loop_polygon(loop, 1e-5)
    for sag in (0.05, 0.005):
        assert shapely.hausdorff_distance(loop_polygon(loop, sag).exterior, fine.exterior) < sag * 1.01


def test_wider_outline_is_offset_of_narrower_one():
    narrow = loop_polygon(outline_route(BENT, 12.0, 8.0), 1e-4)
    wide = loop_polygon(outline_route(BENT, 12.0, 12.8), 1e-4)
    assert shapely.hausdorff_distance(narrow.buffer(2.4, quad_segs=256).exterior, wide.exterior) < 2e-3


def test_rectangle_and_region_areas():
    assert loop_area(outline_rectangle(1, 2, 11, 8, 0)) == pytest.approx(60)
    rounded = outline_rectangle(1, 2, 11, 8, 3)
    assert loop_area(rounded) == pytest.approx(60 - (4 - math.pi) * 9)
    assert len(rounded) == 6
    union = region_polygon((outline_rectangle(0, 0, 4, 4, 0), outline_rectangle(2, 0, 6, 4, 0)))
    assert union.area == pytest.approx(24)


def test_points_of_a_path_are_no_further_apart_than_asked():
    points = path_points(round_corners(BENT, 12.0), 0.5)
    assert math.dist(points[-1], BENT[-1]) <= 0.5 + 1e-9
    steps = [math.dist(p, q) for p, q in pairwise([*points, BENT[-1]])]
    assert max(steps) <= 0.5 + 1e-9
    assert sum(steps) == pytest.approx(path_length(round_corners(BENT, 12.0)), rel=1e-3)


def test_straight_through_corner_makes_no_arc():
    segments = round_corners(((0.0, 0.0), (5.0, 0.0), (9.0, 0.0)), 3.0)
    assert not any(isinstance(s, Arc) for s in segments)
    assert path_length(segments) == pytest.approx(9)


def test_pieces_know_their_length():
    assert Line((0, 0), (3, 4)).length == 5
    assert Arc((0, 0), 2.0, 0.0, -math.pi).length == pytest.approx(2 * math.pi)


@pytest.mark.parametrize(
    ("make", "match"),
    [
        (lambda: round_corners(((0, 0), (10, 0), (10, 8), (30, 8)), 6.0), "needs 6 mm of straight"),
        (lambda: round_corners(((0, 0), (20, 0), (20, 3)), 6.0), "too close to its bend"),
        (lambda: outline_route(BENT, 3.0, 8.0), "tighter than half"),
        (lambda: outline_rectangle(0, 0, 10, 4, 3), "over half of a 10 x 4 mm"),
        (lambda: round_corners(((1, 1), (1, 1)), 6.0), r"two corners at \(1, 1\)"),
    ],
)
def test_impossible_outlines_are_refused(make, match):
    with pytest.raises(GeometryError, match=match):
        make()


@given(
    radius=st.floats(0.5, 200), first=st.floats(-4, 4), sweep=st.floats(-6.2, 6.2), sag=st.floats(1e-3, 0.5)
)
@settings(max_examples=60, deadline=None)
def test_points_of_an_arc_lie_on_it_and_its_chords_near_it(radius, first, sweep, sag):
    arc = Arc((3.0, -2.0), radius, first, sweep)
    points = segment_points(arc, sag)
    assert points[0] == pytest.approx(arc.start)
    assert points[-1] == pytest.approx(arc.end, abs=1e-9)
    for a, b in pairwise(points):
        assert math.dist(a, arc.centre) == pytest.approx(radius)
        assert radius - math.dist((a + b) / 2, arc.centre) <= sag * (1 + 1e-9) or radius < sag


def test_points_of_a_line_are_its_ends():
    line = Line((1.0, 2.0), (5.0, 10.0))
    assert segment_points(line).tolist() == [[1.0, 2.0], [5.0, 10.0]]
    assert line.at(0.25) == (2.0, 4.0)


def test_path_in_chords_runs_from_end_to_end_through_points_of_its_arcs():
    path = round_corners(BENT, 6.0)
    points = path_chords(path, 5)
    arcs = [s for s in path if isinstance(s, Arc)]
    assert len(points) == 1 + len(path) + 4 * len(arcs)
    assert points[0] == BENT[0]
    assert points[-1] == pytest.approx(BENT[-1])
    assert all(min(math.dist(arc.at(0.4), p) for p in points) < 1e-9 for arc in arcs)
