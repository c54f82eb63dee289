"""Where tank and pump may stand: every pair in which the tank outlet lies in the pump inlet's column."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

import numpy as np

from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from geom.standards import tables
from layouts.clearance import (
    clearances_of,
    feed_width,
    joint_half,
    turn_point,
)
from layouts.grid import Grid, distance_inside
from layouts.ground import Ground, port_feet
from layouts.kept_places import judge_kept_pumps, judge_kept_tanks, list_kept_ports
from layouts.panel import Box, Panel, Port
from layouts.tank import fill_meets, tank_corner_radius

Check = tuple[str, np.ndarray]
"""A reason, and which places it keeps away, (n,) bool."""

Places = tuple[float, float] | tuple[np.ndarray, np.ndarray]
"""One point, or many, [mm]."""

DRAIN_LEAVES = (3, 0, 2)
"""Directions in which the drain may leave the pump's inlet: down, right and left, never up the drop."""


@dataclass(frozen=True, slots=True)
class Placement:
    """One choice of tank and pump.

    Parameters
    ----------
    inlet, outlet : (float, float)
        The pump's nodes, [mm].
    turn_deg : int
    screws : tuple of (float, float)
        The pump's screws, [mm].
    box : Box or None
        The pocket tank, [mm]; None for a separate tank.
    top : (float, float)
        Upper end of the drop, [mm]: on the tank's lower wall, or the separate tank's outlet port.
    bound : float
        No layout with it costs less, feed included, in the units of the panel's costs.
    trees : float
        What of the bound is that of channels of many ends.
    """

    inlet: Point
    outlet: Point
    turn_deg: int
    screws: tuple[Point, ...]
    box: Box | None
    top: Point
    bound: float
    trees: float = 0.0


@dataclass(frozen=True, slots=True)
class PumpPlace:
    """One choice of the pump: inlet and outlet nodes and screws, [mm]."""

    inlet: Point
    outlet: Point
    turn_deg: int
    screws: tuple[Point, ...]


def pump_reach(panel: Panel) -> float:
    """Return the radius about the pump's inlet that the pump and its screw heads take, [mm]."""
    pump = panel.pump
    heads = 0.0
    if pump.screw_size is not None and pump.screw_count:
        heads = pump.screw_circle / 2 + tables.screw(pump.screw_size).head_diameter / 2
    return max(pump.seat_diameter / 2, heads)


def list_pumps(ground: Ground, reasons: Counter[str]) -> list[PumpPlace]:
    """Return where the pump may stand whatever the tank: every node and turn.

    Parameters
    ----------
    ground : Ground
    reasons : Counter
        What was in the way is counted in it.

    Returns
    -------
    list of PumpPlace
    """
    panel, grid = ground.panel, ground.grid
    pump = panel.pump
    if pump.at is not None:
        inlets = [pump.at]
    else:
        assert pump.within is not None
        x0, y0, x1, y1 = pump.within
        radius = pump.seat_diameter / 2
        inlets = [
            (column * grid.pitch, row * grid.pitch)
            for row in grid.span(y0 + radius, y1 - radius)
            for column in grid.span(x0 + radius, x1 - radius)
        ]
        if not inlets:
            reasons[
                f"pump.within holds no grid node at which a {pump.seat_diameter:g} mm seat stays inside it"
            ] += 1
            return []
    by_turn = [judge_pumps(ground, np.array(inlets), turn) for turn in pump.turns]
    first = [_find_first(checks) for checks in by_turn]
    out = []
    for n, inlet in enumerate(inlets):
        for turn, checks, wrong in zip(pump.turns, by_turn, first, strict=True):
            if wrong[n] >= 0:
                reasons[checks[wrong[n]][0]] += 1
            else:
                out.append(make_pump_place(panel, inlet, turn))
    return out


def judge_pumps(ground: Ground, inlets: np.ndarray, turn: int) -> list[Check]:
    """Return what keeps pumps of one turn from standing, whatever the tank and the file's box for the pump.

    Parameters
    ----------
    ground : Ground
    inlets : (n, 2) float
        [mm]
    turn : int
        [deg]

    Returns
    -------
    list of (str, (n,) bool)
        Each reason with the pumps that it keeps away, in the order in which reasons are told.
    """
    panel, pump = ground.panel, ground.panel.pump
    gaps = clearances_of(panel)
    halves = (
        joint_half(panel, pump.on, pump.inlet_bore / 2, feed_width(panel)),
        joint_half(panel, pump.on, pump.outlet_bore / 2, ground.ports[0].width),
    )
    checks = [*_seats_over_clear(panel, inlets), *_ports_under_pump(panel, inlets, _fixed_ports(ground))]
    for nodes, half in zip((inlets, inlets + turn_point(pump.outlet_offset, turn)), halves, strict=True):
        checks += _outside(panel, nodes, gaps.edge_gap + half, half + max(gaps.seal_reach, gaps.solid_gap))
    for at in pump_screws(panel, (0.0, 0.0), turn):
        keep = tables.screw(pump.screw_size or "M4").diameter / 2 + panel.rules.least_wall
        checks += _outside(panel, inlets + at, keep, keep)
    return checks + judge_kept_pumps(ground, inlets, turn)


def make_pump_place(panel: Panel, inlet: Point, turn: int) -> PumpPlace:
    """Return the pump with its inlet at a point, [mm], in one turn, [deg]."""
    dx, dy = turn_point(panel.pump.outlet_offset, turn)
    return PumpPlace(inlet, (inlet[0] + dx, inlet[1] + dy), turn, pump_screws(panel, inlet, turn))


def list_tanks(ground: Ground, reasons: Counter[str]) -> list[Box]:
    """Return where a pocket tank may stand whatever the pump: every node for its lower left corner.

    Parameters
    ----------
    ground : Ground
    reasons : Counter
        What was in the way is counted in it.

    Returns
    -------
    list of Box
        Empty for a separate tank.
    """
    panel = ground.panel
    tank = panel.tank
    if tank.kind == "separate":
        return []
    assert tank.size is not None
    width, height = tank.size
    if tank.at is not None:
        corners = [tank.at]
    else:
        assert tank.within is not None
        x0, y0, x1, y1 = tank.within
        rows, columns = _places(ground.grid, y0, y1 - height), _places(ground.grid, x0, x1 - width)
        corners = [(x, y) for y in rows for x in columns]
    boxes = [(x, y, x + width, y + height) for x, y in corners]
    if not boxes:
        return []
    key = panel.tank.fill.key if panel.tank.fill is not None else "tank.fill"
    missed = np.array([not fill_meets(panel, box) for box in boxes])
    checks = [(f"the fill port would miss the tank ({key})", missed), *judge_tanks(ground, np.array(boxes))]
    wrong = _find_first(checks)
    reasons.update(checks[number][0] for number in wrong if number >= 0)
    return [box for box, number in zip(boxes, wrong, strict=True) if number < 0]


def judge_tanks(ground: Ground, boxes: np.ndarray) -> list[Check]:
    """Return what keeps pocket tanks from standing, whatever the pump, the file's box for the tank and its fill port.

    Parameters
    ----------
    ground : Ground
    boxes : (n, 4) float
        [mm]

    Returns
    -------
    list of (str, (n,) bool)
        Each reason with the tanks that it keeps away, in the order in which reasons are told.
    """
    panel = ground.panel
    gaps = clearances_of(panel)
    near_edge = (
        f"the tank would come within {gaps.edge_gap:g} mm of the panel's edge or cut short its fill thread",
        ~_tanks_clear_of_edges(panel, boxes),
    )
    off_clear = max(gaps.seal_reach, gaps.solid_gap)
    under = [
        (
            f'keep-clear region "{clear.name}" lies under the tank',
            _boxes_apart(boxes, clear.box) < off_clear - SAME_MM,
        )
        for clear in panel.keep_clear
    ]
    beside = [
        (
            f'port "{port.name}" would stand too near the tank',
            distances_to(boxes, at) < gaps.channel_gap + width / 2 - SAME_MM,
        )
        for port, at, width in _fixed_ports(ground)
    ]
    return [near_edge, *under, *beside, *judge_kept_tanks(ground, boxes)]


def list_outlets(ground: Ground) -> list[Point]:
    """Return where a separate tank's outlet port may stand, the feet of its bore, [mm]; empty for a pocket."""
    panel = ground.panel
    port = panel.tank.outlet
    if panel.tank.kind != "separate":
        return []
    assert port is not None
    edge = 0.0 if port.on in EDGES else clearances_of(panel).edge_gap + feed_width(panel) / 2
    feet = [ground.grid.point_of(cell) for cell, _ in port_feet(panel, ground.grid, port, feed_width(panel))]
    return [
        (x, y) for x, y in feet if float(distance_inside(panel, np.array(x), np.array(y))) > edge - SAME_MM
    ]


def tank_walls(panel: Panel, grid: Grid, box: Box, width: float) -> list[tuple[int, float, list[int]]]:
    """Return the nodes at a pocket tank's left and right walls and its floor, at which a channel may come in.

    Parameters
    ----------
    panel : Panel
    grid : Grid
    box : Box
        The pocket, [mm].
    width : float
        Of the channel, [mm].

    Returns
    -------
    list of (int, float, list of int)
        Of each wall: the direction out of the tank, how far the wall lies behind the nodes [cells], the nodes.
    """
    margin = tank_corner_radius(panel) + width / 2
    rows = grid.span(box[1] + margin, box[3] - margin)
    columns = grid.span(box[0] + margin, box[2] - margin)
    left = int(np.floor(box[0] / grid.pitch + SAME_MM))
    right = int(np.ceil(box[2] / grid.pitch - SAME_MM))
    floor = int(np.floor(box[1] / grid.pitch + SAME_MM))
    return [
        (2, max(0.0, box[0] / grid.pitch - left), [r * grid.columns + left for r in rows]),
        (0, max(0.0, right - box[2] / grid.pitch), [r * grid.columns + right for r in rows]),
        (3, max(0.0, box[1] / grid.pitch - floor), [floor * grid.columns + c for c in columns]),
    ]


def _find_first(checks: list[Check]) -> np.ndarray:
    """Return the number of the first reason that keeps each away, -1 where none does, (n,) int."""
    first = np.full(len(checks[0][1]), -1)
    for number, (_, wrong) in enumerate(checks):
        first[wrong & (first < 0)] = number
    return first


def _outside(panel: Panel, points: np.ndarray, margin: float, keep: float) -> list[Check]:
    """Return which points, (n, 2) [mm], lie too near the panel's edge or a keep-clear region."""
    x, y = points.T
    reason = f"the pump's bores or screws would come within {margin:g} mm of the panel's edge"
    checks = [(reason, distance_inside(panel, x, y) < margin - SAME_MM)]
    for clear in panel.keep_clear:
        near = distances_to(np.array([clear.box]), (x, y)) < keep - SAME_MM
        checks.append((f'keep-clear region "{clear.name}" lies under the pump', near))
    return checks


def _seats_over_clear(panel: Panel, inlets: np.ndarray) -> list[Check]:
    x, y = inlets.T
    return [
        (
            f'keep-clear region "{clear.name}" lies under the pump\'s seat',
            distances_to(np.array([clear.box]), (x, y)) < panel.pump.seat_diameter / 2 - SAME_MM,
        )
        for clear in panel.keep_clear
    ]


def pump_screws(panel: Panel, inlet: Point, turn: int) -> tuple[Point, ...]:
    """Return the screws of the pump with its inlet at a point, [mm], in one turn, [deg]."""
    pump = panel.pump
    if pump.screw_size is None or pump.screw_count == 0:
        return ()
    # The first screw stands half a pitch off the outlet's direction, so that it clears the outlet.
    first = math.radians(turn) + math.pi / pump.screw_count
    radius = pump.screw_circle / 2
    return tuple(
        (
            round(inlet[0] + radius * math.cos(first + 2 * math.pi * k / pump.screw_count), 9),
            round(inlet[1] + radius * math.sin(first + 2 * math.pi * k / pump.screw_count), 9),
        )
        for k in range(pump.screw_count)
    )


def _fixed_ports(ground: Ground) -> list[tuple[Port, Point, float]]:
    """Return the ports on front and back that have no choice, with their places and channels' widths, [mm]."""
    return list_kept_ports(ground) + [
        (end.port, end.port.at, ground.costs.channels[need.name].width)
        for need in ground.needs
        for end in need.ends
        if end.port is not None and end.port.at is not None and end.port.on not in EDGES
    ]


def _ports_under_pump(
    panel: Panel, inlets: np.ndarray, fixed: list[tuple[Port, Point, float]]
) -> list[Check]:
    checks = []
    for port, at, _ in fixed:
        if port.on != panel.pump.on:
            continue
        least = pump_reach(panel) + tables.thread(port.thread).spanner_radius
        near = np.hypot(inlets[:, 0] - at[0], inlets[:, 1] - at[1]) < least - SAME_MM
        checks.append(
            (
                f'port "{port.name}" would stand within {least:g} mm of the pump, under it or its spanner',
                near,
            )
        )
    return checks


def _places(grid: Grid, low: float, high: float) -> list[float]:
    places = [n * grid.pitch for n in grid.span(low, high)]
    return places or ([low] if high >= low - SAME_MM else [])


def _tanks_clear_of_edges(panel: Panel, boxes: np.ndarray) -> np.ndarray:
    """Return which tanks keep off the panel's edge and leave their fill port its thread, (n,) bool."""
    least = dict.fromkeys(EDGES, clearances_of(panel).edge_gap)
    fill = panel.tank.fill
    if fill is not None and fill.on in EDGES:
        thread = tables.thread(fill.thread)
        least[fill.on] = max(least[fill.on], thread.short_thread + thread.pitch)
    corner = tank_corner_radius(panel)
    x0, y0, x1, y1 = boxes.T
    clear = np.ones(len(boxes), dtype=bool)
    for x, y in (
        (x0 + corner, y0 + corner),
        (x1 - corner, y0 + corner),
        (x0 + corner, y1 - corner),
        (x1 - corner, y1 - corner),
    ):
        clear &= distance_inside(panel, x, y) - corner >= clearances_of(panel).edge_gap - SAME_MM
    have = {"left": x0, "bottom": y0, "right": panel.width - x1, "top": panel.height - y1}
    for edge, room in have.items():
        if edge in least:
            clear &= room >= least[edge] - SAME_MM
    return clear


def _boxes_apart(boxes: np.ndarray, box: Box) -> np.ndarray:
    """Return how far boxes stand from one box, (n,) float, [mm]."""
    dx = np.maximum(np.maximum(boxes[:, 0] - box[2], box[0] - boxes[:, 2]), 0.0)
    dy = np.maximum(np.maximum(boxes[:, 1] - box[3], box[1] - boxes[:, 3]), 0.0)
    return np.hypot(dx, dy)


def distances_to(boxes: np.ndarray, point: Places) -> np.ndarray:
    """Return the distance of one point to boxes, or of each to its own or to one, (n,) float, [mm].

    Parameters
    ----------
    boxes : (n, 4) or (1, 4) float
        Filled, [mm].
    point : (float, float) or ((n,) float, (n,) float)
        [mm]

    Returns
    -------
    (n,) float
    """
    x, y = point
    dx = np.maximum(np.maximum(boxes[:, 0] - x, x - boxes[:, 2]), 0.0)
    dy = np.maximum(np.maximum(boxes[:, 1] - y, y - boxes[:, 3]), 0.0)
    return np.hypot(dx, dy)
