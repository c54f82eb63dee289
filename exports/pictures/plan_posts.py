"""The tank's posts and its filling level, as the plan picture shows them."""

from __future__ import annotations

from exports.pictures.closing_symbols import GROOVE
from exports.pictures.plan_symbols import FINE, SHEET, SHORE, draw_region
from exports.pictures.svg import View
from geom.outline import Point, track_loops
from layouts.clearance import clearances_of, tank_z
from layouts.closing.post_cords import post_loops
from layouts.feed import cold_surface
from layouts.plan import Plan
from layouts.tank import outline_posts


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
    """Draw the tank's cold filling level where the panel stands upright."""
    box = plan.routed.tank.box
    if box is None or plan.panel.up[1] <= 0.9:
        return []
    level = find_level(plan)
    start, end = view.xy((box[0] + 2, level)), view.xy((box[2] - 2, level))
    return [f'<path d="M{start}L{end}" stroke="{SHEET}" stroke-width="1.4" stroke-dasharray="6 4"/>']


def find_level(plan: Plan) -> float:
    """Return y of the cold coolant's surface in the middle of a pocket tank, [mm]."""
    panel, box = plan.panel, plan.routed.tank.box
    if box is None:
        raise ValueError("a separate tank has no level in the panel")
    surface = cold_surface(panel, plan.routed)
    if surface is None:
        return box[1] + panel.tank.level * (box[3] - box[1])
    across, up, out = panel.up
    return (surface - across * (box[0] + box[2]) / 2 - out * sum(tank_z(panel)) / 2) / up


def post_squares(plan: Plan, view: View) -> list[tuple[float, float, float, float]]:
    """Return the squares round the posts, for labels to keep off, in picture units."""
    half = plan.routed.tank.post_diameter / 2 * view.scale + 1.0
    centres: list[Point] = [view.to(at) for at in plan.routed.tank.posts]
    return [(x - half, y - half, x + half, y + half) for x, y in centres]
