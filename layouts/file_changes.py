"""Remedies as changes to the panel file: where a key stands, and values as a maker would write them.

Lengths are [mm]; they are written to 0.001 mm, so that rounding to the safe side is the business of the caller.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any, Literal

from geom.findings import KeyChange, KeyPath
from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from layouts.panel import Box, KeepClear, Panel, Port

DECIMALS = 3
"""Of a length that is written, [mm]: finer than any machine works, and what sums and differences leave behind goes."""

UPRIGHT: tuple[KeyChange, ...] = (KeyChange(("panel", "up"), [0, 1, 0]),)
"""The panel installed upright."""


def find_path(shown: str) -> KeyPath:
    """Return where a key stands in the data of a file, from its dotted key as messages show it.

    Parameters
    ----------
    shown : str
        "part.5.inlet": entries of lists are counted from 1.

    Returns
    -------
    tuple of str or int
        ("part", 4, "inlet")
    """
    return tuple(int(step) - 1 if step.isdigit() else step for step in shown.split("."))


def write_length(length: float) -> str:
    """Return a length as it stands in a file, to 0.001 mm: "9 mm", "1234.568 mm"."""
    # Never by "g", which drops digits of long lengths and puts powers of ten in their place.
    whole, _, decimals = f"{round(float(length), DECIMALS) + 0.0:.{DECIMALS}f}".partition(".")
    decimals = decimals.rstrip("0")
    return f"{whole}.{decimals} mm" if decimals else f"{whole} mm"


def write_lengths(lengths: Iterable[float]) -> list[str]:
    """Return lengths as they stand in a file, each as `write_length` does."""
    return [write_length(length) for length in lengths]


def set_key(value: Any, *path: str | int) -> KeyChange:
    """Return the change that gives a key a value; None: the key goes."""
    return KeyChange(path, value)


def set_length(length: float, *path: str | int) -> KeyChange:
    """Return the change that gives a key a length, [mm]."""
    return KeyChange(path, write_length(length))


def set_box(box: Box, *path: str | int) -> KeyChange:
    """Return the change that gives a key a box, [mm]."""
    return KeyChange(path, write_lengths(box))


def set_stock(width: float, height: float) -> KeyChange:
    """Return the change to another sheet to cut from, [mm]."""
    return KeyChange(("milling", "stock"), write_lengths((width, height)))


def set_channel_width(channel: str | None, width: float) -> KeyChange:
    """Return the change that gives a channel a width of its own, [mm]; None: all channels theirs."""
    return set_length(width, "channel", *(("width",) if channel is None else ("own", channel)))


def thicken_sheet(panel: Panel, sheet: Literal["body", "cover"], by: float) -> KeyChange:
    """Return the change that makes body or cover thicker by so much, rounded up to a tenth, [mm]."""
    thickness = panel.make.body if sheet == "body" else panel.make.cover
    return set_length(math.ceil((thickness + by) * 10 - SAME_MM) / 10, "make", sheet)


def set_port_place(port: Port, at: Point) -> tuple[KeyChange, ...]:
    """Return the changes that fix a port at a place instead of where it may stand now.

    Parameters
    ----------
    port : Port
    at : (float, float)
        In plan, [mm]; of a port on an edge only what lies along that edge counts.
    """
    path = find_path(port.key)
    ranges = (("within", port.within), ("between", port.between))
    gone = tuple(KeyChange((*path, key), None) for key, value in ranges if value is not None)
    if port.on in EDGES:
        along = at[1] if port.on in ("left", "right") else at[0]
        return (*gone, set_length(along, *path, "at"))
    return (*gone, KeyChange((*path, "at"), write_lengths(at)))


def set_port_key(port: Port, key: str, value: Any) -> KeyChange:
    """Return the change that gives a key of a port a value; None: the key goes."""
    return KeyChange((*find_path(port.key), key), value)


def set_part_key(panel: Panel, part: str, key: str, value: Any) -> KeyChange:
    """Return the change that gives a key of a part a value; None: the key goes."""
    index = [one.name for one in panel.parts].index(part)
    return KeyChange(("part", index, key), value)


def set_clear_box(panel: Panel, region: KeepClear, box: Box) -> KeyChange:
    """Return the change that gives a keep-clear region another box, [mm]."""
    index = [one.name for one in panel.keep_clear].index(region.name)
    return set_box(box, "keep_clear", index, "box")
