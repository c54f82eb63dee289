"""Gaps too narrow: against hand counts, the library's flow, and verdicts of another method."""

from pathlib import Path

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from oracle import least_cost
from test_search import net, plain_instance

from layouts.routing.instance import disc_offsets, read_instance
from layouts.routing.reasons.flow_graph import count_ways, gather_pieces, link_pieces, measure_steps
from layouts.routing.reasons.narrow import _tile_shapes, find_narrow, split_chains

INSTANCES = Path(__file__).parent / "instances"
SIDE = 20


def walled(gap, channels, spacing, layers=1):
    """Return channels that cross a wall with one gap, every other one named from the far side, and one beside it."""
    blocked = [row * SIDE + 10 for row in range(SIDE) if not 6 <= row < 6 + gap]
    blocked += [cell + SIDE * SIDE for cell in blocked] if layers == 2 else []
    nets = []
    for number in range(channels):
        row = 3 * number + 2
        ends = [[row * SIDE + 1], [row * SIDE + 18]]
        nets.append(net(f"c{number}", *(ends if number % 2 else ends[::-1])))
    nets.append(net("beside", [15 * SIDE + 2], [17 * SIDE + 2]))
    cells = np.zeros((1, layers * SIDE * SIDE), dtype=bool)
    instance = plain_instance(SIDE, SIDE, [], nets, spacing, layers=layers)
    cells[0, blocked] = True
    object.__setattr__(instance, "blocked", cells)
    return instance


@pytest.mark.parametrize("spacing", [1, 2, 3])
@pytest.mark.parametrize("channels", [2, 3])
@pytest.mark.parametrize("gap", range(1, 8))
def test_a_gap_is_found_exactly_where_the_channels_do_not_fit_side_by_side(spacing, channels, gap):
    # k channels D apart take (k - 1) D + 1 cells.
    needed = (channels - 1) * spacing + 1
    found = find_narrow(walled(gap, channels, spacing))
    if gap >= needed:
        assert found is None
        return
    assert found is not None
    assert found.nets == tuple(range(channels))
    assert found.fit == (gap - 1) // spacing + 1
    assert found.lacking_cells == needed - gap
    assert len(found.cells) == gap
    assert {6 <= cell // SIDE < 6 + gap for cell in found.cells} == {True}


def test_two_gaps_count_together():
    instance = walled(1, 3, 1)
    instance.blocked[0, 14 * SIDE + 10] = False
    found = find_narrow(instance)
    assert found is not None
    assert found.fit == 2
    # In the gaps, or the one cell before them.
    assert [divmod(cell, SIDE) for cell in found.cells] in ([(6, x), (14, x)] for x in (9, 10, 11))
    assert len(split_chains(instance, found.cells)) == 2
    instance.blocked[0, 18 * SIDE + 10] = False
    assert find_narrow(instance) is None


def test_a_second_layer_doubles_a_gap():
    assert find_narrow(walled(1, 2, 1, layers=2)) is None
    found = find_narrow(walled(1, 3, 1, layers=2))
    assert found is not None
    assert (len(found.nets), found.fit) == (3, 2)


def test_a_single_net_has_no_gap():
    assert find_narrow(plain_instance(4, 4, [], [net("a", [0], [15])])) is None


def test_tiles_are_cliques_and_as_long_as_the_distance():
    square = plain_instance(5, 5, [], [net("a", [0], [3]), net("b", [5], [8])], 3)
    assert _tile_shapes(square) == ((3, 1), (3, 3))
    object.__setattr__(square, "offsets", ((disc_offsets(3.8),),))
    shapes = _tile_shapes(square)
    assert (4, 1) in shapes
    assert max(high for _, high in shapes) == 4
    for wide, high in shapes:
        assert np.hypot(wide - 1, high - 1) < 3.8


@pytest.mark.published(source="networkx, maximum flow with unit node capacities")
@settings(max_examples=60, deadline=None)
@given(st.data())
def test_ways_without_a_common_piece_are_as_many_as_the_librarys_flow(data):
    side = 6
    cells = data.draw(st.permutations(range(side * side)))
    walls = cells[: data.draw(st.integers(0, 14))]
    count = data.draw(st.integers(1, 4))
    tile = data.draw(st.sampled_from([(1, 1, 0, 0), (2, 2, 0, 0), (2, 2, 1, 1), (3, 1, 2, 0), (1, 2, 0, 1)]))
    free = np.ones(side * side, dtype=bool)
    free[list(walls)] = False
    rest = [c for c in cells if free[c]]
    firsts, lasts = rest[:count], rest[count : 2 * count]
    piece = np.empty(side * side, np.int64)
    pieces = gather_pieces(side, side, free, *tile, piece)
    numbers = np.arange(count)
    start, heads = link_pieces(
        side, side, piece, pieces, piece[firsts], numbers, piece[lasts], numbers, count
    )
    ways, parts = count_ways(start, heads, pieces, pieces + count)

    graph = nx.DiGraph()
    for n in range(pieces):
        graph.add_edge((n, "in"), (n, "out"), capacity=1)
    for c in range(side * side):
        for other in ([c + 1] if c % side + 1 < side else []) + (
            [c + side] if c + side < side * side else []
        ):
            if free[c] and free[other] and piece[c] != piece[other]:
                graph.add_edge((int(piece[c]), "out"), (int(piece[other]), "in"))
                graph.add_edge((int(piece[other]), "out"), (int(piece[c]), "in"))
    for k in range(count):
        graph.add_edge("s", ("first", k), capacity=1)
        graph.add_edge(("first", k), (int(piece[firsts[k]]), "in"))
        graph.add_edge((int(piece[lasts[k]]), "out"), ("last", k))
        graph.add_edge(("last", k), "t", capacity=1)
    assert ways == nx.maximum_flow_value(graph, "s", "t")
    # The cut is no larger than the flow, and parts before from behind.
    used_starts = sum(parts[pieces + k] == 0 for k in range(count))
    goals = sum(parts[pieces + count + k] == 1 for k in range(count))
    assert used_starts + goals + int((parts[:pieces] == 1).sum()) == ways


@pytest.mark.published(
    source="ortools, CP-SAT model of the whole problem: no routing where a gap is reported"
)
@pytest.mark.parametrize("spacing", [1, 2])
def test_what_is_called_too_narrow_cannot_be_routed(spacing):
    rng = np.random.default_rng(7)
    reported = 0
    for _ in range(60):
        side = 7 if spacing == 1 else 8
        cells = [int(c) for c in rng.permutation(side * side)]
        ends, blocked = cells[:6], cells[6 : 6 + int(rng.integers(8, 22))]
        nets = [net(str(k), [ends[2 * k]], [ends[2 * k + 1]]) for k in range(3)]
        instance = plain_instance(side, side, blocked, nets, spacing)
        free = ~instance.blocked[0]
        joined = all(
            measure_steps(side, side, free, np.array([ends[2 * k]]))[ends[2 * k + 1]] < side * side
            for k in range(3)
        )
        if joined and find_narrow(instance) is not None:
            reported += 1
            assert least_cost(instance, spacing) is None
    assert reported >= 5


@pytest.mark.parametrize("path", sorted(INSTANCES.glob("*.json")), ids=lambda path: path.stem)
def test_no_gap_is_reported_in_instances_that_are_routed_or_fail_for_another_reason(path):
    assert find_narrow(read_instance(path)) is None


@pytest.mark.published(source="networkx, breadth-first search")
def test_least_steps_are_the_librarys():
    rng = np.random.default_rng(1)
    free = rng.random(90) > 0.3
    free[0] = True
    graph = nx.grid_2d_graph(9, 10)
    graph.remove_nodes_from([(c // 10, c % 10) for c in range(90) if not free[c]])
    away = measure_steps(10, 9, free, np.array([0]))
    lengths = nx.single_source_shortest_path_length(graph, (0, 0))
    assert all(away[c] == lengths.get((c // 10, c % 10), 90) for c in range(90) if free[c])
