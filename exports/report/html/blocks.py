"""What sections of the page are made of, as plain values: tables, pictures, lists, groups of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar, TypeAlias

NUMBER_HEAD = "no."
"""Heads a column that the terminal leaves without one."""


@dataclass(frozen=True, slots=True)
class Row:
    """A table's row: cells, and the token of what it tells of; "" for what is not in the plan."""

    cells: tuple[str, ...]
    token: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table.

    Parameters
    ----------
    caption : str
    heads : tuple of str
    rows : tuple of Row
    left : int
        How many columns, from the first, hold words; the others hold numbers.
    last : bool
        Whether the last column holds words too.
    folded : bool
        Whether it is shown only when asked for.
    """

    kind: ClassVar[str] = "table"
    caption: str
    heads: tuple[str, ...]
    rows: tuple[Row, ...]
    left: int = 1
    last: bool = False
    folded: bool = False

    def is_number(self, column: int) -> bool:
        """Return whether a column, counted from 0, holds numbers."""
        return self.left <= column < len(self.heads) - self.last


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture with its caption: `svg` is ready to stand in the page, empty where it is too large for it.

    `file` is the same beside the page. `parts` are the view boxes of the pages on which it is printed, of the element
    called `whole`; none where it is printed as it stands.
    """

    kind: ClassVar[str] = "figure"
    svg: str
    caption: str
    file: str
    parts: tuple[str, ...] = ()
    whole: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    """Sentences or clauses, one below the other."""

    kind: ClassVar[str] = "said"
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Steps:
    """What is done one after the other."""

    kind: ClassVar[str] = "steps"
    title: str
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Facts:
    """Short headings, each with what stands behind it."""

    kind: ClassVar[str] = "facts"
    facts: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Group:
    """Blocks under a heading of their own."""

    kind: ClassVar[str] = "group"
    title: str
    blocks: tuple[Block, ...]


Block: TypeAlias = Table | Picture | Said | Steps | Facts | Group


@dataclass(frozen=True, slots=True)
class Section:
    """A section of the page: where links lead, its heading, what is in it."""

    anchor: str
    title: str
    blocks: tuple[Block, ...]


def table_of(
    rows: Sequence[tuple[str, ...]],
    caption: str,
    left: int = 1,
    tokens: Sequence[str] = (),
    last: bool = False,
    folded: bool = False,
) -> tuple[Table, ...]:
    """Return rows, the first of which holds the headings, as a table; nothing where there is no other.

    Parameters
    ----------
    rows : sequence of tuple of str
    caption : str
    left : int
    tokens : sequence of str
        Of the rows behind the first; none where empty.
    last, folded : bool
    """
    if len(rows) < 2:
        return ()
    heads = tuple(head or NUMBER_HEAD for head in rows[0])
    named = tokens or [""] * (len(rows) - 1)
    body = tuple(Row(cells, token) for cells, token in zip(rows[1:], named, strict=True))
    return (Table(caption, heads, body, left, last, folded),)


def said_of(lines: Sequence[str]) -> tuple[Said, ...]:
    """Return lines as a block; nothing where there are none, or only empty ones."""
    kept = tuple(line for line in lines if line)
    return (Said(kept),) if kept else ()


def group_of(title: str, *blocks: Sequence[Block]) -> tuple[Group, ...]:
    """Return blocks under a heading; nothing where there are none."""
    kept = tuple(block for some in blocks for block in some)
    return (Group(title, kept),) if kept else ()


def section_of(anchor: str, title: str, *blocks: Sequence[Block]) -> tuple[Section, ...]:
    """Return a section; nothing where nothing is in it."""
    kept = tuple(block for some in blocks for block in some)
    return (Section(anchor, title, kept),) if kept else ()
