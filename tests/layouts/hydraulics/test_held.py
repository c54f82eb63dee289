"""Holding shares: what is added on the branches brings the shares, and is never more than needed."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import OutOfRange
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.held import HeldGroup, hold_shares
from layouts.hydraulics.network import Edge, Network, Tee, solve_network
from layouts.hydraulics.segments import PartResistance, PumpCurve, Straight

L_MIN = 1e-3 / 60
WATER = Coolant("water", 0.0, 25.0, 997.05, 890.1e-6, 4181.3, 3169.9, 0.0)
PUMP = PumpCurve(((0.0, 3.9), (4 * L_MIN, 3.3), (8 * L_MIN, 2.3), (12 * L_MIN, 0.8)))


def part(drop: float) -> PartResistance:
    """Return a part with this drop [Pa] at 1 L/min, by the square."""
    return PartResistance(((L_MIN, drop),))


def make_nested(first: float, second: float, third: float) -> tuple[Network, tuple[HeldGroup, ...]]:
    """Return two parts in parallel, a third behind them, and a fourth beside all."""
    channel = Straight(0.1, 0.008, 0.009)
    edges = (
        Edge("pump", "tank", "out", (PUMP,)),
        Edge("to split", "out", "split", (channel,)),
        Edge("inner", "split", "fork", (channel,)),
        Edge("a", "fork", "join", (channel, part(first))),
        Edge("b", "fork", "join", (channel, part(second))),
        Edge("c", "join", "last", (part(third),)),
        Edge("d", "split", "last", (channel, part(3e3))),
        Edge("back", "last", "tank", (channel,)),
    )
    groups = (
        HeldGroup(("c", "d"), (0.5, 0.5), "pump"),
        HeldGroup(("a", "b"), (0.25, 0.25), "c"),
    )
    return Network(edges, (Tee("split", "to split", "d", "inner"), Tee("fork", "inner", "a", "b"))), groups


def add_drops(
    network: Network, flow: float, added: dict[str, float], groups: tuple[HeldGroup, ...]
) -> Network:
    share = {edge: one for group in groups for edge, one in zip(group.edges, group.shares, strict=True)}
    return replace(
        network,
        edges=tuple(
            replace(
                edge,
                elements=(*edge.elements, PartResistance(((share[edge.name] * flow, added[edge.name]),))),
            )
            if added.get(edge.name, 0.0) > 1.0
            else edge
            for edge in network.edges
        ),
    )


@settings(max_examples=40, deadline=None)
@given(*[st.floats(1.0, 4.5).map(lambda log: 10**log)] * 3)
def test_added_drops_bring_the_shares(first, second, third):
    network, groups = make_nested(first, second, third)
    flow, added = hold_shares(network, WATER, groups, "pump", 4 * L_MIN)
    assert min(added.values()) >= 0.0
    for group in groups:
        assert min(added[edge] for edge in group.edges) == pytest.approx(0.0, abs=1e-9)
    flows = solve_network(add_drops(network, flow, added, groups), WATER).flow_m3_s
    # Drops of less than 1 Pa are left out above.
    assert flows["pump"] == pytest.approx(flow, rel=2e-3)
    for group in groups:
        for edge, share in zip(group.edges, group.shares, strict=True):
            assert flows[edge] == pytest.approx(share * flow, rel=0.02)


@pytest.mark.published(
    source="Two square laws in parallel with equal flows: the lesser must drop as much as the greater"
)
def test_two_parts_in_closed_form():
    edges = (
        Edge("pump", "tank", "out", (PUMP,)),
        Edge("a", "out", "tank", (part(4e3),)),
        Edge("b", "out", "tank", (part(1e3),)),
    )
    flow, added = hold_shares(
        Network(edges), WATER, (HeldGroup(("a", "b"), (0.5, 0.5), "pump"),), "pump", L_MIN
    )
    half = flow / 2 / L_MIN
    assert added["a"] == 0.0
    assert added["b"] == pytest.approx(3e3 * half**2)
    alone = solve_network(Network((edges[0], Edge("x", "out", "tank", (part(1e3),)))), WATER).flow_m3_s[
        "pump"
    ]
    assert flow == pytest.approx(alone, rel=1e-5)
    assert math.isclose(half * 2, flow / L_MIN)


@pytest.mark.parametrize("shares", [(0.5, 0.6), (0.3, 0.3)])
def test_shares_that_do_not_add_up_are_refused(shares):
    network, groups = make_nested(1e3, 1e3, 1e3)
    wrong = (replace(groups[0], shares=shares), groups[1])
    with pytest.raises(OutOfRange, match="add up"):
        hold_shares(network, WATER, wrong, "pump", L_MIN)


def test_group_left_out_is_refused():
    network, groups = make_nested(1e3, 1e3, 1e3)
    with pytest.raises(OutOfRange, match="every branch"):
        hold_shares(network, WATER, groups[:1], "pump", L_MIN)
