"""The plane of a view: which way its u, v and its viewer lie in the panel frame.

Views of the six faces have the frame of `layouts.milling.frame`, so that what is measured on a drawing is what a
set-up is programmed with. A cutting plane is seen against its `towards`, by one who holds the panel as it stands::

    normal x    v = y: upright as the panel;  towards +1 (seen from the right): u = -z, the front is left
                                              towards -1 (seen from the left):  u = z,  the front is right
    normal y    u = x;                        towards +1 (seen from the top):    v = -z, the front is down
                                              towards -1 (seen from the bottom): v = z,  the front is up
    normal z    v = y;                        towards +1 (seen from the front):  u = x
                                              towards -1 (seen from the back):   u = -x

u, v and the direction towards the viewer are right-handed in every view; arrows that mark a cutting plane point
against `towards` (ISO 128-3).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from geom.frame import EDGES, INTO, Face, Vec
from geom.outline import Point
from layouts.milling.frame import RIGHT

Axis = Literal["x", "y", "z"]
AXES: tuple[Axis, ...] = ("x", "y", "z")
UNITS: dict[Axis, Vec] = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}


@dataclass(frozen=True, slots=True)
class CuttingPlane:
    """A plane square to an axis of the panel frame.

    Parameters
    ----------
    axis : {"x", "y", "z"}
        Its normal.
    at : float
        Where it stands on that axis, [mm].
    towards : {1, -1}
        On which side of it the viewer stands; what lies on his side is taken away.
    """

    axis: Axis
    at: float
    towards: Literal[1, -1] = 1


@dataclass(frozen=True, slots=True)
class ViewFrame:
    """How a view's plane lies in the panel frame.

    Parameters
    ----------
    right, up, towards : (float, float, float)
        Unit vectors of u, v and to the viewer, along the panel's axes.
    low, high : (float, float, float)
        Corners of the box of what is seen, [mm] in the panel frame.
    """

    right: Vec
    up: Vec
    towards: Vec
    low: Vec
    high: Vec

    @property
    def origin(self) -> Point:
        """Where the view's origin lies on u and v counted from the panel's origin, [mm]."""
        return self._least(self.right), self._least(self.up)

    @property
    def size(self) -> tuple[float, float]:
        """Of what is seen, [mm]."""
        box = [h - w for w, h in zip(self.low, self.high, strict=True)]
        return _dot(self.right, box, sign=False), _dot(self.up, box, sign=False)

    def to_view(self, point: Vec) -> Point:
        """Return u and v of a point of the panel frame, [mm]."""
        u0, v0 = self.origin
        return _dot(self.right, point) - u0, _dot(self.up, point) - v0

    def depth(self, point: Vec) -> float:
        """Return how far a point of the panel frame lies behind the box's face nearest to the viewer, [mm]."""
        nearest = -self._least(tuple(-t for t in self.towards))
        return nearest - _dot(self.towards, point)

    def _least(self, axis: tuple[float, ...]) -> float:
        return min(_dot(axis, self.low), _dot(axis, self.high))


def face_frame(face: Face, low: Vec, high: Vec) -> ViewFrame:
    """Return the frame of a face of a part, that of its set-up.

    Parameters
    ----------
    face : Face
        The face that looks at the viewer.
    low, high : (float, float, float)
        Corners of the part's box, [mm].
    """
    up = UNITS["z"] if face in EDGES else UNITS["y"]
    x, y, z = INTO[face]
    return ViewFrame(RIGHT[face], up, (-x, -y, -z), low, high)


def cut_frame(plane: CuttingPlane, low: Vec, high: Vec) -> ViewFrame:
    """Return the frame of a section.

    Parameters
    ----------
    plane : CuttingPlane
    low, high : (float, float, float)
        Corners of the box of all that is cut, [mm].
    """
    s = float(plane.towards)
    right: Vec
    up: Vec
    if plane.axis == "y":
        right, up = UNITS["x"], (0.0, 0.0, -s)
    else:
        right, up = ((0.0, 0.0, -s) if plane.axis == "x" else (s, 0.0, 0.0)), UNITS["y"]
    x, y, z = UNITS[plane.axis]
    return ViewFrame(right, up, (s * x, s * y, s * z), low, high)


def _dot(axis: tuple[float, ...], point: tuple[float, ...] | list[float], sign: bool = True) -> float:
    return sum((a if sign else abs(a)) * p for a, p in zip(axis, point, strict=True))
