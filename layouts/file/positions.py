"""The line of every key and every list entry of a TOML document.

The document must already have been parsed: this scan relies on its being valid. Paths are those of the
parsed data: ("part", 0, "inlet", "at", 1).
"""

from __future__ import annotations

import json
import re
import tomllib
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

Path = tuple[str | int, ...]

_KEY_LENGTH = 60

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACES = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BARE_VALUE = re.compile(r"[^,\]}#\n]*")
_STRING = re.compile(
    r'"""(?:[^\\]|\\.)*?"""(?:"{0,2})'
    r"|'''.*?'''(?:'{0,2})"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)


def _after(pattern: re.Pattern[str], text: str, at: int) -> int:
    match = pattern.match(text, at)
    return at if match is None else match.end()


class _Scan:
    """One pass over one document, filling `lines`."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.newlines = [i for i, c in enumerate(text) if c == "\n"]
        self.lines: dict[Path, int] = {}
        self.entries: dict[Path, int] = {}

    def note(self, path: Path, at: int) -> None:
        self.lines.setdefault(path, bisect_right(self.newlines, at - 1) + 1)

    def key(self, at: int) -> tuple[tuple[str, ...], int]:
        """Return the parts of a dotted key and the place after it."""
        parts: list[str] = []
        while True:
            at = _after(_SPACES, self.text, at)
            start = at
            if self.text[at] in "\"'":
                at = _after(_STRING, self.text, at)
                parts.append(tomllib.loads(f"key = {self.text[start:at]}")["key"])
            else:
                at = _after(_BARE_KEY, self.text, at)
                parts.append(self.text[start:at])
            at = _after(_SPACES, self.text, at)
            if self.text[at] != ".":
                return tuple(parts), at
            at += 1

    def pair(self, table: Path, at: int) -> int:
        """Scan `key = value`; return the place after it."""
        start = at
        parts, at = self.key(at)
        for count in range(1, len(parts) + 1):
            self.note(table + parts[:count], start)
        at = _after(_SPACES, self.text, at + 1)
        return self.value(table + parts, at)

    def value(self, path: Path, at: int) -> int:
        first = self.text[at]
        if first in "\"'":
            return _after(_STRING, self.text, at)
        if first not in "[{":
            return _after(_BARE_VALUE, self.text, at)
        close = "]" if first == "[" else "}"
        index = 0
        at = _after(_BLANK, self.text, at + 1)
        while self.text[at] != close:
            if first == "[":
                self.note((*path, index), at)
                at = self.value((*path, index), at)
            else:
                at = self.pair(path, at)
            index += 1
            at = _after(_BLANK, self.text, at)
            if self.text[at] == ",":
                at = _after(_BLANK, self.text, at + 1)
        return at + 1

    def header(self, at: int) -> tuple[Path, int]:
        """Scan `[table]` or `[[list of tables]]`; return its path and the place after it."""
        start = at
        listed = self.text.startswith("[[", at)
        parts, at = self.key(at + 1 + listed)
        path: Path = ()
        for part in parts[:-1]:
            path = (*path, part)
            self.note(path, start)
            if path in self.entries:
                path = (*path, self.entries[path] - 1)
        path = (*path, parts[-1])
        self.note(path, start)
        if listed:
            self.entries[path] = self.entries.get(path, 0) + 1
            path = (*path, self.entries[path] - 1)
            self.note(path, start)
        elif path in self.lines:
            # A header names its table better than the longer header that first implied it.
            self.lines[path] = bisect_right(self.newlines, start - 1) + 1
        return path, at + 1 + listed

    def run(self) -> dict[Path, int]:
        table: Path = ()
        at = _after(_BLANK, self.text, 0)
        while at < len(self.text):
            if self.text[at] == "[":
                table, at = self.header(at)
            else:
                at = self.pair(table, at)
            at = _after(_BLANK, self.text, at)
        return self.lines


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
    return _Scan(text + "\n").run()


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
