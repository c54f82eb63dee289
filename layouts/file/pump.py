"""What a file can say wrong about its pumps: the place, the curves, the speeds, which one is used."""

from __future__ import annotations

import math
from difflib import get_close_matches

from geom.frame import SAME_MM
from geom.standards.tables import screw
from geom.units import L_MIN_M3_S, show_number
from layouts.file.model import ChoiceEntry, PanelFile, PumpTable
from layouts.file.places import (
    FLOOR,
    check_box,
    check_holds_node,
    check_inside,
    check_on_grid,
    check_one_place,
    find_seat,
    find_used,
    flow_words,
    list_pumps,
    look_up,
)
from layouts.file.positions import Path, Problems
from layouts.file.quantities import show_value

OF_THE_CURVE = ("name", "power", "speed", "least_inlet_head", "noise")
"""Keys of [pump] that say something about the pump of its curve."""

LEAST_HEAD_M = 0.01
"""Least head at no flow, [m]: what is less moves no coolant through a panel."""
LEAST_LAST_FLOW_M3_S = 0.01 * L_MIN_M3_S
"""Least flow at which a curve may end, [m3/s]."""


def check_pump(file: PanelFile, problems: Problems) -> None:
    """Note everything that is wrong with the pumps of a file.

    Parameters
    ----------
    file : PanelFile
    problems : Problems
        What is found is added here.
    """
    _check_place(file, problems)
    _check_body(file, problems)
    _check_curves(file.pump, problems)
    _check_names(file.pump, problems)
    _check_run(file.pump, problems)


def _check_place(file: PanelFile, problems: Problems) -> None:
    pump = file.pump
    check_one_place({"within": pump.within, "at": pump.at}, ("pump",), problems)
    if pump.at is not None and check_inside(file, (pump.at[0], pump.at[1]), ("pump", "at"), problems):
        check_on_grid(file, {"x": pump.at[0], "y": pump.at[1]}, ("pump", "at"), problems)
    check_on_grid(
        file, {"x": pump.outlet_offset[0], "y": pump.outlet_offset[1]}, ("pump", "outlet_offset"), problems
    )
    _check_bores(file, problems)
    if pump.within is not None and check_box(file, pump.within, ("pump", "within"), problems):
        x0, y0, x1, y1 = pump.within
        seat = find_seat(pump)
        if seat > min(x1 - x0, y1 - y0) + SAME_MM:
            problems.add(
                ("pump", "within"),
                f"a box of {x1 - x0:g} x {y1 - y0:g} mm cannot hold the pump's seat of {seat:g} mm;"
                " widen the box",
            )
        else:
            room = (x0 + seat / 2, y0 + seat / 2, x1 - seat / 2, y1 - seat / 2)
            check_holds_node(file, room, ("pump", "within"), "for the pump's inlet", problems)


def _check_bores(file: PanelFile, problems: Problems) -> None:
    """Note bores of the used pump that overlap: of another it is an obstacle, told by the plan."""
    pump = file.pump
    used = find_used(pump) or pump
    inlet_bore = used.inlet_bore or pump.inlet_bore
    outlet_bore = used.outlet_bore or pump.outlet_bore
    offset, touching = math.hypot(*pump.outlet_offset), (inlet_bore + outlet_bore) / 2
    if offset < SAME_MM:
        problems.add(
            ("pump", "outlet_offset"), "(0, 0) mm puts the outlet on the inlet; write the outlet's offset"
        )
        return
    if offset >= touching + SAME_MM:
        return
    bores = (
        f"the inlet bore of {inlet_bore:g} mm and the outlet bore of {outlet_bore:g} mm overlap nearer than"
        f" {touching:g} mm; write"
    )
    needs = f"an offset of at least {touching + file.rules.least_wall:g} mm, with the least wall"
    path = next((path for _, path, entry in list_pumps(pump) if entry is used), ("pump",))
    own = [key for key in ("inlet_bore", "outlet_bore") if getattr(used, key) is not None]
    if path == ("pump",) or not own:
        problems.add(
            ("pump", "outlet_offset"),
            f"{offset:.4g} mm from inlet to outlet, but {bores} {needs}, or smaller bores",
        )
        return
    widest = max(own, key=lambda key: getattr(used, key))
    problems.add(
        (*path, widest),
        f'of "{used.name}", the used pump: {bores} smaller bores, or {needs}, into [pump]: outlet_offset gives'
        f" {offset:.4g} mm",
    )


def _check_body(file: PanelFile, problems: Problems) -> None:
    pump = file.pump
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
        look_up(screw, pump.screws.size, ("pump", "screws", "size"), problems)
    if pump.seat is not None and pump.seat.depth > file.make.body - FLOOR:
        problems.add(
            ("pump", "seat", "depth"),
            f"{pump.seat.depth:g} mm does not fit a body of {file.make.body:g} mm; less than"
            f" {file.make.body - FLOOR:g} mm",
        )


def _check_curves(pump: PumpTable, problems: Problems) -> None:
    if pump.curve is None and not pump.choice:
        problems.add(
            ("pump", "curve"),
            'missing; write e.g. curve = [["0 L/min", "3.9 m"], ["8 L/min", "2.3 m"]] or a [[pump.choice]]',
        )
    elif pump.curve is None:
        for key in OF_THE_CURVE:
            if getattr(pump, key) is not None:
                problems.add(
                    ("pump", key),
                    f"belongs to a pump with a curve, and [pump] has none; write the curve beside it, or move"
                    f" {key} to its [[pump.choice]]",
                )
    for _, path, entry in list_pumps(pump):
        _check_curve(entry.curve or [], (*path, "curve"), problems)
        if entry.speed is not None and not entry.speed[0] < entry.speed[1]:
            problems.add(
                (*path, "speed"),
                f"{_rpm(entry.speed[0])} to {_rpm(entry.speed[1])} rpm does not rise; write least, then most",
            )


def _check_curve(curve: list[tuple[float, float]], path: Path, problems: Problems) -> None:
    if abs(curve[0][0]) > 0:
        problems.add(
            (*path, 0), f"starts at {flow_words(curve[0][0])}; the first point is at no flow, '0 L/min'"
        )
    if curve[0][1] < LEAST_HEAD_M:
        problems.add(
            (*path, 0),
            f"head of {show_number(curve[0][1])} m at no flow; it must be at least {LEAST_HEAD_M:g} m, so check its"
            " unit",
        )
    if curve[0][0] < curve[-1][0] < LEAST_LAST_FLOW_M3_S:
        problems.add(
            (*path, len(curve) - 1),
            f"the curve ends at {flow_words(curve[-1][0])}; it must reach at least"
            f" {flow_words(LEAST_LAST_FLOW_M3_S)}, so check its unit or give more points",
        )
    for index in range(1, len(curve)):
        (flow0, head0), (flow1, head1) = curve[index - 1 : index + 1]
        if flow1 == flow0:
            problems.add(
                (*path, index),
                f"{flow_words(flow1)} stands twice, with {head0:.4g} m and {head1:.4g} m; flows must increase,"
                " so give each flow once",
            )
        elif flow1 < flow0:
            problems.add(
                (*path, index),
                f"{flow_words(flow1)} does not follow {flow_words(flow0)}; flows must increase",
            )
        if head1 > head0:
            problems.add(
                (*path, index),
                f"head rises from {head0:.4g} m to {head1:.4g} m; a curve may not rise with flow",
            )


def _check_names(pump: PumpTable, problems: Problems) -> None:
    names: dict[str, Path] = {}
    for name, path, _ in list_pumps(pump):
        if names.setdefault(name, path) == path:
            continue
        own = ", first for the pump of [pump]" if names[name] == ("pump",) else ""
        problems.add((*path, "name"), f'"{name}" stands twice{own}; give each pump its own name')
    if pump.use is not None and pump.use not in names and names:
        near = get_close_matches(pump.use, names, n=1)
        listed = ", ".join(show_value(name) for name in (near or names))
        problems.add(
            ("pump", "use"),
            f"{show_value(pump.use)} is not a pump of this file; write {listed}, or remove the key",
        )


def _check_run(pump: PumpTable, problems: Problems) -> None:
    used = find_used(pump)
    if pump.run_at is not None and used is not None:
        _check_speed(pump.run_at, used, problems)
    if pump.most_noise is not None and all(entry.noise is None for _, _, entry in list_pumps(pump)):
        problems.add(
            ("pump", "most_noise"),
            f"{pump.most_noise:g} dB, but no pump of the file gives its noise; write e.g. noise = '36 dB' beside a"
            " curve, or remove the key",
        )


def _check_speed(run_at: float, used: PumpTable | ChoiceEntry, problems: Problems) -> None:
    path: Path = ("pump", "run_at")
    if used.speed is None:
        problems.add(
            path,
            f"{_rpm(run_at)} rpm, but the used pump gives no speed; write speed = [least, most] beside its curve,"
            " or remove the key",
        )
        return
    least, most = used.speed
    if least < most and not least <= run_at <= most:
        problems.add(
            path,
            f"{_rpm(run_at)} rpm is outside the used pump's speed, {_rpm(least)} to {_rpm(most)} rpm; write one"
            " within, or remove the key for the most",
        )


def _rpm(speed: float) -> str:
    return show_number(speed, 6)
