"""Printing processes: rows of the table that lies beside this module, each with its sources."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from geom.errors import OutOfRange


@dataclass(frozen=True, slots=True)
class ProcessRow:
    """A printing process as the table has it, lengths in mm; what does not apply is 0.

    Parameters
    ----------
    name : str
        "filament" or "resin".
    line_width, layer : float
        Usual width of one line, and height of one layer.
    overhang_deg : float
        A surface that leans out further than this from upright, [deg], needs support.
    bridge : float
        Widest flat roof that prints without support.
    tight_lines, tight_wall : float
        Lines of a wall that holds coolant, and its thickness at least.
    least_lines, least_wall : float
        The same of a wall that prints at all.
    bore_offset : float
        What bores print narrower on the diameter.
    thread_clearance : float
        What printed threads are wider on the diameter.
    thread_lines, thread_layers : float
        Lines and layers that a pitch needs.
    least_pitch : float
        Finest pitch that prints.
    drain_bore : float
        Narrowest opening through which liquid resin drains.
    source : str
    """

    name: str
    line_width: float
    layer: float
    overhang_deg: float
    bridge: float
    tight_lines: float
    tight_wall: float
    least_lines: float
    least_wall: float
    bore_offset: float
    thread_clearance: float
    thread_lines: float
    thread_layers: float
    least_pitch: float
    drain_bore: float
    source: str


def find_process(name: str) -> ProcessRow:
    """Return the process called `name`, lengths in [mm].

    Raises
    ------
    OutOfRange
        Where the table has no such row; the message lists the rows.
    """
    table = _processes()
    if name not in table:
        raise OutOfRange(f'process "{name}" is not in the table of processes: use one of {", ".join(table)}')
    return table[name]


@cache
def _processes() -> dict[str, ProcessRow]:
    text = (files("geom.standards") / "processes.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(text.splitlines())
    table = {}
    for row in rows:
        numbers = {key: float(value) for key, value in row.items() if key not in ("name", "source")}
        table[row["name"]] = ProcessRow(name=row["name"], source=row["source"], **numbers)
    return table
