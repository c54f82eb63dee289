"""Grooves that neighbours share: what still seals, and how an open one comes into another."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations, pairwise

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from geom.corners import round_reentrant
from geom.crossings import distance_to, fraction_of, heading_at
from geom.outline import (
    Arc,
    Line,
    Point,
    loop_polygon,
    outline_circle,
    path_length,
    path_points,
    region_polygon,
    reverse_path,
    track_polygon,
)
from geom.sweep import sweep_disc
from geom.union import unite_loops
from layouts.closing.shared_grooves import list_sharers, share_grooves, trace_middle
from layouts.closing.turn_in import LEAST_MEET, Target, turn_in
from layouts.plan import CordLoop

LAND, GROOVE, CORD = 2.0, 2.8, 2.0
TURN = 3 * CORD + GROOVE / 2
WIDTH, BEND = 6.0, 9.0
ONE = 2 * LAND + GROOVE
"""Least distance of two outlines with one groove between them."""
TWO = 2 * LAND + 2 * GROOVE + LAND
"""And with two."""

ENDS = (slice(0, 60), slice(-60, None))
"""The points of the first and the last 6 mm of a middle."""

Channels = tuple[tuple[Point, ...], ...]


def wet_of(channels: Channels) -> list[shapely.Geometry]:
    return [region_polygon(sweep_disc(points, BEND, WIDTH), 1e-4) for points in channels]


def draw_loops(channels: Channels) -> tuple[CordLoop, ...]:
    """Return a loop round each channel, as they are drawn on a panel."""
    loops = []
    for number, points in enumerate(channels, start=1):
        for middle in unite_loops(sweep_disc(points, BEND, WIDTH + 2 * LAND + GROOVE)):
            path, _ = round_reentrant(middle, (6 * CORD + GROOVE / 2, TURN))
            loops.append(CordLoop(f"groove {len(loops) + 1}", f"channel {number}", path, GROOVE, 2.1))
    return tuple(loops)


def draw_middle(groove: CordLoop) -> shapely.LineString:
    """Return a groove's middle up to its very ends."""
    points = [(float(x), float(y)) for x, y in path_points(groove.path, 0.1)]
    return shapely.LineString([*points, groove.path[-1].end])


def meeting_angles(grooves: tuple[CordLoop, ...]) -> list[float]:
    """Return the angles under which open grooves come into others, [deg]; each ends on a middle line."""
    paths = {groove.name: groove.path for groove in grooves}
    out = []
    for groove in grooves:
        if groove.closed:
            assert groove.meets == ()
            continue
        first, last = groove.path[0], groove.path[-1]
        ends = ((first.start, heading_at(first, 0.0)), (last.end, heading_at(last, 1.0)))
        for (at, (ux, uy)), name in zip(ends, groove.meets, strict=True):
            met = min(paths[name], key=lambda s: distance_to(s, at))
            assert distance_to(met, at) < 1e-6
            vx, vy = heading_at(met, min(max(fraction_of(met, at), 0.0), 1.0))
            out.append(math.degrees(math.asin(min(1.0, abs(ux * vy - uy * vx)))))
    return out


def assert_sealed(grooves: tuple[CordLoop, ...], wet: list[shapely.Geometry]) -> None:
    """Assert that grooves part all regions from each other and from the outside, at their distances."""
    cells = shapely.get_parts(
        shapely.polygonize([shapely.union_all([trace_middle(groove, 0.1) for groove in grooves])])
    )
    within = [[k for k, cell in enumerate(cells) if cell.intersects(region)] for region in wet]
    assert all(len(found) == 1 for found in within), within
    assert len({found[0] for found in within}) == len(wet)
    for groove in grooves:
        assert track_polygon(groove.path, groove.closed, GROOVE).is_valid
        pieces = (*groove.path, groove.path[0]) if groove.closed else groove.path
        for here, after in pairwise(pieces):
            assert math.dist(here.end, after.start) < 1e-6
            assert math.dist(heading_at(here, 1.0), heading_at(after, 0.0)) < 1e-5
        line = draw_middle(groove)
        assert min(line.distance(region) for region in wet) > LAND + GROOVE / 2 - 5e-3
    for one, two in combinations(grooves, 2):
        if one.name not in two.meets and two.name not in one.meets:
            assert draw_middle(one).distance(draw_middle(two)) > GROOVE + LAND - 5e-3
    assert all(angle > math.degrees(LEAST_MEET) - 1e-6 for angle in meeting_angles(grooves))


def beside(gap: float, length: float = 120.0) -> Channels:
    """Return two straight channels, the second one longer to both sides and `gap` away."""
    y = WIDTH + gap
    return (((0.0, 0.0), (100.0, 0.0)), ((50.0 - length / 2, y), (50.0 + length / 2, y)))


@st.composite
def neighbours(draw: st.DrawFn) -> Channels:
    """Draw two channels that run side by side for a while, and often a third one at their ends."""
    gap = draw(st.floats(ONE, TWO))
    y = WIDTH + gap
    left, right = draw(st.floats(-60.0, 30.0)), draw(st.floats(70.0, 160.0))
    upper: list[Point] = [(left, y), (right, y)]
    if draw(st.booleans()):
        upper.insert(0, (left, y + draw(st.floats(20.0, 60.0))))
    if draw(st.booleans()):
        upper.append((right, y + draw(st.floats(20.0, 60.0))))
    if right - left > 100 and draw(st.booleans()):
        # It steps aside in between.
        at, up = draw(st.floats(left + 25, right - 75)), draw(st.floats(20.0, 40.0))
        k = upper.index((left, y)) + 1
        upper[k:k] = [(at, y), (at, y + up), (at + draw(st.floats(25.0, 50.0)), y + up)]
        upper.insert(k + 3, (upper[k + 2][0], y))
    lower: list[Point] = [(0.0, 0.0), (100.0, 0.0)]
    if draw(st.booleans()):
        lower.append((100.0, -40.0))
    found: list[tuple[Point, ...]] = [tuple(lower), tuple(upper)]
    if draw(st.booleans()):
        x = max(100.0, right) + WIDTH + draw(st.floats(ONE, 1.5 * TWO))
        found.append(((x, -60.0), (x, 90.0)))
    if draw(st.booleans()):
        found.reverse()
    return tuple(found)


@pytest.mark.published(source="geometry of the test's own: two parallel lines and what turns between them")
@pytest.mark.parametrize("gap", [ONE, ONE + 0.5, ONE + 2.0, TWO - 0.1])
def test_a_straight_neighbour_shares_its_side(gap):
    one, two = share_grooves(draw_loops(beside(gap)), LAND, TURN)
    assert one == draw_loops(beside(gap))[0]
    assert not two.closed
    assert two.meets == ("groove 1", "groove 1")
    assert_sealed((one, two), wet_of(beside(gap)))
    # Between its ends only the first groove lies there: the second one is shorter by about that much.
    ends = math.dist(two.path[0].start, two.path[-1].end)
    assert 85.0 < ends < 120.0
    assert list_sharers((one, two)) == (("channel 1", "channel 2"),)


@pytest.mark.published(source="geometry of the test's own: a groove, a rib and a groove between two lands")
@pytest.mark.parametrize("gap", [TWO, TWO + 1.0])
def test_where_two_fit_two_are_made(gap):
    loops = draw_loops(beside(gap))
    assert share_grooves(loops, LAND, TURN) == loops


@pytest.mark.published(
    source="geometry of the test's own: an arc meets a line that far off at acos(1 - off / radius)"
)
@pytest.mark.parametrize("off", [0.51, 0.7, 0.99])
def test_an_arc_alone_meets_a_parallel_line(off):
    target = Target("groove 1", Line((-50.0, -off * TURN), (50.0, -off * TURN)))
    tail = turn_in((0.0, 0.0), (1.0, 0.0), False, TURN, (target,))
    assert tail is not None
    assert tail.angle == pytest.approx(math.acos(1 - off), abs=1e-9)
    (arc,) = tail.path
    assert isinstance(arc, Arc)
    assert arc.end == pytest.approx((TURN * math.sin(tail.angle), -off * TURN))
    mirrored = turn_in((0.0, 0.0), (-1.0, 0.0), True, TURN, (target,))
    assert mirrored is not None
    assert mirrored.end == pytest.approx((-arc.end[0], arc.end[1]))


@pytest.mark.parametrize("heading", [0.0, -30.0, -90.0])
def test_farther_off_it_turns_and_goes_straight(heading):
    target = Target("groove 1", Line((-90.0, -15.0), (90.0, -15.0)))
    ahead = (math.cos(math.radians(heading)), math.sin(math.radians(heading)))
    tail = turn_in((0.0, 0.0), ahead, False, TURN, (target,))
    assert tail is not None
    assert tail.angle == pytest.approx(math.pi / 2)
    assert tail.end[1] == pytest.approx(-15.0)
    assert heading_at(tail.path[-1], 1.0) == pytest.approx((0.0, -1.0))
    assert path_length(tail.path) < 25.0


@pytest.mark.parametrize("outside", [True, False])
def test_it_meets_a_turn_squarely(outside):
    centre = (0.0, -40.0) if outside else (0.0, 25.0)
    target = Target("groove 1", Arc(centre, 25.0 if outside else 38.0, 0.0, 2 * math.pi))
    tail = turn_in((0.0, 0.0), (1.0, 0.0), False, TURN, (target,))
    assert tail is not None
    assert tail.angle == pytest.approx(math.pi / 2)
    assert math.dist(tail.end, centre) == pytest.approx(target.segment.radius)


def test_too_near_a_line_it_has_no_room_to_turn():
    target = Target("groove 1", Line((-50.0, -0.49 * TURN), (50.0, -0.49 * TURN)))
    assert turn_in((0.0, 0.0), (1.0, 0.0), False, TURN, (target,)) is None


def test_a_loop_enclosed_by_another_region_vanishes():
    # A round region in a ring-shaped one: the ring's inner groove seals both.
    reach = LAND + GROOVE / 2
    ring = (
        CordLoop("groove 1", "ring", outline_circle((0.0, 0.0), 60.0 + reach), GROOVE, 2.1),
        CordLoop("groove 2", "ring", reverse_path(outline_circle((0.0, 0.0), 40.0 - reach)), GROOVE, 2.1),
    )
    core = CordLoop("groove 3", "core", outline_circle((0.0, 0.0), 40.0 - ONE - 1.0 + reach), GROOVE, 2.1)
    assert share_grooves((*ring, core), LAND, TURN) == ring
    apart = replace(core, path=outline_circle((0.0, 0.0), 40.0 - TWO + reach))
    assert share_grooves((*ring, apart), LAND, TURN) == (*ring, apart)


def test_a_loop_beside_another_all_round_but_not_enclosed_stays():
    loops = draw_loops(beside(ONE))
    lone = replace(loops[1], path=loops[0].path, region="channel 2")
    assert share_grooves((loops[0], lone), LAND, TURN) == (loops[0], lone)


def test_joints_do_not_share_and_all_are_numbered_in_order():
    loops = draw_loops(beside(ONE))
    front = tuple(replace(loop, name=f"groove {k}", layer="front") for k, loop in enumerate(loops, start=3))
    assert share_grooves((loops[0], replace(loops[1], layer="front")), LAND, TURN) == (
        loops[0],
        replace(loops[1], layer="front"),
    )
    shared = share_grooves((*loops, *front), LAND, TURN)
    assert [loop.name for loop in shared] == [f"groove {k}" for k in (1, 2, 3, 4)]
    assert [loop.meets for loop in shared] == [(), ("groove 1",) * 2, (), ("groove 3",) * 2]


def test_a_neighbour_that_steps_aside_leaves_two_pieces():
    y = WIDTH + ONE + 1.0
    bump = ((-40.0, y), (20.0, y), (20.0, y + 40.0), (80.0, y + 40.0), (80.0, y), (140.0, y))
    channels: Channels = (((0.0, 0.0), (100.0, 0.0)), bump)
    one, *rest = share_grooves(draw_loops(channels), LAND, TURN)
    assert [groove.name for groove in rest] == ["groove 2", "groove 3"]
    assert all(groove.meets == ("groove 1", "groove 1") for groove in rest)
    assert_sealed((one, *rest), wet_of(channels))


@pytest.mark.parametrize("gap", [ONE, ONE + 2.5, ONE + 4.0, TWO - 0.1])
def test_ends_at_a_short_gap_stand_apart(gap):
    # The round end of one stands before the side of the other.
    y = WIDTH / 2 + gap + WIDTH / 2
    channels: Channels = (((50.0, -60.0), (50.0, 0.0)), ((-30.0, y), (130.0, y)))
    one, two = share_grooves(draw_loops(channels), LAND, TURN)
    assert two.meets == ("groove 1", "groove 1")
    assert_sealed((one, two), wet_of(channels))
    start, end = (shapely.LineString(shapely.get_coordinates(draw_middle(two))[k]) for k in ENDS)
    assert start.distance(end) > GROOVE + LAND - 5e-3


@pytest.mark.parametrize("between", [ONE, ONE + 2.0, TWO, TWO + 4.0, TWO + 9.0])
@pytest.mark.parametrize("gap", [ONE, ONE + 2.0])
def test_three_meet(gap, between):
    # Two end before each other, both beside the first one.
    y = WIDTH + gap
    right = 50.0 + WIDTH + between
    channels: Channels = (
        ((-20.0, 0.0), (120.0, 0.0)),
        ((50.0, y + 60.0), (50.0, y + 20.0), (50.0, y)),
        ((right, y), (right, y + 60.0)),
    )
    assert_sealed(share_grooves(draw_loops(channels), LAND, TURN), wet_of(channels))


FLAT = ((-20.0, 0.0), (120.0, 0.0))


@pytest.mark.parametrize(
    "channels",
    [
        # An end must keep off a third groove.
        (((-30.0, 16.845), (50.0, 16.845)), FLAT, ((64.552, 16.927), (64.552, 41.927), (128.552, 41.927))),
        (FLAT, ((66.749, 17.186), (160.749, 17.186)), ((50.0, 14.387), (50.0, 74.387))),
        (((50.0, 16.51), (50.0, 76.51)), ((64.176, 13.757), (64.176, 73.757)), FLAT),
        # Between both others the last one has no room for its ends: it comes first.
        (((-30.0, 13.192), (50.0, 13.192)), ((69.642, 14.924), (69.642, 74.924)), FLAT),
        (((50.0, 17.121), (50.0, 77.121)), ((68.055, 16.827), (68.055, 76.827)), FLAT),
    ],
)
def test_ends_find_room_beside_a_third_groove(channels):
    assert_sealed(share_grooves(draw_loops(channels), LAND, TURN), wet_of(channels))


@given(channels=neighbours())
@settings(max_examples=40, deadline=None)
def test_shared_grooves_part_all_regions(channels):
    wet = wet_of(channels)
    assume(all(one.distance(two) >= ONE - 1e-6 for one, two in combinations(wet, 2)))
    loops = draw_loops(channels)
    grooves = share_grooves(loops, LAND, TURN)
    assert_sealed(grooves, wet)
    # What is left of a loop lies on it, but for its ends.
    for groove in grooves:
        (loop,) = (loop for loop in loops if loop.region == groove.region)
        inside = loop_polygon(loop.path, 1e-4)
        line = draw_middle(groove)
        assert not groove.closed or groove.path == loop.path
        assert line.intersection(inside.buffer(-0.01)).length < 0.1
