"""The types of `messages.ts`, read by a small parser, and values held to them: no compiler of the page's is needed.

It reads what stands in that file: interfaces and types of objects, lists, tuples, unions, intersections, literals,
`Record`, `Partial` and a key's type (`A["key"]`). All else is refused, so that nothing goes unchecked unseen.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import exports

MESSAGES = Path(exports.__file__).parent / "page" / "web" / "src" / "page" / "messages.ts"

_COMMENT = re.compile(r"/\*.*?\*/|//[^\n]*", re.DOTALL)
_TOKEN = re.compile(r'\s*("(?:[^"\\]|\\.)*"|[A-Za-z_]\w*|-?\d+(?:\.\d+)?|[{}\[\]()<>|&;:,?=])')


@dataclass(frozen=True)
class Name:
    """A type by its name; `of` are those between < and >."""

    name: str
    of: tuple[Any, ...] = ()


@dataclass(frozen=True)
class Literal:
    """One text or number."""

    value: Any


@dataclass(frozen=True)
class List:
    """A list of any length."""

    of: Any


@dataclass(frozen=True)
class Tuple:
    """A list of one length."""

    of: tuple[Any, ...]


@dataclass(frozen=True)
class Union:
    """One of several."""

    of: tuple[Any, ...]


@dataclass(frozen=True)
class Both:
    """All keys of several objects."""

    of: tuple[Any, ...]


@dataclass(frozen=True)
class Fields:
    """An object with these keys and no others; each: name, type, whether it must be there."""

    of: tuple[tuple[str, Any, bool], ...]


class _Parser:
    def __init__(self, text: str) -> None:
        text = _COMMENT.sub(" ", text).rstrip()
        self.tokens: list[str] = []
        at = 0
        while at < len(text):
            match = _TOKEN.match(text, at)
            assert match, f"not read: {text[at : at + 60]!r}"
            self.tokens.append(match[1])
            at = match.end()
        self.at = 0

    @property
    def next(self) -> str:
        return self.tokens[self.at] if self.at < len(self.tokens) else ""

    def take(self, *wanted: str) -> str:
        token = self.next
        assert not wanted or token in wanted, f"read {self.tokens[self.at : self.at + 8]}, wanted {wanted}"
        self.at += 1
        return token

    def skip(self, token: str) -> bool:
        found = self.next == token
        self.at += found
        return found

    def file(self) -> dict[str, Any]:
        types = {}
        while self.next:
            self.take("export")
            kind, name = self.take("type", "interface"), self.take()
            if kind == "type":
                self.take("=")
                types[name] = self.union()
                self.take(";")
            else:
                types[name] = self.fields()
        return types

    def union(self) -> Any:
        self.skip("|")
        found = [self.intersection()]
        while self.skip("|"):
            found.append(self.intersection())
        return found[0] if len(found) == 1 else Union(tuple(found))

    def intersection(self) -> Any:
        found = [self.postfix()]
        while self.skip("&"):
            found.append(self.postfix())
        return found[0] if len(found) == 1 else Both(tuple(found))

    def postfix(self) -> Any:
        found = self.primary()
        while self.skip("["):
            found = List(found) if self.next == "]" else Name("key of", (found, json.loads(self.take())))
            self.take("]")
        return found

    def primary(self) -> Any:
        if self.next == "{":
            return self.fields()
        token = self.take()
        if token == "(":
            found = self.union()
            self.take(")")
            return found
        if token == "[":
            return Tuple(self.several("]"))
        if token[0] == '"' or token[0].isdigit() or token[0] == "-":
            return Literal(json.loads(token))
        assert token[0].isalpha(), token
        return Name(token, self.several(">") if self.skip("<") else ())

    def several(self, end: str) -> tuple[Any, ...]:
        found = [self.union()]
        while self.skip(","):
            found.append(self.union())
        self.take(end)
        return tuple(found)

    def fields(self) -> Fields:
        self.take("{")
        found = []
        while not self.skip("}"):
            name, optional = self.take(), self.skip("?")
            self.take(":")
            found.append((name, self.union(), not optional))
            if self.next != "}":
                self.take(";", ",")
        return Fields(tuple(found))


@cache
def read_types() -> Mapping[str, Any]:
    """Return the types of `messages.ts` by their names."""
    return _Parser(MESSAGES.read_text(encoding="utf-8")).file()


def parse_types(text: str) -> Mapping[str, Any]:
    """Return the types of other text, for tests of this module."""
    return _Parser(text).file()


def open_type(kind: Any, types: Mapping[str, Any]) -> Any:
    """Return a type without names and intersections at its top; of a name that is built in, the name."""
    if isinstance(kind, Name) and kind.name in types:
        return open_type(types[kind.name], types)
    if isinstance(kind, Name) and kind.name == "key of":
        owner = open_type(kind.of[0], types)
        return open_type(next(one for name, one, _ in owner.of if name == kind.of[1]), types)
    if isinstance(kind, Both):
        return Fields(tuple(field for one in kind.of for field in open_type(one, types).of))
    return kind


def list_shapes(kind: str, types: Mapping[str, Any] | None = None) -> tuple[Fields, ...]:
    """Return the objects that a union of `messages.ts` is one of."""
    known = read_types() if types is None else types
    opened = open_type(Name(kind), known)
    return tuple(open_type(one, known) for one in opened.of)


def find_misfits(value: Any, kind: Any, types: Mapping[str, Any] | None = None, where: str = "") -> list[str]:
    """Return in words where a value ready for JSON is not as its type says; empty where it fits.

    Parameters
    ----------
    value : Any
    kind : str or type
        Name of a type, or one that was read.
    types : mapping, optional
        Those of `messages.ts` unless given.
    where : str
        What stands before each.
    """
    known = read_types() if types is None else types
    kind = open_type(Name(kind) if isinstance(kind, str) else kind, known)
    wrong = [f"{where or 'it'}: {json.dumps(value, default=str)[:60]} is not {_tell(kind)}"]
    if isinstance(kind, Union):
        tried = [find_misfits(value, one, known, where) for one in kind.of]
        if [] in tried or not isinstance(value, dict | list):
            return [] if [] in tried else wrong
        # Of objects that of the same kind is meant, else that which fits best.
        return min(tried, key=lambda found: (any(f"{where}.tell: " in said for said in found), len(found)))
    if isinstance(kind, Literal):
        return [] if type(value) is type(kind.value) and value == kind.value else wrong
    if isinstance(kind, List):
        if not isinstance(value, list):
            return wrong
        return [
            said for k, one in enumerate(value) for said in find_misfits(one, kind.of, known, f"{where}[{k}]")
        ]
    if isinstance(kind, Tuple):
        if not isinstance(value, list) or len(value) != len(kind.of):
            return wrong
        pairs = enumerate(zip(value, kind.of, strict=True))
        return [said for k, (one, of) in pairs for said in find_misfits(one, of, known, f"{where}[{k}]")]
    if isinstance(kind, Fields):
        return _find_in_fields(value, kind, known, where) if isinstance(value, dict) else wrong
    if kind.name in ("Record", "Partial"):
        return _find_in_record(value, kind, known, where) if isinstance(value, dict) else wrong
    return [] if _is_plain(value, kind.name) else wrong


def _find_in_fields(value: dict[str, Any], kind: Fields, types: Mapping[str, Any], where: str) -> list[str]:
    fields = {name: (of, must) for name, of, must in kind.of}
    found = [f"{where}.{name}: not in messages.ts" for name in value if name not in fields]
    for name, (of, must) in fields.items():
        if name in value:
            found += find_misfits(value[name], of, types, f"{where}.{name}")
        elif must:
            found.append(f"{where}.{name}: is missing")
    return found


def _find_in_record(value: dict[str, Any], kind: Name, types: Mapping[str, Any], where: str) -> list[str]:
    whole = kind.name == "Record"
    keys, of = (kind if whole else kind.of[0]).of
    found = []
    for key, one in value.items():
        found += find_misfits(key, keys, types, f"{where} key") + find_misfits(
            one, of, types, f"{where}.{key}"
        )
    listed = open_type(keys, types)
    if whole and isinstance(listed, Union):
        found += [f"{where}.{one.value}: is missing" for one in listed.of if one.value not in value]
    return found


def _is_plain(value: Any, name: str) -> bool:
    if name == "number":
        return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    kinds = {"string": str, "boolean": bool, "null": type(None)}
    assert name in (*kinds, "unknown"), f"no such type: {name}"
    return name == "unknown" or isinstance(value, kinds[name])


def _tell(kind: Any) -> str:
    if isinstance(kind, Union):
        return " or ".join(_tell(one) for one in kind.of)
    if isinstance(kind, Literal):
        return json.dumps(kind.value)
    return kind.name if isinstance(kind, Name) else type(kind).__name__.lower()


def list_samples(kind: Any, types: Mapping[str, Any] | None = None) -> list[Any]:
    """Return values of a type: of every member of each union in it at least one."""
    known = read_types() if types is None else types
    kind = open_type(Name(kind) if isinstance(kind, str) else kind, known)
    if isinstance(kind, Union):
        return [sample for one in kind.of for sample in list_samples(one, known)]
    if isinstance(kind, Literal):
        return [kind.value]
    if isinstance(kind, List):
        return [list_samples(kind.of, known)]
    if isinstance(kind, Tuple):
        return [[list_samples(one, known)[0] for one in kind.of]]
    if isinstance(kind, Fields):
        listed = {name: list_samples(of, known) for name, of, _ in kind.of}
        count = max(map(len, listed.values()), default=1)
        return [{name: some[k % len(some)] for name, some in listed.items()} for k in range(count)]
    plain = {"string": "fill", "number": 1, "boolean": True, "null": None, "unknown": "9 mm"}
    assert kind.name in plain, f"no sample of {kind}"
    return [plain[kind.name]]
