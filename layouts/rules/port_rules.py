"""Design rules of ports and pump: spanner room, seats, threads, the pump's seat and screws."""

from __future__ import annotations

import math

import shapely

from geom.features import Cylinder, Detail
from geom.findings import Finding
from geom.frame import EDGES, SAME_MM
from geom.standards import tables
from geom.words import join_names
from layouts.clearance import ports_apart, tank_z
from layouts.closing.spacing import round_up
from layouts.closing.wet_regions import layer_runs
from layouts.cures import Cure
from layouts.detail import name_channel
from layouts.faces import face_z, joints_of, layer_z, layers_of, sheet_material
from layouts.file.offers import keep_readable, offer_changes
from layouts.file_changes import set_length
from layouts.panel import Panel
from layouts.plan import PlacedPort, Routed
from layouts.port_threads import thread_room
from layouts.rules.findings import make_finding
from layouts.strength.screw_hole import least_below, tapped_thread


def check_port_room(routed: Routed) -> tuple[Finding, ...]:
    """Ask whether a spanner swings on each fitting (`port.room`)."""
    found = []
    for k, a in enumerate(routed.ports):
        for b in routed.ports[k + 1 :]:
            if a.on != b.on:
                continue
            apart = math.dist(a.at, b.at)
            needs = ports_apart(tables.thread(a.thread), tables.thread(b.thread))
            if apart >= needs - SAME_MM:
                continue
            middle = tuple((p + q) / 2 for p, q in zip(a.at, b.at, strict=True))
            found.append(
                make_finding(
                    "port.room",
                    "fault",
                    f'"{a.name}" and "{b.name}" stand {apart:.3g} mm apart on the {a.on}; a spanner needs '
                    f"{needs:.3g} mm",
                    "move one of them, or put it on another face",
                    apart,
                    needs,
                    "mm",
                    (middle[0], middle[1], middle[2]),
                    (a.name, b.name),
                )
            )
    return tuple(found)


def check_port_seats(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether each fitting's collar seats wholly on its face (`port.seat`)."""
    found = []
    for port in routed.ports:
        thread = tables.thread(port.thread)
        rooms: list[tuple[float, float, str]] = []
        if port.on in EDGES:
            along, side = (
                (port.at[0], panel.width) if port.on in ("top", "bottom") else (port.at[1], panel.height)
            )
            needs = thread.collar / 2
            rooms.append(
                (min(along, side - along) - panel.corner_radius, needs, "the end of its edge's straight")
            )
            rooms.append((min(port.at[2], panel.make.body - port.at[2]), needs, "the body's face"))
        else:
            needs = thread.spot_face / 2
            rooms.append((_room_to_edge(panel, port.at[0], port.at[1]), needs, "the panel's edge"))
            if port.on == panel.pump.on and panel.pump.seat_diameter > 0:
                apart = math.dist(port.at[:2], routed.pump.inlet) - panel.pump.seat_diameter / 2
                rooms.append((apart, needs, "the pump's seat"))
        room, needs, what = min(rooms, key=lambda row: row[0] - row[1])
        if room >= needs - SAME_MM:
            continue
        found.append(
            make_finding(
                "port.seat",
                "fault",
                f'"{port.name}" stands {room:.3g} mm from {what}, its collar\'s seat needs {needs:.3g} mm',
                "move the port, or give it a smaller thread",
                room,
                needs,
                "mm",
                port.at,
                (port.name,),
            )
        )
    return tuple(found)


def check_threads(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether there is enough thread for each fitting (`thread.depth`).

    Ports with the same thread and the same depth are named in one finding. On an edge the bore runs on
    beside the channel, and its thread with it: all of it counts against the short collar's thread.
    """
    groups: dict[tuple[str, str, bool, float, float], list[PlacedPort]] = {}
    for port in routed.ports:
        whole, unbroken = thread_room(panel, routed, port)
        into_tank = port.channel == "tank"
        side: str = "edge" if port.on in EDGES and not into_tank else port.on
        groups.setdefault((port.thread, side, into_tank, round(whole, 3), round(unbroken, 3)), []).append(
            port
        )
    found = []
    for (name, side, into_tank, whole, unbroken), ports in groups.items():
        thread = tables.thread(name)
        least = thread.short_thread + thread.pitch
        short = whole < least - SAME_MM
        if not short and unbroken >= thread.full_thread - SAME_MM:
            continue
        value, limit = (whole, least) if short else (unbroken, thread.full_thread)
        cure = _more_thread(panel, side, into_tank, limit - value)
        named = ", ".join(f'"{port.name}"' for port in ports)
        found.append(
            make_finding(
                "thread.depth",
                "fault" if short else "caution",
                f"{name} at {named}: {value:.3g} mm of thread before the coolant, "
                + (
                    f"under the {limit:.3g} mm of a short collar and one pitch"
                    if short
                    else f"under the standard's full {limit:.3g} mm"
                ),
                f"{cure.text}, or a smaller thread"
                if short
                else f"use fittings whose thread is no longer than {max(0.0, unbroken - thread.pitch):.1f} "
                + ("mm" if side == "edge" else f"mm, or {cure.text}"),
                value,
                limit,
                "mm",
                ports[0].at,
                tuple(port.name for port in ports),
                offer_changes(panel, cure),
            )
        )
    return tuple(found)


def _more_thread(panel: Panel, side: str, into_tank: bool, lacking: float) -> Cure:
    """Return what gives a port on a side more thread before the coolant, of which so much is lacking, [mm]."""
    pocket = "tank" if into_tank else "channel"
    if side in joints_of(panel):
        cover = round_up(panel.make.cover + lacking)
        return Cure(f"use a cover of {cover:g} mm", (set_length(cover, "make", "cover"),))
    if side in ("front", "back"):
        body = thicker_body(panel, lacking)
        return Cure(f"use a body of {body:g} mm or a shallower {pocket}", (set_length(body, "make", "body"),))
    if into_tank:
        return Cure(f"move the tank away from the {side} edge, or use a wider panel")
    return Cure("move the channel's end away from the edge, or use a wider panel")


def thicker_body(panel: Panel, by: float) -> float:
    """Return the panel's body made thicker, rounded up to a whole thickness of sheet, [mm]."""
    return math.ceil(panel.make.body + by - SAME_MM)


def check_torque(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether fittings are screwed into a plastic, which little torque bursts (`port.torque`)."""
    row = tables.material(panel.make.material)
    ports = [port for port in routed.ports if port.on not in joints_of(panel)]
    covered = [port for port in routed.ports if port.on in joints_of(panel)]
    cover = tables.material(panel.make.cover_row)
    held = [*(ports if row.kind == "plastic" else ()), *(covered if cover.kind == "plastic" else ())]
    if not held:
        return ()
    of = " and ".join(
        dict.fromkeys(
            rows.name for rows, kept in ((row, ports), (cover, covered)) if kept and rows.kind == "plastic"
        )
    )
    return (
        make_finding(
            "port.torque",
            "note",
            f"{len(held)} {'port has its thread' if len(held) == 1 else 'ports have their threads'} in {of}",
            "use parallel threads with a sealing ring under the collar, no tape; turn them in by hand, then at most a "
            "quarter turn more",
            at_mm=held[0].at,
            features=tuple(port.name for port in held),
        ),
    )


def check_seat_floor(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether a wall stands between the pump's seat and the coolant under it (`seat.floor`)."""
    pump = panel.pump
    if pump.seat_diameter <= 0 or pump.seat_depth <= 0:
        return ()
    seat = shapely.Point(routed.pump.inlet).buffer(pump.seat_diameter / 2)
    wet = [
        (name_channel(channel.name, layer), layer_z(panel, layer))
        for channel in routed.channels
        for layer in layers_of(panel)
        if any(
            shapely.LineString(run.points).distance(seat) < channel.width / 2
            for run in layer_runs(channel, layer)
        )
    ]
    if routed.tank.box is not None and shapely.box(*routed.tank.box).intersects(seat):
        wet.append(("tank", tank_z(panel)))
    face = face_z(panel, pump.on)
    floors = [
        ((face - z1 if pump.on == "front" else z0 - face) - pump.seat_depth, name, (z0, z1))
        for name, (z0, z1) in wet
    ]
    if not floors:
        return ()
    floor, name, (z0, z1) = min(floors)
    if floor >= panel.rules.least_wall - SAME_MM:
        return ()
    return (
        make_finding(
            "seat.floor",
            "fault",
            f"{floor:.3g} mm stand between the pump's seat and {name}, less than the "
            f"{panel.rules.least_wall:g} mm asked for",
            "make the seat or the channel shallower, or the plate thicker",
            floor,
            panel.rules.least_wall,
            "mm",
            (*routed.pump.inlet, z1 if pump.on == "front" else z0),
            ("pump seat", name),
        ),
    )


def check_pump_screws(panel: Panel, detail: Detail) -> tuple[Finding, ...]:
    """Ask whether the pump's screws stand in whole material with enough thread (`pump.screws`).

    Screws with the same thread and the same depth under the face are named in one finding.
    """
    if panel.pump.screw_size is None:
        return ()
    screw, material = (
        tables.screw(panel.pump.screw_size),
        tables.material(sheet_material(panel, panel.pump.on)),
    )
    needs = material.engagement * screw.diameter
    found, cutting = _find_cutting_screws(panel, detail)
    covered = panel.pump.on in joints_of(panel)
    groups: dict[tuple[float, float], list[tuple[str, Cylinder]]] = {}
    for name, shape in _list_cylinders(detail, "pump screw "):
        holds = tapped_thread(screw, shape.length)
        sunk = abs(shape.mouth[2] - face_z(panel, panel.pump.on))
        if name not in cutting and holds < needs - SAME_MM:
            groups.setdefault((round(holds, 3), round(sunk, 3)), []).append((name, shape))
    for (holds, sunk), short in groups.items():
        names = tuple(name for name, _ in short)
        thickness = round_up(sunk + needs + least_below(screw) + panel.rules.least_wall)
        body = thicker_body(panel, needs - holds)
        found.append(
            make_finding(
                "pump.screws",
                "caution",
                f"{join_names(names)} {'have' if len(names) > 1 else 'has'} {holds:.3g} mm of thread, {material.name} "
                f"asks for {needs:.3g} mm",
                f"use a cover of {thickness:g} mm, which has to hold the whole thread, or smaller screws"
                if covered
                else "turn or move the pump so that no channel lies under the screw, or use a "
                f"body of {body:g} mm",
                holds,
                needs,
                "mm",
                short[0][1].mouth,
                names,
                keep_readable(
                    panel,
                    set_length(thickness, "make", "cover") if covered else set_length(body, "make", "body"),
                ),
            )
        )
    return tuple(found)


def _find_cutting_screws(panel: Panel, detail: Detail) -> tuple[list[Finding], set[str]]:
    """Return a fault for everything that pump screws cut into, and the names of the screws that do."""
    screws = _list_cylinders(detail, "pump screw ")
    cuts: dict[str, list[str]] = {}
    for k, (name, screw) in enumerate(screws):
        at = screw.mouth[:2]
        for bore, shape in _list_cylinders(detail, "pump inlet bore", "pump outlet bore"):
            if math.dist(at, shape.mouth[:2]) < screw.radius + shape.radius - SAME_MM:
                cuts.setdefault(f"the {bore}", []).append(name)
        for _, seat in _list_cylinders(detail, "pump seat"):
            if abs(math.dist(at, seat.mouth[:2]) - seat.radius) < screw.radius - SAME_MM:
                cuts.setdefault("the rim of the pump's seat", []).append(name)
        others = (other for j, other in enumerate(screws) if j != k)
        if any(math.dist(at, other.mouth[:2]) < 2 * screw.radius - SAME_MM for _, other in others):
            cuts.setdefault("each other", []).append(name)
    pump = panel.pump
    if not cuts:
        return [], set()
    places = {name: screw.mouth for name, screw in screws}
    radius = screws[0][1].radius
    rim = (
        f'circle = "{max(pump.seat_diameter - 2 * radius, 0):.3g} mm" or less, or '
        f'"{pump.seat_diameter + 2 * radius:.3g} mm" or more'
    )
    cures = {
        "the rim of the pump's seat": f"set the screws of [pump] clear of the rim: {rim}",
        "each other": "set fewer screws or a larger circle in [pump] screws",
    }
    found = [
        make_finding(
            "pump.screws",
            "fault",
            f"on a circle of {pump.screw_circle:g} mm "
            + (
                f"{', '.join(names)} cut into each other"
                if what == "each other"
                else f"{what} is cut by {', '.join(names)}"
            ),
            cures.get(
                what, "set a larger circle or another count in [pump] screws, or smaller screws or bores"
            ),
            at_mm=places[names[0]],
            features=tuple(names),
        )
        for what, names in cuts.items()
    ]
    return found, {name for names in cuts.values() for name in names}


def _list_cylinders(detail: Detail, *starts: str) -> list[tuple[str, Cylinder]]:
    """Return the round features whose names start so, in the plan's order."""
    return [
        (feature.name, feature.shape)
        for feature in detail.features
        if feature.name.startswith(starts) and isinstance(feature.shape, Cylinder)
    ]


def _room_to_edge(panel: Panel, x: float, y: float) -> float:
    """Return the distance from a point inside to the panel's outline with its rounded corners, [mm]."""
    radius = panel.corner_radius
    dx = abs(x - panel.width / 2) - (panel.width / 2 - radius)
    dy = abs(y - panel.height / 2) - (panel.height / 2 - radius)
    return radius - math.hypot(max(dx, 0.0), max(dy, 0.0)) - min(max(dx, dy), 0.0)
