"""A kept route as a channel of the router: its runs, its cells and its cost, without any search."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from layouts.grid import Grid
from layouts.keep_routes import GridWay, UnclearRoute, cell_of, list_states, say_place
from layouts.routing.instance import CHANNEL, Instance, Net, Terminal
from layouts.routing.one_channel.branches import list_tee_cells
from layouts.routing.one_channel.runs import TEE, GridRun, find_return
from layouts.routing.one_channel.trace import Trace
from layouts.routing.one_channel.trail import arc_cells, cost_trail, draw_trail, find_holes
from layouts.routing.trees.tree_costs import tree_cost


def trace_route(
    plate: Instance,
    grid: Grid,
    net: Net,
    ways: tuple[GridWay, ...],
    ends: tuple[int, ...],
    terminals: tuple[Terminal, ...],
) -> Trace:
    """Return a kept route as what a search would have found.

    Parameters
    ----------
    plate : Instance
        The grid; its nets are not looked at.
    grid : Grid
    net : Net
        Of the channel, with its rates and class; its ends are not looked at.
    ways : tuple of GridWay
    ends : tuple of int
        Which end stands at each leaf of the ways.
    terminals : tuple of Terminal
        Of each end, in the order of the channel's ends.

    Returns
    -------
    Trace

    Raises
    ------
    UnclearRoute
        There is no room for a bend or a T, or it comes back to itself.
    """
    arcs = arc_cells(plate)
    runs: list[GridRun] = []
    path: list[int] = []
    trail: list[int] = []
    left = list(ends)
    for way in ways:
        first = left.pop(0)
        last = TEE if way.tee else left.pop(0)
        start = terminals[first]
        stop = cell_of(grid, way.runs[-1][-1], way.layers[-1])
        target = Terminal(cell=stop, node=stop) if last == TEE else terminals[last]
        trail = list_states(grid, way, plate.bend_cells, (len(start.tail), len(target.tail)))
        if last == TEE:
            _check_tee(plate, grid, runs, trail[-1])
        drawn, cells = draw_trail(plate, arcs, trail, start, target, first, last)
        back = find_return(plate, *drawn, channel_class=net.channel_class)
        if back:
            at = grid.point_of(back[0] % grid.cells)
            raise UnclearRoute(f"it comes back too near to itself at {say_place(at)}")
        _check_apart(plate, grid, path, cells, net.channel_class)
        runs.extend(drawn)
        path.extend(cells)
    trace = Trace(
        tuple(runs),
        np.array(sorted(set(path)), np.int64),
        tuple(path),
        terminals,
        0.0,
        find_holes(plate, path),
        tuple(trail) if len(terminals) == 2 else (),
    )
    if len(terminals) > 2:
        cost = tree_cost(plate, net, trace)
    else:
        cost = cost_trail(plate, plate.rates_of(net), trail, sum(t.cost for t in terminals))
    return Trace(trace.runs, trace.cells, trace.path, trace.chosen, cost, trace.holes, trace.trail)


def _check_tee(plate: Instance, grid: Grid, runs: list[GridRun], state: int) -> None:
    """Check that a branch may stop at a T: across a straight of an earlier run, away from bends, ends and other Ts."""
    cell, d = state >> 2, state & 3
    if any(place == cell and (along + d) % 2 for place, along in list_tee_cells(plate, runs)):
        return
    at, off_bends, off_ends = grid.point_of(cell % grid.cells), plate.bend_cells, plate.tee_margin
    raise UnclearRoute(
        f"its T at {say_place(at)} does not stand across a straight, {off_bends * grid.pitch:g} mm off bends and "
        f"{off_ends * grid.pitch:g} mm off ends and other Ts"
    )


def _check_apart(
    plate: Instance, grid: Grid, earlier: Sequence[int], branch: Sequence[int], channel_class: int
) -> None:
    """Check that a branch keeps off the ways before it but for the stub at its T, as a search would have it.

    Both are the cells as they are drawn: a bend cuts its corner.
    """
    near = plate.offsets[channel_class][channel_class]
    columns, rows = plate.columns, plate.rows
    taken = np.zeros(plate.cells, dtype=bool)
    for cell in earlier:
        x, y = cell % columns + near[:, 0], cell // columns % rows + near[:, 1]
        inside = (x >= 0) & (x < columns) & (y >= 0) & (y < rows)
        taken[cell - cell % grid.cells + y[inside] * columns + x[inside]] = True
    stub = int(np.abs(near).max(initial=0)) + 1
    for cell in branch[: max(0, len(branch) - stub)] if earlier else ():
        if taken[cell]:
            raise UnclearRoute(
                f"it comes back too near to itself at {say_place(grid.point_of(cell % grid.cells))}"
            )


def list_features(channel_class: int, trace: Trace) -> list[tuple[int, np.ndarray]]:
    """Return what a channel takes on the grid.

    Parameters
    ----------
    channel_class : int
    trace : Trace

    Returns
    -------
    list of (int, (n,) int)
        The class of what stands at some cells, and these: its own, then its ports'.
    """
    ports = [(t.port_class, np.array([t.node, *t.bore])) for t in trace.chosen if t.port_class != CHANNEL]
    return [(channel_class, trace.cells), *ports]
