"""A plate's outline to triangles, fine at its screws and holes.

No mesher of triangles is among the libraries that this project may lean on, so points are laid here and scipy
joins them: on every edge, in circles that widen about screws and holes, and on a triangular lattice elsewhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely

from geom.errors import GeometryError
from geom.frame import ROUNDING, SAME_MM
from layouts.bending.plate import ClampRing

GRADE = 0.5
"""How much longer a triangle's sides may be for each mm further from a screw or hole, [-]."""

CIRCLE_SHARE = 0.45
"""Sides on a clamp's circle over those of the open plate, [-]: the stress there changes within its radius."""

LEAST_SIDES = 12
"""Of a circle's polygon."""

CORNER_DEG = 25.0
"""An edge that turns by more keeps its corner; gentler ones are the chords of an arc."""

ARC_DEG = 60.0
"""A side on a rounded edge turns by no more."""

CROSS_MM = 0.25
"""Corners of two clamps' circles are never nearer to each other."""

LEAST_CORNERS, OUT_OF_ROUND = 8, 0.05
"""A polygon with so many corners, whose radii differ by no more than this share, stands for a circle."""

SMOOTHINGS = 2
"""Turns in which each free corner moves to the middle of its neighbours."""

MOST_SPLITS = 8
"""Turns in which pieces of an edge that are no triangle's side are halved."""

RISE = 0.87
"""Height of an even triangle over its side, rounded up: how far apart circles of corners lie."""

OFF_SHARE = 0.4
"""No corner is laid nearer to an edge, or to another clamp's circles, than this share of a side: flatter triangles
bend too stiffly."""

NEAR_SHARE, OPEN_SHARE = 0.7, 0.9
"""No corner is laid nearer to another than this share of a side; circles widen until their sides are this share of
the open lattice's."""


@dataclass(frozen=True, slots=True)
class Mesh:
    """Triangles that fill a sheet.

    Parameters
    ----------
    points : (n, 2) float
        [mm]
    triangles : (m, 3) int
        Numbers of their corners, counter-clockwise.
    """

    points: np.ndarray
    triangles: np.ndarray


@dataclass(frozen=True, slots=True)
class _Circle:
    centre: tuple[float, float]
    radius: float
    side: float
    grade: float = GRADE


def mesh_sheet(
    outline: shapely.Polygon, rings: tuple[ClampRing, ...], size: float, grade: float = GRADE
) -> Mesh:
    """Return triangles that fill an outline, with corners on its edges and on the circles of its clamps.

    Parameters
    ----------
    outline : shapely.Polygon
        With its holes, [mm].
    rings : tuple of ClampRing
    size : float
        Side of the triangles away from edges and screws, [mm].
    grade : float
        How much longer sides may be for each mm further from a screw or hole, [-].

    Returns
    -------
    Mesh

    Raises
    ------
    GeometryError
        Where the outline leaves no room for triangles.
    """
    heads = [
        _Circle(ring.at, ring.outer, _circle_side(ring.outer, CIRCLE_SHARE * size), grade) for ring in rings
    ]
    edges = [np.asarray(ring.coords)[:-1] for ring in (outline.exterior, *outline.interiors)]
    holes = []
    for corners in edges[1:]:
        circle = _as_circle(corners, size)
        # A screw's hole is as fine as its head's circle makes it.
        if circle is not None and not any(math.dist(circle.centre, ring.at) < ring.outer for ring in rings):
            holes.append(replace(circle, grade=grade))
    circles = (*heads, *holes)
    loops = [_lay_edge(corners, size, circles) for corners in edges]
    rounds = [_lay_circle(head.centre, head.radius, head.side) for head in heads]
    rounds += [_lay_inner(ring, outline) for ring in rings]
    fixed = _keep_inside(np.concatenate([np.empty((0, 2)), *rounds]), outline, loops)
    free = _lay_free(outline, loops, fixed, circles, size)
    # The lattice has no place under a head.
    for ring in rings:
        away = np.hypot(free[:, 0] - ring.at[0], free[:, 1] - ring.at[1])
        free = free[(away > ring.outer) | (away < ring.inner)]
    return _join(outline, loops, fixed, free)


def _circle_side(radius: float, aim: float) -> float:
    return 2 * math.pi * radius / max(LEAST_SIDES, math.ceil(2 * math.pi * radius / aim))


def _as_circle(corners: np.ndarray, size: float) -> _Circle | None:
    """Return the circle that a polygon stands for, with the side for its edge; None for another shape."""
    if len(corners) < LEAST_CORNERS:
        return None
    middle = (corners.max(axis=0) + corners.min(axis=0)) / 2
    far = np.hypot(*(corners - middle).T)
    if far.max() - far.min() > OUT_OF_ROUND * far.max():
        return None
    radius = float(far.mean())
    return _Circle((float(middle[0]), float(middle[1])), radius, _circle_side(radius, size))


def _side_at(points: np.ndarray, circles: tuple[_Circle, ...], size: float) -> np.ndarray:
    """Return how long the sides may be at some points, [mm]."""
    side = np.full(len(points), float(size))
    for circle in circles:
        away = np.abs(
            np.hypot(points[:, 0] - circle.centre[0], points[:, 1] - circle.centre[1]) - circle.radius
        )
        np.minimum(side, circle.side + circle.grade * away, out=side)
    return side


def _lay_edge(corners: np.ndarray, size: float, circles: tuple[_Circle, ...]) -> np.ndarray:
    """Return points along a closed edge, (n, 2): its corners, and between them no further apart than allowed."""
    before, after = corners - np.roll(corners, 1, axis=0), np.roll(corners, -1, axis=0) - corners
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.degrees(np.abs(np.arctan2(cross, np.sum(before * after, axis=1))))
    sharp = np.flatnonzero(turn > CORNER_DEG)
    if _as_circle(corners, size) is not None:
        sharp = sharp[:0]
    first = int(sharp[0]) if len(sharp) else 0
    line = np.roll(corners, -first, axis=0)
    line = np.concatenate([line, line[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    gentle = np.roll(np.where(turn > CORNER_DEG, 0.0, turn), -first)
    turned = np.concatenate([[0.0], np.cumsum(gentle)])
    stops = [*(float(along[k - first]) for k in sharp), float(along[-1])]
    stops = stops if len(sharp) else [0.0, *stops]

    def at(places: np.ndarray) -> np.ndarray:
        return np.column_stack([np.interp(places, along, line[:, k]) for k in (0, 1)])

    least = LEAST_SIDES if len(stops) == 2 else 1
    out: list[np.ndarray] = []
    for start, end in pairwise(stops):
        # Even in the measure "sides passed", so that neighbours' sides differ little.
        fine = np.linspace(start, end, max(least * 4, math.ceil((end - start) / size * 16)) + 1)
        middles = (fine[1:] + fine[:-1]) / 2
        sides = np.diff(fine) / _side_at(at(middles), circles, size)
        turns = np.diff(turned[np.searchsorted(along[:-1], fine, side="right")]) / ARC_DEG
        passed = np.concatenate([[0.0], np.cumsum(np.maximum(sides, turns))])
        pieces = max(least, math.ceil(passed[-1] - ROUNDING))
        out.append(at(np.interp(np.arange(pieces) * (passed[-1] / pieces), passed, fine)))
    return np.concatenate(out)


def _lay_circle(centre: tuple[float, float], radius: float, side: float, shift: float = 0.0) -> np.ndarray:
    sides = max(LEAST_SIDES, round(2 * math.pi * radius / side))
    angle = (np.arange(sides) + shift) * (2 * math.pi / sides)
    return np.column_stack([centre[0] + radius * np.cos(angle), centre[1] + radius * np.sin(angle)])


def _lay_inner(ring: ClampRing, outline: shapely.Polygon) -> np.ndarray:
    """Return points of a clamp's inner circle where no hole has its edge there."""
    if ring.inner < SAME_MM:
        return np.array([ring.at])
    if not outline.contains(shapely.Point(ring.at)):
        return np.empty((0, 2))
    return _lay_circle(ring.at, ring.inner, 2 * math.pi * ring.inner / LEAST_SIDES)


def _keep_inside(points: np.ndarray, outline: shapely.Polygon, loops: list[np.ndarray]) -> np.ndarray:
    """Return the points inside the outline that stand clear of the points on its edges."""
    from scipy.spatial import cKDTree

    inside = points[shapely.contains_xy(outline, points[:, 0], points[:, 1])]
    edge = np.concatenate(loops)
    step = np.concatenate([np.hypot(*(np.roll(loop, -1, axis=0) - loop).T) for loop in loops])
    away, nearest = cKDTree(edge).query(inside)
    inside = inside[away > OFF_SHARE * step[nearest]]
    # Circles of two clamps may cross: of points that nearly meet, the first stays.
    drop = np.zeros(len(inside), dtype=bool)
    drop[[b for _, b in cKDTree(inside).query_pairs(CROSS_MM)]] = True
    return inside[~drop]


def _lay_free(
    outline: shapely.Polygon,
    loops: list[np.ndarray],
    fixed: np.ndarray,
    circles: tuple[_Circle, ...],
    size: float,
) -> np.ndarray:
    """Return the points that lie on no edge and no clamp: widening circles, then the lattice."""
    from scipy.spatial import cKDTree

    layers = [np.empty((0, 2))]
    for mine, circle in enumerate(circles):
        radius, turn = circle.radius, 0
        side = circle.side
        while True:
            radius += RISE * side
            side = circle.side + circle.grade * (radius - circle.radius)
            if side > OPEN_SHARE * size:
                break
            turn += 1
            points = _lay_circle(circle.centre, radius, side, 0.5 * (turn % 2))
            layers.append(points[_belongs(points, mine, circles, OFF_SHARE * side)])
    x0, y0, x1, y1 = outline.bounds
    rise = size * math.sqrt(3) / 2
    columns, rows = math.ceil((x1 - x0) / size) + 1, math.ceil((y1 - y0) / rise) + 1
    row, column = np.divmod(np.arange(columns * rows), columns)
    # Centred, so that a symmetric plate has a nearly symmetric mesh.
    x = (x0 + x1 - (columns - 1) * size) / 2 + (column + 0.5 * (row % 2) - 0.25) * size
    y = (y0 + y1 - (rows - 1) * rise) / 2 + row * rise
    lattice = np.column_stack([x, y])
    held = np.concatenate([*loops, fixed])
    kept = np.concatenate([np.empty((0, 2)), *layers])
    kept = kept[shapely.contains_xy(outline, kept[:, 0], kept[:, 1])]
    kept = kept[cKDTree(held).query(kept)[0] > NEAR_SHARE * _side_at(kept, circles, size)]
    lattice = lattice[shapely.contains_xy(outline, lattice[:, 0], lattice[:, 1])]
    lattice = lattice[cKDTree(np.concatenate([held, kept])).query(lattice)[0] > NEAR_SHARE * size]
    return np.concatenate([kept, lattice])


def _belongs(points: np.ndarray, mine: int, circles: tuple[_Circle, ...], margin: float) -> np.ndarray:
    """Return for which points a circle is the nearest, by a margin where two are about as near."""
    near = np.ones(len(points), dtype=bool)
    own = np.hypot(*(points - circles[mine].centre).T) - circles[mine].radius
    for k, circle in enumerate(circles):
        if k != mine:
            near &= own + margin < np.hypot(*(points - circle.centre).T) - circle.radius
    return near


def _join(outline: shapely.Polygon, loops: list[np.ndarray], fixed: np.ndarray, free: np.ndarray) -> Mesh:
    """Return the triangles of all points, the free ones evened out, every edge made of sides."""
    for turn in range(SMOOTHINGS + 1):
        loops, points, triangles = _triangulate(outline, loops, fixed, free)
        if turn == SMOOTHINGS:
            break
        held = len(points) - len(free)
        ends = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
        ends = np.concatenate([ends, ends[:, ::-1]])
        count = np.bincount(ends[:, 0], minlength=len(points))
        sums = [np.bincount(ends[:, 0], points[ends[:, 1], k], len(points)) for k in (0, 1)]
        moved = np.column_stack(sums)[held:] / np.maximum(count, 1)[held:, None]
        free = moved[count[held:] > 0]
    used = np.unique(triangles)
    number = np.zeros(len(points), dtype=np.int64)
    number[used] = np.arange(len(used))
    return Mesh(points[used], number[triangles])


def _triangulate(
    outline: shapely.Polygon, loops: list[np.ndarray], fixed: np.ndarray, free: np.ndarray
) -> tuple[list[np.ndarray], np.ndarray, np.ndarray]:
    """Return loops, points and triangles, once every piece of an edge is a triangle's side."""
    from scipy.spatial import Delaunay

    for _ in range(MOST_SPLITS):
        points = np.concatenate([*loops, fixed, free])
        triangles = Delaunay(points).simplices.astype(np.int64)
        a, b, c = (points[triangles[:, k]] for k in range(3))
        double = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
        triangles[double < 0] = triangles[double < 0][:, ::-1]
        longest = np.max([np.hypot(*(q - p).T) for p, q in ((a, b), (b, c), (c, a))], axis=0)
        # Points on a straight edge make triangles without area.
        solid = np.abs(double) > 1e-4 * longest**2
        triangles = triangles[solid]
        sides = np.sort(
            np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1
        )
        count = np.cumsum([0, *(len(loop) for loop in loops)])
        number = np.arange(count[-1])
        following = number + 1
        following[count[1:] - 1] = count[:-1]
        pieces = np.sort(np.column_stack([number, following]), axis=1)
        lacks = ~np.isin(pieces @ (len(points), 1), sides @ (len(points), 1), kind="sort")
        if not lacks.any():
            polygon = shapely.Polygon(loops[0], loops[1:])
            middle = points[triangles].mean(axis=1)
            return loops, points, triangles[shapely.contains_xy(polygon, middle[:, 0], middle[:, 1])]
        halves = (points[number] + points[following]) / 2
        loops = [
            np.insert(loop, np.flatnonzero(lacks[a:b]) + 1, halves[a:b][lacks[a:b]], axis=0)
            for loop, a, b in zip(loops, count[:-1], count[1:], strict=True)
        ]
    x, y = outline.centroid.x, outline.centroid.y
    raise GeometryError(f"the plate round ({x:.0f}, {y:.0f}) mm has edges too close together to be meshed")
