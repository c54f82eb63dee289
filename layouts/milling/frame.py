"""The plane of a set-up: a part's face as the one who stands before it sees it, and back to the panel frame.

u runs to the right, v up, depth from the face into the part; the origin is the face's lower left corner as seen.
u, v and the direction towards the viewer are right-handed in every set-up::

    front   u = x,  v = y              as in the panel frame
    back    u = -x, v = y              mirrored
    edges   v = z: the front is up, the back is down; u runs along the edge, hence
            top u = -x, bottom u = x, left u = -y, right u = y
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from geom.errors import GeometryError
from geom.features import Blank
from geom.frame import EDGES, INTO, Face, Vec
from geom.outline import Arc, Line, Loop, Point, Segment, move_path, reverse_path

RIGHT: dict[Face, Vec] = {
    "front": (1.0, 0.0, 0.0),
    "back": (-1.0, 0.0, 0.0),
    "top": (-1.0, 0.0, 0.0),
    "bottom": (1.0, 0.0, 0.0),
    "left": (0.0, -1.0, 0.0),
    "right": (0.0, 1.0, 0.0),
}
"""Direction of u in the panel frame."""


@dataclass(frozen=True, slots=True)
class SetUpPlane:
    """A face of a part as it is seen.

    Parameters
    ----------
    face : Face
        The face that looks up.
    low, high : (float, float, float)
        Corners of the part's box in the panel frame, [mm].
    """

    face: Face
    low: Vec
    high: Vec

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the face as seen, [mm]."""
        wide = 0 if RIGHT[self.face][0] else 1
        tall = 2 if self.face in EDGES else 1
        return self.high[wide] - self.low[wide], self.high[tall] - self.low[tall]

    @property
    def height(self) -> float:
        """How high the part stands on the table, [mm]."""
        axis = next(k for k in range(3) if INTO[self.face][k])
        return self.high[axis] - self.low[axis]

    def to_plane(self, point: Vec) -> Vec:
        """Return u, v and depth of a point of the panel frame, [mm]."""
        up = 2 if self.face in EDGES else 1
        return (
            self._along(point, RIGHT[self.face]),
            point[up] - self.low[up],
            self._along(point, INTO[self.face]),
        )

    def to_panel(self, point: Vec) -> Vec:
        """Return the point of the panel frame that has u, v and depth, [mm]."""
        u, v, depth = point
        out = [0.0, 0.0, 0.0]
        axes = (RIGHT[self.face], (0.0, 0.0, 1.0) if self.face in EDGES else (0.0, 1.0, 0.0), INTO[self.face])
        for axis, far in zip(axes, (u, v, depth), strict=True):
            k = next(k for k in range(3) if axis[k])
            out[k] = self.low[k] + far if axis[k] > 0 else self.high[k] - far
        return out[0], out[1], out[2]

    def loop_to_plane(self, loop: Loop) -> Loop:
        """Return a loop of the panel's plan in the plane of the front or the back, its sense kept, [mm].

        Raises
        ------
        GeometryError
            For the plane of an edge.
        """
        return self._move_loop(loop)

    def loop_to_panel(self, loop: Loop) -> Loop:
        """Return a loop of the plane of the front or the back in the panel's plan, its sense kept, [mm].

        Raises
        ------
        GeometryError
            For the plane of an edge.
        """
        # Both a shift and a mirror are undone by their like.
        return self._move_loop(loop, back=True)

    def _along(self, point: Vec, axis: Vec) -> float:
        k = next(k for k in range(3) if axis[k])
        return point[k] - self.low[k] if axis[k] > 0 else self.high[k] - point[k]

    def _move_loop(self, loop: Loop, back: bool = False) -> Loop:
        if self.face in EDGES:
            raise GeometryError(f"outlines in plan are not seen from the {self.face} edge: use its bores")
        x0, y0, x1 = self.low[0], self.low[1], self.high[0]
        if self.face == "front":
            dx, dy = (x0, y0) if back else (-x0, -y0)
            return move_path(loop, dx, dy)
        mirrored = tuple(_mirror(s, x1, y0 if back else -y0) for s in loop)
        return reverse_path(mirrored)


def plane_of(blank: Blank, face: Face) -> SetUpPlane:
    """Return the plane of a face of a part.

    Parameters
    ----------
    blank : Blank
    face : Face
    """
    ends = [point for s in blank.loop for point in (s.start, s.end)]
    # A rounded sheet's outermost points are ends of its arcs: they turn by right angles.
    xs, ys = [p[0] for p in ends], [p[1] for p in ends]
    return SetUpPlane(face, (min(xs), min(ys), blank.z0), (max(xs), max(ys), blank.z1))


def _mirror(s: Segment, about: float, dy: float) -> Segment:
    """Return a piece mirrored, x to `about` - x, and moved up by `dy`; an arc turns the other way."""

    def move(p: Point) -> Point:
        return (about - p[0], p[1] + dy)

    if isinstance(s, Line):
        return Line(move(s.start), move(s.end))
    return Arc(move(s.centre), s.radius, math.pi - s.first, -s.sweep)
