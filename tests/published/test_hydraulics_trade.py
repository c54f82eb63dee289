"""What everybody who builds cooling loops knows: facts of the trade, on small loops and on a whole panel."""

from __future__ import annotations

from dataclasses import replace
from itertools import accumulate, permutations

import pytest

from layouts.flow import size_flow
from layouts.hydraulics.coolant import coolant_properties, temperature_rise_k
from layouts.hydraulics.network import Edge, Network, solve_network
from layouts.hydraulics.pump import CurvePoints, combine_parallel, combine_series, head_pressure_pa
from layouts.hydraulics.segments import (
    Bend,
    PartResistance,
    PumpCurve,
    Segment,
    Straight,
    TankEntry,
    TankExit,
    drop_pa,
)
from tests.layouts.sample_routed import sample_panel, sample_routed

TRADE = "common practice, no source"
L_MIN = 1e-3 / 60
WATER = coolant_properties("water", 0.0, 25.0)
ROUND = ((0.0, 3.9), (4 * L_MIN, 3.3), (8 * L_MIN, 2.3), (12 * L_MIN, 0.8))
"""A pump of middling head and flow; invented."""

FLAT: CurvePoints = tuple((q * L_MIN, 2.4 - 0.009 * q * q) for q in range(17))
COMPACT: CurvePoints = tuple((q * L_MIN, 6.0 - 0.16 * q * q) for q in range(7))
"""More flow and less head, and the reverse; invented."""


def channel(length: float, width: float = 0.008) -> tuple[Segment, ...]:
    return (Straight(length, width, 0.009), Bend(0.014, width, 0.009))


def part(drop_at_4_l_min_pa: float) -> PartResistance:
    return PartResistance(((4 * L_MIN, drop_at_4_l_min_pa),))


def loop_flow(points: CurvePoints, elements: tuple[Segment, ...], coolant=WATER) -> float:
    """Return the flow of a loop from tank to tank, [L/min]."""
    whole = (TankExit(0.010, 0.009), *elements, TankEntry(0.008, 0.009))
    edges = (Edge("pump", "tank", "out", (PumpCurve(points),)), Edge("loop", "out", "tank", whole))
    return solve_network(Network(edges), coolant).flow_m3_s["loop"] / L_MIN


OPEN = (*channel(0.2), part(2e3))
RESTRICTIVE = (*channel(0.8), part(60e3), part(40e3))


@pytest.mark.published(source=TRADE)
def test_tank_size_changes_no_steady_flow():
    panel, routed = sample_panel(), sample_routed()
    plain = size_flow(panel, routed)
    left, low, right, high = routed.tank.box
    taller = replace(routed, tank=replace(routed.tank, box=(left, low, right, high + 30.0)))
    for level in (0.3, 0.85):
        tank = replace(panel.tank, size=(70.0, 65.0), depth=5.0, level=level)
        assert size_flow(replace(panel, tank=tank), taller) == plain


@pytest.mark.published(source=TRADE)
@pytest.mark.parametrize("fluid", [("water", 0.0, 25.0), ("propylene glycol", 0.5, 10.0)])
def test_an_upright_hose_reads_the_head_at_no_flow(fluid):
    coolant = coolant_properties(*fluid)
    shut = PartResistance(((1e-6 * L_MIN, 1e9),))
    network = Network(
        (Edge("pump", "tank", "hose", (PumpCurve(ROUND),)), Edge("shut valve", "hose", "tank", (shut,)))
    )
    solution = solve_network(network, coolant)
    assert solution.flow_m3_s["pump"] < 1e-6 * L_MIN
    # In metres it is the same for every coolant.
    assert solution.pressure_pa["hose"] / head_pressure_pa(1.0, coolant) == pytest.approx(
        ROUND[0][1], rel=1e-9
    )


@pytest.mark.published(source=TRADE)
def test_a_compact_curve_wins_in_a_restrictive_loop_and_loses_in_an_open_one():
    assert loop_flow(COMPACT, RESTRICTIVE) > 1.2 * loop_flow(FLAT, RESTRICTIVE)
    assert loop_flow(COMPACT, OPEN) < 0.8 * loop_flow(FLAT, OPEN)


@pytest.mark.published(source=TRADE)
def test_two_pumps_in_series_for_a_restrictive_loop_in_parallel_for_an_open_one():
    series, parallel = (join([FLAT, FLAT]) for join in (combine_series, combine_parallel))
    assert loop_flow(FLAT, RESTRICTIVE) < loop_flow(parallel, RESTRICTIVE) < loop_flow(series, RESTRICTIVE)
    free = (part(200.0),)
    assert loop_flow(FLAT, free) < loop_flow(series, free) < loop_flow(parallel, free)
    # Twice the pumps never give twice the flow of a closed loop.
    for elements in (OPEN, RESTRICTIVE):
        assert max(loop_flow(series, elements), loop_flow(parallel, elements)) < 2 * loop_flow(FLAT, elements)


PARTS: dict[str, tuple[tuple[Segment, ...], float]] = {
    "processor": ((*channel(0.15), part(18e3)), 180.0),
    "card": ((*channel(0.10), part(14e3)), 260.0),
    "radiator": ((*channel(0.30), part(6e3)), -440.0),
    "meter": ((part(3e3),), 0.0),
}
"""Elements and heat, [W]; invented."""


def follow(order: tuple[str, ...]) -> tuple[dict[str, float], list[float]]:
    """Return the flow through each part [m3/s], and the temperature over the tank's behind each [K]."""
    names = ["tank", "out", *(f"behind {name}" for name in order[:-1]), "tank"]
    edges = [Edge("pump", "tank", "out", (PumpCurve(ROUND),))]
    edges += [
        Edge(name, start, end, PARTS[name][0])
        for name, start, end in zip(order, names[1:-1], names[2:], strict=True)
    ]
    flows = solve_network(Network(tuple(edges)), WATER).flow_m3_s
    return flows, list(accumulate(temperature_rise_k(PARTS[name][1], flows[name], WATER) for name in order))


@pytest.mark.published(source=TRADE)
def test_order_of_parts_changes_no_flow_and_hardly_any_temperature():
    base, _ = follow(tuple(PARTS))
    assert base["pump"] > 3 * L_MIN
    for order in permutations(PARTS):
        flows, over = follow(order)
        assert flows == pytest.approx(base, rel=1e-9)
        assert over[-1] == pytest.approx(0.0, abs=1e-9)
        # No coolant anywhere differs from the tank's by more than all the heat would warm it.
        assert max(over) - min(*over, 0.0) < 2.0


@pytest.mark.published(source=TRADE)
def test_warm_coolant_runs_easier_and_glycol_harder():
    pipes = (*channel(0.8), *channel(0.5), part(5e3))
    cold, warm = (coolant_properties("water", 0.0, celsius) for celsius in (15.0, 45.0))
    mix = coolant_properties("propylene glycol", 0.5, 15.0)
    flows = [loop_flow(ROUND, pipes, coolant) for coolant in (mix, cold, warm)]
    assert flows == sorted(flows)
    assert flows[0] < 0.97 * flows[1]
    assert flows[2] < 1.15 * flows[1]


@pytest.mark.published(source=TRADE)
def test_the_tightest_part_rules_the_loop():
    """Wider channels hardly help where a part takes nearly all the head; taking the part out does."""
    tight = part(120e3)
    narrow, wide = ((*channel(0.3, width), tight) for width in (0.008, 0.012))
    assert loop_flow(ROUND, narrow) < loop_flow(ROUND, wide) < 1.02 * loop_flow(ROUND, narrow)
    assert loop_flow(ROUND, channel(0.3)) > 2 * loop_flow(ROUND, narrow)


@pytest.mark.published(source=TRADE)
@pytest.mark.parametrize("flow_l_min", [4.0, 5.0, 8.0])
def test_twice_the_flow_costs_some_four_times_the_drop(flow_l_min):
    """Between 2^1.75 of smooth turbulent friction and 2^2 of a square law."""
    once, twice = (
        sum(drop_pa(element, share * flow_l_min * L_MIN, WATER) for element in RESTRICTIVE[:1])
        for share in (1.0, 2.0)
    )
    assert 3.25 < twice / once < 4.0


@pytest.mark.published(source=TRADE)
def test_half_the_flow_warms_twice_as_much_and_neither_by_much():
    rises = [temperature_rise_k(400.0, flow * L_MIN, WATER) for flow in (2.0, 4.0)]
    assert rises[0] == pytest.approx(2 * rises[1])
    assert rises[0] < 3.0
