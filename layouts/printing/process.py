"""What a printing process needs and leaves: lines, layers, overhangs, bridges, walls, offsets."""

from __future__ import annotations

from dataclasses import dataclass

from layouts.panel import Panel, Process


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
    """

    name: Process
    line_width: float
    layer: float
    overhang_deg: float
    bridge: float
    tight_wall: float
    least_wall: float
    bore_offset: float
    thread_clearance: float


def process_of(panel: Panel) -> PrintProcess:
    """Return the process of a printed panel, the file's own values in it."""
    asked = panel.printing
    if asked.process == "resin":
        return PrintProcess(
            "resin",
            0.0,
            _given(asked.layer, 0.05),
            45.0,
            10.0,
            1.0,
            0.6,
            _given(asked.bore_offset, 0.1),
            _given(asked.thread_clearance, 0.2),
        )
    line = _given(asked.line_width, 0.45)
    return PrintProcess(
        "filament",
        line,
        _given(asked.layer, 0.2),
        45.0,
        10.0,
        4 * line,
        2 * line,
        _given(asked.bore_offset, 0.2),
        _given(asked.thread_clearance, 0.3),
    )


def _given(asked: float | None, usual: float) -> float:
    return usual if asked is None else asked
