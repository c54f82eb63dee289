"""Whether a printed panel is split, where, and how the joint is sealed and held; or why it cannot be.

The strength of the joint is an estimate: each ring's push is shared by the nearest screw on either side, as on a beam,
and grows by the lever of a screw that stands off mid-thickness.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from geom.features import Feature
from geom.standards import tables
from layouts.detail import cut_openings, cut_pump_screws
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.printing.printed import ChannelRoof, JointScrew, Printed, Split
from layouts.printing.printer_room import fits_whole
from layouts.printing.split_places import Ground, Placed, place_pins, place_screws, survey_ground, survey_site
from layouts.printing.split_planes import Plane, along_of, find_planes
from layouts.printing.split_ring import Ring, deepest_groove, find_ring, ring_load
from layouts.printing.split_screws import WellSize, list_screws, size_well
from layouts.strength.fastening import FRICTION, KEEP_CLOSED
from layouts.strength.threads import tightening_torque

REACH_BODIES = 1.0
"""How far a screw may stand from a ring's outer side, in thicknesses of the body: a block as thick as that carries its
load there without bending; common practice, no source."""

COVERED = "the cords under its cover would cross the plane, and no cord seals where three faces meet"


@dataclass(frozen=True, slots=True)
class SplitRefused:
    """Why a panel that is too large for the printer is not split: a clause for a sentence."""

    reason: str


def split_print(
    panel: Panel, routed: Routed, warmest_c: float | None = None, laid: Printed | None = None
) -> Split | SplitRefused | None:
    """Return where and how a panel is split, why it cannot be, or None where it fits the printer whole.

    Parameters
    ----------
    panel : Panel
        A printed one.
    routed : Routed
    warmest_c : float or None
        Warmest coolant that the plan knows of, [°C]; that of the file where None.
    laid : Printed or None
        How it lies, with the roofs over its channels; all flat where None.

    Returns
    -------
    Split or SplitRefused or None
    """
    if fits_whole(panel):
        return None
    if panel.make.closing != "one-piece":
        return SplitRefused(COVERED)
    planes = find_planes(panel, routed, panel.rules.least_wall + deepest_groove())
    if isinstance(planes, str):
        return SplitRefused(planes)
    openings = cut_openings(panel, routed, laid)
    cut = (*openings, *cut_pump_screws(panel, routed, openings))
    warm = panel.coolant.temperature_c if warmest_c is None else warmest_c
    grounds: dict[float, Ground] = {}
    roofs = () if laid is None else laid.roofs
    first = ""
    for plane in planes:
        joint = _join(panel, plane, cut, warm, roofs, grounds)
        if isinstance(joint, Split):
            return joint
        first = first or joint
    return SplitRefused(first)


def _join(
    panel: Panel,
    plane: Plane,
    cut: tuple[Feature, ...],
    warm: float,
    roofs: tuple[ChannelRoof, ...],
    grounds: dict[float, Ground],
) -> Split | str:
    """Return the split at a plane with its joint, or what the joint lacks; `grounds` keeps what depth leaves."""
    ring: Ring | None = None
    if plane.crossings:
        found = find_ring(panel, plane.crossings, roofs)
        if isinstance(found, str):
            return found
        ring = found
        lacking = _crowded(panel, plane, ring)
        if lacking:
            return lacking
    push = 0.0 if ring is None else sum(ring_load(panel.rules.test_pressure_pa * 1e-6, ring))
    # No screw of a pair carries less than half of a ring's push at the most loaded of the two.
    least = KEEP_CLOSED * push / 2
    screws = list_screws(panel, warm, least)
    if not screws:
        return f"the threads in {panel.make.material} hold too little for a ring's push of {push:.0f} N"
    first = ""
    for screw in screws:
        size = size_well(panel, screw)
        if size is None:
            first = (
                first
                or f"a body of {panel.make.body:g} mm is too thin for an {screw.name} screw across the plane"
            )
            continue
        if size.depth not in grounds:
            grounds[size.depth] = survey_ground(panel, cut, size.depth)
        site = survey_site(panel, plane, grounds[size.depth], ring)
        reach = (0.0 if ring is None else ring.outer) + REACH_BODIES * panel.make.body
        placed = place_screws(site, screw, size, ring, reach)
        if isinstance(placed, str):
            # The next screw is longer or thicker, and its well larger.
            return first or placed
        loads = share_push(panel, plane, placed, push, size)
        asked = KEEP_CLOSED * max(loads)
        if asked > screw.holds_n:
            first = first or (
                f"each {screw.name} screw of the joint would need {asked:.0f} N, its thread holds {screw.holds_n:.0f} N"
            )
            continue
        # Where no ring pushes, the screws are still tightened: to half of what they hold.
        preload = max(asked, screw.holds_n / 2)
        return _make_split(plane, ring, screw, placed, loads, preload, place_pins(site, placed))
    return first


def share_push(
    panel: Panel, plane: Plane, placed: tuple[Placed, ...], push: float, size: WellSize
) -> tuple[float, ...]:
    """Return what pulls on each screw of a joint, [N].

    Parameters
    ----------
    panel : Panel
    plane : Plane
    placed : tuple of Placed
        In order along the plane.
    push : float
        Of each ring, at mid-thickness, [N].
    size : WellSize

    Source
    ------
    Statics: a load between two supports is shared by the lever rule, `a / (a + b)`; across the thickness the joint
    tips about the face next to the screws, so that they carry half a thickness over their own depth as much.
    """
    loads = [0.0] * len(placed)
    lever = panel.make.body / 2 / size.axis
    places = [one.along(plane) for one in placed]
    for crossing in plane.crossings:
        middle = along_of(plane.axis, crossing.at[:2])[1]
        below = max(k for k, at in enumerate(places) if at < middle)
        span = places[below + 1] - places[below]
        loads[below] += lever * push * (places[below + 1] - middle) / span
        loads[below + 1] += lever * push * (middle - places[below]) / span
    return tuple(loads)


def _crowded(panel: Panel, plane: Plane, ring: Ring) -> str:
    """Return what keeps the rings apart too little, or too near to an edge; empty where nothing does."""
    wall, high = panel.rules.least_wall, panel.height if plane.axis == "x" else panel.width
    places = sorted((along_of(plane.axis, one.at[:2])[1], one.channel) for one in plane.crossings)
    where = f"at {plane.axis} = {plane.at:g} mm"
    for (a, one), (b, other) in pairwise(places):
        if b - a < 2 * ring.outer + wall:
            return (
                f"{where} channels {one} and {other} cross {b - a:g} mm apart, their rings need "
                f"{math.ceil(10 * (2 * ring.outer + wall)) / 10:g} mm"
            )
    for along, name in places:
        room = min(along, high - along)
        if room < ring.outer + wall:
            needed = f"needs {ring.outer + wall:.1f} mm to the edge, has {room:g} mm"
            return f"{where} the ring round channel {name} {needed}"
    return ""


def _make_split(
    plane: Plane,
    ring: Ring | None,
    screw: JointScrew,
    placed: tuple[Placed, ...],
    loads: tuple[float, ...],
    preload: float,
    pins: tuple[tuple[float, float, float], ...],
) -> Split:
    row = tables.screw(screw.name)
    least, most = (tightening_torque(row, preload, friction) for friction in FRICTION)
    return Split(
        plane.axis,
        plane.at,
        plane.crossings,
        0.0 if ring is None else 2 * ring.outer,
        0.0 if ring is None else ring.depth,
        tuple(one.at for one in placed),
        0.0 if ring is None else 2 * ring.inner,
        0.0 if ring is None else ring.cord,
        tuple(one.well for one in placed),
        screw,
        loads,
        preload,
        (least, most),
        pins,
    )
