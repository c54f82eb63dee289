"""Names and counts in sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence

from geom.units import show_number

WIDE_MM = 4.0
"""A range of lengths as wide as that is told in whole millimetres, [mm]."""

SAME = 1e-9
"""What a length may be off by the arithmetic alone, [mm]."""


def join_names(names: Sequence[str]) -> str:
    """Return names as a list in words: "a", "a and b", "a, b and c"; empty where there are none."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def ends_within(least: float, most: float) -> tuple[str, ...]:
    """Return a range of lengths, [mm], rounded inwards, so that what is told lies within it: to whole millimetres
    where it is wide, else to tenths; one text where both ends are told alike.

    Parameters
    ----------
    least, most : float
        [mm]
    """
    digits = 0 if most - least > WIDE_MM else 1
    low = math.ceil(least * 10**digits - SAME) / 10**digits
    high = math.floor(most * 10**digits + SAME) / 10**digits
    if low >= high:
        return (f"{(least + most) / 2:.0f}",)
    return f"{low:.{digits}f}", f"{high:.{digits}f}"


def tell_within(least: float, most: float) -> str:
    """Return the same in words: "1893 to 1911 mm"."""
    return f"{' to '.join(ends_within(least, most))} mm"


def tell_torque(least: float, most: float) -> str:
    """Return a range of torque, [N m], in words: "0.12 to 0.2 N m"."""
    return f"{show_number(least, 2)} to {show_number(most, 2)} N m"


def count_of(number: int, thing: str) -> str:
    """Return "1 post", "2 posts"."""
    return f"{number} {thing}{'' if number == 1 else 's'}"


def capitalise(text: str) -> str:
    """Return a text with its first letter large and the others as they are."""
    return text[:1].upper() + text[1:]


def make_sentence(text: str) -> str:
    """Return a text with its first letter large and a full stop; an empty one stays empty."""
    return f"{capitalise(text)}." if text else ""
