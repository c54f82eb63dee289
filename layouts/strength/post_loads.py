"""What pulls on the screws of posts in a pocket tank, before any other screw is placed."""

from __future__ import annotations

import math

import numpy as np
import shapely

from geom.outline import Arc, Point
from geom.standards import tables
from layouts.clearance import Clearances, clearances_of
from layouts.closing.gland import greatest_line_load
from layouts.closing.post_cords import post_loops
from layouts.closing.screw_room import groove_inset
from layouts.closing.spacing import limit_spacing
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.strength.fastening import KEEP_CLOSED, holding, share_loads
from layouts.strength.screw_hole import fit_screw

ESTIMATED = 1.05
"""What is counted over the estimated pull, [-]: with the screws as placed it was up to 3 % more on four samples."""


def pull_on_posts(panel: Panel, routed: Routed, posts: tuple[Point, ...]) -> float:
    """Return the pull on the most loaded post's screw at the test pressure, [N].

    As for all screws, each piece of cord and of pressed cover hangs on the nearest one. The screws round the tank are
    taken in an even row beside its cord, as far apart as the cover allows.

    Parameters
    ----------
    panel : Panel
        Closed by a cord.
    routed : Routed
        With a pocket tank; the posts in it play no part.
    posts : tuple of (float, float)
        [mm]

    Returns
    -------
    float
        0 without posts.
    """
    box, gaps = routed.tank.box, clearances_of(panel)
    if box is None or not posts:
        return 0.0
    off = gaps.land + gaps.groove_width / 2
    x0, y0, x1, y1 = box
    loops = post_loops(panel, posts, gaps)
    islands = [
        shapely.Point(arc.centre).buffer(arc.radius)
        for loop in loops
        for arc in loop.path
        if isinstance(arc, Arc)
    ]
    pressed = shapely.box(x0 - off, y0 - off, x1 + off, y1 + off).difference(shapely.union_all(islands))
    screws = (*posts, *_row_round(panel, gaps, box))
    load = greatest_line_load(tables.cord(panel.make.cord))
    pulls = share_loads(screws, loops, load, pressed, panel.rules.test_pressure_pa * 1e-6)
    return float(pulls[: len(posts)].max())


def overload(panel: Panel, routed: Routed, posts: tuple[Point, ...], hottest_c: float | None = None) -> int:
    """Return 0 where a post's screw bears what it is asked for, 1 where it bears its pull alone, 2 where not even that.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    posts : tuple of (float, float)
        [mm]
    hottest_c : float or None
        Warmest coolant that the plan knows of, [°C]; None: the file's.
    """
    warm = panel.coolant.temperature_c if hottest_c is None else hottest_c
    bears = min(holding(panel, fit_screw(panel), warm))
    pull = ESTIMATED * pull_on_posts(panel, routed, posts)
    return (KEEP_CLOSED * pull > bears) + (pull > bears)


def _row_round(panel: Panel, gaps: Clearances, box: tuple[float, float, float, float]) -> tuple[Point, ...]:
    """Return screws in an even row round the tank, [mm]."""
    off = gaps.seal_reach + groove_inset(panel, gaps)
    x0, y0, x1, y1 = box
    rim = shapely.box(x0 - off, y0 - off, x1 + off, y1 + off).exterior
    count = max(4, math.ceil(rim.length / limit_spacing(panel)[0]))
    points = shapely.line_interpolate_point(rim, np.arange(count) * rim.length / count)
    return tuple((float(point.x), float(point.y)) for point in points)
