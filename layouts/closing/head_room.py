"""What stands on a cover's face beside its screws: the fittings with their spanners, and the pump."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from geom.standards import tables
from layouts.panel import Panel
from layouts.plan import Layer, Routed
from layouts.strength.screw_hole import footprint_diameter


@dataclass(frozen=True, slots=True)
class FaceThing:
    """What a screw's head keeps off.

    Parameters
    ----------
    name : str
        "port drain", "the pump".
    where : str
        What of it a head is too near: "the axis of port drain, whose spanner swings there".
    shape : shapely.Geometry
        In plan, [mm].
    off : float
        Least distance of a screw's axis, so that all can be mounted and tightened, [mm].
    least : float
        Distance under which head and thing meet, [mm].
    """

    name: str
    where: str
    shape: shapely.Geometry
    off: float
    least: float


def list_face_things(panel: Panel, routed: Routed, layer: Layer) -> tuple[FaceThing, ...]:
    """Return what stands on a cover's outer face.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    layer : {"back", "front"}
        Whose joint the cover closes.

    Returns
    -------
    tuple of FaceThing
        The ports in their order, the pump.

    Source
    ------
    Collar: DIN 3852-2; spanner: common practice, no source.
    """
    head, washer = tables.screw(panel.make.screw).head_diameter / 2, footprint_diameter(panel) / 2
    things = []
    for port in routed.ports:
        if port.on == layer:
            thread = tables.thread(port.thread)
            collar = thread.collar / 2
            off = max(thread.spanner_radius + head, collar + washer)
            name = f"port {port.name}"
            where = f"the axis of {name}, whose spanner swings there"
            things.append(FaceThing(name, where, shapely.Point(port.at[:2]), off, collar + head))
    if panel.pump.on == layer:
        things.append(FaceThing("the pump", "the pump", outline_pump(panel, routed), head, head))
    return tuple(things)


def outline_pump(panel: Panel, routed: Routed) -> shapely.Geometry:
    """Return what the pump covers of its face at least, [mm]: its seat, and all between the heads of its screws."""
    pump, parts = panel.pump, []
    if pump.seat_diameter > 0:
        parts.append(shapely.Point(routed.pump.inlet).buffer(pump.seat_diameter / 2))
    if pump.screw_size is not None and routed.pump.screws:
        rim = tables.screw(pump.screw_size).head_diameter / 2
        parts.append(shapely.MultiPoint(routed.pump.screws).convex_hull.buffer(rim))
    return shapely.union_all(parts)
