"""What holds for every loop: balances, monotony, scaling, and that names and order mean nothing.

Loops are drawn as trees: a leaf is a run of elements, a branch puts its children in series or in parallel.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.network import Edge, FlowSolution, Network, operating_point, solve_network
from layouts.hydraulics.pump import head_pressure_pa, hydraulic_power_w, pump_head_m, scale_affinity
from layouts.hydraulics.segments import (
    Bend,
    Bore,
    PartResistance,
    PortTurn,
    PumpCurve,
    Segment,
    Straight,
    TankEntry,
    TankExit,
    drop_pa,
)

L_MIN = 1e-3 / 60
WATER = Coolant("water", 0.0, 25.0, 997.05, 890.1e-6, 4181.3, 3169.9, 0.0)
SYRUP = Coolant("propylene glycol", 0.5, 20.0, 1038.0, 6.0e-3, 3540.0, None, -32.0)
POINTS = ((0.0, 3.9), (4 * L_MIN, 3.3), (8 * L_MIN, 2.3), (12 * L_MIN, 0.8))
CLOSE = 1e-9
DEPTH_M = 0.008


@dataclass(frozen=True)
class Branch:
    """Children in series or in parallel."""

    series: bool
    children: tuple[Tree, ...]


Run = tuple[Segment, ...]
Tree = Run | Branch

squares = st.floats(10.0, 1e5).map(lambda drop: PartResistance(((4 * L_MIN, drop),)))
widths = st.floats(0.003, 0.016)
elements = st.one_of(
    squares,
    st.floats(10.0, 1e4).map(lambda drop: PartResistance(((2 * L_MIN, drop), (4 * L_MIN, 3 * drop)))),
    st.builds(Straight, st.floats(0.001, 1.0), widths, widths),
    st.builds(Bore, st.floats(0.001, 1.0), st.floats(0.003, 0.016)),
    st.builds(Bend, st.floats(0.0, 0.03), widths, widths),
    st.builds(
        PortTurn,
        st.sampled_from(["bore_to_channel", "channel_to_bore"]),
        st.floats(0.004, 0.02),
        widths,
        widths,
    ),
    st.builds(TankExit, widths, widths),
    st.builds(TankEntry, widths, widths),
)


def draw_trees(leaves: st.SearchStrategy[Run], most: int = 39) -> st.SearchStrategy[Tree]:
    """Return trees of up to `most` leaves."""
    return st.recursive(
        leaves,
        lambda children: st.builds(
            Branch, st.booleans(), st.lists(children, min_size=2, max_size=5).map(tuple)
        ),
        max_leaves=most,
    )


any_tree = draw_trees(st.lists(elements, min_size=1, max_size=3).map(tuple))
square_tree = draw_trees(squares.map(lambda part: (part,)))
coolants = st.sampled_from([WATER, SYRUP])


def list_edges(tree: Tree, start: str, end: str, name: str) -> list[Edge]:
    """Return the tree's leaves as edges between two nodes."""
    if not isinstance(tree, Branch):
        return [Edge(name, start, end, tree)]
    edges: list[Edge] = []
    last = len(tree.children) - 1
    for i, child in enumerate(tree.children):
        here, there = start, end
        if tree.series:
            here, there = (start if i == 0 else f"{name}.{i}"), (end if i == last else f"{name}.{i + 1}")
        edges += list_edges(child, here, there, f"{name}.{i}")
    return edges


def make_loop(tree: Tree, points: tuple[tuple[float, float], ...] = POINTS) -> Network:
    return Network(
        (Edge("pump", "tank", "out", (PumpCurve(points),)), *list_edges(tree, "out", "tank", "loop"))
    )


def pump_flow(tree: Tree, coolant: Coolant) -> float:
    return solve_network(make_loop(tree), coolant).flow_m3_s["pump"]


def find_leaves(tree: Tree) -> list[Run]:
    if not isinstance(tree, Branch):
        return [tree]
    return [leaf for child in tree.children for leaf in find_leaves(child)]


def change_leaf(tree: Tree, number: int, change: Callable[[Run], Tree]) -> Tree:
    """Return the tree with its leaf of this number changed."""
    if not isinstance(tree, Branch):
        return change(tree)
    children = list(tree.children)
    for i, child in enumerate(children):
        count = len(find_leaves(child))
        if number < count:
            children[i] = change_leaf(child, number, change)
            break
        number -= count
    return Branch(tree.series, tuple(children))


def assert_not_less(flow: float, than: float) -> None:
    # Energy is settled to 1e-9 at the least, which may leave some tens of that in the flow of a level pump.
    assert flow >= than * (1.0 - 1e-7), f"{flow!r} is less than {than!r}"


@settings(max_examples=30, deadline=None)
@given(any_tree, coolants)
def test_mass_balances_at_every_node(tree, coolant):
    network = make_loop(tree)
    assert 2 <= len(network.edges) <= 40
    flows = solve_network(network, coolant).flow_m3_s
    left: dict[str, float] = {}
    for edge in network.edges:
        left[edge.start] = left.get(edge.start, 0.0) - flows[edge.name]
        left[edge.end] = left.get(edge.end, 0.0) + flows[edge.name]
    assert max(map(abs, left.values())) <= CLOSE * max(map(abs, flows.values()))


def drop_along(tree: Tree, name: str, drops: dict[str, float], tolerance: float) -> float:
    """Return the drop over a tree; branches in parallel must agree on it."""
    if not isinstance(tree, Branch):
        return drops[name]
    children = [drop_along(child, f"{name}.{i}", drops, tolerance) for i, child in enumerate(tree.children)]
    if tree.series:
        return math.fsum(children)
    assert children == pytest.approx([children[0]] * len(children), abs=tolerance)
    return children[0]


@settings(max_examples=30, deadline=None)
@given(any_tree, coolants)
def test_energy_closes_round_every_loop(tree, coolant):
    """Drops are worked out anew from the flows, element by element."""
    network = make_loop(tree)
    flows = solve_network(network, coolant).flow_m3_s
    drops = {
        edge.name: math.fsum(drop_pa(element, flows[edge.name], coolant) for element in edge.elements)
        for edge in network.edges
    }
    gained = head_pressure_pa(pump_head_m(POINTS, flows["pump"]), coolant)
    tolerance = 1e-8 * max(map(abs, drops.values()))
    assert drop_along(tree, "loop", drops, tolerance) == pytest.approx(gained, abs=tolerance)


def square_factor(tree: Tree) -> float:
    """Return drop over flow squared of a tree of square laws, [Pa s2/m6], in closed form."""
    if not isinstance(tree, Branch):
        ((flow, drop),) = tree[0].points
        return drop / flow**2
    factors = [square_factor(child) for child in tree.children]
    return math.fsum(factors) if tree.series else math.fsum(k**-0.5 for k in factors) ** -2


def split_flow(tree: Tree, name: str, flow: float) -> dict[str, float]:
    """Return the flow of each leaf of a tree of square laws, in closed form."""
    if not isinstance(tree, Branch):
        return {name: flow}
    shares = [1.0 if tree.series else square_factor(child) ** -0.5 for child in tree.children]
    whole = 1.0 if tree.series else math.fsum(shares)
    split: dict[str, float] = {}
    for i, (child, share) in enumerate(zip(tree.children, shares, strict=True)):
        split |= split_flow(child, f"{name}.{i}", flow * share / whole)
    return split


@settings(max_examples=30, deadline=None)
@given(square_tree, coolants)
def test_square_laws_meet_the_closed_form(tree, coolant):
    metre = head_pressure_pa(1.0, coolant)
    whole, _ = operating_point(POINTS, lambda flow: square_factor(tree) * flow * flow / metre)
    flows = solve_network(make_loop(tree), coolant).flow_m3_s
    assert flows["pump"] == pytest.approx(whole, rel=1e-8)
    for name, flow in split_flow(tree, "loop", whole).items():
        # A leaf of little drop is known no better than the root of the share that energy is settled to.
        assert flows[name] == pytest.approx(flow, rel=1e-6, abs=1e-5 * whole)


@settings(max_examples=30, deadline=None)
@given(any_tree, coolants, elements, st.integers(0, 38))
def test_a_part_in_series_never_raises_the_flow(tree, coolant, added, number):
    longer = change_leaf(tree, number % len(find_leaves(tree)), lambda run: (*run, added))
    assert_not_less(pump_flow(tree, coolant), pump_flow(longer, coolant))


@settings(max_examples=30, deadline=None)
@given(any_tree, coolants, elements, st.integers(0, 38))
def test_a_parallel_branch_never_lowers_the_flow(tree, coolant, added, number):
    wider = change_leaf(tree, number % len(find_leaves(tree)), lambda run: Branch(False, (run, (added,))))
    assert_not_less(pump_flow(wider, coolant), pump_flow(tree, coolant))


@settings(max_examples=30, deadline=None)
@given(square_tree, squares, st.data())
def test_a_shortcut_between_any_two_nodes_never_lowers_the_flow(tree, part, data):
    """Of square laws only: between unlike laws a shortcut may cost flow, which is Braess's paradox."""
    network = make_loop(tree)
    nodes = sorted({node for edge in network.edges for node in (edge.start, edge.end)})
    start, end = data.draw(st.permutations(nodes).map(lambda order: order[:2]))
    shorter = Network((*network.edges, Edge("shortcut", start, end, (part,))))
    flows = [solve_network(one, WATER).flow_m3_s["pump"] for one in (shorter, network)]
    assert_not_less(*flows)


@dataclass(frozen=True)
class Channel:
    """A channel from a tank or a port to a tank or a port, but for its width, [m]."""

    depth: float
    length: float
    radius_ratios: tuple[float, ...]
    from_port: bool
    to_port: bool
    bore_ratio: float

    def make(self, width: float, widest: float) -> Run:
        """Return the channel; bores and bends keep their size, which is by ratio to the widest channel."""
        bore = self.bore_ratio * math.sqrt(widest * self.depth)
        first = PortTurn("bore_to_channel", bore, width, self.depth)
        last = PortTurn("channel_to_bore", bore, width, self.depth)
        return (
            first if self.from_port else TankExit(width, self.depth),
            Straight(self.length, width, self.depth),
            *(Bend(ratio * widest, width, self.depth) for ratio in self.radius_ratios),
            last if self.to_port else TankEntry(width, self.depth),
        )


channels = st.builds(
    Channel,
    depth=st.floats(0.004, 0.016),
    length=st.floats(0.0, 0.6),
    radius_ratios=st.lists(st.sampled_from([0.0, 1.0, 1.3, 2.0]), max_size=4).map(tuple),
    from_port=st.booleans(),
    to_port=st.booleans(),
    bore_ratio=st.floats(1.0, 1.8),
)


@settings(max_examples=30, deadline=None)
@given(channels, any_tree, coolants, st.floats(0.003, 0.014), st.floats(1.01, 2.5))
def test_a_wider_channel_never_lowers_the_flow(channel, tree, coolant, width, factor):
    """As long as its bores and the radii of its rounded bends are as wide as itself.

    A bend of less radius loses more than the square of the width gains back; past the bore see the next test.
    """
    widest = factor * width
    narrow = Branch(True, (channel.make(width, widest), tree))
    wide = Branch(True, (channel.make(widest, widest), tree))
    assert_not_less(pump_flow(wide, coolant), pump_flow(narrow, coolant))


@pytest.mark.parametrize("kind", ["bore_to_channel", "channel_to_bore"])
@pytest.mark.parametrize("flow_l_min", [1.0, 2.0, 4.0, 8.0])
@pytest.mark.parametrize("bore", [0.008, 0.010, 0.012])
def test_past_its_bore_a_wider_channel_costs_little_at_the_port(kind, flow_l_min, bore):
    """There the bore decides: what the wider channel adds stays within the band of the loss, 35 %."""
    side = drop_pa(PortTurn(kind, bore, bore, bore), flow_l_min * L_MIN, WATER)
    for factor in (1.1, 1.3, 1.7, 2.2):
        wider = drop_pa(PortTurn(kind, bore, factor * bore, bore), flow_l_min * L_MIN, WATER)
        assert 0.3 * side < wider < 1.35 * side


@settings(max_examples=30, deadline=None)
@given(square_tree, coolants, st.floats(0.25, 3.0))
def test_speed_scales_a_square_law_loop(tree, coolant, ratio):
    slow = solve_network(make_loop(tree), coolant)
    fast = solve_network(make_loop(tree, scale_affinity(POINTS, ratio)), coolant)
    for name, drop in slow.drop_pa.items():
        # Of a leaf that takes next to nothing only the drop is known, to a share of the largest.
        allowed = 1e-8 * abs(fast.drop_pa["pump"])
        assert fast.drop_pa[name] == pytest.approx(ratio**2 * drop, abs=allowed)
        allowed = 1e-5 * fast.flow_m3_s["pump"]
        assert fast.flow_m3_s[name] == pytest.approx(ratio * slow.flow_m3_s[name], abs=allowed)
    powers = []
    for solution, points in ((slow, POINTS), (fast, scale_affinity(POINTS, ratio))):
        flow = solution.flow_m3_s["pump"]
        powers.append(hydraulic_power_w(flow, pump_head_m(points, flow), coolant))
    assert fast.flow_m3_s["pump"] == pytest.approx(ratio * slow.flow_m3_s["pump"], rel=1e-8)
    assert fast.drop_pa["pump"] == pytest.approx(ratio**2 * slow.drop_pa["pump"], rel=1e-8)
    assert powers[1] == pytest.approx(ratio**3 * powers[0], rel=1e-8)


def assert_same_flows(ours: FlowSolution, theirs: FlowSolution, names: dict[str, str], sign: float) -> None:
    """Assert equal flows and drops; `names` lead from ours to theirs, `sign` turns all but the pump's."""
    largest = max(map(abs, ours.flow_m3_s.values()))
    highest = max(map(abs, ours.drop_pa.values()))
    for name, flow in ours.flow_m3_s.items():
        turned = 1.0 if name == "pump" else sign
        assert theirs.flow_m3_s[names[name]] == pytest.approx(turned * flow, rel=1e-6, abs=1e-5 * largest)
        drop = theirs.drop_pa[names[name]]
        assert drop == pytest.approx(turned * ours.drop_pa[name], abs=CLOSE * highest)
    assert theirs.flow_m3_s[names["pump"]] == pytest.approx(ours.flow_m3_s["pump"], rel=CLOSE)


@settings(max_examples=30, deadline=None)
@given(any_tree, coolants)
def test_edges_named_from_the_other_end_negate_their_flows(tree, coolant):
    network = make_loop(tree)
    pump, *others = network.edges
    turned = Network((pump, *(Edge(e.name, e.end, e.start, e.elements[::-1]) for e in others)))
    names = {edge.name: edge.name for edge in network.edges}
    assert_same_flows(solve_network(network, coolant), solve_network(turned, coolant), names, -1.0)


@settings(max_examples=30, deadline=None)
@given(any_tree, coolants, st.data())
def test_names_and_order_mean_nothing(tree, coolant, data):
    network = make_loop(tree)
    order = data.draw(st.permutations(network.edges))
    nodes = {
        node: f"n{i}" for i, node in enumerate(sorted({e.start for e in order} | {e.end for e in order}))
    }
    names = {edge.name: f"e{i}" for i, edge in enumerate(order)}
    other = Network(tuple(Edge(names[e.name], nodes[e.start], nodes[e.end], e.elements) for e in order))
    assert_same_flows(solve_network(network, coolant), solve_network(other, coolant), names, 1.0)


@settings(max_examples=30, deadline=None)
@given(any_tree, coolants)
def test_same_loop_same_bits(tree, coolant):
    first = solve_network(make_loop(tree), coolant)
    again = solve_network(make_loop(tree), replace(coolant))
    assert first == again
    assert [flow.hex() for flow in first.flow_m3_s.values()] == [
        flow.hex() for flow in again.flow_m3_s.values()
    ]
