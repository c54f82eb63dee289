"""The routing grid: nodes at whole multiples of the pitch from the panel's lower left corner."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geom.frame import SAME_MM
from geom.outline import Point
from layouts.panel import Box, Panel


@dataclass(frozen=True, slots=True)
class Grid:
    """Columns and rows of nodes, and their pitch in mm. A cell's number is row * columns + column."""

    columns: int
    rows: int
    pitch: float

    @property
    def cells(self) -> int:
        """Number of nodes."""
        return self.columns * self.rows

    def cell_at(self, point: Point) -> int:
        """Return the number of the node nearest to a point in mm."""
        return round(point[1] / self.pitch) * self.columns + round(point[0] / self.pitch)

    def point_of(self, cell: int) -> Point:
        """Return a node's place, [mm]."""
        return (cell % self.columns) * self.pitch, (cell // self.columns) * self.pitch

    def nearest(self, point: Point) -> Point:
        """Return the node nearest to a point, on or off the panel, [mm]."""
        return snap(point[0], self.pitch), snap(point[1], self.pitch)

    def holds(self, point: Point) -> bool:
        """Return whether a point in mm is a node of this grid."""
        x, y = point[0] / self.pitch, point[1] / self.pitch
        on = abs(x - round(x)) < SAME_MM and abs(y - round(y)) < SAME_MM
        return on and 0 <= round(x) < self.columns and 0 <= round(y) < self.rows

    def span(self, low: float, high: float) -> range:
        """Return the indices along one axis whose place lies in [low, high], [mm]."""
        first = int(np.ceil(low / self.pitch - SAME_MM))
        return range(first, int(np.floor(high / self.pitch + SAME_MM)) + 1)

    def xy(self) -> tuple[np.ndarray, np.ndarray]:
        """Return every node's x and y, two (cells,) float, [mm]."""
        x = np.tile(np.arange(self.columns) * self.pitch, self.rows)
        y = np.repeat(np.arange(self.rows) * self.pitch, self.columns)
        return x, y

    def distance_to_box(self, box: Box) -> np.ndarray:
        """Return every node's distance to a filled box, (cells,) float, [mm]."""
        x, y = self.xy()
        dx = np.maximum(np.maximum(box[0] - x, x - box[2]), 0.0)
        dy = np.maximum(np.maximum(box[1] - y, y - box[3]), 0.0)
        return np.hypot(dx, dy)

    def distance_to_point(self, point: Point) -> np.ndarray:
        """Return every node's distance to a point, (cells,) float, [mm]."""
        x, y = self.xy()
        return np.hypot(x - point[0], y - point[1])

    def distance_to_line(self, start: Point, end: Point) -> np.ndarray:
        """Return every node's distance to an axis-parallel piece of line, (cells,) float, [mm]."""
        return self.distance_to_box(
            (min(start[0], end[0]), min(start[1], end[1]), max(start[0], end[0]), max(start[1], end[1]))
        )

    def distance_to_edge(self, panel: Panel) -> np.ndarray:
        """Return every node's distance to the panel's outline, negative outside, (cells,) float, [mm]."""
        return distance_inside(panel, *self.xy())


def snap(length: float, pitch: float) -> float:
    """Return the whole multiple of the pitch that is nearest to a length, [mm]."""
    return round(length / pitch) * pitch


def node_inside(panel: Panel, to: Point, size: Point = (0.0, 0.0)) -> Point:
    """Return the node nearest to a point at which a rectangle's lower left corner may be put.

    Parameters
    ----------
    panel : Panel
    to : (float, float)
        Anywhere, [mm].
    size : (float, float)
        Of the rectangle, which then lies on the panel as far as it fits, [mm]; none unless given.

    Returns
    -------
    (float, float)
        [mm].
    """
    pitch = panel.pitch
    columns = int(np.floor(max(panel.width - size[0], 0.0) / pitch + SAME_MM))
    rows = int(np.floor(max(panel.height - size[1], 0.0) / pitch + SAME_MM))
    return min(max(round(to[0] / pitch), 0), columns) * pitch, min(max(round(to[1] / pitch), 0), rows) * pitch


def distance_inside(panel: Panel, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return how far points lie inside the panel's rounded outline, [mm]; negative outside.

    Parameters
    ----------
    panel : Panel
    x, y : (n,) float
        [mm].

    Returns
    -------
    (n,) float
    """
    radius = panel.corner_radius
    qx = np.abs(x - panel.width / 2) - (panel.width / 2 - radius)
    qy = np.abs(y - panel.height / 2) - (panel.height / 2 - radius)
    beyond = np.hypot(np.maximum(qx, 0.0), np.maximum(qy, 0.0))
    return radius - beyond - np.minimum(np.maximum(qx, qy), 0.0)


def grid_of(panel: Panel) -> Grid:
    """Return the panel's grid."""
    return Grid(
        int(np.floor(panel.width / panel.pitch + SAME_MM)) + 1,
        int(np.floor(panel.height / panel.pitch + SAME_MM)) + 1,
        panel.pitch,
    )
