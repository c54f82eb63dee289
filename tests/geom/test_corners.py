"""Fillets of re-entrant corners: closed forms, and the closing by a ball on polygons."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.build import unite_region
from geom.corners import round_reentrant
from geom.kernel import read_loops
from geom.outline import Arc, Line, Loop, loop_area, loop_polygon, outline_circle, outline_route


def polygon_loop(*corners: tuple[float, float]) -> Loop:
    return tuple(Line(corners[k], corners[(k + 1) % len(corners)]) for k in range(len(corners)))


ELL = polygon_loop((0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30))


def assert_closed(loop: Loop) -> None:
    for here, after in zip(loop, (*loop[1:], loop[0]), strict=True):
        assert math.dist(here.end, after.start) < 1e-9


@given(radius=st.floats(0.02, 19.9))
@settings(max_examples=40, deadline=None)
def test_right_angle_gains_its_spandrel(radius):
    loop, corners = round_reentrant(ELL, lambda point: radius)
    assert [corner.radius for corner in corners] == [radius]
    assert corners[0].at == (10, 10)
    assert loop_area(loop) - loop_area(ELL) == pytest.approx(radius**2 * (1 - math.pi / 4), abs=1e-9)
    assert_closed(loop)


def test_corner_without_room_gets_largest_radius_that_fits():
    loop, corners = round_reentrant(ELL, lambda point: 50.0)
    assert corners[0].radius == pytest.approx(20, abs=1e-6)
    assert loop_area(loop) - loop_area(ELL) == pytest.approx(400 * (1 - math.pi / 4), rel=1e-6)


@pytest.mark.parametrize("start", range(6))
def test_fillet_that_uses_up_a_piece_leaves_the_next_corner_as_it_is(start):
    # The arm of 20 mm is gone with the fillet; the convex corner behind it stays.
    turned = ELL[start:] + ELL[:start]
    loop, corners = round_reentrant(turned, lambda point: 20.0)
    assert [corner.radius for corner in corners] == [20.0]
    assert loop_area(loop) - loop_area(ELL) == pytest.approx(400 * (1 - math.pi / 4), rel=1e-9)
    assert_closed(loop)
    # Two re-entrant corners 20 mm apart: the second has no room left.
    slot = polygon_loop((0, 0), (60, 0), (60, 30), (40, 30), (40, 10), (20, 10), (20, 30), (0, 30))
    loop, corners = round_reentrant(slot[start:] + slot[:start], lambda point: 20.0)
    assert sorted(corner.radius for corner in corners) == [0.0, 20.0]
    assert_closed(loop)


def test_convex_outline_stays_as_it_is():
    square = polygon_loop((0, 0), (5, 0), (5, 5), (0, 5))
    assert round_reentrant(square, lambda point: 1.0) == (square, ())
    assert round_reentrant(outline_circle((0, 0), 3), lambda point: 1.0)[1] == ()


def test_corner_between_two_arcs_is_closing_by_a_ball():
    faces = unite_region("two discs", (outline_circle((0, 0), 10), outline_circle((14, 0), 8)), 0.0)
    (loop,) = read_loops(faces[0])
    rounded, corners = round_reentrant(loop, lambda point: 3.0)
    assert [corner.radius for corner in corners] == [3.0, 3.0]
    assert_closed(rounded)
    sharp = loop_polygon(loop, 1e-5)
    closed = sharp.buffer(3.0, quad_segs=2000).buffer(-3.0, quad_segs=2000)
    assert loop_area(rounded) == pytest.approx(closed.area, rel=1e-6)
    assert shapely.hausdorff_distance(loop_polygon(rounded, 1e-4).exterior, closed.exterior) < 1e-3


@pytest.mark.parametrize("branch", [20.0, 24.5, 31.0])
def test_tee_on_a_bend_is_closing_by_a_ball(branch):
    region = (
        outline_route(((0, 0), (40, 0), (40, 40)), 14.0, 17.6),
        outline_route(((branch, 0), (branch, -30)), 14.0, 17.6),
    )
    (loop,) = read_loops(unite_region("tee", region, 0.0)[0])
    rounded, corners = round_reentrant(loop, lambda point: 2.0)
    assert len(corners) == 2
    assert all(isinstance(s, Line | Arc) for s in rounded)
    assert_closed(rounded)
    closed = loop_polygon(loop, 1e-5).buffer(2.0, quad_segs=2000).buffer(-2.0, quad_segs=2000)
    assert loop_area(rounded) == pytest.approx(closed.area, rel=1e-6)


def test_hole_is_read_clockwise_and_its_corners_count_by_material():
    ring = (
        outline_route(((0, 0), (60, 0)), 14.0, 8.0),
        outline_route(((60, 0), (60, 50)), 14.0, 8.0),
        outline_route(((60, 50), (0, 50)), 14.0, 8.0),
        outline_route(((0, 50), (0, 0)), 14.0, 8.0),
    )
    (face,) = unite_region("frame", ring, 0.0)
    outer, hole = read_loops(face)
    assert loop_area(outer) > 0 > loop_area(hole)
    assert face.Area() == pytest.approx(loop_area(outer) + loop_area(hole))
    rounded, corners = round_reentrant(hole, lambda point: 3.0)
    assert len(corners) == 4
    assert loop_area(rounded) == pytest.approx(-(52 * 42 - (4 - math.pi) * 9))
