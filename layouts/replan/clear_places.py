"""Where a keep-clear region may lie: over nothing that has one place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from geom.frame import SAME_MM
from geom.outline import Point
from geom.standards import tables
from layouts.clearance import clearances_of, feed_width, joint_half
from layouts.ground import Ground, survey_panel
from layouts.laid_out import LaidOut
from layouts.panel import Box
from layouts.place import distances_to
from layouts.replan.end_places import leave_ends
from layouts.replan.pinned import find_pinned
from layouts.replan.tank_places import list_boxes
from layouts.tank import find_fill


def list_clear_corners(ground: Ground, laid: LaidOut, number: int) -> np.ndarray:
    """Return where the lower left corner of a keep-clear region may lie.

    Parameters
    ----------
    ground : Ground
    laid : LaidOut
        Of this panel: tank and pump count where they stand.
    number : int
        Of the region in the file, from 0: its width and height count.

    Returns
    -------
    (n, 2) float
        Grid nodes, and where it lies now, [mm].
    """
    panel, place = ground.panel, laid.placement
    box = panel.keep_clear[number].box
    gaps, wall = clearances_of(panel), panel.rules.least_wall
    boxes = list_boxes(ground, box[:2], (box[2] - box[0], box[3] - box[1]))
    solid = max(gaps.seal_reach, gaps.solid_gap)
    free = np.ones(len(boxes), dtype=bool)

    def keep(at: Point, least: float) -> None:
        free[distances_to(boxes, at) < least - SAME_MM] = False

    pinned = find_pinned(ground)
    for port in pinned.ports:
        collar = tables.thread(port.kind.thread).collar / 2
        for x, y in port.points:
            keep((x, y), max(port.kind.radius + wall, collar))
        keep((float(port.points[0][0]), float(port.points[0][1])), port.width / 2 + solid)
    for points, width, _ in pinned.kept:
        for x, y in points:
            keep((x, y), width / 2 + solid)
    pump = panel.pump
    keep(place.inlet, pump.seat_diameter / 2)
    keep(place.inlet, joint_half(panel, pump.on, pump.inlet_bore / 2, feed_width(panel)) + solid)
    keep(place.outlet, joint_half(panel, pump.on, pump.outlet_bore / 2, ground.ports[0].width) + solid)
    for at in place.screws:
        keep(at, tables.screw(pump.screw_size or "M4").diameter / 2 + wall)
    free &= _apart(boxes, (*place.inlet, *place.top)) >= feed_width(panel) / 2 + solid - SAME_MM
    if place.box is not None:
        free &= _apart(boxes, place.box) >= solid - SAME_MM
    fill = find_fill(panel, place.box)
    if fill is not None:
        (x0, y0), (x1, y1) = fill.mouth, fill.end
        line = (min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
        free &= _apart(boxes, line) >= fill.radius + wall - SAME_MM
    others = (*panel.keep_clear[:number], *panel.keep_clear[number + 1 :])
    free[free] = leave_ends(survey_panel(replace(panel, keep_clear=others)), place, boxes[free])
    return boxes[free, :2]


def _apart(boxes: np.ndarray, box: Box) -> np.ndarray:
    """Return how far boxes stand from one box, (n,) float, [mm]."""
    dx = np.maximum(np.maximum(boxes[:, 0] - box[2], box[0] - boxes[:, 2]), 0.0)
    dy = np.maximum(np.maximum(boxes[:, 1] - box[3], box[1] - boxes[:, 3]), 0.0)
    return np.hypot(dx, dy)
