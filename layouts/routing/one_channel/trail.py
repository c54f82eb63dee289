"""A trail is the states of a path in order: its runs, its cells, its cost, and the arcs of its bends."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from layouts.routing.instance import DX, DY, Instance, Rates, Terminal
from layouts.routing.one_channel.runs import HOLE, GridRun


def arc_cells(instance: Instance) -> tuple[np.ndarray, np.ndarray]:
    """Return the relative cells of a bend for each direction and turn, two (8, m) int arrays.

    A bend of k cells passes the cells within 0.71 of a cell of its arc, and ends k cells past its corner.
    """
    k = instance.bend_cells
    if k == 0:
        return np.zeros((8, 0), np.int64), np.zeros((8, 0), np.int64)
    radius = instance.bend_radius_cells
    # Local frame: along the old direction u, along the new direction v; the corner at (k, 0).
    near = []
    for u in range(k + 1):
        for v in range(k + 1):
            on_arc = u > k - radius and v < radius
            off = (
                abs(math.hypot(u - (k - radius), v - radius) - radius)
                if on_arc
                else min(abs(v) if u <= k - radius else math.inf, abs(u - k) if v >= radius else math.inf)
            )
            if off <= 0.71 and (u, v) not in ((0, 0), (k, k)):
                near.append((u, v))
    near.append((k, k))
    xs, ys = [], []
    for d in range(4):
        for turn in range(2):
            nd = (d + 1) % 4 if turn == 0 else (d + 3) % 4
            xs.append([u * DX[d] + v * DX[nd] for u, v in near])
            ys.append([u * DY[d] + v * DY[nd] for u, v in near])
    return np.array(xs, np.int64), np.array(ys, np.int64)


def cost_bend(instance: Instance, rates: Rates) -> float:
    """Return the cost of the move that is a bend: its corner's steps included."""
    return rates.bend + 2 * instance.bend_cells * rates.step


def cost_trail(instance: Instance, rates: Rates, trail: list[int], ends: float) -> float:
    """Return the cost of a trail without any price of congestion.

    Parameters
    ----------
    instance : Instance
    rates : Rates
    trail : list of int
        States, first to last.
    ends : float
        Cost of its terminals.

    Returns
    -------
    float
    """
    holes = sum(1 for a, b in pairwise(trail) if _is_hole(instance, a, b))
    bends = sum(1 for a, b in pairwise(trail) if (a & 3) != (b & 3) and not _is_hole(instance, a, b))
    moves = len(trail) - 1 - bends - holes
    return ends + moves * rates.step + bends * cost_bend(instance, rates) + holes * rates.through


def draw_trail(
    instance: Instance,
    arcs: tuple[np.ndarray, np.ndarray],
    trail: list[int],
    start: Terminal,
    target: Terminal,
    first: int,
    last: int,
) -> tuple[tuple[GridRun, ...], list[int]]:
    """Return the runs of a trail of states, with the tails of both terminals, and their cells in order.

    Parameters
    ----------
    instance : Instance
    arcs : (8, m) int, (8, m) int
        As `arc_cells` has them.
    trail : list of int
        States, first to last.
    start, target : Terminal
    first, last : int
        Index of the end where it begins, and of the end where it stops or TEE.

    Returns
    -------
    tuple of GridRun, list of int
    """
    columns, k = instance.columns, instance.bend_cells
    arc_x, arc_y = arcs
    cells = [*start.tail, trail[0] >> 2]
    ways: list[list[tuple[int, int]]] = [[place_of(instance, start.node)]]
    for a, b in pairwise(trail):
        d, nd = a & 3, b & 3
        x, y = place_of(instance, a >> 2)
        if _is_hole(instance, a, b):
            cells.append(b >> 2)
            ways[-1].append((x, y))
            ways.append([(x, y)])
            continue
        if d == nd:
            cells.append(b >> 2)
            continue
        ways[-1].append((x + k * DX[d], y + k * DY[d]))
        row = d * 2 + (0 if nd == (d + 1) % 4 else 1)
        cells.extend(int((a >> 2) + arc_y[row, m] * columns + arc_x[row, m]) for m in range(arc_x.shape[1]))
    cells.extend(reversed(target.tail))
    ways[-1].append(place_of(instance, target.node))
    layer = (trail[0] >> 2) // (columns * instance.rows)
    runs = []
    for n, way in enumerate(ways):
        points = [p for m, p in enumerate(way) if m == 0 or p != way[m - 1]]
        corners = tuple(points if len(points) > 1 else points * 2)
        runs.append(
            GridRun(
                corners,
                first if n == 0 else HOLE,
                last if n == len(ways) - 1 else HOLE,
                _straight_cells(instance, corners, layer),
                layer,
            )
        )
        layer = 1 - layer
    return tuple(runs), cells


def find_holes(instance: Instance, path: list[int]) -> tuple[int, ...]:
    """Return the cells of layer 0 at which a path of cells passes to the other layer."""
    if instance.layers == 1:
        return ()
    plane = instance.columns * instance.rows
    return tuple(min(a, b) for a, b in pairwise(path) if abs(a - b) == plane)


def place_of(instance: Instance, cell: int) -> tuple[int, int]:
    """Return a cell's column and row."""
    return int(cell) % instance.columns, int(cell) // instance.columns % instance.rows


def turn_round(trail: list[int]) -> list[int]:
    """Return a trail of states from its last to its first."""
    return [state ^ 2 for state in reversed(trail)]


def _is_hole(instance: Instance, a: int, b: int) -> bool:
    return instance.layers > 1 and abs((a >> 2) - (b >> 2)) == instance.columns * instance.rows


def _straight_cells(
    instance: Instance, corners: tuple[tuple[int, int], ...], layer: int
) -> tuple[tuple[int, int], ...]:
    """Return the cells of a polyline at which a T may stand, with the direction along it."""
    k, margin = instance.bend_cells, instance.tee_margin
    if k == 0:
        return ()
    base = layer * instance.columns * instance.rows
    out: list[tuple[int, int]] = []
    for n, ((ax, ay), (bx, by)) in enumerate(pairwise(corners)):
        length = abs(bx - ax) + abs(by - ay)
        if length == 0:
            continue
        sx, sy = (bx > ax) - (bx < ax), (by > ay) - (by < ay)
        d = DX.index(sx) if sx else (1 if sy > 0 else 3)
        before = margin if n == 0 else k
        after = margin if n == len(corners) - 2 else k
        out.extend(
            (base + (ay + sy * m) * instance.columns + ax + sx * m, d)
            for m in range(before, length - after + 1)
        )
    return tuple(out)
