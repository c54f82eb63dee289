"""What a run that may not be made leaves out, and what of an earlier run still lies beside it."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

NOTHING_TO_WORK_FROM = "no drawing, sheets, parts list, STEP, STL, 3MF, DXF or GLB was written"
"""Of every run with a fault, and where there is no layout."""

BY_FAULT, BY_LAYOUT = "a check found a fault", "there is no layout"

PAPERS = ("drawing.pdf", "drawing.dxf", "sheets.pdf", "parts.csv")
"""What people work from stands first."""

SOLID_TYPES = (".step", ".stl", ".3mf", ".dxf", ".glb")


def tell_withheld(why: str) -> str:
    """Return that nothing to work from was written, and why.

    Parameters
    ----------
    why : str
        `BY_FAULT` or `BY_LAYOUT`.
    """
    return f"{NOTHING_TO_WORK_FROM}: {why}"


def order_left(names: Iterable[str]) -> tuple[str, ...]:
    """Return files of an earlier run in the order in which they mislead: papers, solids, pictures.

    Parameters
    ----------
    names : iterable of str
    """

    def rank(name: str) -> tuple[int, str]:
        if name in PAPERS:
            return PAPERS.index(name), name
        return len(PAPERS) + (Path(name).suffix not in SOLID_TYPES), name

    return tuple(sorted(names, key=rank))


def warn_of_left(where: str) -> str:
    """Return what stands before the names of an earlier run's files.

    Parameters
    ----------
    where : str
        In which they still are.
    """
    return f"of an earlier run, still in {where}; do not work from them: they belong to another state of the file"
