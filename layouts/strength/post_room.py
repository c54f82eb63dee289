"""Where posts may stand in a pocket tank."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from geom.frame import ROUNDING, SAME_MM
from geom.outline import region_polygon
from layouts.clearance import clearances_of
from layouts.closing.screw_room import EDGE, Obstacle, find_room
from layouts.closing.wet_regions import outline_channel, outline_tank
from layouts.detail import SHADOW_SAG, name_port
from layouts.installed import find_feed
from layouts.outlines import outline_bore
from layouts.panel import Panel
from layouts.plan import Routed

CUTTER_ROOM = 1.0
"""What a way is wider than the cutter that passes it, [mm]; common practice, no source."""

STEP = 2.5
"""Least distance of the places tried for a post, [mm]."""

MOST_PLACES = 300
"""Places tried at most, about: in a larger pocket they stand farther apart."""


@dataclass(frozen=True, slots=True)
class PostRoom:
    """Where the axes of posts may stand.

    Parameters
    ----------
    places : (n, 2) float
        [mm]; rows from the lowest up.
    preferred : (n,) bool
        Those where a post stands clear of the way straight down to the outlet.
    apart : float
        Least distance between two axes, [mm].
    way : float
        Least way round a post, for the cutter and for coolant, [mm].
    fits : bool
        Whether a post and its ways would fit between the walls, were there nothing else.
    obstacles : tuple of str
        Names of what else takes room from posts.
    """

    places: np.ndarray
    preferred: np.ndarray
    apart: float
    way: float
    fits: bool
    obstacles: tuple[str, ...]


def find_post_room(panel: Panel, routed: Routed, diameter: float) -> PostRoom:
    """Return where posts may stand in the pocket tank.

    The cutter passes between posts and walls, and half of the outlet's width of coolant on either side of each. The
    outlet's mouth stays free by its own bore; mouths of other channels and of ports by a way. The screw clears
    whatever lies over the tank.

    Parameters
    ----------
    panel : Panel
        Closed by a cord.
    routed : Routed
        With a pocket tank.
    diameter : float
        Of a post, [mm].

    Returns
    -------
    PostRoom
        Places stand on a grid about the tank's middle.
    """
    half = diameter / 2
    way = max(panel.make.cutter + CUTTER_ROOM, panel.tank.outlet_bore / 2)
    pocket = region_polygon((outline_tank(routed, 0.0),), SHADOW_SAG)
    within = pocket.buffer(-(half + way))
    obstacles = [one for one in _list_obstacles(panel, routed, half, way) if one.shape.intersects(within)]
    free = within.difference(shapely.union_all([one.shape for one in obstacles]))
    places = _lay_grid(routed, within)
    # Outlines are coarse: a place on the rim counts as free.
    inside = (
        shapely.dwithin(shapely.points(places), free, SAME_MM) if len(places) else np.zeros(0, dtype=bool)
    )
    places = places[inside]
    feed = find_feed(routed)
    mouth = panel.tank.outlet_bore if feed is None else feed.width
    preferred = np.abs(places[:, 0] - routed.tank.outlet[0]) >= mouth / 2 + half - SAME_MM
    return PostRoom(
        places,
        preferred,
        diameter + way,
        way,
        not within.is_empty,
        tuple(dict.fromkeys(one.name for one in obstacles)),
    )


def _lay_grid(routed: Routed, within: shapely.Geometry) -> np.ndarray:
    """Return points on a grid about the tank's middle that cover a region's box, (n, 2) [mm]."""
    if within.is_empty or routed.tank.box is None:
        return np.empty((0, 2))
    x0, y0, x1, y1 = routed.tank.box
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    low_x, low_y, high_x, high_y = within.bounds
    wide, tall = high_x - low_x, high_y - low_y
    step = max(STEP, math.ceil(2 * math.sqrt(wide * tall / MOST_PLACES)) / 2)

    def reach(length: float) -> np.ndarray:
        count = math.floor(length / 2 / step + ROUNDING)
        return np.arange(-count, count + 1) * step

    x, y = np.meshgrid(middle[0] + reach(wide), middle[1] + reach(tall))
    return np.column_stack((x.ravel(), y.ravel()))


def _list_obstacles(panel: Panel, routed: Routed, half: float, way: float) -> list[Obstacle]:
    """Return what posts of that radius keep off besides the walls: what opens into the tank, and what screws do."""
    obstacles = []
    feed = find_feed(routed)
    for channel in routed.channels:
        room = max(way, panel.tank.outlet_bore) if channel is feed else way
        loops = outline_channel(channel, 0.0)
        if loops:
            outline = region_polygon(loops, SHADOW_SAG)
            obstacles.append(Obstacle(f"channel {channel.name}", outline.buffer(half + room)))
    for port in routed.ports:
        if port.channel == "tank":
            room = outline_bore(port).buffer(half + way)
            obstacles.append(Obstacle(name_port(port), room))
    screw = find_room(panel, routed, (), clearances_of(panel))
    obstacles += [one for one in screw.obstacles if one.name not in (EDGE, "tank")]
    return obstacles
