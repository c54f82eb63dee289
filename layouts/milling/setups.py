"""Which set-ups the milled parts of a panel need, and what is cut in each.

A part is cut face by face. First the face, front or back, with the fewest pockets, and the outline with it: the edges
are then whole and square for what is drilled into them. Then the edges, whose bores start in whole material. Last
the other face: the body's channels open bores that are already there, and leave no burr at a drill's exit.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from geom.errors import GeometryError
from geom.features import Blank, Cylinder, Detail, Feature, Prism, Track, Vault, chamfer_volume
from geom.frame import EDGES, FUZZY_MM, SAME_MM, Face
from geom.outline import Loop, Region, loop_area, outline_circle, region_polygon, reverse_path, track_loops
from geom.union import unite_loops
from layouts.milling.drilling import MILLED_KINDS, Piece, cut_piece, is_drilled, nearer_face
from layouts.milling.frame import SetUpPlane, plane_of
from layouts.milling.stock import outline_way
from layouts.milling.work import Hole, Pocket, SetUp
from layouts.panel import Panel

Cut = tuple[Face, Pocket | Hole]


def list_setups(panel: Panel, detail: Detail) -> tuple[SetUp, ...]:
    """Return the set-ups of all parts in the order in which they are done.

    Parameters
    ----------
    panel : Panel
    detail : Detail

    Returns
    -------
    tuple of SetUp
        Part by part; a feature that crosses two parts is cut in each, over its own part of the depth. Through
        holes between the body's faces are bored from where they are shorter.
    """
    return tuple(setup for blank in detail.blanks for setup in _set_up(panel, blank, detail.features))


def _set_up(panel: Panel, blank: Blank, features: tuple[Feature, ...]) -> Iterator[SetUp]:
    cuts = [cut for feature in features for cut in _cut(blank, feature)]
    flat: list[Face] = [face for face in ("front", "back") if any(f == face for f, _ in cuts)]
    first = min(flat or [outer_face(blank)], key=lambda face: _count_pockets(cuts, face))
    edges = [face for face in EDGES if any(f == face for f, _ in cuts)]
    for face in (first, *edges, *(face for face in flat if face != first)):
        plane = plane_of(blank, face)
        yield SetUp(
            blank.name,
            face,
            plane.size,
            plane.height,
            _outline(panel, plane, blank.loop) if face == first else None,
            tuple(cut for f, cut in cuts if f == face and isinstance(cut, Pocket)),
            tuple(
                sorted((cut for f, cut in cuts if f == face and isinstance(cut, Hole)), key=_drilling_order)
            ),
            panel.milling.edges if face in EDGES else "machine",
        )


def _outline(panel: Panel, plane: SetUpPlane, loop: Loop) -> Loop | None:
    """Return the outline of a part in a set-up's plane; None where a sheet of its size leaves nothing to cut."""
    outline, sheet = plane.loop_to_plane(loop), panel.milling.stock
    return None if sheet is not None and outline_way(outline, plane.size, sheet) < SAME_MM else outline


def _count_pockets(cuts: list[Cut], face: Face) -> tuple[int, float]:
    """Return by what a face is told from the other: its wide pockets, and what is cut from them."""
    pockets = [cut for f, cut in cuts if f == face and isinstance(cut, Pocket)]
    wide = [pocket for pocket in pockets if pocket.kind not in MILLED_KINDS]
    return len(wide), sum(pocket.volume_mm3 for pocket in pockets)


def _drilling_order(hole: Hole) -> tuple[bool, float]:
    """Return by which holes of one set-up are sorted: flat-bottomed ones, then drills from narrow to wide."""
    return is_drilled(hole.kind, hole.diameter), hole.diameter


def outer_face(blank: Blank) -> Face:
    """Return the face of a part that no other part lies on; the body's back where all are covered."""
    return "front" if blank.name == "front cover" else "back"


def _cut(blank: Blank, feature: Feature) -> Iterator[Cut]:
    """Yield what a feature cuts from a part: nothing or one thing."""
    shape = feature.shape
    if isinstance(shape, Cylinder):
        piece = cut_piece(blank, feature)
        if piece is not None:
            yield piece.face, _sink(blank, feature, piece)
        return
    low, high = max(shape.z0, blank.z0), min(shape.z1, blank.z1)
    # Vaulted roofs are printed ones.
    if high - low <= FUZZY_MM or isinstance(shape, Vault):
        return
    face = nearer_face(blank, low, high, outer_face(blank))
    yield face, _make_pocket(plane_of(blank, face), feature, shape, low, high)


def _sink(blank: Blank, feature: Feature, piece: Piece) -> Pocket | Hole:
    """Return what makes a round piece of a feature: a pocket where it is milled from the front or the back."""
    bore, plane = piece.bore, plane_of(blank, piece.face)
    u, v, top = plane.to_plane(bore.mouth)
    section = math.pi * bore.radius**2
    inside = section
    if piece.face in EDGES:
        # Of one that leaves the part counts what lies in it.
        inside = _strip_area(bore.radius, blank.z0 - bore.mouth[2], blank.z1 - bore.mouth[2])
    elif not is_drilled(feature.kind, 2 * bore.radius):
        circle = plane.loop_to_plane(outline_circle((bore.mouth[0], bore.mouth[1]), bore.radius))
        return Pocket(
            feature.name, feature.kind, (circle,), (), top, top + bore.length, section * bore.length
        )
    ring = chamfer_volume(bore.radius, bore.chamfer)
    return Hole(
        feature.name,
        feature.kind,
        blank.name,
        piece.face,
        bore,
        (u, v),
        top,
        piece.starts,
        piece.ends,
        feature.thread if piece.mouthed else "",
        min(feature.thread_depth, bore.length) if piece.mouthed else 0.0,
        inside * bore.length + inside / section * ring,
    )


def _strip_area(radius: float, low: float, high: float) -> float:
    """Return the area of a disc about the origin between two heights, [mm2]."""

    def under(height: float) -> float:
        h = min(max(height, -radius), radius)
        return h * math.sqrt(max(radius**2 - h**2, 0.0)) + radius**2 * math.asin(h / radius)

    return under(high) - under(low)


def _make_pocket(
    plane: SetUpPlane, feature: Feature, shape: Prism | Track, low: float, high: float
) -> Pocket:
    if isinstance(shape, Track):
        outer, inner = track_loops(shape.path, shape.closed, shape.width)
        region: Region = (outer,)
        islands: Region = () if inner is None else (inner,)
        area = loop_area(outer) - sum(loop_area(loop) for loop in islands)
    else:
        region, islands, area = _unite(shape)
    top = plane.high[2] - high if plane.face == "front" else low - plane.low[2]
    return Pocket(
        feature.name,
        feature.kind,
        tuple(plane.loop_to_plane(loop) for loop in region),
        tuple(plane.loop_to_plane(loop) for loop in islands),
        top,
        top + high - low,
        area * (high - low),
    )


def _unite(shape: Prism) -> tuple[Region, Region, float]:
    """Return a prism's region as loops that do not overlap, what stands in it, and its exact area, [mm2]."""
    try:
        whole = unite_loops(shape.region)
        outer = tuple(loop for loop in whole if loop_area(loop) > 0)
        holes: tuple[Loop, ...] = tuple(reverse_path(loop) for loop in whole if loop_area(loop) < 0)
        if not shape.islands:
            return outer, holes, math.fsum(loop_area(loop) for loop in whole)
        standing = unite_loops(shape.islands)
        both = unite_loops((*shape.region, *shape.islands))
        area = math.fsum(loop_area(loop) for loop in both) - math.fsum(loop_area(loop) for loop in standing)
        return outer, (*holes, *shape.islands), area
    except GeometryError:
        # Outlines that only touch: polygons of the same area, to the sagitta.
        return shape.region, shape.islands, float(region_polygon(shape.region, islands=shape.islands).area)
