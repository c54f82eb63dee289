"""The pocket tank's shape, and where its fill port meets it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geom.frame import EDGES, SAME_MM
from geom.outline import Point, Region, outline_circle
from geom.standards import tables
from layouts.panel import Box, Panel
from layouts.plan import PlacedTank

CORNER_RADIUS = 6.0
"""Radius of a pocket tank's corners, [mm], where the cutter does not ask for more; a cord turns round it."""

PAST_WALL = 1.0
"""How far a fill bore's end lies past one radius inside the tank's wall, [mm]: never tangent to it."""


@dataclass(frozen=True, slots=True)
class FillBore:
    """A fill bore in plan, [mm]: from its mouth to its end in the tank; both are its foot on front and back."""

    mouth: Point
    end: Point
    radius: float


def tank_corner_radius(panel: Panel) -> float:
    """Return the corner radius of a pocket tank, [mm]: no tighter than the cutter, nor than a cord likes."""
    size = panel.tank.size or (0.0, 0.0)
    return min(max(CORNER_RADIUS, panel.make.cutter / 2), min(size) / 2)


def outline_posts(tank: PlacedTank) -> Region:
    """Return the outlines of the posts in a pocket tank."""
    return tuple(outline_circle(at, tank.post_diameter / 2) for at in tank.posts)


def pocket_area(tank: PlacedTank) -> float:
    """Return the area of a pocket tank in plan without its posts, [mm2]; 0 for a separate tank."""
    if tank.box is None:
        return 0.0
    x0, y0, x1, y1 = tank.box
    corners = (4 - math.pi) * tank.corner_radius**2
    return (x1 - x0) * (y1 - y0) - corners - len(tank.posts) * math.pi / 4 * tank.post_diameter**2


def find_fill(panel: Panel, box: Box | None) -> FillBore | None:
    """Return the fill bore of a pocket tank that stands at `box`.

    On an edge it stands at the middle of the stretch that the tank's side and the file's `between` (or `at`)
    have in common; on front and back at the top of what the tank and the file's box have in common.

    Parameters
    ----------
    panel : Panel
    box : Box or None
        None: a separate tank, which is not filled through the panel.

    Returns
    -------
    FillBore or None
        None without a fill port, and where the tank at `box` and the file's place for it do not meet:
        `fill_meets` tells the two apart.
    """
    fill = panel.tank.fill
    if fill is None or box is None:
        return None
    radius = tables.thread(fill.thread).tap_drill / 2
    margin = tank_corner_radius(panel) + radius
    x0, y0, x1, y1 = box[0] + margin, box[1] + margin, box[2] - margin, box[3] - margin
    if fill.on not in EDGES:
        x0, y0, x1, y1 = box[0] + radius, box[1] + radius, box[2] - radius, box[3] - radius
        if fill.at is not None:
            x0, y0, x1, y1 = (
                max(x0, fill.at[0]),
                max(y0, fill.at[1]),
                min(x1, fill.at[0]),
                min(y1, fill.at[1]),
            )
        elif fill.within is not None:
            a, b, c, d = fill.within
            x0, y0, x1, y1 = max(x0, a), max(y0, b), min(x1, c), min(y1, d)
        else:
            x0, x1, y1 = x0 + margin, x1 - margin, y1 - margin
        if x0 > x1 + SAME_MM or y0 > y1 + SAME_MM:
            return None
        foot = ((x0 + x1) / 2, y1)
        return FillBore(foot, foot, radius)
    upright = fill.on in ("top", "bottom")
    low, high = (x0, x1) if upright else (y0, y1)
    if fill.between is not None:
        low, high = max(low, fill.between[0]), min(high, fill.between[1])
    elif fill.at is not None:
        along = fill.at[0] if upright else fill.at[1]
        low, high = max(low, along), min(high, along)
    if low > high + SAME_MM:
        return None
    along = (low + high) / 2
    inside = radius + PAST_WALL
    mouth, end = {
        "top": ((along, panel.height), (along, box[3] - inside)),
        "bottom": ((along, 0.0), (along, box[1] + inside)),
        "left": ((0.0, along), (box[0] + inside, along)),
        "right": ((panel.width, along), (box[2] - inside, along)),
    }[fill.on]
    return FillBore(mouth, end, radius)


def fill_meets(panel: Panel, box: Box) -> bool:
    """Return whether the fill port, if the file has one, reaches a tank that stands at `box`."""
    return panel.tank.fill is None or find_fill(panel, box) is not None
