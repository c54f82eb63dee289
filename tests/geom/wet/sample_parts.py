"""Parts whose air and coolant have closed forms, at any place on the grid; lengths in mm, gravity along y unless said.

Each is voxels with a vent or an exit at the voxels told, and what stays, exactly.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from geom.features import Cylinder, Feature, Prism, Shape
from geom.frame import Vec
from geom.outline import Arc, Line, Loop, outline_rectangle
from geom.wet.flooding import climb
from geom.wet.links import join_links
from geom.wet.pieces import label_pieces, measure_pieces
from geom.wet.raster import raster_wet
from geom.wet.voxels import WetVoxels, voxels_of_mask

UP: Vec = (0.0, 1.0, 0.0)


@dataclass(frozen=True, slots=True)
class Part:
    """What is wet, where it is open, and what stays in it.

    Parameters
    ----------
    voxels : callable
        Spacing and a shift of the part on the grid, both [mm], to voxels and which of them are its mouths.
    air : bool
        Whether air is asked for; else coolant.
    stays_mm3 : float
    """

    voxels: Callable[[float, Vec], tuple[WetVoxels, np.ndarray]]
    air: bool
    stays_mm3: float

    def measure(self, spacing: float, shift: Vec = (0.0, 0.0, 0.0)) -> float:
        """Return what stays in its voxels, [mm3]."""
        voxels, mouths = self.voxels(spacing, shift)
        return stays(voxels, mouths, UP, self.air)


def stays(voxels: WetVoxels, mouths: np.ndarray, up: Vec, air: bool) -> float:
    """Return the volume of all pieces deeper than the steps of the voxels, [mm3]."""
    heights = voxels.elevations(up) * np.float32(-1.0 if air else 1.0)
    levels = climb(voxels, heights, np.flatnonzero(mouths), join_links(voxels.count, (), ()))
    pieces = measure_pieces(voxels, label_pieces(voxels, levels > heights), heights, levels)
    return float(pieces.counts[pieces.depths > 1.5 * voxels.spacing].sum()) * voxels.spacing**3


def mirror_y(loop: Loop) -> Loop:
    """Return a loop turned upside down, counter-clockwise again."""
    turned: list[Line | Arc] = []
    for piece in reversed(loop):
        if isinstance(piece, Line):
            turned.append(Line((piece.end[0], -piece.end[1]), (piece.start[0], -piece.start[1])))
        else:
            centre = (piece.centre[0], -piece.centre[1])
            turned.append(Arc(centre, piece.radius, -piece.first - piece.sweep, piece.sweep))
    return tuple(turned)


def bent_tube(left: float, right: float, radius: float, width: float) -> Loop:
    """Return a half turn of a channel's centreline with straight legs down from its ends, cut off square."""
    inner, outer = radius - width / 2, radius + width / 2
    return (
        Line((-outer, -left), (-inner, -left)),
        Line((-inner, -left), (-inner, 0.0)),
        Arc((0.0, 0.0), inner, math.pi, -math.pi),
        Line((inner, 0.0), (inner, -right)),
        Line((inner, -right), (outer, -right)),
        Line((outer, -right), (outer, 0.0)),
        Arc((0.0, 0.0), outer, 0.0, math.pi),
        Line((-outer, 0.0), (-outer, -left)),
    )


def moved(loop: Loop, shift: Vec) -> Loop:
    """Return a loop shifted in plan."""

    def move(point: tuple[float, float]) -> tuple[float, float]:
        return (point[0] + shift[0], point[1] + shift[1])

    return tuple(
        Line(move(piece.start), move(piece.end))
        if isinstance(piece, Line)
        else Arc(move(piece.centre), piece.radius, piece.first, piece.sweep)
        for piece in loop
    )


def make_wet(*shapes: Shape) -> list[Feature]:
    """Return wet features of shapes."""
    return [Feature(f"feature {n}", "channel", "wet", shape) for n, shape in enumerate(shapes)]


def bent(air: bool, width: float = 8.0, depth: float = 7.5) -> Part:
    """Return a tube bent by half a turn with legs of 70 and 45 mm: open below where air is asked for, else above.

    Its legs go on by 5 mm, which are outside. What stays lies past the mouth of the shorter leg: both legs to there
    and the half turn.
    """
    radius, legs, outside = 16.0, (70.0, 45.0), 5.0
    loop = bent_tube(legs[0] + outside, legs[1] + outside, radius, width)
    loop = loop if air else mirror_y(loop)
    sense = -1.0 if air else 1.0

    def voxels(spacing: float, shift: Vec) -> tuple[WetVoxels, np.ndarray]:
        made = raster_wet(make_wet(Prism((moved(loop, shift),), shift[2], shift[2] + depth)), spacing)
        x, y, _ = (made.centres() - np.asarray(shift)).T
        return made, sense * y > np.where(x < 0, legs[0], legs[1])

    return Part(voxels, air, width * depth * (math.pi * radius + 2 * min(legs)))


def stepped(air: bool, depth: float = 6.5) -> Part:
    """Return a level channel whose floor (its roof, for air) goes up and down in steps on the way to its one end.

    From the end: 20 mm at 0, 10 mm at 12, 30 mm at -9, 15 mm at 5, 25 mm at -14 mm. Behind the first step coolant
    stands to 12 mm, nothing runs over the second.
    """
    floors = ((20.0, 0.0), (10.0, 12.0), (30.0, -9.0), (15.0, 5.0), (25.0, -14.0))
    ceiling = 20.0
    sense = -1.0 if air else 1.0

    def voxels(spacing: float, shift: Vec) -> tuple[WetVoxels, np.ndarray]:
        boxes, x = [], shift[0]
        for length, floor in floors:
            low, high = sorted((sense * floor + shift[1], sense * ceiling + shift[1]))
            loop = outline_rectangle(x, low, x + length, high, 0.0)
            boxes.append(Prism((loop,), shift[2], shift[2] + depth))
            x += length
        made = raster_wet(make_wet(*boxes), spacing)
        return made, made.centres()[:, 0] - shift[0] < spacing

    return Part(voxels, air, depth * sum(length * max(0.0, 12.0 - floor) for length, floor in floors[2:]))


def tank_with_side_outlet() -> Part:
    """Return a tank 50 x 60 x 30 mm with a level bore of 10 mm through its side, its middle at 41 mm.

    Coolant stays up to the bore's lowest line, 36 mm.
    """
    width, height, depth, radius, middle = 50.0, 60.0, 30.0, 5.0, 41.0

    def voxels(spacing: float, shift: Vec) -> tuple[WetVoxels, np.ndarray]:
        loop = outline_rectangle(shift[0], shift[1], shift[0] + width, shift[1] + height, 0.0)
        mouth = (shift[0] + width + 25.0, shift[1] + middle, shift[2] + depth / 2)
        bore = Cylinder(mouth, (-1.0, 0.0, 0.0), 35.0, radius)
        made = raster_wet(make_wet(Prism((loop,), shift[2], shift[2] + depth), bore), spacing)
        return made, made.cells[:, 0] == made.cells[:, 0].max()

    return Part(voxels, False, width * depth * (middle - radius))


def ball_with_port(radius: float, elevation_deg: float, bore: float) -> Part:
    """Return a ball with a port straight away from its middle, upwards.

    The port's rim on the ball reaches up to the elevation of its axis and half the angle that its bore takes of the
    ball; over that air stays: a cap.

    Parameters
    ----------
    radius : float
        [mm]
    elevation_deg : float
        Of the port's axis, [deg].
    bore : float
        Its radius, [mm].
    """
    angle = math.radians(elevation_deg)
    axis = np.array([math.cos(angle), math.sin(angle), 0.0])
    rim = radius * math.sin(angle + math.asin(bore / radius))
    cap, reach = radius - rim, radius + 10.0

    def voxels(spacing: float, shift: Vec) -> tuple[WetVoxels, np.ndarray]:
        first = [math.floor((shift[k] - radius) / spacing) for k in range(3)]
        last = [math.ceil((shift[k] + (reach + bore if k < 2 else radius)) / spacing) for k in range(3)]
        x, y, z = np.ogrid[tuple(slice(a, b) for a, b in zip(first, last, strict=True))]
        x, y, z = ((axis + 0.5) * spacing - off for axis, off in zip((x, y, z), shift, strict=True))
        along, across = x * axis[0] + y * axis[1], x * axis[1] - y * axis[0]
        port = (across**2 + z**2 <= bore**2) & (along > 0) & (along < reach)
        origin = (first[0] * spacing, first[1] * spacing, first[2] * spacing)
        made = voxels_of_mask((x**2 + y**2 + z**2 <= radius**2) | port, spacing, origin)
        return made, (made.centres() - np.asarray(shift)) @ axis > reach - 2.0 * spacing

    return Part(voxels, True, math.pi * cap**2 * (3 * radius - cap) / 3)
