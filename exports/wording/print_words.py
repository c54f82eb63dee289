"""What is told of a print: what the slicer is set to, how long it takes, and names of poses in few letters."""

from __future__ import annotations

import math
from dataclasses import dataclass

from exports.wording.figures import show_banded, show_mm
from geom.frame import SAME_MM
from layouts.cost.print_time import PrintTime
from layouts.panel import Panel
from layouts.printing.process import process_of
from layouts.rules.process_rules import widest_tight_wall

HOURS_BAND = 0.1
"""Two digits: hours are told to no more than these, however wide their band."""


@dataclass(frozen=True, slots=True)
class PrintSettings:
    """What a slicer is set to, lengths in mm.

    Parameters
    ----------
    process : {"filament", "resin"}
    layer, line_width : float
        The width is 0 for resin, which has no lines.
    wall : float
        Thinnest wall beside coolant that the print is to hold tight: the file's, or the process's where that is more.
    lines : int
        In that wall; 0 for resin.
    """

    process: str
    layer: float
    line_width: float
    wall: float
    lines: int


def print_settings(panel: Panel) -> PrintSettings:
    """Return what a slicer is set to for a panel.

    Parameters
    ----------
    panel : Panel
        Printed.
    """
    process = process_of(panel)
    wall = max(widest_tight_wall(panel), panel.rules.least_wall)
    lines = math.ceil((wall - SAME_MM) / process.line_width) if process.line_width > 0 else 0
    return PrintSettings(process.name, process.layer, process.line_width, wall, lines)


def tell_settings(panel: Panel) -> tuple[str, ...]:
    """Return what a slicer is set to, in sentences.

    Parameters
    ----------
    panel : Panel
        Printed.
    """
    one = print_settings(panel)
    if one.process == "resin":
        return (
            f"settings: resin, layers of {show_mm(one.layer)} mm; walls beside coolant of {show_mm(one.wall)} mm",
            "print solid, not hollowed: weight and time are those of a solid print",
        )
    return (
        f"settings: filament, layers of {show_mm(one.layer)} mm, lines {show_mm(one.line_width)} mm wide, "
        f"{one.lines} lines in a wall of {show_mm(one.wall)} mm beside coolant",
        f"print solid: 100 % infill, or at least {one.lines} lines round everything, for a sparse infill leaks; weight "
        "and time are those of a solid print",
    )


def tell_time(time: PrintTime) -> str:
    """Return how long a print takes, "about 59 h for all printed parts", and what that stands on."""
    hours = show_banded(time.hours, HOURS_BAND)
    return f"about {hours} h for all printed parts; {'; '.join(time.assumptions)}"


def shorten_pose(name: str) -> str:
    """Return a pose's name for a table: "back, 45 deg onto top" of "on its back, tilted 45 deg onto its top edge"."""
    for long, short in (("on its ", ""), (" edge", ""), ("tilted ", ""), ("onto its ", "onto ")):
        name = name.replace(long, short)
    return name
