"""Where liquid resin or air is trapped in a print: plain values."""

from __future__ import annotations

from dataclasses import dataclass

Vec = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Cavity:
    """A hollow without any opening: its centroid, [mm], and its volume, [mm3]."""

    at: Vec
    volume: float


@dataclass(frozen=True, slots=True)
class Cup:
    """A hollow that is shut off from the air while it is printed.

    Parameters
    ----------
    at : (float, float, float)
        Middle of its widest layer, the first of those, in the part's frame, [mm].
    area : float
        Of that layer, [mm2].
    depth : float
        Over how much of the print's height it stays shut, [mm].
    on_bed : bool
        Whether the bed closes it; else its own floor does.
    """

    at: Vec
    area: float
    depth: float
    on_bed: bool
