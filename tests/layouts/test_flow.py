"""The loop at its operating point, against closed forms and published points."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import assert_as_printed

from geom.errors import LayoutError
from geom.standards.tables import thread
from layouts.clearance import port_axis_z
from layouts.flow import size_flow
from layouts.hydraulics.segments import PortTurn
from layouts.loop_network import build_network
from layouts.panel import CoolantChoice, Panel, Port
from layouts.plan import PlacedPort, PlacedTank, Routed
from tests.layouts.sample_routed import (
    GRAVITY_M_S2,
    HEIGHT,
    L_MIN,
    sample_panel,
    sample_routed,
    with_curve,
    with_parts,
)


def test_part_rules_the_loop():
    """Where a part's resistance dwarfs the channels', the loop is the closed form."""
    panel = with_parts(with_curve(sample_panel(), 4.0, 0.03, 11.5), block_a=1.0, block_b=1.0, radiator=50.0)
    flowing = size_flow(panel, sample_routed())
    assert flowing.flow_m3_s / L_MIN == pytest.approx(math.sqrt(4.0 / (50.25 + 0.03)), rel=5e-3)
    assert flowing.head_m == pytest.approx(4.0, rel=1e-3)


def test_parallel_split():
    """Flows of parallel parts stand as the square roots of their conductances."""
    panel = with_parts(with_curve(sample_panel(), 4.0, 0.03, 11.5), block_a=40.0, block_b=10.0, radiator=1.0)
    flows = {part.part: part.flow_m3_s for part in size_flow(panel, sample_routed()).parts}
    assert flows["block b"] / flows["block a"] == pytest.approx(2.0, rel=5e-3)
    assert flows["block a"] + flows["block b"] == pytest.approx(flows["radiator"], rel=1e-9)


def test_drops_close_the_loop():
    """Legs and parts along either branch take the pump's head, to rounding."""
    panel, routed = sample_panel(), sample_routed()
    flowing = size_flow(panel, routed)
    legs = {leg.leg: leg for channel in flowing.channels for leg in channel.legs}
    parts = {part.part: part for part in flowing.parts}
    shared = ["feed", "pump - blocks 1", "blocks - radiator 3", "radiator - tank"]
    ways = {
        "block a": ["pump - blocks 3", "blocks - radiator 1"],
        "block b": ["pump - blocks 2", "blocks - radiator 2"],
    }
    for part, own in ways.items():
        total = sum(legs[name].drop_pa for name in shared + own)
        total += parts[part].drop_pa + parts["radiator"].drop_pa
        assert total == pytest.approx(flowing.loop_drop_pa, rel=1e-7)
    assert flowing.loop_drop_pa == pytest.approx(
        flowing.head_m * flowing.density_kg_m3 * GRAVITY_M_S2, rel=1e-9
    )
    for leg in legs.values():
        assert leg.straight_pa + leg.bends_pa + leg.turns_pa == pytest.approx(leg.drop_pa, abs=1e-6)


def test_channel_reports_its_busiest_leg_and_furthest_end():
    flowing = size_flow(sample_panel(), sample_routed())
    supply = next(channel for channel in flowing.channels if channel.channel == "pump - blocks")
    trunk, branch, end = supply.legs
    assert supply.flow_m3_s == pytest.approx(flowing.flow_m3_s, rel=1e-9)
    assert supply.velocity_m_s == pytest.approx(flowing.flow_m3_s / (8e-3 * 9e-3), rel=1e-9)
    assert supply.drop_pa == pytest.approx(trunk.drop_pa + max(branch.drop_pa, end.drop_pa), rel=1e-9)
    assert supply.length == pytest.approx(85.0)


@pytest.mark.published(
    source="energy balance of a stream, water at 25 °C after IAPWS-95: 500 W at 4 L/min warm it by 1.799 K"
)
def test_temperature_rise():
    panel = replace(sample_panel(), coolant=CoolantChoice("water", 0.0, 25.0))
    flowing = size_flow(panel, sample_routed())
    part = next(part for part in flowing.parts if part.part == "block b")
    assert_as_printed(part.rise_k * (500 / 220) * part.flow_m3_s / (4 * L_MIN), "1.799", rel=2e-3)


def test_drain_carries_nothing():
    flowing = size_flow(sample_panel(), sample_routed())
    drain = flowing.channels[-1]
    assert (drain.channel, drain.flow_m3_s, drain.drop_pa, drain.velocity_m_s) == ("drain", 0.0, 0.0, 0.0)
    names = {edge.name for edge in build_network(sample_panel(), sample_routed()).edges}
    assert "drain / drain" not in names
    assert "feed / feed" in names


def test_pump_that_does_not_meet_the_loop():
    panel = with_parts(sample_panel(), block_a=1.0, block_b=1.0, radiator=1e6)
    with pytest.raises(LayoutError, match=r"needs 3\.9 m, the pump's shut-off head is 3\.9 m"):
        size_flow(panel, sample_routed())


def test_curve_that_ends_before_it_meets_the_loop():
    panel = sample_panel()
    flow = size_flow(panel, sample_routed()).flow_m3_s

    def cut(share: float) -> Panel:
        """Return the panel with its curve cut off at a share of the flow, no lower in head."""
        return replace(panel, pump=replace(panel.pump, curve=((0.0, 3.9), (flow * share, 3.8))))

    assert size_flow(cut(0.99), sample_routed()).flow_m3_s > 0.99 * flow
    with pytest.raises(
        LayoutError, match=r"pump curve ends at 0\.0\d+ L/min, 3\.8 m, before it meets the loop"
    ):
        size_flow(cut(0.01), sample_routed())
    with pytest.raises(LayoutError, match="before it meets the loop"):
        size_flow(cut(0.7), sample_routed())


def test_loop_that_does_not_close():
    routed = sample_routed()
    open_loop = replace(routed, channels=tuple(c for c in routed.channels if c.name != "radiator - tank"))
    with pytest.raises(LayoutError, match="does not close: no coolant comes through pump"):
        size_flow(sample_panel(), open_loop)


def separate_tank(panel: Panel, routed: Routed) -> tuple[Panel, Routed]:
    """Return the sample fed from a vessel above it, through two ports on the top edge."""
    out = Port("tank outlet", "tank", "outlet", "top", "G1/4", None, None, (140.0, 150.0), "tank.outlet", 25)
    back = Port("tank return", "tank", "inlet", "top", "G1/4", None, None, (105.0, 115.0), "tank.inlet", 26)
    z = port_axis_z(panel, thread("G1/4"), "tank.outlet")
    placed = (
        PlacedPort(
            "tank outlet", "tank", "outlet", "G1/4", "top", (145.0, HEIGHT, z), (145.0, 85.0), "feed", 61.0
        ),
        PlacedPort(
            "tank return",
            "tank",
            "inlet",
            "G1/4",
            "top",
            (110.0, HEIGHT, z),
            (110.0, 100.0),
            "radiator - tank",
            46.0,
        ),
    )
    tank = replace(
        panel.tank, kind="separate", size=None, at=None, fill=None, outlet=out, inlet=back, volume_ml=250.0
    )
    ports = (*(port for port in routed.ports if port.name != "fill"), *placed)
    return replace(panel, tank=tank), replace(routed, tank=PlacedTank(None, (145.0, 85.0), 0.0), ports=ports)


def test_separate_tank_comes_in_through_ports():
    panel, routed = separate_tank(sample_panel(), sample_routed())
    edges = {edge.name: edge for edge in build_network(panel, routed).edges}
    assert edges["feed / feed"].start == "tank"
    assert edges["feed / feed"].elements[1] == PortTurn("bore_to_channel", 11.8 / 1e3, 8.8 / 1e3, 9 / 1e3)
    assert (
        PortTurn("channel_to_bore", 11.8 / 1e3, 8 / 1e3, 9 / 1e3, close=True)
        in edges["radiator - tank / radiator - tank"].elements
    )
    assert 0 < size_flow(panel, routed).flow_m3_s < 12 * L_MIN


@settings(max_examples=12, deadline=None)
@given(st.lists(st.booleans(), min_size=9, max_size=9))
def test_way_of_naming_a_leg_changes_nothing(flips):
    """A leg named from its other end has the opposite flow; everything else stays."""
    panel, routed = sample_panel(), sample_routed()
    base = size_flow(panel, routed)
    turns = iter(flips)
    turned = replace(
        routed,
        channels=tuple(
            replace(
                channel,
                legs=tuple(
                    replace(leg, start=leg.end, end=leg.start, points=leg.points[::-1])
                    if next(turns)
                    else leg
                    for leg in channel.legs
                ),
            )
            for channel in routed.channels
        ),
    )
    other = size_flow(panel, turned)
    assert other.flow_m3_s == pytest.approx(base.flow_m3_s, rel=1e-7)
    for a, b in zip(base.channels, other.channels, strict=True):
        assert b.drop_pa == pytest.approx(a.drop_pa, rel=1e-6, abs=1e-6)
        for p, q in zip(a.legs, b.legs, strict=True):
            assert abs(q.flow_m3_s) == pytest.approx(abs(p.flow_m3_s), rel=1e-7)
            assert q.drop_pa == pytest.approx(p.drop_pa, rel=1e-6, abs=1e-6)


@settings(max_examples=12, deadline=None)
@given(st.floats(0.05, 5.0), st.floats(1.05, 4.0))
def test_more_resistance_less_flow(resistance, factor):
    panel, routed = sample_panel(), sample_routed()
    flows = [
        size_flow(with_parts(panel, block_a=0.5, block_b=0.5, radiator=r), routed).flow_m3_s
        for r in (resistance, resistance * factor)
    ]
    assert 0 < flows[1] < flows[0]


def test_bands():
    flowing = size_flow(sample_panel(), sample_routed())
    assert 0.01 < flowing.band < 0.25
    # The pump's curve is flatter than the loop's: its head is known better than its flow.
    assert 0.0 < flowing.head_band < flowing.band
    for channel in flowing.channels:
        assert 0.0 <= channel.band <= 1.0
        assert all(0.0 <= leg.band <= 1.0 for leg in channel.legs)
        assert (channel.band > 0) == (channel.flow_m3_s > 0)
    assert [part.band for part in flowing.parts] == pytest.approx([0.10] * 3)


def test_steps_go_round_the_loop_from_the_tank():
    flowing = size_flow(sample_panel(), sample_routed())
    steps = flowing.steps
    assert [step.name for step in steps[:3]] == ["feed", "pump", "pump - blocks"]
    assert steps[-1].name == "radiator - tank"
    assert (steps[0].start, steps[-1].end) == ("tank", "tank")
    assert (steps[0].start_pa, steps[-1].end_pa) == (0.0, pytest.approx(0.0, abs=1e-6))
    drops = [step.start_pa - step.end_pa for step in steps if step.kind == "channel"]
    assert sorted(drops) == pytest.approx(
        sorted(leg.drop_pa for channel in flowing.channels for leg in channel.legs if leg.flow_m3_s), abs=1e-5
    )
    assert all(step.flow_m3_s > 0 for step in steps)
    pump = next(step for step in steps if step.kind == "pump")
    assert pump.end_pa - pump.start_pa == pytest.approx(flowing.loop_drop_pa)
    assert pump.band == 0.0
    assert len(steps) == 4 + 1 + 3 + 4  # feed, return and the legs; no drain
    assert not any(step.name == "drain" for step in steps)
    reached = {"tank"}
    for step in steps:
        assert step.start in reached
        reached.add(step.end)
