"""An edge's band is that of its elements, weighed by their drops; drops rise with flow, bands never jump."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.drop_bands import find_drop_bands
from layouts.hydraulics.network import Edge, Network, Tee, flow_band, solve_network
from layouts.hydraulics.segments import (
    PART_BAND,
    Bend,
    Bore,
    PartResistance,
    PortTurn,
    PumpCurve,
    Straight,
    TankEntry,
    TankExit,
    drop_band,
    drop_pa,
)

WATER = Coolant("water", 0.0, 20.0, 998.2, 1.0e-3, 4184.0, None, None)
CURVE = PumpCurve(((0.0, 4.0), (1e-4, 3.0), (2e-4, 0.5)))
SECTION = (0.008, 0.009)
ELEMENTS = (
    Straight(0.05, *SECTION),
    Bore(0.02, 0.010),
    Bend(0.014, *SECTION),
    Bend(0.0, *SECTION),
    Bend(0.014, *SECTION, close=True),
    PortTurn("bore_to_channel", 0.0118, *SECTION),
    PortTurn("channel_to_bore", 0.0118, *SECTION),
    PortTurn("bore_to_channel", 0.006, *SECTION),
    PortTurn("channel_to_bore", 0.006, *SECTION),
    PortTurn("bore_to_channel", 0.020, *SECTION),
    PortTurn("channel_to_bore", 0.020, *SECTION),
    TankExit(*SECTION),
    TankEntry(*SECTION),
)


def flow_at(re: float) -> float:
    """Return the flow at which the section of 8 x 9 mm has this Reynolds number, [m3/s]."""
    across = 2 * SECTION[0] * SECTION[1] / sum(SECTION)
    return re * WATER.viscosity_pa_s / WATER.density_kg_m3 / across * SECTION[0] * SECTION[1]


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(ELEMENTS), st.floats(0.0, math.log(1e5)).map(math.exp), st.floats(1.0001, 3.0))
def test_drops_rise_with_flow(element, re, factor):
    low, high = (drop_pa(element, flow_at(x), WATER) for x in (re, re * factor))
    assert 0.0 <= low <= high
    assert drop_pa(element, -flow_at(re), WATER) == pytest.approx(-low)


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(ELEMENTS), st.floats(0.0, math.log(1e5)).map(math.exp))
def test_bands_are_positive_and_do_not_jump(element, re):
    here, there = (drop_band(element, flow_at(x), WATER) for x in (re, re * 1.001))
    assert 0.0 < here <= 0.40 + 1e-9
    assert there == pytest.approx(here, abs=0.002)


def loop(*elements) -> Network:
    return Network((Edge("pump", "tank", "out", (CURVE,)), Edge("leg", "out", "tank", elements)))


def test_one_kind_keeps_its_band():
    part = PartResistance(((1e-4, 5e3),))
    network = loop(part)
    solution = solve_network(network, WATER)
    assert find_drop_bands(network, WATER, solution) == {"pump": 0.0, "leg": pytest.approx(PART_BAND)}


def test_kinds_are_weighed_by_their_drops():
    elements = (Straight(0.3, *SECTION), Bend(0.014, *SECTION), PartResistance(((1e-4, 5e3),)))
    network = loop(*elements)
    solution = solve_network(network, WATER)
    flow = solution.flow_m3_s["leg"]
    drops = np.array([drop_pa(e, flow, WATER) for e in elements])
    bands = np.array([drop_band(e, flow, WATER) for e in elements])
    assert find_drop_bands(network, WATER, solution)["leg"] == pytest.approx(drops @ bands / drops.sum())


def test_close_turns_widen_the_band_and_change_nothing_else():
    apart, close = (loop(*[Bend(0.014, *SECTION, close=near)] * 4) for near in (False, True))
    one, two = (solve_network(network, WATER) for network in (apart, close))
    assert one.flow_m3_s == two.flow_m3_s
    bands = [find_drop_bands(n, WATER, s)["leg"] for n, s in ((apart, one), (close, two))]
    assert bands[0] < bands[1] <= 0.40
    ends = [flow_band(n, WATER, s)["pump"] for n, s in ((apart, one), (close, two))]
    assert ends[1][0] < ends[0][0] < 0 < ends[0][1] < ends[1][1]


def test_tees_count_with_their_own_band():
    straight = (Straight(0.1, *SECTION),)
    edges = (
        Edge("pump", "tank", "out", (CURVE,)),
        Edge("trunk", "out", "tee", straight),
        Edge("run", "tee", "tank", (*straight, PartResistance(((1e-4, 5e3),)))),
        Edge("branch", "tee", "tank", (*straight, PartResistance(((1e-4, 5e3),)))),
    )
    plain, teed = Network(edges), Network(edges, (Tee("tee", "trunk", "run", "branch"),))
    solution = solve_network(teed, WATER)
    bands = find_drop_bands(teed, WATER, solution)
    flow = solution.flow_m3_s["branch"]
    own = [(drop_pa(e, flow, WATER), drop_band(e, flow, WATER)) for e in edges[3].elements]
    at_tee = solution.drop_pa["branch"] - sum(drop for drop, _ in own)
    assert at_tee > 0
    spread = sum(drop * band for drop, band in own) + 0.25 * at_tee
    assert bands["branch"] == pytest.approx(spread / solution.drop_pa["branch"])
    assert find_drop_bands(plain, WATER, solve_network(plain, WATER))["branch"] < bands["branch"]
