"""Where everything of a TOML document stands in its text: headers, keys, values, entries of lists.

*Section*: a header with the pairs under it, or the pairs above the first header. *Pair*: one ``key = value``, in a
section or in an inline table. Spans are [start, end) in characters; paths are as in `positions.find_lines`.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

from geom.findings import KeyPath as Path

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


@dataclass(frozen=True, slots=True)
class Value:
    """A value: its span, the entries of a list, the pairs of an inline table."""

    path: Path
    start: int
    end: int
    kind: Literal["plain", "list", "table"]
    entries: tuple[Value, ...] = ()
    pairs: tuple[Pair, ...] = ()


@dataclass(frozen=True, slots=True)
class Pair:
    """One ``key = value``.

    Parameters
    ----------
    table : Path
        Of the section or inline table that it stands in.
    parts : tuple of str
        Of its key, several of a dotted one.
    start, last_start, key_end : int
        Where the key starts, where its last part starts, and where it ends.
    value : Value
    inline : bool
        Whether it stands in an inline table.
    """

    table: Path
    parts: tuple[str, ...]
    start: int
    last_start: int
    key_end: int
    value: Value
    inline: bool

    @property
    def path(self) -> Path:
        """The whole path of its value."""
        return self.table + self.parts


@dataclass(frozen=True, slots=True)
class Section:
    """A header, [start, head_end), with its pairs; path () and no span above the first header."""

    path: Path
    start: int
    head_end: int
    pairs: tuple[Pair, ...]

    @property
    def end(self) -> int:
        """Where its last pair, or its header, ends."""
        return self.pairs[-1].value.end if self.pairs else self.head_end


@dataclass(frozen=True, slots=True)
class Spans:
    """A document's sections in order, and all pairs and values, those of inline tables too, by path."""

    sections: tuple[Section, ...]
    pairs: dict[Path, Pair] = field(default_factory=dict)
    values: dict[Path, Value] = field(default_factory=dict)


@lru_cache(maxsize=8)
def find_spans(text: str) -> Spans:
    """Return where everything stands; of the last texts it is kept.

    Parameters
    ----------
    text : str
        A document that `tomllib.loads` accepts.

    Returns
    -------
    Spans
    """
    return _Scan(text).run()


def skip_blank(text: str, at: int) -> int:
    """Return the place after white space, line ends and comments."""
    return _after(_BLANK, text, at)


def line_start(text: str, at: int) -> int:
    """Return where the line of a place starts."""
    return text.rfind("\n", 0, at) + 1


def line_end(text: str, at: int) -> int:
    """Return the place after the line end behind a place; the text's end without one."""
    found = text.find("\n", at)
    return len(text) if found < 0 else found + 1


def _after(pattern: re.Pattern[str], text: str, at: int) -> int:
    match = pattern.match(text, at)
    return at if match is None else match.end()


class _Scan:
    """One pass over one document."""

    def __init__(self, text: str) -> None:
        self.text = text + "\n"
        self.entries: dict[Path, int] = {}
        self.pairs: dict[Path, Pair] = {}
        self.values: dict[Path, Value] = {}

    def key(self, at: int) -> tuple[tuple[str, ...], int, int]:
        """Return the parts of a dotted key, where the last one starts, and where the key ends."""
        parts: list[str] = []
        while True:
            start = at = _after(_SPACES, self.text, at)
            if self.text[at] in "\"'":
                end = _after(_STRING, self.text, at)
                parts.append(tomllib.loads(f"key = {self.text[start:end]}")["key"])
            else:
                end = _after(_BARE_KEY, self.text, at)
                parts.append(self.text[start:end])
            at = _after(_SPACES, self.text, end)
            if self.text[at] != ".":
                return tuple(parts), start, end
            at += 1

    def pair(self, table: Path, at: int, inline: bool) -> Pair:
        start = at
        parts, last_start, key_end = self.key(at)
        at = _after(_SPACES, self.text, _after(_SPACES, self.text, key_end) + 1)
        pair = Pair(table, parts, start, last_start, key_end, self.value(table + parts, at), inline)
        self.pairs[pair.path] = pair
        return pair

    def value(self, path: Path, at: int) -> Value:
        first = self.text[at]
        if first == "[":
            value = self.list_(path, at)
        elif first == "{":
            value = self.table(path, at)
        elif first in "\"'":
            value = Value(path, at, _after(_STRING, self.text, at), "plain")
        else:
            bare = self.text[at : _after(_BARE_VALUE, self.text, at)].rstrip()
            value = Value(path, at, at + len(bare), "plain")
        self.values[path] = value
        return value

    def list_(self, path: Path, start: int) -> Value:
        entries: list[Value] = []
        at = skip_blank(self.text, start + 1)
        while self.text[at] != "]":
            entries.append(self.value((*path, len(entries)), at))
            at = self.next_entry(entries[-1].end)
        return Value(path, start, at + 1, "list", entries=tuple(entries))

    def table(self, path: Path, start: int) -> Value:
        pairs: list[Pair] = []
        at = skip_blank(self.text, start + 1)
        while self.text[at] != "}":
            pairs.append(self.pair(path, at, True))
            at = self.next_entry(pairs[-1].value.end)
        return Value(path, start, at + 1, "table", pairs=tuple(pairs))

    def next_entry(self, at: int) -> int:
        at = skip_blank(self.text, at)
        return skip_blank(self.text, at + 1) if self.text[at] == "," else at

    def header(self, start: int) -> tuple[Path, int]:
        """Return the path of `[table]` or `[[list of tables]]`, and the place after it."""
        brackets = 2 if self.text.startswith("[[", start) else 1
        parts, _, end = self.key(start + brackets)
        path: Path = ()
        for part in parts[:-1]:
            path = (*path, part)
            if path in self.entries:
                path = (*path, self.entries[path] - 1)
        path = (*path, parts[-1])
        if brackets == 2:
            self.entries[path] = self.entries.get(path, 0) + 1
            path = (*path, self.entries[path] - 1)
        return path, _after(_SPACES, self.text, end) + brackets

    def run(self) -> Spans:
        sections: list[Section] = []
        path: Path = ()
        start = head_end = 0
        pairs: list[Pair] = []
        at = skip_blank(self.text, 0)
        while at < len(self.text):
            if self.text[at] == "[":
                sections.append(Section(path, start, head_end, tuple(pairs)))
                start, pairs = at, []
                path, head_end = self.header(at)
                at = head_end
            else:
                pairs.append(self.pair(path, at, False))
                at = pairs[-1].value.end
            at = skip_blank(self.text, at)
        sections.append(Section(path, start, head_end, tuple(pairs)))
        return Spans(tuple(sections), self.pairs, self.values)
