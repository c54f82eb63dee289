"""Floods over voxels against networkx, which knows no flood: minimum spanning trees and plain connectedness."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.wet.flooding import NEVER, SLICES, climb, climb_ways, pour_order
from geom.wet.links import Links, join_links
from geom.wet.pieces import label_pieces, measure_pieces
from geom.wet.voxels import SIDES, WetVoxels, voxels_of_mask

SPANNING = "Hu 1961, The maximum capacity route problem, Operations Research 9:898: on a spanning tree; networkx's tree"


class Case:
    """A random lump of voxels with whole heights, seeds, and links that may lie lower or higher than all of them."""

    def __init__(self, number: int, links: int = 2) -> None:
        chance = np.random.default_rng(number)
        shape = tuple(chance.integers(1, 7, 3))
        mask = chance.random(shape) < chance.uniform(0.4, 1.0)
        mask[0, 0, 0] = True
        self.voxels = voxels_of_mask(mask, 1.0)
        count = self.voxels.count
        self.heights = chance.integers(0, chance.integers(2, 30), count).astype(np.float32)
        self.seeds = chance.choice(count, chance.integers(1, min(4, count + 1)), replace=False)
        mixed = chance.permutation(count)
        groups = [mixed[3 * k : 3 * k + 3] for k in range(links) if 3 * k + 3 <= count]
        self.links = join_links(count, groups, [float(chance.integers(-3, 40)) for _ in groups])
        self.chance = chance


def graph_of(voxels: WetVoxels, heights: np.ndarray, links: Links) -> nx.Graph:
    """Return voxels by their places and links, all with their heights."""
    graph = nx.Graph()
    number = {tuple(cell): v for v, cell in enumerate(voxels.cells.tolist())}
    for cell, v in number.items():
        graph.add_node(v, height=float(heights[v]))
        for step in SIDES[1::2]:
            beside = number.get(tuple(a + b for a, b in zip(cell, step, strict=True)))
            if beside is not None:
                graph.add_edge(v, beside)
    for k, height in enumerate(links.heights.tolist()):
        graph.add_node(voxels.count + k, height=height)
        for v in links.members[links.starts[k] : links.starts[k + 1]].tolist():
            graph.add_edge(v, voxels.count + k)
    return graph


def climb_by_tree(graph: nx.Graph, seeds: np.ndarray, count: int) -> np.ndarray:
    """Return the least climb to each voxel: the highest place on the way along the minimum spanning tree."""
    tall = nx.Graph(graph)
    for v in seeds.tolist():
        tall.add_edge("start", v)
    height = nx.get_node_attributes(graph, "height") | {"start": -np.inf}
    for a, b in tall.edges:
        tall.edges[a, b]["weight"] = max(height[a], height[b])
    tree = nx.minimum_spanning_tree(tall)
    levels = {"start": -np.inf}
    for a, b in nx.bfs_edges(tree, "start"):
        levels[b] = max(levels[a], height[b])
    return np.array([levels.get(v, NEVER) for v in range(count)], np.float32)


@pytest.mark.published(source=SPANNING)
@settings(max_examples=60, deadline=None)
@given(number=st.integers(0, 2**32))
def test_climb_is_the_minimax_way(number: int) -> None:
    case = Case(number)
    graph = graph_of(case.voxels, case.heights, case.links)
    levels = climb(case.voxels, case.heights, case.seeds, case.links)
    assert np.array_equal(levels, climb_by_tree(graph, case.seeds, case.voxels.count))


@pytest.mark.published(source=SPANNING)
@settings(max_examples=20, deadline=None)
@given(number=st.integers(0, 2**32))
def test_climb_of_any_heights_is_right_to_a_slice(number: int) -> None:
    case = Case(number)
    heights = case.chance.normal(0.0, 50.0, case.voxels.count).astype(np.float32)
    levels = climb(case.voxels, heights, case.seeds, case.links)
    right = climb_by_tree(graph_of(case.voxels, heights, case.links), case.seeds, case.voxels.count)
    slice_mm = np.ptp(heights) / (SLICES - 1)
    assert np.abs(levels - right).max() <= 1.01 * slice_mm + 1e-5
    assert (levels >= heights).all()


@settings(max_examples=60, deadline=None)
@given(number=st.integers(0, 2**32))
def test_saddle_and_exit_lie_on_a_way_no_higher_than_the_level(number: int) -> None:
    case = Case(number)
    count = case.voxels.count
    levels, saddles, exits = climb_ways(case.voxels, case.heights, case.seeds, case.links)
    stands = np.concatenate((case.heights, case.links.heights))
    reached = levels < NEVER
    assert np.array_equal(stands[saddles[reached]], levels[reached])
    assert np.isin(exits[reached], case.seeds).all()
    assert (saddles[~reached] == -1).all()
    assert (exits[~reached] == -1).all()
    assert np.array_equal(saddles == np.arange(count), reached & (levels == case.heights))
    graph = graph_of(case.voxels, case.heights, case.links)
    for level in np.unique(levels[reached]).tolist():
        low = graph.subgraph(np.flatnonzero(stands <= level).tolist())
        part = {v: k for k, nodes in enumerate(nx.connected_components(low)) for v in nodes}
        for v in np.flatnonzero(levels == level).tolist():
            assert part[v] == part[int(saddles[v])] == part[int(exits[v])]


def test_of_ways_as_good_as_each_other_the_nearest_end_is_told() -> None:
    voxels = voxels_of_mask(np.ones((11, 1, 3), bool), 1.0)
    heights = voxels.elevations((0.0, 0.0, 1.0))
    ends = np.flatnonzero((voxels.cells[:, 2] == 1) & np.isin(voxels.cells[:, 0], (0, 10)))
    _, _, exits = climb_ways(voxels, heights, ends, join_links(voxels.count, (), ()))
    level = voxels.cells[:, 2] == 1
    far = np.abs(voxels.cells[level, 0] - voxels.cells[exits[level], 0])
    assert far.max() == 5


@settings(max_examples=40, deadline=None)
@given(number=st.integers(0, 2**32))
def test_one_more_vent_never_leaves_more(number: int) -> None:
    case = Case(number)
    more = np.append(case.seeds, case.chance.integers(case.voxels.count))
    few = climb(case.voxels, case.heights, case.seeds, case.links)
    assert (climb(case.voxels, case.heights, more, case.links) <= few).all()


@settings(max_examples=40, deadline=None)
@given(number=st.integers(0, 2**32))
def test_each_voxel_poured_is_the_lowest_that_coolant_touches(number: int) -> None:
    case = Case(number)
    graph = graph_of(case.voxels, case.heights, case.links)
    stands = np.concatenate((case.heights, case.links.heights))
    touched, filled = set(case.seeds.tolist()), set()
    for v in pour_order(case.voxels, case.heights, case.seeds, case.links).tolist():
        assert v in touched
        assert stands[v] == min(stands[u] for u in touched)
        filled.add(v)
        touched = (touched | set(graph[v])) - filled
    assert not touched


@settings(max_examples=40, deadline=None)
@given(number=st.integers(0, 2**32))
def test_pieces_are_the_connected_ones(number: int) -> None:
    case = Case(number, links=0)
    mask = case.heights > np.median(case.heights)
    levels = case.heights + case.chance.integers(1, 9, case.voxels.count).astype(np.float32)
    labels = label_pieces(case.voxels, mask)
    pieces = measure_pieces(case.voxels, labels, case.heights, levels)
    graph = graph_of(case.voxels, case.heights, case.links).subgraph(np.flatnonzero(mask).tolist())
    right = sorted((sorted(part) for part in nx.connected_components(graph)), key=min)
    assert [np.flatnonzero(labels == k).tolist() for k in range(len(right))] == right
    assert (labels[~mask] == -1).all()
    assert pieces.counts.tolist() == [len(part) for part in right]
    assert pieces.depths.tolist() == [(levels - case.heights)[part].max() for part in right]
    assert [case.heights[v] for v in pieces.deepest] == [case.heights[part].min() for part in right]


def test_the_deepest_voxel_of_a_level_floor_is_its_middle() -> None:
    voxels = voxels_of_mask(np.ones((9, 5, 2), bool), 0.5)
    heights = voxels.elevations((0.0, 0.0, 1.0))
    labels = label_pieces(voxels, np.ones(voxels.count, bool))
    pieces = measure_pieces(voxels, labels, heights, heights + np.float32(1.0))
    assert voxels.cells[pieces.deepest[0]].tolist() == [4, 2, 0]


def test_a_link_is_a_way_over_its_own_height() -> None:
    mask = np.zeros((5, 1, 4), bool)
    mask[:2], mask[3:] = True, True
    voxels = voxels_of_mask(mask, 1.0)
    heights = voxels.elevations((0.0, 0.0, 1.0))
    left, right = np.flatnonzero(voxels.cells[:, 0] == 0), np.flatnonzero(voxels.cells[:, 0] == 4)
    ends = [np.array([left[2]]), np.array([right[1]])]
    exit_voxel = left[:1]
    for over, level in ((1.0, 2.5), (3.0, 3.0), (1e9, 1e9)):
        links = join_links(voxels.count, [np.concatenate(ends)], [over])
        levels, saddles, _ = climb_ways(voxels, heights, exit_voxel, links)
        assert levels[right[0]] == np.float32(level)
        assert saddles[right[0]] == (voxels.count if over > 2.5 else ends[0][0])
    alone = climb(voxels, heights, exit_voxel, join_links(voxels.count, (), ()))
    assert (alone[right] == NEVER).all()


@settings(max_examples=30, deadline=None)
@given(number=st.integers(0, 2**32))
def test_neighbours_are_those_beside(number: int) -> None:
    voxels = Case(number).voxels
    places = {tuple(cell): v for v, cell in enumerate(voxels.cells.tolist())}
    assert list(places) == sorted(places)
    for cell, v in places.items():
        right = [places.get(tuple(a + b for a, b in zip(cell, step, strict=True)), -1) for step in SIDES]
        assert voxels.beside[v].tolist() == right


def test_nothing_wet_is_no_error() -> None:
    voxels = voxels_of_mask(np.zeros((3, 2, 2), bool), 1.0)
    nothing = np.empty(0, np.float32)
    links = join_links(0, (), ())
    assert climb(voxels, nothing, np.empty(0, int), links).shape == (0,)
    assert pour_order(voxels, nothing, np.empty(0, int), links).shape == (0,)
