"""What the values of a panel file say about each other: every contradiction, told at once.

Each check appends (path, text): the text says what was read, and what to write instead.
"""

from __future__ import annotations

import math
from difflib import get_close_matches

from geom.errors import OutOfRange
from geom.frame import SAME_MM
from geom.standards.tables import cord, material, screw
from geom.units import kpa, l_min, show_number
from layouts.file_loop import RESERVED, check_loop
from layouts.file_model import ChoiceEntry, PanelFile, show_value
from layouts.file_places import (
    check_box,
    check_edge_ports,
    check_holds_node,
    check_inside,
    check_keep_clear,
    check_on_grid,
    check_one_place,
    check_ports,
    check_tank_over_pump,
    look_up,
)
from layouts.positions import Path, Problems
from layouts.rule_catalogue import NEVER_ACCEPTED, RULES

FLOOR = 1.0
"""Least material left under a channel or pocket, [mm]."""

MOST_NODES = 400_000
MOST_GLYCOL = 0.6

WATER_C = (1.0, 95.0)
GLYCOL_C = (-40.0, 95.0)
"""Coolant temperatures that a panel file may ask for, [°C]: liquid, and short of boiling."""


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
    _check_coolant(file, problems)
    _check_tank(file, problems)
    _check_pump(file, problems)
    check_tank_over_pump(file, problems)
    _check_parts(file, problems)
    check_loop(file, problems)
    check_ports(file, problems)
    check_edge_ports(file, problems)
    check_keep_clear(file, problems)
    _check_accept(file, problems)
    return problems.found


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
    if make.cord is not None:
        look_up(cord, make.cord, ("make", "cord"), problems)
    _check_screw(make.screw, ("make", "screw"), problems)


def _check_channel(file: PanelFile, problems: Problems) -> None:
    channel, make, wall = file.channel, file.make, file.rules.least_wall
    half = channel.width / 2
    groove = _groove_width(file)
    gap = 3 * wall + 2 * groove if groove is not None else wall
    shorter = min(file.panel.size)
    if channel.layers != 1:
        problems.add(
            ("channel", "layers"), f"read {channel.layers}; channels are routed in one face so far; use 1"
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


def _check_coolant(file: PanelFile, problems: Problems) -> None:
    coolant = file.coolant
    water = coolant.fluid == "water"
    if water and coolant.mass_fraction is not None:
        problems.add(
            ("coolant", "mass_fraction"),
            f"{100 * coolant.mass_fraction:.4g} % of glycol in water alone; remove the key or name a glycol as fluid",
        )
    if not water and coolant.mass_fraction is None:
        problems.add(
            ("coolant", "mass_fraction"),
            f'missing; "{coolant.fluid}" needs its share by mass, e.g. mass_fraction = "30 %"',
        )
    if not water and coolant.mass_fraction is not None and coolant.mass_fraction > MOST_GLYCOL:
        problems.add(
            ("coolant", "mass_fraction"),
            f"{100 * coolant.mass_fraction:.4g} % is too much glycol; from 0 to {100 * MOST_GLYCOL:g} %",
        )
    low, high = WATER_C if water else GLYCOL_C
    if not low <= coolant.temperature <= high:
        problems.add(
            ("coolant", "temperature"),
            f"{coolant.temperature:.4g} °C is outside {low:g} to {high:g} °C for {coolant.fluid};"
            " write the coolant's temperature in use, e.g. '35 °C'",
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
    if not pocket:
        return
    check_one_place({"within": tank.within, "at": tank.at}, ("tank",), problems)
    most = file.make.body - FLOOR * (2 if file.make.closing == "one-piece" else 1)
    if tank.depth is not None and tank.depth > most - SAME_MM:
        problems.add(
            ("tank", "depth"),
            f"{tank.depth:g} mm leaves less than {FLOOR:g} mm of floor in a body of {file.make.body:g} mm;"
            f" stay below {most:g} mm or use a thicker body",
        )
    if tank.size is None:
        return
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


def _check_pump(file: PanelFile, problems: Problems) -> None:
    pump = file.pump
    check_one_place({"within": pump.within, "at": pump.at}, ("pump",), problems)
    if pump.at is not None and check_inside(file, (pump.at[0], pump.at[1]), ("pump", "at"), problems):
        check_on_grid(file, {"x": pump.at[0], "y": pump.at[1]}, ("pump", "at"), problems)
    check_on_grid(
        file, {"x": pump.outlet_offset[0], "y": pump.outlet_offset[1]}, ("pump", "outlet_offset"), problems
    )
    offset = math.hypot(*pump.outlet_offset)
    touching = (pump.inlet_bore + pump.outlet_bore) / 2
    if offset < SAME_MM:
        problems.add(
            ("pump", "outlet_offset"), "(0, 0) mm puts the outlet on the inlet; write the outlet's offset"
        )
    elif offset < touching + SAME_MM:
        problems.add(
            ("pump", "outlet_offset"),
            f"{offset:.4g} mm from inlet to outlet, but the inlet bore of {pump.inlet_bore:g} mm and the"
            f" outlet bore of {pump.outlet_bore:g} mm overlap nearer than {touching:g} mm; write an offset of"
            f" at least {touching + file.rules.least_wall:g} mm, with the least wall, or smaller bores",
        )
    if pump.within is not None and check_box(file, pump.within, ("pump", "within"), problems):
        x0, y0, x1, y1 = pump.within
        seat = pump.seat.diameter if pump.seat is not None else 0.0
        if seat > min(x1 - x0, y1 - y0) + SAME_MM:
            problems.add(
                ("pump", "within"),
                f"a box of {x1 - x0:g} x {y1 - y0:g} mm cannot hold the pump's seat of {seat:g} mm;"
                " widen the box",
            )
        else:
            room = (x0 + seat / 2, y0 + seat / 2, x1 - seat / 2, y1 - seat / 2)
            check_holds_node(file, room, ("pump", "within"), "for the pump's inlet", problems)
    seen: dict[int, int] = {}
    for index, turn in enumerate(pump.turns):
        quarter = round(turn / 90)
        if abs(turn - 90 * quarter) > SAME_MM:
            problems.add(
                ("pump", "turns", index), f"{turn:g} deg is not a quarter turn; use 0, 90, 180 or 270 deg"
            )
        elif seen.setdefault(quarter % 4, index) != index:
            problems.add(("pump", "turns", index), f"{turn:g} deg stands twice; remove one")
    if pump.screws is not None:
        _check_screw(pump.screws.size, ("pump", "screws", "size"), problems)
    if pump.seat is not None and pump.seat.depth > file.make.body - FLOOR:
        problems.add(
            ("pump", "seat", "depth"),
            f"{pump.seat.depth:g} mm does not fit a body of {file.make.body:g} mm; less than"
            f" {file.make.body - FLOOR:g} mm",
        )
    if pump.curve is None and not pump.choice:
        problems.add(
            ("pump", "curve"),
            'missing; write e.g. curve = [["0 L/min", "3.9 m"], ["8 L/min", "2.3 m"]] or a [[pump.choice]]',
        )
    if pump.curve is not None:
        _check_curve(pump.curve, ("pump", "curve"), problems)
    names: dict[str, int] = {}
    for index, choice in enumerate(pump.choice):
        _check_choice(choice, ("pump", "choice", index), problems)
        if names.setdefault(choice.name, index) != index:
            problems.add(
                ("pump", "choice", index, "name"),
                f'"{choice.name}" stands twice; give each pump its own name',
            )


def _check_choice(choice: ChoiceEntry, path: Path, problems: Problems) -> None:
    _check_curve(choice.curve, (*path, "curve"), problems)
    if choice.speed is not None and not choice.speed[0] < choice.speed[1]:
        problems.add(
            (*path, "speed"),
            f"{show_number(choice.speed[0])} to {show_number(choice.speed[1])} rpm does not rise;"
            " write least, then most",
        )


def _check_curve(curve: list[tuple[float, float]], path: Path, problems: Problems) -> None:
    if abs(curve[0][0]) > 0:
        problems.add((*path, 0), f"starts at {_l_min(curve[0][0])}; the first point is at no flow, '0 L/min'")
    if not curve[0][1] > 0:
        problems.add((*path, 0), f"head of {curve[0][1]:g} m at no flow; it must be above 0 m")
    for index in range(1, len(curve)):
        (flow0, head0), (flow1, head1) = curve[index - 1 : index + 1]
        if not flow1 > flow0:
            problems.add(
                (*path, index), f"{_l_min(flow1)} does not follow {_l_min(flow0)}; flows must increase"
            )
        if head1 > head0:
            problems.add(
                (*path, index),
                f"head rises from {head0:.4g} m to {head1:.4g} m; a curve may not rise with flow",
            )


def _check_parts(file: PanelFile, problems: Problems) -> None:
    first: dict[str, int] = {}
    for index, part in enumerate(file.part):
        if part.name in RESERVED:
            problems.add(
                ("part", index, "name"),
                f'"{part.name}" already names a piece of the panel; choose another name for the part',
            )
        if first.setdefault(part.name, index) != index:
            problems.add(
                ("part", index, "name"),
                f'"{part.name}" is already the name of part {first[part.name] + 1}; give each part its own',
            )
        for place, (flow, drop) in enumerate(part.resistance):
            path: Path = ("part", index, "resistance", place)
            before = part.resistance[place - 1] if place else (0.0, 0.0)
            if not flow > before[0]:
                problems.add(
                    path, f"{_l_min(flow)} after {_l_min(before[0])}; flows must be positive and increase"
                )
            if not drop > before[1]:
                problems.add(
                    path,
                    f"{show_number(kpa(drop))} kPa after {show_number(kpa(before[1]))} kPa;"
                    " drops must be positive and increase",
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


def _l_min(flow_m3_s: float) -> str:
    return f"{show_number(l_min(flow_m3_s))} L/min"
