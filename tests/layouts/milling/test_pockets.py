"""What a cutter leaves: closed forms, planted places, and the same opening on a raster."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from geom.features import Detail
from geom.outline import outline_circle, outline_rectangle, region_polygon
from layouts.milling.plan_milling import plan_milling
from layouts.milling.pockets import is_cleared, list_rests
from tests.layouts.milling.sample_sheet import (
    WIDE,
    body,
    bore,
    open_back,
    pocket,
    polygon,
    sheet_panel,
    slot,
)

PIXEL = 0.05


def raster_rest(detail: Detail, radius: float) -> float:
    """Return the area of the first pocket that a disc inside all pockets as deep does not cover, on a raster."""
    setup, _ = open_back(detail)
    first = setup.pockets[0]
    plans = [region_polygon(p.region, 1e-3, p.islands) for p in setup.pockets if p.floor >= first.floor]
    x0, y0, x1, y1 = plans[0].buffer(2 * radius + 1).bounds
    xs, ys = np.arange(x0, x1, PIXEL), np.arange(y0, y1, PIXEL)
    grid = np.meshgrid(xs, ys)
    inside = shapely.contains_xy(shapely.union_all(plans), *grid)
    centres = ndimage.distance_transform_edt(inside) * PIXEL >= radius
    covered = ndimage.distance_transform_edt(~centres) * PIXEL <= radius
    return float(np.count_nonzero(shapely.contains_xy(plans[0], *grid) & ~covered)) * PIXEL**2


def left(detail: Detail, radius: float):
    return list_rests(open_back(detail)[1][0], radius)


SQUARE = polygon((30, 20), (70, 20), (70, 60), (30, 60))


def test_a_sharp_corner_keeps_what_the_disc_does_not_reach():
    rests = left(body(pocket("tank", (SQUARE,))), 3.0)
    assert [rest.radius for rest in rests] == [0.0] * 4
    # The cutter itself passes.
    assert {rest.width for rest in rests} == {6.0}
    assert {rest.at for rest in rests} == {(x, y, 14.0) for x in (30.0, 70.0) for y in (20.0, 60.0)}
    for rest in rests:
        assert rest.area == pytest.approx(9 - math.pi * 9 / 4, rel=0.03)


@pytest.mark.parametrize(("corner", "count"), [(3.0, 0), (2.999, 4), (1.0, 4)])
def test_corners_are_judged_by_their_exact_radius(corner, count):
    rests = left(body(pocket("tank", (outline_rectangle(30, 20, 70, 60, corner),))), 3.0)
    assert [rest.radius for rest in rests] == [corner] * count
    inset = corner * (1 - math.sqrt(0.5))
    for rest in rests:
        assert min(math.dist(rest.at[:2], (x, y)) for x in (30, 70) for y in (20, 60)) == pytest.approx(
            inset * math.sqrt(2)
        )
        # The disc's corner less the fillet's.
        assert rest.area == pytest.approx((9 - corner**2) * (1 - math.pi / 4), rel=0.1, abs=1e-4)


def test_a_slot_narrower_than_the_disc_is_a_way_with_its_width():
    (rest,) = left(body(slot("channel a", ((20, 40), (90, 40)), 5.5)), 3.0)
    assert rest.width == pytest.approx(5.5, abs=0.01)
    assert rest.radius == pytest.approx(2.75, abs=0.01)
    assert rest.at[1] == pytest.approx(40.0, abs=0.02)
    assert rest.at[2] == 9.0
    assert rest.area == pytest.approx(70 * 5.5 + math.pi * 2.75**2, rel=0.01)
    assert left(body(slot("channel a", ((20, 40), (90, 40)), 6.0)), 3.0) == ()


@pytest.mark.parametrize("gap", [2.0, 4.0, 5.9])
def test_a_way_between_posts_is_found_in_its_middle(gap):
    posts = (outline_circle((50 - 4 - gap / 2, 43), 4.0), outline_circle((50 + 4 + gap / 2, 43), 4.0))
    (rest,) = left(body(pocket("tank", (outline_rectangle(20, 20, 80, 70, 6.0),), 14.0, posts)), 3.0)
    assert rest.width == pytest.approx(gap, abs=0.02)
    assert rest.at == pytest.approx((50.0, 43.0, 14.0), abs=0.1)


def test_a_way_between_a_post_and_a_wall():
    posts = (outline_circle((50, 20 + 4 + 3), 4.0),)
    (rest,) = left(body(pocket("tank", (outline_rectangle(20, 20, 80, 70, 6.0),), 14.0, posts)), 3.0)
    assert rest.width == pytest.approx(3.0, abs=0.02)
    assert rest.at == pytest.approx((50.0, 21.5, 14.0), abs=0.1)


def test_an_acute_corner_is_a_corner_and_no_way():
    rests = left(body(pocket("tank", (polygon((30, 20), (70, 20), (50, 20 + 20 * math.sqrt(3))),))), 3.0)
    assert [(rest.radius, rest.width) for rest in rests] == [(0.0, 6.0)] * 3
    for rest in rests:
        # A third of a turn: two tangents of 3 times the root of 3, less the sector.
        assert rest.area == pytest.approx(9 * (math.sqrt(3) - math.pi / 3), rel=0.03)


def test_what_a_deeper_neighbour_opens_is_no_rest():
    corner = pocket("tank", (SQUARE,), 9.0)
    hidden = pocket("tank 2", (outline_rectangle(60, 50, 80, 70, 6.0),), 14.0)
    shallow = pocket("tank 2", (outline_rectangle(60, 50, 80, 70, 6.0),), 5.0)
    assert len(left(body(corner, hidden), 3.0)) == 3
    assert len(left(body(corner, shallow), 3.0)) == 4


def test_what_a_drill_takes_is_no_rest():
    """Relief bores in the corners: what the cutter leaves was drilled."""
    deep = [
        bore(f"port {k}", "port", "back", (x + dx, y + dy, 0.0), 14.0, 4.0)
        for k, (x, y, dx, dy) in enumerate(
            ((30, 20, 1, 1), (70, 20, -1, 1), (30, 60, 1, -1), (70, 60, -1, -1)), start=1
        )
    ]
    assert len(left(body(pocket("tank", (SQUARE,))), 3.0)) == 4
    drilled = left(body(pocket("tank", (SQUARE,)), *deep[:1]), 3.0)
    assert {rest.at[:2] for rest in drilled} == {(70.0, 20.0), (30.0, 60.0), (70.0, 60.0)}


@pytest.mark.parametrize(
    ("length", "count"),
    # From the front, 20 mm thick: through, to 6 mm under the back's face, and to its floor.
    [(20.0, 0), (14.0, 4), (6.0, 4)],
)
def test_what_a_drill_takes_from_the_other_face_is_no_rest(length, count):
    holes = [
        bore(f"pump bore {k}", "pump bore", "front", (x + dx, y + dy, 20.0), length, 4.0)
        for k, (x, y, dx, dy) in enumerate(
            ((30, 20, 1, 1), (70, 20, -1, 1), (30, 60, 1, -1), (70, 60, -1, -1)), start=1
        )
    ]
    detail, panel = body(pocket("tank", (SQUARE,)), *holes), sheet_panel()
    milled = plan_milling(panel, detail)
    assert milled is not None
    assert {setup.face for setup in milled.setups if setup.holes} == {"front"}
    assert len(milled.rests) == count


@pytest.mark.parametrize("width", [2.8, 5.2, 5.55])
def test_the_width_of_a_way_is_told_to_a_hundredth(width):
    """Between round walls, which are chords: 2.799 mm is no width of a way 2.8 mm wide."""
    posts = (outline_circle((50 - 4 - width / 2, 43), 4.0), outline_circle((50 + 4 + width / 2, 43), 4.0))
    (rest,) = left(body(pocket("tank", (outline_rectangle(20, 20, 80, 70, 6.0),), 14.0, posts)), 3.0)
    assert (rest.width, rest.radius) == (width, width / 2)


def test_channels_that_meet_leave_nothing():
    for other in (((60, 40), (60, 70)), ((60, 40), (100, 70)), ((20, 41), (90, 45))):
        detail = body(slot("channel a", ((20, 40), (90, 40)), 8), slot("channel b", other, 8))
        assert left(detail, 4.0) == ()


CASES: dict[str, tuple[Callable[[], Detail], float]] = {
    "rounded": (lambda: body(pocket("tank", (outline_rectangle(30, 20, 50, 40, 2.0),))), 3.0),
    "square": (lambda: body(pocket("tank", (polygon((30, 20), (50, 20), (50, 40), (30, 40)),))), 4.0),
    "wedge": (lambda: body(pocket("tank", (polygon((30, 20), (60, 20), (30, 35)),))), 3.0),
    "post": (
        lambda: body(
            pocket("tank", (outline_rectangle(30, 20, 50, 40, 4.0),), 14.0, (outline_circle((37, 31), 3.5),))
        ),
        2.5,
    ),
    "narrow into wide": (
        lambda: body(
            slot("channel a", ((30, 30), (55, 30)), 5.0),
            pocket("tank", (outline_rectangle(45, 20, 60, 40, 3.0),)),
        ),
        3.0,
    ),
    "two slots": (
        lambda: body(
            slot("channel a", ((30, 30), (50, 30)), 5.0), slot("channel b", ((30, 33), (50, 33)), 5.0)
        ),
        3.5,
    ),
}


@pytest.mark.parametrize(("make", "radius"), CASES.values(), ids=CASES.keys())
def test_a_raster_agrees(make, radius):
    detail = make()
    rests = left(detail, radius)
    ours, theirs = sum(rest.area for rest in rests), raster_rest(detail, radius)
    # Half a pixel along the walls of what is left, some 5 mm round each corner.
    assert ours == pytest.approx(theirs, abs=0.15 * len(rests) + 0.03 * theirs)
    assert rests


@settings(max_examples=15)
@given(
    corner=st.floats(1.0, 8.0),
    wide=st.floats(17.0, 40.0),
    tall=st.floats(17.0, 30.0),
    radius=st.floats(1.0, 8.0),
)
def test_a_pocket_is_cleared_where_corners_and_ways_are_as_large_as_the_disc(corner, wide, tall, radius):
    detail = body(pocket("tank", (outline_rectangle(30, 20, 30 + wide, 20 + tall, corner),)))
    _, (space,) = open_back(detail)
    rests = list_rests(space, radius)
    assert (not rests) == (corner >= radius - 1e-6)
    assert is_cleared(space, radius) == (not rests)


@settings(max_examples=15)
@given(width=st.floats(2.0, 10.0), radius=st.floats(1.0, 5.0), turn=st.floats(30.0, 60.0))
def test_a_slot_is_cleared_where_it_is_as_wide_as_the_disc(width, radius, turn):
    detail = body(slot("channel a", ((20, 20), (20 + turn, 20), (20 + turn, 60)), width))
    _, (space,) = open_back(detail)
    if abs(width - 2 * radius) > 0.05:
        assert (not list_rests(space, radius)) == (width > 2 * radius)


def test_the_place_is_told_in_the_panel_frame():
    (rest,) = left(body(slot("channel a", ((20, 40), (50, 40)), 5.0)), 3.0)
    # Seen from behind it lies at the right.
    assert 20 <= rest.at[0] <= 50 < WIDE / 2
