"""One path alone: against a general-purpose graph library on the same state graph."""

import itertools
from dataclasses import replace

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layouts.routing.instance import DX, DY, Instance, Net, Rates, Terminal, square_offsets
from layouts.routing.one_channel.runs import HOLE, GridRun, find_return
from layouts.routing.one_channel.trace import Tracer
from layouts.routing.one_channel.trail import arc_cells

STEP, BEND = 10.0, 20.0


def plain_instance(columns, rows, blocked, nets, spacing=1, **more):
    """Return an instance with one class of features."""
    cells = np.zeros((1, columns * rows), dtype=bool)
    cells[0, list(blocked)] = True
    return Instance(
        columns, rows, tuple(nets), cells, ((square_offsets(spacing),),), Rates(STEP, BEND), **more
    )


def net(name, *ends):
    """Return a net whose ends are lists of cells."""
    return Net(name, tuple(tuple(Terminal(cell=c, node=c) for c in end) for end in ends))


def state_graph(columns, rows, blocked):
    """Return the graph of (cell, axis) states: moves along the axis, bends between the axes."""
    graph = nx.Graph()
    free = [c for c in range(columns * rows) if c not in blocked]
    for c in free:
        graph.add_edge((c, "h"), (c, "v"), weight=BEND)
    for c in free:
        x, y = c % columns, c // columns
        if x + 1 < columns and c + 1 not in blocked:
            graph.add_edge((c, "h"), (c + 1, "h"), weight=STEP)
        if y + 1 < rows and c + columns not in blocked:
            graph.add_edge((c, "v"), (c + columns, "v"), weight=STEP)
    return graph


def library_cost(columns, rows, blocked, start, end):
    """Return the least cost between two cells by the library's Dijkstra, None where there is no way."""
    graph = state_graph(columns, rows, blocked)
    for axis in "hv":
        graph.add_edge("start", (start, axis), weight=0)
        graph.add_edge("end", (end, axis), weight=0)
    try:
        return nx.dijkstra_path_length(graph, "start", "end")
    except nx.NetworkXNoPath:
        return None


@pytest.mark.published(source="networkx, Dijkstra on the graph of (cell, axis) states")
@settings(max_examples=60, deadline=None)
@given(st.integers(2, 9), st.integers(2, 9), st.data())
def test_single_paths_are_as_cheap_as_the_librarys(columns, rows, data):
    cells = columns * rows
    blocked = data.draw(st.sets(st.integers(0, cells - 1), max_size=cells // 2))
    free = sorted(set(range(cells)) - blocked)
    if len(free) < 2:
        return
    start, end = data.draw(st.sampled_from(free)), data.draw(st.sampled_from(free))
    if start == end:
        return
    instance = plain_instance(columns, rows, blocked, [net("a", [start], [end])])
    trace = Tracer(instance).trace(instance.nets[0], instance.blocked, np.zeros(cells))
    expected = library_cost(columns, rows, blocked, start, end)
    if expected is None:
        assert trace is None
    else:
        assert trace is not None
        assert trace.cost == expected
        steps = itertools.pairwise(trace.path)
        assert all(b == a or b - a in (1, -1, columns, -columns) for a, b in steps)
        assert not blocked & set(trace.path)


def layered_graph(columns, rows, blocked, through):
    """Return the graph of (cell, axis) states of two layers joined by through holes."""
    plane = columns * rows
    graph = nx.Graph()
    for layer in range(2):
        part = state_graph(columns, rows, {c - layer * plane for c in blocked if c // plane == layer})
        graph.add_edges_from(
            ((a + layer * plane, one), (b + layer * plane, two), {"weight": weight})
            for (a, one), (b, two), weight in part.edges(data="weight")
        )
    for c in range(plane):
        if c not in blocked and c + plane not in blocked:
            for one, two in itertools.product("hv", repeat=2):
                graph.add_edge((c, one), (c + plane, two), weight=through)
    return graph


@pytest.mark.published(source="networkx, Dijkstra on the graph of (cell, axis) states of two layers")
@settings(max_examples=80, deadline=None)
@given(st.integers(2, 7), st.integers(2, 7), st.sampled_from([15.0, 60.0]), st.data())
def test_paths_through_both_layers_are_as_cheap_as_the_librarys(columns, rows, through, data):
    cells = 2 * columns * rows
    blocked = data.draw(st.sets(st.integers(0, cells - 1), max_size=cells // 2))
    free = sorted(set(range(cells)) - blocked)
    if len(free) < 2:
        return
    start, end = data.draw(st.sampled_from(free)), data.draw(st.sampled_from(free))
    if start == end:
        return
    ways = np.zeros((1, cells), dtype=bool)
    ways[0, list(blocked)] = True
    instance = replace(
        plain_instance(columns, rows, (), [net("a", [start], [end])]),
        blocked=ways,
        layers=2,
        rates=Rates(STEP, BEND, through=through),
    )
    trace = Tracer(instance).trace(instance.nets[0], instance.blocked, np.zeros(cells))
    graph = layered_graph(columns, rows, blocked, through)
    for axis in "hv":
        graph.add_edge("start", (start, axis), weight=0)
        graph.add_edge("end", (end, axis), weight=0)
    if not nx.has_path(graph, "start", "end"):
        assert trace is None
        return
    assert trace is not None
    assert trace.cost == nx.dijkstra_path_length(graph, "start", "end")
    assert not blocked & set(trace.path)
    plane = columns * rows
    steps = list(itertools.pairwise(trace.path))
    assert all(abs(b - a) in (1, columns, plane) for a, b in steps)
    # No step from the last row of one layer into the first of the other, none round a row's end.
    for a, b in steps:
        if abs(b - a) != plane:
            assert a // plane == b // plane
            assert abs(a % columns - b % columns) + abs(a // columns - b // columns) == 1
    holes = [min(a, b) for a, b in steps if abs(b - a) == plane]
    assert sorted(trace.holes) == sorted(holes)
    assert [run.layer for run in trace.runs] == [(start // plane + n) % 2 for n in range(len(holes) + 1)]
    ends = [(run.first == HOLE, run.last == HOLE) for run in trace.runs]
    assert ends == [(n > 0, n < len(holes)) for n in range(len(ends))]


@pytest.mark.parametrize(("radius", "cells"), [(2.8, 3), (1.0, 1), (14.0, 14)])
def test_arcs_stay_near_their_circle(radius, cells):
    instance = plain_instance(40, 40, (), [], bend_cells=cells, bend_radius_cells=radius)
    xs, ys = arc_cells(instance)
    # Direction +x, left turn: the corner is at (cells, 0), the arc's centre at (cells - r, r).
    for x, y in zip(xs[0], ys[0], strict=True):
        if x > cells - radius and y < radius:
            assert abs(np.hypot(x - (cells - radius), y - radius) - radius) <= 0.71
    assert (xs[0, -1], ys[0, -1]) == (cells, cells)
    for row in range(8):
        d, turn = divmod(row, 2)
        nd = (d + (1 if turn == 0 else 3)) % 4
        assert xs[row, -1] == cells * (DX[d] + DX[nd])
        assert ys[row, -1] == cells * (DY[d] + DY[nd])


def test_a_bend_keeps_its_straights_from_ends_and_other_bends():
    instance = plain_instance(12, 12, (), [net("a", [0], [12 * 5 + 7])], bend_cells=3, bend_radius_cells=2.8)
    trace = Tracer(instance).trace(instance.nets[0], instance.blocked, np.zeros(144))
    assert trace is not None
    corners = trace.runs[0].corners
    for (ax, ay), (bx, by) in itertools.pairwise(corners):
        assert abs(ax - bx) + abs(ay - by) >= 3
    inner = corners[1:-1]
    for (ax, ay), (bx, by) in itertools.pairwise(inner):
        assert abs(ax - bx) + abs(ay - by) >= 6


def test_a_tree_meets_its_trunk_at_right_angles_and_keeps_off_it():
    ends = ([12 * 6 + 1], [12 * 6 + 10], [12 * 1 + 5])
    instance = plain_instance(
        12, 12, (), [net("tree", *ends)], spacing=3, bend_cells=2, bend_radius_cells=1.5, tee_margin=2
    )
    trace = Tracer(instance).trace(instance.nets[0], instance.blocked, np.zeros(144))
    assert trace is not None
    assert len(trace.runs) == 2
    trunk, branch = trace.runs
    assert {trunk.corners[0], trunk.corners[-1]} == {(1, 6), (10, 6)}
    assert branch.corners[-1][1] == 6
    assert branch.corners[-2][0] == branch.corners[-1][0]


@settings(max_examples=30, deadline=None)
@given(st.data())
def test_priced_cells_are_avoided_when_the_way_round_is_cheaper(data):
    price = data.draw(st.floats(0, 200))
    instance = plain_instance(7, 5, (), [net("a", [14], [20])])
    prices = np.zeros(35)
    prices[17] = price
    trace = Tracer(instance).trace(instance.nets[0], instance.blocked, prices)
    assert trace is not None
    # Round the dear cell: two more steps and two bends, since the ends may be left in any direction.
    straight, detour = 60 + price, 60 + 20 + 2 * BEND
    if straight != detour:
        assert (17 in trace.path) == (straight < detour)


def test_the_queue_grows_and_never_overruns():
    # Prices that fall towards the goal make every state open many times before it is settled.
    rng = np.random.default_rng(3)
    columns = rows = 60
    instance = plain_instance(columns, rows, (), [net("a", [0], [columns * rows - 1])])
    prices = rng.random(columns * rows) * 1000
    trace = Tracer(instance).trace(instance.nets[0], instance.blocked, prices)
    graph = state_graph(columns, rows, set())
    priced = nx.DiGraph()
    for (a, one), (b, two), weight in graph.edges(data="weight"):
        priced.add_edge((a, one), (b, two), weight=weight + (prices[b] if a != b else 0))
        priced.add_edge((b, two), (a, one), weight=weight + (prices[a] if a != b else 0))
    for axis in "hv":
        priced.add_edge("start", (0, axis), weight=0)
        priced.add_edge((columns * rows - 1, axis), "end", weight=0)
    assert trace is not None
    paid = trace.cost + sum(prices[c] for c in set(trace.path) - {0})
    assert paid == pytest.approx(nx.dijkstra_path_length(priced, "start", "end"))


@pytest.mark.parametrize(
    ("step", "bend", "price"),
    [(-10.0, 20.0, 0.0), (10.0, -1.0, 0.0), (10.0, 20.0, -50.0), (np.nan, 1.0, 0.0)],
)
def test_costs_that_would_never_settle_are_refused(step, bend, price):
    instance = replace(plain_instance(20, 10, (), [net("a", [0], [99])]), rates=Rates(step, bend))
    with pytest.raises(ValueError, match="must not be negative"):
        Tracer(instance).trace(instance.nets[0], instance.blocked, np.full(200, price))


def entries(path, columns, rows, spacing):
    """Return how often a path enters the window of spacing x spacing cells that it enters most."""
    plane = columns * rows
    most = 0
    for layer in range(1 + max(path) // plane):
        for x in range(1 - spacing, columns):
            for y in range(1 - spacing, rows):
                inside = [
                    c // plane == layer
                    and x <= c % columns < x + spacing
                    and y <= c % plane // columns < y + spacing
                    for c in path
                ]
                most = max(most, inside[0] + sum(b and not a for a, b in itertools.pairwise(inside)))
    return most


@settings(max_examples=150, deadline=None)
@given(st.integers(1, 3), st.integers(1, 2), st.data())
def test_a_path_keeps_off_itself_where_it_enters_every_window_once(spacing, layers, data):
    columns = rows = 6
    cells = [data.draw(st.integers(0, layers * 36 - 1))]
    for _ in range(data.draw(st.integers(1, 14))):
        last = cells[-1]
        x, y, base = last % 6, last % 36 // 6, last - last % 36
        near = [
            base + (y + b) * 6 + x + a
            for a, b in ((1, 0), (0, 1), (-1, 0), (0, -1))
            if 0 <= x + a < 6 and 0 <= y + b < 6
        ]
        if layers == 2:
            near.append(36 - base + last % 36)
        free = [c for c in near if c not in cells]
        if not free:
            break
        cells.append(data.draw(st.sampled_from(free)))
    if len(cells) < 2:
        return
    instance = replace(
        plain_instance(columns, rows, (), [], spacing=spacing),
        blocked=np.zeros((1, layers * 36), dtype=bool),
        layers=layers,
    )
    runs, first = [], 0
    for n in range(1, len(cells) + 1):
        if n == len(cells) or cells[n] // 36 != cells[first] // 36:
            corners = tuple((c % 6, c % 36 // 6) for c in cells[first:n])
            runs.append(GridRun(corners, 0, 1, (), cells[first] // 36))
            first = n
    assert bool(find_return(instance, *runs)) == (entries(cells, columns, rows, spacing) > 1)


@settings(max_examples=40, deadline=None)
@given(st.integers(2, 3), st.data())
def test_found_paths_enter_every_window_once(spacing, data):
    columns = rows = 9
    blocked = data.draw(st.sets(st.integers(0, 80), max_size=30))
    free = sorted(set(range(81)) - blocked)
    start, end = data.draw(st.sampled_from(free)), data.draw(st.sampled_from(free))
    if start == end:
        return
    instance = plain_instance(columns, rows, blocked, [net("a", [start], [end])], spacing=spacing)
    tracer = Tracer(instance)
    trace = tracer.trace(instance.nets[0], instance.blocked, np.zeros(81))
    expected = library_cost(columns, rows, blocked, start, end)
    if trace is not None:
        assert entries(list(trace.path), columns, rows, spacing) == 1
        assert trace.cost >= expected
        assert tracer.narrowed or trace.cost == expected
    # What the path costs if it need not keep off itself bounds what it costs.
    assert tracer.least == (np.inf if expected is None else expected)
