"""Where liquid resin or air is trapped in a print: plain values."""

from __future__ import annotations

from dataclasses import dataclass

from geom.frame import Vec


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
        Middle of the deepest of its voids that are as wide as `area`, in the part's frame, [mm]; it lies in the void.
    area : float
        What it has over the least depth asked for, [mm2]: a wider step that is shallower than that does not count.
    depth : float
        Over how much of the print's height it stays shut, [mm].
    on_bed : bool
        Whether the bed closes it; else its own floor does.
    """

    at: Vec
    area: float
    depth: float
    on_bed: bool
