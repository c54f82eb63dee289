"""How many posts a tank's cover needs, and where they stand."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.outline import region_polygon
from geom.standards import tables
from layouts.clearance import clearances_of
from layouts.closing.post_cords import cord_radius, post_diameter
from layouts.closing.wet_regions import outline_channel, outline_tank
from layouts.outlines import outline_bore
from layouts.strength.cover_limits import bow_limits
from layouts.strength.post_room import find_post_room
from layouts.strength.post_search import list_bows, search_places
from layouts.strength.posts import (
    MOST_POSTS,
    add_posts,
    bow_between_posts,
    cure_by_posts,
    propose_posts,
    thicker_cover,
)
from layouts.strength.working_pressure import find_working_pressure
from tests.layouts.sample_posts import resize_tank, sample_large_tank
from tests.layouts.sample_routed import sample_panel, sample_routed


@pytest.mark.published(
    source="closed form: 2 x (3 x 1.78 + 2.6 + 2) mm, the cord table's groove, up to 0.1 mm"
)
def test_post_holds_a_cord_at_three_sections():
    panel, _ = sample_large_tank()
    assert cord_radius(panel) == pytest.approx(5.34)
    assert post_diameter(panel) == pytest.approx(19.9)


def test_a_large_screw_asks_for_a_larger_post():
    panel, _ = sample_large_tank()
    make = replace(panel.make, cord=1.5, screw="M6")
    large = replace(panel, make=make)
    assert cord_radius(large) == pytest.approx(tables.screw("M6").clearance / 2 + 2.0)
    assert post_diameter(large) > post_diameter(replace(panel, make=replace(make, screw="M3")))


@pytest.mark.published(
    source="Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, table 8: 0.00406 q a4/D for a square"
)
def test_plain_cover_bows_as_printed():
    """A square of 100 mm between the middles of the cord, 6 mm of PMMA at 23 °C, 50 kPa."""
    side = 100.0 - 2 * (2.0 + 1.3)
    panel, routed = resize_tank((100.0, 85.0, 100.0 + side, 85.0 + side), 6.0)
    panel = replace(panel, coolant=replace(panel.coolant, temperature_c=20.0))
    row = tables.material("PMMA cast")
    stiffness = row.young_mpa * 6.0**3 / (12 * (1 - row.poisson**2))
    test = 0.00406 * 0.05 * 100.0**4 / stiffness
    lasting = (
        find_working_pressure(panel).pressure_pa
        * 1e-6
        / 0.05
        * row.young_mpa
        / row.young_at(20.0, lasting=True)
    )
    assert bow_between_posts(panel, routed, ()) == pytest.approx(test * max(1.0, lasting), rel=0.002)


def test_posts_are_chosen_for_the_hottest_coolant():
    panel, routed = sample_large_tank(8.0)
    cool, hot = (propose_posts(panel, routed, celsius) for celsius in (None, 70.0))
    assert hot.plain_bow > 1.3 * cool.plain_bow
    assert cool == propose_posts(panel, routed, panel.coolant.temperature_c)
    assert len(add_posts(panel, routed, 70.0).tank.posts) > len(add_posts(panel, routed).tank.posts)


@pytest.mark.parametrize("cover", [5.0, 6.0, 8.0])
def test_fewest_posts_that_do(cover):
    """No smaller number does, by the same search; one fewer of those placed does not either."""
    panel, routed = sample_large_tank(cover)
    proposal = propose_posts(panel, routed)
    assert proposal.bow <= proposal.limit < proposal.plain_bow
    assert not proposal.hindrance
    assert proposal.bow == pytest.approx(bow_between_posts(panel, routed, proposal.places), rel=1e-9)
    for left in itertools.combinations(proposal.places, len(proposal.places) - 1):
        assert bow_between_posts(panel, routed, left) > proposal.limit


def test_two_posts_about_as_good_as_the_best_pair():
    panel, routed = sample_large_tank()
    room = find_post_room(panel, routed, post_diameter(panel))
    corner = (100.0 - 3.3, 85.0 - 3.3)
    bows = list_bows(corner, 146.6, 96.6, room.places)
    found = bow_between_posts(panel, routed, search_places(bows, room.apart, 2)[0])
    pairs = [
        (a, b)
        for a, b in itertools.combinations(range(0, len(room.places), 3), 2)
        if math.dist(room.places[a], room.places[b]) >= room.apart
    ]

    def bow_of(pair):
        chosen = list(pair)
        forces = np.linalg.solve(bows.between[np.ix_(chosen, chosen)], bows.free_at[chosen])
        return float((bows.free - forces @ bows.under[chosen]).max())

    best = min(bow_of(pair) for pair in pairs)
    whole = bow_between_posts(panel, routed, ()) / bows.free.max()
    assert found <= best * whole * 1.02


@settings(max_examples=6, deadline=None)
@given(
    left=st.integers(6, 18),
    right=st.integers(6, 18),
    tall=st.integers(6, 20),
    cover=st.sampled_from([3.0, 5.0, 8.0]),
    cord=st.sampled_from([1.5, 1.78, 2.0]),
)
def test_posts_stand_clear_of_all_that_opens_into_the_tank(left, right, tall, cover, cord):
    box = (145.0 - 5.0 * left, 85.0, 145.0 + 5.0 * right, 85.0 + 5.0 * tall)
    panel, routed = resize_tank(box, cover, cord)
    proposal = propose_posts(panel, routed)
    assert len(proposal.places) <= MOST_POSTS
    assert bool(proposal.places) <= proposal.needed
    assert (proposal.bow > proposal.limit) == bool(proposal.hindrance)
    built = add_posts(panel, routed)
    assert built.tank.posts == proposal.places
    half, way = proposal.diameter / 2, panel.make.cutter + 1.0
    pocket = region_polygon((outline_tank(routed, 0.0),), 0.001)
    feed, *others = routed.channels
    for at in proposal.places:
        place = shapely.Point(at)
        assert pocket.contains(place)
        assert place.distance(pocket.exterior) >= half + way - 0.01
        gap = place.distance(region_polygon(outline_channel(feed, 0.0), 0.001)) - half
        assert gap >= panel.tank.outlet_bore - 0.01
        for channel in others:
            assert place.distance(region_polygon(outline_channel(channel, 0.0), 0.001)) >= half + way - 0.01
        assert all(
            place.distance(outline_bore(port)) >= half + way - 0.01
            for port in routed.ports
            if port.channel == "tank"
        )
    for a, b in itertools.combinations(proposal.places, 2):
        assert math.dist(a, b) >= proposal.diameter + way - 1e-6


def test_post_beside_the_way_down_to_the_outlet_where_it_serves_as_well():
    panel, routed = sample_large_tank(10.0)
    panel = replace(panel, rules=replace(panel.rules, test_pressure_pa=20_000.0))
    (post,) = propose_posts(panel, routed).places
    feed = routed.channels[0]
    assert abs(post[0] - routed.tank.outlet[0]) >= feed.width / 2 + post_diameter(panel) / 2 - 1e-6


def test_a_screw_over_the_tank_keeps_off_what_lies_behind():
    """The pump's bores and screws lie before the tank's floor here: none stands in a post's way, a seat behind does."""
    panel, routed = sample_large_tank()
    free = find_post_room(panel, routed, post_diameter(panel))
    assert not [name for name in free.obstacles if "pump" in name]
    behind = replace(panel, pump=replace(panel.pump, on="back", seat_diameter=150.0))
    assert "pump seat" in find_post_room(behind, routed, post_diameter(panel)).obstacles


def test_no_posts_without_the_file_or_the_need():
    panel, routed = sample_large_tank()
    plain = replace(panel, tank=replace(panel.tank, posts="none"))
    assert add_posts(plain, routed) is routed
    assert cure_by_posts(panel, routed) is None
    count = len(propose_posts(panel, routed).places)
    assert (
        cure_by_posts(plain, routed).text == f'let {count} posts stand in the tank (posts = "auto" in [tank])'
    )
    thick = replace(panel, make=replace(panel.make, cover=30.0))
    assert add_posts(thick, routed) is routed
    assert not propose_posts(thick, routed).needed
    for closing in ("bonded", "one-piece"):
        assert propose_posts(sample_panel(closing), sample_routed(closing)) is None
    separate = replace(routed, tank=replace(routed.tank, box=None))
    assert propose_posts(panel, separate) is None


def test_what_keeps_posts_out_is_told():
    narrow = propose_posts(*resize_tank((100.0, 85.0, 240.0, 115.0), 2.0))
    assert narrow.places == ()
    assert narrow.hindrance == (
        "a post of 19.9 mm with a way of 7 mm on each side needs a pocket of 33.9 mm, and the tank is 30 mm"
    )
    full = propose_posts(*resize_tank((125.0, 85.0, 165.0, 125.0), 1.0))
    assert full.places == ()
    assert "leave no place for a post of 19.9 mm" in full.hindrance
    few = propose_posts(*sample_large_tank(2.0))
    assert few.places
    assert few.bow < few.plain_bow / 5
    assert "leave it at" in few.hindrance


def test_thickness_that_does_instead():
    panel, routed = sample_large_tank()
    bow, limit = bow_between_posts(panel, routed, ()), bow_limits(tables.cord(1.78))[0]
    thick = thicker_cover(panel, bow, limit)
    for cover, does in ((thick, True), (thick - 0.5, False)):
        assert (
            bow_between_posts(replace(panel, make=replace(panel.make, cover=cover)), routed, ()) <= limit
        ) == does


def test_the_cutter_and_the_coolant_pass():
    panel, routed = sample_large_tank()
    wide = replace(panel, tank=replace(panel.tank, outlet_bore=20.0))
    assert find_post_room(panel, routed, 19.9).way == panel.make.cutter + 1.0
    assert find_post_room(wide, routed, 19.9).way == 10.0
    assert clearances_of(panel).land == 2.0


def test_a_crowd_of_posts_leaves_the_cutter_its_ways():
    """As many as fit, and no more: the search stops where the next would stand too near."""
    panel, routed = resize_tank((110.0, 85.0, 200.0, 160.0), 3.0)
    room = find_post_room(panel, routed, post_diameter(panel))
    assert room.apart == pytest.approx(post_diameter(panel) + panel.make.cutter + 1.0)
    places, _ = search_places(list_bows((106.7, 81.7), 96.6, 81.6, room.places), room.apart, 30)
    assert 2 <= len(places) < 30
    assert min(math.dist(a, b) for a, b in itertools.combinations(places, 2)) >= 19.9 + 7.0 - 1e-6
    left = [at for at in room.places if min(math.dist(at, one) for one in places) >= room.apart]
    assert left == []
