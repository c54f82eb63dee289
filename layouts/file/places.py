"""Where the file puts things: ports, boxes, spans, and the tank over the pump.

Each check adds what was read and what to write instead to the `Problems` it is given.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

from geom.errors import OutOfRange
from geom.frame import EDGES, SAME_MM, Face
from geom.standards.tables import cord, thread
from geom.units import l_min, show_number
from layouts.clearance import edge_axis_z
from layouts.file.model import ChoiceEntry, PanelFile, PortEntry, PumpTable
from layouts.file.positions import Path, Problems

T = TypeVar("T")

FLOOR = 1.0
"""Least material left under a channel, pocket or seat, [mm]."""

OWN_PUMP = "pump"
"""What the pump of [pump] is called where the file gives it no name."""


@dataclass(frozen=True, slots=True)
class NamedPort:
    """A port of the file with what the file does not spell out: its name, its owner and its role."""

    path: Path
    name: str
    part: str
    role: str
    entry: PortEntry

    @property
    def needs_place(self) -> bool:
        """Whether the file must say where it stands: a fill port may be left to the solver."""
        return self.role != "fill"


def list_ports(file: PanelFile) -> Iterator[NamedPort]:
    """Yield every port: the parts' in file order, then the tank's, then the drain."""
    for index, part in enumerate(file.part):
        yield NamedPort(("part", index, "inlet"), f"{part.name} inlet", part.name, "inlet", part.inlet)
        yield NamedPort(("part", index, "outlet"), f"{part.name} outlet", part.name, "outlet", part.outlet)
    if file.tank.fill is not None:
        yield NamedPort(("tank", "fill"), "fill", "tank", "fill", file.tank.fill)
    if file.tank.outlet is not None:
        yield NamedPort(("tank", "outlet"), "tank outlet", "tank", "outlet", file.tank.outlet)
    if file.tank.inlet is not None:
        yield NamedPort(("tank", "inlet"), "tank return", "tank", "inlet", file.tank.inlet)
    if file.drain is not None:
        yield NamedPort(("drain", "port"), "drain", "drain", "drain", file.drain.port)


def fixed_place(file: PanelFile, port: PortEntry) -> tuple[float, float] | None:
    """Return where a fixed port stands, (x, y) [mm]; on an edge the point of its line. None where free."""
    width, height = file.panel.size
    if port.at is None:
        return None
    if isinstance(port.at, list):
        return port.at[0], port.at[1]
    along = port.at
    edges = {"top": (along, height), "bottom": (along, 0.0), "left": (0.0, along), "right": (width, along)}
    return edges.get(port.on)


def check_ports(file: PanelFile, problems: Problems) -> None:
    """Note every port whose thread or keys are wrong, or that no grid node on the panel can hold.

    Parameters
    ----------
    file : PanelFile
    problems : Problems
        Added to; two ports fixed at one place name each other.
    """
    taken: dict[tuple[int, int], str] = {}
    if file.pump.at is not None:
        taken[_micron(file.pump.at[0], file.pump.at[1])] = "the pump's inlet"
    for port in list_ports(file):
        entry = port.entry
        look_up(thread, entry.thread, (*port.path, "thread"), problems)
        if entry.hose is not None and port.path[0] != "part":
            problems.add(
                (*port.path, "hose"), "a hose's way is asked for at parts' ports only; leave hose out"
            )
        edge = entry.on in EDGES
        if not _check_port_keys(port, edge, problems):
            continue
        place = fixed_place(file, entry)
        if place is not None and check_inside(file, place, (*port.path, "at"), problems):
            if not edge:
                along = {"x": place[0], "y": place[1]}
            else:
                along = {"x": place[0]} if entry.on in ("top", "bottom") else {"y": place[1]}
            check_on_grid(file, along, (*port.path, "at"), problems)
            other = taken.setdefault(_micron(*place), f'"{port.name}"')
            if other != f'"{port.name}"':
                problems.add(
                    (*port.path, "at"),
                    f'"{port.name}" and {other} both stand at ({place[0]:g}, {place[1]:g}) mm; move one',
                )
        if entry.within is not None and check_box(file, entry.within, (*port.path, "within"), problems):
            check_holds_node(
                file, tuple(entry.within), (*port.path, "within"), f'for "{port.name}"', problems
            )
        if entry.between is not None:
            _check_span(file, port, entry.on, entry.between, problems)


def check_edge_ports(file: PanelFile, problems: Problems) -> None:
    """Note every port on an edge for which the body is too thin or the channel too shallow."""
    make = file.make
    try:
        groove = cord(make.cord or 0.0).groove_depth if make.closing == "cord" else 0.0
    except OutOfRange:
        # The cord is told already, and without its groove nothing can be said.
        return
    for port in list_ports(file):
        if port.entry.on not in EDGES:
            continue
        try:
            row = thread(port.entry.thread)
        except OutOfRange:
            # Told by `check_ports`.
            continue
        try:
            edge_axis_z(
                row,
                make.closing,
                make.body,
                groove,
                file.channel.depth,
                file.rules.least_wall,
                file.channel.layers,
            )
        except OutOfRange as error:
            problems.add(port.path, str(error))


def _check_port_keys(port: NamedPort, edge: bool, problems: Problems) -> bool:
    """Check that a port says in one way where it stands; return whether the rest can be checked."""
    entry = port.entry
    free = "between" if edge else "within"
    wrong = "within" if edge else "between"
    example = 'between = ["20 mm", "80 mm"]' if edge else 'within = ["30 mm", "60 mm", "90 mm", "90 mm"]'
    fixed = 'at = "40 mm"' if edge else 'at = ["40 mm", "40 mm"]'
    if getattr(entry, wrong) is not None:
        problems.add(
            (*port.path, wrong), f'read {wrong} on "{entry.on}"; write {fixed} or {example} there instead'
        )
        return False
    if isinstance(entry.at, list) == edge and entry.at is not None:
        read = "two lengths" if edge else "one length"
        problems.add((*port.path, "at"), f'read {read} on "{entry.on}"; write e.g. {fixed}')
        return False
    given = (entry.at is not None) + (getattr(entry, free) is not None)
    if given == 2:
        problems.add(port.path, f"read both at and {free}; keep one of them")
    elif given == 0 and port.needs_place:
        problems.add(port.path, f'no place on "{entry.on}"; write {fixed} or {example}')
    return given < 2


def _check_span(file: PanelFile, port: NamedPort, on: Face, span: list[float], problems: Problems) -> None:
    path = (*port.path, "between")
    low, high = span
    side = file.panel.size[0] if on in ("top", "bottom") else file.panel.size[1]
    shown = f"{low:g} to {high:g} mm"
    if not low < high:
        problems.add(path, f"{shown} does not rise; write the smaller length first")
    elif low < 0 or high > side:
        problems.add(path, f"{shown} reaches outside the {on} edge, 0 to {side:g} mm; stay inside")
    elif not _holds_multiple(low, high, file.panel.pitch):
        problems.add(
            path,
            f'{shown} holds no multiple of the pitch, {file.panel.pitch:g} mm, for "{port.name}"; widen it',
        )


def check_keep_clear(file: PanelFile, problems: Problems) -> None:
    """Check that every keep-clear region lies in the panel and has a name of its own."""
    names: dict[str, int] = {}
    for index, region in enumerate(file.keep_clear):
        check_box(file, region.box, ("keep_clear", index, "box"), problems)
        if names.setdefault(region.name, index) != index:
            problems.add(
                ("keep_clear", index, "name"), f'"{region.name}" stands twice; give each region its own name'
            )


def look_up(row: Callable[[T], object], value: T, path: Path, problems: Problems) -> None:
    """Check that a table has the row that the file names."""
    try:
        row(value)
    except OutOfRange as error:
        problems.add(path, str(error))


def check_one_place(places: dict[str, object], path: Path, problems: Problems) -> None:
    """Check that exactly one of the keys that say where a thing stands is given."""
    given = [key for key, value in places.items() if value is not None]
    if len(given) > 1:
        problems.add(path, f"read both {' and '.join(given)}; keep one of them")
    elif not given:
        problems.add(
            path, 'no place; write within = ["20 mm", "20 mm", "120 mm", "90 mm"] or at = ["40 mm", "40 mm"]'
        )


def check_box(file: PanelFile, box: list[float], path: Path, problems: Problems) -> bool:
    """Check that a box is ordered and inside the panel; return whether it is."""
    x0, y0, x1, y1 = box
    width, height = file.panel.size
    if not (x0 < x1 and y0 < y1):
        problems.add(
            path, f"{box_words(tuple(box))} is not in order; write x0, y0, x1, y1 with x0 < x1, y0 < y1"
        )
        return False
    if x0 < 0 or y0 < 0 or x1 > width or y1 > height:
        problems.add(
            path,
            f"{box_words(tuple(box))} reaches outside the panel of {width:g} x {height:g} mm; stay inside",
        )
        return False
    return True


def check_holds_node(
    file: PanelFile, box: tuple[float, ...], path: Path, purpose: str, problems: Problems
) -> None:
    """Check that a box holds a node of the grid."""
    pitch = file.panel.pitch
    if not (_holds_multiple(box[0], box[2], pitch) and _holds_multiple(box[1], box[3], pitch)):
        problems.add(
            path, f"{box_words(box)} holds no grid node {purpose} at a pitch of {pitch:g} mm; widen the box"
        )


def check_inside(file: PanelFile, place: tuple[float, float], path: Path, problems: Problems) -> bool:
    """Check that a place lies on the panel; return whether it does."""
    width, height = file.panel.size
    if 0 <= place[0] <= width and 0 <= place[1] <= height:
        return True
    problems.add(
        path,
        f"({place[0]:g}, {place[1]:g}) mm is outside the panel of {width:g} x {height:g} mm; move it inside",
    )
    return False


def check_on_grid(file: PanelFile, lengths: dict[str, float], path: Path, problems: Problems) -> None:
    """Check that each length, [mm], named by its axis, is a whole multiple of the pitch."""
    pitch = file.panel.pitch
    for axis, value in lengths.items():
        low = math.floor(value / pitch + SAME_MM)
        if abs(value - pitch * round(value / pitch)) > SAME_MM:
            problems.add(
                path,
                f"{axis} = {value:g} mm is off the grid of {pitch:g} mm; the nearest are"
                f" {pitch * low:g} mm and {pitch * (low + 1):g} mm",
            )


def _holds_multiple(low: float, high: float, pitch: float) -> bool:
    return math.floor(high / pitch + SAME_MM) * pitch >= low - SAME_MM


def _holds_box(box: tuple[float, ...], size: Sequence[float]) -> bool:
    """Return whether a box is in order and takes a rectangle of some size."""
    return box[2] - box[0] >= size[0] - SAME_MM and box[3] - box[1] >= size[1] - SAME_MM


def _micron(x: float, y: float) -> tuple[int, int]:
    return round(1000 * x), round(1000 * y)


def box_words(box: tuple[float, ...]) -> str:
    """Return a box as a message shows it."""
    return f"x {box[0]:g} to {box[2]:g}, y {box[1]:g} to {box[3]:g} mm"


def flow_words(flow_m3_s: float) -> str:
    """Return a flow [m3/s] as a message shows it."""
    return f"{show_number(l_min(flow_m3_s))} L/min"


def list_pumps(pump: PumpTable) -> list[tuple[str, Path, PumpTable | ChoiceEntry]]:
    """Return the file's pumps by name and path: that of [pump] where it has a curve, then the choices."""
    choices: list[tuple[str, Path, PumpTable | ChoiceEntry]] = [
        (choice.name, ("pump", "choice", index), choice) for index, choice in enumerate(pump.choice)
    ]
    own = [(pump.name or OWN_PUMP, ("pump",), pump)] if pump.curve is not None else []
    return [*own, *choices]


def find_used(pump: PumpTable) -> PumpTable | ChoiceEntry | None:
    """Return the pump that the panel is made for; None where the file has none of that name."""
    pumps = [entry for name, _, entry in list_pumps(pump) if pump.use in (None, name)]
    return pumps[0] if pumps else None


def find_seat(pump: PumpTable) -> float:
    """Return the diameter of the used pump's seat, 0 without one, [mm]."""
    used = find_used(pump)
    own = pump.seat.diameter if pump.seat is not None else 0.0
    return used.seat or own if isinstance(used, ChoiceEntry) else own


def check_tank_over_pump(file: PanelFile, problems: Problems) -> None:
    """Check that the tank's box can reach above the pump's inlet at all."""
    tank, pump = file.tank, file.pump
    if tank.kind != "pocket" or tank.size is None or (pump.within is None) == (pump.at is None):
        return
    if (tank.within is None) == (tank.at is None):
        return
    if tank.within is not None:
        tank_box: tuple[float, ...] = tuple(tank.within)
    else:
        assert tank.at is not None
        tank_box = (*tank.at, tank.at[0] + tank.size[0], tank.at[1] + tank.size[1])
    if pump.within is not None:
        radius = find_seat(pump) / 2
        x0, y0, x1, y1 = pump.within
        inlet_box: tuple[float, ...] = (x0 + radius, y0 + radius, x1 - radius, y1 - radius)
    else:
        assert pump.at is not None
        inlet_box = (*pump.at, *pump.at)
    if not (_holds_box(tank_box, tank.size) and _holds_box(inlet_box, (0.0, 0.0))):
        # Told by the checks of the boxes themselves.
        return
    beside = tank_box[2] < inlet_box[0] or inlet_box[2] < tank_box[0]
    below = tank_box[3] - tank.size[1] <= inlet_box[1]
    if beside or below:
        key = "within" if tank.within is not None else "at"
        problems.add(
            ("tank", key),
            f"a tank box that cannot reach above the pump: the tank may stand in {box_words(tank_box)}, the"
            f" pump's inlet in {box_words(inlet_box)}; the tank must end above the inlet, over the same x,"
            " so that the pump always stands in coolant",
        )
