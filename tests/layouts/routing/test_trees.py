"""Channels of three and more ends: bounds, costs, and trees that keep the rules."""

from dataclasses import replace

import networkx as nx
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model
from test_search import BEND, STEP, net, plain_instance, state_graph

from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.all_channels.route_instance import route_instance
from layouts.routing.instance import DX, DY, Instance, Net, Rates, Terminal, square_offsets
from layouts.routing.one_channel.runs import TEE, GridRun
from layouts.routing.one_channel.trace import Trace, Tracer
from layouts.routing.trees.tree_bound import MOST_EXACT_ENDS, EntryPrices, bound_tree, search_tree
from layouts.routing.trees.tree_costs import tree_cost
from layouts.routing.trees.trees import improve_tree, plant_tree, regrow_tree

SPACING, TEE_COST = 3, 24.0


def piped_instance(columns, rows, blocked, ends, leg_rates=(), layers=1):
    """Return an instance of one tree whose bends are arcs and whose Ts keep their straights."""
    cells = np.zeros((1, layers * columns * rows), dtype=bool)
    cells[0, list(blocked)] = True
    tree = Net("tree", tuple((Terminal(cell=c, node=c),) for c in ends), leg_rates=leg_rates)
    return Instance(
        columns,
        rows,
        (tree,),
        cells,
        ((square_offsets(SPACING),),),
        Rates(STEP, BEND, TEE_COST, 30.0),
        bend_cells=2,
        bend_radius_cells=1.6,
        tee_margin=2,
        layers=layers,
    )


def grow(instance):
    """Return the tracer of an instance and the tree that the attaching search alone finds."""
    search, tree = Negotiation(instance), instance.nets[0]
    free = np.zeros(instance.cells)
    found = [search.tracer.trace(tree, instance.blocked, free, None, pair) for pair in ((0, 1), (1, 2), None)]
    return search.tracer, min((t for t in found if t), key=lambda t: t.cost, default=None)


def states_cost(instance, tree, leg):
    """Return what a leg's states cost at its rates, from the moves between them alone."""
    rates = tree.leg_rates[leg.ends] if tree.leg_rates else instance.rates_of(tree)
    total = 0.0
    for a, b in zip(leg.states, leg.states[1:], strict=False):
        turned = (a ^ b) & 3
        total += rates.step if not turned else rates.bend + 2 * instance.bend_cells * rates.step
    return total


def library_steiner(columns, rows, blocked, ends):
    """Return the least sum of steps and bends of a tree on the (cell, axis) graph, by a constraint solver.

    One commodity flows from the first end to each other one; an edge is paid once. A T costs nothing, and
    a branch turns into it for nothing: the two states of a cell where a T stands are joined by an edge that
    is free, so a cell with three and more edges pays no bend.
    """
    model = cp_model.CpModel()
    free = [c for c in range(columns * rows) if c not in blocked]
    steps = [
        (a, b, axis)
        for a in free
        for b, axis in ((a + 1, 0), (a + columns, 1))
        if b in free and (axis == 1 or b % columns)
    ]
    used = {edge: model.new_bool_var("") for edge in steps}
    for end in ends[1:]:
        flow = {(e, way): model.new_bool_var("") for e in steps for way in (0, 1)}
        for edge in steps:
            model.add(flow[edge, 0] + flow[edge, 1] <= used[edge])
        for c in free:
            out = sum(flow[e, 0] for e in steps if e[0] == c) + sum(flow[e, 1] for e in steps if e[1] == c)
            into = sum(flow[e, 1] for e in steps if e[0] == c) + sum(flow[e, 0] for e in steps if e[1] == c)
            model.add(out - into == (c == ends[0]) - (c == end))
    bends = []
    for c in free:
        if c in ends:
            continue
        along = [used[e] for e in steps if c in e[:2] and e[2] == 0]
        up = [used[e] for e in steps if c in e[:2] and e[2] == 1]
        bend = model.new_bool_var("")
        # One way along and one up, and no more: a bend. Two of one kind are a straight, three a T.
        for a in along:
            for u in up:
                others = [v for v in along + up if v is not a and v is not u]
                model.add(bend >= a + u - 1 - sum(others))
        bends.append(bend)
        # Nothing ends where no end is: a blind stub would pass for a T.
        for v in along + up:
            model.add(v <= sum(w for w in along + up if w is not v))
    model.minimize(int(STEP) * sum(used.values()) + int(BEND) * sum(bends))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    if solver.solve(model) != cp_model.OPTIMAL:
        return None
    return solver.objective_value


@pytest.mark.published(source="CP-SAT of ortools, Steiner trees with bends on grids of 5x5 cells")
@settings(max_examples=15, deadline=None)
@given(st.data())
def test_the_bound_is_the_optimum_where_bends_turn_within_a_cell(data):
    columns = rows = 5
    cells = data.draw(st.permutations(range(25)))
    count = data.draw(st.integers(2, 4))
    ends, blocked = cells[:count], set(cells[count : count + data.draw(st.integers(0, 8))])
    instance = plain_instance(columns, rows, blocked, [net("tree", *([c] for c in ends))])
    bound = bound_tree(instance, instance.nets[0], instance.blocked)
    expected = library_steiner(columns, rows, blocked, ends)
    assert bound.cost == (np.inf if expected is None else pytest.approx(expected))


@pytest.mark.published(source="networkx, Dijkstra on the graph of (cell, axis) states")
@settings(max_examples=40, deadline=None)
@given(st.data())
def test_of_two_ends_the_bound_is_the_shortest_path(data):
    cells = data.draw(st.permutations(range(42)))
    blocked = set(cells[2:14])
    instance = plain_instance(7, 6, blocked, [net("a", [cells[0]], [cells[1]])])
    graph = state_graph(7, 6, blocked)
    for axis in "hv":
        graph.add_edge("start", (cells[0], axis), weight=0)
        graph.add_edge("end", (cells[1], axis), weight=0)
    cost = bound_tree(instance, instance.nets[0], instance.blocked).cost
    if nx.has_path(graph, "start", "end"):
        assert cost == nx.dijkstra_path_length(graph, "start", "end")
    else:
        assert cost == np.inf


def assert_tree_kept(instance, trace):
    """Assert a tree's own rules from its corners alone: Ts square on earlier straights, off bends and each other."""
    reach, margin, k = SPACING, instance.tee_margin, instance.bend_cells
    tees = []
    for n, run in enumerate(trace.runs):
        assert run.first >= 0
        if run.last != TEE:
            continue
        (px, py), (x, y) = run.corners[-2:]
        assert abs(px - x) + abs(py - y) >= reach
        on = []
        for earlier in trace.runs[:n]:
            legs = list(zip(earlier.corners, earlier.corners[1:], strict=False))
            for m, ((ax, ay), (bx, by)) in enumerate(legs):
                if min(ax, bx) <= x <= max(ax, bx) and min(ay, by) <= y <= max(ay, by):
                    on.append((ax == bx) != (px == x))
                    before, after = abs(x - ax) + abs(y - ay), abs(x - bx) + abs(y - by)
                    assert before >= (margin if m == 0 else k)
                    assert after >= (margin if m == len(legs) - 1 else k)
        assert on == [True]
        assert all(abs(x - tx) + abs(y - ty) >= margin for tx, ty in tees)
        tees.append((x, y))
    paths = split_runs(instance, trace)
    for n, path in enumerate(paths):
        # What leads straight up to its T may be near its trunk: half a stub, on the branch's own axis.
        own = path[: -reach if trace.runs[n].last == TEE else None]
        for earlier in paths[:n]:
            a = np.array([(c % instance.columns, c // instance.columns) for c in own])
            b = np.array([(c % instance.columns, c // instance.columns) for c in earlier])
            assert np.abs(a[:, None] - b[None]).max(axis=2).min() >= SPACING
    assert not instance.blocked[0, trace.cells].any()


def split_runs(instance, trace):
    """Return the cells of each run, cut from the trace's path where a run reaches its last corner."""
    out, at = [], 0
    for run in trace.runs:
        x, y = run.corners[-1]
        stop = trace.path.index(y * instance.columns + x, at) + 1
        out.append(trace.path[at:stop])
        at = stop
    assert at == len(trace.path)
    return out


def random_tree(data, columns=18, rows=13):
    """Return an instance of one tree with three to five ends between walls."""
    inside = [y * columns + x for x in range(1, columns - 1) for y in range(1, rows - 1)]
    count = data.draw(st.integers(3, 5))
    ends = data.draw(st.lists(st.sampled_from(inside), min_size=count, max_size=count, unique=True))
    xy = np.array([divmod(c, columns) for c in ends])
    gaps = np.abs(xy[:, None] - xy[None]).max(axis=2) + 99 * np.eye(count, dtype=int)
    assume(gaps.min() >= SPACING)
    x, y = data.draw(st.integers(3, columns - 6)), data.draw(st.integers(3, rows - 6))
    wall = {(y + b) * columns + x + a for a in range(data.draw(st.integers(0, 4))) for b in range(3)}
    return piped_instance(columns, rows, wall - set(ends), ends)


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_the_bound_never_exceeds_a_tree_and_trees_keep_their_rules(data):
    instance = random_tree(data)
    tree = instance.nets[0]
    tracer, attached = grow(instance)
    bound = bound_tree(instance, tree, instance.blocked)
    planted = plant_tree(tracer, tree, instance.blocked, np.zeros(instance.cells))
    improved = improve_tree(tracer, tree, attached, instance.blocked)
    for trace in (attached, planted, improved):
        if trace is not None:
            assert bound.cost <= trace.cost + 1e-6
            assert trace.cost == pytest.approx(tree_cost(instance, tree, trace))
            assert_tree_kept(instance, trace)
    if attached is not None:
        assert improved.cost <= attached.cost + 1e-9


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_the_bounds_legs_cost_what_the_bound_says(data):
    instance = random_tree(data)
    tree = instance.nets[0]
    bound = bound_tree(instance, tree, instance.blocked)
    if not bound.legs:
        assert bound.cost == np.inf
        return
    tees = len(bound.legs) // 2
    assert len(bound.legs) == 2 * tees + 1
    assert bound.cost == pytest.approx(
        sum(states_cost(instance, tree, leg) for leg in bound.legs) + tees * TEE_COST
    )
    for leg in bound.legs:
        for a, b in zip(leg.states, leg.states[1:], strict=False):
            d, nd = a & 3, b & 3
            far = instance.bend_cells if d != nd else 0
            x = DX[d] * far + DX[nd] * (far or 1)
            y = DY[d] * far + DY[nd] * (far or 1)
            assert (b >> 2) - (a >> 2) == y * instance.columns + x
    beyond = {leg.ends for leg in bound.legs}
    assert (1 << len(tree.ends)) - 2 in beyond
    assert {1 << e for e in range(1, len(tree.ends))} <= beyond


def moves_priced(prices, leg):
    """Return the prices of a leg's moves."""
    total = 0.0
    for a, b in zip(leg.states, leg.states[1:], strict=False):
        d, nd = a & 3, b & 3
        turn = 0 if nd == (d + 1) % 4 else 1
        total += prices.entering[b] if d == nd else prices.turning[(a >> 2) * 8 + d * 2 + turn]
    return total


@settings(max_examples=40, deadline=None)
@given(st.data(), st.integers(0, 10_000))
def test_prices_are_paid_once_for_each_move_of_the_legs(data, seed):
    instance = random_tree(data)
    tree = instance.nets[0]
    rng = np.random.default_rng(seed)
    prices = EntryPrices(
        rng.random(instance.cells * 4) * STEP,
        rng.random(instance.cells * 8) * BEND,
        rng.random(instance.cells),
    )
    free = bound_tree(instance, tree, instance.blocked)
    priced = bound_tree(instance, tree, instance.blocked, prices)
    assert bool(free.legs) == bool(priced.legs)
    assume(priced.legs)
    expected = sum(states_cost(instance, tree, leg) + moves_priced(prices, leg) for leg in priced.legs)
    expected += len(priced.legs) // 2 * TEE_COST + prices.standing[priced.legs[0].states[0] >> 2]
    assert priced.cost == pytest.approx(expected)
    # The tree that is cheapest without prices can be no cheaper with them.
    paid = sum(moves_priced(prices, leg) for leg in free.legs) + prices.standing[free.legs[0].states[0] >> 2]
    assert free.cost - 1e-6 <= priced.cost <= free.cost + paid + 1e-6
    assert bound_tree(instance, tree, instance.blocked, prices, priced.cost).cost == pytest.approx(
        priced.cost
    )
    assert bound_tree(instance, tree, instance.blocked, prices, priced.cost - 0.01).cost == np.inf


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000))
def test_of_many_ends_the_bound_of_some_is_one_of_all(seed):
    rng = np.random.default_rng(seed)
    columns, rows, count = 9, 8, MOST_EXACT_ENDS + 1
    cells = [int(c) for c in rng.permutation(columns * rows)]
    instance = plain_instance(
        columns, rows, cells[count : count + 10], [net("t", *([c] for c in cells[:count]))]
    )
    tree = instance.nets[0]
    legs = tuple(Rates(STEP * float(r), BEND * float(r)) for r in 1 + rng.random(1 << count))
    # What lies on one side of a leg lies not on the other.
    legs = tuple(min(legs[m], legs[(1 << count) - 1 - m], key=lambda r: r.step) for m in range(1 << count))
    for one in (tree, replace(tree, leg_rates=legs)):
        some = bound_tree(instance, one, instance.blocked)
        everything, _ = search_tree(instance, one, instance.blocked, chosen=tuple(range(count)))
        assert not some.exact
        assert some.cost <= everything + 1e-6
        trace = Tracer(replace(instance, nets=(one,))).trace(one, instance.blocked, np.zeros(instance.cells))
        assert trace is None or some.cost <= trace.cost + 1e-6


def legs_of(great, small):
    """Return leg rates of three ends where the first two share a great flow and the third has a small one."""
    big, little = Rates(great, 2 * great), Rates(small, 2 * small)
    # Bit 0 and 1: the ends of the great flow; alone on a side or with the third, a leg carries it.
    return tuple(little if mask in (0, 4, 3, 7) else big for mask in range(8))


def test_the_great_flow_has_the_straight_way():
    # A trunk from (2, 8) to (22, 8) with a branch up from (12, 8) to (12, 14).
    columns, rows = 25, 17
    ends = [8 * columns + 2, 8 * columns + 22, 14 * columns + 12]
    instance = piped_instance(columns, rows, (), ends, legs_of(40.0, 2.0))
    tree = instance.nets[0]
    by_hand = 20 * 40.0 + 6 * 2.0 + TEE_COST
    assert bound_tree(instance, tree, instance.blocked).cost == by_hand
    found = route_instance(instance).traces[0]
    assert found.cost == by_hand


def test_unlike_flows_move_the_t():
    # Ends at (2, 2), (2, 14) and (22, 8): with like flows the T stands off the two, on a short common leg.
    columns, rows = 25, 17
    ends = [2 * columns + 2, 14 * columns + 2, 8 * columns + 22]
    like = piped_instance(columns, rows, (), ends)
    # 12 from end to end, 20 across, one T and no bend.
    assert bound_tree(like, like.nets[0], like.blocked).cost == 32 * STEP + TEE_COST
    # At a fortieth of the rates in the third end's leg nothing changes; at eight times the T moves up to it, as
    # far as the margin of 2: each of the other two goes 18 along and 6 across, round one bend.
    for third, by_hand in ((0.25, 12 * STEP + 20 * 0.25), (80.0, 2 * (24 * STEP + BEND) + 2 * 80.0)):
        rates = tuple(Rates(third, BEND) if m in (4, 3) else Rates(STEP, BEND) for m in range(8))
        unlike = piped_instance(columns, rows, (), ends, rates)
        tree = unlike.nets[0]
        assert bound_tree(unlike, tree, unlike.blocked).cost == by_hand + TEE_COST
        assert route_instance(unlike).cost == by_hand + TEE_COST


def test_a_tree_costs_each_leg_at_its_own_rates():
    # Trunk (0, 5) to (20, 5), T at (8, 5), branch down from (8, 12) round no bend; tail of 3 cells at end 0.
    columns, rows = 21, 13
    ends = [5 * columns + 3, 5 * columns + 20, 12 * columns + 8]
    rates = tuple(Rates(float(m), 100.0 * m) for m in range(8))
    instance = piped_instance(columns, rows, (), ends, rates)
    tree = instance.nets[0]
    tail = Terminal(
        cell=ends[0], node=5 * columns, tail=(5 * columns, 5 * columns + 1, 5 * columns + 2), cost=7.0
    )
    plain = [Terminal(cell=c, node=c) for c in ends[1:]]
    runs = (
        GridRun(((0, 5), (20, 5)), 0, 1, ()),
        GridRun(((8, 12), (8, 5)), 2, TEE, ()),
    )
    trace = Trace(runs, np.zeros(0, np.int64), (), (tail, *plain), 0.0)
    # (3..8) with end 0 behind: 5 * 1. (8..20) with ends 0 and 2 behind: 12 * 5. The branch, end 2: 7 * 4.
    assert tree_cost(instance, tree, trace) == 7.0 + 5 * 1 + 12 * 5 + 7 * 4 + TEE_COST
    bent = (runs[0], GridRun(((13, 12), (8, 12), (8, 5)), 2, TEE, ()))
    assert tree_cost(instance, tree, replace(trace, runs=bent)) == 7.0 + 5 + 60 + 12 * 4 + 400.0 + TEE_COST
    with pytest.raises(ValueError, match="lies on no earlier run"):
        tree_cost(instance, tree, replace(trace, runs=(runs[0], GridRun(((8, 12), (8, 6)), 2, TEE, ()))))


@pytest.mark.parametrize(
    ("ends", "expected"),
    [
        # A T with its trunk along row 8, and one with the trunk up column 12.
        (((2, 8), (22, 8), (12, 2)), 26 * STEP + TEE_COST),
        (((12, 2), (12, 14), (22, 8)), 22 * STEP + TEE_COST),
        # A comb: one trunk of 20, two teeth of 6 upwards.
        (((2, 4), (22, 4), (8, 10), (16, 10)), 32 * STEP + 2 * TEE_COST),
        # A comb with teeth on both sides, Ts 8 apart.
        (((2, 8), (22, 8), (8, 14), (16, 2)), 32 * STEP + 2 * TEE_COST),
    ],
)
def test_hand_made_trees_are_found_at_their_optimum(ends, expected):
    columns = 25
    instance = piped_instance(columns, 17, (), [y * columns + x for x, y in ends])
    tree = instance.nets[0]
    tracer, _ = grow(instance)
    bound = bound_tree(instance, tree, instance.blocked)
    planted = plant_tree(tracer, tree, instance.blocked, np.zeros(instance.cells))
    assert bound.cost == expected
    assert planted is not None
    assert planted.cost == expected
    assert_tree_kept(instance, planted)


def test_a_branch_set_badly_is_set_anew():
    # The branch of end 2 goes a long way round; taken off and attached anew it goes straight.
    columns = 25
    ends = [8 * columns + 2, 8 * columns + 22, 14 * columns + 12]
    instance = piped_instance(columns, 17, (), ends)
    tree = instance.nets[0]
    tracer = Tracer(instance)
    wall = np.zeros_like(instance.blocked)
    wall[0, 11 * columns + 8 : 11 * columns + 17] = True
    round_about = tracer.trace(tree, instance.blocked | wall, np.zeros(instance.cells), None, (0, 1))
    assert round_about.cost > 26 * STEP + TEE_COST
    again = regrow_tree(tracer, tree, round_about, instance.blocked)
    assert again.cost == 26 * STEP + TEE_COST


def test_trees_and_paths_share_a_plate_and_keep_apart():
    columns, rows = 30, 24
    one = Net("tree", tuple((Terminal(cell=y * columns + x, node=y * columns + x),) for x, y in
                            ((3, 12), (26, 12), (14, 3), (20, 20))))  # fmt: skip
    two = Net(
        "path", tuple((Terminal(cell=y * columns + x, node=y * columns + x),) for x, y in ((5, 18), (12, 20)))
    )
    instance = replace(piped_instance(columns, rows, (), [0, 1, 2]), nets=(one, two))
    routing = route_instance(instance)
    assert routing.traces
    a, b = (np.array([(c % columns, c // columns) for c in t.cells]) for t in routing.traces)
    assert np.abs(a[:, None] - b[None]).max(axis=2).min() >= SPACING
    assert_tree_kept(instance, routing.traces[0])
    assert routing.traces[0].cost >= bound_tree(instance, one, instance.blocked).cost - 1e-6
    assert route_instance(instance).traces[0].path == routing.traces[0].path


def test_a_tree_may_change_its_layer_where_a_wall_divides_one():
    columns, rows = 20, 12
    wall = [y * columns + 10 for y in range(rows)]
    ends = [6 * columns + 2, 6 * columns + 17, 10 * columns + 4]
    flat = piped_instance(columns, rows, wall, ends)
    assert bound_tree(flat, flat.nets[0], flat.blocked).cost == np.inf
    both = piped_instance(columns, rows, wall, ends, layers=2)
    bound = bound_tree(both, both.nets[0], both.blocked)
    # 15 along, 4 up, two through holes, one T.
    assert bound.cost == 19 * STEP + 2 * 30.0 + TEE_COST
    tracer, attached = grow(both)
    improved = improve_tree(tracer, both.nets[0], attached, both.blocked)
    assert improved is not None
    assert bound.cost <= improved.cost
    assert improved.cost == pytest.approx(tree_cost(both, both.nets[0], improved))
    assert len(improved.holes) == 2
