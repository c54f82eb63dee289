"""Which set-ups the parts of a milled panel need, and what is cut in each.

A part is cut face by face. First the face, front or back, with the fewest pockets, and the outline with it: the edges
are then whole and square for what is drilled into them. Then the edges, whose bores start in whole material. Last
the other face: the body's channels open bores that are already there, and leave no burr at a drill's exit.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from geom.errors import GeometryError
from geom.features import Blank, Cylinder, Detail, Feature, Prism, Track, Vault
from geom.frame import EDGES, FUZZY_MM, INTO, SAME_MM, Face
from geom.outline import Loop, Region, loop_area, outline_circle, region_polygon, reverse_path, track_loops
from geom.standards import tables
from geom.union import unite_loops
from layouts.milling.frame import SetUpPlane, plane_of
from layouts.milling.work import Hole, Pocket, SetUp
from layouts.panel import Panel

MOST_DRILLED = 20.0
"""Bores wider than this are milled, [mm]; common practice, no source."""

MILLED_KINDS = ("seat", "spot face")
"""Round features with a flat floor, which no drill leaves."""

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
            plane.loop_to_plane(blank.loop) if face == first else None,
            tuple(cut for f, cut in cuts if f == face and isinstance(cut, Pocket)),
            tuple(cut for f, cut in cuts if f == face and isinstance(cut, Hole)),
            panel.milling.edges if face in EDGES else "machine",
        )


def _count_pockets(cuts: list[Cut], face: Face) -> tuple[int, float]:
    """Return by what a face is told from the other: its wide pockets, and what is cut from them."""
    pockets = [cut for f, cut in cuts if f == face and isinstance(cut, Pocket)]
    wide = [pocket for pocket in pockets if pocket.kind not in MILLED_KINDS]
    return len(wide), sum(pocket.volume_mm3 for pocket in pockets)


def outer_face(blank: Blank) -> Face:
    """Return the face of a part that no other part lies on; the body's back where all are covered."""
    return "front" if blank.name == "front cover" else "back"


def _cut(blank: Blank, feature: Feature) -> Iterator[Cut]:
    """Yield what a feature cuts from a part: nothing or one thing."""
    shape = feature.shape
    if isinstance(shape, Cylinder) and abs(shape.direction[2]) < 0.5:
        low, high = shape.mouth[2] - shape.radius, shape.mouth[2] + shape.radius
        if min(high, blank.z1) - max(low, blank.z0) > FUZZY_MM:
            yield _bore_edge(blank, feature, shape)
        return
    if isinstance(shape, Cylinder):
        end = shape.mouth[2] + shape.direction[2] * shape.length
        whole = min(shape.mouth[2], end), max(shape.mouth[2], end)
    else:
        whole = shape.z0, shape.z1
    low, high = max(whole[0], blank.z0), min(whole[1], blank.z1)
    # Vaulted roofs are printed ones.
    if high - low <= FUZZY_MM or isinstance(shape, Vault):
        return
    if isinstance(shape, Cylinder):
        yield _sink(blank, feature, shape, low, high)
    else:
        face = _nearer(blank, low, high, outer_face(blank))
        yield face, _make_pocket(plane_of(blank, face), feature, shape, low, high)


def _nearer(blank: Blank, low: float, high: float, tie: Face) -> Face:
    """Return the face, front or back, from which what lies between two z is reached; `tie` where both are alike."""
    from_front, from_back = blank.z1 - low, high - blank.z0
    if abs(from_front - from_back) < SAME_MM:
        return tie
    opened: list[Face] = []
    if high > blank.z1 - SAME_MM:
        opened.append("front")
    if low < blank.z0 + SAME_MM:
        opened.append("back")
    if len(opened) == 1:
        return opened[0]
    return "front" if from_front < from_back else "back"


def _sink(blank: Blank, feature: Feature, bore: Cylinder, low: float, high: float) -> Cut:
    """Return what an upright bore cuts from a part between two z."""
    from_front = bore.direction[2] < 0
    face: Face = "front" if from_front else "back"
    if feature.kind == "through hole":
        # It begins and ends inside what is cut in both faces.
        face = _nearer(blank, low, high, face)
    plane = plane_of(blank, face)
    x, y, mouth = bore.mouth
    u, v, top = plane.to_plane((x, y, high if face == "front" else low))
    if feature.kind in MILLED_KINDS or 2 * bore.radius > MOST_DRILLED:
        circle = plane.loop_to_plane(outline_circle((x, y), bore.radius))
        volume = math.pi * bore.radius**2 * (high - low)
        return face, Pocket(feature.name, feature.kind, (circle,), (), top, top + high - low, volume)
    # Lead chamfer and thread are at the mouth: a part further in has a plain bore.
    mouthed = abs(mouth - (high if from_front else low)) < SAME_MM
    chamfer = bore.chamfer if mouthed else 0.0
    return face, Hole(
        feature.name,
        feature.kind,
        (u, v),
        2 * bore.radius,
        high - low,
        top,
        low < blank.z0 + SAME_MM and high > blank.z1 - SAME_MM,
        chamfer,
        _find_thread(feature) if mouthed else "",
        math.pi * bore.radius**2 * (high - low) + _chamfer_volume(bore.radius, chamfer),
    )


def _bore_edge(blank: Blank, feature: Feature, bore: Cylinder) -> Cut:
    """Return what a bore along the sheet cuts from a part; of one that leaves the part, what lies in it."""
    face = next(face for face in EDGES if INTO[face] == bore.direction)
    plane = plane_of(blank, face)
    u, v, top = plane.to_plane(bore.mouth)
    low, high = blank.z0 - bore.mouth[2], blank.z1 - bore.mouth[2]
    section = _strip_area(bore.radius, low, high)
    ring = _chamfer_volume(bore.radius, bore.chamfer)
    share = section / (math.pi * bore.radius**2)
    return face, Hole(
        feature.name,
        feature.kind,
        (u, v),
        2 * bore.radius,
        bore.length,
        top,
        top + bore.length > plane.height - SAME_MM,
        bore.chamfer,
        _find_thread(feature),
        section * bore.length + share * ring,
    )


def _find_thread(feature: Feature) -> str:
    """Return the thread that a feature's name ends in, "G1/4" or "M4"; an insert's hole has none."""
    last = feature.name.rpartition(" ")[2]
    if feature.kind == "port":
        return last if last in tables.thread_names() else ""
    return last if feature.kind == "screw hole" and last in tables.screw_names() else ""


def _chamfer_volume(radius: float, chamfer: float) -> float:
    """Return what a 45-degree chamfer takes beside the bore, [mm3]."""
    wide = radius + chamfer
    return math.pi * chamfer * ((wide**2 + wide * radius + radius**2) / 3 - radius**2)


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
