"""Kept routes: what was routed, kept and routed again is the same; what cannot stand is told with its remedy."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from sample_demos import route_demo

from exports.wording.routing_words import tell_kept, tell_proof, tell_status
from geom.errors import LayoutError
from geom.findings import KeyChange
from layouts.failure import LayoutFailure
from layouts.file.read import parse_panel, read_panel
from layouts.grid import Grid
from layouts.ground import survey_panel
from layouts.keep_routes import Corners, UnclearRoute, read_ways, route_corners
from layouts.kept_traces import trace_route
from layouts.nets import FEED
from layouts.panel import KeepClear, KeepRoute, Panel
from layouts.panels.catalogue import demo_names, demo_path
from layouts.place_bounds import find_placements
from layouts.plan import Routed
from layouts.replan.re_route import re_route
from layouts.route import lay_out, route_panel
from layouts.routing.effort import NORMAL, QUICK
from layouts.routing.instance import Instance, Net, Rates, Terminal, disc_offsets
from layouts.routing.one_channel.trace import Tracer
from layouts.verify import verify_routed
from layouts.widen import widen_channels

NAMES = ("workshop-render", "laser-driver", "cell-tester")


def write_route(channel: str, back: Corners, front: Corners = ()) -> str:
    """Return an entry of the file."""
    runs = {"back": back, "front": front}
    lines = [
        f"{layer} = {[[[f'{x:g} mm', f'{y:g} mm'] for x, y in run] for run in corners]}\n"
        for layer, corners in runs.items()
        if corners
    ]
    return f'\n[[keep_route]]\nchannel = "{channel}"\n{"".join(lines)}'


def keep_in_file(name: str, routed: Routed, channels: tuple[str, ...]) -> Panel:
    """Return a demo whose file keeps some channels as they were routed."""
    panel = read_panel(demo_path(name))
    text = Path(demo_path(name)).read_text(encoding="utf-8")
    text += "".join(write_route(one, *route_corners(panel, routed.channel(one))) for one in channels)
    return parse_panel(text.encode(), f"{name}.toml")


def keep(panel: Panel, routed: Routed, *channels: str) -> Panel:
    """Return a panel that keeps some channels as they were routed."""
    routes = tuple(KeepRoute(one, *route_corners(panel, routed.channel(one)), 7) for one in channels)
    return replace(panel, keep_routes=routes)


def list_names(routed: Routed) -> tuple[str, ...]:
    return tuple(channel.name for channel in routed.channels if channel.name != FEED)


def assert_same(routed: Routed, before: Routed, channel: str) -> None:
    """Assert that a channel stands as it did, with its ports."""
    assert routed.channel(channel) == before.channel(channel)
    here = [[port for port in one.ports if port.channel == channel] for one in (routed, before)]
    assert here[0] == here[1]


def fail(panel: Panel, effort=QUICK) -> LayoutFailure:
    with pytest.raises(LayoutError) as caught:
        route_panel(panel, 0, effort)
    failure = caught.value.failure
    assert isinstance(failure, LayoutFailure)
    return failure


@pytest.mark.parametrize("name", demo_names())
def test_all_channels_kept_are_routed_as_they_were(name):
    before = route_demo(name, QUICK)
    panel = keep_in_file(name, before, list_names(before))
    routed = route_panel(panel, 0, QUICK)
    assert routed.channels == before.channels
    assert sorted(routed.ports, key=lambda port: port.name) == sorted(
        before.ports, key=lambda port: port.name
    )
    assert (routed.tank, routed.pump) == (before.tank, before.pump)
    assert (routed.cost, routed.channels_pa) == pytest.approx((before.cost, before.channels_pa), rel=1e-12)


@pytest.mark.parametrize("name", demo_names())
def test_one_kept_channel_stands_and_the_rest_is_no_worse_proven(name):
    before = route_demo(name, QUICK)
    for channel in list_names(before):
        routed = route_panel(keep_in_file(name, before, (channel,)), 0, QUICK)
        assert_same(routed, before, channel)
        assert verify_routed(read_panel(demo_path(name)), routed) == ()
        assert routed.bound is not None
        assert routed.bound <= min(routed.cost, before.cost) * (1 + 1e-9)


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_some_kept_channels_stand(data):
    name = data.draw(st.sampled_from(NAMES))
    before = route_demo(name, QUICK)
    some = data.draw(st.lists(st.sampled_from(list_names(before)), unique=True, min_size=1))
    routed = route_panel(keep_in_file(name, before, tuple(some)), 0, QUICK)
    for channel in some:
        assert_same(routed, before, channel)


def test_two_layers_with_through_holes():
    before = route_demo("observatory-camera", QUICK)
    assert [channel.name for channel in before.channels if channel.holes] == ["radiator - tank"]
    assert {run.layer for run in before.channel("radiator - tank").runs} == {"back", "front"}
    panel = keep_in_file("observatory-camera", before, ("radiator - tank",))
    assert panel.keep_routes[0].back
    assert panel.keep_routes[0].front
    assert_same(route_panel(panel, 0, QUICK), before, "radiator - tank")


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_what_a_search_found_is_read_back_from_its_corners(data):
    layers = data.draw(st.integers(1, 2))
    count = data.draw(st.integers(2, 4))
    cells = data.draw(
        st.lists(
            st.integers(0, layers * GRID.cells - 1),
            min_size=count,
            max_size=count,
            unique_by=lambda cell: cell % GRID.cells,
        )
    )
    shut = data.draw(st.lists(st.integers(0, layers * GRID.cells - 1), max_size=60))
    assume(check_read_back(layers, cells, shut))


def test_a_branch_may_pass_a_corner_as_near_as_the_bend_that_cuts_it():
    assert check_read_back(1, [31, 189, 365], [137])


GRID = Grid(26, 20, 5.0)


def check_read_back(layers: int, cells: list[int], shut: list[int]) -> bool:
    """Check that what a search finds on a plate is the same once it was kept; False where it finds nothing."""
    grid, count = GRID, len(cells)
    blocked = np.zeros((1, layers * grid.cells), dtype=bool)
    blocked[0, [cell for cell in shut if cell not in cells]] = True
    plate = Instance(
        columns=grid.columns,
        rows=grid.rows,
        nets=(),
        blocked=blocked,
        offsets=((disc_offsets(3.0),),),
        rates=Rates(10.0, 15.0, 40.0, 60.0),
        bend_cells=2,
        bend_radius_cells=2.0,
        tee_margin=3,
        layers=layers,
    )
    net = Net("x", tuple((Terminal(cell=cell, node=cell),) for cell in cells))
    found = Tracer(replace(plate, nets=(net,))).trace(net, blocked, np.zeros(layers * grid.cells))
    if found is None:
        return False
    runs = [[], []]
    for run in found.runs:
        runs[run.layer].append(tuple((c * 5.0, r * 5.0) for c, r in run.corners))
    if not all(a != b for layer in runs for run in layer for a, b in pairwise(run)):
        return False
    ways = read_ways(grid, KeepRoute("x", tuple(runs[0]), tuple(runs[1]), 1))
    leaves = [leaf.cell for way in ways for leaf in way.leaves(grid)]
    assert sorted(leaves) == sorted(cells)
    again = trace_route(plate, grid, net, ways, tuple(cells.index(cell) for cell in leaves), found.chosen)
    assert again.cost == pytest.approx(found.cost)
    assert np.array_equal(again.cells, found.cells)
    assert set(again.holes) == set(found.holes)
    if layers == 1 or count == 2:
        assert again.runs == found.runs
        assert again.path == found.path
    return True


def test_own_widths_shared_grooves_and_service_ports():
    panel = read_panel(demo_path("workshop-render"))
    first = "pump - processor block"
    for changed in (
        replace(panel, make=replace(panel.make, share_groove=True)),
        replace(panel, channel=replace(panel.channel, own=((first, 10.0),))),
        replace(panel, service=replace(panel.service, bleed="auto", drain="auto")),
    ):
        before = route_panel(changed, 0, QUICK)
        routed = route_panel(keep(changed, before, first, "drain"), 0, QUICK)
        assert_same(routed, before, first)
        assert_same(routed, before, "drain")


def test_widened_channels_keep_the_route_that_they_were_routed_on():
    panel = read_panel(demo_path("laser-driver"))
    panel = replace(panel, channel=replace(panel.channel, widen_to=panel.channel.width + 3))
    before = route_panel(panel, 0, QUICK)
    wide = widen_channels(panel, before)
    for channel in list_names(before):
        assert route_corners(panel, wide.channel(channel)) == route_corners(panel, before.channel(channel))
    again = route_panel(keep(panel, wide, *list_names(wide)), 0, QUICK)
    assert widen_channels(panel, again).channels == wide.channels


def test_a_kept_route_outlives_another_ports_move():
    before = route_demo("workshop-render", QUICK)
    panel = keep_in_file("workshop-render", before, ("pump - processor block",))
    number = next(n for n, part in enumerate(panel.parts) if part.name == "memory block")
    part = panel.parts[number]
    x, y = next(port.foot for port in before.ports if port.name == "memory block inlet")
    moved = replace(part, inlet=replace(part.inlet, at=(x - 5, y), within=None))
    parts = (*panel.parts[:number], moved, *panel.parts[number + 1 :])
    routed = route_panel(replace(panel, parts=parts), 0, QUICK)
    assert_same(routed, before, "pump - processor block")
    assert routed.channel("radiator upper - memory block") != before.channel("radiator upper - memory block")


def test_only_places_that_suit_are_yielded():
    before = route_demo("workshop-render", QUICK)
    panel = keep_in_file("workshop-render", before, ("radiator lower - tank", "pump - processor block"))
    some = list(find_placements(survey_panel(panel)))
    every = list(find_placements(survey_panel(replace(panel, keep_routes=()))))
    assert 0 < len(some) < len(every)
    assert {one.outlet for one in some} == {before.pump.outlet}
    assert any(one.inlet == before.pump.inlet and one.box == before.tank.box for one in some)


@pytest.mark.parametrize("effort", [QUICK, NORMAL])
def test_the_proof_is_over_layouts_that_keep_the_routes(effort):
    before = route_demo("laser-driver", QUICK)
    panel = keep_in_file("laser-driver", before, ("diode block - radiator",))
    routed = route_panel(panel, 0, effort)
    assert routed.status == "optimal (proven)"
    said = tell_status(panel, routed)
    assert said == "optimal (proven) among layouts on the 5 mm grid with 1 route kept"
    assert tell_kept(panel) == 'route kept from the file: "diode block - radiator"'
    free = replace(panel, keep_routes=())
    assert tell_status(free, routed) == "optimal (proven) among layouts on the 5 mm grid"
    assert tell_kept(free) == ""


def test_a_region_on_a_kept_route_is_told_with_what_helps():
    before = route_demo("workshop-render", QUICK)
    panel = keep_in_file(
        "workshop-render", before, ("radiator upper - memory block", "pump - processor block")
    )
    x, y = panel.keep_routes[1].back[0][1]
    failure = fail(replace(panel, keep_clear=(KeepClear("bracket", (x - 5, y - 5, x + 5, y + 5), 1),)))
    line = panel.keep_routes[1].line
    assert failure.kind == "kept route"
    assert failure.where == f"workshop-render.toml:{line}: keep_route.2"
    assert 'the route kept for channel "pump - processor block" cannot stand' in failure.text
    assert 'keep-clear region "bracket"' in failure.text
    first = failure.remedies[0]
    assert first.works
    assert first.text == (
        'let the route of channel "pump - processor block" be found again '
        f"(take its [[keep_route]] of line {line} out)"
    )
    assert first.changes == (KeyChange(("keep_route", 1), None),)
    assert len([one for one in failure.remedies if "found again" in one.text]) == 1


def test_two_kept_routes_that_clash_name_each_other():
    before = route_demo("laser-driver", QUICK)
    panel = read_panel(demo_path("laser-driver"))
    panel = keep(panel, before, "pump - diode block", "radiator - tank")
    over = replace(panel.keep_routes[1], channel="diode block - radiator")
    failure = fail(replace(panel, keep_routes=(panel.keep_routes[0], over)))
    assert failure.kind == "kept route"
    assert "diode block - radiator" in failure.text
    assert failure.remedies[0].works
    assert failure.remedies[0].changes == (KeyChange(("keep_route", 1), None),)


def test_a_tank_that_stands_elsewhere_has_no_place():
    before = route_demo("workshop-render", QUICK)
    panel = keep_in_file("workshop-render", before, ("radiator lower - tank",))
    x0, y0, *_ = before.tank.box
    failure = fail(replace(panel, tank=replace(panel.tank, at=(x0 - 40, y0), within=None)))
    assert 'the route kept for channel "radiator lower - tank" would not end at the tank' in failure.text
    assert "found again" in failure.remedies[0].text
    assert failure.remedies[0].works


def test_another_port_under_a_kept_route_names_it():
    before = route_demo("workshop-render", QUICK)
    panel = keep_in_file("workshop-render", before, ("pump - processor block",))
    (_, _), (bx, _), (_, cy) = panel.keep_routes[0].back[0]
    number = next(n for n, part in enumerate(panel.parts) if part.name == "memory block")
    part = panel.parts[number]
    on_it = replace(part, inlet=replace(part.inlet, at=(bx - 20, cy), within=None))
    failure = fail(replace(panel, parts=(*panel.parts[:number], on_it, *panel.parts[number + 1 :])))
    assert 'the route kept for channel "pump - processor block"' in failure.text
    assert "found again" in str(failure)


def test_without_trials_the_route_is_only_named():
    before = route_demo("laser-driver", QUICK)
    panel = keep_in_file("laser-driver", before, ("pump - diode block",))
    x, y = panel.keep_routes[0].back[0][0]
    wall = KeepClear("wall", (x - 2, y - 2, x + 2, y + 2), 1)
    failure = fail(replace(panel, keep_clear=(wall,)), replace(QUICK, trials=0))
    releases = [one for one in failure.remedies if "found again" in one.text]
    assert [one.works for one in releases] == [False]


@pytest.mark.parametrize(
    ("corners", "said"),
    [
        ([[(100, 100), (105, 100), (105, 160)]], "its straight from"),
        ([[(100, 100), (200, 100)], [(20, 20), (20, 60)]], "does not stop on the rest"),
    ],
)
def test_routes_that_are_none_say_so(corners, said):
    panel = read_panel(demo_path("laser-driver"))
    route = KeepRoute("diode block - radiator", tuple(tuple(run) for run in corners), (), 3)
    ground = survey_panel(replace(panel, keep_routes=(route,)))
    assert ground.clash is not None
    if "rest" in said:
        with pytest.raises(UnclearRoute, match=said):
            read_ways(ground.grid, route)
        assert said in ground.clash.text


def test_ways_are_joined_through_holes_and_in_any_order():
    panel = read_panel(demo_path("laser-driver"))
    grid = survey_panel(panel).grid
    trunk, branch = ((20.0, 50.0), (100.0, 50.0)), ((60.0, 50.0), (60.0, 90.0))
    ways = read_ways(grid, KeepRoute("x", (branch, trunk), (), 0))
    assert [way.tee for way in ways] == [False, True]
    assert ways[1].runs == (((12, 18), (12, 10)),)
    back, front = (
        (((20.0, 50.0), (60.0, 50.0)), ((120.0, 50.0), (90.0, 50.0))),
        (((60.0, 50.0), (90.0, 50.0)),),
    )
    (way,) = read_ways(grid, KeepRoute("x", back, front, 0))
    assert way.layers == (0, 1, 0)
    assert way.runs[0][0] == (4, 10)
    assert way.runs[-1][-1] == (24, 10)


def test_nothing_is_kept_where_nothing_is_asked_for():
    ground = survey_panel(read_panel(demo_path("workshop-render")))
    assert (ground.kept, ground.clash, ground.asked) == ((), None, ground.needs)
    assert not ground.near_kept.any()
    assert re.search("keep_route", Path(demo_path("workshop-render")).read_text()) is None


TREE = "graphics left + graphics right - radiator upper"


def cross_tree() -> Panel:
    """Return the main demo with a kept tree whose branch crosses its trunk."""
    panel, parts = read_panel(demo_path("workshop-render")), []
    for part in panel.parts:
        if part.name == "graphics left":
            part = replace(part, outlet=replace(part.outlet, at=(145.0, 100.0), within=None))
        if part.name == "graphics right":
            part = replace(part, outlet=replace(part.outlet, at=(115.0, 60.0), within=None))
        if part.name == "radiator upper":
            part = replace(part, inlet=replace(part.inlet, at=None, between=(70.0, 105.0)))
        parts.append(part)
    branch = ((115.0, 60.0), (115.0, 130.0), (80.0, 130.0), (80.0, 100.0))
    route = KeepRoute(TREE, (((145.0, 100.0), (20.0, 100.0)), branch), (), 5)
    return replace(panel, parts=tuple(parts), keep_routes=(route,))


def test_a_kept_tree_that_crosses_itself_says_where():
    clash = survey_panel(cross_tree()).clash
    assert clash is not None
    assert re.fullmatch(r"it comes back too near to itself at \(115, \d+\) mm", clash.text)
    before = lay_out(read_panel(demo_path("workshop-render")), 0, QUICK)
    with pytest.raises(LayoutError, match="comes back too near to itself") as caught:
        re_route(cross_tree(), before)
    assert caught.value.failure.proven_everywhere


def test_what_stands_in_a_kept_routes_way_is_named_and_places_are_counted():
    panel = read_panel(demo_path("workshop-render"))
    routed = route_demo("workshop-render")
    kept = keep(panel, routed, "memory block - radiator lower")
    fill = replace(kept.tank.fill, on="left", at=(0.0, 185.0), within=None, between=None)
    failure = fail(replace(kept, tank=replace(kept.tank, fill=fill)))
    assert "comes too near the fill port" in failure.text
    assert failure.places > failure.tried > 0
    assert not failure.proven_everywhere
    assert "the only place" not in str(failure)


def test_a_proof_in_few_words_says_that_routes_are_kept():
    panel, routed = read_panel(demo_path("laser-driver")), route_demo("laser-driver")
    assert tell_proof(panel, routed) == routed.status
    assert (
        tell_proof(keep(panel, routed, routed.channels[0].name), routed)
        == f"{routed.status} with 1 route kept"
    )
