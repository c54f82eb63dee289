"""General tolerances of ISO 2768: what a dimension without a tolerance of its own may be off.

A class is one letter of ISO 2768-1 (f, m, c, v) for lengths and radii, and one of ISO 2768-2 (H, K, L) for flatness.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from geom.errors import OutOfRange


@dataclass(frozen=True, slots=True)
class Tolerance:
    """One row: what holds `over` one nominal size and `up_to` another, [mm].

    Parameters
    ----------
    of : str
        "length", "radius" or "flatness".
    grade : str
        Class: "m", "K".
    over, up_to : float
        [mm]; the table's first range holds at its lower end too.
    tolerance : float
        Plus or minus; of flatness, the whole zone, [mm].
    source : str
    """

    of: str
    grade: str
    over: float
    up_to: float
    tolerance: float
    source: str


def linear_tolerance(grade: str, nominal_mm: float) -> float:
    """Return what a length, a width, a depth or a diameter may be off to either side, [mm].

    Parameters
    ----------
    grade : str
        "f", "m", "c" or "v".
    nominal_mm : float
        [mm]

    Raises
    ------
    OutOfRange
        A class that there is not, or a size for which the class has no value.

    Source
    ------
    ISO 2768-1:1989, table 1.
    """
    return _find("length", grade, nominal_mm)


def radius_tolerance(grade: str, nominal_mm: float) -> float:
    """Return what an outer radius or the height of a chamfer may be off to either side, [mm].

    Parameters
    ----------
    grade : str
        "f", "m", "c" or "v".
    nominal_mm : float
        [mm]

    Raises
    ------
    OutOfRange
        As `linear_tolerance`.

    Source
    ------
    ISO 2768-1:1989, table 2.
    """
    return _find("radius", grade, nominal_mm)


def flatness(grade: str, length_mm: float) -> float:
    """Return the distance between the two planes that a face of a length lies between, [mm].

    Parameters
    ----------
    grade : str
        "H", "K" or "L".
    length_mm : float
        Longer side of the face, or the length that is looked at, [mm].

    Raises
    ------
    OutOfRange
        As `linear_tolerance`.

    Source
    ------
    ISO 2768-2:1989, table 1.
    """
    return _find("flatness", grade, length_mm)


def tolerance_rows() -> tuple[Tolerance, ...]:
    """Return all rows of the table, in its order, sizes in [mm]."""
    return _rows()


def _find(of: str, grade: str, nominal_mm: float) -> float:
    rows = [row for row in _rows() if row.of == of and row.grade == grade]
    if not rows:
        grades = dict.fromkeys(row.grade for row in _rows() if row.of == of)
        raise OutOfRange(f'class "{grade}" of general tolerances has no {of}: use one of {", ".join(grades)}')
    for row in rows:
        if (row.over < nominal_mm <= row.up_to) or (row is rows[0] and nominal_mm == row.over):
            return row.tolerance
    raise OutOfRange(
        f'class "{grade}" has no tolerance for a {of} of {nominal_mm:g} mm: it holds from {rows[0].over:g} to '
        f"{rows[-1].up_to:g} mm; give the dimension a tolerance of its own"
    )


@cache
def _rows() -> tuple[Tolerance, ...]:
    text = (files("geom.standards") / "tolerances.csv").read_text(encoding="utf-8")
    return tuple(
        Tolerance(
            row["of"],
            row["class"],
            float(row["over"]),
            float(row["up_to"]),
            float(row["tolerance"]),
            row["source"],
        )
        for row in csv.DictReader(text.splitlines())
    )
