"""Windows and what steps pay for them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise, product

import numpy as np
import pytest
from sample_grids import make_arcs, make_grid

from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.all_channels.route_instance import route_instance
from layouts.routing.bound.bounding import Bounding
from layouts.routing.bound.prices import Windows
from layouts.routing.instance import DX, DY, Instance, Net, Rates, Terminal, disc_offsets
from layouts.routing.one_channel.runs import GridRun, find_return


def list_windows(instance: Instance, windows: Windows) -> dict[int, set[int]]:
    """Return for each cell the windows that hold it."""
    holding: dict[int, set[int]] = {c: set() for c in range(instance.cells)}
    for window in np.flatnonzero(windows.inside):
        for a, b in product(range(windows.side), repeat=2):
            holding[int(window + b * instance.columns + a)].add(int(window))
    return holding


@pytest.mark.parametrize(
    ("instance", "side"),
    [(make_grid(0), 1), (make_grid(0, spacing=2), 2), (make_grid(0, spacing=3), 3), (make_arcs(0), 3)],
    ids=["1", "2", "3", "discs"],
)
def test_cells_of_a_window_are_pairwise_too_near(instance, side):
    windows = Windows(instance)
    near = {(int(x), int(y)) for x, y in instance.offsets[0][0]}
    assert windows.side == side
    cells = list(product(range(side), repeat=2))
    for a, b in product(cells, repeat=2):
        assert (a[0] - b[0], a[1] - b[1]) in near


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
        assert steps[slot] == sum(price[w] for w in entered)
        used = np.zeros(instance.cells)
        windows.count_entries(np.array([slot]), used)
        assert set(np.flatnonzero(used).tolist()) == entered


@pytest.mark.parametrize(
    ("make", "routed"),
    [
        (lambda s: make_grid(s, spacing=2, nets=3), 15),
        (lambda s: make_grid(s, spacing=3, nets=2), 15),
        (lambda s: make_grid(s, spacing=2, nets=2, layers=2, size=9), 15),
        (make_arcs, 30),
    ],
    ids=["spacing 2", "spacing 3", "two layers", "arcs"],
)
def test_found_channels_pay_for_each_window_once(make, routed):
    """Self-clearance: what the bound takes for granted of a routing."""
    checked = 0
    for seed in range(60):
        instance = make(seed)
        windows = Windows(instance)
        for trace in route_instance(instance, 0, 3, 3).traces:
            assert find_return(instance, *trace.runs) == []
            assert count_paid(windows, trace.trail).max() <= 1, seed
            checked += 1
    assert checked > routed


def count_paid(windows: Windows, trail: Sequence[int]) -> np.ndarray:
    used = np.zeros(windows.instance.cells)
    windows.count_entries(windows.list_slots(trail), used)
    return used


def walk(instance: Instance, rng: np.random.Generator) -> tuple[int, ...]:
    """Return the states of a random channel that winds as closely about itself as it may."""
    size, k = instance.columns, instance.bend_cells
    x, y, d = size // 2, size // 2, 0
    states, corners = [(y * size + x) * 4 + d], [(x, y)]
    for _ in range(40):
        length = int(rng.integers(0, 3)) if rng.random() < 0.7 else int(rng.integers(0, 9))
        turn = int(rng.integers(2))
        nd = (d + 1) % 4 if turn == 0 else (d + 3) % 4
        cx, cy = x + DX[d] * (length + k), y + DY[d] * (length + k)
        nx, ny = cx + DX[nd] * k, cy + DY[nd] * k
        if not (min(cx, cy, nx, ny) >= 0 and max(cx, cy, nx, ny) < size):
            continue
        more = ((cx, cy), (nx, ny)) if k else ((cx, cy),)
        kept = corners if len(corners) == 1 or k == 0 else corners[:-1]
        if find_return(instance, GridRun((*kept, *more), 0, 1, ())):
            continue
        states += [((y + DY[d] * m) * size + x + DX[d] * m) * 4 + d for m in range(1, length + 1)]
        states.append((ny * size + nx) * 4 + nd)
        corners = [*kept, *more]
        x, y, d = nx, ny, nd
    return tuple(states)


@pytest.mark.parametrize(
    ("bend_cells", "radius", "distance"),
    [(2, 1.6, 2.9), (3, 3.0, 4.3), (4, 3.2, 5.8), (5, 5.0, 8.5), (2, 2.0, 1.5), (0, 0.0, 2.1), (0, 0.0, 4.3)],
)
def test_no_channel_that_keeps_off_itself_pays_for_a_window_twice(bend_cells, radius, distance):
    """Half circles, S and spirals: with every window that an arc touches counted, some would pay twice."""
    size = 30
    instance = Instance(
        size,
        size,
        (Net("c", ((Terminal(cell=0, node=0),), (Terminal(cell=1, node=1),))),),
        np.zeros((1, size * size), dtype=bool),
        ((disc_offsets(distance),),),
        Rates(10.0, 7.0),
        bend_cells=bend_cells,
        bend_radius_cells=radius,
    )
    windows = Windows(instance)
    rng = np.random.default_rng(0)
    turns = 0
    for _ in range(150):
        trail = walk(instance, rng)
        turns += sum((a ^ b) & 3 != 0 for a, b in pairwise(trail))
        assert count_paid(windows, trail).max() <= 1, trail
    assert turns > 300
