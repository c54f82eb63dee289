"""Where the covers' screws stand, and how far apart they may be."""

from __future__ import annotations

import math

import numpy as np
import shapely

from geom.frame import INTO, SAME_MM
from geom.outline import Point, outline_rectangle, path_points, region_polygon, track_polygon
from geom.standards import tables
from layouts.clearance import Clearances, widest_section
from layouts.detail import (
    SHADOW_SAG,
    cast_shadow,
    cover_screw_depth,
    cut_openings,
    cut_pump_screws,
    screws_apart,
)
from layouts.faces import joint_z
from layouts.panel import Panel
from layouts.plan import CordLoop, Layer, Routed, SpacingLimit

COVER_SAG = 0.05
"""How far the cover may lift between two screws, [mm]: a quarter of the squeeze margin or less."""

SHARE = 0.8
"""Share of the computed spacing that is used."""

MOST_DIAMETERS, MOST_THICKNESSES = 10, 8
"""Greatest spacing in screw diameters, and in thicknesses of a plastic cover."""

RUBBER_MPA = 5.52
"""Young's modulus of rubber of 70 Shore A after Gent, [MPa]."""

GRID = 2.5
"""Step of the places tried for a screw, [mm]."""

EDGE_STEP = 0.5
"""Step of the places tried near the panel's edges, where the room is narrow, [mm]."""

EDGE_BAND = 1.5
"""Width of the band of fine steps along the edges, [mm]."""

RIM_SHARE = 1.5
"""Spacing along the panel's rim over that along a cord: between cords the rim only has to lie flat."""

CORD_STEP = 1.0
"""Distance of the cord points from which the reach of screws is measured, [mm]."""

HEAD_ROOM = 0.5
"""Clearance round a screw's head, [mm]."""


def cord_line_load(section: float, squeeze: float) -> float:
    """Return the load that presses a unit length of round rubber cord, 70 Shore A, [N/mm].

    Parameters
    ----------
    section : float
        Diameter, [mm].
    squeeze : float
        Compression over diameter, [-].

    Source
    ------
    Lindley, load-compression of rubber O-rings: F/L = d E (1.25 C^1.5 + 50 C^6), recalled, not verified;
    within the published band of 0.88-3.15 N/mm for 1.78 mm, 70 Shore A, 20 %.
    """
    return section * RUBBER_MPA * (1.25 * squeeze**1.5 + 50 * squeeze**6)


def beam_spacing(
    young_mpa: float, strip: float, thickness: float, load_n_mm: float, sag: float = COVER_SAG
) -> float:
    """Return the screw spacing at which a strip of cover lifts by `sag` between two screws, [mm].

    Parameters
    ----------
    young_mpa : float
        [MPa].
    strip, thickness : float
        Width of the strip that bends, its thickness, [mm].
    load_n_mm : float
        Line load, [N/mm].
    sag : float
        [mm].

    Source
    ------
    Beam clamped at both ends: sag = q C^4 / (384 E I) with I = a t^3 / 12.
    """
    return float((32 * young_mpa * strip * thickness**3 * sag / load_n_mm) ** 0.25)


def allowed_spacing(panel: Panel, layer: Layer = "back") -> float:
    """Return the greatest distance between neighbouring cover screws along a cord, as `limit_spacing`, [mm]."""
    return limit_spacing(panel, layer)[0]


def limit_spacing(panel: Panel, layer: Layer = "back") -> tuple[float, SpacingLimit]:
    """Return the greatest distance between neighbouring cover screws along a cord, and what sets it.

    The strip that bends is the groove's width and one cover thickness to each side. It carries the cord at
    its largest squeeze and half of the test pressure on the widest wet span.

    Parameters
    ----------
    panel : Panel
        Closed by a cord.
    layer : {"back", "front"}
        Whose joint the cover closes; the tank opens into the back one only.

    Returns
    -------
    spacing : float
        [mm]
    limit : {"stiffness", "diameters", "thicknesses"}
        The cover's stiffness, 10 screw diameters, or 8 thicknesses of a plastic cover.

    Source
    ------
    Clamped beam C = (32 E a t3 delta/q)^(1/4), as in fastener spacing for gasketed covers, times 0.8; at most 10
    screw diameters, and 8 cover thicknesses in plastics: common practice, no source.
    """
    cord = tables.cord(panel.make.cord)
    screw = tables.screw(panel.make.screw)
    plate = tables.material(panel.make.material)
    thickness = panel.make.cover
    largest = cord.section + cord.tolerance
    pocket = min(panel.tank.size) if panel.tank.size is not None and layer == "back" else 0.0
    span = max(widest_section(panel), pocket)
    pressure_mpa = panel.rules.test_pressure_pa * 1e-6
    load = cord_line_load(largest, 1 - cord.groove_depth / largest) + pressure_mpa * span / 2
    strip = cord.groove_width + 2 * thickness
    limits: list[tuple[float, SpacingLimit]] = [
        (SHARE * beam_spacing(plate.young_mpa, strip, thickness, load), "stiffness"),
        (MOST_DIAMETERS * screw.diameter, "diameters"),
    ]
    if plate.kind == "plastic":
        limits.append((MOST_THICKNESSES * thickness, "thicknesses"))
    return min(limits, key=lambda row: row[0])


def place_screws(
    panel: Panel,
    routed: Routed,
    loops: tuple[CordLoop, ...],
    clearances: Clearances,
    layer: Layer = "back",
    facing: tuple[Point, ...] = (),
) -> tuple[Point, ...]:
    """Return a cover's screws: corners, rim at even spacing, then wherever a cord is too far from one.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    loops : tuple of CordLoop
        Of both joints. Without any, there are no screws; without any in the cover's joint, none inside the rim.
    clearances : Clearances
    layer : {"back", "front"}
        Whose joint the cover closes.
    facing : tuple of (float, float)
        Screws of the other cover, [mm]: kept off where both holes would meet.

    Returns
    -------
    tuple of (float, float)
        [mm]; along the edge counter-clockwise from the lower left corner, then the inner ones by rows.
    """
    if not loops:
        return ()
    loops = tuple(loop for loop in loops if loop.layer == layer)
    places = _free_places(panel, routed, loops, clearances, layer, facing)
    if not len(places):
        return ()
    spacing = allowed_spacing(panel, layer)
    screw = tables.screw(panel.make.screw)
    apart = max(screw.head_diameter + 2 * HEAD_ROOM, 2.5 * screw.diameter)
    outer = _along_edges(places, RIM_SHARE * spacing, apart)
    if not loops:
        return outer
    cord = _cord_points(loops)
    # Between two points the cord may be half a step farther away than they are.
    reach = (spacing - CORD_STEP) / 2
    inner = _where_far(cord, places, outer, reach, apart)
    inner = _without_idle(cord, outer, inner, reach)
    return (*outer, *sorted(inner, key=lambda p: (p[1], p[0])))


def cord_reach(loops: tuple[CordLoop, ...], screws: tuple[Point, ...]) -> tuple[float, Point]:
    """Return the greatest distance from a place of any cord to its nearest screw, and that place, [mm].

    Parameters
    ----------
    loops : tuple of CordLoop
    screws : tuple of (float, float)

    Returns
    -------
    (float, (float, float))
        Infinite without screws; (0, (0, 0)) without cords.
    """
    if not loops:
        return 0.0, (0.0, 0.0)
    points = _cord_points(loops)
    if not screws:
        return math.inf, (float(points[0, 0]), float(points[0, 1]))
    nearest = np.full(len(points), np.inf)
    for x, y in screws:
        np.minimum(nearest, np.hypot(points[:, 0] - x, points[:, 1] - y), out=nearest)
    worst = int(np.argmax(nearest))
    return float(nearest[worst]), (float(points[worst, 0]), float(points[worst, 1]))


def _cord_points(loops: tuple[CordLoop, ...]) -> np.ndarray:
    """Return points along the middle of every groove, (n, 2) [mm]."""
    return np.concatenate([path_points(loop.path, CORD_STEP) for loop in loops])


def _free_places(
    panel: Panel,
    routed: Routed,
    loops: tuple[CordLoop, ...],
    clearances: Clearances,
    layer: Layer,
    facing: tuple[Point, ...],
) -> np.ndarray:
    """Return the places where a screw of a cover hits nothing, (n, 2) [mm]."""
    screw = tables.screw(panel.make.screw)
    wall, depth = clearances.solid_gap, cover_screw_depth(panel)
    through, tapped, head = screw.clearance / 2, screw.tap_drill / 2, screw.head_diameter / 2 + HEAD_ROOM
    blocked = [shapely.box(*k.box).buffer(head) for k in panel.keep_clear]
    for loop in loops:
        groove = track_polygon(loop.path, loop.closed, loop.groove_width, SHADOW_SAG)
        blocked.append(groove.buffer(0).buffer(through + max(1.0, wall / 2) + SHADOW_SAG))
    apart = screws_apart(panel)
    if facing and apart:
        blocked.append(shapely.MultiPoint(facing).buffer(apart + SHADOW_SAG))
    joint, inward = joint_z(panel, layer), INTO[layer][2]
    openings = cut_openings(panel, routed)
    for feature in (*openings, *cut_pump_screws(panel, routed, openings)):
        shadow, z0, z1 = cast_shadow(feature.shape)
        # Heights over the joint, towards the body.
        low, high = sorted(((z0 - joint) * inward, (z1 - joint) * inward))
        if feature.kind in ("channel", "tank") and low < SAME_MM:
            # Its groove keeps screws farther off.
            continue
        room = 0.0
        if high > 0 and low < depth + wall:
            room = tapped + wall
        if low < 0:
            room = max(room, through + wall)
        if layer in feature.opens:
            room = max(room, head)
        if room:
            blocked.append(shadow.buffer(room + SHADOW_SAG))
    plate = region_polygon(
        (outline_rectangle(0.0, 0.0, panel.width, panel.height, panel.corner_radius),), SHADOW_SAG
    )
    inset = max(through + wall, head)
    free = plate.buffer(-inset).difference(shapely.union_all(blocked))
    shapely.prepare(free)
    x, y = np.meshgrid(_steps(panel.width, inset), _steps(panel.height, inset))
    inside = shapely.intersects_xy(free, x.ravel(), y.ravel())
    return np.column_stack((x.ravel()[inside], y.ravel()[inside]))


def _steps(length: float, inset: float) -> np.ndarray:
    """Return the coordinates tried: fine steps from both ends, whole steps of the grid between, [mm]."""
    first = math.ceil(inset / EDGE_STEP - 1e-9) * EDGE_STEP
    near = np.arange(first, first + EDGE_BAND, EDGE_STEP)
    between = np.arange(0.0, length, GRID)
    return np.unique(np.concatenate((near, between, length - near)).round(6))


def _along_edges(places: np.ndarray, spacing: float, apart: float) -> tuple[Point, ...]:
    """Return the free places nearest to the corners and to even divisions of the edges between them."""
    low, high = places.min(axis=0), places.max(axis=0)
    corners = [(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])]
    ideal: list[tuple[float, float]] = []
    for k, (x0, y0) in enumerate(corners):
        x1, y1 = corners[(k + 1) % 4]
        parts = max(1, math.ceil(math.hypot(x1 - x0, y1 - y0) / spacing - 1e-9))
        ideal.extend((x0 + (x1 - x0) * i / parts, y0 + (y1 - y0) * i / parts) for i in range(parts))
    chosen: list[Point] = []
    for x, y in ideal:
        off = np.hypot(places[:, 0] - x, places[:, 1] - y)
        best = int(np.argmin(off.round(6)))
        place = (float(places[best, 0]), float(places[best, 1]))
        if off[best] <= spacing / 4 and all(math.dist(place, other) >= apart for other in chosen):
            chosen.append(place)
    return tuple(chosen)


def _where_far(
    cord: np.ndarray, places: np.ndarray, screws: tuple[Point, ...], reach: float, apart: float
) -> tuple[Point, ...]:
    """Return further screws: as long as a cord point is out of reach, the place that helps it best.

    That is the place within reach of it that brings most points into reach, else the nearest place to it;
    a point that no place helps is given up.
    """
    x, y = np.ascontiguousarray(places.T)
    cord_x, cord_y = np.ascontiguousarray(cord.T)
    # Squared distances: from each cord point to its nearest screw.
    nearest = np.full(len(cord), np.inf)
    free = np.ones(len(places), dtype=bool)
    open_points = np.ones(len(cord), dtype=bool)
    chosen: list[Point] = []

    def settle(screw: Point) -> None:
        np.minimum(nearest, (cord_x - screw[0]) ** 2 + (cord_y - screw[1]) ** 2, out=nearest)
        free[(x - screw[0]) ** 2 + (y - screw[1]) ** 2 < apart**2] = False

    for screw in screws:
        settle(screw)
    while True:
        waiting = np.flatnonzero(open_points & (nearest > reach**2))
        if not len(waiting):
            return tuple(chosen)
        worst = waiting[np.argmax(nearest[waiting].round(6))]
        off = np.where(free, ((x - cord_x[worst]) ** 2 + (y - cord_y[worst]) ** 2).round(6), np.inf)
        near = np.flatnonzero(off <= reach**2)
        if len(near):
            far = waiting[np.abs(cord_x[waiting] - cord_x[worst]) <= 2 * reach]
            served = (
                (x[near, None] - cord_x[None, far]) ** 2 + (y[near, None] - cord_y[None, far]) ** 2
                <= reach**2
            ).sum(axis=1)
            best = near[np.lexsort((near, off[near], -served))[0]]
        else:
            best = np.argmin(off)
            # A place that is hardly nearer than the nearest screw helps nobody.
            if off[best] > (0.9**2) * nearest[worst]:
                open_points[worst] = False
                continue
        chosen.append((float(x[best]), float(y[best])))
        settle(chosen[-1])


def _without_idle(
    cord: np.ndarray, outer: tuple[Point, ...], inner: tuple[Point, ...], reach: float
) -> tuple[Point, ...]:
    """Return the inner screws without those that no cord point needs: others are within reach of each.

    A screw that is the nearest to a point out of everyone's reach stays.
    """
    screws = np.array([*outer, *inner])
    off = np.hypot(cord[:, None, 0] - screws[None, :, 0], cord[:, None, 1] - screws[None, :, 1])
    serves = off <= reach
    far = ~serves.any(axis=1)
    serves[far, off[far].argmin(axis=1)] = True
    served_by = serves.sum(axis=1)
    kept = []
    for k, screw in enumerate(inner, start=len(outer)):
        if (served_by[serves[:, k]] > 1).all():
            served_by -= serves[:, k]
        else:
            kept.append(screw)
    return tuple(kept)
