"""Places and pieces of a path by the distance along it, and how far points lie off paths."""

from __future__ import annotations

from bisect import bisect_right
from itertools import accumulate

import numpy as np

from geom.crossings import cut_segment, heading_at, point_at
from geom.frame import SAME_MM
from geom.outline import Arc, Point, Segment


class Way:
    """A path of lines and arcs, measured along it.

    Parameters
    ----------
    path : tuple of Line or Arc
        Each piece begins where the one before it ends.
    closed : bool
        Whether it goes on past its end, round and round.
    """

    def __init__(self, path: tuple[Segment, ...], closed: bool) -> None:
        self.path, self.closed = path, closed
        self._ends = list(accumulate((s.length for s in path), initial=0.0))
        self.length = self._ends[-1]

    def find(self, along: float) -> tuple[Segment, float]:
        """Return the piece at a distance along the path, and the fraction of its length there."""
        if self.closed:
            along %= self.length
        k = min(max(bisect_right(self._ends, along) - 1, 0), len(self.path) - 1)
        return self.path[k], min(max((along - self._ends[k]) / self.path[k].length, 0.0), 1.0)

    def point(self, along: float) -> Point:
        """Return the point at a distance along the path, [mm]."""
        return point_at(*self.find(along))

    def heading(self, along: float) -> Point:
        """Return the unit vector along the path at a distance along it."""
        return heading_at(*self.find(along))

    def cut(self, low: float, high: float) -> tuple[Segment, ...]:
        """Return the path between two distances along it, [mm]; a closed one is followed past its end."""
        first = (low // self.length) * self.length if self.closed else 0.0
        out: list[Segment] = []
        while first < high:
            for s, start, end in zip(self.path, self._ends, self._ends[1:], strict=False):
                a, b = max(low - first, start), min(high - first, end)
                if b - a > SAME_MM:
                    # Whole pieces stay as they are, to the last bit.
                    share_a = 0.0 if a - start < SAME_MM else (a - start) / s.length
                    share_b = 1.0 if end - b < SAME_MM else (b - start) / s.length
                    out.append(cut_segment(s, share_a, share_b))
            if not self.closed:
                break
            first += self.length
        return tuple(out)


def distances_to(path: tuple[Segment, ...], points: np.ndarray) -> np.ndarray:
    """Return how far points lie off a path.

    Parameters
    ----------
    path : tuple of Line or Arc
    points : (n, 2) float
        [mm]

    Returns
    -------
    (n,) float
        [mm]; infinite for a path without pieces.
    """
    least = np.full(len(points), np.inf)
    for s in path:
        start, end = np.array(s.start), np.array(s.end)
        if isinstance(s, Arc):
            off = points - np.array(s.centre)
            turned = (np.arctan2(off[:, 1], off[:, 0]) - s.first) * np.sign(s.sweep) % (2 * np.pi)
            ends = np.minimum(np.hypot(*(points - start).T), np.hypot(*(points - end).T))
            ring = np.abs(np.hypot(off[:, 0], off[:, 1]) - s.radius)
            have = np.where(turned <= abs(s.sweep), ring, ends)
        else:
            way = end - start
            share = np.clip((points - start) @ way / (way @ way), 0.0, 1.0)
            have = np.hypot(*(points - start - share[:, None] * way).T)
        np.minimum(least, have, out=least)
    return least
