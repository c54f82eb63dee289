"""The panel frame and the named tolerances.

Right-handed, in mm, seen from the front::

        y up
        ^            z = body   front face: ports and pump are here
        |            z = 0      joint face, the body's back: channels are cut from here into the body
        |            z = -cover the cover's back face
        +-----> x right        z points to the viewer
     origin: the panel's lower left corner

With two faces (``layers = 2``) the second layer is cut from z = body, under a front cover that fills
body .. body + cover. One-piece panels have no cover; their channels lie at mid-thickness.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import numpy as np

Vec = tuple[float, float, float]
"""A point, [mm], or a direction in the panel frame."""

Face = Literal["front", "back", "top", "bottom", "left", "right"]
EDGES: tuple[Face, ...] = ("top", "bottom", "left", "right")

INTO: dict[str, Vec] = {
    "front": (0.0, 0.0, -1.0),
    "back": (0.0, 0.0, 1.0),
    "top": (0.0, -1.0, 0.0),
    "bottom": (0.0, 1.0, 0.0),
    "left": (1.0, 0.0, 0.0),
    "right": (-1.0, 0.0, 0.0),
}
"""Unit vector that points from each face into the panel."""

FUZZY_MM = 1e-5
"""Fuzzy value of every boolean: at 0 one of 192 tangent cuts came out wrong, at 1e-5 none."""

MERGE_MM = 1e-5
"""Mesh vertices closer than this are one: kernel meshes come face by face."""

SAME_MM = 1e-6
"""Two lengths that differ by less are the same length (the kernel's own precision is 1e-7)."""

WALL_MM = 1e-3
"""A wall may be this much under its limit before it is a finding: the accuracy of the wall check."""

ROUNDING = 1e-9
"""What bare numbers lose to rounding: counts of steps, shares, squares."""

SAG_MM = 0.005
"""Greatest sagitta of an arc where plan geometry is turned into polygons."""


def to_vec(row: np.ndarray) -> Vec:
    """Return a row of three numbers as a point or a direction."""
    return float(row[0]), float(row[1]), float(row[2])
