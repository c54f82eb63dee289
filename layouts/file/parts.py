"""What a panel file says of its parts: curves that rise, what radiators take, restrictors, the wanted flow."""

from __future__ import annotations

from geom.errors import OutOfRange
from geom.frame import SAME_MM
from geom.standards.tables import thread
from geom.units import kpa, show_number
from layouts.file.loop import RESERVED
from layouts.file.model import PanelFile, PartTable
from layouts.file.places import flow_words
from layouts.file.positions import Path, Problems
from layouts.hydraulics.orifice import fitting_bore_mm

LEAST_RESTRICTOR = 0.5
"""A finer bore is a slip of the unit, or clogs at once: common practice, no source, [mm].

It is half of the least that `layouts.groups` advises: what a file asks for is its maker's choice, with a filter
before it; what is advised must also stay open without one.
"""


def check_parts(file: PanelFile, problems: Problems) -> None:
    """Note names that stand twice, and values of a part that contradict each other.

    Parameters
    ----------
    file : PanelFile
    problems : Problems
        Added to.
    """
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
        _check_resistance(part, index, problems)
        _check_capacity(part, index, problems)
        _check_restrictor(part, index, problems)


def _check_resistance(part: PartTable, index: int, problems: Problems) -> None:
    for place, (flow, drop) in enumerate(part.resistance):
        path: Path = ("part", index, "resistance", place)
        before = part.resistance[place - 1] if place else (0.0, 0.0)
        _check_rise(flow, before[0], path, problems)
        if not drop > before[1]:
            problems.add(
                path,
                f"{show_number(kpa(drop))} kPa after {show_number(kpa(before[1]))} kPa; a drop rises with the flow:"
                f" write more than {show_number(kpa(before[1]))} kPa here, or correct the point before",
            )


def _check_capacity(part: PartTable, index: int, problems: Problems) -> None:
    if part.capacity is None:
        return
    for place, (flow, capacity) in enumerate(part.capacity):
        path: Path = ("part", index, "capacity", place)
        before = part.capacity[place - 1] if place else (0.0, 0.0)
        _check_rise(flow, before[0], path, problems)
        if capacity < before[1]:
            problems.add(
                path,
                f"{capacity:.4g} W/K after {before[1]:.4g} W/K; a radiator gives no less heat at more flow:"
                f" write {before[1]:.4g} W/K or more here, or correct the point before",
            )
    if part.heat > 0:
        problems.add(
            ("part", index, "capacity"),
            f"a radiator takes heat away, but the part gives {part.heat:.4g} W; remove capacity or heat, or write"
            " two parts",
        )


def _check_restrictor(part: PartTable, index: int, problems: Problems) -> None:
    if part.restrictor is None:
        return
    if part.restrictor < LEAST_RESTRICTOR:
        problems.add(
            ("part", index, "restrictor"),
            f"{show_number(part.restrictor)} mm is under {LEAST_RESTRICTOR:g} mm and clogs at once; write a bore of"
            f" {LEAST_RESTRICTOR:g} mm or more",
        )
        return
    try:
        bore = fitting_bore_mm(thread(part.inlet.thread).tap_drill)
    except OutOfRange:
        return
    if part.restrictor > bore - SAME_MM:
        problems.add(
            ("part", index, "restrictor"),
            f"{part.restrictor:g} mm does not restrict its {part.inlet.thread} fitting with a bore of {bore:.3g} mm;"
            " write a smaller bore or remove the key",
        )


def _check_rise(flow: float, before: float, path: Path, problems: Problems) -> None:
    if not flow > before:
        problems.add(
            path,
            f"{flow_words(flow)} after {flow_words(before)}; list the points by rising flow, each flow once",
        )
