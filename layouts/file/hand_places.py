"""Places that a hand means, as the panel can have them, and the keys that hold them."""

from __future__ import annotations

from typing import Any

from geom.errors import EditRefused
from geom.findings import KeyChange, KeyPath
from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from layouts.file_changes import write_length, write_lengths
from layouts.grid import node_inside
from layouts.panel import Box, Panel, Port

FREE_MM = 30.0
"""How far about its place a freed thing may stand."""

Changes = tuple[KeyChange, ...]


def place_port(panel: Panel, port: Port, path: KeyPath, to: Point) -> Changes:
    """Return the changes that fix a port: (x, y) on front and back, one length along an edge."""
    x, y = node_inside(panel, to)
    if port.on in EDGES:
        along = x if port.on in ("top", "bottom") else y
        return swap_keys(path, "between", "at", write_length(along))
    return swap_keys(path, "within", "at", write_lengths((x, y)))


def free_port(panel: Panel, port: Port, path: KeyPath, box: Box) -> tuple[Changes, Box]:
    """Return the changes that let a port stand in a box, an edge's along it, and what of the box it may use, [mm]."""
    x0, y0, x1, y1 = box
    if port.on in ("top", "bottom"):
        used = clip_box(panel, (x0, 0.0, x1, panel.height))
        return swap_keys(path, "at", "between", write_lengths((used[0], used[2]))), used
    if port.on in EDGES:
        used = clip_box(panel, (0.0, y0, panel.width, y1))
        return swap_keys(path, "at", "between", write_lengths((used[1], used[3]))), used
    used = clip_box(panel, box)
    return swap_keys(path, "at", "within", write_lengths(used)), used


def swap_keys(table: KeyPath, gone: str, come: str, value: Any) -> Changes:
    """Return the changes that write one key in place of another."""
    return KeyChange((*table, gone), None), KeyChange((*table, come), value)


def box_around(panel: Panel, box: Box) -> Box:
    """Return a box with `FREE_MM` to each side of it, as far as the panel reaches."""
    x0, y0, x1, y1 = box
    return clip_box(panel, (x0 - FREE_MM, y0 - FREE_MM, x1 + FREE_MM, y1 + FREE_MM))


def clip_box(panel: Panel, box: Box) -> Box:
    """Return a box in order and inside the panel; refuse one without area there."""
    xs, ys = sorted((box[0], box[2])), sorted((box[1], box[3]))
    clipped = (max(xs[0], 0.0), max(ys[0], 0.0), min(xs[1], panel.width), min(ys[1], panel.height))
    x0, y0, x1, y1 = (round(value, 3) for value in clipped)
    if not (x0 < x1 and y0 < y1):
        raise EditRefused("the box has no area on the panel; draw it larger and inside")
    return x0, y0, x1, y1


def holds_place(box: Box, at: Point) -> bool:
    """Return whether a place lies in a box or on its rim."""
    inside_x = box[0] - SAME_MM <= at[0] <= box[2] + SAME_MM
    return inside_x and box[1] - SAME_MM <= at[1] <= box[3] + SAME_MM
