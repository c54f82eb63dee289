"""Whether every end of the channels keeps a place to stand: the drain at the pump, and all ends beside a region."""

from __future__ import annotations

import math

import numpy as np

from geom.frame import SAME_MM
from geom.standards import tables
from layouts.clearance import clearances_of, edge_mouth, off_feed_of, turn_point
from layouts.ground import Ground, port_terminals
from layouts.nets import DRAIN, PUMP_INLET, PUMP_OUTLET
from layouts.place import DRAIN_LEAVES, Placement
from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.instance import DX, DY
from layouts.terrain import Terrain, lay_terrain


class DrainRoom:
    """Where the drain still finds a way out of the pump's inlet, in one turn of the pump.

    Parameters
    ----------
    ground : Ground
    turn : int
        [deg]
    """

    def __init__(self, ground: Ground, turn: int) -> None:
        self.ground = ground
        needs = [need for need in ground.needs if need.name == DRAIN]
        self.asked = any(end.name == PUMP_INLET for need in needs for end in need.ends)
        if not self.asked:
            return
        panel, pitch = ground.panel, ground.grid.pitch
        self.own = ground.channel_class(needs[0])
        self.half, self.gap = ground.widths[self.own] / 2, ground.tank_gaps[self.own]
        beside = max(off_feed_of(panel, ground.widths[self.own], self.gap))
        self.steps = max(1, math.ceil((beside - SAME_MM) / pitch))
        self.shut = self._mark_shut()
        dx, dy = turn_point(panel.pump.outlet_offset, turn)
        self.ways = [
            d for d in DRAIN_LEAVES if not self._meets_outlet(d, round(dx / pitch), round(dy / pitch))
        ]

    def finds_way(self, inlets: np.ndarray, tanks: np.ndarray) -> np.ndarray:
        """Return at which pumps the drain can leave the inlet.

        Parameters
        ----------
        inlets : (n, 2) float
            On nodes, [mm].
        tanks : (n, 4) or (n, 2) float
            The pocket over each, or the foot of a separate tank's outlet, [mm].

        Returns
        -------
        (n,) bool
        """
        out = np.full(len(inlets), not self.asked)
        if not self.asked:
            return out
        ground, panel = self.ground, self.ground.panel
        columns, rows, pitch = ground.grid.columns, ground.grid.rows, ground.grid.pitch
        boxes, least = tanks, self.half + self.gap
        if tanks.shape[1] == 2:
            port = panel.tank.outlet
            assert port is not None
            mouths = np.array([edge_mouth(panel, port.on, (float(x), float(y))) for x, y in tanks]).reshape(
                -1, 2
            )
            boxes = np.concatenate([np.minimum(mouths, tanks), np.maximum(mouths, tanks)], axis=1)
            least = self.half + clearances_of(panel).solid_gap + tables.thread(port.thread).tap_drill / 2
        at = np.rint(inlets / pitch).astype(np.int64)
        for d in self.ways:
            free = np.ones(len(inlets), dtype=bool)
            for step in range(1, self.steps + 1):
                column, row = at[:, 0] + step * DX[d], at[:, 1] + step * DY[d]
                inside = (column >= 0) & (column < columns) & (row >= 0) & (row < rows)
                free &= inside & ~self.shut[np.where(inside, row * columns + column, 0)]
                x, y = column * pitch, row * pitch
                away = np.hypot(
                    np.maximum(np.maximum(boxes[:, 0] - x, x - boxes[:, 2]), 0.0),
                    np.maximum(np.maximum(boxes[:, 1] - y, y - boxes[:, 3]), 0.0),
                )
                free &= away >= least - SAME_MM
            out |= free
        return out

    def _mark_shut(self) -> np.ndarray:
        """Return what shuts nodes of the back layer to the drain, (cells,) bool, wherever tank and pump stand."""
        ground = self.ground
        shut = ground.blocked[self.own, : ground.grid.cells].copy()
        shut |= ground.near_kept[self.own, : ground.grid.cells]
        for need in ground.needs:
            if need.name == DRAIN:
                continue
            for end in need.ends:
                if end.port is None or end.port.at is None:
                    continue
                for one in port_terminals(ground, ground.plate.blocked, end.port, need):
                    for cell in (one.node, *one.bore):
                        if cell < ground.grid.cells:
                            self._mark(shut, one.port_class, cell)
        return shut

    def _mark(self, shut: np.ndarray, there: int, cell: int) -> None:
        columns, rows = self.ground.grid.columns, self.ground.grid.rows
        offsets = self.ground.offsets[there][self.own]
        x, y = cell % columns + offsets[:, 0], cell // columns + offsets[:, 1]
        inside = (x >= 0) & (x < columns) & (y >= 0) & (y < rows)
        shut[y[inside] * columns + x[inside]] = True

    def _meets_outlet(self, d: int, dx: int, dy: int) -> bool:
        """Return whether the pump's outlet bore stands in a way out, from the inlet by (dx, dy) nodes."""
        if self.ground.panel.channel.layers == 2:
            # The bore may pass by the layer of the drain.
            return False
        near = self.ground.offsets[len(self.ground.widths)][self.own].tolist()
        return any([step * DX[d] - dx, step * DY[d] - dy] in near for step in range(1, self.steps + 1))


def leave_ends(ground: Ground, placement: Placement, boxes: np.ndarray) -> np.ndarray:
    """Return which keep-clear regions leave each end of the channels a place to stand.

    Parameters
    ----------
    ground : Ground
        Without the region.
    placement : Placement
        Of tank and pump.
    boxes : (n, 4) float
        Where the region may lie, [mm].

    Returns
    -------
    (n,) bool
        An end that has no place as it is does not count, nor one that has but one: others look at that.
    """
    panel, terrain = ground.panel, lay_terrain(ground, placement)
    gaps, search = clearances_of(panel), Negotiation(terrain.instance)
    left = np.ones(len(boxes), dtype=bool)
    for number, (need, net) in enumerate(zip(terrain.needs, terrain.instance.nets, strict=True)):
        width = ground.widths[net.channel_class]
        foot = width / 2 + max(gaps.seal_reach, gaps.solid_gap)
        for end, asked in enumerate(need.ends):
            if asked.name == PUMP_OUTLET or (asked.port is not None and asked.port.at is not None):
                continue
            table = search.tracer.tables[net.name][end]
            usable = table.usable(search.fixed[number], search.near_others[number])
            terminals = [t for t, may in zip(net.ends[end], usable, strict=True) if may]
            if not terminals:
                continue
            bore = 0.0
            if asked.port is not None:
                kind = ground.ports[ground.port_class(asked.port, width) - len(ground.widths)]
                bore = max(kind.radius + panel.rules.least_wall, tables.thread(kind.thread).collar / 2)
            feet = frame_cells(ground, [(t.cell, t.node, *t.tail) for t in terminals])
            bores = frame_cells(ground, [(t.node, *t.bore) for t in terminals])
            left &= _leaves_one(boxes, feet, foot, bores, bore)
    return left


def leave_ports(
    terrain: Terrain, search: Negotiation, number: int, end: int, spots: np.ndarray
) -> np.ndarray:
    """Return at which places a port leaves each end that has some choice a place to stand.

    Parameters
    ----------
    terrain : Terrain
        In which the port is free.
    search : Negotiation
        Of its instance.
    number, end : int
        Of the port's channel, and of the port among its ends.
    spots : (n, 4) float
        The least box about its foot and bore at each place, [mm].

    Returns
    -------
    (n,) bool
        All of them where channels have two layers: they may pass each other there.
    """
    ground = terrain.ground
    left = np.ones(len(spots), dtype=bool)
    if ground.panel.channel.layers == 2:
        return left
    own, apart = terrain.instance.nets[number].channel_class, ground.distances
    port = terrain.needs[number].ends[end].port
    assert port is not None
    kind = ground.port_class(port, ground.costs.channels[terrain.needs[number].name].width)
    for net, (need, routed) in enumerate(zip(terrain.needs, terrain.instance.nets, strict=True)):
        for other, asked in enumerate(need.ends):
            terminals = routed.ends[other]
            if (net, other) == (number, end) or len({t.node for t in terminals}) < 2:
                continue
            usable = search.tracer.tables[routed.name][other].usable(
                search.fixed[net], search.near_others[net]
            )
            terminals = tuple(t for t, may in zip(terminals, usable, strict=True) if may)
            if not terminals:
                continue
            foot = 0.0 if net == number else apart[kind][routed.channel_class]
            bore = 0.0
            if asked.port is not None:
                beside = terminals[0].port_class
                bore = max(apart[kind][beside], 0.0 if net == number else apart[own][beside])
            feet = frame_cells(ground, [(t.cell, t.node, *t.tail) for t in terminals])
            bores = frame_cells(ground, [(t.node, *t.bore) for t in terminals])
            left &= _leaves_one(spots, feet, foot, bores, bore)
    return left


def frame_cells(ground: Ground, cells: list[tuple[int, ...]]) -> np.ndarray:
    """Return the least box about each group of cells, (n, 4) float, [mm]."""
    found = []
    for group in cells:
        nodes = np.array(group) % ground.grid.cells
        x, y = nodes % ground.grid.columns, nodes // ground.grid.columns
        found.append((x.min(), y.min(), x.max(), y.max()))
    return np.array(found, dtype=float).reshape(-1, 4) * ground.grid.pitch


def _leaves_one(
    boxes: np.ndarray, feet: np.ndarray, foot: float, bores: np.ndarray, bore: float
) -> np.ndarray:
    """Return which boxes keep `foot` off the feet and `bore` off the bores of one place at least, (n,) bool."""
    most = max(foot, bore)
    low = np.maximum(feet[:, :2], bores[:, :2]).max(axis=0)
    high = np.minimum(feet[:, 2:], bores[:, 2:]).min(axis=0)
    # A box that does not reach from the first place to the last leaves one of these.
    near = (boxes[:, :2] - most < high).all(axis=1) & (boxes[:, 2:] + most > low).all(axis=1)
    left = ~near
    some = boxes[near]
    if len(some):
        free = _apart(some, feet) >= foot - SAME_MM
        free &= _apart(some, bores) >= bore - SAME_MM
        left[near] = free.any(axis=1)
    return left


def _apart(boxes: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Return how far each box stands from each other one, (n, m) float, [mm]."""
    dx = np.maximum(others[None, :, 0] - boxes[:, None, 2], boxes[:, None, 0] - others[None, :, 2])
    dy = np.maximum(others[None, :, 1] - boxes[:, None, 3], boxes[:, None, 1] - others[None, :, 3])
    return np.hypot(np.maximum(dx, 0.0), np.maximum(dy, 0.0))
