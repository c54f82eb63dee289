"""Design rules of making: the cutter's width, radius and reach, the machine's room, walls, printed roofs."""

from __future__ import annotations

import math

from geom.findings import Finding
from geom.frame import INTO, SAME_MM
from geom.standards import tables
from layouts.clearance import inlet_section, tank_z
from layouts.faces import floor_thickness, joint_z, layer_z, least_body
from layouts.installed import Point3, find_feed
from layouts.legs import find_corner, list_pieces
from layouts.panel import Panel
from layouts.plan import Channel, Layer, Routed
from layouts.roofs import find_widest_roof
from layouts.rules.findings import make_finding
from layouts.tank import narrowest_way

REACH_GOOD, REACH_MOST = 4.0, 6.0
"""Depth over cutter diameter that is cut well, and at all."""

CORNER_SHARE = 1.3
"""Corner radius over the cutter's from which it runs quietly."""

DEPTH_STEP = 0.5
"""Depths of channels are advised to this, [mm]."""

WITHOUT_ROOFS = "print the panel standing, or close it with a cover"


def check_cutter(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the cutter fits the channels and their inner corners (`make.cutter`, `make.radius`)."""
    cutter = panel.make.cutter
    if panel.make.method != "milled" or cutter <= 0:
        return ()
    found = []
    narrow = min(routed.channels, key=lambda channel: channel.width)
    if narrow.width < cutter - SAME_MM:
        found.append(
            make_finding(
                "make.cutter",
                "fault",
                f"channel {narrow.name} is {narrow.width:g} mm wide, the cutter {cutter:g} mm",
                "use a smaller cutter or a wider channel",
                narrow.width,
                cutter,
                "mm",
                (*narrow.runs[0].points[0], joint_z(panel, narrow.runs[0].layer)),
                (f"channel {narrow.name}",),
            )
        )
    corners: list[tuple[float, float, Point3, str]] = []
    for channel in routed.channels:
        for layer, points in (piece for leg in channel.legs for piece in list_pieces(leg)):
            corner = find_corner(points)
            if corner is not None:
                inside, at = channel.bend_radius - channel.width / 2, (*corner, joint_z(panel, layer))
                corners.append((inside, cutter / 2, at, f"channel {channel.name}"))
    if routed.tank.box is not None:
        x0, y0, _, _ = routed.tank.box
        corners.append((routed.tank.corner_radius, CORNER_SHARE * cutter / 2, (x0, y0, 0.0), "tank"))
    seen: set[str] = set()
    for radius, least, place, name in corners:
        if radius >= least - SAME_MM or name in seen:
            continue
        seen.add(name)
        cannot = radius < cutter / 2 - SAME_MM
        limit = cutter / 2 if cannot else least
        found.append(
            make_finding(
                "make.radius",
                "fault" if cannot else "caution",
                f"the inner radius of {name} is {radius:.3g} mm, a {cutter:g} mm cutter "
                + (f"leaves {limit:.3g} mm" if cannot else f"runs quietly from {limit:.3g} mm"),
                "use a larger radius or a smaller cutter",
                radius,
                limit,
                "mm",
                place,
                (name,),
            )
        )
    return tuple(found)


def check_reach(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the cutter reaches the floors (`make.reach`); a tank is cut with the largest that fits."""
    if panel.make.method != "milled" or panel.make.cutter <= 0:
        return ()
    pockets: list[tuple[float, float, str, Point3]] = [
        (
            channel.depth,
            panel.make.cutter,
            f"channel {channel.name}",
            (*channel.runs[0].points[0], _floor_z(panel, channel.runs[0].layer, channel.depth)),
        )
        for channel in routed.channels
    ]
    if routed.tank.box is not None:
        x0, y0, x1, y1 = routed.tank.box
        # Posts stand at least the cutter apart, but a larger one may not pass between them.
        fits = min(2 * routed.tank.corner_radius, narrowest_way(routed.tank))
        across, deep = max(panel.make.cutter, fits), panel.tank.depth
        pockets.append((deep, across, "tank", ((x0 + x1) / 2, (y0 + y1) / 2, deep)))
    depth, cutter, name, place = max(pockets, key=lambda row: row[0] / row[1])
    ratio = depth / cutter
    if ratio <= REACH_GOOD + 1e-9:
        return ()
    hard = ratio > REACH_MOST + 1e-9
    return (
        make_finding(
            "make.reach",
            "fault" if hard else "caution",
            f"{name} is {depth:g} mm deep, {ratio:.1f} diameters of a {cutter:g} mm cutter",
            "use a wider channel with a larger cutter, a shallower pocket, or a long-reach cutter",
            ratio,
            REACH_MOST if hard else REACH_GOOD,
            "diameters",
            place,
            (name,),
        ),
    )


def _floor_z(panel: Panel, layer: Layer, depth: float) -> float:
    """Return z of the floor of what is cut that deep from a joint, [mm]."""
    return joint_z(panel, layer) + INTO[layer][2] * depth


def check_room(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether the panel fits the machine, turned in plan if need be (`make.room`)."""
    if panel.make.room is None:
        return ()
    *travel, up = panel.make.room
    sides = [
        *zip(sorted((panel.width, panel.height)), sorted(travel), strict=True),
        (max(panel.make.body, panel.make.cover), up),
    ]
    over = [(side, room) for side, room in sides if side > room + SAME_MM]
    if not over:
        return ()
    side, room = max(over, key=lambda row: row[0] - row[1])
    return (
        make_finding(
            "make.room",
            "fault",
            f"a side of {side:g} mm does not fit the machine's {room:g} mm",
            "make the panel smaller, or use a larger machine",
            side,
            room,
            "mm",
        ),
    )


def check_least_wall(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether the material stands the least wall asked for (`make.wall`)."""
    material = tables.material(panel.make.material)
    printed = panel.make.method == "printed"
    least = material.least_wall_printed if printed else material.least_wall_milled
    if least is None or panel.rules.least_wall >= least - SAME_MM:
        return ()
    return (
        make_finding(
            "make.wall",
            "caution",
            f"the file asks for walls of {panel.rules.least_wall:g} mm; {panel.make.method} {material.name} "
            f"stands {least:g} mm",
            f'set least_wall = "{least:g} mm" in [rules]',
            panel.rules.least_wall,
            least,
            "mm",
        ),
    )


def check_floor(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether a wall stands between channels that cross in the body's two faces (`wall.floor`)."""
    if panel.channel.layers == 1:
        return ()
    depth, wall = panel.channel.depth, panel.rules.least_wall
    floor = floor_thickness(panel.make.body, depth)
    if floor >= wall - SAME_MM:
        return ()
    return (
        make_finding(
            "wall.floor",
            "fault",
            f"channels {depth:g} mm deep in both faces leave {floor:.3g} mm of a body of {panel.make.body:g} mm "
            f"where they cross, less than the {wall:g} mm asked for",
            f'set body = "{least_body(depth, wall):g} mm" or more in [make], or '
            f'depth = "{max(0.0, (panel.make.body - wall) / 2):g} mm" or less in [channel]',
            floor,
            wall,
            "mm",
        ),
    )


def check_material(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether the material is one that is printed (`make.material`)."""
    material = tables.material(panel.make.material)
    if panel.make.method != "printed" or material.least_wall_printed is not None:
        return ()
    rows = (tables.material(name) for name in tables.material_names())
    known = " or ".join(f'"{row.name}"' for row in rows if row.least_wall_printed is not None)
    return (
        make_finding(
            "make.material",
            "caution",
            f"the panel is printed, but {material.name} is known as sheet or bar: no wall is known that prints "
            "watertight in it",
            f'use material = {known}, or method = "milled"',
        ),
    )


def check_bridges(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether every roof prints without support (`print.bridge`).

    Only a closed print has roofs: with a cover the channels lie open on the upper side. It is taken to be
    printed lying.
    """
    most = find_widest_roof(panel)
    _, roof = layer_z(panel, "back")
    roofs: list[tuple[float, str, tuple[float, float, float], str]] = [
        (
            channel.width,
            f"channel {channel.name}",
            (*channel.runs[0].points[0], roof),
            _narrow_channel(panel, routed, channel, most),
        )
        for channel in routed.channels
        if channel.width > most + SAME_MM
    ]
    if routed.tank.box is not None:
        x0, y0, x1, y1 = routed.tank.box
        middle, narrow = ((x0 + x1) / 2, (y0 + y1) / 2, tank_z(panel)[1]), min(x1 - x0, y1 - y0)
        if narrow > most + SAME_MM:
            roofs.append((narrow, "tank", middle, WITHOUT_ROOFS))
    found = []
    for width, name, place, remedy in roofs:
        found.append(
            make_finding(
                "print.bridge",
                "caution",
                f"the roof over {name} spans {width:g} mm, more than {most:g} mm",
                remedy,
                width,
                most,
                "mm",
                place,
                (name,),
            )
        )
    return tuple(found)


def _narrow_channel(panel: Panel, routed: Routed, channel: Channel, most: float) -> str:
    """Return what makes a channel as narrow as a roof may be, by what asks for its width."""
    if channel is not find_feed(routed) or panel.channel.width > most + SAME_MM:
        grown = "" if panel.channel.widen_to is None else ", where widen_to stops too"
        return f'set width = "{most:g} mm" or less in [channel]{grown}, or {WITHOUT_ROOFS}'
    pump, tank = panel.pump, panel.tank
    if tank.outlet_bore > most + SAME_MM and tank.outlet_bore >= pump.inlet_bore:
        return f'set outlet_bore = "{most:g} mm" or less in [tank], or {WITHOUT_ROOFS}'
    if pump.inlet_bore > most + SAME_MM:
        return f"use a pump with an inlet bore of {most:g} mm or less, or {WITHOUT_ROOFS}"
    # Narrower alone, its section would fall short of the inlet bore's, which `feed.column` refuses.
    depth = math.ceil(inlet_section(panel) / most / DEPTH_STEP - SAME_MM) * DEPTH_STEP
    return (
        f'set depth = "{depth:g} mm" in [channel], with a thicker body if it needs one, so that the drop keeps the '
        f"inlet bore's section at {most:g} mm, or {WITHOUT_ROOFS}"
    )
