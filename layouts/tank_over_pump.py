"""Whether a pocket tank and a pump can stand together, and the drop between them: one pump and many tanks, or pairs."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np

from geom.frame import SAME_MM
from geom.standards import tables
from layouts.clearance import INTO_TANK, clearances_of, feed_width, joint_half, tank_z, turn_point
from layouts.detail import tapped_depth
from layouts.faces import front_face_z, layer_z
from layouts.ground import Ground
from layouts.kept_places import judge_kept_drops
from layouts.panel import Panel
from layouts.place import Check, Places, PumpPlace, distances_to, pump_screws
from layouts.tank import tank_corner_radius


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
    checks = _judge_pairs(ground, place.inlet, place.outlet, place.screws, boxes)
    free = np.ones(len(boxes), dtype=bool)
    for reason, wrong in checks:
        count = int((free & wrong).sum())
        if count:
            reasons[reason] += count
        free &= ~wrong
    return free & match_drops(ground, place, boxes[:, 1], reasons)


def match_pairs(ground: Ground, inlets: np.ndarray, turn: int, boxes: np.ndarray) -> np.ndarray:
    """Return which pumps of one turn and pocket tanks can stand together, pair by pair.

    Parameters
    ----------
    ground : Ground
    inlets : (n, 2) float
        [mm]
    turn : int
        [deg]
    boxes : (n, 4) float
        [mm]

    Returns
    -------
    (n,) bool
    """
    panel = ground.panel
    x, y = inlets.T
    dx, dy = turn_point(panel.pump.outlet_offset, turn)
    screws = tuple((x + sx, y + sy) for sx, sy in pump_screws(panel, (0.0, 0.0), turn))
    checks = _judge_pairs(ground, (x, y), (x + dx, y + dy), screws, boxes)
    free = ~np.logical_or.reduce([wrong for _, wrong in checks])
    for _, wrong in judge_drops(ground, (x, y), boxes[:, 1]):
        free &= ~wrong
    return free


def _judge_pairs(
    ground: Ground, inlet: Places, outlet: Places, screws: tuple[Places, ...], boxes: np.ndarray
) -> list[Check]:
    """Return what keeps tanks from standing over one pump, or each over its own."""
    panel, pump = ground.panel, ground.panel.pump
    gaps, wall, feed = clearances_of(panel), panel.rules.least_wall, feed_width(panel)
    side = tank_corner_radius(panel) + feed / 2
    screw_radius = tables.screw(pump.screw_size).diameter / 2 if pump.screw_size else 0.0
    seat_meets = front_face_z(panel) - pump.seat_depth - tank_z(panel)[1] < wall
    from_outlet = gaps.channel_gap + joint_half(panel, pump.on, pump.outlet_bore / 2, ground.ports[0].width)
    from_inlet = gaps.channel_gap + joint_half(panel, pump.on, pump.inlet_bore / 2, feed)
    x, y = inlet
    room = max(feed, from_inlet if pump.on == "back" else 0.0)
    under_screws = np.zeros(len(boxes), dtype=bool)
    if _pump_screw_floor(panel) < tank_z(panel)[1] + wall:
        for at in screws:
            under_screws |= distances_to(boxes, at) < screw_radius + wall - SAME_MM
    return [
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
            distances_to(boxes, outlet) < from_outlet - SAME_MM,
        ),
        ("the pump's screws would run into the tank", under_screws),
        (
            "the pump's seat would leave too thin a floor over the tank",
            (distances_to(boxes, inlet) < pump.seat_diameter / 2) & seat_meets,
        ),
    ]


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
    free = np.ones(len(lows), dtype=bool)
    for reason, near in judge_drops(ground, place.inlet, lows):
        wrong = free & near
        count = int(wrong.sum())
        if count:
            reasons[reason] += count
        free &= ~wrong
    return free


def judge_drops(ground: Ground, inlet: Places, lows: np.ndarray) -> list[Check]:
    """Return which drops to one inlet, or each to its own, a keep-clear region lies in the way of.

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
        Each reason with the drops that it keeps away.
    """
    gaps, (x, y) = clearances_of(ground.panel), inlet
    keep = feed_width(ground.panel) / 2 + max(gaps.seal_reach, gaps.solid_gap)
    checks = []
    for clear in ground.panel.keep_clear:
        x0, y0, x1, y1 = clear.box
        beside = np.maximum(np.maximum(x0 - x, x - x1), 0.0)
        near = np.hypot(beside, np.maximum(0.0, np.maximum(y0 - lows, y - y1))) < keep - SAME_MM
        checks.append(
            (f'keep-clear region "{clear.name}" lies in the way from the tank down to the pump', near)
        )
    return checks + judge_kept_drops(ground, inlet, lows)


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
