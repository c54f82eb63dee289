"""Plain-text tables: columns in line."""

from __future__ import annotations

LINE = 100
"""Width of wrapped text, in characters."""
NAME = 48
"""Most characters of a name in a table."""


def align_rows(rows: list[tuple[str, ...]], left: int = 1) -> list[str]:
    """Return rows as lines with columns in line.

    Parameters
    ----------
    rows : list of tuple of str
        All of one length; the first holds the headings.
    left : int
        How many columns, from the first, are set flush left; the others hold numbers and are set flush right.
    """
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    lines = []
    for row in rows:
        cells = [
            cell.ljust(width) if k < left else cell.rjust(width)
            for k, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    return lines
