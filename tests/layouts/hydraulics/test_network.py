"""Networks: balances hold for any network, faults are told, dead ends stand still."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import OutOfRange
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.network import Edge, FlowSolution, Network, Tee, flow_band, solve_network
from layouts.hydraulics.pump import scale_affinity
from layouts.hydraulics.segments import (
    Bend,
    Bore,
    PartResistance,
    PortTurn,
    PumpCurve,
    Straight,
    TankEntry,
    TankExit,
    drop_pa,
)

L_MIN = 1e-3 / 60
WATER = Coolant("water", 0.0, 25.0, 997.05, 890.1e-6, 4181.3, 3169.9, 0.0)
POINTS = ((0.0, 3.9), (4 * L_MIN, 3.3), (8 * L_MIN, 2.3), (12 * L_MIN, 0.8))
PUMP = PumpCurve(POINTS)


def channel(length: float) -> Straight:
    return Straight(length, 0.008, 0.009)


def make_panel(pump: PumpCurve = PUMP, tees: bool = True) -> Network:
    bend = Bend(0.014, 0.008, 0.009)
    edges = (
        Edge("feed", "tank", "inlet", (TankExit(0.010, 0.009), Bore(0.010, 0.010))),
        Edge("pump", "inlet", "outlet", (pump,)),
        Edge(
            "to parts",
            "outlet",
            "split",
            (PortTurn("bore_to_channel", 0.01, 0.008, 0.009), channel(0.1), bend),
        ),
        Edge("left", "split", "join", (channel(0.05), PartResistance(((4 * L_MIN, 2e4),)))),
        Edge("right", "split", "join", (bend, PartResistance(((4 * L_MIN, 6e3),)), channel(0.02))),
        Edge("back", "join", "tank", (channel(0.1), TankEntry(0.008, 0.009))),
        Edge("drain", "tank", "drain port", (channel(0.05),)),
    )
    both = (Tee("split", "to parts", "left", "right"), Tee("join", "back", "left", "right"))
    return Network(edges, both if tees else ())


def check_balances(network: Network, solution: FlowSolution) -> None:
    largest = max(abs(flow) for flow in solution.flow_m3_s.values())
    highest = max(abs(drop) for drop in solution.drop_pa.values())
    left: dict[str, float] = {}
    for edge in network.edges:
        flow, drop = solution.flow_m3_s[edge.name], solution.drop_pa[edge.name]
        left[edge.start] = left.get(edge.start, 0.0) - flow
        left[edge.end] = left.get(edge.end, 0.0) + flow
        fall = solution.pressure_pa[edge.start] - solution.pressure_pa[edge.end]
        assert fall == pytest.approx(drop, abs=1e-8 * highest)
        assert sum(solution.breakdown[edge.name].values()) == pytest.approx(drop, abs=1e-9 * highest)
    assert max(abs(flow) for flow in left.values()) <= 1e-9 * largest
    assert solution.residual <= 1e-9


def test_panel_balances_and_its_drain_stands_still():
    for tees in (False, True):
        network = make_panel(tees=tees)
        solution = solve_network(network, WATER)
        check_balances(network, solution)
        assert solution.flow_m3_s["drain"] == 0.0
        assert solution.drop_pa["drain"] == 0.0
        assert solution.pressure_pa["tank"] == solution.pressure_pa["drain port"] == 0.0
        assert 4 * L_MIN < solution.flow_m3_s["pump"] < 12 * L_MIN


def test_drops_are_those_of_the_elements():
    network = make_panel(tees=False)
    solution = solve_network(network, WATER)
    for edge in network.edges:
        flow = solution.flow_m3_s[edge.name]
        assert solution.drop_pa[edge.name] == pytest.approx(
            sum(drop_pa(e, flow, WATER) for e in edge.elements)
        )
    assert solution.breakdown["pump"]["pump"] < 0 < solution.breakdown["left"]["part"]


def test_tees_add_to_the_turns_of_run_and_branch():
    plain, teed = (solve_network(make_panel(tees=tees), WATER) for tees in (False, True))
    assert plain.breakdown["left"]["turns"] == 0.0
    assert teed.breakdown["right"]["turns"] > 0.0
    assert teed.flow_m3_s["pump"] < plain.flow_m3_s["pump"]


def test_answer_does_not_hang_on_the_start():
    flows = [solve_network(make_panel(), WATER, start * L_MIN).flow_m3_s for start in (0.01, 3.0, 300.0)]
    for other in flows[1:]:
        assert other == pytest.approx(flows[0], rel=1e-7, abs=1e-15)
    assert solve_network(make_panel(), WATER) == solve_network(make_panel(), WATER)


def test_start_past_the_end_of_the_pump_finds_the_flow():
    # At the start, half-way along the curve, the pump gives no head, and at no flow the turn takes none.
    pump = PumpCurve(((0.0, 3.0), (5 * L_MIN, 0.0), (10 * L_MIN, 0.0)))
    turn = PortTurn("bore_to_channel", 0.004, 0.004, 0.012)
    solution = solve_network(
        Network((Edge("pump", "tank", "a", (pump,)), Edge("turn", "a", "tank", (turn,)))), WATER
    )
    assert 0 < solution.flow_m3_s["pump"] < 5 * L_MIN
    assert solution.residual < 1e-9


def test_tee_on_two_short_branches_settles():
    # With next to no friction behind it the tee alone decides, and turns the flow of its branch round.
    edges = (
        Edge("pump", "tank", "split", (PUMP,)),
        Edge("run", "split", "join", (channel(0.004),)),
        Edge("branch", "split", "join", (channel(0.004),)),
        Edge("back", "join", "tank", (channel(0.25),)),
    )
    network = Network(edges, (Tee("split", "pump", "run", "branch"),))
    solution = solve_network(network, WATER)
    check_balances(network, solution)
    assert solution.flow_m3_s["run"] > solution.flow_m3_s["pump"] > 0 > solution.flow_m3_s["branch"]


def test_direction_of_edges_only_turns_signs():
    network = make_panel()
    flipped = Network(
        tuple(
            Edge(e.name, e.end, e.start, e.elements[::-1]) if e.name in ("left", "right") else e
            for e in network.edges
        ),
        network.tees,
    )
    ours, theirs = solve_network(network, WATER).flow_m3_s, solve_network(flipped, WATER).flow_m3_s
    for name, flow in ours.items():
        assert theirs[name] == pytest.approx(
            -flow if name in ("left", "right") else flow, rel=1e-7, abs=1e-15
        )


def test_pumps_in_series_and_in_parallel_as_edges():
    loop = Edge("loop", "out", "tank", (channel(0.5), PartResistance(((4 * L_MIN, 2e4),))))
    single = solve_network(Network((Edge("p", "tank", "out", (PUMP,)), loop)), WATER)
    series = solve_network(Network((Edge("p", "tank", "out", (PUMP, PUMP)), loop)), WATER)
    pair = (Edge("p", "tank", "out", (PUMP,)), Edge("q", "tank", "out", (PUMP,)))
    parallel = solve_network(Network((*pair, loop)), WATER)
    assert parallel.flow_m3_s["p"] == pytest.approx(parallel.flow_m3_s["q"])
    assert single.flow_m3_s["loop"] < parallel.flow_m3_s["loop"] < series.flow_m3_s["loop"]
    check_balances(Network((*pair, loop)), parallel)


def test_one_edge_may_be_a_whole_loop():
    network = Network((Edge("ring", "tank", "tank", (PUMP, channel(1.0))),))
    solution = solve_network(network, WATER)
    assert solution.flow_m3_s["ring"] > 0
    assert solution.drop_pa["ring"] == pytest.approx(0.0, abs=1e-4)


def test_band_holds_the_answer_and_widens_with_its_parts():
    network = make_panel()
    solution = solve_network(network, WATER)
    band = flow_band(network, WATER, solution)
    low, high = band["pump"]
    assert -0.3 < low < -0.01
    assert 0.01 < high < 0.3
    assert band["drain"] == (0.0, 0.0)
    only_part = Network(
        (
            Edge("pump", "tank", "out", (PUMP,)),
            Edge("part", "out", "tank", (PartResistance(((L_MIN, 2e3),)),)),
        )
    )
    narrow = flow_band(only_part, WATER, solve_network(only_part, WATER))["pump"]
    # Flow goes with the root of the resistance where the pump is level, less where it falls.
    assert -(1 - 1.1**-0.5) < narrow[0] < 0 < narrow[1] < 0.9**-0.5 - 1


@pytest.mark.parametrize(
    ("network", "says"),
    [
        (Network(()), "nothing drives"),
        (Network((Edge("a", "x", "y", (channel(0.1),)), Edge("b", "y", "x", ()))), "nothing drives"),
        (Network((Edge("p", "x", "y", (PUMP,)), Edge("p", "y", "x", ()))), '"p" is used twice'),
        (Network((Edge("p", "x", "y", (PUMP,)),)), 'edge "p" is in no loop'),
        (
            Network((Edge("p", "x", "x", (PUMP, channel(1.0))), Edge("far", "y", "z", (channel(1.0),)))),
            'no edge leads to the node "y"',
        ),
        (
            Network(
                (
                    Edge("strong", "x", "y", (PUMP,)),
                    Edge("weak", "x", "y", (PumpCurve(((0.0, 0.2), (4 * L_MIN, 0.1))),)),
                    Edge("loop", "y", "x", (PartResistance(((L_MIN, 5e4),)),)),
                )
            ),
            'edge "weak" gives the loop no positive flow',
        ),
        (
            Network((Edge("p", "x", "x", (PumpCurve(((0.0, 1.0), (L_MIN, 1.0))),)),)),
            "never falls",
        ),
    ],
)
def test_refused(network, says):
    with pytest.raises(OutOfRange, match=says):
        solve_network(network, WATER)


@pytest.mark.parametrize(
    ("tee", "says"),
    [
        (Tee("split", "to parts", "left", "nowhere"), "three different edges"),
        (Tee("split", "to parts", "left", "left"), "three different edges"),
        (Tee("split", "to parts", "left", "back"), '"back" must touch'),
    ],
)
def test_tee_refused(tee, says):
    with pytest.raises(OutOfRange, match=says):
        solve_network(Network(make_panel().edges, (tee,)), WATER)


def test_tee_has_three_legs_and_a_size():
    part = (PartResistance(((L_MIN, 1e3),)),)
    edges = [Edge("pump", "tank", "out", (PUMP,))]
    edges += [Edge(name, "out", "tank", part) for name in ("a", "b")]
    with pytest.raises(OutOfRange, match="has a channel"):
        solve_network(Network(tuple(edges), (Tee("out", "pump", "a", "b"),)), WATER)
    edges.append(Edge("c", "out", "tank", (channel(0.1),)))
    with pytest.raises(OutOfRange, match='"c" meets there too'):
        solve_network(Network(tuple(edges), (Tee("out", "pump", "a", "b"),)), WATER)


@pytest.mark.parametrize("start", [0.0, -1.0, float("nan")])
def test_start_flow_refused(start):
    with pytest.raises(OutOfRange, match="start flow"):
        solve_network(make_panel(), WATER, start)


elements = st.one_of(
    st.floats(0.001, 1.0).map(channel),
    st.floats(0.0, 0.03).map(lambda radius: Bend(radius, 0.008, 0.009)),
    st.floats(0.004, 0.02).map(lambda bore: PortTurn("channel_to_bore", bore, 0.008, 0.009)),
    st.floats(10.0, 1e5).map(lambda drop: PartResistance(((4 * L_MIN, drop),))),
    st.floats(10.0, 1e4).map(lambda drop: PartResistance(((2 * L_MIN, drop), (4 * L_MIN, 3 * drop)))),
)
runs = st.lists(elements, min_size=1, max_size=4).map(tuple)


@st.composite
def networks(draw, with_tees: bool) -> Network:
    """Return a pump on a series of stages, each of one to three branches in parallel, or crossed."""
    edges = [Edge("pump", "tank", "s0", (PUMP,)), Edge("end", "last", "tank", draw(runs))]
    tees = []
    stages = draw(st.integers(1, 4))
    before = "pump"
    for i in range(stages):
        start, end = f"s{i}", f"s{i + 1}" if i + 1 < stages else "last"
        kind = draw(st.sampled_from(["one", "two", "three", "crossed"]))
        if kind == "crossed":
            ends = [(start, f"u{i}"), (start, f"v{i}"), (f"u{i}", f"v{i}"), (f"u{i}", end), (f"v{i}", end)]
        else:
            ends = [(start, end)] * ["one", "two", "three"].index(kind) + [(start, end)]
        names = [f"{i}-{k}" for k in range(len(ends))]
        edges += [Edge(name, a, b, draw(runs)) for name, (a, b) in zip(names, ends, strict=True)]
        if with_tees and before and kind in ("two", "crossed"):
            tees.append(Tee(start, before, names[0], names[1]))
        if with_tees and kind == "crossed":
            tees.append(Tee(f"u{i}", names[0], names[3], names[2]))
            tees.append(Tee(f"v{i}", names[1], names[4], names[2]))
        before = names[0] if kind == "one" else ""
    channels = any(not isinstance(e, PartResistance | PumpCurve) for edge in edges for e in edge.elements)
    keep = [tee for tee in tees if channels and _has_channel(edges, tee)]
    return Network(tuple(edges), tuple(keep))


def _has_channel(edges: list[Edge], tee: Tee) -> bool:
    legs = [edge for edge in edges if edge.name in (tee.combined, tee.run, tee.branch)]
    return any(not isinstance(e, PartResistance | PumpCurve) for leg in legs for e in leg.elements)


@settings(max_examples=60, deadline=None)
@given(networks(with_tees=False))
def test_any_network_balances(network):
    solution = solve_network(network, WATER)
    check_balances(network, solution)
    assert solution.iterations < 60


@settings(max_examples=60, deadline=None)
@given(networks(with_tees=True))
def test_any_network_with_tees_balances(network):
    check_balances(network, solve_network(network, WATER))


@settings(max_examples=30, deadline=None)
@given(networks(with_tees=False), st.floats(0.3, 0.95))
def test_faster_pump_gives_more_flow(network, ratio):
    slower = PumpCurve(scale_affinity(POINTS, ratio))
    slow = Network((Edge("pump", "tank", "s0", (slower,)), *network.edges[1:]))
    fast_flow = solve_network(network, WATER).flow_m3_s["pump"]
    assert solve_network(slow, WATER).flow_m3_s["pump"] < fast_flow


def test_two_hundred_edges_balance_in_few_steps():
    size = 10
    edges = [Edge("pump", f"{size - 1},{size - 1}", "0,0", (PUMP,))]
    for i in range(size):
        for j in range(size):
            run = (channel(0.01 + 0.01 * ((3 * i + 7 * j) % 11)), Bend(0.014, 0.008, 0.009))
            if i + 1 < size:
                edges.append(Edge(f"down {i},{j}", f"{i},{j}", f"{i + 1},{j}", run))
            if j + 1 < size:
                edges.append(Edge(f"right {i},{j}", f"{i},{j}", f"{i},{j + 1}", (*run, run[1])))
    network = Network(tuple(edges))
    solution = solve_network(network, WATER)
    check_balances(network, solution)
    assert solution.iterations <= 15
