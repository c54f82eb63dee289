"""Threads, screws, cords and materials: rows of the tables that lie beside this module.

Every row carries its source. A name that no row has is an error that lists the rows.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal, cast

from geom.errors import OutOfRange
from geom.frame import SAME_MM

MM_PER_INCH = 25.4


@dataclass(frozen=True, slots=True)
class Thread:
    """A parallel pipe thread port, [mm].

    Parameters
    ----------
    name : str
        "G1/4".
    pitch, major, pitch_diameter, minor : float
        Basic sizes.
    minor_max : float
        Largest minor diameter of the internal thread: a larger bore holds no thread.
    tap_drill : float
        Bore before tapping.
    collar, spot_face : float
        Diameter of the fitting's sealing collar, and of the flat it needs.
    full_thread, short_thread : float
        Depth of full thread for the standard's fittings, and for short collars.
    drill_depth : float
        Depth of the bore for `full_thread`.
    spanner_radius : float
        Radius that an open spanner sweeps on the fitting's hexagon.
    source : str
    """

    name: str
    pitch: float
    major: float
    pitch_diameter: float
    minor: float
    minor_max: float
    tap_drill: float
    collar: float
    spot_face: float
    full_thread: float
    short_thread: float
    drill_depth: float
    spanner_radius: float
    source: str


@dataclass(frozen=True, slots=True)
class Screw:
    """A metric screw with a cylinder head, [mm].

    Parameters
    ----------
    name : str
        "M4".
    diameter, pitch : float
    tap_drill : float
        Bore before tapping.
    clearance : float
        Through hole, medium fit.
    head_diameter, head_height : float
        Largest head.
    source : str
    """

    name: str
    diameter: float
    pitch: float
    tap_drill: float
    clearance: float
    head_diameter: float
    head_height: float
    source: str


@dataclass(frozen=True, slots=True)
class Cord:
    """A round cord and the groove for a face seal, [mm].

    Parameters
    ----------
    section, tolerance : float
        Diameter, plus or minus the tolerance.
    groove_depth, groove_depth_tolerance : float
        Least depth, and what it may be deeper.
    groove_width, groove_width_tolerance : float
        Least width, and what it may be wider.
    groove_radius : float
        Radius in the groove's floor corners.
    source : str
    """

    section: float
    tolerance: float
    groove_depth: float
    groove_depth_tolerance: float
    groove_width: float
    groove_width_tolerance: float
    groove_radius: float
    source: str


@dataclass(frozen=True, slots=True)
class Material:
    """A plate material at 23 °C.

    Parameters
    ----------
    name : str
    kind : {"plastic", "metal"}
    young_mpa, allowable_mpa : float
        Young's modulus; stress that it may carry for years, [MPa].
    poisson : float
        [-].
    density_kg_m3 : float
        [kg/m3].
    expansion_1_k : float
        Linear thermal expansion, [1/K].
    engagement : float
        Thread length over screw diameter, [-].
    least_wall_milled : float
        Thinnest wall that is milled without trouble, [mm].
    least_wall_printed : float or None
        Thinnest wall that prints watertight, [mm]; None where it is not printed.
    source : str
    """

    name: str
    kind: Literal["plastic", "metal"]
    young_mpa: float
    allowable_mpa: float
    poisson: float
    density_kg_m3: float
    expansion_1_k: float
    engagement: float
    least_wall_milled: float
    least_wall_printed: float | None
    source: str


def thread(name: str) -> Thread:
    """Return the thread called `name` ("G1/4"), sizes in [mm].

    Raises
    ------
    OutOfRange
        Where the table has no such row; the message lists the rows.
    """
    table = _threads()
    if name not in table:
        raise OutOfRange(f'thread "{name}" is not in the table of threads: use one of {", ".join(table)}')
    return table[name]


def screw(name: str) -> Screw:
    """Return the screw called `name` ("M4"), sizes in [mm].

    Raises
    ------
    OutOfRange
        Where the table has no such row; the message lists the rows.
    """
    table = _screws()
    if name not in table:
        raise OutOfRange(f'screw "{name}" is not in the table of screws: use one of {", ".join(table)}')
    return table[name]


def cord(section_mm: float) -> Cord:
    """Return the cord of diameter `section_mm` with its face seal groove, [mm].

    Raises
    ------
    OutOfRange
        Where the table has no such section; the message lists the sections.
    """
    for row in _cords():
        if abs(row.section - section_mm) < SAME_MM:
            return row
    listed = ", ".join(f"{row.section:g} mm" for row in _cords())
    raise OutOfRange(f"a cord of {section_mm:g} mm is not in the table of cords: use one of {listed}")


def material(name: str) -> Material:
    """Return the material called `name` ("PMMA cast").

    Raises
    ------
    OutOfRange
        Where the table has no such row; the message lists the rows.
    """
    table = _materials()
    if name not in table:
        raise OutOfRange(f'material "{name}" is not in the table of materials: use one of {", ".join(table)}')
    return table[name]


def thread_names() -> tuple[str, ...]:
    """Return the names of all threads, small to large."""
    return tuple(_threads())


def screw_names() -> tuple[str, ...]:
    """Return the names of all screws, small to large."""
    return tuple(_screws())


def cord_sections() -> tuple[float, ...]:
    """Return the diameters of all cords, small to large, [mm]."""
    return tuple(row.section for row in _cords())


def material_names() -> tuple[str, ...]:
    """Return the names of all materials."""
    return tuple(_materials())


def _read_rows(table: str) -> list[dict[str, str]]:
    text = (files("geom.standards") / f"{table}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


@cache
def _threads() -> dict[str, Thread]:
    return {
        row["name"]: Thread(
            name=row["name"],
            pitch=MM_PER_INCH / float(row["threads_per_inch"]),
            major=float(row["major"]),
            pitch_diameter=float(row["pitch_diameter"]),
            minor=float(row["minor"]),
            minor_max=float(row["minor_max"]),
            tap_drill=float(row["tap_drill"]),
            collar=float(row["collar"]),
            spot_face=float(row["spot_face"]),
            full_thread=float(row["full_thread"]),
            short_thread=float(row["short_thread"]),
            drill_depth=float(row["drill_depth"]),
            spanner_radius=float(row["spanner_radius"]),
            source=row["source"],
        )
        for row in _read_rows("threads")
    }


@cache
def _screws() -> dict[str, Screw]:
    return {
        row["name"]: Screw(
            name=row["name"],
            diameter=float(row["diameter"]),
            pitch=float(row["pitch"]),
            tap_drill=float(row["tap_drill"]),
            clearance=float(row["clearance"]),
            head_diameter=float(row["head_diameter"]),
            head_height=float(row["head_height"]),
            source=row["source"],
        )
        for row in _read_rows("screws")
    }


@cache
def _cords() -> tuple[Cord, ...]:
    return tuple(
        Cord(
            section=float(row["section"]),
            tolerance=float(row["tolerance"]),
            groove_depth=float(row["groove_depth"]),
            groove_depth_tolerance=float(row["groove_depth_tolerance"]),
            groove_width=float(row["groove_width"]),
            groove_width_tolerance=float(row["groove_width_tolerance"]),
            groove_radius=float(row["groove_radius"]),
            source=row["source"],
        )
        for row in _read_rows("cords")
    )


@cache
def _materials() -> dict[str, Material]:
    return {
        row["name"]: Material(
            name=row["name"],
            kind=cast(Literal["plastic", "metal"], row["kind"]),
            young_mpa=float(row["young_mpa"]),
            allowable_mpa=float(row["allowable_mpa"]),
            poisson=float(row["poisson"]),
            density_kg_m3=float(row["density_kg_m3"]),
            expansion_1_k=float(row["expansion_1_k"]),
            engagement=float(row["engagement"]),
            least_wall_milled=float(row["least_wall_milled"]),
            least_wall_printed=float(row["least_wall_printed"]) if row["least_wall_printed"] else None,
            source=row["source"],
        )
        for row in _read_rows("materials")
    }
