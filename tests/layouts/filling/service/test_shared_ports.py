"""One plug for both: a drain that stands at the top of a pocket of air, a bleed at the bottom of one of coolant."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from sample_demos import plan_demo, route_demo

from layouts.detail import cut_openings
from layouts.file.read import parse_panel, read_panel
from layouts.filling.examine import examine_filling
from layouts.filling.left import find_left_pockets
from layouts.filling.openings import exits_of, open_drains, tank_voxels, vents_of
from layouts.filling.service.proposals import propose_ports, service_ports
from layouts.filling.service.service_ports import add_service_ports, find_asked, look_at
from layouts.filling.service.service_trials import find_missing
from layouts.filling.service.standing import find_standing
from layouts.filling.values import Left
from layouts.nets import DRAIN
from layouts.panel import Panel, Service
from layouts.panels.catalogue import demo_path
from layouts.plan import Routed
from layouts.route import route_panel
from layouts.rules.service_rules import check_service_ports

RISES = 'port = { on = "right", between = ["70 mm", "110 mm"] }'
"""A drain whose channel rises to its plug."""


@cache
def lay_rising_drain() -> tuple[Panel, Routed]:
    text = demo_path("new").read_text(encoding="utf-8")
    falls = 'port = { on = "bottom", between = ["120 mm", "220 mm"] }'
    assert text.count(falls) == 1
    panel = replace(parse_panel(text.replace(falls, RISES).encode(), "own.toml"), service=Service())
    return panel, route_panel(panel, 0)


def ask(panel: Panel, **service: object) -> Panel:
    return replace(panel, service=replace(panel.service, **service))


def without_drain() -> tuple[Panel, Routed]:
    """Return a demo with its drain and all that leads to it left out."""
    panel, routed = read_panel(demo_path("new")), route_demo("new")
    ports = tuple(port for port in routed.ports if port.role != "drain")
    channels = tuple(channel for channel in routed.channels if channel.name != DRAIN)
    return replace(panel, drain=None, service=Service()), replace(routed, ports=ports, channels=channels)


def left_in(panel: Panel, routed: Routed) -> Left:
    looked = look_at(panel, routed)
    return find_left_pockets(looked.voxels, looked.openings, panel.up, tank_voxels(looked.voxels))[0]


def propose(panel: Panel, routed: Routed):
    looked = look_at(panel, routed)
    return propose_ports(panel, routed, looked.voxels, looked.openings)


def test_which_plugs_are_opened():
    panel, routed = lay_rising_drain()
    openings = look_at(panel, routed).openings
    vents = {opening.name for opening in vents_of(openings)}
    assert "drain" not in vents
    assert {opening.name for opening in vents_of(open_drains(openings))} == vents | {"drain"}
    # The fill port lets air in, as bleeds do: all are open while it is drained.
    assert {opening.name for opening in exits_of(openings)} == {"drain", "fill"}
    bled = tuple(replace(o, kind="bleed") if o.name == "fill" else o for o in openings)
    assert {opening.name for opening in exits_of(bled)} == {"fill", "drain"}
    none = tuple(opening for opening in bled if opening.kind != "drain")
    assert {opening.kind for opening in exits_of(none)} == {"part", "bleed"}


def test_a_shut_drain_at_the_top_of_a_pocket_serves_as_its_bleed():
    panel, routed = lay_rising_drain()
    both = ask(panel, bleed="auto", drain="auto")
    built = add_service_ports(both, routed)
    assert [(port.role, port.channel) for port in service_ports(both, built)] == [
        ("drain", "pump - cold plate")
    ]
    # Nor is one proposed, nor missed.
    assert [one for one in propose(panel, routed) if one.kind == "bleed"] == []
    air = left_in(both, built).air
    assert air[0].volume_mm3 > 3000.0
    assert find_missing(both, built, "bleed", air[0], (DRAIN,)) is None


def test_a_channel_that_is_named_gets_none_where_a_plug_serves():
    panel, routed = lay_rising_drain()
    named = ask(panel, bleed=(DRAIN,))
    built = add_service_ports(named, routed)
    assert service_ports(named, built) == ()
    (told,) = check_service_ports(named, built)
    assert (told.code, told.severity, told.features) == ("service.room", "note", ("channel drain",))
    assert told.text == (
        'No bleed port is put on channel "drain": the plug of port "drain" lets its air out while the panel is filled, '
        "opened until coolant comes."
    )
    assert told.remedy == 'Take channel "drain" out of bleed in [service].'


def test_auto_builds_and_proposes_none_that_clears_little(monkeypatch):
    """Were the drain's plug no plug, all there is room for stands under the pocket."""
    monkeypatch.setattr("layouts.filling.service.standing.open_drains", lambda openings: openings)
    panel, routed = lay_rising_drain()
    auto = ask(panel, bleed="auto")
    built = add_service_ports(auto, routed)
    assert service_ports(auto, built) == ()
    assert [one for one in propose(panel, routed) if one.kind == "bleed"] == []
    air = left_in(auto, built).air
    missing = find_missing(auto, built, "bleed", air[0], (DRAIN,))
    assert missing is not None
    assert missing.why == "on the front there is room only where it would clear little"


def test_a_bleed_that_stands_lowest_also_drains():
    panel, routed = lay_rising_drain()
    level = "pump - cold plate"
    bled = ask(panel, bleed=(level,))
    built = add_service_ports(bled, routed)
    (proposal,) = [one for one in propose(bled, built) if one.built]
    # As if it had been left out, but for the bore.
    now, then = left_in(bled, built), left_in(panel, routed)
    assert proposal.also_mm3 == pytest.approx(then.coolant_mm3 - now.coolant_mm3, rel=0.05)
    assert proposal.also_mm3 > 15e3
    flowing = plan_demo("new").flowing
    steps = examine_filling(
        bled, built, flowing, cut_openings(bled, built), 1.0, with_tilts=False
    ).drain_order
    (opened,) = [step.text for step in steps if step.opening == built.ports[-1].name]
    assert "a bowl under it, for coolant comes out too" in opened
    # A drain of its own is not put there, by name or by itself.
    for drain in ("auto", (level,)):
        asked = ask(bled, drain=drain)
        ports = add_service_ports(asked, routed).ports
        assert level not in [port.channel for port in ports if port.role == "drain"]


def test_the_only_drain_is_measured_against_a_closed_panel():
    panel, routed = without_drain()
    asked = ask(panel, drain="auto")
    built = add_service_ports(asked, routed)
    (proposal,) = [one for one in propose(asked, built) if one.built]
    left, bore = left_in(asked, built), 600.0
    assert proposal.clears_mm3 == pytest.approx(left.wet_mm3 - left.coolant_mm3 - bore, abs=bore)
    assert not left.through_hoses


def test_what_drains_a_panel_without_a_drain_is_said():
    panel, routed = without_drain()
    assert left_in(panel, routed).through_hoses


def test_standing_counts_what_no_plug_clears():
    panel, routed = lay_rising_drain()
    looked = look_at(panel, routed)
    assert find_standing(panel, looked.voxels, looked.openings, "bleed").left_mm3 == 0.0
    assert find_asked(panel, looked, "bleed").largest_mm3 == 0.0


@pytest.mark.parametrize("name", ["new", "synthesizer-rack"])
def test_what_is_told_to_stay_with_a_port_stays_with_it(name):
    """A panel that leans: no coolant leaves lower than a port's mouth; the port is built where it is told."""
    panel = replace(read_panel(demo_path(name)), up=(0.309426, 0.928279, 0.206284), service=Service())
    routed, flowing = route_demo(name), plan_demo(name).flowing
    filling = examine_filling(panel, routed, flowing, cut_openings(panel, routed), 1.0, with_tilts=False)
    pocket = filling.left.coolant[0]
    (relief,) = [relief for relief in pocket.reliefs if relief.kind == "drain"]
    asked = ask(panel, drain=(relief.name,))
    built = add_service_ports(asked, routed)
    assert built.ports[-1].at == relief.at
    looked = look_at(asked, built)
    coolant = find_left_pockets(looked.voxels, looked.openings, panel.up, tank_voxels(looked.voxels))[
        0
    ].coolant
    rest = [one for one in coolant if one.features[0] == pocket.features[0]]
    # The port's own bore holds a little too.
    assert sum(one.volume_mm3 for one in rest) == pytest.approx(relief.left_mm3, rel=0.1)
