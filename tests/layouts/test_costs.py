"""What the pieces of a channel cost the search, against closed formulas and against the loop's own hydraulics."""

from __future__ import annotations

from dataclasses import replace

import pytest
from printed import assert_as_printed
from sample_demos import route_demo

from layouts.costs import LEAST_SHARE, UNITS_A_STEP, find_costs
from layouts.design_flow import find_design_flows
from layouts.file.read import read_panel
from layouts.hydraulics.coolant import coolant_properties
from layouts.hydraulics.segments import Bend, Straight, drop_pa
from layouts.loop_network import find_coolant, find_end_ports, list_leg_edges
from layouts.nets import DRAIN, FEED, channels_needed
from layouts.panels.catalogue import demo_names, demo_path
from layouts.plan import Channel
from layouts.routing.effort import QUICK
from tests.layouts.sample_routed import L_MIN, sample_panel, with_curve


def leg_flow(channel: Channel, number: int, sources: dict[str, float]) -> float:
    """Return the flow of a leg: what comes from the sources on one side of it, less what goes to the sinks."""
    others = [leg for n, leg in enumerate(channel.legs) if n != number]
    near = {channel.legs[number].start}
    for _ in others:
        for leg in others:
            if leg.start in near or leg.end in near:
                near |= {leg.start, leg.end}
    return abs(sum(sources.get(name, 0.0) for name in near))


def head_taken(panel, routed) -> float:
    """Return what friction and bends of all legs but the drain's take of the head, by the loop's hydraulics, [Pa]."""
    flows, coolant = find_design_flows(panel), find_coolant(panel)
    ports = find_end_ports(panel, routed)
    needs = {need.name: need for need in channels_needed(panel)}
    total = 0.0
    for channel in routed.channels:
        if channel.name == DRAIN:
            continue
        need = needs[channel.name]
        signed = {}
        for k, end in enumerate(need.ends):
            flow = flows.loop_m3_s
            if end.port is not None and end.port.part in flows.parts_m3_s:
                flow = flows.parts_m3_s[end.port.part]
            signed[end.name] = flow if k < need.sources else -flow
        for number, edge in enumerate(list_leg_edges(panel, channel, ports)):
            flow = leg_flow(channel, number, signed)
            drops = (drop_pa(e, flow, coolant) for e in edge.elements if isinstance(e, Straight | Bend))
            total += flow / flows.loop_m3_s * sum(drops)
    return total


@pytest.mark.parametrize("name", [name for name in demo_names() if name != "observatory-camera"])
def test_the_cost_minimised_is_what_the_loop_s_hydraulics_find(name):
    """To 1 %, Ts aside: they stand in the cost with one mean, and in the loop with what each takes."""
    panel = read_panel(demo_path(name))
    routed = route_demo(name, QUICK)
    costs = find_costs(panel)
    tees = sum(
        (len(need.ends) - 2) * costs.channels[need.name].rates.tee * costs.unit_pa
        for need in channels_needed(panel)
        if need.name != FEED and len(need.ends) > 2
    )
    assert routed.channels_pa - tees == pytest.approx(head_taken(panel, routed), rel=0.01)
    assert routed.channels_pa < routed.cost
    assert routed.design_flow_m3_s == find_design_flows(panel).loop_m3_s


@pytest.mark.published(
    source="Shah and London, Laminar Flow Forced Convection in Ducts (1978): Fanning f Re = 14.227 in a square duct; "
    "recalled, not verified"
)
def test_a_step_costs_its_friction():
    panel = with_curve(sample_panel(), 4.0, 0.0, 0.1)
    panel = replace(
        panel, channel=replace(panel.channel, width=9.0, depth=9.0), loop=("tank", "pump", "tank")
    )
    panel = replace(panel, parts=(), pitch=5.0)
    costs = find_costs(panel)
    coolant = coolant_properties("water", 0.0, 35.0)
    flow = 0.1 * L_MIN
    assert costs.flow_m3_s == pytest.approx(flow)
    velocity = flow / 81e-6
    gradient = 2 * 14.227 * coolant.viscosity_pa_s * velocity / 9e-3**2
    assert_as_printed(costs.rates.step * costs.unit_pa / (gradient * 5e-3), "1.00")


def test_a_bend_costs_its_loss_and_arc_less_the_corner():
    panel = sample_panel()
    costs, coolant = find_costs(panel), find_coolant(panel)
    section = panel.channel
    sizes = (section.width / 1e3, section.depth / 1e3)
    bend = drop_pa(Bend(section.bend_radius / 1e3, *sizes), costs.flow_m3_s, coolant)
    corner = drop_pa(Straight(2 * section.bend_radius / 1e3, *sizes), costs.flow_m3_s, coolant)
    assert costs.rates.bend * costs.unit_pa == pytest.approx(bend - corner, rel=5e-3)


def test_costs_are_whole_and_fine_enough():
    for name in demo_names():
        costs = find_costs(read_panel(demo_path(name)))
        rates = [costs.rates]
        for channel, one in costs.channels.items():
            rates += [one.rates, *one.leg_rates, *one.end_rates] if channel != DRAIN else []
        for each in rates:
            assert all(value == round(value) for value in (each.step, each.bend, each.tee, each.through))
        # The legs with no end beyond them, or all, are none.
        least = min(each.step for each in rates if each.step > LEAST_SHARE * costs.rates.step + 1)
        assert UNITS_A_STEP <= least <= 2.5 * UNITS_A_STEP
        assert f"{costs.unit_pa:.0e}"[0] in "125"


def test_legs_of_a_tree_cost_what_their_flow_takes():
    panel = read_panel(demo_path("workshop-render"))
    costs, flows = find_costs(panel), find_design_flows(panel)
    tree = next(need for need in channels_needed(panel) if len(need.ends) == 3 and need.sources == 1)
    one = costs.channels[tree.name]
    coolant = find_coolant(panel)
    section = panel.channel
    for end in (1, 2):
        flow = flows.parts_m3_s[tree.ends[end].port.part]
        step = drop_pa(Straight(panel.pitch / 1e3, section.width / 1e3, section.depth / 1e3), flow, coolant)
        expected = flow / flows.loop_m3_s * step
        assert one.leg_rates[1 << end].step * costs.unit_pa == pytest.approx(expected, rel=5e-3)
        # A leg is the same from either side.
        assert one.leg_rates[0b111 ^ (1 << end)] == one.leg_rates[1 << end]
    assert one.leg_rates[0b001] == one.leg_rates[0b110]
    assert one.leg_rates[0b001].step == costs.rates.step


@pytest.mark.published(
    source="balance of power: in parallel branches the pump's head times its flow is their sum"
)
def test_shares_of_the_head_add_up_to_the_head():
    """Two like branches of half the flow take together what one of them drops."""
    panel = read_panel(demo_path("workshop-render"))
    parts = tuple(
        replace(part, resistance=panel.part("graphics left").resistance)
        if part.name == "graphics right"
        else part
        for part in panel.parts
    )
    panel = replace(panel, parts=parts)
    flows, costs = find_design_flows(panel), find_costs(panel)
    assert flows.parts_m3_s["graphics left"] == pytest.approx(flows.loop_m3_s / 2, rel=1e-6)
    tree = next(need for need in channels_needed(panel) if len(need.ends) == 3 and need.sources == 1)
    section = panel.channel
    piece = Straight(panel.pitch / 1e3, section.width / 1e3, section.depth / 1e3)
    drop = drop_pa(piece, flows.loop_m3_s / 2, find_coolant(panel))
    both = sum(costs.channels[tree.name].leg_rates[1 << end].step for end in (1, 2)) * costs.unit_pa
    assert both == pytest.approx(drop, rel=5e-3)


def test_own_widths_have_their_own_costs():
    panel = read_panel(demo_path("laser-driver"))
    name = channels_needed(panel)[1].name
    wide = replace(panel, channel=replace(panel.channel, own=((name, 8.0),)))
    costs = find_costs(wide)
    assert costs.channels[name].width == 8.0
    assert costs.channels[name].rates.step < 0.6 * costs.rates.step
