"""Where a bonded cover is pressed on while the bond sets: clamps along the edges, weights inside.

A clamp's pad stands on a board; board and cover spread its force sideways as far as they are thick. Each place of a
land must lie in such a cone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely

from geom.frame import SAME_MM
from geom.outline import Point
from layouts.closing.dominance import Pairs
from layouts.closing.lands import JointShapes
from layouts.closing.set_cover import find_cover
from layouts.detail import cast_shadow, cut_openings
from layouts.panel import Panel
from layouts.plan import Routed

BOARD = 20.0
"""Thickness of the flat board between clamp and cover, [mm]; common practice, no source."""

PAD_RADIUS = 8.0
"""Radius of small clamps' pads, [mm]; common practice, no source."""

THROAT = 50.0
"""How far a small clamp reaches in from the edge, [mm]; common practice, no source."""

PLACE_STEP = 5.0
"""Least step of the places tried for a clamp, [mm]."""

PLACES_ACROSS = 30
"""Places tried across a square panel at most: the time that the search takes grows fast with them."""

POINT_SHARE = 0.12
"""Step of the points of the lands that must be pressed, in reaches."""

APART = 20.0
"""Least distance between the middles of two clamps' pads, [mm]; common practice, no source."""

EVENING_ROUNDS = 12
"""Rounds in which the places are moved to stand more evenly: few move after that."""

LEAST_GAIN = 1e-3
"""A move counts where it lowers its sum by more than this share."""


@dataclass(frozen=True, slots=True)
class Pressing:
    """Places of clamps and weights and what each presses; as in `layouts.plan.BondedLands`."""

    clamps: tuple[Point, ...]
    weights: tuple[Point, ...]
    pressed_mm2: tuple[float, ...]
    unpressed_mm2: float
    unpressed_at: Point | None


def clamp_reach(cover: float) -> float:
    """Return how far from a clamp's middle the joint is pressed, [mm].

    Parameters
    ----------
    cover : float
        Thickness of the cover, [mm].

    Returns
    -------
    float
        The pad's radius, and the thickness of board and cover: the force spreads at 45 degrees.

    Source
    ------
    R. Rabiej, How to glue up joints: positioning the clamps, Fine Woodworking, 2010: a cone of 45 degrees from
    each clamp head.
    """
    return PAD_RADIUS + BOARD + cover


def place_clamps(panel: Panel, routed: Routed, shapes: JointShapes) -> Pressing:
    """Return places of clamps and weights such that every land is pressed.

    They are the fewest that could be found, off the pump's seat first and behind it where these do not reach; each is
    then moved so that all stand more evenly. None stands over a bore in front or back, and three quarters or
    so of each pad stand on a land.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    shapes : JointShapes
        Of the joint.

    Returns
    -------
    Pressing
    """
    reach, land = clamp_reach(panel.make.cover), shapes.land
    step = POINT_SHARE * reach
    spots = _land_points(panel, land, step)
    inside = shapely.contains_xy(land, spots[:, 0], spots[:, 1])
    # Every place of a land lies within half a diagonal of one of these points.
    within = reach - step / math.sqrt(2)
    chosen = _choose(spots, _free_places(panel, routed, shapes), within)
    clamps, weights = _sort_places(shapes, chosen)
    part = float(land.area) / max(1, int(inside.sum()))
    if not len(chosen):
        return Pressing((), (), (), float(land.area), _first(spots[inside]))
    off = _distances(np.array([*clamps, *weights]), spots[inside])
    counts = np.bincount(off.argmin(axis=0), minlength=len(off))
    lone = spots[inside][off.min(axis=0) > within]
    shares = tuple(float(count * part) for count in counts)
    return Pressing(clamps, weights, shares, part * len(lone), _first(lone))


def _first(spots: np.ndarray) -> Point | None:
    return (float(spots[0, 0]), float(spots[0, 1])) if len(spots) else None


def _land_points(panel: Panel, land: shapely.Geometry, step: float) -> np.ndarray:
    """Return grid points, in the lands and just beside them, that stand for all places of the lands, (n, 2) [mm]."""
    grid = _grid(panel, step)
    return grid[shapely.contains_xy(land.buffer(step / math.sqrt(2), 8), grid[:, 0], grid[:, 1])]


def _distances(places: np.ndarray, spots: np.ndarray) -> np.ndarray:
    """Return the distances from each place to each point, (places, points) [mm]."""
    return np.stack([np.hypot(spots[:, 0] - x, spots[:, 1] - y) for x, y in places])


def _grid(panel: Panel, step: float) -> np.ndarray:
    across, up = (max(1, round(side / step)) for side in (panel.width, panel.height))
    xs, ys = (np.arange(across) + 0.5) * panel.width / across, (np.arange(up) + 0.5) * panel.height / up
    return np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)


def _free_places(panel: Panel, routed: Routed, shapes: JointShapes) -> tuple[np.ndarray, ...]:
    """Return the places on a land off all bores, the best first: off the pump's seat, then behind it."""
    grid = _grid(panel, max(PLACE_STEP, math.sqrt(panel.width * panel.height) / PLACES_ACROSS))
    open_ = [f for f in cut_openings(panel, routed) if {"front", "back"} & {*f.opens}]
    bores, seats = (
        shapely.union_all(
            [cast_shadow(f.shape)[0].buffer(PAD_RADIUS) for f in open_ if (f.kind == "seat") is seat]
        )
        for seat in (False, True)
    )
    wet = shapely.union_all([shapes.wet_shape, *(hole for _, hole in shapes.holes)])
    free = shapes.sheet.buffer(-PAD_RADIUS).difference(shapely.union_all([bores, wet.buffer(PAD_RADIUS / 2)]))
    rooms = (free.difference(seats), free)
    tiers: list[np.ndarray] = []
    taken = np.zeros(len(grid), dtype=bool)
    for room in rooms:
        inside = shapely.contains_xy(room, grid[:, 0], grid[:, 1]) & ~taken
        tiers.append(grid[inside])
        taken |= inside
    return tuple(tiers)


def _choose(spots: np.ndarray, tiers: tuple[np.ndarray, ...], within: float) -> np.ndarray:
    """Return few places that reach all points which any place reaches, (n, 2) [mm]; of the first tiers if they do."""
    places = np.concatenate(tiers)
    if not len(places):
        return places
    off = _distances(places, spots)
    reached = off <= within
    clashing = _distances(places, places) < APART - SAME_MM
    missing = np.ones(len(spots), dtype=bool)
    ranks = np.repeat(np.arange(len(tiers)), [len(tier) for tier in tiers])
    kept: list[int] = []
    for rank in range(len(tiers)):
        offers = np.flatnonzero((ranks == rank) & ~clashing[kept].any(axis=0))
        row, column = np.nonzero((reached[offers] & missing).T)
        clash = partial(_clash, clashing[np.ix_(offers, offers)])
        cover = find_cover(Pairs(len(spots), len(offers), row, column), clashes=clash)
        kept += offers[list(cover.columns)].tolist()
        missing &= ~reached[kept].any(axis=0)
    kept = _even_out(off / within, clashing, ranks, kept)
    # Where clamps keep each other off, moving them may free one.
    for place in [*kept]:
        rest = [other for other in kept if other != place]
        bared = reached[place] & (reached[rest].sum(axis=0) == 0)
        if not bared.any():
            kept = rest
    return places[kept]


def _clash(clashing: np.ndarray, one: int, others: np.ndarray) -> np.ndarray:
    found: np.ndarray = clashing[one, others] & (others != one)
    return found


def _even_out(off: np.ndarray, clashing: np.ndarray, ranks: np.ndarray, kept: list[int]) -> list[int]:
    """Return the places moved to others near by, more evenly: all stays reached, none in a worse tier.

    What is made small is the sum over all points of the eighth power of the distance to the nearest place; `off` are
    the distances from all places to all points, in reaches.
    """
    # Near by are those that clash with it.
    for _ in range(EVENING_ROUNDS):
        before = [*kept]
        for k, place in enumerate(before):
            others = kept[:k] + kept[k + 1 :]
            offers = clashing[place] & (ranks <= ranks[place]) & ~clashing[others].any(axis=0)
            options = np.flatnonzero(offers)
            rest = off[others].min(axis=0, initial=np.inf)
            now = np.minimum(rest, off[place])
            after = np.minimum(rest, off[options])
            sums = (after**8).sum(axis=1)
            sums[((after > 1.0) & (now <= 1.0)).any(axis=1)] = np.inf
            best = int(sums.round(9).argmin())
            if sums[best] < (now**8).sum() * (1 - LEAST_GAIN):
                kept[k] = int(options[best])
        if kept == before:
            break
    return kept


def _sort_places(shapes: JointShapes, places: np.ndarray) -> tuple[tuple[Point, ...], tuple[Point, ...]]:
    """Return the clamps along the edge, counter-clockwise from the lower left, and the weights by rows."""
    edge = shapes.sheet.exterior
    clamps, weights = [], []
    for x, y in places.tolist():
        at = shapely.Point(x, y)
        if edge.distance(at) <= THROAT:
            clamps.append((round(edge.project(at), 3), (x, y)))
        else:
            weights.append((y, x))
    return tuple(at for _, at in sorted(clamps)), tuple((x, y) for y, x in sorted(weights))
