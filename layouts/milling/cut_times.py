"""How long one cut takes: closed forms over speeds and feeds, [min]; an estimate, told with its band."""

from __future__ import annotations

import math

from geom.frame import ROUNDING
from layouts.milling.cutting_data import CuttingData, Running
from layouts.milling.drilling import tip_height

TIME_BAND = 0.4
"""What the whole may take more or less, as a share [-]; common practice, no source."""

SETUP_MIN = 15.0
"""To clamp a part and set the machine's zero, [min].

Source: a simple job in a vice takes 15 to 30 min, myshopmetrics.com/resources/cost-estimation, section 2; the low end,
as flat sheets are clamped.
"""

PRESS_SETUP_MIN = 5.0
"""To make a drill press ready for one edge, [min]; common practice, no source."""

PRESS_HOLE_MIN = 3.0
"""To mark, align and clamp for one hole on a drill press, [min]; common practice, no source."""

HAND_TAP_MIN = 2.0
"""To tap one thread by hand, [min]; common practice, no source."""

CHANGE_MIN = 2.0
"""To change a tool by hand and measure its length, [min]; common practice, no source."""

RAPID_MM_MIN = 5000.0
"""Speed of moves that cut nothing, [mm/min]; common practice, no source."""

CLEAR = 5.0
"""How high over the part a tool moves, [mm]; common practice, no source."""

PLUNGE_SHARE = 1 / 3
"""Feed into the material, as a share of the feed along it, [-]; common practice, no source."""

FINISH_DEPTH = 1.0
"""Depth of a finishing pass along a wall, in cutter diameters, [-]; common practice, no source."""

FIRST_PECK, NEXT_PECK = 3.0, 1.0
"""Depths after which a drill is lifted to clear its chips, in diameters, [-]; a hole deeper than three diameters
counts as a deep one: drill guide, scribd.com 329300769, deep hole drilling; the rest common practice, no source."""

DWELL_MIN = 2.0 / 60.0
"""A countersink turns on at its depth for so long, [min]; common practice, no source."""


def count_steps(whole: float, step: float) -> int:
    """Return how many equal steps of at most `step` make up `whole`, [mm]; at least one."""
    return max(1, math.ceil(whole / step - ROUNDING))


def width_of_cut(area: float, perimeter: float, diameter: float, data: CuttingData) -> float:
    """Return the mean width of the cuts that clear a pocket side by side, [mm].

    Parameters
    ----------
    area : float
        Of the pocket in plan, [mm2].
    perimeter : float
        Of all its outlines, islands included, [mm].
    diameter : float
        Of the cutter, [mm].
    data : CuttingData

    Returns
    -------
    float
        [mm]: the slot's whole width where one pass cuts it. Twice area over perimeter is the width of a long slot,
        and for wider pockets what passes along their outlines, one inside another, clear in the mean.
    """
    width = 2.0 * area / perimeter
    passes = 1 + (count_steps(width - diameter, data.width_share * diameter) if width > diameter else 0)
    return width / passes


def time_rough(
    volume: float, width: float, depth: float, diameter: float, data: CuttingData, run: Running
) -> float:
    """Return the time to rough a pocket, [min]: volume over width of cut, depth of cut and feed, and the way in.

    Parameters
    ----------
    volume : float
        To be taken, [mm3].
    width : float
        Of the cut, [mm]; see `width_of_cut`.
    depth : float
        Of the pocket, [mm].
    diameter : float
        [mm]
    data : CuttingData
    run : Running

    Returns
    -------
    float
        [min]
    """
    levels = count_steps(depth, data.depth_share * diameter)
    return volume / (width * depth / levels * run.feed_mm_min) + depth / (PLUNGE_SHARE * run.feed_mm_min)


def time_finish(perimeter: float, depth: float, diameter: float, run: Running) -> float:
    """Return the time to finish walls, [min]: their length [mm], once for each pass of one diameter of depth [mm]."""
    return perimeter * count_steps(depth, FINISH_DEPTH * diameter) / run.feed_mm_min


def time_outline(perimeter: float, height: float, diameter: float, data: CuttingData, run: Running) -> float:
    """Return the time to cut a part out along its outline, [min]: a slot, level by level, and a finishing pass.

    The cutter's centre runs half a diameter outside the outline, which makes its way pi diameters longer [mm]; all of
    that at the corners.
    """
    way = perimeter + math.pi * diameter
    levels = count_steps(height, data.depth_share * diameter)
    finish = count_steps(height, FINISH_DEPTH * diameter)
    return way * (levels + finish) / run.feed_mm_min + height / (PLUNGE_SHARE * run.feed_mm_min)


def time_drill(diameter: float, depth: float, through: bool, run: Running) -> float:
    """Return the time to drill one hole, [min]: its depth over the feed, and the lifts that clear its chips, [mm]."""
    depth += tip_height(diameter) if through else 0.0
    deep = depth - FIRST_PECK * diameter
    lifts = count_steps(deep, NEXT_PECK * diameter) if deep > 0.0 else 0
    return depth / run.feed_mm_min + lifts * 2.0 * depth / RAPID_MM_MIN


def time_chamfer(chamfer: float, run: Running) -> float:
    """Return the time to countersink one mouth by a chamfer [mm], [min]."""
    return chamfer / run.feed_mm_min + DWELL_MIN


def time_tap(depth: float, run: Running) -> float:
    """Return the time to tap one thread of a depth [mm] on the machine, [min]: in and out at the thread's lead."""
    return 2.0 * depth / run.feed_mm_min


def time_move(distance: float) -> float:
    """Return the time to lift, to move a distance [mm] over the part and to come down again, [min]."""
    return (distance + 2.0 * CLEAR) / RAPID_MM_MIN
