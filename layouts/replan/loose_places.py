"""A panel as far as it is known without routes: each thing where the file puts it, or lets it stand.

What the file leaves free stands where the last layout had it, as far as it still may; else amid its box or span. It
stands in for a layout where there is none: for what is drawn, for the places that a thing may have, and for the first
layout while something is dragged.
"""

from __future__ import annotations

import math

from geom.errors import RillplateError
from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from geom.standards import tables
from layouts.as_routed import place_fill_port, place_port
from layouts.clearance import edge_mouth, feed_width, ports_apart
from layouts.explain import find_port_middle
from layouts.faces import face_z
from layouts.grid import Grid, grid_of, node_inside
from layouts.ground import port_feet, survey_panel
from layouts.laid_out import LaidOut
from layouts.nets import FEED, channels_needed
from layouts.panel import Box, Panel, Port
from layouts.place import Placement, make_pump_place
from layouts.plan import Channel, Layer, PlacedPort, PlacedPump, PlacedTank, Routed
from layouts.replan.hold_place import hold_places
from layouts.tank import tank_corner_radius

UNROUTED = "nothing is routed"


def lay_loosely(panel: Panel, before: LaidOut | None) -> LaidOut:
    """Return what stands in for a layout of a panel that has none.

    Parameters
    ----------
    panel : Panel
    before : LaidOut or None
        Of the panel before it was changed; None where it never had a layout.

    Returns
    -------
    LaidOut
        Without channels and at no cost that another could beat; nothing of it is verified. Of a panel that was read
        this is always there.
    """
    grid = grid_of(panel)
    placement = _place_both(panel, grid, None if before is None else before.placement)
    routed = Routed(
        ports=_place_ports(panel, grid, placement, before),
        tank=PlacedTank(placement.box, placement.top, tank_corner_radius(panel)),
        pump=PlacedPump(placement.inlet, placement.outlet, placement.turn_deg, placement.screws),
        channels=(),
        cost=math.inf,
        bound=None,
        gap=None,
        status=UNROUTED,
    )
    return LaidOut(routed, placement, (), (), grid)


def _place_both(panel: Panel, grid: Grid, before: Placement | None) -> Placement:
    """Return tank and pump: as near to where each stood, else to amid its box, as they can stand together."""
    amid = _place_amid(panel, grid, before)
    try:
        return next(hold_places(survey_panel(panel), amid), amid)
    except RillplateError:
        return amid


def _place_amid(panel: Panel, grid: Grid, before: Placement | None) -> Placement:
    """Return tank and pump each for itself: where it stood if the file lets it, else amid its box."""
    pump, tank = panel.pump, panel.tank
    seat, turn, inlet = pump.seat_diameter / 2, pump.turns[0], pump.at
    if before is not None and before.turn_deg in pump.turns:
        turn = before.turn_deg
    if inlet is None and before is not None and pump.within is not None:
        x, y = before.inlet
        if _holds(pump.within, (x - seat, y - seat, x + seat, y + seat)):
            inlet = before.inlet
    stands = make_pump_place(panel, inlet or node_inside(panel, _middle(pump.within or _whole(panel))), turn)
    box: Box | None = None
    if tank.outlet is not None:
        stood = None if before is None else before.top
        top = _place_foot(panel, grid, tank.outlet, feed_width(panel), [], stood)
    else:
        width, height = tank.size or (0.0, 0.0)
        corner = tank.at
        if corner is None and before is not None and before.box is not None:
            x, y = before.box[:2]
            if _holds(tank.within or _whole(panel), (x, y, x + width, y + height)):
                corner = (x, y)
        if corner is None:
            x, y = _middle(tank.within or _whole(panel))
            corner = node_inside(panel, (x - width / 2, y - height / 2), (width, height))
        box = (*corner, corner[0] + width, corner[1] + height)
        # The feed leaves the tank straight above the pump, as far as they let it.
        top = (min(max(stands.inlet[0], box[0]), box[2]), box[1])
    return Placement(stands.inlet, stands.outlet, turn, stands.screws, box, top, 0.0)


def _place_ports(
    panel: Panel, grid: Grid, placement: Placement, before: LaidOut | None
) -> tuple[PlacedPort, ...]:
    """Return the file's ports in the order of a layout's: free ones beside each other and those that are pinned."""
    stood = {} if before is None else {port.name: port for port in before.routed.ports}
    asked = [
        (need.name, end.port) for need in channels_needed(panel) for end in need.ends if end.port is not None
    ]
    placed: dict[str, PlacedPort] = {}
    for name, port in sorted(asked, key=lambda one: _is_free(one[1])):
        width = feed_width(panel) if name == FEED else panel.channel.width_of(name)
        foot, old = placement.top, stood.get(port.name)
        if port != panel.tank.outlet:
            foot = _place_foot(panel, grid, port, width, list(placed.values()), old.foot if old else None)
        # Of two layers none is known but that of the layout before.
        layer = "back" if old is None else old.layer
        placed[port.name] = _stand_port(panel, port, foot, name, width, layer)
    ports = [placed[port.name] for _, port in asked]
    if panel.tank.fill is not None and placement.box is not None:
        ports.append(_stand_fill(panel, placement, panel.tank.fill))
    return tuple(ports)


def _is_free(port: Port) -> bool:
    return port.at is None


def _place_foot(
    panel: Panel, grid: Grid, port: Port, width: float, beside: list[PlacedPort], before: Point | None
) -> Point:
    """Return where a port's axis meets its channel's end: where it stood if it may, else amid its box or span."""
    middle = find_port_middle(panel, port)
    feet = [grid.point_of(cell) for cell, _ in port_feet(panel, grid, port, width)]
    feet.sort(key=lambda foot: (round(math.dist(edge_mouth(panel, port.on, foot), middle), 6), foot))
    stood = [before for foot in feet if before is not None and math.dist(foot, before) < SAME_MM]
    for foot in (*stood, *feet):
        if all(_apart(panel, port, foot, other) for other in beside):
            return foot
    return (*stood, *feet, node_inside(panel, middle))[0]


def _apart(panel: Panel, port: Port, foot: Point, other: PlacedPort) -> bool:
    """Return whether fittings of one face do not hide each other."""
    if port.on != other.on:
        return True
    least = ports_apart(tables.thread(port.thread), tables.thread(other.thread)) - SAME_MM
    return math.dist(edge_mouth(panel, port.on, foot), other.at[:2]) >= least


def _stand_port(panel: Panel, port: Port, foot: Point, name: str, width: float, layer: Layer) -> PlacedPort:
    channel = Channel(name, (), (), (), (), width, panel.channel.depth, panel.channel.bend_radius)
    try:
        return place_port(panel, port, foot, channel, layer)
    except RillplateError:
        return _stand_anyhow(panel, port, foot, name)


def _stand_fill(panel: Panel, placement: Placement, fill: Port) -> PlacedPort:
    """Return the fill port: where it meets the tank, else amid what the file lets it have."""
    try:
        return place_fill_port(panel, placement, fill)
    except RillplateError:
        return _stand_anyhow(panel, fill, find_port_middle(panel, fill), "tank")


def _stand_anyhow(panel: Panel, port: Port, foot: Point, name: str) -> PlacedPort:
    """Return a port of which only the place in plan is known: the body has no room for it, or it misses the tank."""
    z = panel.make.body / 2 if port.on in EDGES else face_z(panel, port.on)
    at = (*edge_mouth(panel, port.on, foot), z)
    return PlacedPort(port.name, port.part, port.role, port.thread, port.on, at, foot, name, 0.0)


def _whole(panel: Panel) -> Box:
    return 0.0, 0.0, panel.width, panel.height


def _middle(box: Box) -> Point:
    return (box[0] + box[2]) / 2, (box[1] + box[3]) / 2


def _holds(box: Box, inner: Box) -> bool:
    low = all(a - SAME_MM <= b for a, b in zip(box[:2], inner[:2], strict=True))
    return low and all(b <= a + SAME_MM for a, b in zip(box[2:], inner[2:], strict=True))
