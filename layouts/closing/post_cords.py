"""Posts in a pocket tank: how large they are, and the cord on each.

A post is a round island of the body with a cover screw in its middle. The screw's hole passes the cover, and coolant
stands all round, so each post has a cord of its own about the hole.
"""

from __future__ import annotations

import math

from geom.frame import ROUNDING
from geom.outline import Arc, Point
from geom.standards import tables
from layouts.clearance import Clearances, clearances_of
from layouts.closing.cords import CORNER_SECTIONS
from layouts.closing.gland import squeezed_width
from layouts.panel import Panel
from layouts.plan import CordLoop
from layouts.strength.screw_hole import clearance_hole, hole_wall, screw_hole

DIAMETER_STEP = 0.1
"""Diameters of posts are whole multiples of it, [mm]."""


def cord_radius(panel: Panel) -> float:
    """Return the radius of the inner wall of a post's groove, [mm].

    The cord turns no tighter than anywhere else, the least wall stands round the screw's hole in the cover, and its
    hole in the body, for an insert too, has the material round it that it needs.

    Parameters
    ----------
    panel : Panel
        Closed by a cord.

    Returns
    -------
    float
    """
    passage, (hole, _) = clearance_hole(panel), screw_hole(panel)
    return max(
        CORNER_SECTIONS * panel.make.cord,
        passage / 2 + panel.rules.least_wall,
        hole / 2 + hole_wall(panel),
    )


def post_diameter(panel: Panel) -> float:
    """Return the diameter of a post, [mm]: its groove and the land outside of it.

    Parameters
    ----------
    panel : Panel
        Closed by a cord.

    Returns
    -------
    float
    """
    gaps = clearances_of(panel)
    least = 2 * (cord_radius(panel) + gaps.groove_width + gaps.land)
    return round(DIAMETER_STEP * math.ceil(least / DIAMETER_STEP - ROUNDING), 6)


def post_loops(panel: Panel, posts: tuple[Point, ...], clearances: Clearances) -> tuple[CordLoop, ...]:
    """Return the cords on the posts of a pocket tank, in the order of the posts.

    Parameters
    ----------
    panel : Panel
    posts : tuple of (float, float)
        [mm]
    clearances : Clearances

    Returns
    -------
    tuple of CordLoop
        "groove of post 1" and so on: circles, clockwise, for what is wet lies outside of them.
    """
    if not posts:
        return ()
    radius = cord_radius(panel) + clearances.groove_width / 2
    squeezed = squeezed_width(tables.cord(panel.make.cord))
    return tuple(
        CordLoop(
            name=f"groove of post {number}",
            region="tank",
            path=(Arc(at, radius, 0.0, -2 * math.pi),),
            groove_width=clearances.groove_width,
            cord_width=squeezed,
        )
        for number, at in enumerate(posts, start=1)
    )
