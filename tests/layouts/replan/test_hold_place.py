"""Tank and pump move no more than they must."""

from __future__ import annotations

import math
from collections import Counter
from itertools import islice

import numpy as np
import pytest

from layouts.ground import survey_panel
from layouts.place import Placement, list_pumps, list_tanks
from layouts.replan.hold_place import explain_no_hold, hold_places
from layouts.tank_over_pump import match_pairs, match_tanks
from tests.layouts.replan.sample_edits import APART, MAIN, MANY_ENDS, edit_demo, lay_demo, list_allowed, move


def moved_by(one: Placement, two: Placement) -> float:
    total = math.dist(one.inlet, two.inlet) + math.dist(one.outlet, two.outlet)
    return total + math.dist((one.box or one.top)[:2], (two.box or two.top)[:2])


@pytest.mark.parametrize("name", [MAIN, MANY_ENDS, APART])
def test_an_unchanged_panel_holds_both(name: str) -> None:
    panel, laid = lay_demo(name)
    held = next(hold_places(survey_panel(panel), laid.placement))
    assert moved_by(held, laid.placement) == 0.0
    assert (held.screws, held.top) == (laid.placement.screws, laid.placement.top)


def test_the_nearest_of_all_places_comes_first() -> None:
    laid = lay_demo(MAIN)[1]
    for to in list_allowed(MAIN, "tank")[::23]:
        ground = survey_panel(edit_demo(MAIN, move("tank", to)))
        first = next(hold_places(ground, laid.placement))
        boxes = np.array(list_tanks(ground, Counter()))
        places = [
            Placement(pump.inlet, pump.outlet, pump.turn_deg, pump.screws, tuple(boxes[0]), pump.inlet, 0.0)
            for pump in list_pumps(ground, Counter())
            if match_tanks(ground, pump, boxes, Counter())[0]
        ]
        assert moved_by(first, laid.placement) == pytest.approx(
            min(moved_by(place, laid.placement) for place in places)
        )


def test_further_places_are_unlike_those_before() -> None:
    panel, laid = lay_demo(MAIN)
    places = list(islice(hold_places(survey_panel(panel), laid.placement), 6))
    assert len(places) == 6
    assert len({(place.inlet, place.box, place.turn_deg) for place in places}) == 6
    for number, one in enumerate(places):
        for two in places[:number]:
            apart = max(math.dist(one.inlet, two.inlet), math.dist((one.box or ())[:2], (two.box or ())[:2]))
            assert one.turn_deg != two.turn_deg or apart > 2 * panel.pitch


def test_where_none_may_stand_it_is_told_why() -> None:
    x, y = lay_demo(MAIN)[1].placement.inlet
    panel = edit_demo(MAIN, {"add": "clear", "box": [285.0, 20.0, 395.0, 110.0], "name": "fan"})
    ground = survey_panel(panel)
    assert list(hold_places(ground, lay_demo(MAIN)[1].placement)) == []
    assert 'keep-clear region "fan"' in explain_no_hold(ground).text
    assert 285.0 < x < 395.0
    assert 20.0 < y < 110.0


@pytest.mark.parametrize("name", [MAIN, MANY_ENDS])
def test_pairs_fit_as_each_pump_alone_says(name: str) -> None:
    ground = survey_panel(lay_demo(name)[0])
    boxes = np.array(list_tanks(ground, Counter()))
    pumps = list_pumps(ground, Counter())[::7]
    for pump in pumps:
        alone = match_tanks(ground, pump, boxes, Counter())
        inlets = np.tile(pump.inlet, (len(boxes), 1))
        assert (match_pairs(ground, inlets, pump.turn_deg, boxes) == alone).all()
    assert len(pumps) > 5
