"""What of a panel's routing problem no place of tank and pump changes: grid, classes, distances, fixed blocks.

*Channel class*: channels of one width; class 0 is that of the usual width. *Port class*: ports that keep the
same distances. An instance numbers the channel classes first, then the port classes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from geom.standards import tables
from geom.words import join_names
from layouts.clearance import clearances_of, edge_foot_inset, port_axis_z
from layouts.costs import Costs, find_costs
from layouts.detail import thread_fits
from layouts.faces import bore_layers, layers_of
from layouts.fixed_blocks import PortClass, block_fixed, class_of, least_distances, list_port_classes
from layouts.grid import Grid, grid_of
from layouts.keep_routes import Clash, KeptChannel, Leaf, UnclearRoute, read_ways, say_place
from layouts.kept_traces import list_features, trace_route
from layouts.nets import DRAIN, FEED, PUMP_OUTLET, TANK_RETURN, ChannelEnd, ChannelNeed, channels_needed
from layouts.panel import KeepRoute, Panel, Port
from layouts.plan import Layer
from layouts.routing.instance import ANY_DIRECTION, Instance, Net, Terminal, disc_offsets
from layouts.routing.one_channel.trace import Trace

UPWARDS = 1
"""Direction in which no channel leaves a pocket's wall or the pump's inlet."""


@dataclass(frozen=True, slots=True)
class Ground:
    """What of a panel's routing problem no place of tank and pump changes.

    Parameters
    ----------
    panel : Panel
    grid : Grid
    costs : Costs
    asked : tuple of ChannelNeed
        The channels that the loop asks for, all but the feed.
    needs : tuple of ChannelNeed
        Those of them that are to be routed: whose route the file does not keep.
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
    kept : tuple of KeptChannel
        Channels whose route the file keeps.
    near_kept : (classes, layers * cells) bool
        Where a feature would stand too near one of them.
    clash : Clash or None
        Why one of them cannot stand, whatever the place of tank and pump.
    """

    panel: Panel
    grid: Grid
    costs: Costs
    asked: tuple[ChannelNeed, ...]
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
    kept: tuple[KeptChannel, ...]
    near_kept: np.ndarray
    clash: Clash | None

    @property
    def plate(self) -> Instance:
        """The grid as an instance without nets."""
        return Instance(
            columns=self.grid.columns,
            rows=self.grid.rows,
            nets=(),
            blocked=np.tile(self.blocked, self.panel.channel.layers),
            offsets=self.offsets,
            rates=self.costs.rates,
            bend_cells=self.bend_cells,
            bend_radius_cells=self.panel.channel.bend_radius / self.grid.pitch,
            tee_margin=self.tee_margin,
            layers=self.panel.channel.layers,
        )

    def channel_class(self, need: ChannelNeed) -> int:
        """Return the class of a channel's cells."""
        if self.panel.make.share_groove:
            return 1 + self.asked.index(need)
        return self.widths.index(self.costs.channels[need.name].width)

    def port_class(self, port: Port, width: float) -> int:
        """Return the class of a port that opens into a channel of `width`."""
        return len(self.widths) + self.ports.index(class_of(port, width))


def survey_panel(panel: Panel) -> Ground:
    """Return what of a panel's routing problem no place of tank and pump changes.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    Ground
        With why a kept route cannot stand as its `clash`: `find_placements` and `lay_terrain` tell it.

    Raises
    ------
    LayoutError
        As `find_costs`.
    """
    grid, gaps, costs = grid_of(panel), clearances_of(panel), find_costs(panel)
    asked = tuple(need for need in channels_needed(panel) if need.name != FEED)
    kept_names = {route.channel for route in panel.keep_routes}
    ports = list_port_classes(panel, asked, costs)
    if panel.make.share_groove:
        widths = (panel.channel.width, *(costs.channels[need.name].width for need in asked))
        beside_tank = (False, *(_joins_tank(panel, need) for need in asked))
    else:
        widths = tuple(dict.fromkeys((panel.channel.width, *(one.width for one in costs.channels.values()))))
        beside_tank = (False,) * len(widths)
    distances = least_distances(panel, gaps, widths, beside_tank, ports)
    offsets = tuple(tuple(disc_offsets(d / grid.pitch) for d in row) for row in distances)
    blocked, labels, names = block_fixed(panel, grid, gaps, widths, ports)
    # Half the distance between channels on each side of a corner keeps a channel's own U-turn apart.
    own = max(distances[k][k] for k in range(len(widths)))
    spread = math.ceil(own / 2 / grid.pitch - SAME_MM)
    # Between a T and a port on the same run stands a wall, not a sliver.
    beside_tee = max(widths) / 2 + gaps.solid_gap + max(c.radius for c in ports)
    ground = Ground(
        panel=panel,
        grid=grid,
        costs=costs,
        asked=asked,
        needs=tuple(need for need in asked if need.name not in kept_names),
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
        kept=(),
        near_kept=np.zeros((len(blocked), panel.channel.layers * grid.cells), dtype=bool),
        clash=None,
    )
    return _keep_routes(ground) if panel.keep_routes else ground


def _keep_routes(ground: Ground) -> Ground:
    """Return the ground with the routes that the file keeps, or with why one of them cannot stand."""
    kept: list[KeptChannel] = []
    fixed = np.tile(ground.blocked, ground.panel.channel.layers)
    for number, route in enumerate(ground.panel.keep_routes):
        try:
            one, trace = _keep_route(ground, fixed, number, route)
            own = ground.channel_class(one.need)
            for other in kept:
                if any(other.near[here, cells].any() for here, cells in list_features(own, trace)):
                    raise UnclearRoute(f'it comes too near the route kept for channel "{other.need.name}"')
        except UnclearRoute as error:
            corners = tuple(point for run in (*route.back, *route.front) for point in run)
            return replace(ground, clash=Clash(route.channel, str(error), corners))
        kept.append(one)
    return replace(ground, kept=tuple(kept), near_kept=np.logical_or.reduce([one.near for one in kept]))


def _keep_route(
    ground: Ground, fixed: np.ndarray, number: int, route: KeepRoute
) -> tuple[KeptChannel, Trace]:
    """Return a kept route on the grid, its trace without tails at tank and pump."""
    grid = ground.grid
    need = next((need for need in ground.asked if need.name == route.channel), None)
    if need is None:
        raise UnclearRoute("the loop asks for no such channel")
    ways = read_ways(grid, route)
    leaves = [leaf for way in ways for leaf in way.leaves(grid)]
    if len(leaves) != len(need.ends):
        raise UnclearRoute(f"it has {len(leaves)} ends, and the channel {len(need.ends)}")
    own = ground.channel_class(need)
    choices = [_choose_leaves(ground, fixed, need, end, leaves) for end in need.ends]
    for end, choice in zip(need.ends, choices, strict=True):
        if not choice:
            places = join_names(tuple(say_place(grid.point_of(leaf.cell % grid.cells)) for leaf in leaves))
            raise UnclearRoute(f'it ends at {places}, and "{end.name}" may stand at none of these')
    order = _match_ends(choices)
    if order is None:
        raise UnclearRoute("its ends and those of the channel do not belong together one by one")
    terminals = tuple(choices[end][order[end]] for end in range(len(order)))
    ends = tuple(order.index(leaf) for leaf in range(len(leaves)))
    costs = ground.costs.channels[need.name]
    net = Net(need.name, (), False, costs.rates, costs.leg_rates, own)
    trace = trace_route(ground.plate, grid, net, ways, ends, terminals)
    shut = [cell for cell in trace.cells if fixed[own, cell]]
    if shut:
        at = grid.point_of(shut[0] % grid.cells)
        raise UnclearRoute(f"at {say_place(at)} it comes too near {_find_nearest(ground, at)}")
    # What a wall of the tank costs is rounded: a unit less for each end is never too much.
    cost, near = trace.cost - len(terminals), _mark_near(ground, need, trace)
    return KeptChannel(need, number, ways, ends, trace.cells, cost, near), trace


def _choose_leaves(
    ground: Ground, fixed: np.ndarray, need: ChannelNeed, end: ChannelEnd, leaves: list[Leaf]
) -> dict[int, Terminal]:
    """Return the leaves of a kept route at which an end may stand, as far as that is known, with its terminal."""
    grid = ground.grid
    if end.port is not None:
        found = port_terminals(ground, fixed, end.port, need)
        return {
            n: terminal
            for n, leaf in enumerate(leaves)
            for terminal in found
            if terminal.cell == leaf.cell and leaf.leaves in terminal.leaves
        }
    out: dict[int, Terminal] = {}
    for n, leaf in enumerate(leaves):
        node = leaf.cell % grid.cells
        if end.name == PUMP_OUTLET:
            out[n] = next(one for one in pump_terminals(ground, node) if one.cell == leaf.cell)
        elif leaf.cell < grid.cells and leaf.leaves != UPWARDS:
            # Into a pocket through its walls and its floor, or away from the pump's inlet: never up the drop.
            out[n] = Terminal(cell=leaf.cell, leaves=(leaf.leaves,), node=leaf.cell)
    return out


def _match_ends(choices: list[dict[int, Terminal]]) -> list[int] | None:
    """Return a leaf for each end, no two the same; the ends in the leaves' order where that may be."""

    def match(end: int, taken: list[int]) -> list[int] | None:
        if end == len(choices):
            return taken
        for leaf in sorted(choices[end], key=lambda leaf: (leaf != end, leaf)):
            found = None if leaf in taken else match(end + 1, [*taken, leaf])
            if found is not None:
                return found
        return None

    return match(0, [])


def _find_nearest(ground: Ground, at: Point) -> str:
    """Return the name of what stands fast nearest to a place."""
    cell, grid = ground.grid.cell_at(at), ground.grid
    near = [grid.distance_to_edge(ground.panel)[cell]]
    near += [grid.distance_to_box(clear.box)[cell] for clear in ground.panel.keep_clear]
    return ground.names[int(np.argmin(near))]


def _mark_near(ground: Ground, need: ChannelNeed, trace: Trace) -> np.ndarray:
    """Return where features would stand too near a channel or its ports, (classes, layers * cells) bool."""
    columns, rows = ground.grid.columns, ground.grid.rows
    near = np.zeros_like(ground.near_kept)
    for there, cells in list_features(ground.channel_class(need), trace):
        base = (cells - cells % ground.grid.cells)[:, None]
        for here, mask in enumerate(near):
            offsets = ground.offsets[there][here]
            x = (cells % columns)[:, None] + offsets[None, :, 0]
            y = (cells // columns % rows)[:, None] + offsets[None, :, 1]
            inside = (x >= 0) & (x < columns) & (y >= 0) & (y < rows)
            mask[(base + y * columns + x)[inside]] = True
    return near


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
