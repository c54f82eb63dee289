"""Places of tank and pump with which the routes that the file keeps cannot stand."""

from __future__ import annotations

import numpy as np

from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from layouts.clearance import off_feed_of, turn_point
from layouts.ground import Ground
from layouts.keep_routes import KeptChannel, name_kept
from layouts.nets import PUMP_INLET, PUMP_OUTLET, TANK_RETURN
from layouts.panel import Port
from layouts.routing.instance import DX, DY
from layouts.tank import tank_corner_radius


def list_kept_ports(ground: Ground) -> list[tuple[Port, Point, float]]:
    """Return the ports on front and back at kept routes, with their places and channels' widths, [mm]."""
    return [
        (end.port, ground.grid.point_of(kept.leaf_of(number, ground.grid).cell % ground.grid.cells), width)
        for kept in ground.kept
        for width in (ground.costs.channels[kept.need.name].width,)
        for number, end in enumerate(kept.need.ends)
        if end.port is not None and end.port.on not in EDGES
    ]


def judge_kept_pumps(ground: Ground, inlets: np.ndarray, turn: int) -> list[tuple[str, np.ndarray]]:
    """Return which pumps do not stand where kept routes end, or stand on one.

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
        As `layouts.place.judge_pumps`.
    """
    grid = ground.grid
    outlets = inlets + turn_point(ground.panel.pump.outlet_offset, turn)
    nodes = np.rint(outlets / grid.pitch).astype(int)
    inside = (nodes >= 0).all(axis=1) & (nodes[:, 0] < grid.columns) & (nodes[:, 1] < grid.rows)
    under = np.where(inside, nodes[:, 1] * grid.columns + nodes[:, 0], 0)
    checks = []
    for kept in ground.kept:
        name = name_kept(kept.need.name)
        ends = {end.name: number for number, end in enumerate(kept.need.ends) if end.port is None}
        for end, places in ((PUMP_OUTLET, outlets), (PUMP_INLET, inlets)):
            if end in ends:
                at = grid.point_of(kept.leaf_of(ends[end], grid).cell % grid.cells)
                off = np.hypot(*(places - at).T) > SAME_MM
                checks.append((f"{name} would not end at the {end}", off))
        if PUMP_OUTLET not in ends and ground.panel.channel.layers == 1:
            near = kept.near[len(ground.widths), under] & inside
            checks.append((f"{name} lies under the pump's outlet", near))
    return checks


def judge_kept_tanks(ground: Ground, boxes: np.ndarray) -> list[tuple[str, np.ndarray]]:
    """Return which pocket tanks do not stand where kept routes end, or stand on one.

    Parameters
    ----------
    ground : Ground
    boxes : (n, 4) float
        [mm]

    Returns
    -------
    list of (str, (n,) bool)
        As `layouts.place.judge_tanks`.
    """
    grid = ground.grid
    checks = []
    for kept in ground.kept:
        own, name = ground.channel_class(kept.need), name_kept(kept.need.name)
        width = ground.widths[own]
        end = next(
            (n for n, one in enumerate(kept.need.ends) if one.name == TANK_RETURN and one.port is None), None
        )
        points = _list_points(ground, kept)
        if end is not None:
            leaf = kept.leaf_of(end, grid)
            at = grid.point_of(leaf.cell)
            off = ~_meets_wall(ground, boxes, at, leaf.leaves, width)
            checks.append((f"{name} would not end at the tank", off))
            points = _leave_ray(points, at, leaf.leaves)
        x, y = points.T
        dx = np.maximum(np.maximum(boxes[:, :1] - x, x - boxes[:, 2:3]), 0.0)
        dy = np.maximum(np.maximum(boxes[:, 1:2] - y, y - boxes[:, 3:]), 0.0)
        near = (np.hypot(dx, dy) < width / 2 + ground.tank_gaps[own] - SAME_MM).any(axis=1)
        checks.append((f"{name} would lie under the tank or too near it", near))
    return checks


def judge_kept_drops(
    ground: Ground, inlet: Point | tuple[np.ndarray, np.ndarray], lows: np.ndarray
) -> list[tuple[str, np.ndarray]]:
    """Return which drops to one inlet, or each to its own, a kept route lies in the way of.

    Parameters
    ----------
    ground : Ground
    inlet : (float, float) or ((n,) float, (n,) float)
        [mm]
    lows : (n,) float
        Where each drop begins, [mm].

    Returns
    -------
    list of (str, (n,) bool)
    """
    grid = ground.grid
    x, y = (np.broadcast_to(np.asarray(part, dtype=float), lows.shape)[:, None] for part in inlet)
    checks = []
    for kept in ground.kept:
        own = ground.channel_class(kept.need)
        beside, reach = off_feed_of(ground.panel, ground.widths[own], ground.tank_gaps[own])
        points = _list_points(ground, kept)
        for number, end in enumerate(kept.need.ends):
            if end.name == PUMP_INLET:
                leaf = kept.leaf_of(number, grid)
                points = _leave_ray(points, grid.point_of(leaf.cell), leaf.leaves)
        px, py = points.T
        above = np.maximum(np.maximum(y - py, py - lows[:, None]), 0.0)
        near = np.hypot(px - x, above) < beside - SAME_MM
        near |= np.hypot(px - x, py - y) < reach - SAME_MM
        reason = f"{name_kept(kept.need.name)} lies in the way from the tank down to the pump"
        checks.append((reason, near.any(axis=1)))
    return checks


def _list_points(ground: Ground, kept: KeptChannel) -> np.ndarray:
    """Return the nodes of a kept route in the back layer, (m, 2) float, [mm]."""
    cells = kept.cells[kept.cells < ground.grid.cells]
    columns, pitch = ground.grid.columns, ground.grid.pitch
    return np.stack([cells % columns, cells // columns], axis=1) * pitch


def _leave_ray(points: np.ndarray, at: Point, d: int) -> np.ndarray:
    """Return the points that do not lie straight on from an end: beside tank and inlet a channel begins straight."""
    x, y = (points - at).T
    on = (np.abs(x * DY[d] - y * DX[d]) < SAME_MM) & (x * DX[d] + y * DY[d] > -SAME_MM)
    return points[~on]


def _meets_wall(ground: Ground, boxes: np.ndarray, at: Point, d: int, width: float) -> np.ndarray:
    """Return at which tanks a channel that leaves a node in a direction would begin, (n,) bool."""
    pitch, (x, y) = ground.grid.pitch, at
    margin = tank_corner_radius(ground.panel) + width / 2 - SAME_MM
    x0, y0, x1, y1 = boxes.T
    if d in (0, 2):
        wall = np.ceil(x1 / pitch - SAME_MM) if d == 0 else np.floor(x0 / pitch + SAME_MM)
        return (np.abs(wall * pitch - x) < SAME_MM) & (y >= y0 + margin) & (y <= y1 - margin)
    wall = np.floor(y0 / pitch + SAME_MM)
    return (np.abs(wall * pitch - y) < SAME_MM) & (x >= x0 + margin) & (x <= x1 - margin)
