"""Coolant in a box with posts that stands askew: where its surface is, and how far the box may be tilted."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product
from typing import Literal

from geom.frame import Vec
from geom.outline import Point
from layouts.installed import rise_along

Side = Literal["left", "right", "front", "back"]

MOST_TILT_DEG = 90.0
"""No larger tilt is looked at: a panel on its edge or its face."""

STEP_DEG = 3.0
"""Step of the first look for the tilt that bares an opening, [deg]."""

HALVINGS = 40

LEVEL_SHARE = 1e-4
"""An edge of the box that rises by a smaller share of its whole height counts as level.

The volume under the surface is a difference of cubes over the product of the edges' rises, which leaves too few
digits where two rises vanish; a level edge is put at the height of its middle, which errs by its square.
"""


@dataclass(frozen=True, slots=True)
class Basin:
    """A box in the panel's frame, and the corners of an opening in its wall, [mm].

    `posts` are the axes of round posts along z, from its floor to its cover, `post_radius` theirs.
    """

    low: Vec
    size: Vec
    rim: tuple[Vec, ...]
    posts: tuple[Point, ...] = ()
    post_radius: float = 0.0

    @property
    def volume(self) -> float:
        """Volume of the box less its posts, [mm3]."""
        section = self.size[0] * self.size[1] - len(self.posts) * math.pi * self.post_radius**2
        return section * self.size[2]


def volume_under(basin: Basin, up: Vec, height: float) -> float:
    """Return the volume of the part of the box, less its posts, that lies under a level surface.

    Parameters
    ----------
    basin : Basin
    up : (float, float, float)
        Unit vector, [-].
    height : float
        Of the surface along `up`, [mm].

    Returns
    -------
    float
        [mm3]

    Source
    ------
    A corner that a plane cuts off a box is a simplex; inclusion and exclusion over the box's corners. For the
    posts, `_post_under`.
    """
    return _box_under(basin, up, height) - math.fsum(_post_under(basin, at, up, height) for at in basin.posts)


def _box_under(basin: Basin, up: Vec, height: float) -> float:
    """Return the volume of the part of the whole box that lies under a level surface, [mm3]."""
    rises = [abs(part) * size for part, size in zip(up, basin.size, strict=True)]
    under = height - _lowest(basin, up)
    whole = sum(rises)
    steep = [rise for rise in rises if rise > LEVEL_SHARE * whole]
    under -= (whole - sum(steep)) / 2
    if under <= 0:
        return 0.0
    whole_box = math.prod(basin.size)
    if under >= sum(steep):
        return whole_box
    order = len(steep)
    cut = 0.0
    for taken in product((0, 1), repeat=order):
        left = under - sum(rise for rise, take in zip(steep, taken, strict=True) if take)
        if left > 0:
            cut += (-1) ** sum(taken) * left**order
    share = cut / (math.factorial(order) * math.prod(steep))
    return whole_box * min(1.0, share)


def _post_under(basin: Basin, at: Point, up: Vec, height: float) -> float:
    """Return the volume of the part of a post that lies under a level surface, [mm3].

    Each level section of the post is a disc of which the surface leaves a segment; the segment's area has a closed
    integral along the post.
    """
    across, radius, deep = math.hypot(up[0], up[1]), basin.post_radius, basin.size[2]
    foot = height - up[0] * at[0] - up[1] * at[1] - up[2] * basin.low[2]
    rise = up[2] * deep
    if across * radius <= LEVEL_SHARE * abs(rise):
        # The surface lies level across the post.
        wet = max(0.0, min(deep, foot / up[2] if rise > 0 else deep - foot / up[2]))
        return math.pi * radius**2 * wet
    if abs(rise) <= LEVEL_SHARE * across * radius:
        return _segment_area(radius, (foot - rise / 2) / across) * deep
    start, end = foot / across, (foot - rise) / across
    return (_segment_integral(radius, start) - _segment_integral(radius, end)) * across / up[2]


def _segment_area(radius: float, reach: float) -> float:
    """Return the area of the part of a disc on one side of a line `reach` beyond its centre, [mm2]."""
    t = max(-radius, min(radius, reach))
    return radius**2 * (math.pi / 2 + math.asin(t / radius)) + t * math.sqrt(radius**2 - t**2)


def _segment_integral(radius: float, reach: float) -> float:
    """Return the integral of `_segment_area` over the reach, from where it is nothing, [mm3]."""
    t = max(-radius, min(radius, reach))
    root = math.sqrt(radius**2 - t**2)
    inside = radius**2 * (math.pi * t / 2 + t * math.asin(t / radius) + root) - root**3 / 3
    return inside + math.pi * radius**2 * max(0.0, reach - radius)


def find_surface(basin: Basin, up: Vec, volume: float) -> float:
    """Return the height along `up` at which a volume of coolant stands in the box.

    Parameters
    ----------
    basin : Basin
    up : (float, float, float)
        Unit vector, [-].
    volume : float
        [mm3]; from 0 to that of the box.

    Returns
    -------
    float
        [mm]
    """
    low = _lowest(basin, up)
    high = low + sum(abs(part) * size for part, size in zip(up, basin.size, strict=True))
    if volume <= 0:
        return low
    if volume >= basin.volume:
        return high
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if volume_under(basin, up, middle) < volume:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def volume_under_rim(basin: Basin, up: Vec) -> float:
    """Return the volume that stays in the box for its surface lies under the opening's lowest edge, [mm3].

    Parameters
    ----------
    basin : Basin
    up : (float, float, float)
        Unit vector, [-].

    Returns
    -------
    float
        [mm3]
    """
    return volume_under(basin, up, min(rise_along(up, corner) for corner in basin.rim))


def tilt_until_bare(basin: Basin, up: Vec, volume: float, side: Side) -> float:
    """Return how far the box may be tilted to one side until its opening is no longer wholly covered.

    Parameters
    ----------
    basin : Basin
    up : (float, float, float)
        Before tilting, unit vector, [-].
    volume : float
        Coolant in the box, which tilting does not change, [mm3].
    side : {"left", "right", "front", "back"}
        The side that goes down.

    Returns
    -------
    float
        [deg]; 0 where the opening is bare before tilting, 90 where no tilt up to that bares it.
    """
    if not _covers(basin, up, volume):
        return 0.0
    covered, bare = 0.0, 0.0
    for step in range(1, round(MOST_TILT_DEG / STEP_DEG) + 1):
        bare = step * STEP_DEG
        if not _covers(basin, turn_up(up, side, bare), volume):
            break
        covered = bare
    else:
        return MOST_TILT_DEG
    for _ in range(HALVINGS):
        middle = (covered + bare) / 2
        if _covers(basin, turn_up(up, side, middle), volume):
            covered = middle
        else:
            bare = middle
    return covered


def turn_up(up: Vec, side: Side, angle_deg: float) -> Vec:
    """Return `up` in the panel's frame when the panel is tilted to a side.

    Parameters
    ----------
    up : (float, float, float)
        Before tilting, [-].
    side : {"left", "right", "front", "back"}
        The side that goes down: about the panel's z for left and right, about its x for front and back.
    angle_deg : float
        [deg]

    Returns
    -------
    (float, float, float)
        [-]
    """
    x, y, z = up
    angle = math.radians(angle_deg if side in ("left", "front") else -angle_deg)
    cos, sin = math.cos(angle), math.sin(angle)
    if side in ("left", "right"):
        return (x * cos + y * sin, y * cos - x * sin, z)
    return (x, y * cos + z * sin, z * cos - y * sin)


def _covers(basin: Basin, up: Vec, volume: float) -> bool:
    highest = max(rise_along(up, corner) for corner in basin.rim)
    return volume >= basin.volume or volume_under(basin, up, highest) < volume


def _lowest(basin: Basin, up: Vec) -> float:
    return rise_along(up, basin.low) + sum(
        min(0.0, part) * size for part, size in zip(up, basin.size, strict=True)
    )
