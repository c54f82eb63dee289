"""Everything between body and covers: cords and their grooves, and the screws that hold them down."""

from __future__ import annotations

import numpy as np
import shapely

from geom.outline import Point
from geom.standards import tables
from layouts.clearance import Clearances
from layouts.closing.bond import bond_lands
from layouts.closing.cords import seal_panel
from layouts.closing.post_cords import post_loops
from layouts.closing.screw_room import wet_shadows
from layouts.closing.screws import Screwed, cord_points, place_screws
from layouts.closing.spacing import LEAST_DIAMETERS, limit_spacing
from layouts.panel import Panel
from layouts.plan import CordLoop, Layer, Routed, Sealed
from layouts.strength.fastening import KEEP_CLOSED, holding, pull_screws
from layouts.strength.screw_hole import fit_screw

MOST_AGAIN = 6
"""So often a cover's screws are placed anew where one is loaded too much; mostly one or two do."""

NEARER = 0.95
"""Spacing that is tried over that at which the load, in proportion, would just be borne: screws stand unevenly."""


def close_panel(
    panel: Panel, routed: Routed, clearances: Clearances, hottest_c: float | None = None
) -> Sealed:
    """Return the cords round all that is wet and the screws of each cover, or the lands of a bonded one.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    clearances : Clearances
    hottest_c : float or None
        Warmest coolant that the plan knows of, [°C]; None: the file's.

    Returns
    -------
    Sealed
    """
    if panel.make.closing == "bonded":
        return Sealed((), (), lands=bond_lands(panel, routed))
    loops = (*seal_panel(panel, routed, clearances), *post_loops(panel, routed.tank.posts, clearances))
    if not loops:
        return Sealed((), ())
    warm = panel.coolant.temperature_c if hottest_c is None else hottest_c
    bears = min(holding(panel, fit_screw(panel), warm))
    back = _place_for_load(panel, routed, loops, clearances, bears, "back", (), routed.tank.posts)
    covers = [back]
    if panel.channel.layers == 2:
        covers.append(_place_for_load(panel, routed, loops, clearances, bears, "front", back.screws, ()))
    front = covers[1].screws if len(covers) == 2 else ()
    coverage = tuple(cover.coverage for cover in covers if cover.coverage is not None)
    return Sealed(loops, back.screws, front, coverage)


def _place_for_load(
    panel: Panel,
    routed: Routed,
    loops: tuple[CordLoop, ...],
    clearances: Clearances,
    bears_n: float,
    layer: Layer,
    facing: tuple[Point, ...],
    fixed: tuple[Point, ...],
) -> Screwed:
    """Return a cover's screws, closer than the cover asks for where one would be loaded too much.

    The load of a screw falls about with the spacing, so the cord that hangs on it asks for nearer screws. Those that
    stand already count for nothing here: others hardly change what they bear. Of all that was tried the one is taken
    whose screws bear what they are asked for, else the one whose screws bear the pull alone, else the first; the fewest
    screws of those.
    """
    own = tuple(loop for loop in loops if loop.layer == layer)
    points = cord_points(own)
    spacing = limit_spacing(panel, layer)[0]
    least = min(1.0, LEAST_DIAMETERS * tables.screw(panel.make.screw).diameter / spacing)
    share = np.ones(len(points))
    wet = shapely.union_all([shadow for _, shadow in wet_shadows(panel, routed, layer)])
    tried: list[tuple[int, Screwed]] = []
    for _ in range(MOST_AGAIN + 1):
        screwed = place_screws(panel, routed, loops, clearances, layer, facing, fixed, share)
        if bears_n <= 0.0 or len(screwed.screws) == len(fixed):
            return screwed
        asked = KEEP_CLOSED * pull_screws(panel, screwed.screws, own, wet)
        asked[: len(fixed)] = 0.0
        most = float(asked.max())
        # A small step may move no screw; where two do not, there is no room.
        stuck = len(tried) > 1 and all(screwed.screws == before.screws for _, before in tried[-2:])
        tried.append(((most > bears_n) + (most > bears_n * KEEP_CLOSED), screwed))
        # In proportion to the spacing, even the closest would leave more pull than a screw bears.
        hopeless = most * least > KEEP_CLOSED * bears_n
        if most <= bears_n or stuck or hopeless:
            break
        nearest = shapely.STRtree(shapely.points(screwed.screws)).nearest(shapely.points(points))
        over = np.maximum(1.0, asked / (NEARER * bears_n) * (asked > bears_n))[nearest]
        share = np.maximum(least, share / over)
    return min(tried, key=lambda one: (one[0], len(one[1].screws)))[1]
