"""A changed panel laid out from its last layout: sound, the same each time, and no more changed than need be."""

from __future__ import annotations

import pickle
import random
from statistics import median

import pytest
import shapely

from geom.errors import LayoutError
from geom.frame import SAME_MM
from layouts.laid_out import LaidOut
from layouts.panel import Panel
from layouts.plan import Channel, Routed
from layouts.replan.re_route import MOST_PLACES, re_route
from layouts.route import lay_out
from layouts.routing.effort import QUICK
from layouts.verify import verify_routed
from tests.layouts.replan.sample_edits import (
    APART,
    MAIN,
    MANY_ENDS,
    TWO_FACES,
    draw_moves,
    edit_demo,
    lay_demo,
    list_allowed,
    move,
)

FAR_MM = 45.0
"""Channels farther than this from all that moved gain nothing by it: beyond two channels with their walls."""


def outline(channel: Channel) -> shapely.Geometry:
    return shapely.MultiLineString([run.points for run in channel.runs])


def answer(panel: Panel, laid: LaidOut) -> Routed | str:
    try:
        return re_route(panel, laid).routed
    except LayoutError as error:
        return str(error)


@pytest.mark.parametrize("name", [MAIN, TWO_FACES, MANY_ENDS, APART])
def test_an_unchanged_panel_keeps_its_routing(name: str) -> None:
    panel, laid = lay_demo(name)
    again = re_route(panel, laid)
    assert again.routed.channels == laid.routed.channels
    assert again.routed.ports == laid.routed.ports
    assert (again.routed.tank, again.routed.pump) == (laid.routed.tank, laid.routed.pump)
    assert again.routed.cost == pytest.approx(laid.routed.cost)
    assert again.routed.bound is None


@pytest.mark.parametrize(("name", "count"), [(MAIN, 200), (TWO_FACES, 60)])
def test_moved_ports_are_met_and_all_distances_hold(name: str, count: int) -> None:
    laid = lay_demo(name)[1]
    failed = 0
    for port, to in draw_moves(name, count, 40.0):
        panel = edit_demo(name, move(f"port:{port.name}", to))
        try:
            after = re_route(panel, laid)
        except LayoutError:
            failed += 1
            continue
        assert verify_routed(panel, after.routed) == ()
        placed = next(one for one in after.routed.ports if one.name == port.name)
        assert placed.at[:2] == pytest.approx(to)
    assert failed < count / 2


@pytest.mark.parametrize("name", [MAIN, TWO_FACES])
def test_the_same_change_gives_the_same_answer(name: str) -> None:
    laid = lay_demo(name)[1]
    for port, to in draw_moves(name, 6, 30.0, seed=5):
        panel = edit_demo(name, move(f"port:{port.name}", to))
        assert answer(panel, laid) == answer(panel, pickle.loads(pickle.dumps(laid)))


def test_channels_far_from_what_moved_keep_their_route() -> None:
    laid = lay_demo(MAIN)[1]
    stayed = []
    for port, to in draw_moves(MAIN, 40, 10.0, seed=2):
        after = re_route(edit_demo(MAIN, move(f"port:{port.name}", to)), laid)
        new, old = after.routed.channel(port.channel), laid.routed.channel(port.channel)
        moved = shapely.union(outline(new), outline(old))
        stayed += [
            after.routed.channel(channel.name).runs == channel.runs
            for channel in laid.routed.channels
            if channel.name != port.channel and outline(channel).distance(moved) > FAR_MM
        ]
    # Only where a channel finds no way, or a dear one, round the others are all routed anew.
    assert len(stayed) > 40
    assert sum(stayed) >= 0.9 * len(stayed)


@pytest.mark.parametrize("name", [MAIN, TWO_FACES, APART])
def test_a_moved_pump_stands_there_with_the_tank_above(name: str) -> None:
    laid = lay_demo(name)[1]
    nodes = list_allowed(name, "pump")
    done = 0
    for to in random.Random(1).sample(nodes, 8):
        panel = edit_demo(name, move("pump", to))
        try:
            after = re_route(panel, laid)
        except LayoutError:
            continue
        done += 1
        assert after.routed.pump.inlet == pytest.approx(to)
        assert after.placement.top[0] == pytest.approx(to[0])
        assert verify_routed(panel, after.routed) == ()
    assert done >= 2


def test_a_moved_tank_takes_the_pump_along() -> None:
    laid = lay_demo(MAIN)[1]
    x = (laid.placement.box or (0.0,))[0]
    nodes = [node for node in list_allowed(MAIN, "tank") if 20 <= abs(node[0] - x) <= 40]
    done = 0
    for to in random.Random(3).sample(nodes, min(6, len(nodes))):
        try:
            after = re_route(edit_demo(MAIN, move("tank", to)), laid)
        except LayoutError:
            continue
        done += 1
        box = after.placement.box
        assert box is not None
        assert box[:2] == pytest.approx(to)
        assert box[0] < after.routed.pump.inlet[0] < box[2]
    assert done


def test_a_region_dropped_on_a_channel_makes_it_go_round() -> None:
    laid = lay_demo(MAIN)[1]
    channel = laid.routed.channel("radiator upper - memory block")
    middle = outline(channel).interpolate(0.5, normalized=True)
    box = [middle.x - 5, middle.y - 5, middle.x + 5, middle.y + 5]
    panel = edit_demo(MAIN, {"add": "clear", "box": box, "name": "post"})
    after = re_route(panel, laid)
    assert verify_routed(panel, after.routed) == ()
    assert shapely.box(*box).intersects(outline(channel))
    assert shapely.box(*box).distance(outline(after.routed.channel(channel.name))) > channel.width / 2


def test_a_kept_route_stays_and_is_taken_up_again_when_let_go() -> None:
    panel, laid = lay_demo(MAIN)
    name = "radiator lower - tank"
    kept = edit_demo(MAIN, {"keep": f"channel:{name}"})
    assert [one.channel for one in kept.keep_routes] == [name]
    held = re_route(kept, laid)
    assert held.routed.channel(name).runs == laid.routed.channel(name).runs
    port, to = next(one for one in draw_moves(MAIN, 50, 10.0) if one[0].channel != name)
    after = re_route(edit_demo(MAIN, {"keep": f"channel:{name}"}, move(f"port:{port.name}", to)), held)
    assert after.routed.channel(name).runs == laid.routed.channel(name).runs
    again = re_route(panel, held)
    assert again.routed.channel(name).runs == laid.routed.channel(name).runs


def test_what_is_answered_at_once_is_about_as_good_as_a_short_search() -> None:
    laid = lay_demo(MAIN)[1]
    ratios = []
    for port, to in draw_moves(MAIN, 16, 30.0, seed=7):
        panel = edit_demo(MAIN, move(f"port:{port.name}", to))
        try:
            after = re_route(panel, laid)
        except LayoutError:
            continue
        ratios.append(after.routed.cost / lay_out(panel, 0, QUICK).routed.cost)
    assert len(ratios) > 10
    assert median(ratios) <= 1.02
    assert sum(ratio <= 1.15 for ratio in ratios) >= 0.8 * len(ratios)


def test_a_failure_tries_few_places_and_no_remedy() -> None:
    laid = lay_demo(MAIN)[1]
    failures = []
    for to in ((270.0, 15.0), (375.0, 70.0), (330.0, 160.0)):
        with pytest.raises(LayoutError, match=r"no layout was found|no place for the pump") as told:
            re_route(edit_demo(MAIN, move("port:memory block outlet", to)), laid)
        failures.append(told.value.failure)
    assert all(failure.tried <= MOST_PLACES for failure in failures)
    assert all(not failure.remedies for failure in failures if failure.kind != "no place")
    assert len({failure.kind for failure in failures}) > 1


def test_a_layout_of_another_grid_is_no_harm() -> None:
    panel = edit_demo(MAIN, {"changes": [{"path": ["panel", "size"], "value": ["410 mm", "220 mm"]}]})
    after = re_route(panel, lay_demo(MAIN)[1])
    assert verify_routed(panel, after.routed) == ()
    assert after.grid.columns == lay_demo(MAIN)[1].grid.columns + 2
    assert abs(after.placement.top[0] - after.routed.pump.inlet[0]) < SAME_MM
