"""Numbers as people read them: no more digits than the value's band allows."""

from __future__ import annotations

import math
from collections.abc import Callable

LEAST_BAND = 1e-4
"""Band of what is taken for exact: five digits at most."""

GUARD = 1
"""Digits that a number in the report keeps beyond those of its band, so that sums still hold."""

HASH_DIGITS = 12
"""Of a file's hash, as many as are shown."""


def round_to_error(value: float, error: float, guard: int = GUARD) -> float:
    """Return a number rounded to the digit that its error reaches, and some guard digits.

    Parameters
    ----------
    value, error : float
        In one unit; an error of less than `LEAST_BAND` of the value counts as that.
    guard : int
        Digits kept beyond it.

    Returns
    -------
    float
        27.36 with an error of 1.6 gives 27.0 without guard digit, 27.4 with one.
    """
    error = max(abs(error), LEAST_BAND * abs(value))
    if error == 0.0 or not math.isfinite(value):
        return value + 0.0
    # Adding zero turns a negative zero into zero.
    return round(value, guard - math.floor(math.log10(error))) + 0.0


def round_banded(value: float, band: float, guard: int = GUARD) -> float:
    """Return a number rounded to the digit that its relative band [-] reaches, and some guard digits."""
    return round_to_error(value, value * band, guard)


def round_plain(value: float | None, digits: int) -> float | None:
    """Return a number rounded to decimal digits, never a negative zero; None stays None."""
    return None if value is None else round(float(value), digits) + 0.0


def show_banded(value: float, band: float) -> str:
    """Return a number rounded to the digit that its relative band reaches.

    Parameters
    ----------
    value : float
    band : float
        Relative error, [-]; less than `LEAST_BAND` counts as that.

    Returns
    -------
    str
        Without exponent: 27.36 with a band of 0.06 gives "27".
    """
    if value == 0.0 or not math.isfinite(value):
        return f"{value:g}"
    decimals = -math.floor(math.log10(abs(value) * max(band, LEAST_BAND)))
    return f"{round_banded(value, band, 0):.{max(0, min(decimals, 6))}f}"


def show_share(share: float) -> str:
    """Return a share as a percentage: whole from 10 % on, one decimal below, "0" for none."""
    percent = 100.0 * share
    return f"{percent:.0f} %" if abs(percent) >= 9.95 or percent == 0.0 else f"{percent:.1f} %"


def show_band(band: float) -> str:
    """Return a relative band as "±12 %", whole and never less than 1 %; "" for none."""
    return f"±{max(1.0, 100.0 * band):.0f} %" if band > 0.0 else ""


def show_mm(value: float) -> str:
    """Return a length to 0.01 mm without trailing zeros."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def show_degrees(angle: float) -> str:
    """Return an angle to 0.1 degree, without its sign: "90°", "7.5°"."""
    return f"{round(abs(angle), 1):g}°"


def show_place(at: tuple[float, float, float]) -> str:
    """Return a place as "(12, 34.5, 20) mm"."""
    return "(" + ", ".join(show_mm(c) for c in at) + ") mm"


def show_hash(sha256: str) -> str:
    """Return as much of a file's hash as tells it from others on paper."""
    return sha256[:HASH_DIGITS]


def wrap_words(text: str, width: int) -> list[str]:
    """Return text in lines of at most `width` characters, broken at spaces; longer words stay whole."""
    lines: list[str] = []
    for word in text.split():
        if lines and len(lines[-1]) + 1 + len(word) <= width:
            lines[-1] += " " + word
        else:
            lines.append(word)
    return lines


def shorten_text(text: str, most: int) -> str:
    """Return a text of at most `most` characters: what is too long loses its middle to an ellipsis."""
    if len(text) <= most:
        return text
    tail = (most - 1) // 2
    return text[: most - 1 - tail] + "…" + text[len(text) - tail :]


def shorten_until(text: str, fits: Callable[[str], bool]) -> str:
    """Return a text that fits: what is too long loses as much of its middle to an ellipsis as it must.

    Parameters
    ----------
    text : str
    fits : callable
        Whether a text is short enough.
    """
    if fits(text):
        return text
    shorter = (shorten_text(text, most) for most in range(len(text) - 1, 0, -1))
    return next((short for short in shorter if fits(short)), "…")
