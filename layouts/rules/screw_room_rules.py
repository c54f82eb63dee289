"""Whether the cover screws' heads and washers have room on their face.

A hexagon key comes from outside, straight onto the head: only what stands on the same face is in its way.
"""

from __future__ import annotations

import math

import shapely

from geom.features import Detail
from geom.findings import Finding, Severity
from geom.outline import Point, loop_polygon
from geom.standards import tables
from layouts.closing.head_room import list_face_things
from layouts.detail import SHADOW_SAG
from layouts.faces import face_z, joints_of
from layouts.panel import Panel
from layouts.plan import Layer, Routed, Sealed
from layouts.rules.findings import make_finding
from layouts.strength.screw_hole import OVER_EDGE, footprint_diameter

Spot = tuple[float, Point, str, Severity, float]
"""Room that is missing [mm], the screw, what is in the way, how bad that is, room that is needed [mm]."""


def check_screw_room(panel: Panel, routed: Routed, sealed: Sealed, detail: Detail) -> tuple[Finding, ...]:
    """Ask whether the heads of the cover screws have room on their face (`screw.room`), cover by cover.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    sealed : Sealed
    detail : Detail
    """
    if panel.make.closing != "cord":
        return ()
    found = []
    for layer in joints_of(panel):
        spots = _tight_spots(panel, routed, detail, layer, sealed.screws_of(layer))
        if not spots:
            continue
        faults = [spot for spot in spots if spot[3] == "fault"]
        missing, at, beside, severity, need = max(faults or spots)
        places = {spot[1] for spot in spots if spot[3] == severity}
        count = "one cover screw is" if len(places) == 1 else f"{len(places)} cover screws are"
        found.append(
            make_finding(
                "screw.room",
                severity,
                f"{count} too near what else is on that face: the one at ({at[0]:.0f}, {at[1]:.0f}) mm is "
                f"{need - missing:.3g} mm from {beside}, {need:.3g} mm are needed",
                "keep that place clear with a [[keep_clear]], leave more room for screws, or use a smaller screw",
                need - missing,
                need,
                "mm",
                (*at, face_z(panel, layer)),
            )
        )
    return tuple(found)


def _tight_spots(
    panel: Panel, routed: Routed, detail: Detail, layer: Layer, screws: tuple[Point, ...]
) -> list[Spot]:
    """Return the screws of a cover whose head or washer is too near something."""
    if not screws:
        return []
    head, washer = tables.screw(panel.make.screw).head_diameter / 2, footprint_diameter(panel) / 2
    spots: list[Spot] = []

    def need(room: float, at: Point, beside: str, least: float, severity: Severity) -> None:
        if room < least - SHADOW_SAG:
            spots.append((least - room, at, beside, severity, least))

    points = shapely.points(screws)
    edge = loop_polygon(detail.blanks[0].loop, SHADOW_SAG).exterior
    for at, room in zip(screws, shapely.distance(points, edge).tolist(), strict=True):
        need(room, at, "the edge", max(head, washer - OVER_EDGE), "caution")
    for thing in list_face_things(panel, routed, layer):
        for at, room in zip(screws, shapely.distance(points, thing.shape).tolist(), strict=True):
            meets = room < thing.least - SHADOW_SAG
            need(room, at, thing.where, thing.off, "fault" if meets else "caution")
    for number, at in enumerate(screws):
        for other in screws[:number]:
            apart = math.dist(at, other)
            need(apart, at, "the next screw", 2 * washer, "fault" if apart < 2 * head else "caution")
    return spots
