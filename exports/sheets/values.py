"""What the work sheets are made of, as frozen values: sheets of blocks, in the order in which they are read."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import count
from typing import Literal

from layouts.plan import Layer

FigureKind = Literal["ports", "cords", "tightening", "clamps"]


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading within a sheet."""

    text: str


@dataclass(frozen=True, slots=True)
class Say:
    """A sentence or more."""

    text: str


@dataclass(frozen=True, slots=True)
class Small:
    """The same in small letters: what is there to be looked up."""

    text: str


@dataclass(frozen=True, slots=True)
class Caution:
    """What can hurt or spoil: in a box, with a sign."""

    text: str


@dataclass(frozen=True, slots=True)
class Matter:
    """A finding that is minded here: what it says, and what to do."""

    lead: str
    text: str


@dataclass(frozen=True, slots=True)
class Step:
    """A step with a box to tick.

    Parameters
    ----------
    text : str
    readings : tuple of str
        What is written down, with its unit: "gauge, mbar"; a blank is left for each.
    number : str
        Stands before it; empty for steps in no order.
    """

    text: str
    readings: tuple[str, ...] = ()
    number: str = ""


@dataclass(frozen=True, slots=True)
class Grid:
    """A table.

    Parameters
    ----------
    head : tuple of str
    rows : tuple of tuple of str
        Each as long as the head.
    right : tuple of int
        Columns of numbers: set flush right, and never broken.
    ticked : bool
        Whether each row gets a box to tick.
    blanks : tuple of str
        Heads of columns that are left empty, to be written in.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()
    ticked: bool = False
    blanks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Schematic:
    """A schematic plan: where the ports are, how cords lie, in which order screws are tightened, where clamps press."""

    kind: FigureKind
    layer: Layer
    caption: str


@dataclass(frozen=True, slots=True)
class Blank:
    """Lines to be written on, with what for: each stands before its line."""

    labels: tuple[str, ...]


Block = Heading | Say | Small | Caution | Matter | Step | Grid | Schematic | Blank


@dataclass(frozen=True, slots=True)
class WorkSheet:
    """One sheet: it begins on a page of its own."""

    title: str
    blocks: tuple[Block, ...]


def number_steps(steps: list[Step], prefix: str = "", first: int = 1) -> list[Step]:
    """Return steps numbered from 1, or another number, with a prefix: "A1", "A2"."""
    return [Step(step.text, step.readings, f"{prefix}{number}") for number, step in enumerate(steps, first)]


def number_through(blocks: list[Block]) -> tuple[Block, ...]:
    """Return blocks whose steps are numbered from 1 through all headings."""
    numbers = count(1)
    return tuple(
        Step(block.text, block.readings, str(next(numbers))) if isinstance(block, Step) else block
        for block in blocks
    )
