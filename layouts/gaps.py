"""The gap that a reason tells of, measured on the panel's own outlines."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from geom.frame import SAME_MM
from geom.outline import Point
from layouts.blockers import Blocker, outline_blockers
from layouts.clearance import clearances_of
from layouts.failure import Gap
from layouts.panel import Panel
from layouts.routing.instance import Instance
from layouts.routing.reasons.naming import spread_labels
from layouts.routing.reasons.narrow import split_chains
from layouts.routing.reasons.reason import Reason
from layouts.terrain import Terrain


@dataclass(frozen=True, slots=True)
class Width:
    """The narrowest place between two blockers, [mm]."""

    start: Point
    end: Point
    blockers: tuple[Blocker, Blocker]

    @property
    def length(self) -> float:
        """The distance between the two."""
        return math.dist(self.start, self.end)


def find_gap(panel: Panel, terrain: Terrain, reason: Reason) -> Gap | None:
    """Return the gap of a reason, or of several the one that has to be widened least.

    Parameters
    ----------
    panel : Panel
    terrain : Terrain
    reason : Reason
        Of kind "narrow".

    Returns
    -------
    Gap or None
        None where one side of it is no known outline.
    """
    nets = {net.name: net for net in terrain.instance.nets}
    widths = sorted(terrain.ground.widths[nets[name].channel_class] for name in reason.channels)
    between = clearances_of(panel).channel_gap
    found: list[Gap] = []
    chains = split_chains(terrain.instance, reason.cells)
    for chain in chains:
        width = measure_gap(panel, terrain, chain)
        if width is None:
            return None
        # The least that so many channels take, with their walls.
        needed = [
            sum(one.off for one in width.blockers) + sum(widths[:count]) + (count - 1) * between
            for count in range(1, len(widths) + 1)
        ]
        fit = sum(least <= width.length + SAME_MM for least in needed) if len(chains) > 1 else reason.fit
        must_pass = min(fit + reason.must_pass - reason.fit, len(widths))
        names = (width.blockers[0].name, width.blockers[1].name)
        found.append(Gap(width.start, width.end, names, width.length, needed[must_pass - 1], must_pass, fit))
    return min(found, key=lambda gap: gap.lacking)


def measure_gap(panel: Panel, terrain: Terrain, cells: tuple[int, ...]) -> Width | None:
    """Return the true width of a gap that a chain of free cells closes.

    Parameters
    ----------
    panel : Panel
    terrain : Terrain
    cells : tuple of int
        The chain, its cells touching.

    Returns
    -------
    Width or None
        None where one side is no known outline.
    """
    instance, pitch = terrain.instance, terrain.grid.pitch
    sides = _find_sides(instance, cells)
    if sides is None:
        return None
    outlines = outline_blockers(panel, terrain.placement)
    pieces = []
    blockers = []
    for (column, row), name in sides:
        blocker = outlines.get(name)
        if blocker is None:
            return None
        # A blocked cell's centre lies nearer than this to what blocks it.
        reach = blocker.off + max(terrain.ground.widths) / 2 + 2 * pitch
        at = shapely.Point(column * pitch, row * pitch)
        near = blocker.shape.intersection(at.buffer(reach, quad_segs=64))
        parts = [part for part in getattr(near, "geoms", [near]) if not part.is_empty]
        if not parts:
            return None
        pieces.append(min(parts, key=lambda part: float(part.distance(at))))
        blockers.append(blocker)
    line = shapely.shortest_line(pieces[0], pieces[1])
    if line.length == 0.0:
        return None
    (x0, y0), (x1, y1) = line.coords
    return Width((float(x0), float(y0)), (float(x1), float(y1)), (blockers[0], blockers[1]))


def _find_sides(
    instance: Instance, cells: tuple[int, ...]
) -> tuple[tuple[tuple[int, int], str], tuple[tuple[int, int], str]] | None:
    """Return the two blocked places farthest apart beside the ends of a chain, (column, row), with what blocks them."""
    columns, rows, layer = instance.columns, instance.rows, instance.columns * instance.rows
    if instance.labels is None:
        return None
    classes = sorted({net.channel_class for net in instance.nets})
    blocked = np.asarray(instance.blocked[classes].all(axis=0))
    labels = spread_labels(instance, blocked)
    at = [(c % layer % columns, c % layer // columns) for c in cells]
    first, last = max(
        ((a, b) for a in at for b in at), key=lambda pair: math.hypot(*np.subtract(pair[0], pair[1]))
    )
    base = cells[0] // layer * layer
    around: list[list[tuple[tuple[int, int], str]]] = []
    for x0, y0 in (first, last):
        found = []
        for dx in (-1, 0, 1):
            for dy in (-1, 0, 1):
                x, y = x0 + dx, y0 + dy
                if not (0 <= x < columns and 0 <= y < rows):
                    found.append(((x, y), "the panel's edge"))
                    continue
                cell = base + y * columns + x
                if blocked[cell] and labels[cell] >= 0:
                    found.append(((x, y), instance.label_names[labels[cell]]))
        around.append(found)
    pairs = [(a, b) for a in around[0] for b in around[1]]
    if not pairs:
        return None
    return max(pairs, key=lambda pair: math.dist(pair[0][0], pair[1][0]))
