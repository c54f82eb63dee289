"""All channels together: against brute force on small grids, and against the best costs known."""

import itertools
import json
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_search import BEND, STEP, net, plain_instance

from layouts.routing.__main__ import main
from layouts.routing.instance import read_instance
from layouts.routing.negotiate import route_instance

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
