"""Pipes, ducts and networks against worked examples of textbooks."""

from __future__ import annotations

import math

import pytest
from printed import assert_as_printed

from layouts.hydraulics.area_changes import loss_entrance, loss_exit
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.friction import friction_factor
from layouts.hydraulics.network import Edge, Network, solve_network
from layouts.hydraulics.pump import GRAVITY_M_S2, head_pressure_pa, hydraulic_power_w
from layouts.hydraulics.segments import Bore, PartResistance, PumpCurve, Straight, drop_pa, reynolds, velocity

FOOT = 0.3048
POUND = 0.45359237
POUND_FORCE = POUND * GRAVITY_M_S2
L_MIN = 1e-3 / 60


def make_liquid(density_kg_m3: float, viscosity_pa_s: float) -> Coolant:
    return Coolant("water", 0.0, 20.0, density_kg_m3, viscosity_pa_s, 4184.0, None, None)


@pytest.mark.published(
    source="Cengel and Cimbala, Fluid Mechanics, 1st ed. (2006), Example 8-3: water, 200 ft of 2 in stainless "
    "steel, 0.2 ft3/s: Re 126 400, f 0.0174, 1700 lbf/ft2, 27.3 ft, 461 W (results recalled, not verified)"
)
def test_water_in_a_steel_pipe():
    viscosity = 7.536e-4 * POUND / FOOT
    water = make_liquid(62.36 * POUND / FOOT**3, viscosity)
    pipe, flow = Bore(200 * FOOT, FOOT / 6), 0.2 * FOOT**3
    assert_as_printed(velocity(pipe, flow) / FOOT, "9.17")
    re = reynolds(pipe, flow, water)
    assert_as_printed(re, "126400", rel=1e-3)
    factor = friction_factor(re, None, 0.000042)
    assert_as_printed(factor, "0.0174", rel=0.01)
    # The example prints the pressure of its rounded factor; ours stands in the proportion of the factors.
    smooth = drop_pa(pipe, flow, water) * factor / friction_factor(re)
    assert_as_printed(smooth / (POUND_FORCE / FOOT**2), "1700", rel=0.01)
    assert_as_printed(smooth / head_pressure_pa(1.0, water) / FOOT, "27.3", rel=0.01)
    assert_as_printed(hydraulic_power_w(flow, smooth / head_pressure_pa(1.0, water), water), "461", rel=0.01)


@pytest.mark.published(
    source="White, Fluid Mechanics, 4th ed., P6.20 and its solution: 10 °C, 3 cm3/s through a straw of 2 mm x 20 cm: "
    "Re 1460, 0.204 m"
)
def test_soda_straw():
    cola, straw = make_liquid(1000.0, 1.307e-3), Bore(0.20, 0.002)
    assert_as_printed(reynolds(straw, 3e-6, cola), "1460", rel=2e-3)
    head = drop_pa(straw, 3e-6, cola) / (1000.0 * 9.81)
    assert_as_printed(head, "0.204")
    # Straight up the 0.2 m of height come on top: 19 800 Pa over 0.2 m.
    assert_as_printed((head + 0.2) * 9810 / 0.2, "19800", rel=2e-3)


@pytest.mark.published(
    source="Solutions of a thermal and fluids text, problem 9-1 (scribd 118004625): oil of 2.17 N s/m2 between plates "
    "3.0 mm apart, 1 m long, 1.25 kPa: 0.000432 m/s (its last step then takes 6 mm for the gap)"
)
@pytest.mark.parametrize("width", [3.0, 30.0])
def test_oil_between_plates(width):
    gap = Straight(1.0, width, 0.003)
    slow = 1e-6 * width
    # So slow a flow drops in proportion to its speed; the ends of the gap count for 0.1 %.
    per_pascal = velocity(gap, slow) / drop_pa(gap, slow, make_liquid(900.0, 2.17))
    assert_as_printed(per_pascal * 1250.0, "0.000432")


@pytest.mark.published(
    source="Lindeburg, Civil Engineering Reference Manual, Example 17.2: Re 4e5, roughness 0.004: table 0.0287, "
    "Swamee-Jain 0.0288 (quoted by the R package iemisc, vignette on friction loss)"
)
def test_rough_pipe():
    assert_as_printed(friction_factor(4e5, None, 0.004), "0.0288")
    assert_as_printed(friction_factor(4e5, None, 0.004), "0.0287", rel=5e-3)


@pytest.mark.published(
    source="Colebrook's equation at Re 6000, roughness 0.05 mm in 25.4 mm, by a spreadsheet: f 0.0375 (R package "
    "iemisc, vignette on friction loss); 3 %"
)
def test_rough_pipe_at_low_reynolds_number():
    assert_as_printed(friction_factor(6000.0, None, 0.00005 / 0.0254), "0.0375", rel=0.03)


@pytest.mark.published(
    source="Moody chart reading of a textbook exercise: water at 50 °F, 3 in commercial steel, 8 ft/s: Re 1.418e5, "
    "f 0.02 (a fluid mechanics textbook, chapter 10, exercise 1)"
)
def test_steel_pipe_by_the_chart():
    re = 8 * 0.25 / 14.1e-6
    assert_as_printed(re, "141800", rel=1e-3)
    assert_as_printed(friction_factor(re, None, 0.00015 / 0.25), "0.02")


@pytest.mark.published(
    source="Munson, Young and Okiishi, Fundamentals of Fluid Mechanics, Example 8.5 (recalled, not verified): air, "
    "50 m/s through 0.1 m of 4.0 mm tube, 1.076 kPa at f 0.028; laminar it would be 0.179 kPa"
)
def test_air_in_a_small_tube():
    re = 1.23 * 50 * 0.004 / 1.79e-5
    assert_as_printed(re, "13700", rel=5e-3)
    head = 0.5 * 1.23 * 50**2
    assert_as_printed(friction_factor(re, None, 0.0015 / 4) * 0.1 / 0.004 * head / 1e3, "1.076", rel=0.05)
    # Blasius's formula gives 0.0292 in the same example.
    assert_as_printed(friction_factor(re), "0.0292", rel=0.03)


@pytest.mark.published(
    source="Cengel and Cimbala, Fluid Mechanics, 1st ed. (2006), Example 8-8: 6 L/s of water at 10 °C through 89 m of "
    "5 cm cast iron with entrance, elbows, valve and exit: 31.9 m (result recalled, not verified)"
)
def test_gravity_driven_flow():
    speed = 6e-3 / (math.pi / 4 * 0.05**2)
    re = 999.7 * speed * 0.05 / 1.307e-3
    assert_as_printed(re, "117000", rel=5e-3)
    factor = friction_factor(re, None, 0.26 / 50)
    assert_as_printed(factor, "0.0315", rel=0.01)
    # The example takes 1.06 for the exit of a turbulent profile; ours is flat.
    losses = loss_entrance(re, None) + 2 * 0.3 + 0.2 + loss_exit(re, None)
    assert losses == pytest.approx(0.5 + 2 * 0.3 + 0.2 + 1.06, rel=0.03)
    assert_as_printed(4.0 + (factor * 89 / 0.05 + losses) * speed**2 / 19.62, "31.9", rel=0.01)


def steady_pump(flow_m3_s: float, head_m: float) -> PumpCurve:
    """Return a pump that gives this flow at any head up to `head_m`."""
    return PumpCurve(((flow_m3_s * (1 - 1e-4), head_m), (flow_m3_s * (1 + 1e-4), 0.0)))


def pipe_resistance(length_ft: float, inches: float, factor: float, losses: float) -> PartResistance:
    """Return a pipe of constant factor and losses as a part, for water of 1000 kg/m3."""
    area = math.pi / 4 * (inches / 12 * FOOT) ** 2
    flow = 0.01 * FOOT**3
    whole = factor * length_ft / (inches / 12) + losses
    return PartResistance(((flow, whole * 0.5 * 1000.0 * (flow / area) ** 2),))


@pytest.mark.published(
    source="George Mason University, CEIE 230, assignment 8 (2008), problem 2: 0.35 ft3/s into three parallel pipes: "
    "0.081, 0.164, 0.105 ft3/s (coursehero 5662287)"
)
def test_three_parallel_pipes():
    pipes = {"1": (90, 2, 0.020, 3), "2": (120, 3, 0.025, 5), "3": (180, 2.5, 0.022, 1)}
    edges = [Edge("pump", "tank", "out", (steady_pump(0.35 * FOOT**3, 100.0),))]
    edges += [Edge(name, "out", "tank", (pipe_resistance(*pipe),)) for name, pipe in pipes.items()]
    flows = solve_network(Network(tuple(edges)), make_liquid(1000.0, 1e-3)).flow_m3_s
    for name, printed in {"1": "0.081", "2": "0.164", "3": "0.105"}.items():
        assert_as_printed(flows[name] / FOOT**3, printed)


@pytest.mark.published(
    source="White, Fluid Mechanics, Example 6.17 (recalled, not verified): three parallel pipes at 20.3 m: 62.5, 25.9, "
    "11.4 m3/h"
)
@pytest.mark.parametrize(
    ("length", "diameter", "roughness", "flow_m3_h"),
    [(100, 0.08, 0.24e-3, 62.5), (150, 0.06, 0.12e-3, 25.9), (80, 0.04, 0.20e-3, 11.4)],
)
def test_head_of_each_parallel_pipe(length, diameter, roughness, flow_m3_h):
    speed = flow_m3_h / 3600 / (math.pi / 4 * diameter**2)
    factor = friction_factor(speed * diameter / 1.02e-6, None, roughness / diameter)
    assert_as_printed(factor * length / diameter * speed**2 / 19.62, "20.3", rel=0.02)


def parabola(shut_off: float, fall: float) -> PumpCurve:
    most = math.sqrt(shut_off / fall)
    flows = [most * i / 200 for i in range(200)]
    return PumpCurve(tuple((q * L_MIN, shut_off - fall * q * q) for q in flows))


@pytest.mark.published(
    source="Rule for equal pumps (midstreamcalculator.com, pumps): H 3 - 0.05 Q2 against 0.10 Q2, alone 4.4721 L/min "
    "and 2 m, two in series 5.4772 and 3 m, two in parallel 5.1640 and 2.6667 m"
)
@pytest.mark.parametrize(
    ("layout", "flow_printed", "head_printed"),
    [
        ([("tank", "out")], "4.4721", "2.0000"),
        ([("tank", "between"), ("between", "out")], "5.4772", "3.0000"),
        ([("tank", "out"), ("tank", "out")], "5.1640", "2.6667"),
    ],
    ids=["single", "series", "parallel"],
)
def test_equal_pumps_as_edges(layout, flow_printed, head_printed):
    water = make_liquid(998.2, 1.0016e-3)
    pump, drop = parabola(3.0, 0.05), head_pressure_pa(0.10, water)
    edges = [Edge(f"pump {i}", start, end, (pump,)) for i, (start, end) in enumerate(layout)]
    edges.append(Edge("loop", "out", "tank", (PartResistance(((L_MIN, drop),)),)))
    solution = solve_network(Network(tuple(edges)), water)
    assert_as_printed(solution.flow_m3_s["loop"] / L_MIN, flow_printed, rel=5e-5)
    assert_as_printed(solution.pressure_pa["out"] / head_pressure_pa(1.0, water), head_printed, rel=5e-5)
