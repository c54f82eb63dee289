"""Ports at their worst: how near to each other, to the pump's seat, to edges and faces their fittings may come."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geom.frame import EDGES, Vec
from geom.standards import tables
from layouts.clearance import ports_apart
from layouts.faces import cover_name, joints_of
from layouts.milling.work import Milled
from layouts.panel import Panel
from layouts.plan import PlacedPort, Routed
from layouts.tolerances.classes import corner_tolerance, length_tolerance

BODY_FACE = "the body's face"
"""What a collar on an edge may stand over; what else there is stands at `WorstRoom`."""


@dataclass(frozen=True, slots=True)
class WorstRoom:
    """Room for a fitting at its worst.

    Parameters
    ----------
    port : str
    beside : str
        Another port, "the pump's seat", "the panel's edge", "the body's face" or "the end of its edge's straight".
    for_what : {"spanner", "collar"}
    nominal, worst, needed : float
        From the port's axis, [mm].
    at : (float, float, float)
        Midway to the other port; else the port's mouth, [mm].
    """

    port: str
    beside: str
    for_what: str
    nominal: float
    worst: float
    needed: float
    at: Vec


def worst_rooms(panel: Panel, routed: Routed, milled: Milled | None) -> tuple[WorstRoom, ...]:
    """Return the room of each fitting at its worst: each pair on one face, and the tightest other, [mm].

    Parameters
    ----------
    panel : Panel
    routed : Routed
    milled : Milled or None
        Tells whether the panel's outline is cut in one set-up with the ports.
    """
    rooms = []
    for k, a in enumerate(routed.ports):
        for b in routed.ports[k + 1 :]:
            if a.on != b.on:
                continue
            apart = math.dist(a.at, b.at)
            needs = ports_apart(tables.thread(a.thread), tables.thread(b.thread))
            x, y, z = ((p + q) / 2 for p, q in zip(a.at, b.at, strict=True))
            worst = apart - length_tolerance(panel, apart)
            rooms.append(WorstRoom(a.name, f'"{b.name}"', "spanner", apart, worst, needs, (x, y, z)))
    outlined = _outlined_with(panel, milled)
    for port in routed.ports:
        seats = _edge_seats(panel, port) if port.on in EDGES else _face_seats(panel, routed, port, outlined)
        collar = tables.thread(port.thread).collar / 2
        beside, room, lost = min(seats, key=lambda seat: seat[1] - seat[2])
        rooms.append(WorstRoom(port.name, beside, "collar", room, room - lost, collar, port.at))
    return tuple(rooms)


def _edge_seats(panel: Panel, port: PlacedPort) -> list[tuple[str, float, float]]:
    """Return what a collar on an edge may reach beyond, how far off it stands, and what that may be off, [mm]."""
    level = port.on in ("top", "bottom")
    along, side = (port.at[0], panel.width) if level else (port.at[1], panel.height)
    straight, body = "the end of its edge's straight", panel.make.body
    corner, place = corner_tolerance(panel, panel.corner_radius), length_tolerance(panel, along)
    far, sheet = place + length_tolerance(panel, side), length_tolerance(panel, body)
    height = length_tolerance(panel, port.at[2])
    if panel.make.method == "printed":
        # One build: each distance is a dimension of its own.
        corner, far, sheet = 0.0, length_tolerance(panel, side - along), 0.0
    return [
        (straight, along - panel.corner_radius, place + corner),
        (straight, side - along - panel.corner_radius, far + corner),
        (BODY_FACE, port.at[2], height),
        (BODY_FACE, body - port.at[2], height + sheet),
    ]


def _face_seats(
    panel: Panel, routed: Routed, port: PlacedPort, outlined: frozenset[str]
) -> list[tuple[str, float, float]]:
    """The same for a collar on the front or the back."""
    x, y, _ = port.at
    together = panel.make.method == "printed" or port.on in outlined
    seats = []
    for from_near, side in ((x, panel.width), (y, panel.height)):
        near, far = from_near, side - from_near
        lost = length_tolerance(panel, near)
        beyond = length_tolerance(panel, far) if together else lost + length_tolerance(panel, side)
        seats += [("the panel's edge", near, lost), ("the panel's edge", far, beyond)]
    pump = panel.pump
    if port.on == pump.on and pump.seat_diameter > 0:
        room = math.dist((x, y), routed.pump.inlet) - pump.seat_diameter / 2
        seats.append(("the pump's seat", room, length_tolerance(panel, room)))
    return seats


def _outlined_with(panel: Panel, milled: Milled | None) -> frozenset[str]:
    """Return the faces whose set-up cuts the outline of the part that ports on them stand in."""
    parts: dict[str, str] = {layer: cover_name(layer) for layer in joints_of(panel)}
    return frozenset(
        setup.face
        for setup in (() if milled is None else milled.setups)
        if setup.outline is not None and setup.part == parts.get(setup.face, "body")
    )
