"""What has one place on a panel, ports and kept routes, against tanks and pumps that may stand anywhere."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geom.frame import EDGES, SAME_MM
from geom.standards import tables
from layouts.clearance import Clearances, clearances_of, joint_half, off_feed_of, port_axis_z
from layouts.detail import tapped_depth
from layouts.faces import front_face_z
from layouts.fixed_blocks import PortClass
from layouts.ground import Ground, port_feet, port_terminals
from layouts.nets import PUMP_OUTLET, ChannelNeed
from layouts.panel import Box
from layouts.place import distances_to
from layouts.tank import find_fill
from layouts.terrain import beside_feed, beside_port


@dataclass(frozen=True, slots=True)
class PinnedPort:
    """A port that has one place: its foot and bore, (n, 2) [mm], the foot first, its class and its channel's."""

    points: np.ndarray
    kind: PortClass
    width: float
    tank_gap: float


@dataclass(frozen=True, slots=True)
class Pinned:
    """All that has one place on a panel.

    Parameters
    ----------
    ground : Ground
    gaps : Clearances
        Of the panel.
    ports : tuple of PinnedPort
    kept : tuple of ((n, 2) float, float, float)
        Of each kept route the nodes that it takes of the back face [mm], its width and what it keeps off the tank.
    """

    ground: Ground
    gaps: Clearances
    ports: tuple[PinnedPort, ...]
    kept: tuple[tuple[np.ndarray, float, float], ...]

    def off_tank(self, boxes: np.ndarray) -> np.ndarray:
        """Return which pocket tanks, (n, 4) [mm], leave them their room, (n,) bool."""
        panel, gaps = self.ground.panel, self.gaps
        free = np.ones(len(boxes), dtype=bool)
        for port in self.ports:
            half = joint_half(panel, port.kind.on, port.kind.radius, port.kind.width)
            least = max(port.kind.radius + panel.rules.least_wall, half + gaps.channel_gap)
            for point in port.points:
                free &= distances_to(boxes, (point[0], point[1])) >= least - SAME_MM
            x, y = port.points[0]
            free &= distances_to(boxes, (x, y)) >= port.width / 2 + port.tank_gap - SAME_MM
        for points, width, gap in self.kept:
            for x, y in points:
                free &= distances_to(boxes, (x, y)) >= width / 2 + gap - SAME_MM
        return free

    def off_fill(self, box: Box) -> bool:
        """Return whether the fill bore of a tank that stands at `box` leaves the ports their room."""
        panel = self.ground.panel
        bore = find_fill(panel, box)
        if bore is None or panel.tank.fill is None:
            return panel.tank.fill is None
        (x0, y0), (x1, y1) = bore.mouth, bore.end
        line = np.array([[min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)]])
        for port in self.ports:
            away = distances_to(line, (port.points[:, 0], port.points[:, 1]))
            if away.min() < beside_port(panel, port.kind, panel.tank.fill) - SAME_MM:
                return False
            if away[0] < port.width / 2 + self.gaps.solid_gap + bore.radius - SAME_MM:
                return False
        return True

    def off_feed(self, inlets: np.ndarray, lows: np.ndarray) -> np.ndarray:
        """Return which feeds, from (n, 2) inlets up to y = (n,) `lows` [mm], leave them their room, (n,) bool."""
        panel = self.ground.panel
        x, y = inlets.T
        lines = np.stack([x, y, x, lows], axis=1)
        free = np.ones(len(inlets), dtype=bool)
        for port in self.ports:
            beside = beside_feed(panel, port.kind)
            for px, py in port.points:
                free &= distances_to(lines, (px, py)) >= beside - SAME_MM
            free &= self._off_line(port.points[:1], port.width, port.tank_gap, inlets, lines)
        for points, width, gap in self.kept:
            free &= self._off_line(points, width, gap, inlets, lines)
        return free

    def _off_line(
        self, points: np.ndarray, width: float, gap: float, inlets: np.ndarray, lines: np.ndarray
    ) -> np.ndarray:
        along, round_inlet = off_feed_of(self.ground.panel, width, gap)
        free = np.ones(len(inlets), dtype=bool)
        for px, py in points:
            free &= distances_to(lines, (px, py)) >= along - SAME_MM
            free &= np.hypot(inlets[:, 0] - px, inlets[:, 1] - py) >= round_inlet - SAME_MM
        return free

    def off_screws(self, screws: np.ndarray) -> np.ndarray:
        """Return which of the pump's screws, (n, 2) [mm], leave edge bores their wall, (n,) bool."""
        panel = self.ground.panel
        free = np.ones(len(screws), dtype=bool)
        if panel.pump.screw_size is None or panel.pump.on != "front":
            return free
        row, wall = tables.screw(panel.pump.screw_size), panel.rules.least_wall
        for port in self.ports:
            if port.kind.on not in EDGES:
                continue
            top = port_axis_z(panel, tables.thread(port.kind.thread), "edge ports") + port.kind.radius
            if top + wall <= front_face_z(panel) - tapped_depth(panel, row):
                continue
            least = port.kind.radius + wall + row.diameter / 2
            for px, py in port.points:
                free &= np.hypot(screws[:, 0] - px, screws[:, 1] - py) >= least - SAME_MM
        return free

    def off_outlet(self) -> np.ndarray:
        """Return at which nodes the pump's outlet leaves them their room, (cells,) bool."""
        ground = self.ground
        need = next((one for one in ground.needs if _ends_at_outlet(one)), None)
        free = np.ones(ground.grid.cells, dtype=bool)
        if need is None or ground.panel.channel.layers == 2:
            # A channel may pass a port in the other layer.
            return free
        own, bore = ground.channel_class(need), len(ground.widths)
        free &= ~ground.blocked[own] & ~ground.near_kept[own] & ~ground.near_kept[bore]
        for other in ground.needs:
            for end in other.ends:
                if end.port is None:
                    continue
                terminals = port_terminals(ground, ground.blocked, end.port, other)
                if len(terminals) != 1:
                    continue
                # Ends of one channel meet in it: only their bores keep apart.
                heres = (bore,) if other is need else (own, bore)
                for cell in (terminals[0].node, *terminals[0].bore):
                    for here in heres:
                        self._mark(free, terminals[0].port_class, here, cell)
        return free

    def _mark(self, free: np.ndarray, there: int, here: int, cell: int) -> None:
        columns, rows = self.ground.grid.columns, self.ground.grid.rows
        offsets = self.ground.offsets[there][here]
        x, y = cell % columns + offsets[:, 0], cell // columns + offsets[:, 1]
        inside = (x >= 0) & (x < columns) & (y >= 0) & (y < rows)
        free[y[inside] * columns + x[inside]] = False


def find_pinned(ground: Ground) -> Pinned:
    """Return all that has one place on a panel.

    Parameters
    ----------
    ground : Ground

    Returns
    -------
    Pinned
    """
    ports = []
    for need in ground.asked:
        width = ground.costs.channels[need.name].width
        for end in need.ends:
            if end.port is None or end.port.at is None:
                continue
            foot, along = port_feet(ground.panel, ground.grid, end.port, width)[0]
            points = np.array([ground.grid.point_of(cell) for cell in (foot, *along)])
            kind = ground.ports[ground.port_class(end.port, width) - len(ground.widths)]
            ports.append(PinnedPort(points, kind, width, ground.tank_gaps[ground.channel_class(need)]))
    kept = []
    for one in ground.kept:
        back = one.cells[one.cells < ground.grid.cells]
        points = np.array([ground.grid.point_of(int(cell)) for cell in back]).reshape(-1, 2)
        gap = ground.tank_gaps[ground.channel_class(one.need)]
        kept.append((points, ground.costs.channels[one.need.name].width, gap))
    return Pinned(ground, clearances_of(ground.panel), tuple(ports), tuple(kept))


def _ends_at_outlet(need: ChannelNeed) -> bool:
    return any(end.name == PUMP_OUTLET for end in need.ends)
