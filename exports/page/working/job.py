"""What the server's process and a working process say to each other: plain values that can be pickled."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

Kind = Literal["draft", "places", "quick", "whole", "make"]
"""Of jobs: the planner's are a draft, places and the quick plan of a settled text; the builder's the others."""

Ending = Literal["done", "outdated", "failed", "died"]
"""How a job ended: "failed" by a mistake in the program, "died" with its process."""


class Outdated(Exception):
    """The job is no longer wanted: raised in it, at the end of a stage."""


@dataclass(frozen=True, slots=True)
class Search:
    """How the whole plan's routes are looked for: the name of its effort (`layouts.routing.effort`), and its seed."""

    effort: str = "normal"
    seed: int = 0


@dataclass(frozen=True, slots=True)
class Job:
    """A job for a working process.

    Parameters
    ----------
    serial : int
        Greater than that of every job before.
    kind : {"draft", "places", "quick", "whole", "make"}
    text : str
        Of the panel file.
    thing : str
        Of which places are asked; else empty.
    folder : str
        In which files are made; else empty.
    base_version : int
        Of the layout from which to lay out anew; 0 without one.
    base : bytes or None
        That layout, pickled; None where the process has had it.
    search : Search
        Of a whole plan and of making.
    """

    serial: int
    kind: Kind
    text: str
    thing: str = ""
    folder: str = ""
    base_version: int = 0
    base: bytes | None = None
    search: Search = Search()


@dataclass(frozen=True, slots=True)
class Ready:
    """The process is warm and waits for jobs."""


@dataclass(frozen=True, slots=True)
class Unready:
    """The process could not be made ready, and ends; `why` is one sentence."""

    why: str


@dataclass(frozen=True, slots=True)
class Told:
    """Part of a job's answer: what it is, and its value."""

    serial: int
    what: str
    value: Any


@dataclass(frozen=True, slots=True)
class Ended:
    """A job has ended; `why` is one sentence where it failed."""

    serial: int
    how: Ending
    why: str = ""


Say = Callable[[str, Any], None]
"""Called by a job with part of its answer: what it is, and its value."""

Look = Callable[[], None]
"""Called by a job where it may be left: raises `Outdated`."""

Work = Callable[[Job, Say, Look], None]
"""Does a job."""

OpenWork = Callable[[str], Work]
"""Called once in a process with the file's name; loads what jobs need. Must be importable by name."""
