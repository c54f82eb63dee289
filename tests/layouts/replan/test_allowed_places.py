"""Allowed places agree with what the file's checks and the layout accept."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import LayoutError, OutOfRange, PanelFileError
from geom.findings import KeyChange
from geom.frame import EDGES
from geom.outline import Point
from geom.standards import tables
from layouts.clearance import ports_apart
from layouts.file.gestures import gesture_changes
from layouts.ground import survey_panel
from layouts.panel import Panel
from layouts.replan.allowed_places import find_allowed
from layouts.replan.hold_place import hold_places
from layouts.replan.re_route import re_route
from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.instance import Terminal
from layouts.terrain import Terrain, lay_terrain
from tests.layouts.replan.sample_edits import (
    APART,
    MAIN,
    MANY_ENDS,
    TWO_FACES,
    edit_demo,
    lay_demo,
    list_allowed,
    loop_ports,
    move,
)


def list_nodes(panel: Panel) -> list[Point]:
    grid = survey_panel(panel).grid
    return [grid.point_of(cell) for cell in range(grid.cells)]


def has_ends(terrain: Terrain) -> bool:
    """Return whether all ends, free ports too, have a place beside all that have but one."""
    search = Negotiation(terrain.instance)
    for number, (need, net) in enumerate(zip(terrain.needs, terrain.instance.nets, strict=True)):
        pinned = [n for n, end in enumerate(need.ends) if end.port is None or end.port.at is not None]
        tables = search.tracer.tables[net.name]
        for n in range(len(need.ends)):
            if not tables[n].usable(search.fixed[number], search.near_others[number]).any():
                return False
        for n in pinned:
            for m in pinned:
                if m < n and is_near(terrain, net.ends[n], net.ends[m]):
                    return False
    return True


def is_near(terrain: Terrain, one: tuple[Terminal, ...], two: tuple[Terminal, ...]) -> bool:
    """Return whether two ends that have one place each stand too near each other."""
    if len({t.node for t in one}) != 1 or len({t.node for t in two}) != 1:
        return False
    grid, offsets = terrain.grid, terrain.instance.offsets[two[0].port_class][one[0].port_class].tolist()

    def spots(t: Terminal) -> set[tuple[int, int, int]]:
        return {
            (cell // grid.cells, cell % grid.columns, cell % grid.cells // grid.columns)
            for cell in (t.node, *t.bore)
        }

    return any(
        layer == other and [x - a, y - b] in offsets
        for layer, x, y in spots(one[0])
        for other, a, b in spots(two[0])
    )


def lay_held(panel: Panel, name: str) -> bool:
    """Return whether tank and pump may stand where they stood, and all ends have a place then."""
    before = lay_demo(name)[1].placement
    held = next(hold_places(survey_panel(panel), before), None)
    if held is None or (held.inlet, held.box, held.turn_deg) != (before.inlet, before.box, before.turn_deg):
        return False
    return has_ends(lay_terrain(survey_panel(panel), held))


@pytest.mark.parametrize("name", [MAIN, TWO_FACES, MANY_ENDS, APART])
@settings(deadline=None)
@given(data=st.data())
def test_a_port_at_an_allowed_node_has_all_ends_reachable(name: str, data: st.DataObject) -> None:
    port = data.draw(st.sampled_from(loop_ports(name)))
    nodes = list_allowed(name, f"port:{port.name}")
    panel = edit_demo(name, move(f"port:{port.name}", data.draw(st.sampled_from(nodes))))
    assert lay_held(panel, name)


def test_a_port_keeps_off_the_other_ends_of_its_own_channel() -> None:
    laid = lay_demo(MAIN)[1]
    fixed = next(port for port in laid.routed.ports if port.name == "graphics right outlet")
    own = next(port for port in laid.routed.ports if port.name == "graphics left outlet")
    assert fixed.channel == own.channel
    thread = tables.thread(own.thread)
    nodes = list_allowed(MAIN, "port:graphics left outlet")
    nearest = min(math.dist(node, fixed.at[:2]) for node in nodes)
    assert ports_apart(thread, thread) <= nearest < ports_apart(thread, thread) + 5.0


@pytest.mark.parametrize("name", [MAIN, TWO_FACES, MANY_ENDS])
def test_a_port_at_another_node_cannot_stand_there(name: str) -> None:
    rng = random.Random(4)
    nodes = list_nodes(lay_demo(name)[0])
    checked = 0
    for port in loop_ports(name):
        if port.on in EDGES:
            continue
        allowed = set(list_allowed(name, f"port:{port.name}"))
        for to in rng.sample([node for node in nodes if node not in allowed], 6):
            try:
                panel = edit_demo(name, move(f"port:{port.name}", to))
            except PanelFileError:
                continue
            checked += 1
            assert not lay_held(panel, name), (port.name, to)
    assert checked > 10


def test_edge_ports_get_mouths_on_their_edge() -> None:
    panel, laid = lay_demo(MAIN)
    nodes = find_allowed(panel, laid, "port:radiator upper inlet").nodes
    assert {x for x, _ in nodes} == {0.0}
    now = next(port for port in laid.routed.ports if port.name == "radiator upper inlet")
    assert now.at[:2] in nodes
    other = next(port for port in laid.routed.ports if port.name == "drain")
    assert other.at[:2] in find_allowed(panel, laid, "port:drain").nodes


def each_end_holds(panel: Panel, name: str, turn: int | None = None) -> Iterator[bool]:
    """Yield for each place of tank and pump whether all ends have a place."""
    ground = survey_panel(panel)
    for place in hold_places(ground, lay_demo(name)[1].placement):
        if turn in (None, place.turn_deg):
            yield has_ends(lay_terrain(ground, place))


@pytest.mark.parametrize("name", [MAIN, APART])
def test_the_pump_at_an_allowed_node_has_a_tank_above(name: str) -> None:
    rng = random.Random(8)
    turn = lay_demo(name)[1].placement.turn_deg
    nodes = list_allowed(name, "pump")
    for to in rng.sample(nodes, 6):
        panel = edit_demo(name, move("pump", to))
        assert any(each_end_holds(panel, name, turn)), to
    others = [node for node in list_nodes(lay_demo(name)[0]) if node not in set(nodes)]
    for to in rng.sample(others, 12):
        try:
            panel = edit_demo(name, move("pump", to))
        except PanelFileError:
            continue
        assert not any(each_end_holds(panel, name, turn)), to


def test_the_tank_at_an_allowed_corner_has_a_pump_below() -> None:
    rng = random.Random(9)
    nodes = list_allowed(MAIN, "tank")
    for to in rng.sample(nodes, 6):
        assert any(each_end_holds(edit_demo(MAIN, move("tank", to)), MAIN)), to
    others = [node for node in list_nodes(lay_demo(MAIN)[0]) if node not in set(nodes)]
    for to in rng.sample(others, 12):
        try:
            panel = edit_demo(MAIN, move("tank", to))
        except PanelFileError:
            continue
        assert not any(each_end_holds(panel, MAIN)), to


def test_a_region_at_an_allowed_corner_covers_nothing_that_stands() -> None:
    rng = random.Random(10)
    nodes = list_allowed(MAIN, "clear:0")
    for to in rng.sample(nodes, 10):
        assert lay_held(edit_demo(MAIN, move("clear:0", to)), MAIN), to
    others = [node for node in list_nodes(lay_demo(MAIN)[0]) if node not in set(nodes)]
    for to in rng.sample(others, 15):
        try:
            panel = edit_demo(MAIN, move("clear:0", to))
        except PanelFileError:
            continue
        if panel.keep_clear[0].box[:2] != to:
            # It was moved as far as it stays in the panel.
            continue
        assert not lay_held(panel, MAIN), to


@pytest.mark.parametrize(
    ("thing", "channel"),
    [
        ("port:memory block outlet", "memory block - radiator lower"),
        ("pump", "pump - processor block"),
        ("tank", "radiator upper - tank"),
    ],
)
def test_a_thing_at_a_kept_route_may_move_as_the_move_lets_it_go(thing: str, channel: str) -> None:
    panel, laid = lay_demo(MAIN)
    keep = {"keep": f"channel:{channel}"}
    if channel not in laid.names:
        channel = next(name for name in laid.names if name.endswith("- tank"))
        keep = {"keep": f"channel:{channel}"}
    kept = edit_demo(MAIN, keep)
    allowed = find_allowed(kept, laid, thing)
    assert allowed.nodes == find_allowed(panel, laid, thing).nodes
    assert f'kept for "{channel}" will be let go' in allowed.why
    moved = gesture_changes(kept, laid.routed, move(thing, allowed.nodes[0]))
    assert KeyChange(("keep_route", 0), None) in moved


@pytest.mark.parametrize("thing", ["tank", "port:oscillators inlet", "port:radiator outlet"])
def test_the_drain_and_free_ports_keep_a_place(thing: str) -> None:
    name = "synthesizer-rack"
    for to in list_allowed(name, thing)[::3]:
        panel = edit_demo(name, move(thing, to))
        assert any(each_end_holds(panel, name)) if thing == "tank" else lay_held(panel, name), to


def test_a_region_leaves_a_free_port_a_place() -> None:
    name = TWO_FACES
    for to in list_allowed(name, "clear:0"):
        if 10 <= to[0] <= 40 and 60 <= to[1] <= 75:
            assert lay_held(edit_demo(name, move("clear:0", to)), name), to


def test_places_are_sorted_and_told_in_one_sentence() -> None:
    panel, laid = lay_demo(MAIN)
    for thing in ("port:drain", "port:fill", "pump", "tank", "clear:0"):
        allowed = find_allowed(panel, laid, thing)
        assert list(allowed.nodes) == sorted(set(allowed.nodes))
        assert allowed.why.endswith(".")
        assert allowed.thing == thing


@pytest.mark.parametrize("thing", ["port:nobody", "clear:7", "channel:drain", "", "clear:-1"])
def test_what_is_not_placed_is_refused(thing: str) -> None:
    with pytest.raises(OutOfRange, match="no place of its own"):
        find_allowed(*lay_demo(MAIN), thing)


def test_a_fixed_port_nearer_blocks_more() -> None:
    panel, laid = lay_demo(MAIN)
    free = set(find_allowed(panel, laid, "port:graphics right inlet").nodes)
    fewer = edit_demo(MAIN, {"pin": "port:memory block outlet"})
    with_pinned = set(find_allowed(fewer, laid, "port:graphics right inlet").nodes)
    assert with_pinned < free


def test_layout_errors_stay_layout_errors() -> None:
    panel, laid = lay_demo(MAIN)
    narrow = replace(panel, pump=replace(panel.pump, at=(5.0, 5.0), within=None))
    with pytest.raises(LayoutError, match="pump"):
        re_route(narrow, laid)
