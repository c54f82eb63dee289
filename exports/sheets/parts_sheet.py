"""The parts list as a sheet: the rows of parts.csv."""

from __future__ import annotations

from exports.sheets.values import Block, Grid, Say, WorkSheet
from exports.tables.parts_list import PartRow

HEAD = ("no.", "item", "size", "count", "cut to, mm", "where and what to mind")


def parts_sheet(rows: tuple[PartRow, ...]) -> WorkSheet:
    """Return the sheet of the parts list.

    Parameters
    ----------
    rows : tuple of PartRow
        In the order of parts.csv.
    """
    lines = tuple(_line(number, row) for number, row in enumerate(rows, 1))
    blocks: tuple[Block, ...] = (
        Say(
            "For one panel; tick what lies at the bench. Cut lengths are for square ends. Fittings at the parts' own "
            "ports, paper towels, tools and the gauge are not counted. The same rows stand in parts.csv."
        ),
        Grid(HEAD, lines, right=(0, 3, 4), ticked=True),
    )
    return WorkSheet("Parts list", blocks)


def _line(number: int, row: PartRow) -> tuple[str, ...]:
    # The cord as a whole stands before the pieces that are cut from it.
    material = "" if row.cut is not None and row.material else row.material
    size = ", ".join(text for text in (row.size, material) if text)
    minded = "; ".join(text for text in (row.use, row.note) if text)
    return str(number), row.item, size, f"{row.count} {row.unit}", " to ".join(row.cut_shown), minded
