"""Changes to a panel file's keys on plain data: what a document holds once they are made.

*Strictly equal*: of the same kind and value; 1, 1.0 and true are three values.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from copy import deepcopy
from datetime import date, time
from functools import lru_cache
from typing import Any, Final

from geom.errors import EditRefused
from geom.findings import KeyChange, KeyPath
from layouts.file.positions import find_lines, nearest_line, show_path

MOST_DEPTH = 20
"""How deep a changed value may nest, and how long its path may be: far beyond any key of a panel file."""


class Missing:
    """The kind of `MISSING`."""

    def __repr__(self) -> str:
        """Return how messages show it."""
        return "nothing"


MISSING: Final = Missing()
"""What stands at a path where a document has no such key."""


@lru_cache(maxsize=8)
def load_document(text: str) -> dict[str, Any]:
    """Return what a panel file's text holds.

    Parameters
    ----------
    text : str
        A byte order mark at its start is passed over.

    Returns
    -------
    dict
        Never changed by anybody: that of the last texts is kept.

    Raises
    ------
    EditRefused
        The text is not TOML.
    """
    try:
        return tomllib.loads(text.removeprefix("\ufeff"))
    except RecursionError:
        raise EditRefused("the file is not TOML: lists or tables nested too deeply to read") from None
    except ValueError as error:
        raise EditRefused(f"the file is not TOML: {error}; correct it in its text first") from None


def line_of(text: str, path: KeyPath) -> int | None:
    """Return the line of a key of a document that is TOML, or of its nearest parent; None where it has none."""
    return nearest_line(find_lines(text.removeprefix("\ufeff")), path)


def value_at(data: Any, path: KeyPath) -> Any:
    """Return the value at a path of plain data; `MISSING` where there is none."""
    for part in path:
        if isinstance(part, int) and isinstance(data, list):
            if not 0 <= part < len(data):
                return MISSING
        elif not (isinstance(part, str) and isinstance(data, dict) and part in data):
            return MISSING
        data = data[part]
    return data


def is_same(one: Any, other: Any) -> bool:
    """Return whether two plain values are strictly equal; a nan equals a nan, the order of keys is nothing."""
    if type(one) is not type(other):
        return False
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(is_same(one[key], other[key]) for key in one)
    if isinstance(one, list):
        return len(one) == len(other) and all(is_same(a, b) for a, b in zip(one, other, strict=True))
    if isinstance(one, float):
        # The sign tells 0.0 from -0.0.
        same = one == other and math.copysign(1.0, one) == math.copysign(1.0, other)
        return same or (math.isnan(one) and math.isnan(other))
    return bool(one == other)


def check_plain(value: Any, path: KeyPath, depth: int = 0) -> None:
    """Refuse a value that TOML cannot hold.

    Parameters
    ----------
    value : text, bool, int, float, date, time, list or dict
    path : tuple of str or int
        Of the key that it is for.
    depth : int
        How deep it lies in the value of that key.

    Raises
    ------
    EditRefused
        Another kind of value, a number that is not finite or is huge, text that is no Unicode text, or values
        nested too deeply.
    """
    where = show_path(path) or "a path"
    if depth > MOST_DEPTH:
        raise EditRefused(f"{where}: a value nested more than {MOST_DEPTH} deep; give a flatter one")
    if isinstance(value, dict):
        for key, inner in value.items():
            if not isinstance(key, str):
                raise EditRefused(f"{where}: a key of a table that is not text; keys are texts")
            check_plain(key, path)
            check_plain(inner, path, depth + 1)
    elif isinstance(value, list):
        for inner in value:
            check_plain(inner, path, depth + 1)
    elif isinstance(value, str):
        if any("\ud800" <= sign <= "\udfff" for sign in value):
            raise EditRefused(f"{where}: text with half of a pair of Unicode's surrogates; write whole signs")
    elif isinstance(value, float):
        if not math.isfinite(value):
            raise EditRefused(f"{where}: read {value}; a panel file holds finite numbers")
    elif isinstance(value, int):
        if not isinstance(value, bool) and not -(2**63) <= value < 2**63:
            raise EditRefused(f"{where}: a whole number of more than 64 bits; give one of a few digits")
    elif not isinstance(value, date | time):
        kind = "nothing" if value is None else f"a value of the kind {type(value).__name__}"
        raise EditRefused(
            f"{where}: {kind}; a panel file holds texts, numbers, true, false, lists and tables"
        )


def check_path(path: KeyPath) -> None:
    """Refuse a path that no key can have; EditRefused says why."""
    if not path or len(path) > MOST_DEPTH:
        raise EditRefused(f"a path of {len(path)} parts; a key has 1 to {MOST_DEPTH}")
    if not isinstance(path[0], str):
        raise EditRefused("a path that starts with a number; it starts with the name of a table")
    for part in path:
        if isinstance(part, bool) or not isinstance(part, str | int):
            raise EditRefused("a path with a part that is neither text nor a whole number")
        if isinstance(part, int) and part < 0:
            raise EditRefused(f"a path with the number {part}; entries of lists are counted from 0")
        check_plain(part, ())


def apply_changes(data: Mapping[str, Any], changes: Sequence[KeyChange]) -> dict[str, Any]:
    """Return plain data with changes made to it, one after the other.

    Parameters
    ----------
    data : dict
        A parsed document; it stays as it is.
    changes : sequence of KeyChange
        A path counts as things stand once the changes before it are made. A key without a value that is not there
        changes nothing. A list of tables that loses its last entry goes too: a file cannot tell it from none.

    Returns
    -------
    dict

    Raises
    ------
    EditRefused
        A path or a value that does not fit.
    """
    found: dict[str, Any] = deepcopy(dict(data))
    for change in changes:
        check_path(change.path)
        if change.value is None:
            _remove(found, change.path)
        else:
            check_plain(change.value, change.path)
            _put(found, change.path, deepcopy(change.value))
    return found


def _remove(data: dict[str, Any], path: KeyPath) -> None:
    _refuse_misfit(data, path)
    removed = value_at(data, path)
    if removed is MISSING:
        return
    parent, last = value_at(data, path[:-1]), path[-1]
    del parent[last]
    if isinstance(parent, list) and not parent and isinstance(removed, dict):
        del value_at(data, path[:-2])[path[-2]]


def _put(data: dict[str, Any], path: KeyPath, value: Any) -> None:
    _refuse_misfit(data, path)
    at: Any = data
    for part, after in zip(path, (*path[1:], None), strict=True):
        last = after is None
        new = value if last else ([] if isinstance(after, int) else {})
        if isinstance(part, int) and part == len(at):
            at.append(new)
        elif last or (isinstance(part, str) and part not in at):
            at[part] = new
        at = at[part]


def _refuse_misfit(data: Any, path: KeyPath) -> None:
    """Refuse a path that goes into a value that is no table or list, or beyond a list's end."""
    for k, part in enumerate(path):
        where = show_path(path[:k]) or "the file"
        if isinstance(part, int):
            if not isinstance(data, list):
                raise EditRefused(f"{show_path(path)}: {where} is no list; it has no entry {part + 1}")
            if part > len(data):
                raise EditRefused(
                    f"{show_path(path)}: {where} has {len(data)} entries; the next is {len(data) + 1}"
                )
        elif not isinstance(data, dict):
            raise EditRefused(f"{show_path(path)}: {where} is no table; it has no key {part}")
        inner = value_at(data, (part,))
        # What is not there yet is made as the path asks.
        made: Any = [] if _starts_with_number(path[k + 1 :]) else {}
        data = made if inner is MISSING else inner


def _starts_with_number(path: KeyPath) -> bool:
    return bool(path) and isinstance(path[0], int)
