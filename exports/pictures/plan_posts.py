"""The tank's posts and its filling level, as the plan picture shows them."""

from __future__ import annotations

import math

import shapely

from exports.pictures.closing_symbols import GROOVE
from exports.pictures.plan_symbols import FINE, SHEET, SHORE, draw_region
from exports.pictures.svg import View
from geom.outline import Point, track_loops
from layouts.clearance import clearances_of, tank_z
from layouts.closing.post_cords import post_loops
from layouts.feed import cold_surface
from layouts.plan import Plan
from layouts.tank import outline_posts

UPRIGHT = 0.5
"""Least part of `up` in the panel's plane for which a level is drawn as a line, [-]."""

INSET = 2.0
"""Between the line of the level and the tank's sides, [mm]."""


def draw_posts(plan: Plan, view: View) -> list[str]:
    """Draw the posts that stand in the tank, each with its groove."""
    out = [draw_region((post,), view, SHEET, SHORE, 2.0) for post in outline_posts(plan.routed.tank)]
    for loop in post_loops(plan.panel, plan.routed.tank.posts, clearances_of(plan.panel)):
        outer, inner = track_loops(loop.path, loop.closed, loop.groove_width)
        out.append(draw_region((outer,), view, GROOVE, FINE, 0.8))
        if inner is not None:
            out.append(draw_region((inner,), view, SHEET, FINE, 0.8))
    return out


def draw_level(plan: Plan, view: View) -> list[str]:
    """Draw the tank's cold filling level where it is seen as a line."""
    level = find_level(plan)
    if level is None:
        return []
    start, end = (view.xy(at) for at in level)
    return [f'<path d="M{start}L{end}" stroke="{SHEET}" stroke-width="1.4" stroke-dasharray="6 4"/>']


def find_level(plan: Plan) -> tuple[Point, Point] | None:
    """Return both ends of the cold coolant's surface across a pocket tank, at its mid-depth, [mm].

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    tuple of (float, float) or None
        None where the tank is separate, where it has no outlet, and where the panel rather lies than stands: its
        surface is seen from above then.
    """
    panel, box = plan.panel, plan.routed.tank.box
    surface = cold_surface(panel, plan.routed)
    across = math.hypot(panel.up[0], panel.up[1])
    if box is None or surface is None or across < UPRIGHT:
        return None
    ahead = (panel.up[0] / across, panel.up[1] / across)
    off = (surface - panel.up[2] * sum(tank_z(panel)) / 2) / across
    middle = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
    lift = off - middle[0] * ahead[0] - middle[1] * ahead[1]
    x, y = middle[0] + lift * ahead[0], middle[1] + lift * ahead[1]
    reach = math.dist(box[:2], box[2:])
    level = shapely.LineString(
        [
            (x - reach * ahead[1], y + reach * ahead[0]),
            (x + reach * ahead[1], y - reach * ahead[0]),
        ]
    )
    inside = level.intersection(shapely.box(*box))
    if inside.is_empty or inside.length <= 2 * INSET:
        return None
    start, end = inside.interpolate(INSET), inside.interpolate(inside.length - INSET)
    return (start.x, start.y), (end.x, end.y)


def post_squares(plan: Plan, view: View) -> list[tuple[float, float, float, float]]:
    """Return the squares round the posts, for labels to keep off, in picture units."""
    half = plan.routed.tank.post_diameter / 2 * view.scale + 1.0
    centres: list[Point] = [view.to(at) for at in plan.routed.tank.posts]
    return [(x - half, y - half, x + half, y + half) for x, y in centres]
