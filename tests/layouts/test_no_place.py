"""No place of pump and tank: what is in the way, and what would help; and a routing that is refused."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from geom.errors import LayoutError
from layouts import route
from layouts.file.read import read_panel
from layouts.ground import survey_panel
from layouts.no_place import has_place, widen_pump, widen_tank
from layouts.panel import KeepClear
from layouts.panels.catalogue import demo_path
from layouts.place import PumpPlace
from layouts.place_bounds import find_placements
from layouts.refused import explain_refused
from layouts.routing.all_channels.route_instance import route_instance
from layouts.routing.effort import QUICK, THOROUGH
from layouts.tank_over_pump import match_drops
from layouts.terrain import lay_terrain

LASER = read_panel(demo_path("laser-driver"))


def clamp(*box):
    return replace(LASER, keep_clear=(KeepClear("clamp", box, 1),))


def fail(panel):
    with pytest.raises(LayoutError) as caught:
        next(find_placements(survey_panel(panel)))
    return caught.value.failure


def test_what_lies_between_tank_and_pump_is_named_and_moved():
    panel = clamp(84.0, 64.0, 148.0, 65.0)
    failure = fail(panel)
    assert failure.kind == "no place"
    assert failure.proven
    assert failure.proven_everywhere
    assert failure.placement is None
    assert failure.describe_places() == ""
    assert str(failure).startswith(f"{LASER.at_line('pump')}: no place for the pump under the tank: ")
    assert 'keep-clear region "clamp" lies in the way from the tank down to the pump' in failure.text
    assert failure.remedies[0].works
    assert 'keep-clear region "clamp"' in failure.remedies[0].text


def test_a_remedy_that_was_tried_gives_a_place():
    panel = replace(LASER, pump=replace(LASER.pump, within=(110.0, 8.0, 148.0, 46.0), turns=(0,)))
    failure = fail(panel)
    widened = [r.text for r in failure.remedies if r.works and r.text.startswith("widen")]
    assert widened
    by = float(widened[0].split(" by ")[1].split(" mm")[0])
    widen = widen_pump if widened[0].startswith("widen pump") else widen_tank
    assert has_place(survey_panel(widen(panel, by)))
    assert not has_place(survey_panel(widen(panel, by - panel.pitch)))


@pytest.mark.parametrize("name", ["laser-driver", "cupboard-server", "workshop-render"])
def test_a_demo_has_a_place(name):
    assert has_place(survey_panel(read_panel(demo_path(name))))


@pytest.mark.published(
    source="geometry of the test's own: a drop as large in section as its 8 mm bore, a bonded land of 4 mm; no source"
)
@pytest.mark.parametrize(("x", "free"), [(108.2, True), (108.1, False), (91.8, True), (91.9, False)])
def test_a_drop_keeps_its_land_to_a_region(x, free):
    # From (100, 80) down to (100, 30) mm; a drop 6 mm deep is 8.4 mm wide (50.3 mm2);
    # half of it and a land of 4 mm take 8.2 mm on each side.
    box = (x, 50.0, x + 5.0, 60.0) if x > 100 else (x - 5.0, 50.0, x, 60.0)
    place = PumpPlace((100.0, 30.0), (115.0, 30.0), 0, ())
    reasons = Counter()
    found = match_drops(survey_panel(clamp(*box)), place, np.array([80.0, 40.0]), reasons)
    # The lower one ends below the region.
    assert found.tolist() == [free, True]
    assert bool(reasons) is not free


def test_what_was_refused_is_told_with_its_place():
    ground = survey_panel(LASER)
    terrain = lay_terrain(ground, next(find_placements(ground)))
    routing = route_instance(terrain.instance, 0, 0, 1)
    problems = (
        "the drain does not meet the pump inlet",
        'channel "drain": 3.000 mm to the edge, 4 needed',
        'channel "drain": 3.000 mm to the edge, 4 needed',
    )
    failure = explain_refused(LASER, terrain, routing.traces, problems, 7, 2, 9)
    assert failure.kind == "refused"
    assert not failure.proven
    assert "3.000 mm to the edge" in failure.text
    assert failure.channels == ("drain",)
    assert failure.links[0].ends[0] == terrain.placement.inlet
    assert not any(remedy.works for remedy in failure.remedies)
    assert "7 of 9 places of pump and tank were looked at; 2 of them were proven impossible" in str(failure)
    assert "no layout was found" in str(failure)
    assert any("--effort thorough" in remedy.text for remedy in failure.remedies)
    longest = explain_refused(LASER, terrain, routing.traces, problems, effort=THOROUGH)
    assert not any("--effort" in remedy.text for remedy in longest.remedies)
    assert any("another --seed" in remedy.text for remedy in longest.remedies)


def test_where_every_routing_is_refused_the_answer_is_whole(monkeypatch):
    problem = 'channel "drain": 3.000 mm to the edge, 4 needed'
    monkeypatch.setattr(route, "verify_routed", lambda panel, routed: (problem,))
    with pytest.raises(LayoutError) as caught:
        route.route_panel(LASER, 0, QUICK)
    failure = caught.value.failure
    assert failure.kind == "refused"
    assert problem in failure.text
    assert failure.placement is not None
    assert 0 < failure.tried <= failure.places


def test_places_tried_are_no_more_than_there_are():
    walls = (KeepClear("lower", (72.0, 0.0, 75.0, 50.0), 1), KeepClear("upper", (72.0, 72.0, 75.0, 120.0), 1))
    panel = replace(LASER, keep_clear=walls)
    with pytest.raises(LayoutError) as caught:
        route.route_panel(panel, 0, QUICK)
    failure = caught.value.failure
    assert failure.places == sum(1 for _ in find_placements(survey_panel(panel)))
    assert failure.impossible <= failure.tried <= failure.places
    # All that fail alike are told apart from those that were only not found.
    assert failure.impossible > 1
