"""The order in which places are tried: all over the box, each once; and more effort never dearer."""

from __future__ import annotations

from collections import Counter
from itertools import islice, pairwise

import numpy as np
import pytest
from sample_demos import route_demo
from scipy.spatial.distance import cdist

from layouts.cost_field import CostField
from layouts.file.read import read_panel
from layouts.ground import survey_panel
from layouts.panels.catalogue import demo_path
from layouts.place import list_pumps
from layouts.place_bounds import find_placements, order_far, spread_placements
from layouts.place_order import PlaceOrder
from layouts.route import route_panel
from layouts.routing.effort import NORMAL, QUICK, THOROUGH, list_stages
from layouts.verify import verify_routed

CROWDED = """
[panel]
name = "crowded"
size = ["200 mm", "150 mm"]
corner_radius = "6 mm"
pitch = "5 mm"
[make]
method = "milled"
closing = "cord"
material = "aluminium 6082-T6"
body = "22 mm"
cover = "10 mm"
cord = "1.5 mm"
screw = "M4"
cutter = "5 mm"
room = ["300 mm", "200 mm", "80 mm"]
[channel]
width = "6 mm"
depth = "7 mm"
bend_radius = "14 mm"
layers = 1
[channel.own]
"block - radiator" = "8 mm"
[coolant]
fluid = "water"
temperature = "20 °C"
[tank]
kind = "pocket"
size = ["40 mm", "30 mm"]
depth = "12 mm"
within = ["80 mm", "80 mm", "190 mm", "142 mm"]
outlet_bore = "6 mm"
fill = {on = "top", thread = "G1/8"}
[pump]
on = "front"
within = ["70 mm", "15 mm", "185 mm", "90 mm"]
inlet_bore = "8 mm"
outlet_bore = "8 mm"
outlet_offset = ["25 mm", "0 mm"]
turns = ["0 deg", "90 deg", "180 deg", "270 deg"]
seat = {diameter = "30 mm", depth = "1 mm"}
screws = {size = "M3", circle = "38 mm", count = 4}
curve = [["0 L/min", "2.4 m"], ["2 L/min", "2 m"], ["4 L/min", "1.2 m"], ["6 L/min", "0 m"]]
[[part]]
name = "block"
resistance = [["0.8 L/min", "1.6 kPa"]]
inlet = {on = "front", within = ["75 mm", "55 mm", "105 mm", "75 mm"], thread = "G1/8"}
outlet = {on = "front", within = ["65 mm", "60 mm", "75 mm", "70 mm"], thread = "G1/8"}
[[part]]
name = "radiator"
resistance = [["1.6 L/min", "2 kPa"]]
inlet = {on = "left", between = ["55 mm", "85 mm"], thread = "G1/8"}
outlet = {on = "bottom", between = ["50 mm", "100 mm"], thread = "G1/8"}
[loop]
order = ["tank", "pump", "block", "radiator", "tank"]
[drain]
port = {on = "bottom", between = ["80 mm", "180 mm"], thread = "G1/8"}
[[keep_clear]]
name = "clamp"
box = ["50 mm", "15 mm", "80 mm", "45 mm"]
"""
"""A panel on which about one place in twenty can be routed, the most promising not among them."""


@pytest.fixture(scope="module")
def crowded(tmp_path_factory):
    """Return the crowded panel."""
    path = tmp_path_factory.mktemp("panels") / "crowded.toml"
    path.write_text(CROWDED, encoding="utf-8")
    return read_panel(path)


def test_a_panel_whose_cheapest_places_all_fail_is_routed_and_more_effort_is_not_dearer(crowded):
    quick = route_panel(crowded, 0, QUICK)
    assert verify_routed(crowded, quick) == ()
    normal = route_panel(crowded, 0, NORMAL)
    assert normal.cost <= quick.cost
    assert normal.bound >= quick.bound


@pytest.mark.parametrize("name", ["new", "laser-driver"])
def test_more_effort_is_never_dearer_on_an_example(name):
    quick, normal = (route_demo(name, effort) for effort in (QUICK, NORMAL))
    assert normal.cost <= quick.cost
    assert normal.bound >= quick.bound


def test_each_effort_begins_with_those_below_it():
    assert list_stages(THOROUGH) == (QUICK, NORMAL, THOROUGH)
    assert list_stages(QUICK) == (QUICK,)


def test_spread_places_are_all_places_once_each():
    ground = survey_panel(read_panel(demo_path("laser-driver")))
    field = CostField(ground)
    spread = list(spread_placements(ground, field))
    assert len(set(spread)) == len(spread)
    assert set(spread) == set(find_placements(ground, field))


def test_few_spread_places_reach_every_turn(crowded):
    ground = survey_panel(crowded)
    first = list(islice(spread_placements(ground, CostField(ground)), 40))
    assert {place.turn_deg for place in first} == set(crowded.pump.turns)
    assert len({(place.inlet, place.turn_deg) for place in first}) == len(first)


@pytest.mark.published(
    source="Gonzalez, Theoretical Computer Science 38 (1985), recalled, not verified: farthest-first choice"
)
def test_no_pump_is_farther_from_the_first_than_they_are_from_each_other(crowded):
    """With distances by scipy; at most twice the least radius that any choice of as many could have."""
    pumps = [place for place in list_pumps(survey_panel(crowded), Counter()) if place.turn_deg == 90]
    order = list(order_far(pumps))
    assert sorted(order) == list(range(len(pumps)))
    apart = cdist(*[[place.inlet for place in pumps]] * 2)
    for count in (2, 5, 12, 30):
        some = order[:count]
        radius = apart[:, some].min(axis=1).max()
        least = (apart[np.ix_(some, some)] + np.diag([np.inf] * count)).min()
        assert radius <= least + 1e-9


def test_the_most_promising_come_in_order_and_keep_their_looks():
    ground = survey_panel(read_panel(demo_path("workshop-render")))
    order = PlaceOrder(ground, CostField(ground))
    few, more = order.pull(5), order.pull(12)
    assert all(a is b for a, b in zip(few, more, strict=False))
    assert all(a.bound <= b.bound for a, b in pairwise(more))
    assert order.count_all() == len(list(find_placements(ground)))


def test_further_places_are_ones_not_yet_routed():
    ground = survey_panel(read_panel(demo_path("workshop-render")))
    order = PlaceOrder(ground, CostField(ground))
    tried = order.pull(10)
    for look in tried:
        look.searches = 0
    further = list(islice(order.find_further(), 30))
    assert not any(look is other for look in further for other in tried)
