"""Temperatures round the loop, against energy balances in closed form."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from iapws import IAPWS95
from printed import assert_as_printed

from layouts.heat import follow_heat, read_capacity
from layouts.hydraulics.coolant import coolant_properties
from layouts.panel import CoolantChoice
from tests.layouts.sample_heat import AIR_C, BLANK, FLOW, flow_of, follow_series, loop_of
from tests.layouts.sample_routed import L_MIN, sample_panel

US_GPM = 3.785411784e-3 / 60


heats = st.floats(0.0, 2000.0)
capacities = st.floats(1.0, 500.0)


def carried_at(celsius: float = 35.0) -> float:
    water = coolant_properties("water", 0.0, celsius)
    return water.density_kg_m3 * water.heat_capacity_j_kgk


@pytest.mark.published(source="IAPWS-95, water at 25 °C: heat over flow, density and heat capacity; 0.2 %")
@pytest.mark.parametrize(
    ("heat", "flow", "printed"),
    [
        (500.0, 4 * L_MIN, "1.799"),
        (400.0, US_GPM, "1.521"),
        (400.0, L_MIN, "5.757"),
        (100.0, L_MIN, "1.439"),
    ],
)
def test_rise(heat, flow, printed):
    panel = loop_of({"block": (heat, 0.0), "radiator": (0.0, 0.0)}, "block", "radiator")
    panel = replace(panel, coolant=CoolantChoice("water", 0.0, 25.0))
    block, radiator = follow_series(panel, flow).steps
    assert_as_printed(block.outlet_c - block.inlet_c, printed, rel=2e-3)
    assert (block.inlet_c, radiator.outlet_c) == (25.0, pytest.approx(25.0))


@pytest.mark.published(source="IAPWS-95 by the independent library iapws: enthalpy of the stream; 0.1 %")
def test_heat_is_what_the_stream_carries():
    panel = loop_of({"block": (600.0, 0.0), "radiator": (0.0, 30.0)}, "block", "radiator")
    heating = follow_series(panel)
    block, radiator = heating.steps
    cold, warm = (IAPWS95(T=c + 273.15, P=0.101325) for c in (block.inlet_c, block.outlet_c))
    mass = IAPWS95(T=308.15, P=0.101325).rho * FLOW
    assert mass * (warm.h - cold.h) * 1e3 == pytest.approx(600.0, rel=1e-3)
    assert radiator.heat_w == pytest.approx(-600.0)


@pytest.mark.published(source="closed form: one radiator takes all heat, P = C (T inlet - T air)")
@pytest.mark.parametrize("order", [("a", "b", "radiator"), ("radiator", "a", "b"), ("b", "radiator", "a")])
def test_one_radiator_sets_its_own_inlet(order):
    panel = loop_of({"a": (140.0, 0.0), "b": (220.0, 0.0), "radiator": (0.0, 25.0)}, *order)
    heating = follow_series(panel, pump_w=5.0)
    step = next(step for step in heating.steps if step.part == "radiator")
    assert step.inlet_c == pytest.approx(AIR_C + 365 / 25)
    assert heating.heat_w == pytest.approx(365)
    assert heating.closes
    assert heating.tank_c == pytest.approx(AIR_C + heating.over_ambient_k)


@pytest.mark.published(source="closed form: two radiators in a row, the second sees what the first leaves")
def test_two_radiators_in_series():
    heat, first, second, m = 400.0, 30.0, 20.0, carried_at() * FLOW
    panel = loop_of({"a": (heat, 0.0), "r": (0.0, first), "s": (0.0, second)}, "a", "r", "s")
    inlet = heat / (first + second * (1 - first / m))
    _, r, s = follow_series(panel).steps
    assert r.inlet_c == pytest.approx(AIR_C + inlet)
    assert s.inlet_c == pytest.approx(AIR_C + inlet * (1 - first / m))
    assert r.heat_w + s.heat_w == pytest.approx(-heat)


def test_streams_mix_by_their_flow():
    """Two thirds warm by half of what one third does with the same heat; the mix carries both."""
    panel = loop_of({"a": (90.0, 0.0), "b": (90.0, 0.0), "r": (0.0, 25.0)}, ("a", "b"), "r")
    flowing = flow_of([("a", "0", "1", FLOW * 2 / 3), ("b", "0", "1", FLOW / 3), ("r", "1", "tank", FLOW)])
    heating = follow_heat(panel, flowing)
    a, b, r = heating.steps
    assert (b.outlet_c - b.inlet_c) == pytest.approx(2 * (a.outlet_c - a.inlet_c))
    assert r.inlet_c == pytest.approx((2 * a.outlet_c + b.outlet_c) / 3)
    assert r.inlet_c - a.inlet_c == pytest.approx(180 / (carried_at() * FLOW))
    assert heating.spread_k == pytest.approx(b.outlet_c - r.outlet_c)


def test_chain_in_a_group():
    """A chain of two against one; the mix behind carries all three heats."""
    parts = {"a": (50.0, 0.0), "b": (70.0, 0.0), "c": (90.0, 0.0), "r": (0.0, 25.0)}
    panel = loop_of(parts, (("a", "b"), "c"), "r")
    half = FLOW / 2
    flowing = flow_of(
        [("a", "0", "1", half), ("c", "0", "2", half), ("b", "1", "2", half), ("r", "2", "tank", FLOW)]
    )
    heating = follow_heat(panel, flowing)
    by_name = {step.part: step for step in heating.steps}
    m = carried_at() * FLOW
    assert by_name["b"].outlet_c - by_name["a"].inlet_c == pytest.approx(2 * 120 / m)
    assert by_name["r"].inlet_c - by_name["a"].inlet_c == pytest.approx(210 / m)
    assert by_name["r"].inlet_c == pytest.approx(AIR_C + 210 / 25)
    # Two stages have one order round a loop.
    assert heating.order_effect_k is None


def test_order_effect_counts_the_whole_rise_of_a_chain():
    """Of two stages before a radiator the one sees the other's rise: that of the group is (50 + 70 + 90) W."""
    parts = {"a": (50.0, 0.0), "b": (70.0, 0.0), "c": (90.0, 0.0), "d": (30.0, 0.0), "r": (0.0, 25.0)}
    panel = loop_of(parts, (("a", "b"), "c"), "d", "r")
    half = FLOW / 2
    steps = [("a", "0", "1", half), ("c", "0", "2", half), ("b", "1", "2", half)]
    heating = follow_heat(panel, flow_of([*steps, ("d", "2", "3", FLOW), ("r", "3", "tank", FLOW)]))
    assert heating.order_effect_k == pytest.approx(210 / (carried_at() * FLOW))


def test_radiator_takes_no_more_than_the_stream_carries():
    panel = loop_of({"a": (100.0, 0.0), "r": (0.0, 1e4)}, "a", "r")
    a, r = follow_series(panel).steps
    assert r.outlet_c == pytest.approx(AIR_C)
    assert a.inlet_c == pytest.approx(AIR_C)
    assert r.heat_w == pytest.approx(-100.0)


def test_without_capacities_the_parts_without_heat_share_it():
    panel = loop_of({"a": (100.0, 0.0), "r": (0.0, 0.0), "b": (60.0, 0.0), "s": (0.0, 0.0)}, *"arbs")
    heating = follow_series(panel, pump_w=10.0)
    assert (heating.tank_c, heating.over_ambient_k, heating.closes) == (35.0, None, False)
    assert [step.heat_w for step in heating.steps] == pytest.approx([100.0, -85.0, 60.0, -85.0])
    assert heating.steps[-1].outlet_c == pytest.approx(35.0)


def test_without_the_air_the_file_says_how_warm_the_tank_is():
    parts = {"a": (100.0, 0.0), "r": (0.0, 20.0)}
    known, unknown = (follow_series(loop_of(parts, "a", "r", ambient=c)) for c in (AIR_C, None))
    assert (unknown.tank_c, unknown.closes) == (35.0, False)
    assert unknown.over_ambient_k == pytest.approx(known.over_ambient_k)
    assert unknown.spread_k == pytest.approx(known.spread_k)


def test_loop_without_anything_that_cools_keeps_its_heat():
    heating = follow_series(loop_of({"a": (100.0, 0.0)}, "a"), pump_w=5.0)
    assert heating.tank_c == 35.0
    assert heating.spread_k == pytest.approx(105 / (carried_at() * FLOW))
    assert heating.kept_w == pytest.approx(105.0)
    assert "warming, which nothing ends" in heating.tank_effect


@pytest.mark.parametrize("cooler", [(0.0, 0.0), (0.0, 20.0), (50.0, 20.0)])
def test_a_part_without_heat_or_with_a_capacity_takes_the_heat(cooler):
    assert follow_series(loop_of({"a": (100.0, 0.0), "r": cooler}, "a", "r"), pump_w=5.0).kept_w == 0.0


@pytest.mark.published(source="common practice, no source")
def test_order_barely_matters():
    """Two heats before one radiator: swapped, each sees the rise of the other less or more, and no more."""
    panel = loop_of({"a": (140.0, 0.0), "b": (220.0, 0.0), "r": (0.0, 25.0)}, "a", "b", "r")
    heating = follow_series(panel)
    assert heating.order_effect_k == pytest.approx(220 / (carried_at() * FLOW))
    assert heating.order_effect_k < 0.15 * heating.over_ambient_k


def test_order_effect_is_that_of_the_loops_themselves():
    """Each order followed as a loop of its own."""
    parts = {"a": (140.0, 0.0), "r": (0.0, 20.0), "b": (300.0, 0.0), "s": (0.0, 15.0)}
    inlets = [
        {step.part: step.inlet_c for step in follow_series(loop_of(parts, *order), pump_w=4.0).steps}
        for order in permutations(parts)
    ]
    most = max(abs(other[name] - inlets[0][name]) for other in inlets for name in parts)
    assert follow_series(loop_of(parts, *parts), pump_w=4.0).order_effect_k == pytest.approx(most)


pieces = st.one_of(
    st.tuples(st.floats(0.0, 500.0), st.just(0.0)), st.tuples(st.just(0.0), st.floats(1.0, 200.0))
)


@settings(max_examples=60, deadline=None)
@given(st.lists(pieces, min_size=3, max_size=5), st.floats(0.1, 50.0))
def test_order_effect_is_that_of_all_orders_followed_one_by_one(kinds, pump_w):
    """With and without capacities, and parts that neither heat nor cool."""
    parts = {f"p{k}": kind for k, kind in enumerate(kinds)}
    heating = follow_series(loop_of(parts, *parts), pump_w=pump_w)
    # Over the air: without a closed balance its temperature and the tank's are the file's in every order.
    inlets = [
        {step.part: step.inlet_c for step in follow_series(loop_of(parts, *order), pump_w=pump_w).steps}
        for order in permutations(parts)
    ]
    most = max(abs(other[name] - inlets[0][name]) for other in inlets for name in parts)
    assert heating.order_effect_k == pytest.approx(most, rel=1e-6, abs=1e-6)


def follow_pairs(
    pairs: dict[str, tuple[float, float]], order: tuple[str, ...], pump_w: float
) -> dict[str, float]:
    """Return the inlets [°C] and the effect of order, "", of a series of pairs, a block beside a radiator each."""
    parts = {
        f"{name}{kind}": one
        for name, (heat, c) in pairs.items()
        for kind, one in (("b", (heat, 0.0)), ("r", (0.0, c)))
    }
    nodes = [*map(str, range(len(order))), "tank"]
    steps = [
        (f"{name}{kind}", a, b, FLOW / 2)
        for name, a, b in zip(order, nodes, nodes[1:], strict=False)
        for kind in "br"
    ]
    stages = [(f"{name}b", f"{name}r") for name in order]
    heating = follow_heat(loop_of(parts, *stages), flow_of(steps, pump_w=pump_w))
    assert heating.order_effect_k is not None
    return {step.part: step.inlet_c for step in heating.steps} | {"": heating.order_effect_k}


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.floats(0.0, 500.0), capacities), min_size=3, max_size=4), st.floats(0.1, 50.0))
def test_order_effect_of_stages_that_heat_and_cool(kinds, pump_w):
    pairs = {f"p{k}": kind for k, kind in enumerate(kinds)}
    own, *others = (follow_pairs(pairs, order, pump_w) for order in permutations(pairs))
    most = max(abs(other[name] - own[name]) for other in others for name in own if name)
    assert own[""] == pytest.approx(most, rel=1e-6, abs=1e-6)


def test_order_of_many_stages_is_told():
    """Of 30 equal stages before a radiator the last may stand first: 29 rises less."""
    parts = {f"p{k}": (10.0, 0.0) for k in range(30)} | {"r": (0.0, 25.0)}
    heating = follow_series(loop_of(parts, *parts))
    assert heating.order_effect_k == pytest.approx(29 * 10.0 / (carried_at() * FLOW))


@pytest.mark.published(source="closed form: one stirred volume, time constant = heat capacity / (W/K)")
def test_tank_effect_tells_the_time_constant():
    """A litre of water of 4.16 kJ/K on 25 W/K at the radiator's inlet, a little more over the tank."""
    panel = loop_of({"a": (250.0, 0.0), "r": (0.0, 25.0)}, "a", "r")
    heating = follow_series(panel)
    minutes = carried_at() * 1e-3 * heating.over_ambient_k / 250 / 60
    assert minutes == pytest.approx(carried_at() * 1e-3 / 25 / 60, rel=0.15)
    assert f"each litre of coolant adds {minutes:.2g} min" in heating.tank_effect
    unknown = follow_series(loop_of({"a": (250.0, 0.0)}, "a"))
    assert (
        f"{carried_at() * 1e-3 * 10 / 250 / 60:.2g} min more to warm by 10 K at 250 W" in unknown.tank_effect
    )


def test_flow_that_is_not_worked_out_gives_no_steps():
    panel = sample_panel()
    heating = follow_heat(panel, replace(BLANK, steps=()))
    assert (heating.steps, heating.tank_c, heating.order_effect_k) == ((), 35.0, None)


def test_capacity_is_level_beyond_its_points():
    part = replace(sample_panel().parts[0], capacity=((2.0, 12.0), (4.0, 20.0), (6.0, 22.0)))
    assert [read_capacity(part, flow) for flow in (1.0, 2.0, 4.0, 6.0, 9.0)] == [12.0, 12.0, 20.0, 22.0, 22.0]


@given(st.floats(0.0, 12.0), st.floats(0.0, 12.0))
def test_capacity_never_falls_with_flow(one, two):
    part = replace(sample_panel().parts[0], capacity=((2.0, 12.0), (4.0, 20.0), (6.0, 20.0), (9.0, 21.0)))
    low, high = sorted((one, two))
    assert read_capacity(part, low) <= read_capacity(part, high) + 1e-12


@given(heats, heats, capacities, capacities, st.floats(0.2, 20.0), st.floats(0.1, 50.0))
def test_balance_closes(one, two, first, second, flow, pump_w):
    """What parts and pump give, the radiators take; nothing is colder than the air."""
    parts = {"a": (one, 0.0), "r": (0.0, first), "b": (two, 0.0), "s": (0.0, second)}
    heating = follow_series(loop_of(parts, *parts), flow * L_MIN, pump_w)
    assert math.fsum(step.heat_w for step in heating.steps) + pump_w == pytest.approx(
        0.0, abs=1e-6 * heating.heat_w
    )
    assert min(min(step.inlet_c, step.outlet_c) for step in heating.steps) >= AIR_C - 1e-9


@given(heats, capacities, capacities)
def test_more_capacity_never_warms_the_coolant(heat, one, two):
    low, high = sorted((one, two))
    small, large = (
        follow_series(loop_of({"a": (heat, 0.0), "r": (0.0, c)}, "a", "r"), pump_w=1.0) for c in (low, high)
    )
    assert large.tank_c <= small.tank_c + 1e-9
