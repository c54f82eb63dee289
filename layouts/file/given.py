"""Numbers and lists of a message from the page, in which anything may be."""

from __future__ import annotations

import reprlib
from collections.abc import Mapping, Sequence
from typing import Any

from geom.errors import EditRefused

MOST_MM = 1e4
"""No length that a hand can mean is longer: panels are up to 2 m."""

MOST_ENTRIES = 1000
"""Of a list in a message: nothing on the page comes near."""

MOST_SHOWN = 60
"""Of a text in a message that refuses it."""

Given = Mapping[str, Any]


def read_number(gesture: Given, key: str) -> float:
    """Return a finite number of a message; EditRefused where it is none."""
    return _check_number(gesture[key], key)


def read_numbers(gesture: Given, key: str, count: int) -> list[float]:
    """Return a list of so many finite numbers; EditRefused where it is none."""
    value = gesture[key]
    if not isinstance(value, list | tuple) or len(value) != count:
        raise EditRefused(f'"{key}" takes {count} numbers; read {show_given(value)}')
    return [_check_number(one, key) for one in value]


def _check_number(value: Any, key: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= MOST_MM:
        raise EditRefused(f'"{key}" takes numbers of at most {MOST_MM:g}; read {show_given(value)}')
    return float(value)


def read_list(gesture: Given, key: str) -> Sequence[Any]:
    """Return a list of anything; EditRefused where it is none or too long."""
    value = gesture[key]
    if not isinstance(value, list | tuple) or len(value) > MOST_ENTRIES:
        raise EditRefused(f'"{key}" takes a list of at most {MOST_ENTRIES}; read {show_given(value)}')
    return value


def show_given(value: Any) -> str:
    """Return anything as a message shows it, shortened."""
    return f'"{value}"' if isinstance(value, str) and len(value) <= MOST_SHOWN else reprlib.repr(value)
