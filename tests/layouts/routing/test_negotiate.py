"""All channels together: against brute force on small grids, and against the best costs known."""

import itertools
import json
from dataclasses import replace
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_search import BEND, STEP, net, plain_instance

from layouts.routing.__main__ import main
from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.all_channels.route_instance import improve_traces, route_instance
from layouts.routing.effort import THOROUGH
from layouts.routing.instance import Instance, Net, Rates, Terminal, disc_offsets, read_instance
from layouts.routing.one_channel.runs import find_return

INSTANCES = Path(__file__).parent / "instances"


def all_paths(columns, rows, blocked, start, end):
    """Yield (cost, cells) of every simple path between two cells."""
    graph = nx.grid_2d_graph(columns, rows)
    graph.remove_nodes_from([(c % columns, c // columns) for c in blocked])
    a, b = (start % columns, start // columns), (end % columns, end // columns)
    for path in nx.all_simple_paths(graph, a, b):
        moves = [(q[0] - p[0], q[1] - p[1]) for p, q in itertools.pairwise(path)]
        bends = sum(one != two for one, two in itertools.pairwise(moves))
        yield STEP * len(moves) + BEND * bends, frozenset(y * columns + x for x, y in path)


def brute_force(columns, rows, blocked, pairs):
    """Return the least total cost of disjoint paths for all pairs, None where there are none."""
    options = []
    for n, (a, b) in enumerate(pairs):
        others = {c for m, pair in enumerate(pairs) if m != n for c in pair}
        options.append(sorted(all_paths(columns, rows, blocked | others, a, b), key=lambda p: p[0]))
    best = None
    for first in options[0]:
        if best is not None and first[0] >= best:
            break
        for second in options[1]:
            if best is not None and first[0] + second[0] >= best:
                break
            if not first[1] & second[1]:
                best = first[0] + second[0]
                break
    return best


@pytest.mark.published(source="networkx, all simple paths: brute force over every pair of disjoint paths")
@settings(max_examples=25, deadline=None)
@given(st.data())
def test_two_channels_never_beat_brute_force_and_nearly_always_reach_it(data):
    columns, rows = 4, 4
    cells = data.draw(st.permutations(range(16)))
    pairs = [(cells[0], cells[1]), (cells[2], cells[3])]
    blocked = set(cells[4 : 4 + data.draw(st.integers(0, 3))])
    best = brute_force(columns, rows, blocked, pairs)
    instance = plain_instance(
        columns, rows, blocked, [net(str(n), [a], [b]) for n, (a, b) in enumerate(pairs)]
    )
    routing = route_instance(instance)
    if best is None:
        assert not routing.traces
    elif routing.traces:
        assert best <= routing.cost <= 1.5 * best
        assert routing.bound is not None
        assert routing.bound <= best
        assert not set(routing.traces[0].path) & set(routing.traces[1].path)


@pytest.mark.parametrize("seed", range(12))
def test_small_instances_are_solved_to_the_brute_force_optimum(seed):
    rng = np.random.default_rng(seed)
    cells = [int(c) for c in rng.permutation(20)]
    pairs = [(cells[0], cells[1]), (cells[2], cells[3])]
    blocked = set(cells[4:7])
    best = brute_force(5, 4, blocked, pairs)
    instance = plain_instance(5, 4, blocked, [net(str(n), [a], [b]) for n, (a, b) in enumerate(pairs)])
    routing = route_instance(instance)
    assert (best is None) == (not routing.traces)
    if best is not None:
        assert routing.cost == best


def test_40x40_with_6_channels_all_routed_within_3_percent_of_the_best_known():
    excess = []
    for path in sorted(INSTANCES.glob("40x40-6nets-s1-[0-9][0-9].json")):
        known = json.loads(path.read_text())["best_known"]
        routing = route_instance(read_instance(path))
        assert routing.traces, path.name
        excess.append(routing.cost / known - 1)
        assert routing.cost >= json.loads(path.read_text())["proven_lower_bound"] - 1e-6
    assert len(excess) == 10
    assert sum(excess) / len(excess) <= 0.03


@pytest.mark.parametrize("name", ["100x100-12nets-s2-00", "40x40-10nets-s1-02", "60x80-8nets-s1-00"])
def test_routed_instances_keep_their_spacing_and_join_their_ends(name):
    data = json.loads((INSTANCES / f"{name}.json").read_text())
    instance = read_instance(INSTANCES / f"{name}.json")
    routing = route_instance(instance, steps=5)
    assert routing.traces
    columns, spacing = data["columns"], data["spacing"]
    blocked = {y * columns + x for x, y in data["blocked"]}
    places = [np.array([(c % columns, c // columns) for c in t.path]) for t in routing.traces]
    for trace, channel in zip(routing.traces, data["channels"], strict=True):
        assert not blocked & set(trace.path)
        for end in channel["ends"]:
            assert {y * columns + x for x, y in end} & set(trace.path)
    for a, b in itertools.combinations(places, 2):
        apart = np.abs(a[:, None, :] - b[None, :, :]).max(axis=2).min()
        assert apart >= spacing


def test_the_same_seed_gives_the_same_routing():
    instance = read_instance(INSTANCES / "40x40-10nets-s1-00.json")
    one, two = route_instance(instance, seed=3), route_instance(instance, seed=3)
    assert [t.path for t in one.traces] == [t.path for t in two.traces]


@pytest.mark.parametrize("name", ["40x40-6nets-s1-impossible-104", "40x40-6nets-s1-impossible-110"])
def test_impossible_instances_are_never_called_routed(name):
    routing = route_instance(read_instance(INSTANCES / f"{name}.json"))
    assert not routing.traces
    assert routing.conflicting


def test_a_channel_walled_in_is_impossible_and_named():
    # The cell 0 is shut in by its two neighbours.
    instance = plain_instance(5, 5, {1, 5}, [net("shut in", [0], [24]), net("free", [20], [22])])
    routing = route_instance(instance)
    assert routing.unreachable == (0,)
    assert routing.conflicting == ("shut in",)


def test_the_command_prints_one_solution(capsys):
    assert main([str(INSTANCES / "40x40-6nets-s1-02.json")]) == 0
    out = json.loads(capsys.readouterr().out)
    assert out["status"] == "routed"
    assert out["cost"] == 1050
    assert out["bound"] == 1050
    assert set(out) == {"status", "cost", "bound", "proof", "channels", "conflicting", "seconds"}
    assert out["channels"]["c0"][0][1] > out["channels"]["c0"][-1][1]


def random_instance(rng, layers, classes):
    """Return a small instance of nets with unlike widths, and the distances asked of each two classes."""
    columns, rows = 13, 11
    cells = layers * columns * rows
    widths = rng.integers(1, 4, size=classes) / 2
    apart = [[a + b for b in widths] for a in widths]
    blocked = np.zeros((classes, cells), dtype=bool)
    blocked[:, rng.random(cells) < 0.06] = True
    places = [int(c) for c in rng.permutation(np.flatnonzero(~blocked[0]))]
    nets = []
    for n in range(4):
        ends = tuple(tuple(Terminal(cell=places.pop(), node=-1) for _ in range(k)) for k in (1, 2))
        ends = tuple(tuple(replace(t, node=t.cell) for t in end) for end in ends)
        nets.append(Net(str(n), ends, channel_class=int(rng.integers(classes))))
    offsets = tuple(tuple(disc_offsets(d) for d in row) for row in apart)
    rates = Rates(STEP, BEND, through=25.0)
    return Instance(columns, rows, tuple(nets), blocked, offsets, rates, layers=layers), apart


def nearest(instance, one, two):
    """Return the least straight-line distance in cells between two traces within a layer."""
    columns, plane = instance.columns, instance.columns * instance.rows
    places = [
        np.array([(c % columns, c % plane // columns, 100 * (c // plane)) for c in trace.path])
        for trace in (one, two)
    ]
    return float(np.sqrt(((places[0][:, None] - places[1][None, :]) ** 2).sum(axis=2)).min())


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 2), st.integers(1, 3))
def test_channels_of_unlike_width_keep_the_distance_that_their_widths_ask(seed, layers, classes):
    instance, apart = random_instance(np.random.default_rng(seed), layers, classes)
    routing = route_instance(instance, steps=10, restarts=2)
    for trace, own in zip(routing.traces, instance.nets, strict=False):
        assert not instance.blocked[own.channel_class, list(trace.path)].any()
        assert trace.chosen[0] in own.ends[0]
        assert trace.chosen[1] in own.ends[1]
        assert {trace.path[0], trace.path[-1]} == {t.cell for t in trace.chosen}
        assert not find_return(instance, *trace.runs, channel_class=own.channel_class)
    pairs = itertools.combinations(zip(routing.traces, instance.nets, strict=False), 2)
    for (one, a), (two, b) in pairs:
        assert nearest(instance, one, two) >= apart[a.channel_class][b.channel_class] - 1e-9
    if routing.traces:
        assert routing.bound is not None
        assert routing.bound <= routing.cost + 1e-6


def test_a_second_layer_lets_channels_cross():
    # A cross of two straight channels, each from wall to wall: only one can keep to the first layer.
    ends = [([20], [24]), ([2], [42])]
    flat = plain_instance(5, 9, (), [net(str(n), *pair) for n, pair in enumerate(ends)])
    walls = set(range(45)) - set(range(20, 25)) - set(range(2, 45, 5))
    one = replace(flat, blocked=np.isin(np.arange(45), list(walls))[None])
    assert not route_instance(one).traces
    two = replace(one, blocked=np.tile(one.blocked, (1, 2)), layers=2, rates=Rates(STEP, BEND, through=30.0))
    routing = route_instance(two)
    # 4 + 8 steps; one of the two goes through and back.
    assert routing.cost == 12 * STEP + 2 * 30.0
    assert sorted(len(trace.holes) for trace in routing.traces) == [0, 2]


def test_further_steps_never_make_a_routing_dearer_and_the_same_seed_gives_the_same():
    instance = read_instance(INSTANCES / "40x40-6nets-s1-12.json")
    known = json.loads((INSTANCES / "40x40-6nets-s1-12.json").read_text())["best_known"]
    first = route_instance(instance, steps=0)
    costs = [first.cost]
    for steps in (5, 60, 400):
        traces = improve_traces(instance, first.traces, 7, steps)
        assert [t.path for t in traces] == [t.path for t in improve_traces(instance, first.traces, 7, steps)]
        costs.append(sum(trace.cost for trace in traces))
    assert costs == sorted(costs, reverse=True)
    assert costs[-1] <= known


def test_what_is_taken_is_given_back():
    instance = read_instance(INSTANCES / "40x40-10nets-s1-00.json")
    search = Negotiation(instance)
    nets = list(range(len(instance.nets)))
    for n in nets:
        search.route_alone(n)
    assert not search.negotiate(nets, 0.5, 1.6, 50, None)
    search.improve_each(nets)
    for n in nets:
        search.put(n, None)
    assert not search.taken.any()


@pytest.mark.parametrize("name", ["40x40-10nets-s1-00", "44x44-12nets-s1-04"])
def test_many_steps_come_to_the_best_known(name):
    known = json.loads((INSTANCES / f"{name}.json").read_text())["best_known"]
    routing = route_instance(read_instance(INSTANCES / f"{name}.json"), steps=THOROUGH.group_steps)
    assert routing.cost <= known
