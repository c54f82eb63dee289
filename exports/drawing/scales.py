"""Scales of ISO 5455, and how one is written."""

from __future__ import annotations

from collections.abc import Callable

SCALES = (10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02)
"""Paper over true length, large to small; ISO 5455:1979, as far as panels need."""


def show_scale(scale: float) -> str:
    """Return a scale as it is written: "2:1", "1:5"."""
    return f"{scale:g}:1" if scale >= 1 else f"1:{1 / scale:g}"


def largest_scale(fits: Callable[[float], bool], most: float = SCALES[0]) -> float | None:
    """Return the largest scale at which something fits; None where it fits at none.

    Parameters
    ----------
    fits : callable
        Of a scale, [-].
    most : float
        No larger one is tried, [-].
    """
    return next((scale for scale in SCALES if scale <= most and fits(scale)), None)
