"""What each cut takes away, where cuts overlap: each part of the material counts once, with the cut that comes first.

The material is sliced parallel to the panel. Between two levels at which anything begins or ends, upright cuts have
one section; that of a level bore is a rectangle, whose width is followed from slice to slice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from geom.frame import SAME_MM
from geom.outline import Point

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(8)
"""Slices between two levels. Over the cosine of their angle, so that the root at a bore's edge is smooth."""


@dataclass(frozen=True, slots=True)
class Slab:
    """A cut with upright walls: its plan in the panel frame, from z0 up to z1, [mm]."""

    plan: shapely.Geometry
    z0: float
    z1: float


@dataclass(frozen=True, slots=True)
class Level:
    """A bore parallel to the panel: from `start` to `end` in plan, at height `z`, [mm]."""

    start: Point
    end: Point
    z: float
    radius: float

    @property
    def z0(self) -> float:
        """Its lowest line, [mm]."""
        return self.z - self.radius

    @property
    def z1(self) -> float:
        """Its highest line, [mm]."""
        return self.z + self.radius

    def section(self, z: float) -> shapely.Geometry:
        """Return the bore's section at a height, [mm]."""
        half = math.sqrt(max(self.radius**2 - (z - self.z) ** 2, 0.0))
        length = math.dist(self.start, self.end)
        u, v = (self.end[0] - self.start[0]) / length, (self.end[1] - self.start[1]) / length
        off = (-v * half, u * half)
        (ax, ay), (bx, by) = self.start, self.end
        return shapely.Polygon(
            (
                (ax - off[0], ay - off[1]),
                (bx - off[0], by - off[1]),
                (bx + off[0], by + off[1]),
                (ax + off[0], ay + off[1]),
            )
        )


Cut = Slab | Level


def measure_removed(cuts: tuple[Cut, ...], blank: Slab) -> tuple[float, ...]:
    """Return what each cut takes of a blank that those before it have left, [mm3].

    Parameters
    ----------
    cuts : tuple of Slab or Level
        In the order in which they are made.
    blank : Slab
        What is outside is not counted.

    Returns
    -------
    tuple of float
        [mm3], one for each cut.
    """
    taken = [0.0] * len(cuts)
    inside = [_clipped(cut, blank) for cut in cuts]
    boxes = [_box(cut) for cut in inside]
    level = [k for k, cut in enumerate(inside) if isinstance(cut, Level)]
    beside = [k for k, box in enumerate(boxes) if k in level or any(_meet(box, boxes[j]) for j in level)]
    steps = sorted({min(max(z, blank.z0), blank.z1) for cut in inside for z in (cut.z0, cut.z1)})
    for low, high in pairwise(steps):
        if high - low < SAME_MM:
            continue
        middle = (low + high) / 2
        active = [k for k, cut in enumerate(inside) if cut.z0 < middle < cut.z1]
        moving = any(k in level for k in active)
        near = [k for k in active if k in beside] if moving else []
        far = [k for k in active if k not in near]
        for k, area in _areas(inside, boxes, active, far, middle, blank.plan):
            taken[k] += area * (high - low)
        if not near:
            continue
        for node, weight in zip(_NODES, _WEIGHTS, strict=True):
            angle = (node + 1) * math.pi / 2
            z = low + (high - low) * (1 - math.cos(angle)) / 2
            share = weight * math.pi / 2 * math.sin(angle) / 2 * (high - low)
            for k, area in _areas(inside, boxes, active, near, z, blank.plan):
                taken[k] += area * share
    return tuple(float(volume) for volume in taken)


def _areas(
    cuts: list[Cut],
    boxes: list[tuple[float, ...]],
    active: list[int],
    wanted: list[int],
    z: float,
    plan: shapely.Geometry,
) -> list[tuple[int, float]]:
    """Return the area that each wanted one of the active cuts opens anew at a height, [mm2]."""
    sections: dict[int, shapely.Geometry] = {}

    def section(k: int) -> shapely.Geometry:
        if k not in sections:
            cut = cuts[k]
            # A slab is clipped already.
            sections[k] = cut.plan if isinstance(cut, Slab) else shapely.intersection(cut.section(z), plan)
        return sections[k]

    out = []
    for k in wanted:
        left = section(k)
        for j in active:
            if j < k and _meet(boxes[k], boxes[j]):
                left = shapely.difference(left, section(j))
        out.append((k, float(left.area)))
    return out


def _clipped(cut: Cut, blank: Slab) -> Cut:
    if isinstance(cut, Level):
        return cut
    plan = cut.plan if shapely.covers(blank.plan, cut.plan) else shapely.intersection(cut.plan, blank.plan)
    return Slab(plan, max(cut.z0, blank.z0), min(cut.z1, blank.z1))


def _box(cut: Cut) -> tuple[float, ...]:
    return tuple((cut.plan if isinstance(cut, Slab) else cut.section(cut.z)).bounds)


def _meet(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    if not a or not b:
        return False
    return a[0] <= b[2] and b[0] <= a[2] and a[1] <= b[3] and b[1] <= a[3]
