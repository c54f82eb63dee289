"""The loop as a network: elements of legs and ends, and which turns stand close."""

from __future__ import annotations

from dataclasses import replace

import pytest

from layouts.hydraulics.segments import Bend, PortTurn, Straight, TankEntry, TankExit
from layouts.loop_network import build_network, find_end_ports, list_leg_edges, port_bore, pump_bore
from layouts.plan import Leg
from tests.layouts.sample_routed import sample_panel, sample_routed


def test_elements_of_a_leg():
    """The return: bore and port turn, straight less the bend's tangent, the bend, straight again, the tank."""
    routed = sample_routed()
    network = build_network(sample_panel(), routed)
    edges = {edge.name: edge for edge in network.edges}
    back = edges["radiator - tank / radiator - tank"]
    assert (back.start, back.end) == ("radiator outlet", "tank")
    bore, turn, straight, bend, after, entry = back.elements
    # The turn and the bend stand 6 mm apart: less than 5 hydraulic diameters.
    assert turn == PortTurn("bore_to_channel", 11.8 / 1e3, 8 / 1e3, 9 / 1e3, close=True)
    assert bore.length_m == pytest.approx((20 - 4) * 1e-3)
    assert straight.length_m == pytest.approx((20 - 14) * 1e-3)
    assert bend == Bend(14 / 1e3, 8 / 1e3, 9 / 1e3, close=True)
    assert after.length_m == pytest.approx((35 - 14) * 1e-3)
    assert entry == TankEntry(8 / 1e3, 9 / 1e3)
    feed = edges["feed / feed"].elements
    width = routed.channel("feed").width / 1e3
    assert feed[0] == TankExit(width, 9 / 1e3)
    assert feed[2] == PortTurn("channel_to_bore", 10 / 1e3, width, 9 / 1e3)
    assert len(network.tees) == 2


@pytest.mark.parametrize(("between", "close"), [(20.0, True), (41.0, True), (43.0, False), (80.0, False)])
def test_turns_closer_than_five_diameters_are_marked(between, close):
    """8 x 9 mm has a hydraulic diameter of 8.47 mm; two bends of 14 mm with straight channel between."""
    panel, routed = sample_panel(), sample_routed()
    points = ((75.0, 300.0), (75.0, 100.0), (75.0 + 28.0 + between, 100.0), (75.0 + 28.0 + between, -200.0))
    channel = replace(
        routed.channel("radiator - tank"), legs=(Leg("back", "radiator outlet", "tank return", points),)
    )
    (edge,) = list_leg_edges(panel, channel, find_end_ports(panel, routed))
    bends = [element for element in edge.elements if isinstance(element, Bend)]
    assert [bend.close for bend in bends] == [close, close]
    assert sum(e.length_m for e in edge.elements if isinstance(e, Straight)) == pytest.approx(
        (200 + between + 300 - 28) / 1e3
    )


def test_bores_end_at_the_channel():
    panel, routed = sample_panel(), sample_routed()
    front = next(port for port in routed.ports if port.on == "front")
    assert port_bore(routed.channel(front.channel), front) == pytest.approx(20 - 9)
    assert pump_bore(panel, "back") == pytest.approx(20 - 9 - 1.5)
    behind = replace(panel, pump=replace(panel.pump, on="back"))
    assert pump_bore(behind, "back") == pytest.approx(8 - 1.5)
