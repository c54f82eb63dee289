"""What stays over all tilts, and the tilts that help."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from geom.frame import Vec
from geom.wet.staying import count_staying, find_runs
from geom.wet.voxels import WetVoxels
from layouts.basin import Basin, volume_under
from layouts.feed import pocket_basin
from layouts.filling.left import STEP_SHARE, TINY_MM3, voxels_of
from layouts.filling.openings import air_links, coolant_links, exits_of, vents_of
from layouts.filling.pocket_limits import CLEARED_SHARE, TILT_GAIN_MM3
from layouts.filling.values import Opening, Tilt, TiltMap
from layouts.installed import rise_along
from layouts.panel import Panel
from layouts.plan import Routed

DEGREES = tuple(7.5 * step for step in range(-6, 7))
"""Tilts of the map about both axes, [deg]."""

FEW_DEGREES = (-30.0, 0.0, 30.0)
"""Those that a plan tries, [deg]."""

SAME_MM3 = 200.0
"""Volumes that differ by less are as good as each other, [mm3]: some drops; common practice, no source."""

FLAT_SINE = 1e-6
"""Part of the panel's normal beside `up` under which the panel lies flat, [-]."""


@dataclass(frozen=True, slots=True)
class AtTilt:
    """What stays at one tilt, [mm3], and whether the tank, filled to its level, keeps its outlet and its fill port."""

    air_mm3: float
    coolant_mm3: float
    tank_stays: bool


def tilted_up(up: Vec, tilt: Tilt) -> Vec:
    """Return which way is up in the panel's frame once it is tilted from how it is installed.

    Parameters
    ----------
    up : (float, float, float)
        As installed: a unit vector.
    tilt : Tilt

    Notes
    -----
    Forwards is where the front face looks; where the panel lies flat, towards its lower edge (its upper one, where it
    lies on its front). To the right is as seen by someone who looks at the panel from there.
    """
    x, y, z = up
    across = math.hypot(x, y)
    if across > FLAT_SINE:
        forward: Vec = (-z * x / across, -z * y / across, across)
    else:
        forward = (0.0, -1.0 if z > 0 else 1.0, 0.0)
    # To the right of someone who faces the panel: up crossed with the way towards him.
    right: Vec = (
        y * forward[2] - z * forward[1],
        z * forward[0] - x * forward[2],
        x * forward[1] - y * forward[0],
    )
    a, b = math.radians(tilt.right), math.radians(tilt.front)
    turned = tuple(
        math.cos(b) * (math.cos(a) * up[k] - math.sin(a) * right[k]) - math.sin(b) * forward[k]
        for k in range(3)
    )
    return (turned[0], turned[1], turned[2])


def map_tilts(
    panel: Panel,
    routed: Routed,
    voxels: WetVoxels,
    openings: Sequence[Opening],
    tank: np.ndarray,
    degrees: Sequence[float] = DEGREES,
) -> TiltMap:
    """Return what stays over all tilts.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    voxels : WetVoxels
        Of the same panel.
    openings : sequence of Opening
        Of these voxels.
    tank : numpy.ndarray
        (n,) bool: voxels of the pocket tank.
    degrees : sequence of float
        Tilts about each axis, [deg], small to large; with 0 among them.
    """
    look = look_at_tilts(panel, routed, voxels, openings, tank)
    shape = (len(degrees), len(degrees))
    air, coolant, stays = np.zeros(shape), np.zeros(shape), np.ones(shape, bool)
    for row, column, tilt in _list_tilts(degrees):
        at = look(tilt)
        air[row, column], coolant[row, column], stays[row, column] = at.air_mm3, at.coolant_mm3, at.tank_stays
    return TiltMap(
        tuple(degrees),
        air,
        coolant,
        stays,
        _best(degrees, np.where(stays, air, np.inf) if stays.any() else air),
        _best(degrees, coolant),
        voxels.spacing,
    )


def look_at_tilts(
    panel: Panel, routed: Routed, voxels: WetVoxels, openings: Sequence[Opening], tank: np.ndarray
) -> Callable[[Tilt], AtTilt]:
    """Return what tells, for any tilt, how much stays.

    Parameters
    ----------
    panel, routed, voxels, openings, tank
        As `map_tilts`.
    """
    basin = pocket_basin(panel, routed)
    fills = tuple(opening for opening in openings if opening.kind == "fill")
    vents, exits = voxels_of(vents_of(openings)), voxels_of(exits_of(openings))
    runs = find_runs(voxels, tank)
    cube = voxels.spacing**3
    depth, count = STEP_SHARE * voxels.spacing, TINY_MM3 / cube

    def look(tilt: Tilt) -> AtTilt:
        up = tilted_up(panel.up, tilt)
        heights = voxels.elevations(up)
        down = -heights
        air = count_staying(runs, down, vents, air_links(openings, down), True, depth, count)
        coolant = count_staying(runs, heights, exits, coolant_links(openings, heights), False, depth, count)
        kept = basin is None or _tank_stays(basin, panel.tank.level * basin.volume, fills, heights, up)
        return AtTilt(air * cube, coolant * cube, kept)

    return look


def turned_by(tilt: Tilt) -> float:
    """Return by how much a tilt turns the panel in all, [deg]."""
    cosine = math.cos(math.radians(tilt.right)) * math.cos(math.radians(tilt.front))
    return math.degrees(math.acos(max(-1.0, min(1.0, cosine))))


def _list_tilts(degrees: Sequence[float]) -> Iterator[tuple[int, int, Tilt]]:
    """Return row, column and tilt of each place of the map."""
    for row, front in enumerate(degrees):
        for column, right in enumerate(degrees):
            yield row, column, Tilt(right, front)


def is_worth(now_mm3: float, then_mm3: float) -> bool:
    """Return whether a tilt that leaves less is worth the trouble.

    Parameters
    ----------
    now_mm3, then_mm3 : float
        What stays as installed and with the tilt, by the same voxels, [mm3].
    """
    return then_mm3 <= CLEARED_SHARE * now_mm3 and now_mm3 - then_mm3 > TILT_GAIN_MM3


def _best(degrees: Sequence[float], stays_mm3: np.ndarray) -> Tilt:
    """Return the smallest tilt with which about as little stays as can; none where that is not worth it."""
    middle = degrees.index(0.0)
    least = float(stays_mm3.min())
    if not is_worth(float(stays_mm3[middle, middle]), least):
        return Tilt(0.0, 0.0)
    good = [
        (round(turned_by(tilt), 6), float(stays_mm3[row, column]), tilt)
        for row, column, tilt in _list_tilts(degrees)
        if stays_mm3[row, column] <= least + SAME_MM3
    ]
    return min(good, key=lambda one: one[:2])[2]


def _tank_stays(basin: Basin, held: float, fills: Sequence[Opening], heights: np.ndarray, up: Vec) -> bool:
    """Return whether what the tank holds covers its outlet and stays under its fill port's mouth."""
    outlet = max(rise_along(up, corner) for corner in basin.rim)
    mouths = [
        float(heights[fill.voxels].min()) if len(fill.voxels) else rise_along(up, fill.at) for fill in fills
    ]
    # Level surfaces through both say as much as the coolant's own, which would have to be searched for.
    return volume_under(basin, up, outlet) <= held and all(
        volume_under(basin, up, mouth) >= held for mouth in mouths
    )
