"""What hangs over nothing when a part is printed in one direction: roofs, supports, starts in the air."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from geom.frame import Vec, to_vec
from geom.printing.measured import PoseMeasure, Roof
from geom.printing.part_skin import PartSkin

BED_MM = 0.05
"""What lies no higher than this over the bed lies on it."""

LEVEL_MM = 1e-4
"""Vertices of one height: above what turning leaves of rounding, far below a layer."""

LEAN_DEG = 0.5
"""A surface at the very limit is no overhang: what a mesh is off its solid."""

CIRCLE_MM = 0.02
"""To which the largest circle of a roof is found."""

HANGING_SHARE = 0.1
"""Share of a rim that may hang free before the patch is not carried."""

INSIDE_SHARE = 0.25
"""Share of a patch that no tool may reach before its support cannot be taken out; common practice, no source."""

SLIT_MM = 0.005
"""Half the width of the slit in a patch's plan where its height steps: far below what circles are found to."""


def measure_pose(
    part: PartSkin, up: Vec, overhang_deg: float, bridge: float, line: float, layer: float
) -> PoseMeasure:
    """Return what a part asks of the printer when it grows in one direction.

    Parameters
    ----------
    part : PartSkin
    up : (float, float, float)
        Unit vector of the layers' growth in the part's frame.
    overhang_deg : float
        A surface that leans out further than this from upright, [deg], hangs.
    bridge : float
        Widest roof that prints without support, [mm].
    line : float
        Width of a line, [mm]: narrower patches are left out.
    layer : float
        Height of a layer, [mm]: what joins within one is no start in the air.

    Returns
    -------
    PoseMeasure
    """
    grow = np.asarray(up) / np.linalg.norm(up)
    heights = part.vertices @ grow
    heights = heights - heights.min()
    leans = -(part.normals @ grow)
    on_bed = _lie_on_bed(part, heights, leans)
    roofs = tuple(patch.roof for patch in find_roofs(part, up, overhang_deg, bridge, line))
    sides, stands = _stand(part, grow, heights)
    return PoseMeasure(
        to_vec(grow),
        float(heights.max()),
        sides,
        float(part.areas[on_bed] @ leans[on_bed]),
        roofs,
        _find_islands(part, heights, grow, layer),
        float(sum(roof.area for roof in roofs if roof.needs_support(bridge))),
        stands,
    )


def plan_axes(grow: np.ndarray) -> np.ndarray:
    """Return two unit vectors across a direction, (3, 2), right-handed with it."""
    least = np.eye(3)[int(np.argmin(np.abs(grow)))]
    across = np.cross(least, grow)
    across /= np.linalg.norm(across)
    return np.column_stack((across, np.cross(grow, across)))


def _stand(part: PartSkin, grow: np.ndarray, heights: np.ndarray) -> tuple[tuple[float, float], bool]:
    """Return the sides of the smallest box on the bed, long and short, and whether it stands by itself."""
    axes = plan_axes(grow)
    sides = _smallest_box(part.hull @ axes)
    foot = shapely.multipoints(part.vertices[heights < BED_MM] @ axes).convex_hull
    stands = foot.area > 0 and shapely.contains_xy(foot, *(part.mass_centre @ axes))
    return sides, bool(stands)


def _smallest_box(points: np.ndarray) -> tuple[float, float]:
    """Return the sides of the box of least area round (n, 2) points, long and short; one side lies on their hull's.

    Not shapely's: where two points are one but for rounding it returned a line.
    """
    hull = np.asarray(shapely.multipoints(points.round(7)).convex_hull.exterior.coords)
    ways = np.diff(hull, axis=0)
    lengths = np.linalg.norm(ways, axis=1)
    ways = ways[lengths > LEVEL_MM] / lengths[lengths > LEVEL_MM, None]
    along = np.ptp(hull @ ways.T, axis=0)
    across = np.ptp(hull @ np.vstack((-ways[:, 1], ways[:, 0])), axis=0)
    best = int(np.argmin((along * across).round(6)))
    return float(max(along[best], across[best])), float(min(along[best], across[best]))


@dataclass(frozen=True, slots=True)
class RoofPatch:
    """A roof and the triangles that make it up, (k,) int."""

    roof: Roof
    triangles: np.ndarray


def find_roofs(
    part: PartSkin, up: Vec, overhang_deg: float, bridge: float, line: float
) -> tuple[RoofPatch, ...]:
    """Return the patches of skin that hang when a part grows in one direction, widest first.

    Parameters
    ----------
    part : PartSkin
    up : (float, float, float)
        Unit vector of the layers' growth in the part's frame.
    overhang_deg : float
        A surface that leans out further than this from upright, [deg], hangs.
    bridge : float
        Widest roof that prints without support, [mm].
    line : float
        Width of a line, [mm]: patches whose plan holds no circle so wide are left out.

    Returns
    -------
    tuple of RoofPatch
    """
    grow = np.asarray(up) / np.linalg.norm(up)
    heights = part.vertices @ grow
    plan = part.vertices @ plan_axes(grow)
    leans = -(part.normals @ grow)
    on_bed = _lie_on_bed(part, heights - heights.min(), leans)
    hangs = (leans > math.sin(math.radians(min(overhang_deg + LEAN_DEG, 89.9)))) & ~on_bed
    found = _list_patches(part, hangs, on_bed, plan, leans, grow, bridge, max(line, CIRCLE_MM))
    return tuple(sorted(found, key=lambda patch: (-round(patch.roof.span, 3), patch.roof.at)))


def _lie_on_bed(part: PartSkin, heights: np.ndarray, leans: np.ndarray) -> np.ndarray:
    return np.all(heights[part.triangles] < BED_MM, axis=1) & (leans > 0.99)


def _list_patches(
    part: PartSkin,
    hangs: np.ndarray,
    on_bed: np.ndarray,
    plan: np.ndarray,
    leans: np.ndarray,
    grow: np.ndarray,
    bridge: float,
    least: float,
) -> list[RoofPatch]:
    """Return the patches of triangles that hang, those left out whose plan holds no circle `least` wide."""
    flat = part.areas * leans
    both = hangs[part.pairs]
    inner = part.pairs[both.all(axis=1)]
    count, labels = connected_components(
        coo_array((np.ones(len(inner)), (inner[:, 0], inner[:, 1])), shape=(len(hangs), len(hangs))),
        directed=False,
    )
    size = np.bincount(labels[hangs], flat[hangs], minlength=count)
    # No circle is larger than the whole.
    large = np.flatnonzero(size > math.pi / 4 * least**2)
    if not len(large):
        return []
    rim = np.flatnonzero(both.any(axis=1) & ~both.all(axis=1))
    side = np.where(hangs[part.pairs[rim, 0]], 0, 1)
    mine, other = part.pairs[rim, side], part.pairs[rim, 1 - side]
    # Beyond an edge where the skin is hollow a wall goes down.
    on_wall = part.hollow[rim] | on_bed[other]
    rim_order = np.argsort(labels[mine], kind="stable")
    rim_labels = labels[mine][rim_order]
    triangle_order = np.argsort(np.where(hangs, labels, count), kind="stable")
    triangle_labels = np.where(hangs, labels, count)[triangle_order]
    roofs = []
    for label in large:
        edges = rim_order[
            np.searchsorted(rim_labels, label) : np.searchsorted(rim_labels, label, side="right")
        ]
        own = triangle_order[
            np.searchsorted(triangle_labels, label) : np.searchsorted(triangle_labels, label, side="right")
        ]
        ends = plan[part.pair_edges[rim[edges]]]
        area = _plan_area(part, own, plan, ends, float(size[label]))
        # A line from the circle's centre to its rim.
        line = np.asarray(shapely.maximum_inscribed_circle(_slit(area, ends), CIRCLE_MM).coords)
        span = 2 * float(np.linalg.norm(line[1] - line[0]))
        if span < least:
            continue
        inside = float(part.areas[own] @ part.closed[own]) > INSIDE_SHARE * float(part.areas[own].sum())
        at = _lift(part, own, plan, line[0])
        carried = _is_carried(ends, on_wall[edges], bridge, least)
        roof = Roof(at, span, float(part.areas[own].sum()), inside, carried)
        if roof.needs_support(bridge):
            roof = replace(roof, over_bed=not _stands_on_part(part, plan, leans, grow, roof.at))
        roofs.append(RoofPatch(roof, own))
    return roofs


def _slit(area: shapely.Geometry, ends: np.ndarray) -> shapely.Geometry:
    """Return a patch's plan, cut where its rim runs through it: its height steps there, and no line crosses a step."""
    edge = shapely.boundary(area).buffer(SLIT_MM)
    steps = shapely.multilinestrings(ends).difference(edge)
    return area if steps.is_empty else area.difference(steps.buffer(SLIT_MM))


def _stands_on_part(part: PartSkin, plan: np.ndarray, leans: np.ndarray, grow: np.ndarray, at: Vec) -> bool:
    """Return whether what is put straight under a place stands on the part itself, not on the bed."""
    place = np.asarray(at)
    spot = place @ plan_axes(grow)
    facing = np.flatnonzero(leans < -LEVEL_MM)
    u, v = _find_shares(part.triangles[facing], plan, spot)
    over = np.minimum(np.minimum(u, v), 1 - u - v) >= 0
    a, b, c = (part.vertices[part.triangles[facing[over], k]] @ grow for k in range(3))
    below = a + u[over] * (b - a) + v[over] * (c - a)
    return bool((below < place @ grow - LEVEL_MM).any())


def _plan_area(
    part: PartSkin, own: np.ndarray, plan: np.ndarray, ends: np.ndarray, size: float
) -> shapely.Geometry:
    """Return a patch's plan: from its rim, or from its triangles where the rim crosses itself."""
    area = shapely.build_area(shapely.multilinestrings(ends))
    if abs(area.area - size) <= 1e-6 * size + 1e-9:
        return area
    return shapely.union_all(shapely.make_valid(shapely.polygons(plan[part.triangles[own]])))


def _is_carried(ends: np.ndarray, on_wall: np.ndarray, bridge: float, least: float) -> bool:
    """Return whether lines along the free edges of a rim end on walls at both ends, within a bridge.

    Parameters
    ----------
    ends : (k, 2, 2) float
        The rim's edges in plan, [mm].
    on_wall : (k,) bool
        Those under which a wall stands.
    bridge : float
        Longest line that prints without support, [mm].
    least : float
        Width of a line, [mm].
    """
    if not on_wall.any():
        return False
    ways = ends[:, 1] - ends[:, 0]
    lengths = np.linalg.norm(ways, axis=1)
    free = np.flatnonzero(~on_wall & (lengths > 1e-9))
    if lengths[free].sum() <= HANGING_SHARE * lengths.sum():
        return True
    along = ways[free] / lengths[free, None]
    middles = ends[free].mean(axis=1)
    walls = shapely.multilinestrings(ends[on_wall])
    hanging = shapely.distance(walls, shapely.points(middles)) > 2 * least
    # A line at the edge, and one whose own rim the edge is, to either side: a rim waves where a bore leads into a bend.
    held = np.zeros(len(free), dtype=bool)
    normal = np.column_stack((-along[:, 1], along[:, 0]))
    for aside in (0.1 * least, -0.1 * least, 0.5 * least, -0.5 * least):
        starts = middles + aside * normal
        reach = _reach_walls(starts, along, ends, ways, on_wall)
        held |= reach + _reach_walls(starts, -along, ends, ways, on_wall) <= bridge + CIRCLE_MM
    return bool(lengths[free][hanging & ~held].sum() <= HANGING_SHARE * lengths.sum())


def _reach_walls(
    starts: np.ndarray, along: np.ndarray, ends: np.ndarray, ways: np.ndarray, on_wall: np.ndarray
) -> np.ndarray:
    """Return how far rays go to the first edge, (f,) [mm]; infinitely far where no wall stands under that."""
    gap = ends[None, :, 0] - starts[:, None]
    cross = along[:, None, 0] * ways[None, :, 1] - along[:, None, 1] * ways[None, :, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        far = (gap[..., 0] * ways[None, :, 1] - gap[..., 1] * ways[None, :, 0]) / cross
        share = (gap[..., 0] * along[:, None, 1] - gap[..., 1] * along[:, None, 0]) / cross
    met = (np.abs(cross) > 1e-12) & (far > 0) & (share >= -1e-9) & (share <= 1 + 1e-9)
    far = np.where(met, far, np.inf)
    first = far.argmin(axis=1)
    return np.where(on_wall[first], far[np.arange(len(first)), first], np.inf)


def _lift(part: PartSkin, own: np.ndarray, plan: np.ndarray, place: np.ndarray) -> Vec:
    """Return the point of a patch over a place in plan."""
    corners = part.triangles[own]
    u, v = _find_shares(corners, plan, place)
    best = int(np.argmax(np.min((u, v, 1 - u - v), axis=0)))
    weights = np.array((1 - u[best] - v[best], u[best], v[best]))
    return to_vec(weights @ part.vertices[corners[best]])


def _find_shares(corners: np.ndarray, plan: np.ndarray, place: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the shares of a place in plan along two sides of each triangle, from its first corner."""
    a, b, c = (plan[corners[:, k]] for k in range(3))
    first, second, gap = b - a, c - a, place - a
    whole = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    u = (gap[:, 0] * second[:, 1] - gap[:, 1] * second[:, 0]) / whole
    v = (first[:, 0] * gap[:, 1] - first[:, 1] * gap[:, 0]) / whole
    return u, v


def _find_islands(part: PartSkin, heights: np.ndarray, grow: np.ndarray, layer: float) -> tuple[Vec, ...]:
    """Return where a layer starts in the air: lowest places of the material that are not on the bed.

    A level piece of the skin whose neighbours are all higher is the bottom of a hollow or of a piece of material; the
    outward direction at its vertices tells which. What joins something lower within a layer is none.
    """
    a, b = part.edges[:, 0], part.edges[:, 1]
    rise = heights[b] - heights[a]
    level = np.abs(rise) < LEVEL_MM
    count = len(heights)
    pieces, labels = connected_components(
        coo_array((np.ones(level.sum()), (a[level], b[level])), shape=(count, count)), directed=False
    )
    lowest = np.ones(pieces, dtype=bool)
    lowest[labels[np.where(rise > 0, b, a)[~level]]] = False
    lowest[labels[heights < BED_MM]] = False
    lowest[labels[part.corners @ grow >= 0]] = False
    found = []
    for label in np.flatnonzero(lowest):
        own = np.flatnonzero(labels == label)
        height = float(heights[own].mean())
        if not _joins_lower(part, heights, own, height, layer):
            middle = part.vertices[own].mean(axis=0)
            nearest = own[np.argmin(np.linalg.norm(part.vertices[own] - middle, axis=1).round(9))]
            found.append((round(height, 6), to_vec(part.vertices[nearest])))
    return tuple(place for _, place in sorted(found))


def _joins_lower(part: PartSkin, heights: np.ndarray, own: np.ndarray, height: float, layer: float) -> bool:
    """Return whether the skin leads from a lowest place to a lower one without rising a whole layer."""
    under = heights < height + layer
    kept = part.edges[under[part.edges].all(axis=1)]
    _, labels = connected_components(
        coo_array((np.ones(len(kept)), (kept[:, 0], kept[:, 1])), shape=(len(heights), len(heights))),
        directed=False,
    )
    return bool((heights[labels == labels[own[0]]] < height - LEVEL_MM).any())
