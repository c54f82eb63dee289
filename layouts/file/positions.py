"""The line of every key and every list entry of a TOML document.

The document must already have been parsed: this scan relies on its being valid. Paths are those of the
parsed data: ("part", 0, "inlet", "at", 1).
"""

from __future__ import annotations

import json
import re
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from geom.findings import KeyPath as Path
from layouts.file.spans import Pair, Value, find_spans

_KEY_LENGTH = 60

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


def find_lines(text: str) -> dict[Path, int]:
    """Return the line (counted from 1) of every key and list entry.

    Parameters
    ----------
    text : str
        A document that `tomllib.loads` accepts.

    Returns
    -------
    dict of Path to int
        A table that only a longer header or a dotted key implies has that one's line.
    """
    newlines = [at for at, letter in enumerate(text) if letter == "\n"]
    lines: dict[Path, int] = {}

    def line_of(at: int) -> int:
        return bisect_right(newlines, at - 1) + 1

    def note(path: Path, at: int) -> None:
        lines.setdefault(path, line_of(at))

    def note_pair(pair: Pair) -> None:
        for count in range(1, len(pair.parts) + 1):
            note(pair.table + pair.parts[:count], pair.start)
        note_inside(pair.value)

    def note_inside(value: Value) -> None:
        for entry in value.entries:
            note(entry.path, entry.start)
            note_inside(entry)
        for pair in value.pairs:
            note_pair(pair)

    for section in find_spans(text).sections:
        for count in range(1, len(section.path) + 1):
            note(section.path[:count], section.start)
        if section.path and isinstance(section.path[-1], str):
            # A header names its table better than the longer header that first implied it.
            lines[section.path] = line_of(section.start)
        for pair in section.pairs:
            note_pair(pair)
    return lines


def nearest_line(lines: dict[Path, int], path: Path) -> int | None:
    """Return the line of `path`, or of its nearest parent that stands in the file, or None."""
    while path and path not in lines:
        path = path[:-1]
    return lines.get(path)


def show_path(path: Path) -> str:
    """Return a path as a dotted key for messages; list entries are counted from 1: "part.2.inlet.at.1"."""
    return ".".join(_show_part(part) for part in path)


def _show_part(part: str | int) -> str:
    if isinstance(part, int):
        return str(part + 1)
    shown = part if len(part) <= _KEY_LENGTH else part[: _KEY_LENGTH - 3] + "..."
    return shown if _BARE_KEY.fullmatch(shown) else json.dumps(shown, ensure_ascii=False)


def name_parts(problems: list[tuple[Path, str]], names: Sequence[str | None]) -> list[tuple[Path, str]]:
    """Return problems with those of a part naming it, where they do not yet.

    Parameters
    ----------
    problems : list of (Path, str)
    names : sequence of str or None
        Of the file's parts in order; None for one without.
    """
    return [(path, _name_part(path, text, names)) for path, text in problems]


def _name_part(path: Path, text: str, names: Sequence[str | None]) -> str:
    index = path[1] if len(path) > 2 and path[0] == "part" else None
    name = names[index] if isinstance(index, int) else None
    if not name or not name.isprintable() or len(name) > _KEY_LENGTH:
        return text
    if any(f"{quote}{name}{quote}" in text for quote in "\"'"):
        return text
    return f'part "{name}": {text}'


@dataclass(frozen=True, slots=True)
class Problems:
    """What the checks of one file have found so far: where, and what was read and is expected."""

    found: list[tuple[Path, str]]

    def add(self, path: Path, text: str) -> None:
        """Append one problem."""
        self.found.append((path, text))
