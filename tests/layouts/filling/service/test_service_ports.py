"""Bleed and drain ports of their own: where they stand, what they clear, and that nothing stands too near to them."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_demos import route_demo

from exports.check_solids import check_solids
from exports.pipeline import plan_panel
from geom.build import build_solids
from geom.findings import has_fault
from geom.frame import EDGES, Face
from geom.standards.tables import thread
from geom.volume import plan_volume
from geom.wet.raster import raster_wet
from layouts.clearance import clearances_of
from layouts.detail import SPOT_FACE_DEPTH, cut_openings, detail_panel, name_port
from layouts.file.read import read_panel
from layouts.filling.left import find_left
from layouts.filling.openings import find_openings, tank_voxels
from layouts.filling.service.port_blockers import list_cuts
from layouts.filling.service.port_places import list_places, place_port
from layouts.filling.service.proposals import propose_ports, service_ports
from layouts.filling.service.service_ports import MOST_PORTS, add_service_ports
from layouts.filling.service.service_trials import find_missing
from layouts.filling.service.standing import find_standing
from layouts.filling.values import Filling
from layouts.loop_network import build_network, port_bore
from layouts.nets import FEED
from layouts.panel import KeepClear, Panel, Service
from layouts.panels.catalogue import demo_path
from layouts.plan import Plan, Routed, Sealed
from layouts.rules.pocket_rules import check_air_left, check_drain_left
from layouts.rules.port_rules import check_port_room, check_port_seats, check_threads
from layouts.rules.service_rules import check_service_ports
from layouts.verify import verify_routed
from layouts.wet_volume import channel_volume_ml
from tests.layouts.filling.sample_hump import BODY, DEPTH, FOOT, HUMP, LEFT, RADIUS, RIGHT, WIDTH, write_hump

BORE, MAJOR, SPOT = thread("G1/8").tap_drill, thread("G1/8").major, thread("G1/8").spot_face
TOP = 70.0
"""y of the hump's upper piece: the least that passes over the slot."""


@lru_cache(maxsize=8)
def plan_hump(service: str = "", more: str = "") -> Plan:
    with TemporaryDirectory() as folder:
        return plan_panel(write_hump(Path(folder), service, more))


@lru_cache(maxsize=4)
def lay_demo(name: str) -> tuple[Panel, Routed]:
    """Return a demo without the service ports that it asks for, their thread a G1/8."""
    panel = read_panel(demo_path(name))
    return replace(panel, service=Service()), route_demo(name)


def ask(panel: Panel, **service: object) -> Panel:
    """Return a panel that asks for service ports."""
    return replace(panel, service=replace(panel.service, **service))


def left_of(panel: Panel, routed: Routed, kind: str) -> float:
    features = cut_openings(panel, routed)
    voxels = raster_wet(features, 1.0)
    return find_standing(panel, voxels, find_openings(panel, routed, features, voxels), kind).left_mm3


def planted_mm3() -> float:
    """Return what of the hump lies over the mouths of both ports: legs, quarter turns, and the piece on top."""
    legs = 2 * WIDTH * (TOP - RADIUS - (FOOT + BORE / 2))
    turns = 2 * math.pi / 2 * RADIUS * WIDTH
    return DEPTH * (legs + turns + WIDTH * (RIGHT - LEFT - 2 * RADIUS))


def test_the_proposal_clears_the_planted_pocket():
    plan = plan_hump()
    assert plan.filling is not None
    (proposal,) = [one for one in plan.filling.proposals if one.kind == "bleed"]
    assert (proposal.channel, proposal.on, proposal.thread, proposal.built) == (HUMP, "front", "G1/8", False)
    assert proposal.clears_mm3 == pytest.approx(planted_mm3(), rel=0.02)
    assert proposal.at[1:] == (TOP, BODY)


def test_auto_builds_what_is_proposed_and_nothing_stays():
    before, after = plan_hump(), plan_hump('bleed = "auto"')
    assert before.filling is not None
    assert after.filling is not None
    (port,) = service_ports(after.panel, after.routed)
    assert (port.name, port.part, port.role, port.channel) == ("bleed 1", "bleed", "bleed", HUMP)
    (first,) = [one for one in before.filling.proposals if one.kind == "bleed"]
    (built,) = [one for one in after.filling.proposals if one.kind == "bleed"]
    assert port.at == first.at == built.at
    assert port.foot == port.at[:2]
    assert built.built
    assert built.clears_mm3 == pytest.approx(first.clears_mm3)
    assert port.depth == BODY - DEPTH / 2
    assert before.filling.left.air_mm3 == pytest.approx(planted_mm3(), rel=0.02)
    assert after.filling.left.air_mm3 == 0.0
    assert not [finding for finding in after.findings if finding.code in ("air.left", "service.room")]
    # Nothing else changes: the loop, its flow, the other ports.
    assert after.routed.ports[:-1] == before.routed.ports
    assert after.routed.channels == before.routed.channels
    assert build_network(after.panel, after.routed) == build_network(before.panel, before.routed)
    assert not has_fault(after.findings)


def test_the_made_panel_has_the_hole_where_told():
    """The body is less by the spot face, the chamfer, and the bore with what of it stands beside the channel."""
    plan = plan_hump('bleed = "auto"')
    bled, plain = check_solids(plan), build_solids(plan_hump().detail).volumes
    assert not has_fault(bled.findings)
    r, chamfer, half = BORE / 2, (MAJOR - BORE) / 2, WIDTH / 2
    over = BODY - DEPTH - SPOT_FACE_DEPTH
    strip = 2 * (half * math.sqrt(r**2 - half**2) + r**2 * math.asin(half / r))
    beside = (math.pi * r**2 - strip) * DEPTH / 2
    cone = math.pi * (chamfer**2 * r + chamfer**3 / 3)
    hole = math.pi * (SPOT / 2) ** 2 * SPOT_FACE_DEPTH + math.pi * r**2 * over + cone + beside
    less = plain["part body"] - bled.solids.volumes["part body"]
    assert less == pytest.approx(hole, rel=1e-6)
    wet = hole - math.pi * (SPOT / 2) ** 2 * SPOT_FACE_DEPTH
    assert bled.volumes.wet_solid - plain["wet"] == pytest.approx(wet, rel=1e-6)
    x, y, z = service_ports(plan.panel, plan.routed)[0].at
    mesh = bled.meshes["body"]
    rim = mesh.vertices[abs(mesh.vertices[:, 2] - z) < 1e-6]
    near = [math.dist(at, (x, y)) for at in rim[:, :2] if math.dist(at, (x, y)) < SPOT]
    assert near
    assert min(near) == pytest.approx(SPOT / 2, abs=1e-3)


def test_names_get_a_port_each_and_what_has_no_room_is_told():
    plan = plan_hump(f'bleed = ["cooler - tank", "{HUMP}", "drain"]\ndrain = ["tank", "{HUMP}"]')
    ports = service_ports(plan.panel, plan.routed)
    assert [(port.name, port.channel) for port in ports] == [
        ("bleed 1", "cooler - tank"),
        ("bleed 2", HUMP),
        ("drain 2", HUMP),
    ]
    told = [finding for finding in plan.findings if finding.code == "service.room"]
    assert [finding.features for finding in told] == [("channel drain",), ("tank",)]
    assert all(finding.severity == "caution" and finding.at_mm is not None for finding in told)
    assert "too near to pump seat" in told[0].text
    assert "its bore is 5.5 mm long, its thread needs 6.91 mm" in told[1].text
    assert told[0].remedy == 'Take channel "drain" out of bleed in [service].'
    assert verify_routed(plan.panel, plan.routed) == ()
    assert not has_fault(plan.findings)


def test_a_smaller_thread_is_named_only_where_it_has_room():
    """Each remedy followed: the port is there with the thread that is named, and with none where none is."""
    panel, routed = lay_demo("new")
    asked = ask(panel, bleed=("cold plate - radiator", "pump - cold plate"), thread="G1/2")
    built = add_service_ports(asked, routed)
    assert service_ports(asked, built) == ()
    without, fits = check_service_ports(asked, built)
    assert without.remedy == 'Take channel "cold plate - radiator" out of bleed in [service].'
    assert fits.remedy == (
        'Give [service] a smaller thread, thread = "G1/4", or take channel "pump - cold plate" out of bleed in '
        "[service]."
    )
    for size in ("G3/8", "G1/4", "G1/8"):
        smaller = ask(asked, thread=size)
        served = [port.channel for port in service_ports(smaller, add_service_ports(smaller, routed))]
        assert served == ([] if size == "G3/8" else ["pump - cold plate"])
    # G1/8 fits no more than G1/4 does in a bore of 5.5 mm.
    plan = plan_hump()
    tank = ask(plan.panel, drain=("tank",), thread="G1/4")
    (told,) = check_service_ports(tank, add_service_ports(tank, plan.routed))
    assert told.remedy == "Take the tank out of drain in [service]."


def left_with(panel: Panel, routed: Routed) -> Filling:
    features = cut_openings(panel, routed)
    voxels = raster_wet(features, 1.0)
    openings = find_openings(panel, routed, features, voxels)
    tank = tank_voxels(voxels)
    return Filling(find_left(voxels, openings, panel.up, tank))


def test_auto_without_room_is_told_with_the_thread_that_has_it():
    panel, routed = lay_demo("new")
    asked = ask(panel, drain="auto", thread="G1/2")
    built = add_service_ports(asked, routed)
    told = check_drain_left(asked, built, left_with(asked, built))[0]
    assert told.severity == "caution"
    assert (
        'drain = "auto" of [service] puts no port there: on the front it would come too near to ' in told.text
    )
    assert told.remedy.startswith('Give [service] a smaller thread, thread = "G1/4"')
    cured = ask(asked, thread="G1/4")
    built = add_service_ports(cured, routed)
    assert check_drain_left(cured, built, left_with(cured, built)) == ()
    # Not "auto": nothing is missing.
    assert "auto" not in check_drain_left(panel, routed, left_with(panel, routed))[0].text


def test_auto_without_room_for_any_thread_says_what_stands_in_the_way():
    plan = plan_hump()
    lid = KeepClear("shelf", (LEFT - 10.0, FOOT + 9.0, RIGHT + 10.0, TOP + 10.0), 1)
    panel = replace(ask(plan.panel, bleed="auto", thread="G1/4"), keep_clear=(*plan.panel.keep_clear, lid))
    built = add_service_ports(panel, plan.routed)
    assert service_ports(panel, built) == ()
    (told,) = check_air_left(panel, built, left_with(panel, built))
    assert (
        '; bleed = "auto" of [service] puts no port there: on the front it would come too near to shelf, '
        "spot face block outlet and spot face cooler inlet" in told.text
    )
    assert "thread" not in told.remedy


def test_auto_puts_none_into_the_feed_and_not_too_many(monkeypatch):
    plan = plan_hump()
    panel = ask(plan.panel, bleed="auto")
    assert plan.filling is not None
    pocket = plan.filling.left.air[0]
    feed = find_missing(panel, plan.routed, "bleed", pocket, (FEED,))
    assert feed is not None
    assert "into the feed" in feed.why
    monkeypatch.setattr("layouts.filling.service.service_trials.MOST_PORTS", 0)
    most = find_missing(panel, plan.routed, "bleed", pocket, (HUMP,))
    assert most is not None
    assert most.why == "it puts 0 at most"
    assert find_missing(ask(panel, bleed=(HUMP,)), plan.routed, "bleed", pocket, (HUMP,)) is None


def test_a_drain_of_the_tank_stands_at_its_lowest_place_and_empties_it():
    plan = plan_hump()
    panel, routed = ask(plan.panel, drain=("tank",)), plan.routed
    # Deeper there is no room for its thread.
    panel = replace(panel, tank=replace(panel.tank, depth=10.0))
    built = add_service_ports(panel, routed)
    (port,) = service_ports(panel, built)
    box = built.tank.box
    assert box is not None
    assert (port.name, port.channel, port.on) == ("drain 2", "tank", "front")
    assert port.foot[1] - BORE / 2 == pytest.approx(box[1] - 0.5)
    assert verify_routed(panel, built) == ()
    assert not check_port_room(built)
    assert not check_port_seats(panel, built)
    exact, plain = (
        plan_volume(detail_panel(panel, one, Sealed((), ()), clearances_of(panel))) for one in (built, routed)
    )
    more = channel_volume_ml(panel, built) - channel_volume_ml(panel, routed)
    # Left out: the lead chamfer, and what of the bore reaches past the pocket's wall.
    assert more * 1e3 == pytest.approx(exact - plain, rel=0.05)


@pytest.mark.parametrize("name", ["new", "observatory-camera", "synthesizer-rack", "cupboard-server"])
def test_wherever_a_port_may_stand_all_distances_hold(name):
    """Places on all faces, edges among them: a bore, its thread and its fitting keep off everything."""
    panel, routed = lay_demo(name)
    cuts, row = list_cuts(panel, routed), thread("G1/8")
    faces: tuple[Face, ...] = ("front", "back", *EDGES)
    tried = 0
    for channel in routed.channels:
        for layer in {run.layer for run in channel.runs}:
            for on in faces:
                places = list_places(panel, routed, cuts, channel.name, layer, on, row)
                free = [] if places is None else places.free().nonzero()[0][::17].tolist()
                for number in free:
                    assert places is not None
                    port = place_port(panel, routed, places, number, row, "bleed 1", "bleed")
                    built = replace(routed, ports=(*routed.ports, port))
                    assert verify_routed(panel, built) == (), (port, places.on)
                    assert not check_port_room(built)
                    assert not check_port_seats(panel, built)
                    faults = [f for f in check_threads(panel, built) if f.severity == "fault"]
                    assert not [f for f in faults if "bleed 1" in f.features]
                    if on in EDGES:
                        assert port.depth == pytest.approx(math.dist(port.at[:2], port.foot))
                        assert port_bore(channel, port) == pytest.approx(port.depth - channel.width / 2)
                    tried += 1
    assert tried > 5


@settings(max_examples=6, deadline=None, derandomize=True)
@given(
    st.sampled_from(["new", "laser-driver", "observatory-camera", "cupboard-server"]),
    st.sampled_from(["G1/8", "G1/4"]),
    st.integers(0, 7),
    st.floats(-0.6, 0.6),
    st.floats(0.05, 0.9),
    st.floats(0.05, 0.9),
    st.booleans(),
)
def test_ports_on_any_panel_keep_off_all(name, size, turn, lean, across, along, by_name):
    panel, routed = lay_demo(name)
    angle = turn * math.pi / 4
    flat = math.sqrt(1.0 - lean**2)
    up = (flat * math.sin(angle), flat * math.cos(angle), lean)
    x, y = across * panel.width, along * panel.height
    slot = KeepClear("slot", (x, y, x + 12.0, y + 9.0), 1)
    names = tuple(channel.name for channel in routed.channels[::2] if channel.name != FEED)
    service = replace(
        panel.service, thread=size, bleed=names if by_name else "auto", drain="auto" if by_name else names
    )
    asked = replace(panel, up=up, keep_clear=(*panel.keep_clear, slot), service=service)
    built = add_service_ports(asked, routed)
    ports = service_ports(asked, built)
    assert set(verify_routed(asked, built)) <= set(verify_routed(asked, routed))
    assert not check_port_room(built)
    missing = {finding.features[0] for finding in check_service_ports(asked, built)}
    kind = "bleed" if by_name else "drain"
    have = {f"channel {port.channel}" for port in ports if port.role == kind}
    assert missing | have == {f"channel {one}" for one in names}
    assert not missing & have
    assert sum(port.role != kind for port in ports) <= MOST_PORTS
    features = cut_openings(asked, built)
    assert {name_port(port) for port in ports} <= {feature.name for feature in features}
    # A bleed never makes more air stay; a drain by itself never more coolant.
    others = {
        port.role: tuple(p for p in built.ports if p.role != port.role or p not in ports) for port in ports
    }
    for role, rest in others.items():
        fewer = replace(built, ports=rest)
        bores = sum(math.pi / 4 * thread(p.thread).tap_drill ** 2 * p.depth for p in ports if p.role == role)
        assert left_of(asked, built, role) <= left_of(asked, fewer, role) + bores


def test_what_is_proposed_is_what_a_built_port_clears():
    for name, kind in (
        ("workshop-render", "bleed"),
        ("observatory-camera", "drain"),
        ("new", "drain"),
    ):
        panel, routed = lay_demo(name)
        features = cut_openings(panel, routed)
        voxels = raster_wet(features, 1.0)
        proposals = propose_ports(panel, routed, voxels, find_openings(panel, routed, features, voxels))
        best = next(one for one in proposals if one.kind == kind)
        service = replace(panel.service, **{kind: (best.channel,)})
        built = add_service_ports(replace(panel, service=service), routed)
        assert built.ports[-1].at == best.at
        gone = left_of(panel, routed, kind) - left_of(panel, built, kind)
        assert gone == pytest.approx(best.clears_mm3, rel=0.05)
