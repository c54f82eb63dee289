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
    INTO_TANK,
    clearances_of,
    feed_width,
    joint_half,
    tank_z,
    turn_point,
)
from layouts.detail import tapped_depth
from layouts.faces import front_face_z, layer_z
from layouts.grid import Grid, distance_inside
from layouts.ground import Ground, port_feet
from layouts.panel import Box, Panel, Port
from layouts.tank import fill_meets, tank_corner_radius

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
    gaps = clearances_of(panel)
    halves = (
        joint_half(panel, pump.on, pump.inlet_bore / 2, feed_width(panel)),
        joint_half(panel, pump.on, pump.outlet_bore / 2, ground.ports[0].width),
    )
    fixed = _fixed_ports(ground)
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
    out = []
    for inlet in inlets:
        at_inlet = _seat_over_clear(panel, inlet) or _port_under_pump(panel, inlet, fixed)
        for turn in pump.turns:
            dx, dy = turn_point(pump.outlet_offset, turn)
            outlet = (inlet[0] + dx, inlet[1] + dy)
            screws = _pump_screws(panel, inlet, turn)
            where = at_inlet
            for node, half in zip((inlet, outlet), halves, strict=True):
                keep = half + max(gaps.seal_reach, gaps.solid_gap)
                where = where or _outside(panel, (node,), gaps.edge_gap + half, keep)
            if screws:
                keep = tables.screw(pump.screw_size or "M4").diameter / 2 + panel.rules.least_wall
                where = where or _outside(panel, screws, keep, keep)
            if where is not None:
                reasons[where] += 1
                continue
            out.append(PumpPlace(inlet, outlet, turn, screws))
    return out


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
    fixed = _fixed_ports(ground)
    out: list[Box] = []
    for x, y in corners:
        box = (x, y, x + width, y + height)
        reason: str | None
        if not fill_meets(panel, box):
            key = panel.tank.fill.key if panel.tank.fill is not None else "tank.fill"
            reason = f"the fill port would miss the tank ({key})"
        elif not _tank_clear_of_edges(panel, box):
            gap = clearances_of(panel).edge_gap
            reason = f"the tank would come within {gap:g} mm of the panel's edge or cut short its fill thread"
        else:
            reason = _tank_meets(panel, box, fixed)
        if reason is None:
            out.append(box)
        else:
            reasons[reason] += 1
    return out


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


def match_tanks(ground: Ground, place: PumpPlace, boxes: np.ndarray, reasons: Counter[str]) -> np.ndarray:
    """Return which pocket tanks can stand over a pump.

    Parameters
    ----------
    ground : Ground
    place : PumpPlace
    boxes : (n, 4) float
        [mm]
    reasons : Counter
        What was in the way is counted in it, the first reason of each box.

    Returns
    -------
    (n,) bool
    """
    panel, pump = ground.panel, ground.panel.pump
    gaps, wall, feed = clearances_of(panel), panel.rules.least_wall, feed_width(panel)
    side = tank_corner_radius(panel) + feed / 2
    screw_radius = tables.screw(pump.screw_size).diameter / 2 if pump.screw_size else 0.0
    seat_meets = front_face_z(panel) - pump.seat_depth - tank_z(panel)[1] < wall
    from_outlet = gaps.channel_gap + joint_half(panel, pump.on, pump.outlet_bore / 2, ground.ports[0].width)
    from_inlet = gaps.channel_gap + joint_half(panel, pump.on, pump.inlet_bore / 2, feed)
    x, y = place.inlet
    room = max(feed, from_inlet if pump.on == "back" else 0.0)
    under_screws = np.zeros(len(boxes), dtype=bool)
    if _pump_screw_floor(panel) < tank_z(panel)[1] + wall:
        for at in place.screws:
            under_screws |= _distances(boxes, at) < screw_radius + wall - SAME_MM
    checks = (
        ("the tank would not stand above the pump inlet", boxes[:, 1] - y < room + SAME_MM),
        (
            "the pump inlet's column would miss the tank's floor",
            (x < boxes[:, 0] + side - SAME_MM) | (x > boxes[:, 2] - side + SAME_MM),
        ),
        (
            f"the tank is too low for the round end of a drop {feed:g} mm wide",
            boxes[:, 3] - boxes[:, 1] < (INTO_TANK + 0.5) * feed - SAME_MM,
        ),
        (
            "the pump's outlet would stand too near the tank",
            _distances(boxes, place.outlet) < from_outlet - SAME_MM,
        ),
        ("the pump's screws would run into the tank", under_screws),
        (
            "the pump's seat would leave too thin a floor over the tank",
            (_distances(boxes, place.inlet) < pump.seat_diameter / 2) & seat_meets,
        ),
    )
    free = np.ones(len(boxes), dtype=bool)
    for reason, wrong in checks:
        count = int((free & wrong).sum())
        if count:
            reasons[reason] += count
        free &= ~wrong
    return free & match_drops(ground, place, boxes[:, 1], reasons)


def match_drops(ground: Ground, place: PumpPlace, lows: np.ndarray, reasons: Counter[str]) -> np.ndarray:
    """Return which drops from a tank straight down to a pump keep off the keep-clear regions.

    Parameters
    ----------
    ground : Ground
    place : PumpPlace
    lows : (n,) float
        Where each drop begins, above the pump's inlet, [mm].
    reasons : Counter
        What was in the way is counted in it.

    Returns
    -------
    (n,) bool
    """
    gaps, (x, y) = clearances_of(ground.panel), place.inlet
    keep = feed_width(ground.panel) / 2 + max(gaps.seal_reach, gaps.solid_gap)
    free = np.ones(len(lows), dtype=bool)
    for clear in ground.panel.keep_clear:
        x0, y0, x1, y1 = clear.box
        beside = max(x0 - x, x - x1, 0.0)
        wrong = free & (np.hypot(beside, np.maximum(0.0, np.maximum(y0 - lows, y - y1))) < keep - SAME_MM)
        count = int(wrong.sum())
        if count:
            reasons[f'keep-clear region "{clear.name}" lies in the way from the tank down to the pump'] += (
                count
            )
        free &= ~wrong
    return free


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


def _outside(panel: Panel, points: tuple[Point, ...], margin: float, keep: float) -> str | None:
    for x, y in points:
        if float(distance_inside(panel, np.array(x), np.array(y))) < margin - SAME_MM:
            return f"the pump's bores or screws would come within {margin:g} mm of the panel's edge"
        for clear in panel.keep_clear:
            if math.dist((x, y), _nearest_in(clear.box, (x, y))) < keep - SAME_MM:
                return f'keep-clear region "{clear.name}" lies under the pump'
    return None


def _seat_over_clear(panel: Panel, inlet: Point) -> str | None:
    for clear in panel.keep_clear:
        if math.dist(inlet, _nearest_in(clear.box, inlet)) < panel.pump.seat_diameter / 2 - SAME_MM:
            return f'keep-clear region "{clear.name}" lies under the pump\'s seat'
    return None


def _pump_screws(panel: Panel, inlet: Point, turn: int) -> tuple[Point, ...]:
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
    return [
        (end.port, end.port.at, ground.costs.channels[need.name].width)
        for need in ground.needs
        for end in need.ends
        if end.port is not None and end.port.at is not None and end.port.on not in EDGES
    ]


def _port_under_pump(panel: Panel, inlet: Point, fixed: list[tuple[Port, Point, float]]) -> str | None:
    for port, at, _ in fixed:
        if port.on != panel.pump.on:
            continue
        least = pump_reach(panel) + tables.thread(port.thread).spanner_radius
        if math.dist(inlet, at) < least - SAME_MM:
            return f'port "{port.name}" would stand within {least:g} mm of the pump, under it or its spanner'
    return None


def _places(grid: Grid, low: float, high: float) -> list[float]:
    places = [n * grid.pitch for n in grid.span(low, high)]
    return places or ([low] if high >= low - SAME_MM else [])


def _tank_clear_of_edges(panel: Panel, box: Box) -> bool:
    least = dict.fromkeys(EDGES, clearances_of(panel).edge_gap)
    fill = panel.tank.fill
    if fill is not None and fill.on in EDGES:
        thread = tables.thread(fill.thread)
        least[fill.on] = max(least[fill.on], thread.short_thread + thread.pitch)
    corner = tank_corner_radius(panel)
    x = np.array([box[0] + corner, box[2] - corner, box[0] + corner, box[2] - corner])
    y = np.array([box[1] + corner, box[1] + corner, box[3] - corner, box[3] - corner])
    if (distance_inside(panel, x, y) - corner < clearances_of(panel).edge_gap - SAME_MM).any():
        return False
    have = {"left": box[0], "bottom": box[1], "right": panel.width - box[2], "top": panel.height - box[3]}
    return all(have[edge] >= least[edge] - SAME_MM for edge in have if edge in least)


def _tank_meets(panel: Panel, box: Box, fixed: list[tuple[Port, Point, float]]) -> str | None:
    gaps = clearances_of(panel)
    for clear in panel.keep_clear:
        if _boxes_apart(box, clear.box) < max(gaps.seal_reach, gaps.solid_gap) - SAME_MM:
            return f'keep-clear region "{clear.name}" lies under the tank'
    for port, at, width in fixed:
        if math.dist(at, _nearest_in(box, at)) < gaps.channel_gap + width / 2 - SAME_MM:
            return f'port "{port.name}" would stand too near the tank'
    return None


def _pump_screw_floor(panel: Panel) -> float:
    """Return the z of the lowest point of the pump's screw holes, [mm] (they keep a wall above channels)."""
    pump = panel.pump
    if pump.screw_size is None:
        return math.inf
    deep = tapped_depth(panel, tables.screw(pump.screw_size))
    if pump.on == "back":
        # Tapped into the cover alone; it does not reach the tank.
        return math.inf
    return max(front_face_z(panel) - deep, layer_z(panel, "back")[1] + panel.rules.least_wall)


def _nearest_in(box: Box, point: Point) -> Point:
    return min(max(point[0], box[0]), box[2]), min(max(point[1], box[1]), box[3])


def _boxes_apart(a: Box, b: Box) -> float:
    dx = max(a[0] - b[2], b[0] - a[2], 0.0)
    dy = max(a[1] - b[3], b[1] - a[3], 0.0)
    return math.hypot(dx, dy)


def _distances(boxes: np.ndarray, point: Point) -> np.ndarray:
    """Return a point's distance to filled boxes, (n,) float, [mm]."""
    x, y = point
    dx = np.maximum(np.maximum(boxes[:, 0] - x, x - boxes[:, 2]), 0.0)
    dy = np.maximum(np.maximum(boxes[:, 1] - y, y - boxes[:, 3]), 0.0)
    return np.hypot(dx, dy)
