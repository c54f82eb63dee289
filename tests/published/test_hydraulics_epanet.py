"""Loops of square-law parts against EPANET: in series, in nested groups, bridged with two pumps, in a grid."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import pytest
import wntr

from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.network import Edge, Network, solve_network
from layouts.hydraulics.pump import head_pressure_pa
from layouts.hydraulics.segments import PartResistance, PumpCurve

pytestmark = pytest.mark.filterwarnings("ignore:Changing the headloss formula")
SOURCE = "EPANET 2.2 (Rossman et al., US EPA, 2020), run by the library wntr; 0.1 %"
L_MIN = 1e-3 / 60
FOOT = 0.3048
WATER = Coolant("water", 0.0, 20.0, 998.2, 1.0016e-3, 4184.1, None, None)
DIAMETER_M = 0.02
"""Of every pipe that stands for a part; its length is so short that only its minor loss counts."""

SHORT_M = 1e-4
MINOR_FT = 0.02517
"""Head of a minor loss over K Q2 / D4, in feet and cubic feet per second: EPANET 2.2 manual, chapter 12."""

MOST_ERROR = 1e-3


@dataclass(frozen=True)
class Pump:
    """A pump of head `shut_off - fall Q^2`, [m], Q in L/min."""

    start: str
    end: str
    shut_off: float
    fall: float


Loop = dict[str, tuple[str, str, float]]
"""Parts: from node, to node, and head of its drop at 1 L/min, [m]."""


def solve_with_epanet(folder: Path, parts: Loop, pumps: dict[str, Pump]) -> tuple[dict, dict]:
    """Return the flow of each link [m3/s] and the head of each node over the tank [m]."""
    model = wntr.network.WaterNetworkModel()
    options = model.options.hydraulic
    options.headloss, options.accuracy, options.trials = "D-W", 1e-5, 500
    model.add_reservoir("tank", base_head=50.0)
    nodes = {node for start, end, _ in parts.values() for node in (start, end)}
    nodes |= {node for pump in pumps.values() for node in (pump.start, pump.end)}
    for node in sorted(nodes - {"tank"}):
        model.add_junction(node, base_demand=0.0, elevation=0.0)
    for name, pump in pumps.items():
        half = 0.5 * (pump.shut_off / pump.fall) ** 0.5
        points = [(q * L_MIN, pump.shut_off - pump.fall * q * q) for q in (0.0, half, 2 * half)]
        model.add_curve(f"curve_{name}", "HEAD", points)
        model.add_pump(name, pump.start, pump.end, "HEAD", f"curve_{name}")
    for name, (start, end, head_m) in parts.items():
        loss = head_m / L_MIN**2 * FOOT * DIAMETER_M**4 / MINOR_FT
        model.add_pipe(name, start, end, SHORT_M, DIAMETER_M, roughness=1e-6, minor_loss=loss)
    results = wntr.sim.EpanetSimulator(model).run_sim(file_prefix=str(folder / "run"))
    flows = {name: float(results.link["flowrate"].loc[0, name]) for name in (*parts, *pumps)}
    heads = {node: float(results.node["head"].loc[0, node]) - 50.0 for node in sorted(nodes)}
    return flows, heads


def solve_with_ours(parts: Loop, pumps: dict[str, Pump]) -> tuple[dict, dict]:
    """Return the same by the project's network."""
    edges = []
    for name, pump in pumps.items():
        most = (pump.shut_off / pump.fall) ** 0.5
        flows = (most * i / 200 for i in range(201))
        points = tuple((q * L_MIN, max(0.0, pump.shut_off - pump.fall * q * q)) for q in flows)
        edges.append(Edge(name, pump.start, pump.end, (PumpCurve(points),)))
    for name, (start, end, head_m) in parts.items():
        drop = head_pressure_pa(head_m, WATER)
        edges.append(Edge(name, start, end, (PartResistance(((L_MIN, drop),)),)))
    solution = solve_network(Network(tuple(edges)), WATER)
    metre = head_pressure_pa(1.0, WATER)
    return solution.flow_m3_s, {node: pa / metre for node, pa in solution.pressure_pa.items()}


def assert_same(folder: Path, parts: Loop, pumps: dict[str, Pump], least_share: float) -> None:
    """Assert equal flows, each above a share of the largest, and equal heads."""
    flows, heads = solve_with_epanet(folder, parts, pumps)
    our_flows, our_heads = solve_with_ours(parts, pumps)
    largest, highest = max(map(abs, flows.values())), max(map(abs, heads.values()))
    assert largest > 0.5 * L_MIN
    for name, flow in flows.items():
        assert abs(flow) > least_share * largest, f"{name} stands nearly still and would show nothing"
        assert our_flows[name] == pytest.approx(flow, rel=MOST_ERROR), name
    for node, head in heads.items():
        assert our_heads[node] == pytest.approx(head, rel=MOST_ERROR, abs=1e-4 * highest), node


@pytest.mark.published(source=SOURCE)
@pytest.mark.parametrize(("shut_off", "fall"), [(3.9, 0.025), (12.0, 0.9)], ids=["wide", "compact"])
def test_parts_in_series(tmp_path, shut_off, fall):
    heads_m = {"cold_plate": 0.06, "block": 0.015, "filter": 0.002, "radiator": 0.03, "meter": 0.0004}
    nodes = ["out", "n1", "n2", "n3", "n4", "tank"]
    parts = {
        name: (start, end, head)
        for (name, head), (start, end) in zip(heads_m.items(), pairwise(nodes), strict=True)
    }
    assert_same(tmp_path, parts, {"pump": Pump("tank", "out", shut_off, fall)}, 0.99)


@pytest.mark.published(source=SOURCE)
def test_one_group_within_another(tmp_path):
    parts = {
        "to_group": ("out", "a", 0.004),
        "outer": ("a", "b", 0.09),
        "before": ("a", "c", 0.02),
        "inner_1": ("c", "d", 0.15),
        "inner_2": ("c", "d", 0.4),
        "inner_3": ("c", "d", 0.06),
        "after": ("d", "b", 0.01),
        "second_1": ("b", "e", 0.05),
        "second_2": ("b", "e", 0.012),
        "back": ("e", "tank", 0.008),
    }
    assert_same(tmp_path, parts, {"pump": Pump("tank", "out", 4.5, 0.03)}, 0.02)


@pytest.mark.published(source=SOURCE)
@pytest.mark.parametrize("boost_m", [0.4, 2.5])
def test_bridge_with_two_pumps(tmp_path, boost_m):
    parts = {
        "left_1": ("out", "l", 0.05),
        "right_1": ("out", "boosted", 0.12),
        "bridge": ("l", "r", 0.03),
        "left_2": ("l", "e", 0.2),
        "right_2": ("r", "e", 0.04),
        "back": ("e", "tank", 0.01),
    }
    pumps = {"pump": Pump("tank", "out", 4.0, 0.04), "booster": Pump("boosted", "r", boost_m, 0.02)}
    assert_same(tmp_path, parts, pumps, 0.02)


@pytest.mark.published(source=SOURCE)
def test_bridge_turns_round_with_the_stronger_booster(tmp_path):
    def make(boost_m: float) -> tuple[Loop, dict[str, Pump]]:
        parts = {
            "left_1": ("out", "l", 0.05),
            "right_1": ("out", "boosted", 0.05),
            "bridge": ("l", "r", 0.03),
            "left_2": ("l", "e", 0.05),
            "right_2": ("r", "e", 0.05),
            "back": ("e", "tank", 0.01),
        }
        return parts, {"pump": Pump("tank", "out", 4.0, 0.04), "booster": Pump("boosted", "r", boost_m, 0.02)}

    theirs, ours = ({}, {})
    for boost_m in (0.5, 3.0):
        theirs[boost_m] = solve_with_epanet(tmp_path, *make(boost_m))[0]["bridge"]
        ours[boost_m] = solve_with_ours(*make(boost_m))[0]["bridge"]
    assert theirs[3.0] < theirs[0.5] < 0
    assert ours == pytest.approx(theirs, rel=MOST_ERROR)


@pytest.mark.published(source=SOURCE)
def test_grid_of_forty_parts(tmp_path):
    size = 5
    parts: Loop = {"back": (f"g{size - 1}{size - 1}", "tank", 0.005)}
    for i in range(size):
        for j in range(size):
            if i + 1 < size:
                parts[f"d{i}{j}"] = (f"g{i}{j}", f"g{i + 1}{j}", 0.02 + 0.01 * ((3 * i + 7 * j) % 11))
            if j + 1 < size:
                parts[f"r{i}{j}"] = (f"g{i}{j}", f"g{i}{j + 1}", 0.02 + 0.02 * ((5 * i + 2 * j) % 7))
    assert len(parts) == 41
    assert_same(tmp_path, parts, {"pump": Pump("tank", "g00", 6.0, 0.05)}, 1e-3)
