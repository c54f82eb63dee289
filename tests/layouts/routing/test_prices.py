"""Windows and what steps pay for them."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from sample_grids import make_arcs, make_grid

from layouts.routing.bounding import Bounding
from layouts.routing.instance import Instance
from layouts.routing.negotiate import Negotiation, route_instance
from layouts.routing.prices import Windows


def list_windows(instance: Instance, windows: Windows) -> dict[int, set[int]]:
    """Return for each cell the windows that hold it."""
    holding: dict[int, set[int]] = {c: set() for c in range(instance.cells)}
    for window in np.flatnonzero(windows.inside):
        for a, b in windows.shape:
            holding[int(window + b * instance.columns + a)].add(int(window))
    return holding


@pytest.mark.parametrize(
    ("instance", "size"),
    [(make_grid(0), 1), (make_grid(0, spacing=2), 4), (make_grid(0, spacing=3), 9), (make_arcs(0), 7)],
    ids=["1", "2", "3", "discs"],
)
def test_cells_of_a_window_are_pairwise_too_near(instance, size):
    windows = Windows(instance)
    near = {(int(x), int(y)) for x, y in instance.offsets[0][0]}
    assert len(windows.shape) >= size
    for a in windows.shape:
        for b in windows.shape:
            assert (int(a[0] - b[0]), int(a[1] - b[1])) in near


@pytest.mark.parametrize("make", [lambda s: make_grid(s, spacing=2), make_arcs], ids=["cells", "arcs"])
def test_a_step_pays_for_the_windows_that_it_enters(make):
    """Against sets of windows, one step at a time."""
    instance = make(1)
    windows = Windows(instance)
    rng = np.random.default_rng(0)
    price = np.where(windows.inside, rng.integers(0, 9, instance.cells), 0).astype(float)
    steps = windows.price_steps(price)
    holding = list_windows(instance, windows)
    bounding = Bounding(instance, Negotiation(instance), 0, 1000)
    graph = bounding.whole[0]
    tails = np.repeat(np.arange(graph.nodes), np.diff(graph.first))
    for arc in rng.permutation(len(graph.head))[:300]:
        tail, head, slot = int(tails[arc]), int(graph.head[arc]), int(graph.slot[arc])
        if head == graph.sink:
            assert steps[slot] == 0
            continue
        into = int(graph.states[head]) >> 2
        out = set() if tail == graph.source else holding[int(graph.states[tail]) >> 2]
        entered = holding[into] - out
        if instance.bend_cells and tail != graph.source and graph.states[tail] & 3 != graph.states[head] & 3:
            # A bend touches more than its last cell.
            assert steps[slot] >= sum(price[w] for w in entered)
            continue
        assert steps[slot] == sum(price[w] for w in entered)
        used = np.zeros(instance.cells)
        windows.count_entries(np.array([slot]), used)
        assert set(np.flatnonzero(used).tolist()) == entered


def test_found_channels_enter_each_window_once():
    """Self-clearance: what the bound takes for granted of a routing."""
    checked = 0
    for seed in range(60):
        instance = make_arcs(seed)
        routing = route_instance(instance, 0, 3, 3)
        holding = list_windows(instance, Windows(instance))
        for trace in routing.traces:
            inside = [holding[c] for c in trace.path]
            last: dict[int, int] = {}
            ordered = len(trace.runs) == 1 and all(
                abs(a % instance.columns - b % instance.columns)
                + abs(a // instance.columns - b // instance.columns)
                <= 2
                for a, b in pairwise(trace.path)
            )
            if not ordered:
                continue
            for n, held in enumerate(inside):
                for window in held:
                    # An arc's cells stand side by side: a gap of one in their order is no return.
                    assert window not in last or n - last[window] <= 2 * instance.bend_cells + 1
                    last[window] = n
            checked += 1
    assert checked > 30
