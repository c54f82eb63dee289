"""What the values of a panel file say about each other: every contradiction, told at once.

Each check appends (path, text): the text says what was read, and what to write instead.
"""

from __future__ import annotations

import math
from difflib import get_close_matches

from geom.errors import OutOfRange
from geom.frame import EDGES, SAME_MM
from geom.standards.tables import cord, material, screw, thread
from layouts.clearance import BONDED_LAND
from layouts.faces import floor_thickness, least_body
from layouts.file.channels import check_own_widths
from layouts.file.coolant import check_coolant
from layouts.file.cover_screws import check_screw_hole, check_screw_spacing
from layouts.file.keep_routes import check_keep_routes
from layouts.file.loop import check_loop
from layouts.file.making import check_making
from layouts.file.model import PanelFile
from layouts.file.parts import check_parts
from layouts.file.places import (
    FLOOR,
    check_box,
    check_edge_ports,
    check_keep_clear,
    check_one_place,
    check_ports,
    check_tank_over_pump,
    find_used,
    look_up,
)
from layouts.file.positions import Path, Problems, name_parts
from layouts.file.pump import check_pump
from layouts.file.quantities import show_value
from layouts.file.service import check_service
from layouts.file.tubes import check_tubes
from layouts.rules.catalogue import NEVER_ACCEPTED, RULES
from layouts.tank import CORNER_RADIUS

MOST_NODES = 400_000


def check_values(file: PanelFile) -> list[tuple[Path, str]]:
    """Return every contradiction in a file of the right shape.

    Parameters
    ----------
    file : PanelFile

    Returns
    -------
    list of (Path, str)
        Empty where the file can become a panel.
    """
    problems = Problems([])
    _check_panel(file, problems)
    _check_make(file, problems)
    _check_channel(file, problems)
    check_coolant(file, problems)
    _check_tank(file, problems)
    check_pump(file, problems)
    check_tank_over_pump(file, problems)
    check_parts(file, problems)
    check_loop(file, problems)
    check_own_widths(file, problems)
    check_ports(file, problems)
    check_edge_ports(file, problems)
    check_keep_clear(file, problems)
    check_keep_routes(file, problems)
    check_making(file, problems)
    check_service(file, problems)
    check_tubes(file, problems)
    _check_accept(file, problems)
    return name_parts(problems.found, [part.name for part in file.part])


def _check_panel(file: PanelFile, problems: Problems) -> None:
    panel = file.panel
    width, height = panel.size
    least = min(width, height)
    if panel.corner_radius > least / 2:
        problems.add(
            ("panel", "corner_radius"),
            f"{panel.corner_radius:g} mm is more than half of the shorter side, {least:g} mm;"
            f" at most {least / 2:g} mm",
        )
    nodes = (math.floor(width / panel.pitch + SAME_MM) + 1) * (math.floor(height / panel.pitch + SAME_MM) + 1)
    if panel.pitch > least / 2:
        problems.add(
            ("panel", "pitch"),
            f"{panel.pitch:g} mm is more than half of the shorter side, {least:g} mm;"
            f" at most {least / 2:g} mm",
        )
    elif nodes > MOST_NODES:
        problems.add(
            ("panel", "pitch"),
            f"{panel.pitch:g} mm gives {nodes} grid nodes, the limit is {MOST_NODES}; use a coarser pitch",
        )
    if not math.hypot(*panel.up) > SAME_MM or not math.isfinite(math.hypot(*panel.up)):
        shown = ", ".join(f"{part:g}" for part in panel.up)
        problems.add(
            ("panel", "up"), f"[{shown}] points nowhere; write a direction, e.g. [0, 1, 0] for upright"
        )


def _check_make(file: PanelFile, problems: Problems) -> None:
    make = file.make
    closing = f'closing = "{make.closing}"'
    needed = {"cord": ("cord", "screw", "cover"), "bonded": ("cover",), "one-piece": ()}[make.closing]
    examples = {"cord": '"2 mm"', "screw": '"M4"', "cover": '"8 mm"'}
    for key in ("cover", "cord", "screw"):
        value = getattr(make, key)
        if key in needed and value is None:
            problems.add(("make", key), f"missing; {closing} needs {key}, e.g. {key} = {examples[key]}")
        elif key not in needed and value is not None:
            shown = f"'{value}'" if isinstance(value, str) else f"{value:g} mm"
            problems.add(("make", key), f"read {shown}; {closing} has no {key}: remove the key")
    if make.closing == "one-piece" and make.method != "printed":
        problems.add(
            ("make", "method"),
            f'"{make.method}" cannot make a one-piece panel; use method = "printed" or another closing',
        )
    if make.method == "milled":
        if make.cutter is None:
            problems.add(("make", "cutter"), 'missing; method = "milled" needs e.g. cutter = "6 mm"')
        elif make.cutter > file.channel.width + SAME_MM:
            problems.add(
                ("make", "cutter"),
                f"{make.cutter:g} mm does not fit the channel's width of {file.channel.width:g} mm;"
                f" at most {file.channel.width:g} mm",
            )
    elif make.cutter is not None:
        problems.add(
            ("make", "cutter"), f'read {make.cutter:g} mm; method = "printed" has no cutter: remove the key'
        )
    look_up(material, make.material, ("make", "material"), problems)
    if make.cover_material is not None:
        if make.closing == "one-piece":
            problems.add(
                ("make", "cover_material"),
                f"read '{make.cover_material}'; {closing} has no cover: remove the key",
            )
        look_up(material, make.cover_material, ("make", "cover_material"), problems)
    lacking = {"share_groove": "grooves", "inserts": "cover screws", "large_washers": "cover screws"}
    for key, lacks in lacking.items():
        if getattr(make, key) and make.closing != "cord":
            problems.add(("make", key), f"read true; {closing} has no {lacks}: remove the key")
    if make.cord is not None:
        look_up(cord, make.cord, ("make", "cord"), problems)
    _check_screw(make.screw, ("make", "screw"), problems)
    check_screw_spacing(make, problems)
    check_screw_hole(make, problems)


def _check_channel(file: PanelFile, problems: Problems) -> None:
    channel, make, wall = file.channel, file.make, file.rules.least_wall
    half = channel.width / 2
    groove = _groove_width(file)
    gap = 3 * wall + 2 * groove if groove is not None else wall
    shorter = min(file.panel.size)
    if channel.layers == 2:
        _check_two_layers(file, problems)
    if channel.widen_to is not None and channel.widen_to < channel.width - SAME_MM:
        problems.add(
            ("channel", "widen_to"),
            f"{channel.widen_to:g} mm is less than the channel's width of {channel.width:g} mm, and channels only"
            f" grow; write more than {channel.width:g} mm, or remove the key",
        )
    columns = math.floor(shorter / (channel.width + gap) + SAME_MM)
    if columns < 2:
        problems.add(
            ("channel", "width"),
            f"{channel.width:g} mm: neighbouring channels need {channel.width + gap:g} mm between centres,"
            f" which leaves {columns} on the shorter side of {shorter:g} mm; use a narrower channel"
            f" (at most {max(shorter / 2 - gap, 0):.4g} mm) or a larger panel",
        )
    floors = 2 if make.closing == "one-piece" else 1
    most = make.body - floors * FLOOR
    if channel.depth > most - SAME_MM:
        problems.add(
            ("channel", "depth"),
            f"{channel.depth:g} mm leaves less than {FLOOR:g} mm of floor in a body of {make.body:g} mm;"
            f" stay below {most:g} mm or use a thicker body",
        )
    if make.closing == "cord":
        if groove is None:
            return
        least = half + wall + groove + 1.0
        why = f"half the channel + least wall {wall:g} mm + groove {groove:g} mm + 1 mm"
    elif make.method == "milled":
        if make.cutter is None:
            return
        least, why = half + make.cutter / 2, "half the channel + half the cutter"
    else:
        least, why = half + 0.5, "half the channel + 0.5 mm"
    if channel.bend_radius < least - SAME_MM:
        problems.add(
            ("channel", "bend_radius"),
            f"{channel.bend_radius:g} mm is too tight; at least {least:g} mm ({why})",
        )


def _check_two_layers(file: PanelFile, problems: Problems) -> None:
    """Check that the body can have channels in both of its faces, under a cover on each."""
    depth, wall, body, pump = file.channel.depth, file.rules.least_wall, file.make.body, file.pump
    if file.make.closing == "one-piece":
        problems.add(
            ("channel", "layers"),
            'read 2; closing = "one-piece" has its channels at mid-thickness and no faces to cut them from: use 1, '
            'or closing = "cord" or "bonded"',
        )
        return
    if body < least_body(depth, wall) - SAME_MM:
        problems.add(
            ("make", "body"),
            f"{body:g} mm leaves {floor_thickness(body, depth):.4g} mm between channels {depth:g} mm deep in its two"
            f" faces, less than least_wall, {wall:g} mm; at least {least_body(depth, wall):g} mm (2 x {depth:g} +"
            f" {wall:g}), or channels of at most {max(0.0, (body - wall) / 2):.4g} mm",
        )
    groove = _groove_width(file)
    if pump.on != "front" or (file.make.closing == "cord" and groove is None):
        return
    gap = 3 * wall + 2 * groove if groove is not None else max(BONDED_LAND, wall)
    used = find_used(pump) or pump
    bores = (used.inlet_bore or pump.inlet_bore) + (used.outlet_bore or pump.outlet_bore)
    apart, least = math.hypot(*pump.outlet_offset), bores / 2 + gap
    if apart < least - SAME_MM:
        problems.add(
            ("pump", "outlet_offset"),
            f"the pump's bores stand {apart:.4g} mm apart; each passes the front cover's joint with a seal of its own,"
            f" which needs {least:.4g} mm; use a pump whose bores stand farther apart, smaller bores, or layers = 1",
        )


def _check_tank(file: PanelFile, problems: Problems) -> None:
    tank = file.tank
    pocket = tank.kind == "pocket"
    needed = ("size", "depth") if pocket else ("outlet", "inlet", "volume")
    refused = ("outlet", "inlet", "volume") if pocket else ("size", "depth", "within", "at", "fill")
    examples = {
        "size": '["90 mm", "55 mm"]',
        "depth": '"14 mm"',
        "volume": '"250 mL"',
        "outlet": '{ on = "top", between = ["40 mm", "90 mm"] }',
        "inlet": '{ on = "top", between = ["100 mm", "150 mm"] }',
    }
    for key in needed:
        if getattr(tank, key) is None:
            problems.add(
                ("tank", key), f'missing; kind = "{tank.kind}" needs {key}, e.g. {key} = {examples[key]}'
            )
    for key in refused:
        if getattr(tank, key) is not None:
            problems.add(
                ("tank", key),
                f'read {key}; kind = "{tank.kind}" has no {key}: remove the key',
            )
    if tank.posts == "auto" and not (pocket and file.make.closing == "cord"):
        why = f'closing = "{file.make.closing}" has no cover screws' if pocket else "only a pocket holds them"
        problems.add(
            ("tank", "posts"),
            f'read "auto"; posts stand in a pocket, a cover screw in each, and {why}: '
            'remove the key, or write posts = "none"',
        )
    if not pocket:
        return
    check_one_place({"within": tank.within, "at": tank.at}, ("tank",), problems)
    floors, wall = 2 if file.make.closing == "one-piece" else 1, file.rules.least_wall
    most, sound = file.make.body - floors * FLOOR, file.make.body - floors * wall
    if tank.depth is not None and tank.depth > most - SAME_MM:
        problems.add(
            ("tank", "depth"),
            f"{tank.depth:g} mm leaves less than {FLOOR:g} mm of floor in a body of {file.make.body:g} mm;"
            f" stay below {most:g} mm or use a thicker body",
        )
    elif tank.depth is not None and tank.depth > sound + SAME_MM:
        left = (file.make.body - tank.depth) / floors
        each = " on either side" if floors == 2 else ""
        problems.add(
            ("tank", "depth"),
            f"{tank.depth:g} mm leaves {left:.4g} mm of floor{each} in a body of {file.make.body:g} mm, least_wall asks"
            f" for {wall:g} mm; use a depth of at most {sound:.4g} mm, a body of at least"
            f" {tank.depth + floors * wall:.4g} mm or a least_wall of at most {left:.4g} mm",
        )
    if tank.size is None:
        return
    _check_fill_room(file, tank.size, problems)
    if tank.within is not None and check_box(file, tank.within, ("tank", "within"), problems):
        x0, y0, x1, y1 = tank.within
        if tank.size[0] > x1 - x0 + SAME_MM or tank.size[1] > y1 - y0 + SAME_MM:
            problems.add(
                ("tank", "within"),
                f"a box of {x1 - x0:g} x {y1 - y0:g} mm cannot hold the tank's size of"
                f" {tank.size[0]:g} x {tank.size[1]:g} mm; widen the box or shrink the tank",
            )
    if tank.at is not None:
        x, y = tank.at
        width, height = file.panel.size
        if min(x, y) < 0 or x + tank.size[0] > width or y + tank.size[1] > height:
            problems.add(
                ("tank", "at"),
                f"({x:g}, {y:g}) mm and a size of {tank.size[0]:g} x {tank.size[1]:g} mm reach outside the"
                f" panel of {width:g} x {height:g} mm; move the tank inside",
            )


def _check_fill_room(file: PanelFile, size: list[float], problems: Problems) -> None:
    """Check that the fill port's bore has room on the tank's side, wherever the tank stands."""
    fill = file.tank.fill
    if fill is None:
        return
    try:
        bore = thread(fill.thread).tap_drill
    except OutOfRange:
        return
    corner = max(CORNER_RADIUS, (file.make.cutter or 0.0) / 2)
    if fill.on in EDGES:
        side = size[0] if fill.on in ("top", "bottom") else size[1]
        has, needs = side - 2 * min(corner, min(size) / 2), bore
        least = bore + 2 * corner
    else:
        side = has = min(size)
        least = needs = bore
    if has < needs - SAME_MM:
        problems.add(
            ("tank", "size"),
            f"{size[0]:g} x {size[1]:g} mm: a side of {side:g} mm is too short for the fill port's bore of"
            f" {bore:g} mm; make it {least:g} mm or longer, or use a smaller fill thread",
        )


def _check_accept(file: PanelFile, problems: Problems) -> None:
    codes = [rule.code for rule in RULES]
    for code in file.rules.accept:
        if code in NEVER_ACCEPTED:
            problems.add(
                ("rules", "accept", code),
                f"{show_value(code)} cannot be accepted: it says that the solid itself is broken, and whatever"
                " is made from it leaks; remove the key and correct the panel",
            )
        elif code not in codes:
            near = [show_value(other) for other in get_close_matches(code, codes)]
            meant = f"write {' or '.join(near)}, or see" if near else "see"
            problems.add(
                ("rules", "accept", code),
                f"{show_value(code)} is not the code of a check; {meant} `rillplate rules` for all codes",
            )


def _groove_width(file: PanelFile) -> float | None:
    """Return the cord groove's width, [mm]; None without a cord or where the table has none."""
    if file.make.closing != "cord" or file.make.cord is None:
        return None
    try:
        return cord(file.make.cord).groove_width
    except OutOfRange:
        return None


def _check_screw(name: str | None, path: Path, problems: Problems) -> None:
    if name is not None:
        look_up(screw, name, path, problems)
