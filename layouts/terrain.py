"""From a panel and a placement to a routing instance: blocked cells, ends, and how near is too near."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from geom.standards import tables
from layouts.clearance import (
    PAST_FOOT,
    Clearances,
    clearances_of,
    feed_width,
    joint_half,
    port_axis_z,
    ports_apart,
)
from layouts.detail import tapped_depth
from layouts.grid import Grid, grid_of
from layouts.nets import (
    DRAIN,
    FEED,
    PUMP_INLET,
    PUMP_OUTLET,
    TANK_RETURN,
    ChannelEnd,
    ChannelNeed,
    channels_needed,
)
from layouts.panel import Panel, Port
from layouts.place import Placement, port_feet, pump_reach
from layouts.routing.instance import (
    ANY_DIRECTION,
    CHANNEL,
    DX,
    DY,
    Instance,
    Net,
    Rates,
    Terminal,
    disc_offsets,
)
from layouts.tank import FillBore, find_fill, tank_corner_radius

STEP = 10.0
"""Cost of one step; a bend's cost follows from the length of channel that loses as much."""


@dataclass(frozen=True, slots=True)
class PortClass:
    """Ports that keep the same distances: a face and a thread, or the pump's outlet bore (thread empty)."""

    on: str
    thread: str
    radius: float


@dataclass(frozen=True, slots=True)
class Terrain:
    """A routing instance of a panel, and what its parts stand for.

    Parameters
    ----------
    grid : Grid
    placement : Placement
    needs : tuple of ChannelNeed
        The channels routed, in the order of the instance's nets: all but the feed.
    classes : tuple of PortClass
        Port class k of the instance is classes[k - 1].
    fill : FillBore or None
    instance : Instance
    """

    grid: Grid
    placement: Placement
    needs: tuple[ChannelNeed, ...]
    classes: tuple[PortClass, ...]
    fill: FillBore | None
    instance: Instance


def lay_terrain(panel: Panel, placement: Placement, bend_mm: float) -> Terrain:
    """Return the routing instance of a panel for one placement of tank and pump.

    Parameters
    ----------
    panel : Panel
    placement : Placement
    bend_mm : float
        Length of straight channel that loses as much as one bend, [mm].

    Returns
    -------
    Terrain
    """
    grid = grid_of(panel)
    gaps = clearances_of(panel)
    needs = tuple(need for need in channels_needed(panel) if need.name != FEED)
    classes = _port_classes(panel, needs)
    distances = _least_distances(panel, gaps, classes)
    offsets = tuple(tuple(disc_offsets(d / grid.pitch) for d in row) for row in distances)
    fill = find_fill(panel, placement.box)

    labels, names = _block_channels(panel, grid, placement, gaps, fill)
    off_feed = labels >= 0
    wider = (feed_width(panel) - panel.channel.width) / 2
    _block_feed(panel, grid, placement, distances[CHANNEL][CHANNEL] + wider, labels, names)
    blocked = np.zeros((len(classes) + 1, grid.cells), dtype=bool)
    blocked[CHANNEL] = labels >= 0
    for k, port_class in enumerate(classes, start=1):
        blocked[k] = _block_ports(panel, grid, placement, gaps, port_class, distances[k][CHANNEL] + wider)
    radius_cells = panel.channel.bend_radius / grid.pitch
    spread = math.ceil(distances[CHANNEL][CHANNEL] / 2 / grid.pitch - SAME_MM)
    nets = tuple(
        Net(
            need.name,
            tuple(
                _terminals(panel, grid, placement, classes, blocked, off_feed, end, need) for end in need.ends
            ),
        )
        for need in needs
    )
    instance = Instance(
        columns=grid.columns,
        rows=grid.rows,
        nets=nets,
        blocked=blocked,
        offsets=offsets,
        rates=Rates(
            step=STEP,
            bend=max(
                0.0, round(STEP * (bend_mm - (2 - math.pi / 2) * panel.channel.bend_radius) / grid.pitch)
            ),
            tee=round(STEP * bend_mm / grid.pitch),
        ),
        # Half the distance between channels on each side of a corner keeps a channel's own U-turn apart.
        bend_cells=max(1, math.ceil(radius_cells - SAME_MM), spread),
        bend_radius_cells=radius_cells,
        # Between a T and a port on the same run stands a wall, not a sliver.
        tee_margin=math.ceil(
            (panel.channel.width / 2 + gaps.solid_gap + max(c.radius for c in classes)) / grid.pitch - SAME_MM
        ),
        labels=labels,
        label_names=tuple(names),
    )
    return Terrain(grid, placement, needs, classes, fill, instance)


def _port_classes(panel: Panel, needs: tuple[ChannelNeed, ...]) -> tuple[PortClass, ...]:
    found: list[PortClass] = [PortClass(panel.pump.on, "", panel.pump.outlet_bore / 2)]
    for need in needs:
        for end in need.ends:
            if end.port is not None:
                drill = tables.thread(end.port.thread).tap_drill / 2
                port_class = PortClass(end.port.on, end.port.thread, drill)
                if port_class not in found:
                    found.append(port_class)
    return tuple(found)


def _least_distances(panel: Panel, gaps: Clearances, classes: tuple[PortClass, ...]) -> list[list[float]]:
    """Return least distances between axes and centrelines for channel and port classes, [mm]."""
    width = panel.channel.width
    between = width + gaps.channel_gap
    table = [[between] + [0.0] * len(classes) for _ in range(len(classes) + 1)]
    for k, a in enumerate(classes, start=1):
        reach = max(a.radius, PAST_FOOT * width) if a.on in EDGES else a.radius
        half = joint_half(panel, a.on, a.radius, width)
        table[0][k] = table[k][0] = max(
            half + gaps.channel_gap + width / 2, reach + gaps.solid_gap + width / 2
        )
        for m, b in enumerate(classes, start=1):
            other = max(b.radius, PAST_FOOT * width) if b.on in EDGES else b.radius
            apart = max(
                half + gaps.channel_gap + joint_half(panel, b.on, b.radius, width),
                reach + gaps.solid_gap + other,
            )
            if a.on == b.on and a.thread and b.thread:
                apart = max(apart, ports_apart(tables.thread(a.thread), tables.thread(b.thread)))
            table[k][m] = apart
    return table


def _block_channels(
    panel: Panel, grid: Grid, placement: Placement, gaps: Clearances, fill: FillBore | None
) -> tuple[np.ndarray, list[str]]:
    """Return what blocks each node for channels (index, -1: free), and the names; the feed comes later."""
    half = panel.channel.width / 2
    labels = np.full(grid.cells, -1, np.int64)
    names: list[str] = []

    def block(near: np.ndarray, name: str) -> None:
        names.append(name)
        labels[near & (labels < 0)] = len(names) - 1

    block(grid.distance_to_edge(panel) < gaps.edge_gap + half - SAME_MM, "the panel's edge")
    for clear in panel.keep_clear:
        reach = half + max(gaps.seal_reach, gaps.solid_gap)
        block(grid.distance_to_box(clear.box) < reach - SAME_MM, f'keep-clear region "{clear.name}"')
    if placement.box is not None:
        block(grid.distance_to_box(placement.box) < half + gaps.channel_gap - SAME_MM, "the tank")
    if fill is not None:
        reach = half + gaps.solid_gap + fill.radius
        block(grid.distance_to_line(fill.mouth, fill.end) < reach - SAME_MM, "the fill port")
    outlet = panel.tank.outlet
    if outlet is not None:
        reach = half + gaps.solid_gap + tables.thread(outlet.thread).tap_drill / 2
        mouth = edge_mouth(panel, outlet.on, placement.top)
        block(grid.distance_to_line(mouth, placement.top) < reach - SAME_MM, "the tank's outlet port")
    return labels, names


def _block_feed(
    panel: Panel, grid: Grid, placement: Placement, between: float, labels: np.ndarray, names: list[str]
) -> None:
    names.append("the drop from tank to pump")
    bore, half, feed = panel.pump.inlet_bore / 2, panel.channel.width / 2, feed_width(panel)
    at_joint = joint_half(panel, panel.pump.on, bore, feed)
    reach = max(between - feed / 2 + at_joint, bore + panel.rules.least_wall + half)
    near = grid.distance_to_line(placement.top, placement.inlet) < between - SAME_MM
    near |= grid.distance_to_point(placement.inlet) < reach - SAME_MM
    labels[near & (labels < 0)] = len(names) - 1


def _block_ports(
    panel: Panel, grid: Grid, placement: Placement, gaps: Clearances, port_class: PortClass, feed: float
) -> np.ndarray:
    """Return where a port of a class may not stand, (cells,) bool (channels' own blocks come on top)."""
    wall, radius = panel.rules.least_wall, port_class.radius
    blocked = np.zeros(grid.cells, dtype=bool)
    if not port_class.thread:
        return blocked
    thread = tables.thread(port_class.thread)
    for clear in panel.keep_clear:
        blocked |= grid.distance_to_box(clear.box) < max(radius + wall, thread.collar / 2) - SAME_MM
    half = joint_half(panel, port_class.on, radius, panel.channel.width)
    if placement.box is not None:
        from_tank = max(radius + wall, half + gaps.channel_gap)
        blocked |= grid.distance_to_box(placement.box) < from_tank - SAME_MM
    if port_class.on not in EDGES:
        blocked |= grid.distance_to_edge(panel) < max(gaps.edge_gap + half, thread.collar / 2) - SAME_MM
    blocked |= grid.distance_to_line(placement.top, placement.inlet) < feed - SAME_MM
    if port_class.on in EDGES:
        # Edge bores and pump screws may share a height in the body; the bores do not reach its face.
        screw = tables.screw(panel.pump.screw_size).diameter / 2 if panel.pump.screw_size else 0.0
        top = port_axis_z(panel, thread, "edge ports") + radius
        deep = tapped_depth(panel, tables.screw(panel.pump.screw_size)) if panel.pump.screw_size else 0.0
        if panel.pump.on == "front" and top + wall > panel.make.body - deep:
            for at in placement.screws:
                blocked |= grid.distance_to_point(at) < radius + wall + screw - SAME_MM
    elif port_class.on == panel.pump.on:
        blocked |= (
            grid.distance_to_point(placement.inlet) < pump_reach(panel) + thread.spanner_radius - SAME_MM
        )
    fill = find_fill(panel, placement.box)
    if fill is not None and panel.tank.fill is not None:
        near = grid.distance_to_line(fill.mouth, fill.end)
        blocked |= near < _beside(panel, port_class, panel.tank.fill) - SAME_MM
    outlet = panel.tank.outlet
    if outlet is not None:
        near = grid.distance_to_line(edge_mouth(panel, outlet.on, placement.top), placement.top)
        blocked |= near < _beside(panel, port_class, outlet) - SAME_MM
    return blocked


def _beside(panel: Panel, port_class: PortClass, port: Port) -> float:
    """Return the least distance of a port of a class from another port's axis, [mm]."""
    other = tables.thread(port.thread)
    apart = port_class.radius + panel.rules.least_wall + other.tap_drill / 2
    if port_class.on == port.on:
        apart = max(apart, ports_apart(tables.thread(port_class.thread), other))
    return apart


def _terminals(
    panel: Panel,
    grid: Grid,
    placement: Placement,
    classes: tuple[PortClass, ...],
    blocked: np.ndarray,
    off_feed: np.ndarray,
    end: ChannelEnd,
    need: ChannelNeed,
) -> tuple[Terminal, ...]:
    if end.name == PUMP_OUTLET:
        cell = grid.cell_at(placement.outlet)
        return (Terminal(cell=cell, node=cell, port_class=1),)
    if end.name == PUMP_INLET and need.name == DRAIN:
        return _from_inlet(grid, placement, blocked[CHANNEL], off_feed)
    if end.name == TANK_RETURN and end.port is None:
        return _tank_sides(panel, grid, placement, blocked[CHANNEL])
    assert end.port is not None
    return _port_terminals(panel, grid, classes, blocked, end.port)


def _from_inlet(
    grid: Grid, placement: Placement, blocked: np.ndarray, off_feed: np.ndarray
) -> tuple[Terminal, ...]:
    """Return the ways out of the pump's inlet for the drain: left, right and down, never up the drop."""
    node = grid.cell_at(placement.inlet)
    out = []
    for d in (3, 0, 2):
        tail = _tail(grid, node, d, blocked, off_feed)
        if tail is not None:
            out.append(
                Terminal(cell=tail[-1], leaves=(d,), node=node, tail=tail[:-1], cost=STEP * (len(tail) - 1))
            )
    return tuple(out)


def _tail(grid: Grid, node: int, d: int, blocked: np.ndarray, hard: np.ndarray) -> tuple[int, ...] | None:
    """Return the cells from `node` along `d` to the first that is free; None where `hard` is met first."""
    x, y = node % grid.columns, node // grid.columns
    cells = [node]
    while True:
        x, y = x + DX[d], y + DY[d]
        if not (0 <= x < grid.columns and 0 <= y < grid.rows):
            return None
        cell = y * grid.columns + x
        if hard[cell]:
            return None
        cells.append(cell)
        if not blocked[cell]:
            return tuple(cells)


def _tank_sides(panel: Panel, grid: Grid, placement: Placement, blocked: np.ndarray) -> tuple[Terminal, ...]:
    """Return the ways into a pocket tank through its left and right walls, and its floor beside the drop."""
    box = placement.box
    assert box is not None
    margin = tank_corner_radius(panel) + panel.channel.width / 2
    walls = [
        (
            2,
            [
                (np.floor(box[0] / grid.pitch + SAME_MM), r)
                for r in grid.span(box[1] + margin, box[3] - margin)
            ],
        ),
        (
            0,
            [
                (np.ceil(box[2] / grid.pitch - SAME_MM), r)
                for r in grid.span(box[1] + margin, box[3] - margin)
            ],
        ),
        (
            3,
            [
                (c, np.floor(box[1] / grid.pitch + SAME_MM))
                for c in grid.span(box[0] + margin, box[2] - margin)
            ],
        ),
    ]
    gaps = clearances_of(panel)
    other = np.zeros(grid.cells, dtype=bool)
    half = panel.channel.width / 2
    other |= grid.distance_to_edge(panel) < gaps.edge_gap + half - SAME_MM
    between = half + gaps.channel_gap + feed_width(panel) / 2
    other |= grid.distance_to_line(placement.top, placement.inlet) < between - SAME_MM
    for clear in panel.keep_clear:
        other |= grid.distance_to_box(clear.box) < half + max(gaps.seal_reach, gaps.solid_gap) - SAME_MM
    out = []
    for d, nodes in walls:
        for column, row in nodes:
            node = int(row) * grid.columns + int(column)
            if other[node]:
                continue
            tail = _tail(grid, node, d, blocked, other)
            if tail is not None:
                cost = STEP * (len(tail) - 1)
                out.append(Terminal(cell=tail[-1], leaves=(d,), node=node, tail=tail[:-1], cost=cost))
    return tuple(out)


def _port_terminals(
    panel: Panel, grid: Grid, classes: tuple[PortClass, ...], blocked: np.ndarray, port: Port
) -> tuple[Terminal, ...]:
    radius = tables.thread(port.thread).tap_drill / 2
    k = classes.index(PortClass(port.on, port.thread, radius)) + 1
    # A channel leaves an edge port inwards or along the edge, never back under its own bore.
    back = {"right": 0, "top": 1, "left": 2, "bottom": 3}.get(port.on)
    leaves = tuple(d for d in ANY_DIRECTION if d != back)
    return tuple(
        Terminal(cell=cell, leaves=leaves, port_class=k, node=cell, bore=bore)
        for cell, bore in port_feet(panel, grid, port)
        if not blocked[CHANNEL, cell] and not blocked[k, [cell, *bore]].any()
    )


def edge_mouth(panel: Panel, on: str, foot: Point) -> Point:
    """Return where a port's axis leaves the panel in plan, [mm]; its foot on front and back."""
    return {
        "top": (foot[0], panel.height),
        "bottom": (foot[0], 0.0),
        "left": (0.0, foot[1]),
        "right": (panel.width, foot[1]),
    }.get(on, foot)


def edge_inset(panel: Panel, on: str, foot: Point) -> float:
    """Return the distance from an edge to a port's foot, [mm]; 0 on front and back."""
    return {
        "top": panel.height - foot[1],
        "bottom": foot[1],
        "left": foot[0],
        "right": panel.width - foot[0],
    }.get(on, 0.0)
