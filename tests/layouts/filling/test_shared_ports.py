"""One plug for both: a drain that stands at the top of a pocket of air, a bleed at the bottom of one of coolant."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from sample_demos import plan_demo, route_demo

from geom.wet.raster import raster_wet
from layouts.detail import cut_openings
from layouts.file.read import parse_panel, read_panel
from layouts.filling.examine import examine_filling
from layouts.filling.left import find_left_pockets
from layouts.filling.openings import find_openings, open_plugs, tank_voxels
from layouts.filling.proposals import propose_ports, service_ports
from layouts.filling.service_ports import add_service_ports, find_asked, look_at
from layouts.filling.service_trials import find_missing
from layouts.filling.standing import find_standing
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


def propose(panel: Panel, routed: Routed):
    looked = look_at(panel, routed)
    return propose_ports(panel, routed, looked.voxels, looked.openings)


def test_plugs_are_opened_for_what_they_are_not_there_for():
    panel, routed = lay_rising_drain()
    openings = look_at(panel, routed).openings
    kinds = {opening.name: opening.kind for opening in open_plugs(openings, "bleed")}
    assert kinds["drain"] == "bleed"
    assert {opening.name: opening.kind for opening in openings} == kinds | {"drain": "drain"}
    # Without a drain hoses are taken off, and a bleed's plug opened too would not take their place.
    bled = tuple(replace(o, kind="bleed") if o.kind == "drain" else o for o in openings)
    assert open_plugs(bled, "drain") == bled


def test_a_shut_drain_at_the_top_of_a_pocket_serves_as_its_bleed():
    panel, routed = lay_rising_drain()
    both = ask(panel, bleed="auto", drain="auto")
    built = add_service_ports(both, routed)
    assert [(port.role, port.channel) for port in service_ports(both, built)] == [
        ("drain", "pump - cold plate")
    ]
    # Nor is one proposed, nor missed.
    assert [one for one in propose(panel, routed) if one.kind == "bleed"] == []
    looked = look_at(both, built)
    air = find_left_pockets(looked.voxels, looked.openings, panel.up, tank_voxels(looked.voxels))[0].air
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
    monkeypatch.setattr("layouts.filling.standing.open_plugs", lambda openings, kind: tuple(openings))
    panel, routed = lay_rising_drain()
    auto = ask(panel, bleed="auto")
    built = add_service_ports(auto, routed)
    assert service_ports(auto, built) == ()
    assert [one for one in propose(panel, routed) if one.kind == "bleed"] == []
    looked = look_at(auto, built)
    air = find_left_pockets(looked.voxels, looked.openings, panel.up, tank_voxels(looked.voxels))[0].air
    missing = find_missing(auto, built, "bleed", air[0], (DRAIN,))
    assert missing is not None
    assert missing.why == "on the front there is room only where it would clear little"


def test_a_bleed_that_stands_lowest_also_drains():
    panel, routed = lay_rising_drain()
    level = "pump - cold plate"
    bled = ask(panel, bleed=(level,))
    built = add_service_ports(bled, routed)
    (proposal,) = [one for one in propose(bled, built) if one.built]
    # What an exit more at the same mouth takes away.
    looked = look_at(bled, built)
    turned = tuple(replace(o, kind="drain") if o.kind == "bleed" else o for o in looked.openings)
    tank = tank_voxels(looked.voxels)
    now, then = (find_left_pockets(looked.voxels, o, panel.up, tank)[0] for o in (looked.openings, turned))
    assert proposal.also_mm3 == pytest.approx(now.coolant_mm3 - then.coolant_mm3)
    assert proposal.also_mm3 > 1000.0
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
    voxels = raster_wet(cut_openings(asked, built), 1.0)
    left = find_left_pockets(
        voxels, find_openings(asked, built, cut_openings(asked, built), voxels), panel.up, tank_voxels(voxels)
    )[0]
    bore = 600.0
    assert proposal.clears_mm3 == pytest.approx(voxels.volume_mm3 - left.coolant_mm3 - bore, abs=bore)
    assert not left.through_hoses


def test_what_drains_a_panel_without_a_drain_is_said():
    panel, routed = without_drain()
    looked = look_at(panel, routed)
    left = find_left_pockets(looked.voxels, looked.openings, panel.up, tank_voxels(looked.voxels))[0]
    assert left.through_hoses


def test_standing_counts_what_no_plug_clears():
    panel, routed = lay_rising_drain()
    looked = look_at(panel, routed)
    assert find_standing(panel, looked.voxels, looked.openings, "bleed").left_mm3 == 0.0
    assert find_asked(panel, looked, "bleed").largest_mm3 == 0.0


def test_what_is_told_to_stay_with_a_port_stays_with_it():
    """A panel that leans: coolant leaves no lower than a port's mouth, and through parts from one channel to another."""
    plan = plan_demo("observatory-camera")
    panel = replace(plan.panel, up=(0.309426, 0.928279, 0.206284), service=Service())
    routed = route_demo("observatory-camera")
    filling = examine_filling(panel, routed, plan.flowing, cut_openings(panel, routed), 1.0, with_tilts=False)
    told = [
        (pocket, relief)
        for pocket in filling.left.coolant
        for relief in pocket.reliefs
        if relief.kind == "drain"
    ]
    for pocket, relief in told:
        asked = ask(panel, drain=(relief.name,))
        built = add_service_ports(asked, routed)
        print(built.ports[-1].at, relief)
        looked = look_at(asked, built)
        left = find_left_pockets(looked.voxels, looked.openings, panel.up, tank_voxels(looked.voxels))[0]
        print(relief.name, pocket.volume_mm3, relief.left_mm3, [ (p.volume_mm3, p.features) for p in left.coolant], pocket.features)
    assert 0
