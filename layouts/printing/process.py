"""Which parts are printed, and what the process needs and leaves: lines, layers, overhangs, bridges, walls, offsets."""

from __future__ import annotations

from dataclasses import dataclass

from geom.standards import tables
from geom.standards.processes import find_process
from layouts.faces import cover_name, joints_of
from layouts.panel import Panel, ProcessName


@dataclass(frozen=True, slots=True)
class PrintProcess:
    """A printing process as the panel is printed with it, lengths in mm.

    Parameters
    ----------
    name : {"filament", "resin"}
    line_width, layer : float
        Width of one line (0 for resin), height of one layer.
    overhang_deg : float
        A surface that leans out further than this from upright, [deg], needs support.
    bridge : float
        Widest flat roof that prints without support.
    tight_wall : float
        Thinnest wall that holds coolant.
    least_wall : float
        Thinnest wall that prints at all.
    bore_offset : float
        What bores are made wider on the diameter, because they print narrower.
    thread_clearance : float
        What printed threads are wider on the diameter.
    least_pitch : float
        Finest thread that prints.
    drain_bore : float
        Narrowest opening through which liquid resin drains; 0 for filament.
    """

    name: ProcessName
    line_width: float
    layer: float
    overhang_deg: float
    bridge: float
    tight_wall: float
    least_wall: float
    bore_offset: float
    thread_clearance: float
    least_pitch: float
    drain_bore: float = 0.0


def is_printed(panel: Panel, part: str) -> bool:
    """Return whether a part of a panel is printed.

    All parts of a printed panel are, but for covers of another material that is known as sheet or bar only: they are
    cut from a sheet.

    Parameters
    ----------
    panel : Panel
    part : str
        The blank's name: "body", "cover", "front cover", "panel left" and so on.
    """
    if panel.make.method != "printed":
        return False
    if (
        part not in {cover_name(layer) for layer in joints_of(panel)}
        or panel.make.cover_row == panel.make.material
    ):
        return True
    return tables.material(panel.make.cover_row).least_wall_printed is not None


def process_of(panel: Panel) -> PrintProcess:
    """Return the process of a printed panel, the file's own values in it.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    PrintProcess

    Source
    ------
    The table of processes, each value with its own.
    """
    asked = panel.printing
    row = find_process(asked.process)
    line = _given(asked.line_width, row.line_width)
    layer = _given(asked.layer, row.layer)
    return PrintProcess(
        name=asked.process,
        line_width=line,
        layer=layer,
        overhang_deg=row.overhang_deg,
        bridge=row.bridge,
        tight_wall=max(row.tight_lines * line, row.tight_wall),
        least_wall=max(row.least_lines * line, row.least_wall),
        bore_offset=_given(asked.bore_offset, row.bore_offset),
        thread_clearance=_given(asked.thread_clearance, row.thread_clearance),
        least_pitch=max(row.thread_lines * line, row.thread_layers * layer, row.least_pitch),
        drain_bore=row.drain_bore,
    )


def _given(asked: float | None, usual: float) -> float:
    return usual if asked is None else asked
