"""Label searches against networkx on the graph of states and labels; choices against all combinations."""

from __future__ import annotations

from itertools import count, product

import networkx
import numpy as np
import pytest
from sample_grids import make_arcs, make_grid

from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.bound.bounding import Bounding
from layouts.routing.bound.choose_labels import choose_labels
from layouts.routing.bound.distances import FAR, find_kept
from layouts.routing.bound.labels import LabelSearch, look_ahead


def graph_of(seed, make):
    """Return the graph of the first net with a curve to cross, of this seed's instance or one after it."""
    for more in count():
        instance = make(seed + 100 * more)
        bounding = Bounding(instance, Negotiation(instance), 8, 100_000)
        for graph in bounding.whole:
            if graph.flips.any():
                return graph
    raise AssertionError("there is always one")


def label_costs(graph, weight, mask):
    """Return the cheapest cost of each label at the sink by networkx."""
    wide = networkx.DiGraph()
    words = sorted({int(w) & mask for w in graph.flips})
    reach = {0}
    while True:
        more = {a ^ b for a in reach for b in words} | reach
        if more == reach:
            break
        reach = more
    tails = np.repeat(np.arange(graph.nodes), np.diff(graph.first))
    for tail, head, cost, flips in zip(tails, graph.head, weight, graph.flips, strict=True):
        for word in reach:
            a, b = (int(tail), word), (int(head), word ^ (int(flips) & mask))
            if not wide.has_edge(a, b) or wide[a][b]["weight"] > cost:
                wide.add_edge(a, b, weight=float(cost))
    if (graph.source, 0) not in wide:
        return {}
    found = networkx.single_source_dijkstra_path_length(wide, (graph.source, 0))
    return {word: found[graph.sink, word] for word in reach if (graph.sink, word) in found}


@pytest.mark.published(source="networkx: single_source_dijkstra_path_length on states with labels")
@pytest.mark.parametrize("make", [make_grid, make_arcs], ids=["cells", "arcs"])
@pytest.mark.parametrize("seed", range(4))
def test_every_label_has_its_cheapest_way(seed, make):
    graph = graph_of(seed, make)
    mask = int(np.bitwise_or.reduce(graph.flips)) & 0b1111
    rng = np.random.default_rng(seed)
    weight = graph.cost + rng.integers(0, 5, len(graph.cost))
    expected = label_costs(graph, weight, mask)
    search = LabelSearch()
    search.begin(graph, weight, look_ahead(graph, weight, 0, 0, []), mask, FAR / 2, 10**6)
    while search.frontier < FAR / 2:
        before = search.frontier
        search.extend(before + 7)
        assert all(cost <= before + 7 for cost in search.costs)
    found = dict(zip(search.words.tolist(), search.costs.tolist(), strict=True))
    assert found == expected
    for number in range(len(search.words)):
        arcs = search.arcs_of(number)
        assert weight[arcs].sum() == pytest.approx(search.costs[number])
        assert int(np.bitwise_xor.reduce(graph.flips[arcs])) & mask == search.words[number]


@pytest.mark.parametrize("seed", range(6))
def test_known_bits_leave_the_cost_of_their_labels_alone(seed):
    graph = graph_of(seed, make_grid)
    mask = int(np.bitwise_or.reduce(graph.flips))
    plain, known = LabelSearch(), LabelSearch()
    plain.begin(graph, graph.cost, look_ahead(graph, graph.cost, 0, 0, []), mask, FAR / 2, 10**6)
    plain.extend(FAR / 2)
    bit = mask.bit_length() - 1
    for value in (0, 1):
        ahead = look_ahead(graph, graph.cost, 1 << bit, value << bit, [bit])
        known.begin(graph, graph.cost, ahead, mask, FAR / 2, 10**6)
        known.extend(FAR / 2)
        wanted = {
            word: cost
            for word, cost in zip(plain.words.tolist(), plain.costs.tolist(), strict=True)
            if word >> bit & 1 == value
        }
        assert dict(zip(known.words.tolist(), known.costs.tolist(), strict=True)) == wanted
        assert known.opened <= plain.opened


def test_arcs_of_ways_within_the_limit_are_kept():
    graph = graph_of(0, make_grid)
    weight = graph.cost
    ahead = look_ahead(graph, weight, 0, 0, [])
    search = LabelSearch()
    search.begin(graph, weight, ahead, int(np.bitwise_or.reduce(graph.flips)), FAR / 2, 10**6)
    search.extend(FAR / 2)
    none = np.empty((0, 2, graph.nodes))
    for number in range(len(search.words)):
        limit = float(search.costs[number])
        kept = find_kept(
            graph.first, graph.head, weight, graph.flips, graph.distances_from(weight), ahead.plain,
            ahead.bits, 0, none, none, limit,
        )  # fmt: skip
        assert kept[search.arcs_of(number)].all()
        assert graph.keep(kept).distances(weight[kept])[-2] == ahead.plain[graph.source]


@pytest.mark.parametrize("seed", range(60))
def test_the_cheapest_choice_is_that_of_all_combinations(seed):
    rng = np.random.default_rng(seed)
    count = 4
    words, costs = [], []
    for _ in range(count):
        size = int(rng.integers(1, 9))
        words.append(rng.permutation(1 << count)[:size].astype(np.int64))
        costs.append(np.sort(rng.integers(0, 30, size)).astype(float))
    frontier = np.array([c[-1] + rng.integers(0, 10) if rng.random() < 0.4 else FAR for c in costs])
    pairs = np.array([(i, j, rng.integers(2)) for i in range(count) for j in range(i)], np.int64)
    best = FAR
    for choice in product(*(range(-1, len(w)) for w in words)):
        agree = all(
            choice[i] < 0
            or choice[j] < 0
            or (words[i][choice[i]] >> j ^ words[j][choice[j]] >> i) & 1 == parity
            for i, j, parity in pairs
        )
        if agree:
            best = min(best, sum(costs[n][c] if c >= 0 else frontier[n] for n, c in enumerate(choice)))
    found = choose_labels(words, costs, frontier, pairs, 10**5)
    assert min(found.value, FAR) == min(best, FAR)
    cut = choose_labels(words, costs, frontier, pairs, 2)
    assert cut.value <= found.value
