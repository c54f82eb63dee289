"""What differs in two panel files themselves, key by key; the order of keys and of named tables plays no part."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any

from exports.comparing.values import KeyRow
from geom.units import KINDS, parse_quantity
from layouts.file.positions import show_path

NAME_KEY = "name"
"""By which tables of a list are told apart."""

Path = tuple[str, ...]


def compare_documents(a: Mapping[str, Any], b: Mapping[str, Any]) -> tuple[KeyRow, ...]:
    """Return the keys whose values differ, in the order of A, with those that only B has behind them.

    Quantities written in other units that are the same ("8 mm", "0.8 cm") do not differ.

    Parameters
    ----------
    a, b : mapping
        Parsed TOML.
    """
    of_a, of_b = _flatten((), a), _flatten((), b)
    rows = []
    for path in dict.fromkeys((*of_a, *of_b)):
        there, here = path in of_a, path in of_b
        if there and here and _same(path, of_a[path], of_b[path]):
            continue
        rows.append(
            KeyRow(
                show_path(path),
                show_toml(of_a[path]) if there else None,
                show_toml(of_b[path]) if here else None,
            )
        )
    return tuple(rows)


def show_toml(value: Any) -> str:
    """Return a parsed value as TOML writes it, on one line.

    Parameters
    ----------
    value : str, bool, int, float, date, list or dict
    """
    if isinstance(value, dict):
        pairs = ", ".join(f"{show_path((key,))} = {show_toml(one)}" for key, one in value.items())
        return f"{{ {pairs} }}" if pairs else "{}"
    if isinstance(value, list):
        return f"[{', '.join(show_toml(one) for one in value)}]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        text = json.dumps(value, ensure_ascii=False)
        # JSON leaves some controls as they are, and a terminal would obey them.
        return "".join(c if c.isprintable() else f"\\U{ord(c):08x}" for c in text)
    return str(value)


def _flatten(path: Path, value: Any) -> dict[Path, Any]:
    """Return the values under a key by their whole paths; tables of a list go by their names."""
    if isinstance(value, Mapping) and (value or not path):
        pairs = list(value.items())
    elif named := _by_name(value):
        pairs = list(named.items())
    else:
        return {path: value}
    return {way: leaf for key, one in pairs for way, leaf in _flatten((*path, key), one).items()}


def _by_name(value: Any) -> dict[str, Any]:
    """Return the tables of a list by their names; empty where not all have one of their own."""
    if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
        return {}
    names = [one.get(NAME_KEY) for one in value]
    if not all(isinstance(name, str) for name in names) or len(set(names)) < len(names):
        return {}
    return {one[NAME_KEY]: {key: of for key, of in one.items() if key != NAME_KEY} for one in value}


def _same(path: Path, a: Any, b: Any) -> bool:
    if isinstance(a, bool) or isinstance(b, bool) or not isinstance(b, type(a)):
        return (type(a) is type(b) and a == b) or _same_number(a, b)
    if isinstance(a, list):
        return len(a) == len(b) and all(_same(path, one, other) for one, other in zip(a, b, strict=True))
    if isinstance(a, dict):
        return a.keys() == b.keys() and all(_same((*path, key), a[key], b[key]) for key in a)
    if isinstance(a, str):
        return a == b or (path[-1] != NAME_KEY and _same_quantity(a, b))
    return bool(a == b)


def _same_number(a: Any, b: Any) -> bool:
    numbers = all(isinstance(one, int | float) and not isinstance(one, bool) for one in (a, b))
    return numbers and a == b


def _same_quantity(a: str, b: str) -> bool:
    """Return whether two texts are one quantity in two units."""
    for kind in KINDS:
        try:
            x, y = parse_quantity(a, kind), parse_quantity(b, kind)
        except ValueError:
            continue
        return math.isclose(x, y, rel_tol=1e-9, abs_tol=1e-9)
    return False
