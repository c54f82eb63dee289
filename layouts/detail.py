"""Every cut of the plate as a named feature, with what it may touch and which outer face it opens."""

from __future__ import annotations

import shapely

from geom.along import Way
from geom.features import Blank, Cylinder, Detail, Feature, Insert, Prism, Shape, Track, Vault
from geom.frame import EDGES, INTO, SAME_MM
from geom.outline import Point, Segment, outline_circle, outline_rectangle, region_polygon, track_polygon
from geom.standards import tables
from layouts.clearance import Clearances, tank_z
from layouts.closing.wet_regions import (
    TANK_ENDS,
    group_wet,
    layer_runs,
    outline_channel,
    outline_tank,
    pump_bores,
    pump_layer,
)
from layouts.faces import (
    bore_z,
    cover_name,
    face_z,
    front_face_z,
    hole_bore,
    hole_z,
    joint_z,
    joints_of,
    layer_z,
    layers_of,
    sheet_end,
    sheet_material,
)
from layouts.nets import PUMP_INLET, PUMP_OUTLET
from layouts.panel import Panel, Port
from layouts.plan import Channel, CordLoop, Layer, PlacedPort, Routed, Sealed
from layouts.printing.printed import Printed
from layouts.printing.split_features import cut_joint, list_pieces, list_rings
from layouts.strength.screw_hole import (
    BELOW_THREAD,
    clearance_hole,
    fit_screw,
    hole_wall,
    screw_hole,
    tapped_thread,
)
from layouts.tank import outline_posts

SPOT_FACE_DEPTH = 0.5
"""Depth of the flat milled for a fitting's collar, [mm]; common practice, no source."""

SHADOW_SAG = 0.05
"""Coarseness of the plan shadows that holes are kept clear of, [mm]; added to the distance kept."""


def detail_panel(
    panel: Panel, routed: Routed, sealed: Sealed, clearances: Clearances, printed: Printed | None = None
) -> Detail:
    """Return blanks, features and inserts of a panel.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    sealed : Sealed
    clearances : Clearances
    printed : Printed or None
        Roofs over its channels, and where it is split.

    Returns
    -------
    Detail
        Feature names are unique; wet features carry their region.

    Raises
    ------
    GeometryError
        Where a bend is tighter than half of an outline's width.
    """
    openings = cut_openings(panel, routed, printed)
    features = (
        *openings,
        *cut_pump_screws(panel, routed, openings),
        *_cut_grooves(panel, sealed, clearances),
        *_cut_cover_screws(panel, sealed),
    )
    cords = _list_cords(panel, sealed, clearances)
    split = None if printed is None else printed.split
    if split is None:
        return Detail(_list_blanks(panel), features, cords)
    return Detail(
        list_pieces(panel, split), (*features, *cut_joint(panel, split)), (*cords, *list_rings(split))
    )


def cut_openings(panel: Panel, routed: Routed, printed: Printed | None = None) -> tuple[Feature, ...]:
    """Return the wet features with their spot faces and the pump's seat.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    printed : Printed or None
        Roofs over its channels; all flat where None.

    Returns
    -------
    tuple of Feature
        Channels in flow order (each with what it has in the front face and its through holes), tank, ports
        (each after its spot face), pump bores, pump seat.
    """
    region_of = {name: region.name for region in group_wet(panel, routed) for name in region.channels}
    region_of["tank"] = next((r.name for r in group_wet(panel, routed) if r.tank), "")
    return (
        *_cut_channels(panel, routed, region_of, printed),
        *_cut_tank(panel, routed, region_of),
        *(feature for port in routed.ports for feature in _cut_port(port, region_of)),
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
        face = face_z(panel, pump.on)
        inward = INTO[pump.on][2]
        if seat is not None and isinstance(seat.shape, Cylinder):
            apart = shapely.Point(at).distance(shapely.Point(seat.shape.mouth[:2]))
            if apart <= seat.shape.radius + radius:
                joins = (seat.name,)
            if apart <= seat.shape.radius - radius:
                face += inward * pump.seat_depth
        far = sheet_end(panel, pump.on)
        depth = min(tapped_depth(panel, screw), abs(far - face) - wall)
        for _, shadow, z0, z1 in wet:
            if shadow.distance(shapely.Point(at)) < radius + wall + SHADOW_SAG:
                near = z1 if inward < 0 else z0
                depth = min(depth, (near - face) * inward - wall)
        depth = max(depth, screw.diameter)
        engaged = tapped_depth(panel, screw) - BELOW_THREAD * screw.diameter
        features.append(
            Feature(
                name=f"pump screw {number} {screw.name}",
                kind="screw hole",
                medium="dry",
                shape=Cylinder((*at, face), INTO[pump.on], depth, radius),
                joins=joins,
                opens=(pump.on,),
                thread=screw.name,
                thread_depth=min(engaged, tapped_thread(screw, depth)),
            )
        )
    return tuple(features)


def tapped_depth(panel: Panel, screw: tables.Screw) -> float:
    """Return the depth of the holes tapped for the pump's screws where nothing is in their way, [mm].

    Parameters
    ----------
    panel : Panel
    screw : Screw

    Source
    ------
    Thread engagement: the materials table; half a diameter below the thread: milling guides.
    """
    row = tables.material(sheet_material(panel, panel.pump.on))
    return (row.engagement + BELOW_THREAD) * screw.diameter


def thread_fits(panel: Panel, port: Port, layer: Layer) -> bool:
    """Return whether a port may open into a layer: its bore holds the short thread and one pitch before the channel.

    Asked only where there is a choice: with one layer, and on an edge, the rules tell.
    """
    if panel.channel.layers == 1 or port.on in EDGES:
        return True
    low, high = bore_z(panel, port.on, layer)
    thread = tables.thread(port.thread)
    room = high - low - panel.channel.depth / 2 - SPOT_FACE_DEPTH
    return room >= thread.short_thread + thread.pitch - SAME_MM


def cover_screw_depth(panel: Panel) -> float:
    """Return the depth of the cover screws' holes in the body, [mm]: as `screw_hole`."""
    return screw_hole(panel)[1]


def screws_apart(panel: Panel) -> float:
    """Return how far the axes of screws of the two covers stand apart at least, [mm]; 0: they may face each other.

    Two that face each other leave the least wall between the ends of their holes, or the body is too thin.
    """
    if 2 * cover_screw_depth(panel) + panel.rules.least_wall <= panel.make.body + SAME_MM:
        return 0.0
    return screw_hole(panel)[0] + hole_wall(panel)


def cast_shadow(shape: Shape) -> tuple[shapely.Geometry, float, float]:
    """Return a shape's outline in plan and the z between which it lies, [mm].

    A lead chamfer counts over the whole length of its bore.
    """
    if isinstance(shape, Prism):
        return region_polygon(shape.region, SHADOW_SAG, shape.islands), shape.z0, shape.z1
    if isinstance(shape, Track):
        return track_polygon(shape.path, shape.closed, shape.width, SHADOW_SAG), shape.z0, shape.z1
    if isinstance(shape, Vault):
        return region_polygon(shape.region, SHADOW_SAG), shape.z0, shape.z1
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
    back = (Blank("body", loop, 0.0, panel.make.body), Blank("cover", loop, -panel.make.cover, 0.0))
    if panel.channel.layers == 1:
        return back
    return (*back, Blank("front cover", loop, panel.make.body, front_face_z(panel)))


def name_channel(channel: str, layer: Layer) -> str:
    """Return the name of a channel's feature in a layer; of the tank's, "tank"."""
    if channel == "tank":
        return channel
    return f"channel {channel} front" if layer == "front" else f"channel {channel}"


def name_port(port: PlacedPort) -> str:
    """Return the name of the feature of a port's bore: "port inlet G1/4"."""
    return f"port {port.name} {port.thread}"


def name_hole(channel: Channel, at: Point) -> str:
    """Return the name of the feature of a channel's through hole at a point."""
    return f"through hole {channel.name} {channel.holes.index(at) + 1}"


def _cut_channels(
    panel: Panel, routed: Routed, region_of: dict[str, str], printed: Printed | None
) -> tuple[Feature, ...]:
    features = []
    for channel in routed.channels:
        region = region_of[channel.name]
        for layer in layers_of(panel):
            if layer_runs(channel, layer):
                shape = _shape_channel(panel, channel, layer, printed)
                name, joins = name_channel(channel.name, layer), _channel_joins(routed, channel, layer)
                features.append(Feature(name, "channel", "wet", shape, joins, region=region))
        low, high = hole_z(panel)
        joins = tuple(name_channel(channel.name, layer) for layer in layers_of(panel))
        for at in channel.holes:
            hole = Cylinder((*at, high), INTO["front"], high - low, hole_bore(channel.width) / 2)
            features.append(
                Feature(name_hole(channel, at), "through hole", "wet", hole, joins, region=region)
            )
    return tuple(features)


def _shape_channel(panel: Panel, channel: Channel, layer: Layer, printed: Printed | None) -> Prism | Vault:
    """Return what is cut for a channel in a layer, with its roof where it is printed with one."""
    outline, (low, high) = outline_channel(channel, 0.0, layer), layer_z(panel, layer)
    roof = None if printed is None else printed.roof_of(channel.name)
    if printed is None or roof is None or roof.kind == "flat":
        return Prism(outline, low, high)
    up = printed.pose.up[2] > 0.0
    low, high = (low, high + roof.higher) if up else (low - roof.higher, high)
    return Vault(outline, low, high, roof.inset, roof.rise, roof.kind, up)


def _channel_joins(routed: Routed, channel: Channel, layer: Layer) -> tuple[str, ...]:
    """Return the tank and the channels that a channel opens into on purpose in a layer.

    These are the tank where an end is named after it, channels that share an end, and whatever holds the end
    of a run that is neither a port's foot nor a pump node. A channel that merely crosses another joins
    nothing, so that the wall check finds it.
    """
    joins = []
    tank = routed.tank.box if layer == "back" else None
    if tank is not None and any(end in TANK_ENDS for end in channel.ends):
        joins.append("tank")
    feet = {port.foot for port in routed.ports if port.channel == channel.name} | {*channel.holes}
    nodes = ((PUMP_INLET, routed.pump.inlet), (PUMP_OUTLET, routed.pump.outlet))
    feet |= {at for end, at in nodes if end in channel.ends}
    ends = [p for run in layer_runs(channel, layer) for p in (run.points[0], run.points[-1])]
    spots = shapely.MultiPoint([p for p in ends if p not in feet])
    if tank is not None and "tank" not in joins and spots.intersects(shapely.box(*tank)):
        joins.append("tank")
    for other in routed.channels:
        runs = layer_runs(other, layer)
        if other.name == channel.name or not runs:
            continue
        shared = any(
            end in other.ends and end not in TANK_ENDS and end_layer(routed, end) == layer
            for end in channel.ends
        )
        if shared or any(
            shapely.LineString(run.points).dwithin(spots, other.width / 2 - SAME_MM) for run in runs
        ):
            joins.append(name_channel(other.name, layer))
    return tuple(joins)


def end_layer(routed: Routed, end: str) -> Layer:
    """Return the layer in which channels have the end of that name: a port's, the pump's outlet's, else back."""
    if end == PUMP_OUTLET:
        return routed.pump.outlet_layer
    return next((port.layer for port in routed.ports if port.name == end), "back")


def _cut_tank(panel: Panel, routed: Routed, region_of: dict[str, str]) -> tuple[Feature, ...]:
    if routed.tank.box is None:
        return ()
    shape = Prism((outline_tank(routed, 0.0),), *tank_z(panel), outline_posts(routed.tank))
    return (Feature("tank", "tank", "wet", shape, region=region_of["tank"]),)


def _cut_port(port: PlacedPort, region_of: dict[str, str]) -> tuple[Feature, ...]:
    """Return a port's bore, after its spot face where it has one.

    On an edge the milled edge itself is the seat of the fitting's collar.
    """
    thread = tables.thread(port.thread)
    name = name_port(port)
    into = INTO[port.on]
    joins: tuple[str, ...] = (name_channel(port.channel, port.layer),)
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
    return (
        *spot,
        Feature(
            name,
            "port",
            "wet",
            bore,
            joins,
            (port.on,),
            region_of[port.channel],
            thread.name,
            min(thread.full_thread, length),
        ),
    )


def _cut_pump(panel: Panel, routed: Routed, region_of: dict[str, str]) -> tuple[Feature, ...]:
    pump = panel.pump
    face, into = face_z(panel, pump.on), INTO[pump.on]
    seated = pump.seat_diameter > 0 and pump.seat_depth > 0
    features = []
    joined = []
    for end, at, bore in pump_bores(panel, routed):
        name, layer = f"{end} bore", pump_layer(routed, end)
        middle = sum(layer_z(panel, layer)) / 2
        channels = [channel.name for channel in routed.channels if end in channel.ends]
        joins = tuple(name_channel(channel, layer) for channel in channels)
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
            shape=Track(
                # Its round end lies inside the groove that it comes into: on the middle it would touch the far wall.
                _shorten(loop, loop.groove_width / 4),
                loop.closed,
                loop.groove_width,
                *_groove_z(panel, loop, clearances),
            ),
            joins=loop.meets,
        )
        for loop in sealed.loops
    )


def _shorten(loop: CordLoop, by: float) -> tuple[Segment, ...]:
    """Return a loop's path, shorter at both ends where it is open."""
    return loop.path if loop.closed else Way(loop.path, False).cut(by, loop.length - by)


def _groove_z(panel: Panel, loop: CordLoop, clearances: Clearances) -> tuple[float, float]:
    """Return the z between which a loop's groove is cut into the body, [mm]."""
    joint = joint_z(panel, loop.layer)
    if loop.layer == "front":
        return joint - clearances.groove_depth, joint
    return joint, joint + clearances.groove_depth


def _list_cords(panel: Panel, sealed: Sealed, clearances: Clearances) -> tuple[Insert, ...]:
    """Return the squeezed cords, in the middle of their grooves."""
    inserts = []
    for loop in sealed.loops:
        # Its round end stops at the side of the cord that it is butted against.
        path = _shorten(loop, loop.cord_width)
        shape = Track(path, loop.closed, loop.cord_width, *_groove_z(panel, loop, clearances))
        inserts.append(Insert(loop.name.replace("groove", "cord", 1), shape))
    return tuple(inserts)


def _cut_cover_screws(panel: Panel, sealed: Sealed) -> tuple[Feature, ...]:
    if not (sealed.screws or sealed.front_screws):
        return ()
    screw, fit = tables.screw(panel.make.screw), fit_screw(panel)
    held, thread = (f"{screw.name} insert", "") if fit.insert is not None else (screw.name, screw.name)
    features = []
    for layer in joints_of(panel):
        cover = cover_name(layer)
        for number, (x, y) in enumerate(sealed.screws_of(layer), start=1):
            through = f"{cover} clearance {number}"
            mouth, joint = (x, y, face_z(panel, layer)), (x, y, joint_z(panel, layer))
            hole = Cylinder(joint, INTO[layer], fit.depth, fit.diameter / 2)
            passage = Cylinder(mouth, INTO[layer], panel.make.cover, clearance_hole(panel) / 2)
            name = f"{cover} screw {number} {held}"
            features.append(
                Feature(
                    name,
                    "screw hole",
                    "dry",
                    hole,
                    joins=(through,),
                    thread=thread,
                    thread_depth=fit.tapped,
                )
            )
            features.append(Feature(through, "clearance hole", "dry", passage, opens=(layer,)))
    return tuple(features)
