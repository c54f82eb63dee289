"""Speeds and feeds by material: rows of `geom/standards/cutting.csv`, each with its source.

Published ranges are wide, and each is for good tools and a stiff machine: the middle of a range is taken.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from geom.errors import OutOfRange

Table = tuple[tuple[float, float], ...]
"""Diameter, [mm], and a feed, [mm], small to large."""

SPINDLE_RPM = 24_000
"""Most turns of a spindle where the file gives none, [1/min]; common practice, no source."""

PRESS_RPM = 2_500
"""Most turns of a drill press, [1/min]; common practice, no source."""

TAP_RPM = 600
"""Most turns of a tap: the spindle must turn back in step with the feed, [1/min]; common practice, no source."""

_CHIPS = (3.175, 4.7625, 6.35, 9.525, 12.7)
_DRILLS = (3.0, 6.0, 12.0, 19.0)


@dataclass(frozen=True, slots=True)
class CuttingData:
    """How a family of materials is cut.

    Parameters
    ----------
    family : str
    materials : tuple of str
        Rows of the table of materials.
    speeds, drill_speeds, tap_speeds : (float, float)
        Least and most surface speed of end mills, drills and taps, [m/min].
    chip_loads : tuple of (float, float)
        Diameter of an end mill and feed of each tooth, [mm].
    depth_share, width_share : float
        Depth and width of a roughing cut, as shares of the cutter's diameter, [-].
    drill_feeds : tuple of (float, float)
        Diameter of a drill and feed of one turn, [mm].
    source : str
    """

    family: str
    materials: tuple[str, ...]
    speeds: tuple[float, float]
    chip_loads: Table
    depth_share: float
    width_share: float
    drill_speeds: tuple[float, float]
    drill_feeds: Table
    tap_speeds: tuple[float, float]
    source: str

    def chip_load(self, diameter: float) -> float:
        """Return the feed of each tooth of an end mill of a diameter, [mm]."""
        return _look_up(self.chip_loads, diameter)

    def drill_feed(self, diameter: float) -> float:
        """Return the feed of one turn of a drill of a diameter, [mm]."""
        return _look_up(self.drill_feeds, diameter)


@dataclass(frozen=True, slots=True)
class Running:
    """How fast a tool turns, [1/min], and moves, [mm/min]."""

    speed_rpm: float
    feed_mm_min: float


def cutting_data(material: str) -> CuttingData:
    """Return how a row of the table of materials is cut.

    Parameters
    ----------
    material : str
        "PMMA cast".

    Returns
    -------
    CuttingData
        Speeds in [m/min], feeds in [mm].

    Raises
    ------
    OutOfRange
        Where no family of the table has that material.
    """
    for row in cutting_families():
        if material in row.materials:
            return row
    listed = ", ".join(name for row in cutting_families() for name in row.materials)
    raise OutOfRange(
        f'how "{material}" is cut is not in the table of cutting data: use one of {listed}, or print it'
    )


def run_mill(data: CuttingData, diameter: float, teeth: int, most_rpm: float) -> Running:
    """Return how an end mill runs.

    Parameters
    ----------
    data : CuttingData
    diameter : float
        [mm]
    teeth : int
    most_rpm : float
        Most turns of the spindle, [1/min].

    Returns
    -------
    Running
        [1/min], [mm/min].
    """
    turns = _turns(data.speeds, diameter, most_rpm)
    return Running(turns, turns * teeth * data.chip_load(diameter))


def run_drill(data: CuttingData, diameter: float, most_rpm: float) -> Running:
    """Return how a drill, or a countersink, of a diameter [mm] runs: [1/min], [mm/min]; as `run_mill`."""
    turns = _turns(data.drill_speeds, diameter, most_rpm)
    return Running(turns, turns * data.drill_feed(diameter))


def run_tap(data: CuttingData, diameter: float, pitch: float, most_rpm: float) -> Running:
    """Return how a tap of a diameter and pitch [mm] runs: [1/min], [mm/min]; as `run_mill`."""
    turns = _turns(data.tap_speeds, diameter, min(most_rpm, TAP_RPM))
    return Running(turns, turns * pitch)


def _turns(speeds: tuple[float, float], diameter: float, most_rpm: float) -> float:
    return min(most_rpm, 1000.0 * sum(speeds) / 2 / (math.pi * diameter))


def _look_up(table: Table, diameter: float) -> float:
    """Return a feed between the rows; under the first it falls with the diameter, over the last it stays."""
    low_size, low = 0.0, 0.0
    for size, feed in table:
        if diameter <= size:
            return low + (feed - low) * (diameter - low_size) / (size - low_size)
        low_size, low = size, feed
    return low


@cache
def cutting_families() -> tuple[CuttingData, ...]:
    """Return all rows of the table: speeds in [m/min], feeds in [mm]."""
    text = (files("geom.standards") / "cutting.csv").read_text(encoding="utf-8")
    return tuple(_family(row) for row in csv.DictReader(text.splitlines()))


def _family(row: dict[str, str]) -> CuttingData:
    def pair(name: str) -> tuple[float, float]:
        return float(row[f"{name}_low"]), float(row[f"{name}_high"])

    def table(name: str, sizes: tuple[float, ...]) -> Table:
        return tuple((size, float(row[f"{name}_{size:g}".replace(".", "_")])) for size in sizes)

    return CuttingData(
        family=row["family"],
        materials=tuple(name.strip() for name in row["materials"].split(";")),
        speeds=pair("speed"),
        chip_loads=table("chip", _CHIPS),
        depth_share=float(row["depth_share"]),
        width_share=float(row["width_share"]),
        drill_speeds=pair("drill"),
        drill_feeds=table("drill_feed", _DRILLS),
        tap_speeds=pair("tap"),
        source=row["source"],
    )
