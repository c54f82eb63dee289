"""Unions of outlines: closed forms, what only touches, and polygons."""

from __future__ import annotations

import math
from functools import reduce
from itertools import pairwise

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.outline import (
    Arc,
    Loop,
    Region,
    loop_area,
    loop_polygon,
    outline_circle,
    outline_rectangle,
    outline_route,
    reverse_path,
)
from geom.sweep import sweep_disc
from geom.union import unite_loops


def lens(radius: float, apart: float) -> float:
    """Return what two circles of one radius share."""
    half = apart / 2
    return 2 * radius**2 * math.acos(half / radius) - half * math.sqrt(4 * radius**2 - apart**2)


def assert_loops(loops: tuple[Loop, ...], gap: float = 3e-6) -> None:
    """Assert that loops are closed, simple and turned as they must be: outer ones first."""
    signs = [loop_area(loop) > 0 for loop in loops]
    assert signs == sorted(signs, reverse=True)
    for loop in loops:
        for here, after in pairwise((*loop, loop[0])):
            assert math.dist(here.end, after.start) < gap
        drawn = loop_polygon(loop if loop_area(loop) > 0 else reverse_path(loop), 2e-5)
        # Polygons lie a little outside of arcs: where a loop touches itself nearly, they may cross.
        assert drawn.is_valid or drawn.buffer(0).area == pytest.approx(abs(loop_area(loop)), rel=1e-4)


def total(loops: tuple[Loop, ...]) -> float:
    return math.fsum(loop_area(loop) for loop in loops)


@pytest.mark.published(source="closed form: two circles less their lens")
@pytest.mark.parametrize("apart", [1.0, 7.0, 13.99])
def test_two_discs_share_their_lens(apart):
    loops = unite_loops((outline_circle((0, 0), 7), outline_circle((apart, 0), 7)))
    assert_loops(loops)
    assert [len(loop) for loop in loops] == [2]
    assert total(loops) == pytest.approx(2 * math.pi * 49 - lens(7, apart), rel=1e-12)


def test_a_tee_of_channels_is_eight_pieces():
    """The branch ends inside; its sides cross the main channel's side at right angles."""
    tee = (outline_route(((0, 0), (50, 0)), 14, 8), outline_route(((25, 2), (25, 30)), 14, 8))
    (loop,) = unite_loops(tee)
    assert_loops((loop,))
    assert len(loop) == 8
    assert sum(isinstance(s, Arc) for s in loop) == 3
    branch = 8 * 26 + math.pi * 8
    assert loop_area(loop) == pytest.approx(8 * 50 + math.pi * 16 + branch, rel=1e-12)


@pytest.mark.parametrize("apart", [0.0, 1e-5, 20.0])
def test_runs_on_one_line_are_one_run(apart):
    """They overlap, or the second begins in the middle of the first one's cap; sides and caps lie on one another."""
    one, two = outline_route(((0, 0), (30, 0)), 14, 8), outline_route(((10 + apart, 0), (60, 0)), 14, 8)
    (loop,) = unite_loops((one, two))
    assert len(loop) == 4
    assert loop_area(loop) == pytest.approx(8 * 60 + math.pi * 16, rel=1e-12)


def test_bore_as_wide_as_the_round_end_changes_nothing():
    run = outline_route(((0, 0), (30, 0)), 14, 8)
    (loop,) = unite_loops((run, outline_circle((30, 0), 4), outline_circle((0, 0), 4), run))
    assert len(loop) == 4
    assert loop_area(loop) == pytest.approx(loop_area(run), rel=1e-12)
    wider = unite_loops((run, outline_circle((30, 0), 4.5)))
    narrower = unite_loops((run, outline_circle((30, 0), 3.5)))
    assert [len(loop) for loop in (*wider, *narrower)] == [4, 4]


@pytest.mark.parametrize("off", [0.0, 1e-9, -1e-9, 5e-7, -5e-7, 1e-4, -1e-4])
def test_what_touches_or_nearly_does_holds(off):
    """Discs tangent to each other, to a side from outside, and to a side from inside."""
    square = outline_rectangle(0, 0, 20, 20, 3)
    for at, radius in (((25 + off, 10), 5), ((16 + off, 10), 4), ((10, 24 + off), 4)):
        loops = unite_loops((square, outline_circle(at, radius)))
        assert_loops(loops)
        want = shapely.union(loop_polygon(square, 1e-5), loop_polygon(outline_circle(at, radius), 1e-5))
        assert total(loops) == pytest.approx(want.area, rel=1e-5)
    loops = unite_loops((outline_circle((0, 0), 5), outline_circle((10 + off, 0), 5)))
    assert_loops(loops)
    assert len(loops) == (1 if off < -1e-5 else 2)
    inner = unite_loops((outline_circle((0, 0), 5), outline_circle((2 + off, 0), 3)))
    assert len(inner) == 1


def test_holes_run_the_other_way():
    sides = ((0, 0), (40, 0), (40, 30), (0, 30), (0, 0))
    frame = tuple(outline_route(run, 14, 8) for run in pairwise(sides))
    outer, hole = unite_loops(frame)
    assert_loops((outer, hole))
    assert loop_area(hole) == pytest.approx(-32 * 22)
    assert loop_area(outer) == pytest.approx(48 * 38 - (4 - math.pi) * 16)


def test_discs_that_meet_in_points_leave_their_pocket():
    ring = tuple(outline_circle((10 * x, 10 * y), 5) for x in (0, 1) for y in (0, 1))
    loops = unite_loops(ring)
    assert_loops(loops)
    assert total(loops) == pytest.approx(4 * math.pi * 25)


@pytest.mark.published(
    source="closed form: a disc of radius h along an arc of radius r and sweep a: 2 h r a + pi h^2"
)
@pytest.mark.parametrize("half", [4.0, 14.0])
def test_swept_bend_in_closed_form(half):
    """While no bend is tighter than half of the width, the strip's area is length times width."""
    corner = ((0, 0), (40, 0), (40, 40))
    (loop,) = unite_loops(sweep_disc(corner, 14.0, 2 * half))
    length = 52 + 14 * math.pi / 2
    assert loop_area(loop) == pytest.approx(length * 2 * half + math.pi * half**2, rel=1e-12)


@pytest.mark.parametrize("radius", [2.0, 5.0, 7.39])
@pytest.mark.parametrize(
    "points",
    [
        ((0, 0), (40, 0), (40, 40)),
        ((0, 0), (20, 0), (20, 20), (40, 20)),
        ((0, 0), (30, 0), (30, 15), (0, 15)),
        ((0, 0), (30, 0), (12, 24)),
    ],
)
def test_swept_bend_tighter_than_the_disc_is_the_buffer(points, radius):
    loops = unite_loops(sweep_disc(points, radius, 14.8))
    assert_loops(loops)
    arcs = outline_route(points, radius, 1e-3)
    want = loop_polygon(arcs, 1e-5).buffer(7.4 - 5e-4, quad_segs=1000)
    assert total(loops) == pytest.approx(want.area, rel=2e-5)


STEP, WIDTHS = 5, (5.0, 8.0, 10.0, 14.8)
places = st.tuples(st.integers(0, 9), st.integers(0, 9)).map(lambda at: (STEP * at[0], STEP * at[1]))
discs = st.builds(
    lambda at, radius, off: (outline_circle(at, radius + off),),
    places,
    st.sampled_from([width / 2 for width in WIDTHS]),
    st.sampled_from((0.0, 0.0, 1e-5, -1e-3, 3e-7)),
)
boxes = st.builds(
    lambda at, a, b, corner: (outline_rectangle(*at, at[0] + STEP * a, at[1] + STEP * b, corner),),
    places,
    st.integers(2, 5),
    st.integers(2, 4),
    st.sampled_from((0.0, 2.5, 4.0, 5.0)),
)
runs = st.builds(
    lambda at, way, length, width: (
        outline_route((at, (at[0] + way[0] * STEP * length, at[1] + way[1] * STEP * length)), 14.0, width),
    ),
    places,
    st.sampled_from(((1, 0), (0, 1), (-1, 0), (1, 1))),
    st.integers(2, 6),
    st.sampled_from(WIDTHS),
)
bends = st.builds(
    lambda at, a, b, radius, width: sweep_disc(
        (at, (at[0] + STEP * a, at[1]), (at[0] + STEP * a, at[1] + STEP * b)), radius, width
    ),
    places,
    st.integers(3, 6),
    st.sampled_from((-6, -3, 3, 5)),
    st.sampled_from((4.0, 7.4, 10.0)),
    st.sampled_from(WIDTHS),
)


@given(parts=st.lists(st.one_of(discs, boxes, runs, bends), min_size=2, max_size=8))
@settings(max_examples=60, deadline=None)
def test_any_union_on_a_grid_is_that_of_polygons(parts: list[Region]):
    """Nearly all of it touches, lies on one another or is concentric."""
    region = tuple(loop for part in parts for loop in part)
    loops = unite_loops(region)
    assert_loops(loops)
    assert unite_loops(region) == loops
    want = shapely.union_all([loop_polygon(loop, 5e-4) for loop in region])
    assert total(loops) == pytest.approx(want.area, rel=1e-4)
    drawn = [loop_polygon(loop if loop_area(loop) > 0 else reverse_path(loop), 5e-4) for loop in loops]
    assert reduce(shapely.symmetric_difference, drawn).symmetric_difference(want).area < 1e-3 * want.area
