"""The loop before it is routed: the pump against the parts."""

from __future__ import annotations

from dataclasses import replace

import pytest
from printed import assert_as_printed

from layouts.design_flow import design_flow, find_design_flows
from tests.layouts.sample_routed import L_MIN, sample_panel, with_curve, with_parts


@pytest.mark.published(
    source="Cengel and Cimbala, Fluid Mechanics, pump problem: 7.46 - 0.0453 Q2, 3.52 + 0.0261 Q2"
)
def test_operating_point():
    # A closed loop has no static head: the problem's 3.52 m are taken off both curves.
    panel = replace(sample_panel(), loop=("tank", "pump", "radiator", "tank"))
    panel = with_parts(with_curve(panel, 7.46 - 3.52, 0.0453, 9.3), block_a=1, block_b=1, radiator=0.0261)
    assert_as_printed(design_flow(panel) / L_MIN, "7.428", rel=1e-3)


@pytest.mark.published(
    source="closed form Q = sqrt(c / (b + d)) of H = 3 - 0.05 Q2 against 0.10 Q2, loop without lift"
)
def test_operating_point_through_parallel_parts():
    # Two equal branches of 0.4 Q2 are 0.1 Q2 together; the radiator takes next to nothing.
    panel = with_parts(with_curve(sample_panel(), 3.0, 0.05, 7.7), block_a=0.4, block_b=0.4, radiator=1e-9)
    assert_as_printed(design_flow(panel) / L_MIN, "4.4721", rel=1e-4)


@pytest.mark.published(
    source="closed form: branches of a Q2 and b Q2 in parallel share the flow as sqrt(b) to sqrt(a)"
)
def test_unlike_parts_share_the_flow():
    panel = with_parts(with_curve(sample_panel(), 3.0, 0.05, 7.7), block_a=0.4, block_b=0.1, radiator=1e-9)
    flows = find_design_flows(panel).parts_m3_s
    assert_as_printed(flows["block b"] / flows["block a"], "2.000", rel=1e-4)


def test_flows_are_held_to_the_end_of_the_pump_s_curve():
    panel = with_parts(with_curve(sample_panel(), 3.0, 0.0, 1.0), block_a=0.4, block_b=0.4, radiator=1e-9)
    flows = find_design_flows(panel)
    assert flows.loop_m3_s == pytest.approx(1.0 * L_MIN)
    assert flows.parts_m3_s["block a"] + flows.parts_m3_s["block b"] == pytest.approx(
        flows.loop_m3_s, rel=1e-6
    )


def test_a_loop_without_parts_takes_the_last_flow_of_the_curve():
    panel = replace(with_curve(sample_panel(), 3.0, 0.05, 7.7), loop=("tank", "pump", "tank"), parts=())
    assert find_design_flows(panel).loop_m3_s == pytest.approx(7.7 * L_MIN)
    assert find_design_flows(panel).parts_m3_s == {}
