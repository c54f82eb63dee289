"""Routes that the file keeps: a routed channel as its corners, and such corners as ways on the grid.

*Way*: runs joined by through holes, from an end of the channel to another, or to a T on an earlier way. *Leaf*: where
a way begins or stops that is no T: an end of the channel stands there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from geom.frame import SAME_MM
from geom.outline import Point
from layouts.grid import Grid, grid_of
from layouts.nets import ChannelNeed
from layouts.panel import KeepRoute, Panel
from layouts.plan import Channel, Layer, Leg
from layouts.routing.instance import DX, DY

Corners = tuple[tuple[Point, ...], ...]
"""Corners of each run, [mm], grid nodes from end to end, through hole or T."""

Node = tuple[int, int]
"""Column and row."""


class UnclearRoute(ValueError):
    """Corners that make no route: says which."""


@dataclass(frozen=True, slots=True)
class Leaf:
    """Where an end of a kept channel stands: its cell, and the direction in which the channel leaves it."""

    cell: int
    leaves: int


@dataclass(frozen=True, slots=True)
class KeptChannel:
    """A channel whose route the file keeps, on the grid.

    Parameters
    ----------
    need : ChannelNeed
    number : int
        Of its entry in the file's list, from 0.
    ways : tuple of GridWay
    ends : tuple of int
        Which end of the channel stands at each leaf, in the order of the ways' leaves.
    cells : (n,) int
        Every cell of its centreline.
    cost : float
        What it costs at least, whatever the place of tank and pump.
    near : (classes, layers * cells) bool
        Where a feature of each class would stand too near it or its ports.
    """

    need: ChannelNeed
    number: int
    ways: tuple[GridWay, ...]
    ends: tuple[int, ...]
    cells: np.ndarray
    cost: float
    near: np.ndarray

    def leaf_of(self, end: int, grid: Grid) -> Leaf:
        """Return where an end of the channel stands."""
        leaves = [leaf for way in self.ways for leaf in way.leaves(grid)]
        return leaves[self.ends.index(end)]


@dataclass(frozen=True, slots=True)
class Clash:
    """Why a kept route cannot stand.

    Parameters
    ----------
    channel : str
    text : str
        What is wrong, in a sentence whose subject is the route.
    cells : tuple of (float, float)
        Where, [mm].
    """

    channel: str
    text: str
    cells: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class GridWay:
    """A way of a kept route.

    Parameters
    ----------
    runs : tuple of tuple of (int, int)
        (column, row) of the corners of each run, first to last.
    layers : tuple of int
        Of each run.
    tee : bool
        Whether it stops at a T.
    """

    runs: tuple[tuple[Node, ...], ...]
    layers: tuple[int, ...]
    tee: bool

    def leaves(self, grid: Grid) -> tuple[Leaf, ...]:
        """Return its leaf, or two where it stops at no T."""
        ends = [(self.layers[0], self.runs[0][0], self.runs[0][1])]
        if not self.tee:
            ends.append((self.layers[-1], self.runs[-1][-1], self.runs[-1][-2]))
        return tuple(Leaf(cell_of(grid, at, layer), heading(at, to)) for layer, at, to in ends)


def name_kept(channel: str) -> str:
    """Return what a kept route is called where it stands in another channel's way."""
    return f'the route kept for channel "{channel}"'


def route_corners(panel: Panel, channel: Channel) -> tuple[Corners, Corners]:
    """Return the corners that a file needs so that it keeps a channel's route.

    Parameters
    ----------
    panel : Panel
    channel : Channel
        As routed on this panel, not the feed; one that was widened since has the same route.

    Returns
    -------
    (tuple of tuple of (float, float), tuple of tuple of (float, float))
        Corners of its runs in the back layer, and in the front layer, [mm]: as in `layouts.panel.KeepRoute.back` and
        `front`. A layer without runs has none.
    """
    grid = grid_of(panel)
    found: dict[Layer, list[tuple[Point, ...]]] = {"back": [], "front": []}
    for run in channel.runs:
        points = list(run.points)
        for at, towards in ((0, 1), (-1, -2)):
            points[at] = _find_node(grid, channel.legs, run.points[at], run.points[towards])
        found[run.layer].append(tuple(points))
    return tuple(found["back"]), tuple(found["front"])


def _find_node(grid: Grid, legs: tuple[Leg, ...], drawn: Point, towards: Point) -> Point:
    """Return the node of a run's end, which is drawn into the tank, or short of a T or of the pump's inlet."""
    if grid.holds(drawn) and any(_same(drawn, end) for leg in legs for end in leg.points):
        return grid.nearest(drawn)
    # The true end lies on the run's line: at a T or the inlet on a node, at the tank's wall up to a pitch past one.
    along = 0 if abs(drawn[1] - towards[1]) < SAME_MM else 1
    ends = [p for leg in legs for p in (leg.points[0], leg.points[-1])]
    near = [p for p in ends if abs(p[1 - along] - drawn[1 - along]) < SAME_MM and not _same(p, towards)]
    x, y = min(near, key=lambda p: (math.dist(p, drawn), p)) if near else drawn
    at, to = ((x, y)[along]) / grid.pitch, towards[along] / grid.pitch
    # The node before the wall, on the channel's side.
    whole = math.floor(at + SAME_MM) if to < at else math.ceil(at - SAME_MM)
    place = [x, y]
    place[along] = whole * grid.pitch
    return grid.nearest((place[0], place[1]))


def _same(a: Point, b: Point) -> bool:
    return math.dist(a, b) < SAME_MM


def cell_of(grid: Grid, node: Node, layer: int) -> int:
    """Return the cell of a node in a layer."""
    return layer * grid.cells + node[1] * grid.columns + node[0]


def heading(a: Node, b: Node) -> int:
    """Return the direction from a node to another in line with it, as `layouts.routing.instance` numbers them."""
    dx, dy = (b[0] > a[0]) - (b[0] < a[0]), (b[1] > a[1]) - (b[1] < a[1])
    return next(d for d in range(4) if (DX[d], DY[d]) == (dx, dy))


def read_ways(grid: Grid, route: KeepRoute) -> tuple[GridWay, ...]:
    """Return a kept route as ways: that which stops at no T first, each other behind the one it stops at.

    Parameters
    ----------
    grid : Grid
    route : KeepRoute
        Corners on nodes, each in line with the next.

    Returns
    -------
    tuple of GridWay

    Raises
    ------
    UnclearRoute
        Its runs do not make one channel.
    """
    runs = [
        (layer, _straighten([_node(grid, point) for point in points]))
        for layer, corners in enumerate((route.back, route.front))
        for points in corners
    ]
    chains = _join_runs(runs)
    ways: list[GridWay] = []
    trunk = next((chain for chain in chains if not _stops_on_others(chain, chains)), None)
    if trunk is None:
        raise UnclearRoute("each of its runs stops on another one")
    chains.sort(key=lambda chain: chain is not trunk)
    while chains:
        for chain in chains:
            way = _place_chain(chain, ways)
            if way is not None:
                chains.remove(chain)
                ways.append(way)
                break
        else:
            first, *_, last = chains[0][0][1]
            raise UnclearRoute(
                f"its run from {_say(grid, first)} to {_say(grid, last)} does not stop on the rest of it"
            )
    return tuple(ways)


_Chain = list[tuple[int, tuple[Node, ...]]]


def _node(grid: Grid, point: Point) -> Node:
    return round(point[0] / grid.pitch), round(point[1] / grid.pitch)


def _say(grid: Grid, node: Node) -> str:
    return say_place((node[0] * grid.pitch, node[1] * grid.pitch))


def say_place(at: Point) -> str:
    """Return a place as a message shows it, [mm]."""
    return f"({at[0]:g}, {at[1]:g}) mm"


def _straighten(nodes: list[Node]) -> tuple[Node, ...]:
    """Return corners without those at which nothing turns."""
    out: list[Node] = []
    for node in nodes:
        if out and node == out[-1]:
            continue
        if len(out) > 1 and heading(out[-2], out[-1]) == heading(out[-1], node):
            out.pop()
        out.append(node)
    return tuple(out)


def _join_runs(runs: _Chain) -> list[_Chain]:
    """Return the runs joined where one stops at the place at which one of the other layer begins or stops."""
    chains = [[run] for run in runs]
    joined = True
    while joined:
        joined = False
        for one, other in ((a, b) for a in chains for b in chains if a is not b):
            for after in (other, _turn(other)):
                if one[-1][1][-1] == after[0][1][0] and one[-1][0] != after[0][0]:
                    chains[chains.index(one)] = [*one, *after]
                    chains.remove(other)
                    joined = True
                    break
            if joined:
                break
    return chains


def _turn(chain: _Chain) -> _Chain:
    return [(layer, corners[::-1]) for layer, corners in reversed(chain)]


def _stops_on_others(chain: _Chain, chains: list[_Chain]) -> bool:
    ends = ((chain[0][0], chain[0][1][0]), (chain[-1][0], chain[-1][1][-1]))
    others = [
        GridWay(tuple(c for _, c in o), tuple(n for n, _ in o), False) for o in chains if o is not chain
    ]
    return any(_passes(other, *end) for other in others for end in ends)


def _place_chain(chain: _Chain, ways: Sequence[GridWay]) -> GridWay | None:
    """Return a chain as the next way; None where it stops at none of those before it."""
    tee = bool(ways)
    for turned in (chain, _turn(chain)) if tee else (chain,):
        layer, corners = turned[-1]
        if not tee or any(_passes(way, layer, corners[-1]) for way in ways):
            layers, runs = tuple(one for one, _ in turned), tuple(one for _, one in turned)
            return GridWay(runs, layers, tee)
    return None


def _passes(way: GridWay, layer: int, node: Node) -> bool:
    x, y = node
    return any(
        here == layer and min(a[0], b[0]) <= x <= max(a[0], b[0]) and min(a[1], b[1]) <= y <= max(a[1], b[1])
        for here, corners in zip(way.layers, way.runs, strict=True)
        for a, b in pairwise(corners)
    )


def list_states(grid: Grid, way: GridWay, bend_cells: int, tails: tuple[int, int] = (0, 0)) -> list[int]:
    """Return the states of a way as a search would go along it, first to last.

    Parameters
    ----------
    grid : Grid
    way : GridWay
    bend_cells : int
        As in `layouts.routing.instance.Instance`.
    tails : (int, int)
        Cells of the tails at its two ends, which are not searched.

    Returns
    -------
    list of int
        cell * 4 + direction.

    Raises
    ------
    UnclearRoute
        A straight piece is too short for the bends at its ends.
    """
    k, (before, after) = bend_cells, tails
    states: list[int] = []
    for n, (layer, corners) in enumerate(zip(way.layers, way.runs, strict=True)):
        last = len(corners) - 2
        for m, (a, b) in enumerate(pairwise(corners)):
            d, length = heading(a, b), abs(b[0] - a[0]) + abs(b[1] - a[1])
            start = k if m else (before if n == 0 else 0)
            stop = k if m < last else (after if n == len(way.runs) - 1 else 0)
            if length < start + stop:
                bends = (m > 0) + (m < last)
                raise UnclearRoute(
                    f"its straight from {_say(grid, a)} to {_say(grid, b)} is {length * grid.pitch:g} mm long, and "
                    f"{'the bends at its ends take' if bends == 2 else 'the bend and the end at it take'} "
                    f"{(start + stop) * grid.pitch:g} mm"
                )
            states.extend(
                cell_of(grid, (a[0] + step * DX[d], a[1] + step * DY[d]), layer) * 4 + d
                for step in range(start, length - stop + 1)
            )
    return states
