"""Tables with what is said under them, and the same as plain text: columns in line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from exports.wording.figures import shorten_text, wrap_words

LINE = 100
"""Width of wrapped text, in characters."""
NAME = 48
"""Most characters of a name in a table."""


@dataclass(frozen=True, slots=True)
class Told:
    """A table and what is said under it; either may be empty.

    Parameters
    ----------
    title : str
    rows : tuple of tuple of str
        The first holds the headings.
    said : tuple of str
        A sentence, or a clause, each.
    left : int
        How many columns, from the first, hold words.
    most : int
        Characters of a name in plain text.
    """

    title: str
    rows: tuple[tuple[str, ...], ...] = ()
    said: tuple[str, ...] = ()
    left: int = 1
    most: int = NAME


def tell_lines(told: Told) -> list[str]:
    """Return a table and what is said under it as lines of plain text, without the title."""
    lines = align_rows(shorten_names(told.rows, told.most), told.left) if told.rows else []
    return lines + [line for one in told.said for line in wrap_words(one, LINE)]


def shorten_names(rows: Sequence[tuple[str, ...]], most: int = NAME) -> list[tuple[str, ...]]:
    """Return rows whose first cells, names, have at most `most` characters."""
    return [(shorten_text(name, most), *rest) for name, *rest in rows]


def align_rows(rows: list[tuple[str, ...]], left: int = 1, words: int = 0) -> list[str]:
    """Return rows as lines with columns in line.

    Parameters
    ----------
    rows : list of tuple of str
        All of one length; the first holds the headings.
    left : int
        How many columns, from the first, are set flush left; the others hold numbers and are set flush right.
    words : int
        How many columns, from the last, are set flush left too.
    """
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    lines = []
    for row in rows:
        cells = [
            cell.ljust(width) if k < left or k >= len(row) - words else cell.rjust(width)
            for k, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    return lines
