"""Cover screws: where they stand, that they hit nothing, hold every cord, and are as few as told."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.outline import Arc, Line, Point, path_points, track_polygon
from geom.standards.tables import screw
from layouts.clearance import clearances_of
from layouts.closing.close import close_panel
from layouts.closing.even_spacing import even_out
from layouts.closing.screw_gaps import find_narrow_gap
from layouts.closing.screw_places import list_places
from layouts.closing.screw_room import EDGE, find_room, name_blockers
from layouts.closing.screws import RIM_SHARE, cord_reach, place_screws
from layouts.closing.spacing import limit_spacing
from layouts.detail import cast_shadow, cut_openings, cut_pump_screws
from layouts.panel import Closing, KeepClear, Panel
from layouts.plan import CordLoop, Routed, Sealed
from layouts.strength.screw_hole import footprint_diameter, hole_wall, screw_hole
from tests.layouts.sample_faces import sample_faces
from tests.layouts.sample_routed import sample_back, sample_panel, sample_routed


def close_sample(panel: Panel, routed: Routed) -> Sealed:
    """Return the closing of a panel."""
    return close_panel(panel, routed, clearances_of(panel))


def distances(points: np.ndarray, screws: tuple[Point, ...]) -> np.ndarray:
    """Return the distance from each point to its nearest screw."""
    return np.hypot(*(points[:, None] - np.array(screws)[None]).transpose(2, 0, 1)).min(axis=1)


def ring(radius: float, name: str = "groove 1", centre: Point = (50.0, 50.0)) -> CordLoop:
    """Return a round cord."""
    return CordLoop(name, "round", (Arc(centre, radius, 0.0, 2 * math.pi),), 2.8, 2.1)


def cord_points(loops: tuple[CordLoop, ...]) -> np.ndarray:
    return np.concatenate([path_points(loop.path, 0.4) for loop in loops])


SAMPLES = {"front ports": (sample_panel(), sample_routed()), "back port": sample_back()}


@pytest.mark.parametrize("name", SAMPLES)
def test_every_place_of_every_cord_is_within_reach_of_a_screw(name: str) -> None:
    panel, routed = SAMPLES[name]
    sealed = close_sample(panel, routed)
    (coverage,) = sealed.coverage
    assert coverage.stretches == ()
    assert (coverage.spacing, coverage.limit) == limit_spacing(panel)
    assert coverage.reach == cord_reach(sealed.loops, sealed.screws)[0] <= coverage.spacing / 2
    # Measured again, closer: the rule holds between the points too.
    assert distances(cord_points(sealed.loops), sealed.screws).max() <= coverage.spacing / 2


@pytest.mark.parametrize("name", SAMPLES)
def test_fewer_screws_cannot_hold_the_cords(name: str) -> None:
    """Without any one screw some place is out of reach; the count is the proven bound."""
    panel, routed = SAMPLES[name]
    sealed = close_sample(panel, routed)
    assert len(sealed.screws) == sealed.coverage[0].least
    cords, half = cord_points(sealed.loops), limit_spacing(panel)[0] / 2
    rim = shapely.box(0, 0, panel.width, panel.height).exterior
    corners = np.array(rim.coords[:4])
    along = np.array([rim.interpolate(s).coords[0] for s in range(0, int(rim.length), 2)])
    for k in range(len(sealed.screws)):
        rest = (*sealed.screws[:k], *sealed.screws[k + 1 :])
        assert (
            distances(cords, rest).max() > half - 1.0
            or distances(along, rest).max() > RIM_SHARE * half - 1.0
            or distances(corners, rest).max() > half - 1.0
        )


@pytest.mark.parametrize("name", [*SAMPLES, "two faces"])
def test_no_screw_hits_anything(name: str) -> None:
    panel, routed = sample_faces() if name == "two faces" else SAMPLES[name]
    sealed = close_sample(panel, routed)
    row, wall = screw(panel.make.screw), panel.rules.least_wall
    bore, depth = screw_hole(panel)
    openings = cut_openings(panel, routed)
    cast = [(f, *cast_shadow(f.shape)) for f in (*openings, *cut_pump_screws(panel, routed, openings))]
    for layer, screws in (("back", sealed.screws), ("front", sealed.front_screws)):
        joint, inward = (panel.make.body, -1.0) if layer == "front" else (0.0, 1.0)
        grooves = [
            track_polygon(loop.path, loop.closed, loop.groove_width)
            for loop in sealed.loops
            if loop.layer == layer
        ]
        assert bool(screws) == bool(grooves)
        wet = shapely.union_all(
            [
                shadow
                for feature, shadow, z0, z1 in cast
                if feature.medium == "wet" and z0 - 1e-6 <= joint <= z1 + 1e-6
            ]
        )
        for k, at in enumerate(screws):
            point = shapely.Point(at)
            for feature, shadow, z0, z1 in cast:
                low, high = sorted(((z0 - joint) * inward, (z1 - joint) * inward))
                if high > 0 and low < depth + wall:
                    assert shadow.distance(point) >= bore / 2 + hole_wall(panel), feature.name
                if low < 0:
                    assert shadow.distance(point) >= row.clearance / 2 + wall, feature.name
                if layer in feature.opens:
                    assert shadow.distance(point) >= footprint_diameter(panel) / 2, feature.name
            assert min(groove.distance(point) for groove in grooves) >= row.clearance / 2 + 1.0
            rim = min(at[0], at[1], panel.width - at[0], panel.height - at[1])
            assert rim >= row.clearance / 2 + wall
            assert all(math.dist(at, other) >= footprint_diameter(panel) for other in screws[:k])
            assert not any(
                shapely.box(*k.box).dwithin(point, footprint_diameter(panel) / 2) for k in panel.keep_clear
            )
            # Whoever goes from the screw to anything wet crosses a groove: its hole in the cover stays dry.
            way = shapely.shortest_line(point, wet)
            assert any(groove.intersects(way) for groove in grooves)


def test_an_island_without_a_cord_gets_no_screw() -> None:
    """A cord round a ring of coolant leaves the middle dry, but a screw's hole there would leak."""
    panel = replace(sample_panel(), keep_clear=())
    routed = replace(sample_routed(), ports=())
    loops = close_sample(panel, sample_routed()).loops
    room = find_room(panel, routed, loops, clearances_of(panel))
    for loop in loops:
        inside = shapely.Polygon(path_points(loop.path, 0.5))
        assert not room.free.intersects(inside)


def test_screws_stand_near_the_corners_and_all_along_the_rim() -> None:
    panel = replace(sample_panel(), keep_clear=())
    sealed = close_sample(panel, sample_routed())
    half = limit_spacing(panel)[0] / 2
    rim = shapely.box(0, 0, panel.width, panel.height).exterior
    corners = np.array(rim.coords[:4])
    along = np.array([rim.interpolate(s).coords[0] for s in range(int(rim.length))])
    assert distances(corners, sealed.screws).max() <= half
    # The rim's points stand 4 mm apart.
    assert distances(along, sealed.screws).max() <= RIM_SHARE * half + 2.0


def test_a_rim_without_cords_is_screwed_too() -> None:
    panel = replace(sample_panel(), width=500.0, keep_clear=())
    sealed = close_sample(panel, sample_routed())
    bottom = np.array([(x, 0.0) for x in range(250, 500)], float)
    assert distances(bottom, sealed.screws).max() <= RIM_SHARE * limit_spacing(panel)[0] / 2 + 2.0


def test_same_panel_same_screws() -> None:
    first = close_sample(sample_panel(), sample_routed())
    close_sample(replace(sample_panel(), keep_clear=()), sample_routed())
    assert close_sample(sample_panel(), sample_routed()) == first


@pytest.mark.parametrize("closing", ["bonded", "one-piece"])
def test_nothing_is_screwed_without_a_cord(closing: Closing) -> None:
    panel, routed = sample_panel(closing), sample_routed(closing)
    screwed = place_screws(panel, routed, (), clearances_of(panel))
    assert (screwed.screws, screwed.coverage) == ((), None)


def test_no_free_place_leaves_the_cord_out_of_reach() -> None:
    panel = replace(sample_panel(), keep_clear=(KeepClear("all", (0.0, 0.0, 200.0, 140.0), 1),))
    sealed = close_sample(panel, sample_routed())
    (coverage,) = sealed.coverage
    assert sealed.screws == ()
    assert coverage.reach == math.inf
    assert len(coverage.stretches) == len(sealed.loops)
    assert all(stretch.blockers[0] == "keep-clear region all" for stretch in coverage.stretches)
    total = sum(loop.length for loop in sealed.loops)
    assert sum(stretch.length for stretch in coverage.stretches) == pytest.approx(total)


def test_fixed_screws_stand_first_and_are_reckoned_with() -> None:
    panel, routed = sample_panel(), sample_routed()
    loops, gaps = close_sample(panel, routed).loops, clearances_of(panel)
    free = place_screws(panel, routed, loops, gaps)
    fixed = (free.screws[3], (145.0, 102.0))
    held = place_screws(panel, routed, loops, gaps, fixed=fixed)
    assert held.screws[:2] == fixed
    assert held.coverage is not None
    assert held.coverage.stretches == ()
    assert held.coverage.least <= len(held.screws) <= len(free.screws) + 1
    apart = find_room(panel, routed, loops, gaps).apart
    assert all(math.dist(a, b) >= apart - 1e-6 for a in fixed for b in held.screws[2:])


@pytest.mark.published(source="closed form: the middle of a ring of radii 10 and 14 is 12 from its centre")
def test_reach_of_a_round_cord() -> None:
    loop = ring(12.0)
    assert cord_reach((loop,), ((50.0, 50.0),))[0] == pytest.approx(12.0, abs=1e-9)
    reach, at = cord_reach((loop,), ((62.0, 50.0),))
    assert reach == pytest.approx(24.0, abs=0.05)
    assert at == pytest.approx((38.0, 50.0), abs=0.6)
    assert cord_reach((), ()) == (0.0, (0.0, 0.0))


def test_both_ends_of_an_open_cord_count() -> None:
    loop = CordLoop("groove 1", "a", (Line((0.0, 0.0), (30.0, 0.0)),), 2.8, 2.1, closed=False)
    assert cord_reach((loop,), ((0.0, 0.0),)) == (30.0, (30.0, 0.0))


@pytest.mark.published(
    source="closed form: a disc of radius r whose centre is off inside a circle of radius R covers an angle of "
    "2 acos((R^2 + (R - off)^2 - r^2) / (2 R (R - off))) of it"
)
@pytest.mark.parametrize("radius", [45.0, 70.0])
def test_a_lone_round_cord_takes_the_screws_that_geometry_asks_for(radius: float) -> None:
    """Screws beside a circle: each covers no more of it than the chord through its disc's middle."""
    panel = replace(sample_panel(), width=300.0, height=300.0, keep_clear=())
    far = replace(sample_routed(), ports=(), channels=(), tank=replace(sample_routed().tank, box=None))
    far = replace(far, pump=replace(far.pump, inlet=(-500.0, 0.0), outlet=(-500.0, 50.0), screws=()))
    far = replace(far, channels=tuple(replace(c, runs=()) for c in sample_routed().channels))
    loop = ring(radius, centre=(150.0, 150.0))
    screwed = place_screws(panel, far, (loop,), clearances_of(panel))
    assert screwed.coverage is not None
    assert screwed.coverage.stretches == ()
    near = [at for at in screwed.screws if abs(math.dist(at, (150.0, 150.0)) - radius) < 20.0]
    # A screw keeps off the groove by half its hole and 1 mm, and covers that much less of the circle.
    off, reach = 1.4 + screw("M4").clearance / 2 + 1.0, 20.0
    share = 2 * math.acos((radius**2 + (radius - off) ** 2 - reach**2) / (2 * radius * (radius - off)))
    least = math.ceil(2 * math.pi / share)
    assert least <= len(near) <= least + 1


@settings(max_examples=10, deadline=None)
@given(
    x=st.floats(0, 160), y=st.floats(0, 110), wide=st.floats(5, 40), high=st.floats(5, 30), fine=st.booleans()
)
def test_whatever_a_place_could_reach_is_reached(
    x: float, y: float, wide: float, high: float, fine: bool
) -> None:
    box = KeepClear("box", (x, y, x + wide, y + high), 1)
    panel = replace(sample_panel(), keep_clear=(box,))
    panel = replace(panel, make=replace(panel.make, screw="M3" if fine else "M4"))
    routed, gaps = sample_routed(), clearances_of(panel)
    sealed = close_sample(panel, routed)
    (coverage,) = sealed.coverage
    head = footprint_diameter(panel) / 2
    assert all(shapely.box(*box.box).distance(shapely.Point(s)) >= head for s in sealed.screws)
    room = find_room(panel, routed, sealed.loops, gaps)
    assert all(
        math.dist(a, b) >= room.apart - 1e-6 for k, a in enumerate(sealed.screws) for b in sealed.screws[:k]
    )
    places = list_places(panel, room)
    points = np.concatenate([path_points(loop.path, 1.0) for loop in sealed.loops])
    tree = shapely.STRtree(shapely.points(places.points[places.tried]))
    could = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)[1]
    does = distances(points, sealed.screws)
    half = coverage.spacing / 2
    tried = places.points[places.tried]
    # Where no place is within reach, the nearest serves, or one that is hardly farther.
    reach = np.where(could <= half - 0.5, half - 0.5, could / 0.9)
    for k in np.flatnonzero(does > np.maximum(reach, half) + 1e-6):
        # Whatever could serve this point is kept off by a screw that holds something else.
        able = tried[np.hypot(*(tried - points[k]).T) <= reach[k]]
        assert distances(able, sealed.screws).max() < room.apart
    assert coverage.least <= len(sealed.screws) <= coverage.least + 3
    open_length = sum(stretch.length for stretch in coverage.stretches)
    assert open_length == pytest.approx(
        (does > half + 1e-6).mean() * sum(s.length for s in sealed.loops), abs=6.0
    )
    assert all(stretch.blockers for stretch in coverage.stretches)


def test_places_are_free_and_fine_where_room_is_narrow() -> None:
    panel, routed = sample_panel(), sample_routed()
    room = find_room(panel, routed, close_sample(panel, routed).loops, clearances_of(panel))
    # A slot of 0.6 mm that the fine grid misses, and one of 2 mm.
    slot = shapely.box(30.2, 40.0, 30.8, 60.0)
    lane = shapely.box(60.5, 40.0, 62.5, 60.0)
    hall = shapely.box(90.0, 40.0, 100.0, 60.0)
    places = list_places(panel, replace(room, free=shapely.union_all([slot, lane, hall])))
    assert shapely.intersects_xy(shapely.union_all([slot, lane, hall]).buffer(1e-9), *places.points.T).all()
    tried = places.points[places.tried]
    assert (tried[:, 0] < 31).sum() >= 20
    assert ((tried[:, 0] > 60) & (tried[:, 0] < 70)).sum() >= 2 * 21
    # In the hall every other line of the fine grid is tried, and the outermost ones that are free.
    assert 5 * 11 <= ((tried[:, 0] > 80) & (tried[:, 0] < 99)).sum() <= 5 * 13
    whole = list_places(panel, room)
    assert shapely.intersects_xy(room.free, whole.points[:, 0], whole.points[:, 1]).all()
    assert (np.diff(whole.points[:, 1]) >= 0).all()


def test_blockers_are_named_by_what_they_take() -> None:
    panel, routed = sample_panel(), sample_routed()
    room = find_room(panel, routed, close_sample(panel, routed).loops, clearances_of(panel))
    assert name_blockers(room, (145.0, 100.0), 15.0) == ("tank",)
    assert EDGE in name_blockers(room, (100.0, 0.0), 3.0)
    assert "keep-clear region cable slot" in name_blockers(room, (8.0, 18.0), 6.0)


@pytest.mark.published(
    source="closed form: two lands of 2, two grooves of 2.8, 1 mm on both sides of a 4.5 mm hole ask for 16.1 mm"
)
def test_narrow_gap_lacks_what_the_sum_of_its_parts_tells() -> None:
    panel, routed = sample_panel(), sample_routed()
    # Channels 8 mm wide at y 40 and at y 60: 12 mm between them.
    near = replace(
        routed,
        channels=tuple(
            replace(
                c, runs=tuple(replace(r, points=((60.0, 60.0), (90.0, 60.0))) for r in c.runs[:1]), holes=()
            )
            if c.name == "radiator - tank"
            else c
            for c in routed.channels
        ),
    )
    gap = find_narrow_gap(panel, near, clearances_of(panel), "back", (75.0, 50.0), 15.0)
    assert gap is not None
    assert set(gap.between) == {"channel pump - blocks", "channel radiator - tank"}
    assert gap.missing == pytest.approx(16.1 - 12.0, abs=0.11)


def test_even_spacing_keeps_what_is_served_and_lowers_the_greatest_distance() -> None:
    x, y = np.meshgrid(np.arange(0.0, 101.0), np.arange(0.0, 5.0))
    places = np.column_stack((x.ravel(), y.ravel()))
    demand = np.column_stack((np.arange(0.0, 100.5, 0.5), np.full(201, 8.0)))
    reach = np.full(201, 25.0)
    screws = np.array([(20.0, 0.0), (38.0, 0.0), (80.0, 0.0)])
    evened = even_out(screws, 0, places, demand, reach, 8.0)
    before, after = (
        np.hypot(*(demand[:, None] - s[None]).transpose(2, 0, 1)).min(axis=1) for s in (screws, evened)
    )
    assert after.max() < before.max() <= 25.0
    # Evenly: at 1/6, 3/6 and 5/6 of the line, as near to it as may be.
    assert evened[:, 0] == pytest.approx([100 / 6, 50.0, 500 / 6], abs=2.5)
    assert (evened[:, 1] == 4.0).all()
    held = even_out(screws, 2, places, demand, reach, 8.0)
    assert (held[:2] == screws[:2]).all()
