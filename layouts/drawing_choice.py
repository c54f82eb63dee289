"""What a panel file says of its drawing: projection, paper, and what is asked of the joint faces."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Projection = Literal["first angle", "third angle"]
PaperName = Literal["A3", "A4"]


EDGES_BROKEN = (0.2, 0.5)
"""Between which sizes edges are broken, [mm]; common practice, no source."""


@dataclass(frozen=True, slots=True)
class DrawingChoice:
    """How the drawing is laid out.

    Parameters
    ----------
    projection : {"first angle", "third angle"}
        ISO 5456-2.
    paper : {"A3", "A4"}
        ISO 5457.
    flatness : float
        Of the joint faces, [mm].
    roughness : float
        Ra of the joint faces, [um].
    """

    projection: Projection = "first angle"
    paper: PaperName = "A3"
    flatness: float = 0.1
    roughness: float = 1.6
