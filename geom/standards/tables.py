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

TESTED_C = 23.0
"""Temperature at which materials are tested, and their values hold, [°C]; ISO 291."""


HEIGHT_SHARE = 0.640327
"""Height of a pipe thread over its pitch; ISO 228-1."""


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

    @property
    def height(self) -> float:
        """Of its teeth, [mm]."""
        return HEIGHT_SHARE * self.pitch


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
    major_min : float
        Least major diameter of its thread, 6g.
    internal_pitch_max : float
        Largest pitch diameter of the tapped hole, 6H.
    bearing_diameter : float
        Outer diameter of the face that bears under its head, at least.
    key : float
        Width of its hexagon key.
    washer, washer_thickness : float
        Outer diameter and largest thickness of its plain washer.
    large_washer, large_washer_thickness : float
        The same of its large washer.
    shortest, longest : float
        Between which its preferred lengths lie.
    source : str
    """

    name: str
    diameter: float
    pitch: float
    tap_drill: float
    clearance: float
    head_diameter: float
    head_height: float
    major_min: float
    internal_pitch_max: float
    bearing_diameter: float
    key: float
    washer: float
    washer_thickness: float
    large_washer: float
    large_washer_thickness: float
    shortest: float
    longest: float
    source: str


@dataclass(frozen=True, slots=True)
class Insert:
    """A threaded insert of brass for plastics, knurled, set with heat or pressed in, [mm].

    Parameters
    ----------
    name : str
        "M4 x 8.1".
    screw : str
        "M4".
    length, outer_diameter : float
        Over the knurls.
    hole_diameter : float
        Bore that it is set into.
    least_wall : float
        Least material round that bore.
    source : str
    """

    name: str
    screw: str
    length: float
    outer_diameter: float
    hole_diameter: float
    least_wall: float
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
    """A plate material.

    Parameters
    ----------
    name : str
    kind : {"plastic", "metal"}
    young_mpa : float
        Young's modulus at 23 °C, [MPa].
    allowable_mpa, allowable_short_mpa : float
        Stress that it may carry at 23 °C for years, and for hours, [MPa].
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
    limit_c : float
        Warmest coolant that it stands for years, [°C].
    young_limit_mpa : float
        Young's modulus at `limit_c`, [MPa].
    creep_share : float
        What of Young's modulus is left after years of load, [-].
    allowable_limit_share : float
        What of the allowable stresses is left at `limit_c`, [-].
    attacked_by : tuple of str
        In plain words: "glycol", "alcohol", "copper and brass in the same coolant".
    source : str
        Where each of these comes from.
    """

    name: str
    kind: Literal["plastic", "metal"]
    young_mpa: float
    allowable_mpa: float
    allowable_short_mpa: float
    poisson: float
    density_kg_m3: float
    expansion_1_k: float
    engagement: float
    least_wall_milled: float
    least_wall_printed: float | None
    limit_c: float
    young_limit_mpa: float
    creep_share: float
    allowable_limit_share: float
    attacked_by: tuple[str, ...]
    source: str

    def young_at(self, temperature_c: float, lasting: bool = False) -> float:
        """Return Young's modulus at a temperature.

        Parameters
        ----------
        temperature_c : float
            Linear from 23 °C to `limit_c`; outside, as at the nearer of the two, [°C].
        lasting : bool
            After years of load: what creep leaves of it.

        Returns
        -------
        float
            [MPa]
        """
        young = self.young_mpa + self._warmed(temperature_c) * (self.young_limit_mpa - self.young_mpa)
        return young * self.creep_share if lasting else young

    def allowable_at(self, temperature_c: float, lasting: bool = False) -> float:
        """Return the stress that it may carry at a temperature.

        Parameters
        ----------
        temperature_c : float
            Linear from 23 °C to `limit_c`; outside, as at the nearer of the two, [°C].
        lasting : bool
            For years, not only for hours.

        Returns
        -------
        float
            [MPa]; in clean air or water, away from screws.
        """
        allowable = self.allowable_mpa if lasting else self.allowable_short_mpa
        return allowable * (1 - self._warmed(temperature_c) * (1 - self.allowable_limit_share))

    def _warmed(self, temperature_c: float) -> float:
        """Return how far a temperature lies from 23 °C (0) to the limit (1)."""
        return min(1.0, max(0.0, (temperature_c - TESTED_C) / (self.limit_c - TESTED_C)))


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


def screw_lengths(row: Screw) -> tuple[float, ...]:
    """Return the preferred lengths of a screw under its head, short to long, [mm]."""
    return tuple(length for length in _lengths() if row.shortest <= length <= row.longest)


def inserts_for(name: str) -> tuple[Insert, ...]:
    """Return the threaded inserts for the screw called `name` ("M4"), short to long, [mm]; none where none is known."""
    return tuple(row for row in _inserts() if row.screw == name)


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
            major_min=float(row["major_min"]),
            internal_pitch_max=float(row["internal_pitch_max"]),
            bearing_diameter=float(row["bearing_diameter"]),
            key=float(row["key"]),
            washer=float(row["washer"]),
            washer_thickness=float(row["washer_thickness"]),
            large_washer=float(row["large_washer"]),
            large_washer_thickness=float(row["large_washer_thickness"]),
            shortest=float(row["shortest"]),
            longest=float(row["longest"]),
            source=row["source"],
        )
        for row in _read_rows("screws")
    }


@cache
def _lengths() -> tuple[float, ...]:
    return tuple(float(row["length"]) for row in _read_rows("screw_lengths"))


@cache
def _inserts() -> tuple[Insert, ...]:
    return tuple(
        Insert(
            name=row["name"],
            screw=row["screw"],
            length=float(row["length"]),
            outer_diameter=float(row["outer_diameter"]),
            hole_diameter=float(row["hole_diameter"]),
            least_wall=float(row["least_wall"]),
            source=row["source"],
        )
        for row in _read_rows("inserts")
    )


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
            allowable_short_mpa=float(row["allowable_short_mpa"]),
            poisson=float(row["poisson"]),
            density_kg_m3=float(row["density_kg_m3"]),
            expansion_1_k=float(row["expansion_1_k"]),
            engagement=float(row["engagement"]),
            least_wall_milled=float(row["least_wall_milled"]),
            least_wall_printed=float(row["least_wall_printed"]) if row["least_wall_printed"] else None,
            limit_c=float(row["limit_c"]),
            young_limit_mpa=float(row["young_limit_mpa"]),
            creep_share=float(row["creep_share"]),
            allowable_limit_share=float(row["allowable_limit_share"]),
            attacked_by=tuple(row["attacked_by"].split("; ")),
            source=row["source"],
        )
        for row in _read_rows("materials")
    }
