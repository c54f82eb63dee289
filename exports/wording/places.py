"""Places and other numbers as pages are told of them: finer than any page draws or writes."""

from __future__ import annotations

import math
from collections.abc import Iterable

DIGITS = 3
"""Decimals: of lengths, [mm], those that a file is written with too."""


def round_number(value: float) -> float:
    """Return a number to 0.001, 0 without a sign."""
    return round(float(value), DIGITS) + 0.0


def round_place(at: Iterable[float]) -> list[float]:
    """Return a place, a box or other lengths, each to 0.001 mm."""
    return [round_number(value) for value in at]


def round_finite(at: Iterable[float] | None) -> list[float] | None:
    """Return a place to 0.001 mm; None where there is none, or where it is nowhere."""
    if at is None:
        return None
    place = round_place(at)
    return place if all(map(math.isfinite, place)) else None
