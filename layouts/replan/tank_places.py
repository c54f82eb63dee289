"""Where tank and pump may stand, each with a place for the other."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np

from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from layouts.clearance import edge_mouth, turn_point
from layouts.ground import Ground
from layouts.place import (
    Placement,
    judge_pumps,
    judge_tanks,
    list_outlets,
    list_pumps,
    list_tanks,
    pump_screws,
)
from layouts.replan.end_places import DrainRoom
from layouts.replan.pinned import Pinned, find_pinned
from layouts.tank import fill_meets
from layouts.tank_over_pump import judge_drops, match_pairs

CHUNK = 24
"""Tanks or pumps that are held against all places at once: those that have found one are not asked again."""


def list_inlets(ground: Ground, placement: Placement) -> np.ndarray:
    """Return where the pump's inlet may stand in its present turn, with a place for the tank above.

    Parameters
    ----------
    ground : Ground
    placement : Placement
        Of tank and pump now.

    Returns
    -------
    (n, 2) float
        [mm]
    """
    nodes = np.stack(ground.grid.xy(), axis=1)
    pinned = find_pinned(ground)
    nodes = nodes[_judge_pumps(pinned, nodes, placement.turn_deg, pinned.off_outlet())]
    tanks, drain = _list_tanks(pinned), DrainRoom(ground, placement.turn_deg)
    tanks = tanks[np.argsort(np.abs(tanks[:, 0] - (placement.box or placement.top)[0]), kind="stable")]
    found = np.zeros(len(nodes), dtype=bool)
    for first in range(0, len(tanks), CHUNK):
        left = np.flatnonzero(~found)
        some = tanks[first : first + CHUNK]
        pump, tank = np.divmod(np.arange(len(left) * len(some)), max(1, len(some)))
        fits = _match(pinned, drain, nodes[left[pump]], placement.turn_deg, some[tank])
        found[left[pump[fits]]] = True
    return nodes[found]


def list_corners(ground: Ground, placement: Placement) -> np.ndarray:
    """Return where a pocket tank's lower left corner may stand, with a place for the pump below.

    Parameters
    ----------
    ground : Ground
    placement : Placement
        Of tank and pump now.

    Returns
    -------
    (n, 2) float
        [mm]
    """
    panel, pinned = ground.panel, find_pinned(ground)
    assert panel.tank.size is not None
    assert placement.box is not None
    pumps = _list_pumps(pinned, placement)
    boxes = _judge_tanks(pinned, list_boxes(ground, placement.box[:2], panel.tank.size))
    found = np.zeros(len(boxes), dtype=bool)
    for turn, inlets in pumps:
        drain = DrainRoom(ground, turn)
        for first in range(0, len(inlets), CHUNK):
            left = np.flatnonzero(~found)
            some = inlets[first : first + CHUNK]
            tank, pump = np.divmod(np.arange(len(left) * len(some)), max(1, len(some)))
            fits = _match(pinned, drain, some[pump], turn, boxes[left[tank]])
            found[left[tank[fits]]] = True
    boxes = boxes[found]
    meets = [fill_meets(panel, _as_box(box)) and pinned.off_fill(_as_box(box)) for box in boxes]
    return boxes[np.array(meets, dtype=bool), :2]


def list_boxes(ground: Ground, now: Point, size: tuple[float, float]) -> np.ndarray:
    """Return where a box may lie in the panel.

    Parameters
    ----------
    ground : Ground
    now : (float, float)
        Its present lower left corner, which may lie off the grid, [mm].
    size : (float, float)
        Its width and height, [mm].

    Returns
    -------
    (n, 4) float
        Their lower left corners on the grid, the present one first, [mm].
    """
    panel, (x, y) = ground.panel, ground.grid.xy()
    away = np.hypot(x - now[0], y - now[1]) > SAME_MM
    corners = np.concatenate([[now], np.stack([x, y], axis=1)[away]])
    boxes = np.concatenate([corners, corners + size], axis=1)
    return boxes[(boxes[:, 2] <= panel.width + SAME_MM) & (boxes[:, 3] <= panel.height + SAME_MM)]


def list_outlet_mouths(ground: Ground, placement: Placement) -> np.ndarray:
    """Return where a separate tank's outlet port may stand, with a place for the pump below.

    Parameters
    ----------
    ground : Ground
    placement : Placement
        Of tank and pump now.

    Returns
    -------
    (n, 2) float
        Where its axis leaves the panel, [mm].
    """
    panel, pinned = ground.panel, find_pinned(ground)
    port = panel.tank.outlet
    assert port is not None
    if port.on in EDGES:
        side = panel.width if port.on in ("top", "bottom") else panel.height
        free = replace(port, at=None, between=(0.0, side))
    else:
        free = replace(port, at=None, within=(0.0, 0.0, panel.width, panel.height))
    loose = replace(ground, panel=replace(panel, tank=replace(panel.tank, outlet=free)))
    feet = np.array(list_outlets(loose)).reshape(-1, 2)
    found = np.zeros(len(feet), dtype=bool)
    for turn, inlets in _list_pumps(pinned, placement):
        foot, pump = np.divmod(np.arange(len(feet) * len(inlets)), max(1, len(inlets)))
        fits = _match(pinned, DrainRoom(ground, turn), inlets[pump], turn, feet[foot])
        found[foot[fits]] = True
    return np.array([edge_mouth(panel, port.on, (float(x), float(y))) for x, y in feet[found]]).reshape(-1, 2)


def _judge_pumps(pinned: Pinned, inlets: np.ndarray, turn: int, outlets: np.ndarray) -> np.ndarray:
    """Return which pumps can stand whatever the tank and the file's box, (n,) bool.

    `outlets` is at which nodes their outlet may stand, (cells,) bool.
    """
    ground = pinned.ground
    if not len(inlets):
        return np.zeros(0, dtype=bool)
    free = ~np.logical_or.reduce([wrong for _, wrong in judge_pumps(ground, inlets, turn)])
    for at in pump_screws(ground.panel, (0.0, 0.0), turn):
        free &= pinned.off_screws(inlets + at)
    outlet = turn_point(ground.panel.pump.outlet_offset, turn)
    column, row = np.round((inlets + outlet) / ground.grid.pitch).astype(np.int64).T
    inside = (column >= 0) & (column < ground.grid.columns) & (row >= 0) & (row < ground.grid.rows)
    free &= inside
    cell = np.where(inside, row * ground.grid.columns + column, 0)
    return free & outlets[cell]


def _list_pumps(pinned: Pinned, placement: Placement) -> list[tuple[int, np.ndarray]]:
    """Return the inlets where the file lets the pump stand, for each turn, the present one and the nearest first."""
    ground = pinned.ground
    places = list_pumps(ground, Counter())
    turns = sorted(ground.panel.pump.turns, key=lambda turn: (turn != placement.turn_deg, turn))
    out, outlets = [], pinned.off_outlet()
    for turn in turns:
        inlets = np.array([place.inlet for place in places if place.turn_deg == turn]).reshape(-1, 2)
        inlets = inlets[_judge_pumps(pinned, inlets, turn, outlets)]
        away = np.hypot(*(inlets - placement.inlet).T)
        out.append((turn, inlets[np.argsort(away, kind="stable")]))
    return out


def _list_tanks(pinned: Pinned) -> np.ndarray:
    """Return where the file lets the tank stand: pockets (n, 4), or feet of a separate tank's outlet (n, 2), [mm]."""
    ground = pinned.ground
    if ground.panel.tank.kind == "separate":
        return np.array(list_outlets(ground)).reshape(-1, 2)
    boxes = np.array(list_tanks(ground, Counter())).reshape(-1, 4)
    boxes = boxes[pinned.off_tank(boxes)]
    return boxes[np.array([pinned.off_fill(_as_box(box)) for box in boxes], dtype=bool)]


def _judge_tanks(pinned: Pinned, boxes: np.ndarray) -> np.ndarray:
    """Return those pockets that can stand whatever the pump, the file's box and the fill port."""
    if not len(boxes):
        return boxes
    boxes = boxes[~np.logical_or.reduce([wrong for _, wrong in judge_tanks(pinned.ground, boxes)])]
    return boxes[pinned.off_tank(boxes)]


def _as_box(box: np.ndarray) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = (float(v) for v in box)
    return x0, y0, x1, y1


def _match(pinned: Pinned, drain: DrainRoom, inlets: np.ndarray, turn: int, tanks: np.ndarray) -> np.ndarray:
    """Return the numbers of those pairs of pump and tank that can stand together."""
    if not len(inlets):
        return np.zeros(0, np.int64)
    x = inlets[:, 0]
    if tanks.shape[1] == 4:
        near = np.flatnonzero((tanks[:, 1] > inlets[:, 1]) & (x > tanks[:, 0]) & (x < tanks[:, 2]))
        fits = match_pairs(pinned.ground, inlets[near], turn, tanks[near])
    else:
        near = np.flatnonzero((np.abs(x - tanks[:, 0]) < SAME_MM) & (tanks[:, 1] > inlets[:, 1]))
        fits = np.ones(len(near), dtype=bool)
        for _, wrong in judge_drops(pinned.ground, (x[near], inlets[near, 1]), tanks[near, 1]):
            fits &= ~wrong
    near = near[fits]
    near = near[pinned.off_feed(inlets[near], tanks[near, 1])]
    return near[drain.finds_way(inlets[near], tanks[near])]
