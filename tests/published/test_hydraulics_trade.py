"""What everybody who builds cooling loops knows: facts of the trade, on small loops and on a whole panel."""

from __future__ import annotations

import re
from itertools import permutations
from pathlib import Path

import pytest

from exports.pipeline import plan_panel
from layouts.advice import Heating
from layouts.feed import tank_volume_ml
from layouts.heat import follow_heat
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
from layouts.plan import Plan
from tests.layouts.sample_heat import flow_of, loop_of

ROOT = Path(__file__).parents[2]
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


def plan_with_tank(folder: Path, **new: str) -> Plan:
    """Return the plan of the small demo with other lines in its tank."""
    text = (ROOT / "layouts" / "panels" / "laser-driver.toml").read_text(encoding="utf-8")
    before, tank, after = text.partition("[tank]\n")
    for key, value in new.items():
        changed, count = re.subn(rf"(?m)^{key} = .*$", f"{key} = {value}", after, count=1)
        assert count == 1, key
        after = changed
    file = folder / "panel.toml"
    file.write_text(before + tank + after, encoding="utf-8")
    return plan_panel(file)


@pytest.mark.published(source=TRADE)
@pytest.mark.parametrize(
    ("larger", "growth", "rerouted"),
    [
        ({"depth": '"14 mm"'}, 14 / 12, []),
        # A wider and taller tank with its outlet where it was: the return comes in one step of the grid higher.
        ({"size": '["56 mm", "31 mm"]', "depth": '"14 mm"'}, 1.45, ["radiator - tank"]),
    ],
)
def test_tank_size_changes_no_steady_flow_and_no_steady_temperature(tmp_path, larger, growth, rerouted):
    plain, large = plan_with_tank(tmp_path), plan_with_tank(tmp_path, **larger)
    first, second = (tank_volume_ml(plan.panel, plan.routed) for plan in (plain, large))
    assert second / first == pytest.approx(growth, rel=0.01)
    assert large.routed.tank.outlet == plain.routed.tank.outlet
    moved = [
        a.name for a, b in zip(plain.routed.channels, large.routed.channels, strict=True) if a.runs != b.runs
    ]
    assert moved == rerouted
    assert large.flowing.flow_m3_s == pytest.approx(plain.flowing.flow_m3_s, rel=1e-3 if moved else 1e-12)
    degrees = [
        [heating.tank_c, *(one for step in heating.steps for one in (step.inlet_c, step.outlet_c))]
        for heating in (plain.advised.heating, large.advised.heating)
    ]
    assert degrees[1] == pytest.approx(degrees[0], abs=0.01 if moved else 1e-9)


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


PARTS: dict[str, tuple[tuple[Segment, ...], float, float]] = {
    "processor": ((*channel(0.15), part(18e3)), 180.0, 0.0),
    "card": ((*channel(0.10), part(14e3)), 260.0, 0.0),
    "radiator": ((*channel(0.30), part(6e3)), 0.0, 25.0),
    "meter": ((part(3e3),), 0.0, 0.0),
}
"""Elements, heat [W] and capacity [W/K]; invented."""


def follow(order: tuple[str, ...]) -> tuple[dict[str, float], Heating]:
    """Return the flow through each part [m3/s], and the heat round the loop."""
    names = ["tank", "0", *(str(k + 1) for k in range(len(order) - 1)), "tank"]
    edges = [Edge("pump", "tank", "0", (PumpCurve(ROUND),))]
    edges += [
        Edge(name, start, end, PARTS[name][0])
        for name, start, end in zip(order, names[1:-1], names[2:], strict=True)
    ]
    solution = solve_network(Network(tuple(edges)), WATER)
    flows = solution.flow_m3_s
    steps = [(name, a, b, flows[name]) for name, a, b in zip(order, names[1:-1], names[2:], strict=True)]
    panel = loop_of({name: PARTS[name][1:] for name in PARTS}, *order)
    pump_w = solution.pressure_pa["0"] * flows["pump"]
    return flows, follow_heat(panel, flow_of(steps, flows["pump"], pump_w))


@pytest.mark.published(source=TRADE)
def test_order_of_parts_changes_no_flow_and_hardly_any_temperature():
    base, plain = follow(tuple(PARTS))
    before = {step.part: step.inlet_c for step in plain.steps}
    assert base["pump"] > 3 * L_MIN
    most = 0.0
    for order in permutations(PARTS):
        flows, heating = follow(order)
        assert flows == pytest.approx(base, rel=1e-9)
        assert [step.part for step in heating.steps] == list(order)
        # The coolant is some 18 K over the air; no order moves that, nor what comes to a part, by much.
        assert heating.over_ambient_k == pytest.approx(440 / 25, abs=2.0)
        assert heating.spread_k < 2.0
        most = max(most, *(abs(step.inlet_c - before[step.part]) for step in heating.steps))
    assert 0.5 < most < 2.0
    assert plain.order_effect_k == pytest.approx(most, rel=1e-6)


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
