"""Tables of holes: a row for each, and a table of its own for many that are alike."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from exports.drawing.callouts import LETTERS
from exports.drawing.sheet_tables import Cell, Table, wrap_text
from exports.drawing.values import HoleRow
from exports.wording.figures import show_mm

ALIKE = 6
"""From so many holes of one sort and size on they have a table of their own, which says it once."""

WIDE, NARROW = (48.0, 62.0), (34.0, 40.0)
"""Widths at which what a hole is and its size are broken into lines, [mm]."""


def tabulate_holes(
    rows: Sequence[HoleRow], part: str, rooms: tuple[float, float] = WIDE
) -> tuple[Table, ...]:
    """Return the tables of the holes on one sheet.

    Parameters
    ----------
    rows : sequence of HoleRow
        Where they stand in several views, each row says in which.
    part : str
    rooms : (float, float)
        `WIDE` or `NARROW`.
    """
    counts = Counter((row.view, row.what, row.callout) for row in rows)
    several = len({row.view for row in rows}) > 1
    single = [row for row in rows if counts[row.view, row.what, row.callout] < ALIKE]
    out = []
    if single:
        head = ("No.", *(("seen in",) if several else ()), "what", "x", "y", "size")
        cells = tuple(_full_row(row, part, several, rooms) for row in single)
        out.append(Table((f"Holes of the {part}: {_list_views(single, part)}",), head, cells))
    for (view, what, callout), count in counts.items():
        if count < ALIKE:
            continue
        alike = [row for row in rows if (row.view, row.what, row.callout) == (view, what, callout)]
        cells = tuple(((row.number,), (show_mm(row.at[0]),), (show_mm(row.at[1]),)) for row in alike)
        size = [*(f"{one}," for one in callout.split(", ")[:-1]), callout.split(", ")[-1]]
        heading = (f"{alike[0].number} to {alike[-1].number}:", f"{what}, {_short(view, part)}:", *size)
        out.append(Table(heading, ("No.", "x", "y"), cells))
    return tuple(out)


def _list_views(rows: Sequence[HoleRow], part: str) -> str:
    return ", ".join(dict.fromkeys(_short(row.view, part) for row in rows))


def _short(view: str, part: str) -> str:
    return view.removeprefix(f"{part} ")


def _full_row(row: HoleRow, part: str, several: bool, rooms: tuple[float, float]) -> tuple[Cell, ...]:
    return (
        (row.number,),
        *(((_short(row.view, part),),) if several else ()),
        wrap_text(row.what, rooms[0]),
        (show_mm(row.at[0]),),
        (show_mm(row.at[1]),),
        wrap_text(row.callout, rooms[1]),
    )


def explain_numbers(rows: Sequence[HoleRow]) -> tuple[str, ...]:
    """Return what the tables' letters and depths mean, in sentences.

    Parameters
    ----------
    rows : sequence of HoleRow
        Only letters that stand among them are explained.
    """
    if not rows:
        return ()
    used = {row.number.rstrip("0123456789") for row in rows}
    said = ", ".join(f"{letter} {what}" for letter, what in LETTERS.values() if letter in used)
    return (
        f"Numbers are the same on all sheets: {said}.",
        "Depths ↧ are counted from the part's face, also under a spot face or a seat; a drill's point is not counted.",
    )
