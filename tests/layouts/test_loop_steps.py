"""The loop's steps stand in flow order, whatever way their edges were named."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.network import Edge, Network, solve_network
from layouts.hydraulics.segments import PartResistance, PumpCurve
from layouts.loop_steps import list_steps

WATER = Coolant("water", 0.0, 20.0, 998.2, 1.0e-3, 4184.0, None, None)
CURVE = PumpCurve(((0.0, 4.0), (1e-4, 3.0), (2e-4, 0.5)))


def part(pa: float) -> tuple[PartResistance]:
    return (PartResistance(((1e-4, pa),)),)


EDGES = (
    Edge("pump", "in", "out", (CURVE,)),
    Edge("feed", "tank", "in", part(500.0)),
    Edge("left 1", "out", "left", part(2e3)),
    Edge("left 2", "left", "end", part(3e3)),
    Edge("right", "out", "end", part(9e3)),
    Edge("back", "end", "tank", part(1e3)),
)


@settings(max_examples=60, deadline=None)
@given(st.permutations(range(len(EDGES))), st.lists(st.booleans(), min_size=6, max_size=6))
def test_order(order, turned):
    edges = tuple(
        Edge(edge.name, edge.end, edge.start, edge.elements) if flip and edge.name != "pump" else edge
        for edge, flip in zip((EDGES[k] for k in order), turned, strict=True)
    )
    solution = solve_network(Network(edges), WATER)
    titles = {edge.name: (edge.name, "pump" if edge.name == "pump" else "part") for edge in edges}
    steps = list_steps(edges, titles, solution, dict.fromkeys(solution.flow_m3_s, 0.1))
    at = {step.name: k for k, step in enumerate(steps)}
    assert len(steps) == 6
    for before, behind in (("feed", "pump"), ("pump", "left 1"), ("pump", "right"), ("left 1", "left 2")):
        assert at[before] < at[behind]
    assert at["back"] == 5
    for edge in EDGES:
        step = steps[at[edge.name]]
        assert (step.start, step.end) == (edge.start, edge.end)
        assert step.flow_m3_s > 0
        assert step.band == (0.0 if edge.name == "pump" else 0.1)
        drop = step.start_pa - step.end_pa
        assert drop == pytest.approx(abs(solution.drop_pa[edge.name]) * (-1 if edge.name == "pump" else 1))
    for one, two in itertools.pairwise(
        steps[at[name]] for name in ("feed", "pump", "left 1", "left 2", "back")
    ):
        assert one.end_pa == pytest.approx(two.start_pa, abs=1e-6)


def test_still_edges_are_left_out():
    edges = (*EDGES, Edge("dead", "end", "nowhere", part(1e3)))
    solution = solve_network(Network(edges), WATER)
    titles = {edge.name: (edge.name, "part") for edge in edges}
    steps = list_steps(edges, titles, solution, dict.fromkeys(solution.flow_m3_s, 0.0))
    assert "dead" not in {step.name for step in steps}
    assert len(steps) == 6
