"""What of a panel's routing problem no place of tank and pump changes: grid, classes, distances, fixed blocks.

*Channel class*: channels of one width; class 0 is that of the usual width. *Port class*: ports that keep the
same distances. An instance numbers the channel classes first, then the port classes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geom.frame import EDGES, SAME_MM, Face
from geom.standards import tables
from layouts.clearance import (
    PAST_FOOT,
    Clearances,
    clearances_of,
    edge_foot_inset,
    joint_half,
    port_axis_z,
    ports_apart,
)
from layouts.costs import Costs, find_costs
from layouts.detail import thread_fits
from layouts.faces import bore_layers, layers_of
from layouts.grid import Grid, grid_of
from layouts.nets import DRAIN, FEED, PUMP_OUTLET, TANK_RETURN, ChannelNeed, channels_needed
from layouts.panel import Panel, Port
from layouts.plan import Layer
from layouts.routing.instance import ANY_DIRECTION, Terminal, disc_offsets


@dataclass(frozen=True, slots=True)
class PortClass:
    """Ports that keep the same distances, or the pump's outlet bore (thread empty).

    Parameters
    ----------
    on : Face
    thread : str
    radius : float
        Of the bore, [mm].
    width : float
        Of the channel that it opens into, [mm].
    """

    on: Face
    thread: str
    radius: float
    width: float


@dataclass(frozen=True, slots=True)
class Ground:
    """What of a panel's routing problem no place of tank and pump changes.

    Parameters
    ----------
    panel : Panel
    grid : Grid
    costs : Costs
    needs : tuple of ChannelNeed
        The channels to be routed: all but the feed.
    widths : tuple of float
        Of each channel class, [mm]. Where grooves may be shared a channel keeps farther off itself than off others:
        then each has a class of its own, behind class 0, the usual width.
    tank_gaps : tuple of float
        Least distance between the outlines of each channel class and of tank and feed, [mm].
    ports : tuple of PortClass
        Port class k of the instance is ports[k - len(widths)].
    distances : tuple of tuple of float
        Least distance between axes and centrelines of two classes, [mm].
    offsets : tuple of tuple of (n, 2) int
        The same as relative cells that are too near.
    blocked : (classes, cells) bool
        By the panel's edge and keep-clear regions; of one layer.
    labels : (cells) int
        Index into `names` of what blocks class 0, -1 where nothing does.
    names : tuple of str
    bend_cells, tee_margin : int
        As in `Instance`.
    """

    panel: Panel
    grid: Grid
    costs: Costs
    needs: tuple[ChannelNeed, ...]
    widths: tuple[float, ...]
    tank_gaps: tuple[float, ...]
    ports: tuple[PortClass, ...]
    distances: tuple[tuple[float, ...], ...]
    offsets: tuple[tuple[np.ndarray, ...], ...]
    blocked: np.ndarray
    labels: np.ndarray
    names: tuple[str, ...]
    bend_cells: int
    tee_margin: int

    def channel_class(self, need: ChannelNeed) -> int:
        """Return the class of a channel's cells."""
        if self.panel.make.share_groove:
            return 1 + self.needs.index(need)
        return self.widths.index(self.costs.channels[need.name].width)

    def port_class(self, port: Port, width: float) -> int:
        """Return the class of a port that opens into a channel of `width`."""
        return len(self.widths) + self.ports.index(_class_of(port, width))


def survey_panel(panel: Panel) -> Ground:
    """Return what of a panel's routing problem no place of tank and pump changes.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    Ground

    Raises
    ------
    LayoutError
        As `find_costs`.
    """
    grid, gaps, costs = grid_of(panel), clearances_of(panel), find_costs(panel)
    needs = tuple(need for need in channels_needed(panel) if need.name != FEED)
    ports = _port_classes(panel, needs, costs)
    if panel.make.share_groove:
        widths = (panel.channel.width, *(costs.channels[need.name].width for need in needs))
        beside_tank = (False, *(_joins_tank(panel, need) for need in needs))
    else:
        widths = tuple(dict.fromkeys((panel.channel.width, *(one.width for one in costs.channels.values()))))
        beside_tank = (False,) * len(widths)
    distances = _least_distances(panel, gaps, widths, beside_tank, ports)
    offsets = tuple(tuple(disc_offsets(d / grid.pitch) for d in row) for row in distances)
    blocked, labels, names = _block_fixed(panel, grid, gaps, widths, ports)
    # Half the distance between channels on each side of a corner keeps a channel's own U-turn apart.
    own = max(distances[k][k] for k in range(len(widths)))
    spread = math.ceil(own / 2 / grid.pitch - SAME_MM)
    # Between a T and a port on the same run stands a wall, not a sliver.
    beside_tee = max(widths) / 2 + gaps.solid_gap + max(c.radius for c in ports)
    return Ground(
        panel=panel,
        grid=grid,
        costs=costs,
        needs=needs,
        widths=widths,
        tank_gaps=tuple(gaps.own_gap if joined else gaps.channel_gap for joined in beside_tank),
        ports=ports,
        distances=distances,
        offsets=offsets,
        blocked=blocked,
        labels=labels,
        names=names,
        bend_cells=max(1, math.ceil(panel.channel.bend_radius / grid.pitch - SAME_MM), spread),
        tee_margin=math.ceil(beside_tee / grid.pitch - SAME_MM),
    )


def _joins_tank(panel: Panel, need: ChannelNeed) -> bool:
    """Return whether a channel is of one wet region with tank and feed: the drain is, and what enters a pocket."""
    ends = {end.name for end in need.ends if end.port is None}
    return need.name == DRAIN or (panel.tank.kind == "pocket" and TANK_RETURN in ends)


def port_feet(panel: Panel, grid: Grid, port: Port, width: float) -> list[tuple[int, tuple[int, ...]]]:
    """Return the cells at which a port's axis may meet its channel, each with the cells of an edge bore.

    Parameters
    ----------
    panel : Panel
    grid : Grid
    port : Port
    width : float
        Of its channel, [mm].

    Returns
    -------
    list of (int, tuple of int)
        Foot cell, and the cells from the edge up to it (empty on front and back).
    """
    if port.on not in EDGES:
        if port.at is not None:
            return [(grid.cell_at(port.at), ())]
        assert port.within is not None
        x0, y0, x1, y1 = port.within
        return [(r * grid.columns + c, ()) for r in grid.span(y0, y1) for c in grid.span(x0, x1)]
    inset = edge_foot_inset(panel, tables.thread(port.thread), width)
    upright = port.on in ("top", "bottom")
    if port.at is not None:
        along = port.at[0] if upright else port.at[1]
        spots = range(round(along / grid.pitch), round(along / grid.pitch) + 1)
    else:
        assert port.between is not None
        spots = grid.span(*port.between)
    size = panel.height if upright else panel.width
    count = grid.rows if upright else grid.columns
    if port.on in ("bottom", "left"):
        foot = int(np.ceil(inset / grid.pitch - SAME_MM))
        bore = range(foot)
    else:
        foot = int(np.floor((size - inset) / grid.pitch + SAME_MM))
        bore = range(count - 1, foot, -1)
    if upright:
        return [(foot * grid.columns + s, tuple(b * grid.columns + s for b in bore)) for s in spots]
    return [(s * grid.columns + foot, tuple(s * grid.columns + b for b in bore)) for s in spots]


def port_terminals(
    ground: Ground, blocked: np.ndarray, port: Port, need: ChannelNeed
) -> tuple[Terminal, ...]:
    """Return where a port may stand at the end of a channel.

    Parameters
    ----------
    ground : Ground
    blocked : (classes, layers * cells) bool
    port : Port
    need : ChannelNeed

    Returns
    -------
    tuple of Terminal
        In each layer that it may open into.
    """
    width = ground.costs.channels[need.name].width
    own, k = ground.channel_class(need), ground.port_class(port, width)
    # A channel leaves an edge port inwards or along the edge, never back under its own bore.
    back = {"right": 0, "top": 1, "left": 2, "bottom": 3}.get(port.on)
    leaves = tuple(d for d in ANY_DIRECTION if d != back)
    found = []
    for number, layer in enumerate(layers_of(ground.panel)):
        if not thread_fits(ground.panel, port, layer):
            continue
        thread = tables.thread(port.thread)
        axis = port_axis_z(ground.panel, thread, port.key, layer) if port.on in EDGES else 0.0
        passed = bore_layers(ground.panel, port.on, layer, thread.tap_drill / 2, axis)
        for foot, along in port_feet(ground.panel, ground.grid, port, width):
            cell = foot + number * ground.grid.cells
            bore = _bore_cells(ground, cell, foot, along, passed)
            if not blocked[own, cell] and not blocked[k, [cell, *bore]].any():
                found.append(Terminal(cell=cell, leaves=leaves, port_class=k, node=cell, bore=bore))
    return tuple(found)


def pump_terminals(ground: Ground, node: int) -> tuple[Terminal, ...]:
    """Return where the pump's outlet bore may end: at its node, in each layer.

    Parameters
    ----------
    ground : Ground
    node : int
        Cell of the back layer.

    Returns
    -------
    tuple of Terminal
    """
    panel = ground.panel
    found = []
    for number, layer in enumerate(layers_of(panel)):
        passed = bore_layers(panel, panel.pump.on, layer, panel.pump.outlet_bore / 2, 0.0)
        cell = node + number * ground.grid.cells
        bore = _bore_cells(ground, cell, node, (), passed)
        found.append(Terminal(cell=cell, node=cell, port_class=len(ground.widths), bore=bore))
    return tuple(found)


def _bore_cells(
    ground: Ground, cell: int, foot: int, along: tuple[int, ...], passed: tuple[Layer, ...]
) -> tuple[int, ...]:
    """Return the cells of a bore in every layer that it passes, its channel's end left out."""
    numbers = [layers_of(ground.panel).index(layer) for layer in passed]
    cells = (at + number * ground.grid.cells for number in numbers for at in (*along, foot))
    return tuple(at for at in cells if at != cell)


def _class_of(port: Port, width: float) -> PortClass:
    return PortClass(port.on, port.thread, tables.thread(port.thread).tap_drill / 2, width)


def _port_classes(panel: Panel, needs: tuple[ChannelNeed, ...], costs: Costs) -> tuple[PortClass, ...]:
    found: list[PortClass] = []
    for need in needs:
        width = costs.channels[need.name].width
        for end in need.ends:
            if end.name == PUMP_OUTLET:
                # The pump's outlet stands first: it always is there.
                found.insert(0, PortClass(panel.pump.on, "", panel.pump.outlet_bore / 2, width))
            elif end.port is not None:
                found.append(_class_of(end.port, width))
    return tuple(dict.fromkeys(found))


def _least_distances(
    panel: Panel,
    gaps: Clearances,
    widths: tuple[float, ...],
    beside_tank: tuple[bool, ...],
    ports: tuple[PortClass, ...],
) -> tuple[tuple[float, ...], ...]:
    """Return least distances between axes and centrelines of all classes, [mm].

    A class keeps the distance within a wet region to itself, as those in the tank's region do to one another.
    """
    first = len(widths)
    table = np.zeros((first + len(ports), first + len(ports)))
    one_region = np.logical_and.outer(beside_tank, beside_tank) | np.eye(first, dtype=bool)
    apart = np.where(one_region, gaps.own_gap, gaps.channel_gap)
    table[:first, :first] = np.add.outer(widths, widths) / 2 + apart
    halves = [
        max(joint_half(panel, a.on, a.radius, a.width, layer) for layer in layers_of(panel)) for a in ports
    ]
    for k, (a, half) in enumerate(zip(ports, halves, strict=True), start=first):
        reach = max(a.radius, PAST_FOOT * a.width) if a.on in EDGES else a.radius
        for c, width in enumerate(widths):
            table[c, k] = table[k, c] = width / 2 + max(half + gaps.channel_gap, reach + gaps.solid_gap)
        for m, (b, beside) in enumerate(zip(ports, halves, strict=True), start=first):
            other = max(b.radius, PAST_FOOT * b.width) if b.on in EDGES else b.radius
            between = max(half + gaps.own_gap + beside, reach + gaps.solid_gap + other)
            if a.on == b.on and a.thread and b.thread:
                between = max(between, ports_apart(tables.thread(a.thread), tables.thread(b.thread)))
            table[k, m] = between
    return tuple(tuple(float(d) for d in row) for row in table)


def _block_fixed(
    panel: Panel, grid: Grid, gaps: Clearances, widths: tuple[float, ...], ports: tuple[PortClass, ...]
) -> tuple[np.ndarray, np.ndarray, tuple[str, ...]]:
    """Return what edge and keep-clear regions block, and for class 0 which of them, with their names."""
    blocked = np.zeros((len(widths) + len(ports), grid.cells), dtype=bool)
    labels = np.full(grid.cells, -1, np.int64)
    names = ["the panel's edge", *(f'keep-clear region "{clear.name}"' for clear in panel.keep_clear)]
    from_edge = grid.distance_to_edge(panel)
    from_clear = [grid.distance_to_box(clear.box) for clear in panel.keep_clear]
    for c, width in enumerate(widths):
        masks = [from_edge < gaps.edge_gap + width / 2 - SAME_MM]
        reach = width / 2 + max(gaps.seal_reach, gaps.solid_gap)
        masks += [near < reach - SAME_MM for near in from_clear]
        for number, mask in enumerate(masks):
            blocked[c] |= mask
            if c == 0:
                labels[mask & (labels < 0)] = number
    for k, port in enumerate(ports, start=len(widths)):
        if not port.thread:
            continue
        collar = tables.thread(port.thread).collar / 2
        for near in from_clear:
            blocked[k] |= near < max(port.radius + panel.rules.least_wall, collar) - SAME_MM
        if port.on not in EDGES:
            half = joint_half(panel, port.on, port.radius, port.width)
            blocked[k] |= from_edge < max(gaps.edge_gap + half, collar) - SAME_MM
    return blocked, labels, tuple(names)
