"""Where things stand in a panel that has no layout: as the file says, as they stood, else amid their regions."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import LayoutError
from geom.frame import EDGES, SAME_MM
from geom.standards import tables
from layouts.clearance import ports_apart
from layouts.file.read import read_panel
from layouts.panel import Box, KeepClear, Panel, Port
from layouts.panels.catalogue import demo_names, demo_path
from layouts.plan import PlacedPort
from layouts.replan.allowed_places import find_allowed
from layouts.replan.loose_places import lay_loosely
from layouts.replan.port_places import pin_port, with_port
from layouts.replan.re_route import re_route
from tests.layouts.replan.sample_edits import lay_demo

SMALL = "laser-driver"


def wall_off(panel: Panel, *boxes: Box) -> Panel:
    """Return a panel with keep-clear regions more."""
    walls = tuple(KeepClear(f"wall {n}", box, 1) for n, box in enumerate(boxes))
    return replace(panel, keep_clear=(*panel.keep_clear, *walls))


def along(port: Port, at: tuple[float, ...]) -> float:
    return at[0] if port.on in ("top", "bottom") else at[1]


def stands_in_region(port: Port, placed: PlacedPort) -> bool:
    """Return whether a port stands where the file says, or lets it."""
    x, y = placed.at[:2]
    if port.between is not None:
        return port.between[0] - SAME_MM <= along(port, placed.at) <= port.between[1] + SAME_MM
    if port.within is not None:
        x0, y0, x1, y1 = port.within
        return x0 - SAME_MM <= x <= x1 + SAME_MM and y0 - SAME_MM <= y <= y1 + SAME_MM
    assert port.at is not None
    asked = (along(port, port.at), along(port, placed.at)) if port.on in EDGES else (port.at, (x, y))
    return bool(asked[0] == pytest.approx(asked[1]))


@pytest.mark.parametrize("name", demo_names())
def test_what_has_a_layout_stands_as_in_it(name: str):
    panel, laid = lay_demo(name)
    loose = lay_loosely(panel, laid)
    assert loose.routed.channels == ()
    assert replace(loose.placement, bound=0.0, trees=0.0) == replace(laid.placement, bound=0.0, trees=0.0)
    assert {port.name: port.at for port in loose.routed.ports} == {
        port.name: port.at for port in laid.routed.ports
    }
    assert {port.name: port.channel for port in loose.routed.ports} == {
        port.name: port.channel for port in laid.routed.ports
    }


@pytest.mark.parametrize("name", demo_names())
def test_what_never_had_one_stands_in_its_regions(name: str):
    panel = read_panel(demo_path(name))
    loose = lay_loosely(panel, None)
    for placed in loose.routed.ports:
        port = panel.port(placed.name)
        assert port is not None
        assert port.role == "fill" or stands_in_region(port, placed), placed
    inlet, box, pump = loose.placement.inlet, loose.placement.box, panel.pump
    if pump.within is not None:
        x0, y0, x1, y1 = pump.within
        seat = pump.seat_diameter / 2 - SAME_MM
        assert x0 + seat <= inlet[0] <= x1 - seat
        assert y0 + seat <= inlet[1] <= y1 - seat
    if box is not None:
        # The feed falls from the tank straight to the pump.
        assert box[0] < inlet[0] < box[2]
        assert inlet[1] < box[1]


def test_free_ports_of_one_region_stand_beside_each_other():
    panel = read_panel(demo_path(SMALL))
    for part in panel.parts[:1]:
        for port in (part.inlet, part.outlet):
            panel = with_port(panel, replace(port, at=None, within=(20.0, 20.0, 70.0, 60.0)))
    one, two = (port for port in lay_loosely(panel, None).routed.ports if port.part == panel.parts[0].name)
    assert (
        math.dist(one.at, two.at)
        >= ports_apart(tables.thread(one.thread), tables.thread(two.thread)) - SAME_MM
    )


def test_what_the_file_lets_stand_no_more_goes_amid_its_region():
    panel, laid = lay_demo(SMALL)
    port = panel.parts[1].outlet
    moved = with_port(panel, replace(port, between=(100.0, 120.0)))
    (placed,) = (one for one in lay_loosely(moved, laid).routed.ports if one.name == port.name)
    assert placed.at[0] == 110.0


def test_where_pump_and_tank_fit_nowhere_together_each_stands_for_itself():
    panel, laid = lay_demo(SMALL)
    shut = wall_off(panel, (0.0, 66.0, panel.width, 72.0))
    for before in (laid, None):
        placement = lay_loosely(shut, before).placement
        assert placement.box is not None
        if before is not None:
            assert (placement.inlet, placement.box) == (laid.placement.inlet, laid.placement.box)


def test_a_fill_port_that_misses_the_tank_and_a_body_too_thin_still_stand_somewhere():
    panel = read_panel(demo_path(SMALL))
    assert panel.tank.fill is not None
    thin = replace(panel, make=replace(panel.make, body=4.0))
    missed = with_port(panel, pin_port(panel.tank.fill, (10.0, panel.height)))
    for changed in (thin, missed):
        ports = {port.name: port for port in lay_loosely(changed, None).routed.ports}
        assert set(ports) == {port.name for port in panel.ports}
    assert ports["fill"].at[:2] == (10.0, panel.height)


def test_a_panel_whose_costs_are_not_known_has_places_all_the_same(monkeypatch: pytest.MonkeyPatch):
    def survey(panel: Panel) -> None:
        raise LayoutError("the pump brings about no flow")

    panel, laid = lay_demo(SMALL)
    monkeypatch.setattr("layouts.replan.loose_places.survey_panel", survey)
    assert lay_loosely(panel, laid).placement.inlet == laid.placement.inlet


def test_places_and_routes_are_found_from_it():
    panel = read_panel(demo_path(SMALL))
    loose = lay_loosely(panel, None)
    for thing in ("pump", "tank", f"port:{panel.parts[0].inlet.name}"):
        assert find_allowed(panel, loose, thing).nodes
    assert re_route(panel, loose).routed.channels


LENGTHS = st.floats(0.0, 400.0, allow_nan=False)


@settings(max_examples=40, deadline=None)
@given(
    name=st.sampled_from(demo_names()),
    other=st.sampled_from((None, *demo_names())),
    walls=st.lists(st.tuples(LENGTHS, LENGTHS, LENGTHS, LENGTHS), max_size=3),
    size=st.tuples(st.floats(40.0, 500.0), st.floats(40.0, 500.0)),
    place=st.tuples(LENGTHS, LENGTHS),
    number=st.integers(0, 30),
)
def test_no_panel_that_was_read_is_without_one(name, other, walls, size, place, number):
    """Whatever its size, whatever stands in the way, whatever it was laid out from."""
    panel = read_panel(demo_path(name))
    panel = wall_off(
        replace(panel, width=size[0], height=size[1]),
        *((min(a, c), min(b, d), max(a, c), max(b, d)) for a, b, c, d in walls),
    )
    port = panel.ports[number % len(panel.ports)]
    panel = with_port(panel, pin_port(port, place))
    loose = lay_loosely(panel, None if other is None else lay_demo(other)[1])
    numbers = [
        *loose.placement.inlet,
        *(loose.placement.box or ()),
        *(v for one in loose.routed.ports for v in one.at),
    ]
    assert all(math.isfinite(value) for value in numbers)


def test_a_port_that_is_pinned_where_another_stood_drives_it_away():
    panel, laid = lay_demo(SMALL)
    stood = {port.name: port for port in laid.routed.ports}
    free = next(port for port in panel.ports if port.at is None and port.on not in EDGES)
    pinned = next(port for port in panel.ports if port.name != free.name and port.on == free.on and port.part)
    roomy = with_port(panel, replace(free, within=(20.0, 20.0, panel.width - 20.0, panel.height - 20.0)))
    changed = with_port(roomy, replace(pinned, at=stood[free.name].at[:2], within=None, between=None))
    at = {port.name: port.at[:2] for port in lay_loosely(changed, laid).routed.ports}
    least = ports_apart(tables.thread(free.thread), tables.thread(pinned.thread))
    assert math.dist(at[free.name], at[pinned.name]) >= least - SAME_MM
