"""The loop before it is routed: the pump against the parts, and what a bend costs there."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from printed import assert_as_printed

from layouts.design_flow import bend_steps, design_flow
from layouts.hydraulics.coolant import coolant_properties
from layouts.hydraulics.segments import Bend, Straight, drop_pa
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


def test_bend_steps_cost_a_bend():
    """A straight of that length drops as much as the bend beyond its own arc."""
    panel = sample_panel()
    coolant = coolant_properties("water", 0.0, 35.0)
    flow = design_flow(panel)
    bend = drop_pa(Bend(14 / 1e3, 8 / 1e3, 9 / 1e3), flow, coolant)
    arc = drop_pa(Straight(math.pi / 2 * 14 / 1e3, 8 / 1e3, 9 / 1e3), flow, coolant)
    straight = drop_pa(Straight(bend_steps(panel) * 1e-3, 8 / 1e3, 9 / 1e3), flow, coolant)
    assert straight == pytest.approx(bend - arc, rel=1e-3)
