"""Rounding of re-entrant turns: closed forms, and the closing by a ball on polygons."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.corners import round_reentrant
from geom.outline import (
    Arc,
    Line,
    Loop,
    loop_area,
    loop_polygon,
    outline_circle,
    outline_rectangle,
    outline_route,
    reverse_path,
)
from geom.union import unite_loops


def polygon_loop(*corners: tuple[float, float]) -> Loop:
    return tuple(Line(corners[k], corners[(k + 1) % len(corners)]) for k in range(len(corners)))


ELL = polygon_loop((0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30))
SLOT = polygon_loop((0, 0), (60, 0), (60, 30), (40, 30), (40, 10), (20, 10), (20, 30), (0, 30))


def assert_closed(loop: Loop, within: float = 1e-9) -> None:
    for here, after in zip(loop, (*loop[1:], loop[0]), strict=True):
        assert math.dist(here.end, after.start) < within


def assert_closing(loop: Loop, rounded: Loop, radius: float) -> None:
    """Assert that a ball of a radius was rolled on all of the outside."""
    sharp = loop_polygon(loop, 1e-5)
    closed = sharp.buffer(radius, quad_segs=2000).buffer(-radius, quad_segs=2000)
    assert loop_area(rounded) == pytest.approx(closed.area, rel=3e-5)
    assert shapely.hausdorff_distance(loop_polygon(rounded, 1e-4).exterior, closed.exterior) < 3e-3


@given(radius=st.floats(0.02, 19.9))
@settings(max_examples=40, deadline=None)
def test_right_angle_gains_its_spandrel(radius):
    loop, corners = round_reentrant(ELL, (radius,))
    assert corners == ()
    assert loop_area(loop) - loop_area(ELL) == pytest.approx(radius**2 * (1 - math.pi / 4), abs=1e-9)
    assert_closed(loop)


def test_corner_without_room_gets_largest_radius_that_fits():
    loop, (corner,) = round_reentrant(ELL, (60.0, 50.0))
    assert corner.radius == pytest.approx(20, abs=1e-6)
    assert loop_area(loop) - loop_area(ELL) == pytest.approx(400 * (1 - math.pi / 4), rel=1e-6)
    assert_closed(loop)


def test_corner_gets_the_first_radius_that_is_accepted():
    asked = []

    def accepts(patch: Loop) -> bool:
        asked.append(loop_area(patch))
        return loop_area(patch) < 20

    loop, (corner,) = round_reentrant(ELL, (12.0, 9.0, 4.0), accepts)
    assert asked == pytest.approx([r**2 * (1 - math.pi / 4) for r in (12.0, 9.0)])
    assert corner.radius == 9.0
    assert corner.at == pytest.approx((19 - 9 * math.sqrt(0.5), 19 - 9 * math.sqrt(0.5)))
    # The last radius is taken without asking.
    loop, (corner,) = round_reentrant(ELL, (12.0, 9.0), lambda patch: False)
    assert corner.radius == 9.0
    assert_closed(loop)


@pytest.mark.parametrize("start", range(6))
def test_fillet_that_uses_up_a_piece_leaves_the_next_corner_as_it_is(start):
    # The arm of 20 mm is gone with the fillet; the convex corner behind it stays.
    turned = ELL[start:] + ELL[:start]
    loop, corners = round_reentrant(turned, (20.0,))
    assert corners == ()
    assert loop_area(loop) - loop_area(ELL) == pytest.approx(400 * (1 - math.pi / 4), rel=1e-9)
    assert_closed(loop)


@pytest.mark.parametrize("start", range(8))
def test_pocket_too_narrow_for_the_ball_takes_what_fits(start):
    # The mouth's corners are sharp, no ball comes to rest on them: 10 mm is the most that turns in 20 mm.
    loop, corners = round_reentrant(SLOT[start:] + SLOT[:start], (14.0,))
    assert [corner.radius for corner in corners] == pytest.approx([10.0, 10.0], abs=1e-6)
    assert_closed(loop, 1e-6)


def test_ball_rests_on_the_mouth_of_a_pocket_where_it_may():
    comb = unite_loops(
        (outline_rectangle(0, 0, 70, 12, 6), *(outline_route(((x, 6), (x, 40)), 9, 12) for x in (20, 42)))
    )
    (loop,) = comb
    asked = []

    def refuse(patch: Loop) -> bool:
        asked.append(loop_area(patch))
        return False

    rounded, corners = round_reentrant(loop, (7.0,))
    assert corners == ()
    assert_closed(rounded)
    assert_closing(loop, rounded, 7.0)
    refused, corners = round_reentrant(loop, (7.0,), refuse)
    assert max(asked) > 10 * 28
    assert len([corner for corner in corners if corner.radius == pytest.approx(5.0, abs=1e-6)]) >= 1
    assert loop_area(refused) < loop_area(rounded) - 250


def test_ball_wanted_more_than_the_least_leaves_pockets_open():
    """Between two legs 22 mm apart a ball of 5 mm goes in; one of 9 mm would close the pocket."""
    (loop,) = unite_loops(
        (outline_rectangle(0, 0, 70, 12, 6), *(outline_route(((x, 6), (x, 40)), 9, 12) for x in (20, 42)))
    )
    rounded, corners = round_reentrant(loop, (9.0, 4.5))
    assert sorted(corner.radius for corner in corners) == pytest.approx([4.5, 4.5])
    assert_closing(loop, round_reentrant(loop, (4.5,))[0], 4.5)
    # The outer corners have room for the wanted one.
    assert sum(isinstance(s, Arc) and s.sweep < 0 and s.radius == 9.0 for s in rounded) == 2


def test_convex_outline_stays_as_it_is():
    square = polygon_loop((0, 0), (5, 0), (5, 5), (0, 5))
    assert round_reentrant(square, (1.0,)) == (square, ())
    assert round_reentrant(outline_circle((0, 0), 3), (1.0,))[1] == ()


def test_corner_between_two_arcs_is_closing_by_a_ball():
    (loop,) = unite_loops((outline_circle((0, 0), 10), outline_circle((14, 0), 8)))
    rounded, corners = round_reentrant(loop, (3.0,))
    assert corners == ()
    assert_closed(rounded)
    assert_closing(loop, rounded, 3.0)


@pytest.mark.parametrize("radius", [2.0, 7.4, 13.4])
@pytest.mark.parametrize("branch", [20.0, 24.5, 31.0])
def test_tee_on_a_bend_is_closing_by_a_ball(branch, radius):
    """The inside of the bend, of 5.2 mm, is a turn to round as the corners of the T are."""
    region = (
        outline_route(((0, 0), (40, 0), (40, 40)), 14.0, 17.6),
        outline_route(((branch, 0), (branch, -30)), 14.0, 17.6),
    )
    (loop,) = unite_loops(region)
    rounded, corners = round_reentrant(loop, (radius,))
    assert corners == ()
    assert (
        min(s.radius for s in rounded if isinstance(s, Arc) and s.sweep < 0)
        == pytest.approx(min(radius, 5.2))
        or radius > 5.2
    )
    assert_closed(rounded)
    assert_closing(loop, rounded, radius)


@pytest.mark.published(source="closed form: a U-shaped pocket less the corners of its floor")
def test_hole_is_rounded_from_its_inside():
    frame = (
        outline_route(((0, 0), (60, 0)), 14.0, 8.0),
        outline_route(((60, 0), (60, 50)), 14.0, 8.0),
        outline_route(((60, 50), (0, 50)), 14.0, 8.0),
        outline_route(((0, 50), (0, 0)), 14.0, 8.0),
    )
    outer, hole = unite_loops(frame)
    assert loop_area(outer) > 0 > loop_area(hole)
    rounded, corners = round_reentrant(hole, (3.0,))
    assert corners == ()
    assert loop_area(rounded) == pytest.approx(-(52 * 42 - (4 - math.pi) * 9))
    small, corners = round_reentrant(hole, (40.0, 30.0))
    assert {round(corner.radius, 6) for corner in corners} == {21.0}
    assert loop_area(small) == pytest.approx(-(52 * 42 - (4 - math.pi) * 21**2), rel=1e-6)


@given(
    cells=st.sets(st.tuples(st.integers(0, 3), st.integers(0, 3)), min_size=2, max_size=9),
    radius=st.sampled_from((2.0, 3.5, 6.0)),
)
@settings(max_examples=25, deadline=None)
def test_no_turn_is_tighter_than_told(cells, radius):
    """Whatever is rounded stays closed and simple, holds the region, and each tight turn is told."""
    region = tuple(outline_rectangle(10 * x - 6, 10 * y - 6, 10 * x + 6, 10 * y + 6, 2.5) for x, y in cells)
    for loop in unite_loops(region):
        rounded, corners = round_reentrant(loop, (radius,))
        assert_closed(rounded)
        tight = [s.radius for s in rounded if isinstance(s, Arc) and s.sweep < 0 and s.radius < radius - 1e-6]
        assert sorted(tight) == sorted(corner.radius for corner in corners if corner.radius > 0)
        whole, sharp = (loop_polygon(one, 1e-4) for one in (rounded, loop))
        assert whole.is_valid
        if loop_area(loop) > 0:
            assert sharp.difference(whole).area < 1e-2
        else:
            assert loop_polygon(reverse_path(rounded), 1e-4).difference(sharp).area < 1e-2
