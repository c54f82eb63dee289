"""What the points of drills come near to: a bore ends flat as it is drawn, a twist drill goes on in a cone."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from geom.features import Cylinder, Detail, Feature, Prism, Shape, Track
from geom.frame import EDGES, WALL_MM, Vec
from geom.outline import loop_polygon, region_polygon, track_polygon
from layouts.milling.drilling import list_drilled, tip_height
from layouts.milling.work import Hole, Milled, walk

ROUND = 48
"""Lines from a drill's point to its edge along which the distance is looked for."""

RINGS = 8
"""Places on each of them."""

PLACES = ROUND * RINGS + 1
"""Places on a drill's point."""

Flat = dict[str, shapely.Geometry]


@dataclass(frozen=True, slots=True)
class NearPoint:
    """A drill's point that comes too near to something.

    Parameters
    ----------
    hole : Hole
    to : str
        A feature's name, or "the front face of the body" and so on.
    feature : Feature or None
        None where it is a face.
    wall : float
        Material left, [mm]; 0 where it breaks through.
    at : (float, float, float)
        The place of the point's cone that is nearest, [mm].
    """

    hole: Hole
    to: str
    feature: Feature | None
    wall: float
    at: Vec


def find_near_points(detail: Detail, milled: Milled, limit: float) -> tuple[NearPoint, ...]:
    """Return where the points of drills leave less than a limit, though their bores do not.

    Parameters
    ----------
    detail : Detail
    milled : Milled
    limit : float
        [mm]

    Returns
    -------
    tuple of NearPoint
        Bore by bore. What a bore opens into on purpose is no neighbour, nor is what of its point lies in there.
    """
    found = []
    flat: Flat = {}
    boxes = np.array([_box(feature, flat) for feature in detail.features]).reshape(-1, 2, 3)
    blanks = {blank.name: _bound(loop_polygon(blank.loop), blank.z0, blank.z1) for blank in detail.blanks}
    joins = _list_joins(detail)
    for hole in list_drilled(milled):
        if hole.through:
            continue
        cone = _cone(hole)
        low, high = cone.min(axis=0), cone.max(axis=0)
        apart = np.maximum(boxes[:, 0] - high, low - boxes[:, 1]).max(axis=1)
        near = [detail.features[k] for k in np.flatnonzero(apart < limit).tolist()]
        own, beside = joins[hole.name], []
        inside = np.zeros(len(cone), dtype=bool)
        for feature in near:
            if feature.name == hole.name:
                continue
            apart_from = _distances_near(feature, cone, flat, limit)
            if feature.name in own:
                inside |= apart_from <= 0.0
            else:
                beside.append((feature, apart_from))
        found += _measure_features(hole, cone, ~inside, beside, limit)
        found += _measure_faces(hole, blanks[hole.part], cone, ~inside, limit)
    return tuple(found)


def distances_to(shape: Shape, points: np.ndarray, flat: shapely.Geometry | None) -> np.ndarray:
    """Return how far points lie from a shape, 0 inside it.

    Parameters
    ----------
    shape : Prism, Track or Cylinder
    points : (n, 3) float
        [mm]
    flat : shapely.Geometry or None
        The plan of a prism or track.

    Returns
    -------
    (n,) float
        [mm]
    """
    if isinstance(shape, Cylinder):
        # A thread is cut wider than its bore, by as much as the lead chamfer at its mouth.
        off = points - np.array(shape.mouth)
        along = off @ np.array(shape.direction)
        beside = np.linalg.norm(off - np.outer(along, shape.direction), axis=1) - shape.radius - shape.chamfer
        past = np.maximum(-along, along - shape.length)
        return np.hypot(np.maximum(beside, 0.0), np.maximum(past, 0.0))
    plan = shapely.distance(flat, shapely.points(points[:, :2]))
    past = np.maximum(shape.z0 - points[:, 2], points[:, 2] - shape.z1)
    return np.hypot(plan, np.maximum(past, 0.0))


def _cone(hole: Hole) -> np.ndarray:
    """Return places on a drill's point, the very tip first, and then as many on the bore's flat end, (n, 3), [mm]."""
    bore, height = hole.bore, tip_height(hole.diameter)
    axis = np.array(bore.direction)
    side = np.cross(axis, (1.0, 0.0, 0.0) if abs(axis[0]) < 0.5 else (0.0, 1.0, 0.0))
    side /= np.linalg.norm(side)
    turns = np.arange(ROUND) * (2 * math.pi / ROUND)
    rim = np.outer(np.cos(turns), side) + np.outer(np.sin(turns), np.cross(axis, side))
    end = np.array(hole.end)
    shares = np.arange(RINGS) / RINGS
    flat = np.vstack([end, *(end + (1 - share) * bore.radius * rim for share in shares)])
    down = np.concatenate([[1.0], np.repeat(shares, ROUND)])
    return np.vstack([flat + height * np.outer(down, axis), flat])


def _list_joins(detail: Detail) -> dict[str, set[str]]:
    """Return for each feature those it is meant to meet, whichever side names the other."""
    joins: dict[str, set[str]] = {feature.name: set(feature.joins) for feature in detail.features}
    for feature in detail.features:
        for name in feature.joins:
            if name in joins:
                joins[name].add(feature.name)
    return joins


def _plan(feature: Feature, flat: Flat) -> shapely.Geometry | None:
    """Return the plan of a prism or track, made once; None of a round feature."""
    shape = feature.shape
    if isinstance(shape, Prism | Track) and feature.name not in flat:
        plan = (
            region_polygon(shape.region, islands=shape.islands)
            if isinstance(shape, Prism)
            else track_polygon(shape.path, shape.closed, shape.width)
        )
        flat[feature.name] = plan
    return flat.get(feature.name)


def _distances_near(feature: Feature, points: np.ndarray, flat: Flat, limit: float) -> np.ndarray:
    """Return how far points lie from a feature, [mm]; over a limit only that they do."""
    plan = _plan(feature, flat)
    if plan is not None:
        (x0, y0), (x1, y1) = points[:, :2].min(axis=0) - 2 * limit, points[:, :2].max(axis=0) + 2 * limit
        plan = shapely.clip_by_rect(plan, x0, y0, x1, y1)
        if plan.is_empty:
            return np.full(len(points), np.inf)
    return distances_to(feature.shape, points, plan)


def _box(feature: Feature, flat: Flat) -> np.ndarray:
    """Return the corners of what bounds a feature, (2, 3), [mm]."""
    shape = feature.shape
    if not isinstance(shape, Cylinder):
        return _bound(_plan(feature, flat), shape.z0, shape.z1)
    ends = np.array([shape.mouth, walk(shape, shape.length)])
    half = (shape.radius + shape.chamfer) * np.sqrt(np.maximum(1.0 - np.square(shape.direction), 0.0))
    return np.array([ends.min(axis=0) - half, ends.max(axis=0) + half])


def _bound(plan: shapely.Geometry, z0: float, z1: float) -> np.ndarray:
    x0, y0, x1, y1 = plan.bounds
    return np.array([[x0, y0, z0], [x1, y1, z1]])


def _measure_features(
    hole: Hole,
    cone: np.ndarray,
    free: np.ndarray,
    beside: list[tuple[Feature, np.ndarray]],
    limit: float,
) -> list[NearPoint]:
    found = []
    for feature, distances in beside:
        apart = np.where(free, distances, np.inf)
        near = _nearest(apart, limit)
        if near is not None:
            found.append(NearPoint(hole, feature.name, feature, float(apart[near]), _point(cone[near])))
    return found


def _measure_faces(
    hole: Hole, box: np.ndarray, cone: np.ndarray, free: np.ndarray, limit: float
) -> list[NearPoint]:
    """Return the faces of its part that a drill's point comes too near to, but for the one it starts from."""
    rooms = {
        "back": cone[:, 2] - box[0, 2],
        "front": box[1, 2] - cone[:, 2],
        "left": cone[:, 0] - box[0, 0],
        "right": box[1, 0] - cone[:, 0],
        "bottom": cone[:, 1] - box[0, 1],
        "top": box[1, 1] - cone[:, 1],
    }
    found = []
    for face, room in rooms.items():
        apart = np.where(free, room, np.inf)
        near = None if face == hole.face else _nearest(apart, limit)
        if near is not None:
            name = f"the {face} face of the {hole.part}" if face not in EDGES else f"the {face} edge"
            found.append(NearPoint(hole, name, None, max(float(apart[near]), 0.0), _point(cone[near])))
    return found


def _nearest(apart: np.ndarray, limit: float) -> int | None:
    """Return which place is nearest where it is under a limit and the bore's own end is not."""
    near = int(apart[:PLACES].argmin())
    if apart[near] >= limit - WALL_MM or apart[PLACES:].min() < limit - WALL_MM:
        return None
    return near


def _point(place: np.ndarray) -> Vec:
    return float(place[0]), float(place[1]), float(place[2])
