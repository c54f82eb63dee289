"""Where the covers' screws stand: as few as hold the cords down, evenly."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely

from geom.frame import SAME_MM
from geom.outline import Point, path_points
from layouts.clearance import Clearances
from layouts.closing.dominance import Pairs
from layouts.closing.even_spacing import even_out
from layouts.closing.screw_places import list_places
from layouts.closing.screw_room import ScrewRoom, find_room, name_blockers
from layouts.closing.set_cover import find_cover
from layouts.closing.spacing import limit_spacing
from layouts.detail import SHADOW_SAG
from layouts.outlines import sheet_outline
from layouts.panel import Panel
from layouts.plan import CordLoop, Coverage, Layer, OpenStretch, Routed

RIM_SHARE = 1.5
"""Spacing along the panel's rim over that along a cord: between cords the rim only has to lie flat; common practice, no
source."""

CORD_STEP = 0.5
"""Distance of the cord points that each have a screw in reach, [mm]."""

RIM_STEP = 4.0
"""The same along the rim, [mm]."""

NO_NEARER = 0.9
"""Where no place is within reach of a cord point, its screw is no farther than the nearest place over this."""


@dataclass(frozen=True, slots=True)
class Screwed:
    """A cover's screws, [mm], and how well they hold its cords; None without any cord in its joint."""

    screws: tuple[Point, ...]
    coverage: Coverage | None


def place_screws(
    panel: Panel,
    routed: Routed,
    loops: tuple[CordLoop, ...],
    clearances: Clearances,
    layer: Layer = "back",
    facing: tuple[Point, ...] = (),
    fixed: tuple[Point, ...] = (),
    share: np.ndarray | None = None,
) -> Screwed:
    """Return the fewest screws that hold a cover down, evenly spaced, and how well they do.

    Every place of a cord has a screw within half of the allowed spacing, as far as there is room for one; the
    rim, where there is room, within 1.5 times that, and so the panel's corners within half of the spacing.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    loops : tuple of CordLoop
        Of both joints. Without any, there are no screws.
    clearances : Clearances
    layer : {"back", "front"}
        Whose joint the cover closes.
    facing : tuple of (float, float)
        Screws of the other cover, [mm]: kept off where both holes would meet.
    fixed : tuple of (float, float)
        Screws that stand already, [mm].
    share : (n,) float or None
        Share of the allowed spacing, [-], where the load on the screws asks for a closer one: for each of the joint's
        `cord_points`.

    Returns
    -------
    Screwed
        The fixed screws first, then the others by rows.
    """
    if not loops:
        return Screwed((), None)
    loops = tuple(loop for loop in loops if loop.layer == layer)
    room = find_room(panel, routed, loops, clearances, layer, facing)
    spacing = limit_spacing(panel, layer)[0]
    places = list_places(panel, room)
    stand = np.array(fixed).reshape(-1, 2)
    far = _distances(places.points, stand).min(axis=1, initial=np.inf) >= room.apart - SAME_MM
    tried = places.tried[far[places.tried]]
    number = np.full(len(places.tried) + 1, -1)
    number[np.flatnonzero(far[places.tried])] = np.arange(len(tried))
    near = number[places.near[far[places.tried]]]
    points = places.points[tried]
    demand, reach = _list_demand(panel, loops, spacing, np.concatenate((points, stand)), share)
    waiting = ~(_distances(demand, stand) <= reach[:, None]).any(axis=1)

    def clashes(one: int, others: np.ndarray) -> np.ndarray:
        off = ((points[others] - points[one]) ** 2).sum(axis=1)
        return (off < (room.apart - SAME_MM) ** 2) & (others != one)

    cover = find_cover(_pair_up(demand[waiting], reach[waiting], points), near, clashes)
    screws = np.concatenate((stand, points[list(cover.columns)]))
    evened = even_out(screws, len(fixed), places.points[far], demand, reach, room.apart)
    chosen = tuple((float(x), float(y)) for x, y in _without_idle(evened, len(fixed), demand, reach))
    screws_in_order = (*fixed, *sorted(chosen[len(fixed) :], key=lambda p: (p[1], p[0])))
    if not loops:
        return Screwed(screws_in_order, None)
    least = min(len(fixed) + cover.least, len(screws_in_order))
    coverage = measure_coverage(panel, loops, room, layer, screws_in_order, least)
    if share is not None and share.min() < 1.0:
        coverage = replace(coverage, crowded=spacing * float(share.min()))
    return Screwed(screws_in_order, coverage)


def measure_coverage(
    panel: Panel,
    loops: tuple[CordLoop, ...],
    room: ScrewRoom,
    layer: Layer,
    screws: tuple[Point, ...],
    least: int,
) -> Coverage:
    """Return how well a cover's screws hold the cords of its joint.

    Parameters
    ----------
    panel : Panel
    loops : tuple of CordLoop
        Those of the joint.
    room : ScrewRoom
    layer : {"back", "front"}
    screws : tuple of (float, float)
        [mm]
    least : int
        As in `Coverage`.

    Returns
    -------
    Coverage
    """
    spacing, limit = limit_spacing(panel, layer)
    stretches = [
        stretch
        for loop in loops
        for stretch in _find_open(loop, np.array(screws).reshape(-1, 2), spacing, room)
    ]
    stretches.sort(key=lambda stretch: -stretch.length)
    return Coverage(layer, spacing, limit, cord_reach(loops, screws)[0], least, tuple(stretches))


def cord_reach(loops: tuple[CordLoop, ...], screws: tuple[Point, ...]) -> tuple[float, Point]:
    """Return the greatest distance from a place of any cord to its nearest screw, and that place, [mm].

    Parameters
    ----------
    loops : tuple of CordLoop
    screws : tuple of (float, float)

    Returns
    -------
    (float, (float, float))
        Infinite without screws; (0, (0, 0)) without cords.
    """
    if not loops:
        return 0.0, (0.0, 0.0)
    points = cord_points(loops)
    off = _distances(points, np.array(screws).reshape(-1, 2)).min(axis=1, initial=np.inf)
    worst = int(np.argmax(off))
    return float(off[worst]), (float(points[worst, 0]), float(points[worst, 1]))


def cord_points(loops: tuple[CordLoop, ...]) -> np.ndarray:
    """Return the points of cords that each have a screw in reach, loop by loop, (n, 2) [mm]."""
    return np.concatenate([_cord_points(loop) for loop in loops]) if loops else np.zeros((0, 2))


def _cord_points(loop: CordLoop) -> np.ndarray:
    """Return points along the middle of a groove, both ends of an open one among them, (n, 2) [mm]."""
    points = path_points(loop.path, CORD_STEP)
    return points if loop.closed else np.concatenate((points, np.array([loop.path[-1].end])))


def _list_demand(
    panel: Panel,
    loops: tuple[CordLoop, ...],
    spacing: float,
    places: np.ndarray,
    share: np.ndarray | None,
) -> tuple[np.ndarray, np.ndarray]:
    """Return the points that ask for a screw, (n, 2), and how far from each it may be, (n,) [mm]."""
    if not len(places):
        return np.zeros((0, 2)), np.zeros(0)
    rim = sheet_outline(panel, SHADOW_SAG).exterior
    count = max(4, math.ceil(rim.length / RIM_STEP))
    along = shapely.get_coordinates(
        shapely.line_interpolate_point(rim, np.arange(count) * rim.length / count)
    )
    right, top = panel.width, panel.height
    corners = np.array([(0.0, 0.0), (right, 0.0), (right, top), (0.0, top)])
    loose = np.concatenate((along, corners))
    allowed = np.concatenate((np.full(count, RIM_SHARE * spacing / 2), np.full(4, spacing / 2)))
    has_place = _nearest(loose, places) <= allowed
    cords = cord_points(loops)
    # Between two points the cord may be half a step farther away than they are.
    wanted = (spacing * (np.ones(len(cords)) if share is None else share) - CORD_STEP) / 2
    nearest = _nearest(cords, places)
    wanted = np.where(nearest <= wanted, wanted, nearest / NO_NEARER)
    return np.concatenate((cords, loose[has_place])), np.concatenate((wanted, allowed[has_place]))


def _nearest(points: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Return the distance from each point to the nearest place, (n,) [mm]."""
    tree = shapely.STRtree(shapely.points(places))
    found, off = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    out = np.full(len(points), np.inf)
    out[found[0]] = off
    return out


def _pair_up(demand: np.ndarray, reach: np.ndarray, places: np.ndarray) -> Pairs:
    """Return which place is within reach of which point; places are sorted by y, then by x."""
    if not len(demand) or not len(places):
        empty = np.zeros(0, int)
        return Pairs(len(demand), len(places), empty, empty)
    rows, start = np.unique(places[:, 1], return_index=True)
    end = np.append(start[1:], len(places))
    first_row = np.searchsorted(rows, demand[:, 1] - reach)
    last_row = np.searchsorted(rows, demand[:, 1] + reach, side="right")
    counts = last_row - first_row
    point = np.repeat(np.arange(len(demand)), counts)
    row = (
        np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts) + np.repeat(first_row, counts)
    )
    # In one row a circle holds one stretch of places; a key that grows along all rows finds its ends.
    half = np.sqrt(np.maximum(reach[point] ** 2 - (rows[row] - demand[point, 1]) ** 2, 0.0))
    long = places[:, 0].max() + 2 * reach.max() + abs(demand[:, 0]).max() + 1.0
    key = np.repeat(np.arange(len(rows)), end - start) * 2 * long + places[:, 0]
    low = np.searchsorted(key, row * 2 * long + demand[point, 0] - half - SAME_MM)
    high = np.searchsorted(key, row * 2 * long + demand[point, 0] + half + SAME_MM, side="right")
    low, high = np.maximum(low, start[row]), np.minimum(high, end[row])
    wide = np.maximum(high - low, 0)
    step = np.arange(wide.sum()) - np.repeat(np.cumsum(wide) - wide, wide)
    return Pairs(len(demand), len(places), np.repeat(point, wide), np.repeat(low, wide) + step)


def _without_idle(screws: np.ndarray, held: int, demand: np.ndarray, reach: np.ndarray) -> np.ndarray:
    """Return the screws without those that no point needs: others are within reach of each."""
    serves = _distances(demand, screws) <= reach[:, None] + SAME_MM
    served = serves.sum(axis=1)
    kept = np.ones(len(screws), bool)
    for k in range(held, len(screws)):
        if (served[serves[:, k]] > 1).all():
            served = served - serves[:, k]
            kept[k] = False
    return screws[kept]


def _find_open(loop: CordLoop, screws: np.ndarray, spacing: float, room: ScrewRoom) -> list[OpenStretch]:
    """Return the stretches of a cord that lie farther than half of the spacing from every screw."""
    points = _cord_points(loop)
    off = _distances(points, screws).min(axis=1, initial=np.inf)
    far = off > spacing / 2 + SAME_MM
    if not far.any():
        return []
    if far.all() and loop.closed:
        runs = [np.arange(len(points))]
    else:
        order = np.arange(len(points))
        if loop.closed:
            # A run may go over the first point.
            order = np.roll(order, -int(np.flatnonzero(~far)[0]))
        breaks = np.flatnonzero(np.diff(far[order].astype(int)))
        runs = [run for run in np.split(order, breaks + 1) if far[run[0]]]
    share = loop.length / (len(points) if loop.closed else max(1, len(points) - 1))
    stretches = []
    for run in runs:
        worst, (x, y) = points[run[int(np.argmax(off[run].round(6)))]], points[run[len(run) // 2]]
        names = name_blockers(room, (float(worst[0]), float(worst[1])), spacing / 2)
        stretches.append(
            OpenStretch(loop.name, (float(x), float(y)), min(len(run) * share, loop.length), names)
        )
    return stretches


def _distances(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Return the distances between points, (len(a), len(b)) [mm]."""
    return np.hypot(a[:, None, 0] - b[None, :, 0], a[:, None, 1] - b[None, :, 1])
