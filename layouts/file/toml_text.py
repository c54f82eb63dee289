"""Keys and values as TOML text, written by tomlkit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from layouts.file.positions import Path


def write_key(key: str) -> str:
    """Return a key, in quotes where it needs them."""
    import tomlkit

    return tomlkit.key(key).as_string()


def write_header(path: Path, listed: bool) -> str:
    """Return the header of a table, or of an entry of a list of tables; numbers in the path are left out."""
    dotted = ".".join(write_key(part) for part in path if isinstance(part, str))
    return f"[[{dotted}]]" if listed else f"[{dotted}]"


def write_value(value: Any) -> str:
    """Return a value on one line: a table as an inline table, a list in brackets.

    Parameters
    ----------
    value : text, bool, int, float, date, time, list or dict

    Returns
    -------
    str
    """
    import tomlkit

    if isinstance(value, dict):
        pairs = ", ".join(write_pair((key,), inner) for key, inner in value.items())
        return f"{{ {pairs} }}" if pairs else "{}"
    if isinstance(value, list):
        return f"[{', '.join(write_value(inner) for inner in value)}]"
    return tomlkit.item(value).as_string()


def write_pair(parts: Sequence[str], value: Any) -> str:
    """Return ``key = value``, the key dotted where it has several parts."""
    return f"{'.'.join(write_key(part) for part in parts)} = {write_value(value)}"


def write_like(value: Any, old: str) -> str:
    """Return a value in the quotes that another one was written in, where it can be."""
    literal = old.startswith("'") and not old.startswith("'''")
    if literal and isinstance(value, str) and "'" not in value and value.isprintable():
        return f"'{value}'"
    return write_value(value)
