"""What a panel file says of tubes and of the case that they run through: as data, and what is wrong with it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from geom.frame import SAME_MM, Vec
from layouts.case import Case, MeetingPort, Tubing
from layouts.file.model import PanelFile
from layouts.file.places import list_ports
from layouts.file.positions import Path, Problems
from layouts.file.tube_tables import CaseTable, MeetsEntry, TubeTable

LEAST_OUTER, MOST_OUTER = 1.0, 60.0
"""Outer diameters that tubes of coolant loops have, [mm]; others are slips of the unit: common practice, no source."""

LEAST_RADIUS = 1.0
"""Least bend radius in outer diameters: tighter, a tube folds whatever holds it; common practice, no source."""

MOST_FITTING = 100.0
"""Longest stop or insertion, [mm]: more is a slip of the unit; common practice, no source."""

SQUARE_DEG = 0.1
"""How far the panel's x and z axes may be off a right angle in the file, [deg]."""

TABLE_EXAMPLE = '[tube] with outer = "10 mm", bend_radius = "30 mm", stop = "6 mm", insertion = "12 mm"'


def build_meets(entry: MeetsEntry | None) -> MeetingPort | None:
    """Return a part's own port as data; None where the file gives none."""
    if entry is None:
        return None
    return MeetingPort((entry.at[0], entry.at[1], entry.at[2]), _unit(entry.faces))


def build_case(table: CaseTable | None) -> Case:
    """Return how the panel stands in the case, its axes exactly square; the panel's own frame without a table."""
    if table is None:
        return Case()
    right, front = _unit(table.right), _unit(table.front)
    along = math.fsum(a * b for a, b in zip(right, front, strict=True))
    square = _unit([f - along * r for f, r in zip(front, right, strict=True)])
    return Case((table.origin[0], table.origin[1], table.origin[2]), right, square)


def build_tubing(table: TubeTable | None) -> Tubing | None:
    """Return what the tubes are of; None where the file does not say."""
    if table is None:
        return None
    return Tubing(table.outer, table.bend_radius, table.stop, table.insertion)


def check_tubes(file: PanelFile, problems: Problems) -> None:
    """Note ports of parts without a [tube], directions that point nowhere, axes that are not square, odd sizes.

    Parameters
    ----------
    file : PanelFile
    problems : Problems
        Added to.
    """
    for port in list_ports(file):
        meets, path = port.entry.meets, (*port.path, "meets")
        if meets is None:
            continue
        if port.path[0] != "part":
            problems.add(path, "only a part's port meets another; leave meets out")
            continue
        _check_direction(
            meets.faces, (*path, "faces"), "a direction out of the part, e.g. [0, 0, -1]", problems
        )
        if file.tube is None:
            problems.add(path, f"the tube to it needs a table {TABLE_EXAMPLE}; write it, or remove meets")
    _check_case(file.case, problems)
    _check_tube(file.tube, problems)


def _check_case(case: CaseTable | None, problems: Problems) -> None:
    if case is None:
        return
    right = _check_direction(
        case.right, ("case", "right"), "where the panel's x points, e.g. [1, 0, 0]", problems
    )
    front = _check_direction(
        case.front, ("case", "front"), "where the panel's z points, e.g. [0, 0, 1]", problems
    )
    if not (right and front):
        return
    cosine = math.fsum(a * b for a, b in zip(_unit(case.right), _unit(case.front), strict=True))
    angle = math.degrees(math.acos(max(-1.0, min(1.0, cosine))))
    if abs(angle - 90.0) > SQUARE_DEG:
        problems.add(
            ("case", "front"),
            f"{_show(case.front)} stands at {angle:.1f} degrees to right, {_show(case.right)}; the panel's axes are "
            f"square: write directions at 90 degrees, within {SQUARE_DEG:g}",
        )


def _check_tube(tube: TubeTable | None, problems: Problems) -> None:
    if tube is None:
        return
    if not LEAST_OUTER - SAME_MM <= tube.outer <= MOST_OUTER + SAME_MM:
        problems.add(
            ("tube", "outer"),
            f"{tube.outer:g} mm is no tube's outer diameter; write {LEAST_OUTER:g} to {MOST_OUTER:g} mm",
        )
    elif tube.bend_radius is not None and tube.bend_radius < LEAST_RADIUS * tube.outer - SAME_MM:
        least = LEAST_RADIUS * tube.outer
        problems.add(
            ("tube", "bend_radius"),
            f"{tube.bend_radius:g} mm is too tight for a tube of {tube.outer:g} mm, which folds; write {least:g} mm or "
            "more, the centreline's radius, or remove the key: tubes then stay straight",
        )
    for key, value in (("stop", tube.stop), ("insertion", tube.insertion)):
        if value > MOST_FITTING + SAME_MM:
            problems.add(
                ("tube", key),
                f"{value:g} mm is longer than any fitting; write at most {MOST_FITTING:g} mm",
            )


def _check_direction(direction: Sequence[float], path: Path, expected: str, problems: Problems) -> bool:
    """Return whether a direction points somewhere; note it where it does not."""
    length = math.hypot(*direction)
    if length > SAME_MM and math.isfinite(length):
        return True
    problems.add(path, f"{_show(direction)} points nowhere; write {expected}")
    return False


def _unit(direction: Sequence[float]) -> Vec:
    length = math.hypot(*direction)
    return direction[0] / length, direction[1] / length, direction[2] / length


def _show(direction: Sequence[float]) -> str:
    return f"[{', '.join(f'{part:g}' for part in direction)}]"
