"""Where the screws and pins of a split's joint stand: clear of all that is cut, and on both sides of every ring."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

import shapely

from geom.features import Feature
from geom.frame import SAME_MM, Vec
from geom.outline import loop_polygon, outline_rectangle
from geom.standards import tables
from layouts.detail import SHADOW_SAG, cast_shadow
from layouts.panel import Box, Panel
from layouts.printing.printed import JointScrew, ScrewWell
from layouts.printing.split_features import PIN_DIAMETER, PIN_LENGTH, PIN_PLAY
from layouts.printing.split_planes import Plane, along_of
from layouts.printing.split_ring import Ring
from layouts.printing.split_screws import WellSize, find_axis_z

STEP = 1.0
"""Between the places that are tried along the plane, [mm]."""

KEY_WAY = 30.0
"""How far a key reaches over the face behind its well, [mm]; no pump may stand there."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A screw: its axis in the plane, and its well."""

    at: Vec
    well: ScrewWell

    def along(self, plane: Plane) -> float:
        """Where it lies along the plane, [mm]."""
        return along_of(plane.axis, self.at[:2])[1]


@dataclass(frozen=True, slots=True)
class Ground:
    """What the panel leaves for the joint's screws and pins, wherever the plane is.

    `inside` is the panel less the least wall along its edge. `front`, `back` and `whole` are what screws under the
    front face, screws under the back face, and pins keep off, grown by the least wall; `standing` is where a key
    cannot pass in front of each face; [mm].
    """

    inside: shapely.Geometry
    front: shapely.Geometry
    back: shapely.Geometry
    whole: shapely.Geometry
    standing: dict[str, shapely.Geometry] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Site:
    """The surroundings of one joint: `rings` are what the rings take of the plan, grown by the least wall, [mm]."""

    panel: Panel
    plane: Plane
    ground: Ground
    rings: shapely.Geometry


def survey_ground(panel: Panel, cut: tuple[Feature, ...], depth: float) -> Ground:
    """Return what the panel leaves for wells of a depth and for pins.

    Parameters
    ----------
    panel : Panel
    cut : tuple of Feature
        All that is cut but for the joint.
    depth : float
        Of the wells under their face, [mm].

    Returns
    -------
    Ground
    """
    wall, body = panel.rules.least_wall, panel.make.body
    shadows = [cast_shadow(feature.shape) for feature in cut]
    clear = [shapely.box(*one.box) for one in panel.keep_clear]

    def keep_off(z0: float, z1: float) -> shapely.Geometry:
        met = [shadow for shadow, low, high in shadows if low < z1 + wall and high > z0 - wall]
        off = shapely.union_all([*met, *clear]).buffer(wall + SHADOW_SAG)
        shapely.prepare(off)
        return off

    outline = loop_polygon(outline_rectangle(0.0, 0.0, panel.width, panel.height, panel.corner_radius))
    inside = outline.buffer(-wall)
    shapely.prepare(inside)
    pump = [s for f, (s, _, _) in zip(cut, shadows, strict=True) if f.name.startswith("pump ")]
    middle, pin = body / 2, PIN_DIAMETER / 2
    return Ground(
        inside,
        keep_off(body - depth, body),
        keep_off(0.0, depth),
        keep_off(middle - pin, middle + pin),
        {panel.pump.on: shapely.union_all(pump).convex_hull},
    )


def survey_site(panel: Panel, plane: Plane, ground: Ground, ring: Ring | None) -> Site:
    """Return the surroundings of a joint.

    Parameters
    ----------
    panel : Panel
    plane : Plane
    ground : Ground
    ring : Ring or None
        Round each crossing.

    Returns
    -------
    Site
    """
    rings = []
    if ring is not None:
        places = [along_of(plane.axis, one.at[:2])[1] for one in plane.crossings]
        rings = [_box(plane, -ring.depth, ring.depth, at - ring.outer, at + ring.outer) for at in places]
    return Site(panel, plane, ground, shapely.union_all(rings).buffer(panel.rules.least_wall - SAME_MM))


def place_screws(
    site: Site, joint: JointScrew, size: WellSize, ring: Ring | None, reach: float
) -> tuple[Placed, ...] | str:
    """Return screws on both sides of every ring, each side's as near as it can be.

    Parameters
    ----------
    site : Site
    joint : JointScrew
    size : WellSize
    ring : Ring or None
        Without one, two screws near the quarters of the plane.
    reach : float
        How far a screw may stand from the ring's middle, [mm].

    Returns
    -------
    tuple of Placed or str
        In order along the plane; or where none has room.
    """
    plane = site.plane
    placed: list[Placed] = []
    if ring is None:
        long = _along_length(site)
        for along in (long / 4, 3 * long / 4):
            tries = (along + side * k * STEP for k in range(int(long / 4 / STEP)) for side in (1, -1))
            one = _first(site, joint, size, placed, tries)
            if one is None:
                return f"no screw has room beside {plane.axis} = {plane.at:g} mm"
            placed.append(one)
        return _ordered(placed, plane)
    hole = tables.screw(joint.name).clearance / 2
    for crossing in plane.crossings:
        middle = along_of(plane.axis, crossing.at[:2])[1]
        for side in (-1, 1):
            if any(0 < (one.along(plane) - middle) * side <= reach for one in placed):
                continue
            near = math.ceil((ring.outer + site.panel.rules.least_wall + hole) / STEP) * STEP
            steps = range(int((reach - near) / STEP) + 1)
            one = _first(site, joint, size, placed, (middle + side * (near + k * STEP) for k in steps))
            if one is None:
                beside = {("x", 1): "above", ("x", -1): "below", ("y", 1): "right of", ("y", -1): "left of"}
                return (
                    f"no {joint.name} screw with its well has room {beside[plane.axis, side]} the ring round channel "
                    f"{crossing.channel} at {plane.axis} = {plane.at:g} mm"
                )
            placed.append(one)
    _hold_ends(site, joint, size, placed, reach)
    return _ordered(placed, plane)


def _hold_ends(site: Site, joint: JointScrew, size: WellSize, placed: list[Placed], reach: float) -> None:
    """Add a screw near either end of the plane where none stands within twice the reach of it and one has room."""
    long, plane = _along_length(site), site.plane
    for end, side in ((0.0, 1), (long, -1)):
        nearest = min(abs(one.along(plane) - end) for one in placed)
        if nearest <= 2 * reach:
            continue
        tries = (end + side * k * STEP for k in range(1, int(nearest / 2 / STEP)))
        one = _first(site, joint, size, placed, tries)
        if one is not None:
            placed.append(one)


def place_pins(site: Site, placed: tuple[Placed, ...]) -> tuple[Vec, ...]:
    """Return the middles of two pins far apart, [mm]; none where only one has room.

    Parameters
    ----------
    site : Site
    placed : tuple of Placed
        The screws.
    """
    plane, panel = site.plane, site.panel
    half, deep = PIN_DIAMETER / 2, PIN_LENGTH / 2 + PIN_PLAY
    screws = _footprints(site, placed)
    count = int(_along_length(site) / STEP)
    found = []
    for order in (range(1, count), range(count - 1, 0, -1)):
        for k in order:
            box = _box(plane, -deep, deep, k * STEP - half, k * STEP + half)
            if _is_free(site, site.ground.whole, screws, box):
                found.append((*along_of(plane.axis, (plane.at, k * STEP)), panel.make.body / 2))
                break
    if len(found) < 2 or sum(abs(a - b) for a, b in zip(found[0], found[1], strict=True)) < 4 * PIN_DIAMETER:
        return ()
    return tuple(found)


def _ordered(placed: list[Placed], plane: Plane) -> tuple[Placed, ...]:
    return tuple(sorted(placed, key=lambda one: one.along(plane)))


def _along_length(site: Site) -> float:
    return site.panel.height if site.plane.axis == "x" else site.panel.width


def _box(plane: Plane, back: float, ahead: float, low: float, high: float) -> shapely.Polygon:
    """Return the rectangle from `back` to `ahead` of the plane, from `low` to `high` along it, [mm]."""
    return shapely.box(*_corners(plane, back, ahead, low, high))


def _corners(plane: Plane, back: float, ahead: float, low: float, high: float) -> Box:
    x0, y0 = along_of(plane.axis, (plane.at + back, low))
    x1, y1 = along_of(plane.axis, (plane.at + ahead, high))
    return x0, y0, x1, y1


def _first(
    site: Site, joint: JointScrew, size: WellSize, placed: list[Placed], tries: Iterator[float]
) -> Placed | None:
    """Return the first screw that has room."""
    taken = _footprints(site, tuple(placed))
    faces: tuple[Literal["front", "back"], ...] = ("front", "back")
    for along in tries:
        for on in faces:
            for forward in (True, False):
                one = _try(site, joint, size, taken, along, on, forward)
                if one is not None:
                    return one
    return None


def _try(
    site: Site,
    joint: JointScrew,
    size: WellSize,
    taken: shapely.Geometry,
    along: float,
    on: Literal["front", "back"],
    forward: bool,
) -> Placed | None:
    plane, side = site.plane, -1 if forward else 1
    near, far = side * joint.flange, side * (joint.flange + size.length)
    low, high = along - size.width / 2, along + size.width / 2
    well = _corners(plane, min(near, far), max(near, far), low, high)
    radius = tables.screw(joint.name).clearance / 2
    ends = sorted((near, -side * joint.hole_depth))
    bore = _box(plane, ends[0], ends[1], along - radius, along + radius)
    whole = shapely.union(shapely.box(*well), bore)
    if not _is_free(site, site.ground.front if on == "front" else site.ground.back, taken, whole):
        return None
    way = _corners(plane, min(near, far + side * KEY_WAY), max(near, far + side * KEY_WAY), low, high)
    if on in site.ground.standing and site.ground.standing[on].intersects(shapely.box(*way)):
        return None
    body = site.panel.make.body
    z0, z1 = (body - size.depth, body) if on == "front" else (0.0, size.depth)
    at = (*along_of(plane.axis, (plane.at, along)), find_axis_z(site.panel, size, on == "front"))
    return Placed(at, ScrewWell(well, z0, z1, on, forward))


def _is_free(site: Site, off: shapely.Geometry, taken: shapely.Geometry, area: shapely.Geometry) -> bool:
    return bool(
        site.ground.inside.contains(area)
        and not off.intersects(area)
        and not site.rings.intersects(area)
        and not taken.intersects(area)
    )


def _footprints(site: Site, placed: tuple[Placed, ...]) -> shapely.Geometry:
    """Return what the screws that stand take in plan, with the least wall round it; their bores on both sides."""
    boxes = []
    for one in placed:
        boxes.append(shapely.box(*one.well.box))
        x0, y0, x1, y1 = one.well.box
        (low, _), (high, _) = along_of(site.plane.axis, (x0, y0)), along_of(site.plane.axis, (x1, y1))
        deep = max(abs(low - site.plane.at), abs(high - site.plane.at))
        along = one.along(site.plane)
        half = min(x1 - x0, y1 - y0) / 2
        boxes.append(_box(site.plane, -deep, deep, along - half, along + half))
    return shapely.union_all(boxes).buffer(site.panel.rules.least_wall - SAME_MM)
