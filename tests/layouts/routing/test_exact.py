"""The exact model alone: against a general solver on small grids, and on panels with arcs, ports and columns."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from oracle import BEND, STEP, least_cost, make_instance

from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.bound.granularity import find_granularity
from layouts.routing.bound.prices import window_side
from layouts.routing.bound.topology import find_topology
from layouts.routing.effort import QUICK, THOROUGH
from layouts.routing.exact.choices import list_choices
from layouts.routing.exact.clashes import find_clash_rows
from layouts.routing.exact.solve_exact import NOT_TRIED, solve_exact
from layouts.routing.instance import Instance, Net, Rates, Terminal, disc_offsets, square_offsets
from layouts.routing.one_channel.ends import EndTable
from layouts.routing.one_channel.runs import find_return


def everything(instance):
    """Return what is fixed for each net, and that every state is kept."""
    fixed = list(Negotiation(instance).fixed)
    return fixed, [np.ones(instance.cells * 4, bool)] * len(instance.nets)


def crossing_rows(instance):
    """Return the rules of all pairs that one holds for."""
    search = Negotiation(instance)
    usable = tuple(
        tuple(EndTable(end).usable(search.fixed[n], search.near_others[n]) for end in net.ends)
        for n, net in enumerate(instance.nets)
    )
    topology = find_topology(instance, tuple(search.fixed), usable)
    pairs = combinations(range(len(instance.nets)), 2)
    return tuple(topology.row(i, j) for i, j in pairs if topology.holds[i, j])


def solve(instance, pairs=(), cost=np.inf, effort=THOROUGH):
    """Return what the exact model says of a whole instance."""
    fixed, keep = everything(instance)
    return solve_exact(instance, fixed, keep, pairs, cost, effort)


def check_traces(instance, traces):
    """Assert that channels keep off each other and off themselves, by every pair of cells."""
    for net, trace in zip(instance.nets, traces, strict=True):
        assert not find_return(instance, *trace.runs, channel_class=net.channel_class)
    plane = instance.columns * instance.rows
    near = {tuple(offset) for offset in instance.offsets[0][0].tolist()}
    for one, two in combinations(traces, 2):
        for a in one.cells:
            for b in two.cells:
                if a // plane == b // plane:
                    ax, ay = a % plane % instance.columns, a % plane // instance.columns
                    bx, by = b % plane % instance.columns, b % plane // instance.columns
                    assert (bx - ax, by - ay) not in near


@pytest.mark.published(source="OR-Tools, CP-SAT: the least cost of random instances")
@pytest.mark.parametrize(
    ("spacing", "layers", "sides", "nets"),
    [(1, 1, (5, 8), (2, 4)), (2, 1, (6, 9), (2, 3)), (3, 1, (8, 10), (2, 3)), (1, 2, (4, 5), (2, 3))],
)
def test_the_least_cost_is_found_from_nothing_and_proven(spacing, layers, sides, nets):
    routed = 0
    for seed in range(7000, 7012):
        instance = make_instance(seed, sides, nets, spacing, layers)
        best = least_cost(instance, spacing)
        pairs = crossing_rows(instance) if layers == 1 else ()
        found = solve(instance, pairs)
        assert found.complete, seed
        assert found.bound == (np.inf if best is None else best), seed
        if best is None:
            assert not found.traces
            continue
        routed += 1
        assert sum(trace.cost for trace in found.traces) == best
        check_traces(instance, found.traces)
        again = solve(instance, pairs, best)
        assert (again.bound, again.traces, again.complete) == (best, (), True)
    assert routed > 2


def test_a_dearer_routing_known_is_bettered():
    instance = plate(5, 5, [net("a", [0], [4]), net("b", [5], [9])])
    best = solve(instance)
    found = solve(instance, cost=best.bound + 100)
    assert found.bound == best.bound == 2 * 4 * STEP
    assert sum(trace.cost for trace in found.traces) == best.bound


def plate(columns, rows, nets, **more):
    """Return an open plate of one class."""
    blocked = np.zeros((1, columns * rows), bool)
    given = {"offsets": ((square_offsets(1),),), **more}
    return Instance(columns, rows, tuple(nets), blocked, rates=Rates(STEP, BEND), **given)


def net(name, *ends, **more):
    """Return a net whose ends are lists of cells."""
    return Net(name, tuple(tuple(Terminal(cell=c, node=c) for c in end) for end in ends), **more)


def test_a_straight_column_makes_room_for_the_others():
    # The column may stand in 2 or 3; the other channel needs both lower cells of column 3.
    drop = net("drop", [4 * 5 + 2, 4 * 5 + 3], [5 + 2, 5 + 3], straight_down=True)
    instance = plate(5, 5, [drop, net("side", [3], [2 * 5 + 3])])
    found = solve(instance)
    assert found.complete
    assert found.bound == 3 * STEP + 2 * STEP
    assert [t.cell % 5 for t in found.traces[0].chosen] == [2, 2]


def test_arcs_take_their_cells_and_straights():
    # Two quarter turns about one corner: each arc of two cells takes a block, discs of 2.5 keep them apart.
    outer = net("outer", [0 * 12 + 1], [8 * 12 + 10])
    inner = net("inner", [4 * 12 + 1], [8 * 12 + 6])
    instance = plate(
        12,
        9,
        [outer, inner],
        offsets=((disc_offsets(2.5),),),
        bend_cells=2,
        bend_radius_cells=2.0,
    )
    found = solve(instance)
    assert found.complete
    # Both with one bend: the steps between the ends in both axes, the corner's two straights within them.
    assert found.bound == (9 + 8 + 5 + 4) * STEP + 2 * BEND
    check_traces(instance, found.traces)


def test_ports_of_two_channels_keep_their_distance():
    # The nearest ports of both channels stand three apart, ports must stand five apart: one moves on.
    def end(*columns):
        return tuple(Terminal(cell=c, node=c, port_class=1) for c in columns)

    def far(cell):
        return (Terminal(cell=cell, node=cell),)

    nets = (Net("a", (end(4, 2), far(4 * 12 + 4))), Net("b", (end(7, 8, 9), far(4 * 12 + 7))))
    channel, port = square_offsets(1), square_offsets(5)
    instance = Instance(
        12,
        5,
        nets,
        np.zeros((2, 60), bool),
        ((channel, channel), (channel, port)),
        Rates(STEP, BEND),
    )
    found = solve(instance)
    assert found.complete
    # The least move: one of the ports two steps and one bend aside.
    assert found.bound == 2 * 4 * STEP + 2 * STEP + BEND
    ports = sorted(trace.chosen[0].cell for trace in found.traces)
    assert ports[1] - ports[0] >= 5


def test_trees_large_remainders_and_quick_are_not_tried():
    tree = plate(5, 5, [net("tree", [0], [4], [22])])
    assert solve(tree) is NOT_TRIED
    two = make_instance(7000, (5, 6), (2, 2), 1)
    assert solve(two, effort=replace(THOROUGH, exact_arcs=10)) is NOT_TRIED
    assert solve(two, effort=QUICK) is NOT_TRIED


@pytest.mark.published(source="OR-Tools, CP-SAT: the least cost of random instances")
def test_where_the_linear_program_is_not_tight_the_branches_find_the_least_cost():
    loose = []
    for seed in range(7100, 7135):
        instance = make_instance(seed, (5, 7), (4, 5), 1)
        cut = solve(instance, effort=replace(THOROUGH, exact_nodes=0))
        whole = solve(instance)
        assert cut.bound <= whole.bound
        if cut.bound < whole.bound:
            best = least_cost(instance, 1)
            loose.append(seed)
            assert whole.complete
            assert whole.bound == (np.inf if best is None else best)
            if best is not None:
                again = solve(instance, cost=best + 3 * STEP)
                assert again.complete
                assert sum(trace.cost for trace in again.traces) == again.bound == best
    assert len(loose) > 2


def test_the_window_is_the_largest_square_of_cells_all_too_near():
    assert window_side(plate(9, 9, [net("a", [0], [1])], offsets=((square_offsets(3),),))) == 3
    # Corner to corner of three cells: 2.83.
    for distance, side in ((1.0, 1), (1.5, 2), (2.8, 2), (2.9, 3)):
        instance = plate(9, 9, [net("a", [0], [1])], offsets=((disc_offsets(distance),),))
        assert window_side(instance) == side


def test_costs_that_are_not_whole_have_no_granularity():
    instance = plate(9, 9, [net("a", [0], [1])])
    assert find_granularity(replace(instance, rates=Rates(10.0, 25.0))) == 5.0
    assert find_granularity(replace(instance, rates=Rates(10.0, 2.5))) == 0.0


def test_clashing_traces_break_the_rows_that_they_get():
    instance = plate(7, 7, [net("a", [21], [27]), net("b", [3], [45])])
    search = Negotiation(instance)
    traces = tuple(search.route_alone(n) for n in range(2))
    fixed, keep = everything(instance)
    choices = list_choices(instance, fixed, keep)
    rows = find_clash_rows(instance, choices, traces)
    # They cross in one cell: one row, over every way of both into it.
    assert len(rows.least) == 1
    assert set(choices.net[rows.choice]) == {0, 1}
    assert set(choices.state[rows.choice] >> 2) == {24}
