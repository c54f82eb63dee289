"""Numbers as people read them: no more digits than the value's band allows."""

from __future__ import annotations

import math


def show_banded(value: float, band: float) -> str:
    """Return a number rounded to the digit that its relative band reaches.

    Parameters
    ----------
    value : float
    band : float
        Relative error, [-]; 0 counts as 1e-4.

    Returns
    -------
    str
        Without exponent: 27.36 with a band of 0.06 gives "27".
    """
    if value == 0.0 or not math.isfinite(value):
        return f"{value:g}"
    step = abs(value) * max(band, 1e-4)
    decimals = -math.floor(math.log10(step))
    rounded = round(value, decimals)
    return f"{rounded:.{max(0, min(decimals, 6))}f}"


def show_mm(value: float) -> str:
    """Return a length to 0.01 mm without trailing zeros."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def show_place(at: tuple[float, float, float]) -> str:
    """Return a place as "(12, 34.5, 20) mm"."""
    return "(" + ", ".join(show_mm(c) for c in at) + ") mm"


def wrap_words(text: str, width: int) -> list[str]:
    """Return text in lines of at most `width` characters, broken at spaces; longer words stay whole."""
    lines: list[str] = []
    for word in text.split():
        if lines and len(lines[-1]) + 1 + len(word) <= width:
            lines[-1] += " " + word
        else:
            lines.append(word)
    return lines
