"""From a panel's ground and a placement to a routing instance: blocked cells, ends, and how near is too near."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geom.errors import LayoutError
from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from geom.standards import tables
from layouts.clearance import (
    PAST_FOOT,
    clearances_of,
    edge_mouth,
    feed_width,
    joint_half,
    off_feed_of,
    port_axis_z,
    ports_apart,
)
from layouts.detail import tapped_depth
from layouts.faces import front_face_z
from layouts.fixed_blocks import PortClass
from layouts.grid import Grid
from layouts.ground import Ground, port_terminals, pump_terminals
from layouts.keep_routes import Clash, KeptChannel, UnclearRoute, name_kept, say_place
from layouts.kept_failure import explain_clash
from layouts.kept_traces import trace_route
from layouts.layer_blocks import layer_blocks
from layouts.nets import DRAIN, PUMP_INLET, PUMP_OUTLET, TANK_RETURN, ChannelEnd, ChannelNeed
from layouts.panel import Panel, Port
from layouts.place import DRAIN_LEAVES, Placement, pump_reach, tank_walls
from layouts.routing.instance import DX, DY, Instance, Net, Terminal
from layouts.routing.one_channel.trace import Trace
from layouts.tank import FillBore, find_fill


@dataclass(frozen=True, slots=True)
class Terrain:
    """A routing instance of a panel, and what its parts stand for.

    Parameters
    ----------
    ground : Ground
    placement : Placement
    fill : FillBore or None
    instance : Instance
        Its nets are the ground's needs, in order.
    feed : float
        What the feed costs, with the channels whose routes are kept, in units of the instance.
    kept : tuple of Trace
        Of those channels, in the order of the ground's.
    """

    ground: Ground
    placement: Placement
    fill: FillBore | None
    instance: Instance
    feed: float
    kept: tuple[Trace, ...] = ()

    @property
    def grid(self) -> Grid:
        """The panel's grid."""
        return self.ground.grid

    @property
    def needs(self) -> tuple[ChannelNeed, ...]:
        """The channels routed, in the order of the instance's nets: all but the feed."""
        return self.ground.needs


def lay_terrain(ground: Ground, placement: Placement) -> Terrain:
    """Return the routing instance of a panel for one placement of tank and pump.

    Parameters
    ----------
    ground : Ground
    placement : Placement

    Returns
    -------
    Terrain

    Raises
    ------
    LayoutError
        Where a route that the file keeps cannot stand with tank and pump there.
    """
    panel, grid = ground.panel, ground.grid
    if ground.clash is not None:
        raise LayoutError(explain_clash(panel, ground.clash))
    fill = find_fill(panel, placement.box)
    blocked, labels, names = ground.blocked.copy(), ground.labels.copy(), list(ground.names)
    for c, width in enumerate(ground.widths):
        standing = _stand_in_way(panel, grid, placement, width, ground.tank_gaps[c], fill)
        for name, mask in standing:
            blocked[c] |= mask
            if c == 0:
                names.append(name)
                labels[mask & (labels < 0)] = len(names) - 1
    off_feed = blocked[: len(ground.widths)].copy()
    for c, width in enumerate(ground.widths):
        mask = near_feed(panel, grid, placement.top, placement.inlet, width, ground.tank_gaps[c])
        blocked[c] |= mask
        if c == 0:
            names.append("the drop from tank to pump")
            labels[mask & (labels < 0)] = len(names) - 1
    for k, port in enumerate(ground.ports, start=len(ground.widths)):
        beside = beside_feed(panel, port)
        blocked[k] |= _block_ports(panel, grid, placement, port, beside, fill)
    if panel.channel.layers == 2:
        blocked, labels = _add_front(ground, placement, blocked, labels, names)
    known = labels, tuple(names)
    kept = tuple(_keep(ground, placement, blocked, off_feed, one, known) for one in ground.kept)
    for one in ground.kept:
        names.append(name_kept(one.need.name))
        labels[one.near[0] & (labels < 0)] = len(names) - 1
        blocked |= one.near
        off_feed |= one.near[: len(ground.widths), : grid.cells]
    instance = Instance(
        columns=grid.columns,
        rows=grid.rows,
        nets=tuple(_make_net(ground, placement, blocked, off_feed, need) for need in ground.needs),
        blocked=blocked,
        offsets=ground.offsets,
        rates=ground.costs.rates,
        bend_cells=ground.bend_cells,
        bend_radius_cells=panel.channel.bend_radius / grid.pitch,
        tee_margin=ground.tee_margin,
        labels=labels,
        label_names=tuple(names),
        layers=panel.channel.layers,
    )
    feed = float(round(ground.costs.feed * (placement.top[1] - placement.inlet[1])))
    return Terrain(ground, placement, fill, instance, feed + sum(trace.cost for trace in kept), kept)


def _keep(
    ground: Ground,
    placement: Placement,
    blocked: np.ndarray,
    off_feed: np.ndarray,
    kept: KeptChannel,
    standing: tuple[np.ndarray, Sequence[str]],
) -> Trace:
    """Return a kept route as a channel, with its ends at tank and pump; LayoutError where it cannot stand there.

    `standing` is what stands at each cell, -1 for nothing, and the names of all that stands.
    """
    need, grid = kept.need, ground.grid
    own, net = ground.channel_class(need), _make_net(ground, placement, blocked, off_feed, need)
    text = ""
    chosen: list[Terminal] = []
    for number, terminals in enumerate(net.ends):
        leaf = kept.leaf_of(number, grid)
        here = [t for t in terminals if t.node == leaf.cell and leaf.leaves in t.leaves]
        if not here:
            at = say_place(grid.point_of(leaf.cell % grid.cells))
            text = text or f'"{need.ends[number].name}" does not stand at its end at {at}'
        chosen += here[:1]
    if not text:
        try:
            trace = trace_route(ground.plate, grid, net, kept.ways, kept.ends, tuple(chosen))
        except UnclearRoute as error:
            text = str(error)
    if not text:
        tails = {cell for t in chosen for cell in t.tail}
        shut = [cell for cell in trace.path if cell not in tails and blocked[own, cell]]
        if not shut:
            return trace
        at = say_place(grid.point_of(shut[0] % grid.cells))
        text = f"at {at} it comes too near {_name_nearest(grid, shut[0], *standing)}"
    corners = tuple(grid.point_of(cell % grid.cells) for cell in kept.cells)
    raise LayoutError(explain_clash(ground.panel, Clash(need.name, text, corners), placement))


def _name_nearest(grid: Grid, cell: int, labels: np.ndarray, names: Sequence[str]) -> str:
    """Return the name of what stands at a cell, or nearest to it in its layer."""
    layer = labels[cell // grid.cells * grid.cells :][: grid.cells]
    known = np.flatnonzero(layer >= 0)
    if not len(known):
        return "what stands beside it"
    x, y = grid.xy()
    at = cell % grid.cells
    return names[int(layer[known[np.argmin(np.hypot(x[known] - x[at], y[known] - y[at]))]])]


def _add_front(
    ground: Ground, placement: Placement, blocked: np.ndarray, labels: np.ndarray, names: list[str]
) -> tuple[np.ndarray, np.ndarray]:
    """Return what is blocked, and by what, with the front layer added; new names are put to `names`.

    A port keeps in either layer what it must keep in one of them.
    """
    grid_cells = ground.grid.cells
    front = blocked.copy()
    front[: len(ground.widths)] = False
    label = np.full_like(labels, -1)
    for c, width in enumerate(ground.widths):
        for _, mask, name in layer_blocks(ground.panel, ground.grid, placement, width):
            front[c] |= mask
            if c > 0:
                continue
            if name not in names:
                names.append(name)
            label[mask & (label < 0)] = names.index(name)
    both = np.concatenate([blocked, front], axis=1)
    for need in ground.needs:
        for end in need.ends:
            terminals = () if end.port is None else port_terminals(ground, both, end.port, need)
            if len(terminals) == 1:
                # No channel passes the layer that a port's bore passes where the port stands, its own neither.
                passed = [
                    cell for cell in terminals[0].bore if cell % grid_cells == terminals[0].cell % grid_cells
                ]
                both[: len(ground.widths), passed] = True
    return both, np.concatenate([labels, label])


def _make_net(
    ground: Ground, placement: Placement, blocked: np.ndarray, off_feed: np.ndarray, need: ChannelNeed
) -> Net:
    costs = ground.costs.channels[need.name]
    ends = tuple(
        _terminals(ground, placement, blocked, off_feed, end, need, costs.end_rates[number].step)
        for number, end in enumerate(need.ends)
    )
    return Net(need.name, ends, False, costs.rates, costs.leg_rates, ground.channel_class(need))


def _stand_in_way(
    panel: Panel, grid: Grid, placement: Placement, width: float, gap: float, fill: FillBore | None
) -> list[tuple[str, np.ndarray]]:
    """Return what of tank and its ports blocks channels of a width, by name, each (cells,) bool.

    They keep `gap` off the tank.
    """
    gaps, half = clearances_of(panel), width / 2
    found: list[tuple[str, np.ndarray]] = []
    if placement.box is not None:
        found.append(("the tank", grid.distance_to_box(placement.box) < half + gap - SAME_MM))
    if fill is not None:
        reach = half + gaps.solid_gap + fill.radius
        found.append(("the fill port", grid.distance_to_line(fill.mouth, fill.end) < reach - SAME_MM))
    outlet = panel.tank.outlet
    if outlet is not None:
        reach = half + gaps.solid_gap + tables.thread(outlet.thread).tap_drill / 2
        mouth = edge_mouth(panel, outlet.on, placement.top)
        found.append(
            ("the tank's outlet port", grid.distance_to_line(mouth, placement.top) < reach - SAME_MM)
        )
    return found


def near_feed(panel: Panel, grid: Grid, top: Point, inlet: Point, width: float, gap: float) -> np.ndarray:
    """Return which nodes lie too near a feed for channels of a width, (cells,) bool.

    Parameters
    ----------
    panel : Panel
    grid : Grid
    top, inlet : (float, float)
        Its ends, [mm].
    width, gap : float
        Of the channels, and between their outlines and the feed's, [mm].
    """
    beside, reach = off_feed_of(panel, width, gap)
    near = grid.distance_to_line(top, inlet) < beside - SAME_MM
    near |= grid.distance_to_point(inlet) < reach - SAME_MM
    return near


def beside_feed(panel: Panel, port: PortClass) -> float:
    """Return the least distance of a port's axis from the feed's centreline, [mm]."""
    gaps = clearances_of(panel)
    reach = max(port.radius, PAST_FOOT * port.width) if port.on in EDGES else port.radius
    half = joint_half(panel, port.on, port.radius, port.width)
    return feed_width(panel) / 2 + max(half + gaps.channel_gap, reach + gaps.solid_gap)


def _block_ports(
    panel: Panel, grid: Grid, placement: Placement, port: PortClass, beside: float, fill: FillBore | None
) -> np.ndarray:
    """Return where tank, feed, pump and the tank's ports keep a port of a class away, (cells,) bool."""
    gaps = clearances_of(panel)
    wall, radius = panel.rules.least_wall, port.radius
    blocked = np.zeros(grid.cells, dtype=bool)
    if not port.thread:
        return blocked
    thread = tables.thread(port.thread)
    half = joint_half(panel, port.on, radius, port.width)
    if placement.box is not None:
        from_tank = max(radius + wall, half + gaps.channel_gap)
        blocked |= grid.distance_to_box(placement.box) < from_tank - SAME_MM
    blocked |= grid.distance_to_line(placement.top, placement.inlet) < beside - SAME_MM
    if port.on in EDGES:
        # Edge bores and pump screws may share a height in the body; the bores do not reach its face.
        screw = tables.screw(panel.pump.screw_size).diameter / 2 if panel.pump.screw_size else 0.0
        top = port_axis_z(panel, thread, "edge ports") + radius
        deep = tapped_depth(panel, tables.screw(panel.pump.screw_size)) if panel.pump.screw_size else 0.0
        if panel.pump.on == "front" and top + wall > front_face_z(panel) - deep:
            for at in placement.screws:
                blocked |= grid.distance_to_point(at) < radius + wall + screw - SAME_MM
    elif port.on == panel.pump.on:
        blocked |= (
            grid.distance_to_point(placement.inlet) < pump_reach(panel) + thread.spanner_radius - SAME_MM
        )
    if fill is not None and panel.tank.fill is not None:
        near = grid.distance_to_line(fill.mouth, fill.end)
        blocked |= near < beside_port(panel, port, panel.tank.fill) - SAME_MM
    outlet = panel.tank.outlet
    if outlet is not None:
        near = grid.distance_to_line(edge_mouth(panel, outlet.on, placement.top), placement.top)
        blocked |= near < beside_port(panel, port, outlet) - SAME_MM
    return blocked


def beside_port(panel: Panel, port_class: PortClass, port: Port) -> float:
    """Return the least distance of a port of a class from another port's axis, [mm]."""
    other = tables.thread(port.thread)
    apart = port_class.radius + panel.rules.least_wall + other.tap_drill / 2
    if port_class.on == port.on:
        apart = max(apart, ports_apart(tables.thread(port_class.thread), other))
    return apart


def _terminals(
    ground: Ground,
    placement: Placement,
    blocked: np.ndarray,
    off_feed: np.ndarray,
    end: ChannelEnd,
    need: ChannelNeed,
    step: float,
) -> tuple[Terminal, ...]:
    """Return where an end may stand; `step` is what a cell costs there."""
    grid, own = ground.grid, ground.channel_class(need)
    if end.name == PUMP_OUTLET:
        return pump_terminals(ground, grid.cell_at(placement.outlet))
    back = blocked[own, : grid.cells]
    if end.name == PUMP_INLET and need.name == DRAIN:
        return _from_inlet(grid, placement, back, off_feed[own], step)
    if end.name == TANK_RETURN and end.port is None:
        hard = ground.near_kept[own, : grid.cells] if need in ground.needs else np.zeros_like(back)
        return _tank_sides(ground, placement, back, hard, ground.widths[own], step)
    assert end.port is not None
    return port_terminals(ground, blocked, end.port, need)


def _from_inlet(
    grid: Grid, placement: Placement, blocked: np.ndarray, off_feed: np.ndarray, step: float
) -> tuple[Terminal, ...]:
    """Return the ways out of the pump's inlet for the drain: left, right and down, never up the drop."""
    node = grid.cell_at(placement.inlet)
    out = []
    for d in DRAIN_LEAVES:
        tail = _tail(grid, node, d, blocked, off_feed)
        if tail is not None:
            cost = step * (len(tail) - 1)
            out.append(Terminal(cell=tail[-1], leaves=(d,), node=node, tail=tail[:-1], cost=cost))
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


def _tank_sides(
    ground: Ground, placement: Placement, blocked: np.ndarray, hard: np.ndarray, width: float, step: float
) -> tuple[Terminal, ...]:
    """Return the ways into a pocket tank through its left and right walls, and its floor beside the drop.

    What is `hard` stands in their way even beside the tank.
    """
    panel, grid, box = ground.panel, ground.grid, placement.box
    assert box is not None
    gaps = clearances_of(panel)
    half = width / 2
    other = hard | (grid.distance_to_edge(panel) < gaps.edge_gap + half - SAME_MM)
    between = half + gaps.own_gap + feed_width(panel) / 2
    other |= grid.distance_to_line(placement.top, placement.inlet) < between - SAME_MM
    for clear in panel.keep_clear:
        other |= grid.distance_to_box(clear.box) < half + max(gaps.seal_reach, gaps.solid_gap) - SAME_MM
    out = []
    for d, beyond, nodes in tank_walls(panel, grid, box, width):
        for node in nodes:
            tail = None if other[node] else _tail(grid, node, d, blocked, other)
            if tail is not None:
                cost = float(round(step * (len(tail) - 1 + beyond)))
                out.append(Terminal(cell=tail[-1], leaves=(d,), node=node, tail=tail[:-1], cost=cost))
    return tuple(out)
