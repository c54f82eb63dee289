"""Pockets and bores of a set-up put where they lie in their part, the part's lower left corner at the origin."""

from __future__ import annotations

import shapely
import shapely.affinity

from geom.frame import EDGES
from geom.outline import Loop, outline_circle, outline_rectangle, region_polygon
from layouts.milling.frame import SetUpPlane
from layouts.milling.removed import Cut, Level, Slab
from layouts.milling.work import Hole, SetUp

FIT_MM = 0.01
"""A cutter as wide as a slot goes in: regions are shrunk by this much less than its radius, [mm]."""

ROUND_SEGMENTS = 32
"""Chords to a quarter turn where a region is shrunk and grown: their area is short by 4e-4 of a corner's."""


def plane_in_part(setup: SetUp) -> SetUpPlane:
    """Return the plane of a set-up in the frame of its part, whose least corner is the origin, [mm]."""
    (u, v), height = setup.size, setup.height
    if setup.face in ("front", "back"):
        box = (u, v, height)
    elif setup.face in ("top", "bottom"):
        box = (u, height, v)
    else:
        box = (height, u, v)
    return SetUpPlane(setup.face, (0.0, 0.0, 0.0), box)


def blank_of(setups: list[SetUp]) -> Slab:
    """Return the blank of a part from its set-ups: its outline where one cuts it, or else its box, [mm]."""
    for setup in setups:
        if setup.outline is not None and setup.face not in EDGES:
            return place_region(setup, region_polygon((setup.outline,)), 0.0, setup.height)
    width, height, thickness = plane_in_part(setups[0]).high
    box = outline_rectangle(0.0, 0.0, width, height, 0.0)
    return Slab(region_polygon((box,)), 0.0, thickness)


def face_border(setups: tuple[SetUp, ...], setup: SetUp) -> Loop:
    """Return the border of the part's face in the plane of a set-up, [mm].

    Parameters
    ----------
    setups : tuple of SetUp
        One of them cuts the part's outline; without such a one the border is the face's rectangle, as that of an
        edge is.
    setup : SetUp
    """
    if setup.face not in EDGES:
        for other in setups:
            if other.part == setup.part and other.outline is not None:
                return plane_in_part(setup).loop_to_plane(plane_in_part(other).loop_to_panel(other.outline))
    return outline_rectangle(0.0, 0.0, *setup.size, 0.0)


def place_region(setup: SetUp, plan: shapely.Geometry, top: float, floor: float) -> Slab:
    """Return what is cut of a region of the front's or the back's plane, between two depths, [mm]."""
    plane = plane_in_part(setup)
    ends = sorted(plane.to_panel((0.0, 0.0, depth))[2] for depth in (top, floor))
    if setup.face == "back":
        plan = shapely.affinity.affine_transform(plan, (-1.0, 0.0, 0.0, 1.0, plane.high[0], 0.0))
    return Slab(plan, ends[0], ends[1])


def place_bore(setup: SetUp, hole: Hole) -> Cut:
    """Return what a bore cuts, its chamfer aside, [mm]."""
    plane = plane_in_part(setup)
    start, end = (plane.to_panel((*hole.at, depth)) for depth in (hole.top, hole.top + hole.depth))
    radius = hole.diameter / 2
    if setup.face in EDGES:
        return Level(start[:2], end[:2], start[2], radius)
    low, high = sorted((start[2], end[2]))
    # The polygon keeps the circle's area.
    return Slab(region_polygon((outline_circle(start[:2], radius),)), low, high)


def open_region(plan: shapely.Geometry, radius: float) -> shapely.Geometry:
    """Return what a cutter of a radius [mm] sweeps inside a region: less than the whole in its corners."""
    by = radius - FIT_MM
    return shapely.intersection(
        plan.buffer(-by, quad_segs=ROUND_SEGMENTS).buffer(by, quad_segs=ROUND_SEGMENTS), plan
    )
