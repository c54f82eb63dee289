"""Every cut of the plate as a named feature, with what it may touch and which outer face it opens."""

from __future__ import annotations

import shapely

from geom.features import Blank, Cylinder, Detail, Feature, Insert, Prism, Ring, Shape
from geom.frame import INTO, SAME_MM, Face
from geom.outline import (
    outline_circle,
    outline_rectangle,
    region_polygon,
)
from geom.standards import tables
from layouts.clearance import Clearances, channel_z, tank_z
from layouts.nets import PUMP_INLET, PUMP_OUTLET
from layouts.panel import Panel
from layouts.plan import Channel, PlacedPort, Routed, Sealed
from layouts.seal import (
    TANK_ENDS,
    cord_inset,
    corner_fillet,
    group_wet,
    outline_channel,
    outline_tank,
    pump_bores,
)

SPOT_FACE_DEPTH = 0.5
"""Depth of the flat milled for a fitting's collar, [mm]; common practice, no source."""

BELOW_THREAD = 0.5
"""Bore below the thread that the tap needs, in screw diameters; milling guides."""

SHADOW_SAG = 0.05
"""Coarseness of the plan shadows that holes are kept clear of, [mm]; added to the distance kept."""


def detail_panel(panel: Panel, routed: Routed, sealed: Sealed, clearances: Clearances) -> Detail:
    """Return blanks, features and inserts of a panel.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    sealed : Sealed
    clearances : Clearances

    Returns
    -------
    Detail
        Feature names are unique; wet features carry their region.

    Raises
    ------
    GeometryError
        Where a bend is tighter than half of an outline's width.
    """
    openings = cut_openings(panel, routed)
    features = (
        *openings,
        *cut_pump_screws(panel, routed, openings),
        *_cut_grooves(panel, sealed, clearances),
        *_cut_cover_screws(panel, sealed),
    )
    return Detail(_list_blanks(panel), features, _list_cords(panel, sealed, clearances))


def cut_openings(panel: Panel, routed: Routed) -> tuple[Feature, ...]:
    """Return the wet features with their spot faces and the pump's seat.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    tuple of Feature
        Channels in flow order, tank, ports (each after its spot face), pump bores, pump seat.
    """
    region_of = {name: region.name for region in group_wet(panel, routed) for name in region.channels}
    region_of["tank"] = next((r.name for r in group_wet(panel, routed) if r.tank), "")
    return (
        *_cut_channels(panel, routed, region_of),
        *_cut_tank(panel, routed, region_of),
        *(feature for port in routed.ports for feature in _cut_port(panel, port, region_of)),
        *_cut_pump(panel, routed, region_of),
    )


def cut_pump_screws(panel: Panel, routed: Routed, openings: tuple[Feature, ...]) -> tuple[Feature, ...]:
    """Return the tapped holes for the pump's screws.

    Each is as deep as the thread and the tap need, less where a wet feature or the far face comes within
    the least wall; never shallower than one diameter, so that the wall check shows a place that cannot be.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    openings : tuple of Feature
        What the holes must clear.
    """
    pump = panel.pump
    if pump.screw_size is None or not routed.pump.screws:
        return ()
    screw = tables.screw(pump.screw_size)
    radius, wall = screw.tap_drill / 2, panel.rules.least_wall
    seat = next((f for f in openings if f.kind == "seat"), None)
    wet = [(feature, *cast_shadow(feature.shape)) for feature in openings if feature.medium == "wet"]
    features = []
    for number, at in enumerate(routed.pump.screws, start=1):
        joins: tuple[str, ...] = ()
        face = _face_z(panel, pump.on)
        inward = INTO[pump.on][2]
        if seat is not None and isinstance(seat.shape, Cylinder):
            apart = shapely.Point(at).distance(shapely.Point(seat.shape.mouth[:2]))
            if apart <= seat.shape.radius + radius:
                joins = (seat.name,)
            if apart <= seat.shape.radius - radius:
                face += inward * pump.seat_depth
        far = _sheet_end(panel, pump.on)
        depth = min(tapped_depth(panel, screw), abs(far - face) - wall)
        for _, shadow, z0, z1 in wet:
            if shadow.distance(shapely.Point(at)) < radius + wall + SHADOW_SAG:
                near = z1 if inward < 0 else z0
                depth = min(depth, (near - face) * inward - wall)
        features.append(
            Feature(
                name=f"pump screw {number} {screw.name}",
                kind="screw hole",
                medium="dry",
                shape=Cylinder((*at, face), INTO[pump.on], max(depth, screw.diameter), radius),
                joins=joins,
                opens=(pump.on,),
            )
        )
    return tuple(features)


def tapped_depth(panel: Panel, screw: tables.Screw) -> float:
    """Return the depth of a tapped hole where nothing is in its way, [mm].

    Parameters
    ----------
    panel : Panel
    screw : Screw

    Source
    ------
    Thread engagement: the materials table; half a diameter below the thread: milling guides.
    """
    return (tables.material(panel.make.material).engagement + BELOW_THREAD) * screw.diameter


def cover_screw_depth(panel: Panel) -> float:
    """Return the depth of the cover screws' tapped holes in the body, [mm].

    The body keeps the least wall in front of them.
    """
    wanted = tapped_depth(panel, tables.screw(panel.make.screw))
    return min(wanted, panel.make.body - panel.rules.least_wall)


def cast_shadow(shape: Shape) -> tuple[shapely.Geometry, float, float]:
    """Return a shape's outline in plan and the z between which it lies, [mm].

    A lead chamfer counts over the whole length of its bore.
    """
    if isinstance(shape, Prism):
        return region_polygon(shape.region, SHADOW_SAG), shape.z0, shape.z1
    if isinstance(shape, Ring):
        outer, inner = region_polygon(shape.outer, SHADOW_SAG), region_polygon(shape.inner, SHADOW_SAG)
        wide = shape.fillet + inner.bounds[0] - outer.bounds[0]
        outer = outer.buffer(shape.fillet).buffer(-shape.fillet)
        return outer.difference(inner.buffer(wide).buffer(-wide)), shape.z0, shape.z1
    radius = shape.radius + shape.chamfer
    x, y, z = shape.mouth
    dx, dy, dz = shape.direction
    if abs(dz) > 0.5:
        end = z + dz * shape.length
        disc = region_polygon((outline_circle((x, y), radius),), SHADOW_SAG)
        return disc, min(z, end), max(z, end)
    axis = shapely.LineString([(x, y), (x + dx * shape.length, y + dy * shape.length)])
    return axis.buffer(radius, cap_style="flat"), z - radius, z + radius


def _list_blanks(panel: Panel) -> tuple[Blank, ...]:
    loop = outline_rectangle(0.0, 0.0, panel.width, panel.height, panel.corner_radius)
    if panel.make.closing == "one-piece":
        return (Blank("panel", loop, 0.0, panel.make.body),)
    return Blank("body", loop, 0.0, panel.make.body), Blank("cover", loop, -panel.make.cover, 0.0)


def _cut_channels(panel: Panel, routed: Routed, region_of: dict[str, str]) -> tuple[Feature, ...]:
    z0, z1 = channel_z(panel)
    return tuple(
        Feature(
            name=f"channel {channel.name}",
            kind="channel",
            medium="wet",
            shape=Prism(outline_channel(channel, 0.0), z0, z1),
            joins=_channel_joins(routed, channel),
            region=region_of[channel.name],
        )
        for channel in routed.channels
    )


def _channel_joins(routed: Routed, channel: Channel) -> tuple[str, ...]:
    """Return the tank and the channels that a channel opens into on purpose.

    These are the tank where an end is named after it, channels that share an end, and whatever holds the end
    of a run that is neither a port's foot nor a pump node. A channel that merely crosses another joins
    nothing, so that the wall check finds it.
    """
    joins = []
    if routed.tank.box is not None and any(end in TANK_ENDS for end in channel.ends):
        joins.append("tank")
    feet = {port.foot for port in routed.ports if port.channel == channel.name}
    nodes = ((PUMP_INLET, routed.pump.inlet), (PUMP_OUTLET, routed.pump.outlet))
    feet |= {at for end, at in nodes if end in channel.ends}
    loose = [p for run in channel.runs for p in (run.points[0], run.points[-1]) if p not in feet]
    spots = shapely.MultiPoint(loose)
    if (
        routed.tank.box is not None
        and "tank" not in joins
        and spots.intersects(shapely.box(*routed.tank.box))
    ):
        joins.append("tank")
    for other in routed.channels:
        if other.name == channel.name:
            continue
        shared = any(end in other.ends and end not in TANK_ENDS for end in channel.ends)
        if shared or any(
            shapely.LineString(run.points).dwithin(spots, other.width / 2 - SAME_MM) for run in other.runs
        ):
            joins.append(f"channel {other.name}")
    return tuple(joins)


def _cut_tank(panel: Panel, routed: Routed, region_of: dict[str, str]) -> tuple[Feature, ...]:
    if routed.tank.box is None:
        return ()
    shape = Prism((outline_tank(routed, 0.0),), *tank_z(panel))
    return (Feature("tank", "tank", "wet", shape, region=region_of["tank"]),)


def _cut_port(panel: Panel, port: PlacedPort, region_of: dict[str, str]) -> tuple[Feature, ...]:
    """Return a port's bore, after its spot face where it has one.

    On an edge the milled edge itself is the seat of the fitting's collar.
    """
    thread = tables.thread(port.thread)
    name = f"port {port.name} {thread.name}"
    into = INTO[port.on]
    joins: tuple[str, ...] = ("tank" if port.channel == "tank" else f"channel {port.channel}",)
    mouth, length = port.at, port.depth
    spot: tuple[Feature, ...] = ()
    if port.on in ("front", "back"):
        spot_name = f"spot face {port.name}"
        shape = Cylinder(mouth, into, SPOT_FACE_DEPTH, thread.spot_face / 2)
        spot = (Feature(spot_name, "spot face", "dry", shape, joins=(name,), opens=(port.on,)),)
        mouth = (mouth[0], mouth[1], mouth[2] + into[2] * SPOT_FACE_DEPTH)
        length -= SPOT_FACE_DEPTH
        joins = (*joins, spot_name)
    bore = Cylinder(mouth, into, length, thread.tap_drill / 2, (thread.major - thread.tap_drill) / 2)
    return (*spot, Feature(name, "port", "wet", bore, joins, (port.on,), region_of[port.channel]))


def _cut_pump(panel: Panel, routed: Routed, region_of: dict[str, str]) -> tuple[Feature, ...]:
    pump = panel.pump
    face, into = _face_z(panel, pump.on), INTO[pump.on]
    seated = pump.seat_diameter > 0 and pump.seat_depth > 0
    middle = sum(channel_z(panel)) / 2
    features = []
    joined = []
    for end, at, bore in pump_bores(panel, routed):
        name = f"{end} bore"
        channels = [channel.name for channel in routed.channels if end in channel.ends]
        joins = tuple(f"channel {channel}" for channel in channels)
        start = face
        apart = shapely.Point(at).distance(shapely.Point(routed.pump.inlet))
        if seated and apart <= (pump.seat_diameter + bore) / 2:
            joined.append(name)
            joins = (*joins, "pump seat")
            if apart <= (pump.seat_diameter - bore) / 2:
                start += into[2] * pump.seat_depth
        shape = Cylinder((*at, start), into, abs(middle - start), bore / 2)
        region = region_of[channels[0]] if channels else ""
        features.append(Feature(name, "pump bore", "wet", shape, joins, (pump.on,), region))
    if seated:
        seat = Cylinder((*routed.pump.inlet, face), into, pump.seat_depth, pump.seat_diameter / 2)
        features.append(Feature("pump seat", "seat", "dry", seat, tuple(joined), (pump.on,)))
    return tuple(features)


def _cut_grooves(panel: Panel, sealed: Sealed, clearances: Clearances) -> tuple[Feature, ...]:
    return tuple(
        Feature(
            name=loop.name,
            kind="groove",
            medium="dry",
            shape=Ring(loop.outer, loop.inner, 0.0, clearances.groove_depth, corner_fillet(panel)),
        )
        for loop in sealed.loops
    )


def _list_cords(panel: Panel, sealed: Sealed, clearances: Clearances) -> tuple[Insert, ...]:
    """Return the squeezed cords; their corners turn about the same centres as the groove's."""
    inserts = []
    for number, loop in enumerate(sealed.loops, start=1):
        fillet = corner_fillet(panel) + cord_inset(panel, clearances)
        shape = Ring(loop.cord_outer, loop.cord_inner, 0.0, clearances.groove_depth, fillet)
        inserts.append(Insert(f"cord {number}", shape))
    return tuple(inserts)


def _cut_cover_screws(panel: Panel, sealed: Sealed) -> tuple[Feature, ...]:
    if not sealed.screws:
        return ()
    screw = tables.screw(panel.make.screw)
    depth = cover_screw_depth(panel)
    features = []
    for number, (x, y) in enumerate(sealed.screws, start=1):
        through = f"cover clearance {number}"
        hole = Cylinder((x, y, 0.0), INTO["back"], depth, screw.tap_drill / 2)
        passage = Cylinder((x, y, -panel.make.cover), INTO["back"], panel.make.cover, screw.clearance / 2)
        name = f"cover screw {number} {screw.name}"
        features.append(Feature(name, "screw hole", "dry", hole, joins=(through,)))
        features.append(Feature(through, "clearance hole", "dry", passage, opens=("back",)))
    return tuple(features)


def _face_z(panel: Panel, face: Face) -> float:
    """Return z of the front or back face, [mm]."""
    if face == "front":
        return panel.make.body
    return 0.0 if panel.make.closing == "one-piece" else -panel.make.cover


def _sheet_end(panel: Panel, face: Face) -> float:
    """Return z up to which the sheet under a face is whole, [mm]: grooves are cut into the body's back."""
    if face == "back":
        return panel.make.body if panel.make.closing == "one-piece" else 0.0
    return tables.cord(panel.make.cord).groove_depth if panel.make.closing == "cord" else 0.0
