"""Design rules of drilling: how deep, where the drill's point goes, slopes that it starts on or breaks into, bores that
graze each other. Bores over 20 mm are milled, and not asked about."""

from __future__ import annotations

import math

import numpy as np

from geom.features import Detail
from geom.findings import Finding
from geom.frame import EDGES, SAME_MM, Vec
from geom.words import count_of, join_names
from layouts.milling.bore_gaps import Meeting, measure_gap, meet_axis, nearest_on_axes, overlap_share
from layouts.milling.drill_points import NearPoint, find_near_points
from layouts.milling.drilling import DEPTH_GOOD, DEPTH_MOST, list_drilled, tip_height
from layouts.milling.work import Hole, Milled, walk
from layouts.panel import Panel
from layouts.rules.findings import make_finding

START_DEG = 5.0
"""Slope that a drill still starts on, [deg]; common practice, no source."""

GUIDED_DEG = 30.0
"""Slope by which a drill, guided by its own bore, still breaks into another, [deg]; common practice, no source."""

LEAST_SHARE = 0.75
"""Part of a drill's circle that has to stand in material."""

SLIVER_MM = 0.2
"""Wall between two bores that the second drill breaks through, [mm]: it wanders as far; common practice, no source."""

COAXIAL_MM = 0.05
"""Bores whose axes lie nearer are one stepped bore, [mm]."""


def check_drill_depth(milled: Milled | None) -> tuple[Finding, ...]:
    """Ask whether every bore is drilled with an ordinary drill (`make.drill`); one finding for each size of drill."""
    if milled is None:
        return ()
    deep: dict[tuple[str, float], list[Hole]] = {}
    for hole in list_drilled(milled):
        if _ratio(hole) > DEPTH_GOOD + 1e-9:
            deep.setdefault((hole.kind, round(hole.diameter, 3)), []).append(hole)
    found = []
    for bores in deep.values():
        worst = max(bores, key=_ratio)
        ratio = _ratio(worst)
        hard = ratio > DEPTH_MOST + 1e-9
        found.append(
            make_finding(
                "make.drill",
                "fault" if hard else "caution",
                f"{_name_all(bores, worst)} is {worst.depth:.3g} mm deep, {ratio:.1f} diameters of its "
                f"{worst.diameter:g} mm drill",
                "make it wider or shorter, or drill it from both sides"
                if hard
                else f"lift the drill every {worst.diameter:g} mm to clear its chips, or make it wider or shorter",
                ratio,
                DEPTH_MOST if hard else DEPTH_GOOD,
                "diameters",
                worst.end,
                tuple(bore.name for bore in bores),
            )
        )
    return tuple(found)


def check_drill_points(panel: Panel, detail: Detail, milled: Milled | None) -> tuple[Finding, ...]:
    """Ask whether the points of the drills stay off what lies behind their bores (`make.tip`).

    Bores of one size whose points come near to one face, or to one kind of feature, are told in one finding.
    """
    if milled is None:
        return ()
    limit = panel.rules.least_wall
    groups: dict[tuple[str, float, str], list[NearPoint]] = {}
    for near in find_near_points(detail, milled, limit):
        what = near.to if near.feature is None else near.feature.kind
        groups.setdefault((near.hole.kind, round(near.hole.diameter, 3), what), []).append(near)
    found = []
    for points in groups.values():
        worst = min(points, key=lambda near: near.wall)
        hole = worst.hole
        left = "breaks into" if worst.wall <= SAME_MM else f"leaves {worst.wall:.3g} mm before"
        found.append(
            make_finding(
                "make.tip",
                "caution",
                f"the drill's point at {hole.name} goes {tip_height(hole.diameter):.3g} mm deeper than the "
                f"bore and {left} {worst.to}; {limit:g} mm are wanted"
                + _others([near.hole for near in points], hole),
                f"end the bore with a flat-bottomed {hole.diameter:g} mm end mill, or make it shallower",
                worst.wall,
                limit,
                "mm",
                worst.at,
                tuple(
                    dict.fromkeys(
                        (
                            *(near.hole.name for near in points),
                            *(near.to for near in points if near.feature is not None),
                        )
                    )
                ),
            )
        )
    return tuple(found)


def check_slopes(panel: Panel, milled: Milled | None) -> tuple[Finding, ...]:
    """Ask whether drills start and cross square to the surfaces there (`make.exit`)."""
    if milled is None:
        return ()
    found = []
    holes = list_drilled(milled)
    for hole in holes:
        at, slope = _slope_of_start(panel, hole)
        if hole.starts and slope > START_DEG + 1e-9:
            found.append(
                _tell_slope(
                    hole,
                    at,
                    slope,
                    START_DEG,
                    "starts on a slope of",
                    f"mill a flat for the drill first with an end mill of {hole.diameter:g} mm or more",
                )
            )
    for first, second in _list_pairs(holes):
        meeting = _cross(first, second)
        if meeting is not None and meeting.slope > GUIDED_DEG + 1e-9:
            found.append(
                _tell_slope(
                    second,
                    meeting.at,
                    meeting.slope,
                    GUIDED_DEG,
                    f"breaks into {first.name} at a slope of",
                    f"let the axes meet, or plug {first.name} while it is drilled",
                    first.name,
                )
            )
    return tuple(found)


def check_grazes(milled: Milled | None) -> tuple[Finding, ...]:
    """Ask whether no two bores of a part meet at their sides only (`make.graze`)."""
    if milled is None:
        return ()
    found = []
    for first, second in _list_pairs(list_drilled(milled)):
        if _is_stepped(first, second) or _cross(first, second) is not None:
            continue
        gap, at = measure_gap(first.bore, second.bore)
        if gap > SLIVER_MM - SAME_MM:
            continue
        how, remedy = "meets", f"set them {SLIVER_MM - gap:.2g} mm further apart or more"
        if gap > SAME_MM:
            how = f"stands {gap:.2g} mm beside"
        elif _is_parallel(first, second):
            apart = _axes_apart(first, second)
            share = 1.0 - overlap_share(second.bore.radius, first.bore.radius, apart)
            how = f"has {100 * share:.0f} % of its circle in material beside"
            if share >= LEAST_SHARE:
                remedy += f", or make {second.name} with an end mill"
        found.append(
            make_finding(
                "make.graze",
                "caution",
                f"{second.name} {how} {first.name}, which is drilled before it: the drill is drawn into the open side "
                "and leaves a thin lip",
                remedy,
                max(gap, 0.0),
                SLIVER_MM,
                "mm",
                at,
                (first.name, second.name),
            )
        )
    return tuple(found)


def _ratio(hole: Hole) -> float:
    return hole.depth / hole.diameter


def _name_all(bores: list[Hole], worst: Hole) -> str:
    """Return the worst bore's name, and how many are like it."""
    more = len(bores) - 1
    return worst.name if more == 0 else f"{worst.name}, as {count_of(more, 'other')},"


def _others(bores: list[Hole], worst: Hole) -> str:
    names = [name for name in dict.fromkeys(bore.name for bore in bores) if name != worst.name]
    return f"; as with {join_names(names)}" if names else ""


def _tell_slope(
    hole: Hole, at: Vec, slope: float, limit: float, how: str, remedy: str, other: str = ""
) -> Finding:
    return make_finding(
        "make.exit",
        "caution",
        f"the drill of {hole.name} {how} {slope:.3g} degrees, over {limit:g}: it is drawn aside",
        remedy,
        slope,
        limit,
        "deg",
        at,
        (hole.name, other) if other else (hole.name,),
    )


def _slope_of_start(panel: Panel, hole: Hole) -> tuple[Vec, float]:
    """Return where a drill starts, and at what angle to the surface there: an edge is round at its ends."""
    mouth = hole.bore.mouth
    if hole.face not in EDGES or panel.corner_radius <= 0:
        return mouth, 0.0
    along, side = (mouth[0], panel.width) if hole.face in ("top", "bottom") else (mouth[1], panel.height)
    over = panel.corner_radius - min(along, side - along)
    if over <= SAME_MM:
        return mouth, 0.0
    share = min(over / panel.corner_radius, 1.0)
    deep = panel.corner_radius * (1.0 - math.sqrt(1.0 - share * share))
    return walk(hole.bore, deep), math.degrees(math.asin(share))


def _list_pairs(holes: tuple[Hole, ...]) -> list[tuple[Hole, Hole]]:
    """Return the pairs of bores of one part that may touch, each with the one that is drilled first in front."""
    if len(holes) < 2:
        return []
    middles = np.array([walk(hole.bore, hole.depth / 2) for hole in holes])
    balls = np.array([math.hypot(hole.depth / 2, hole.bore.radius) for hole in holes])
    parts = np.array([hole.part for hole in holes])
    apart = np.linalg.norm(middles[:, None] - middles[None], axis=-1) - balls[:, None] - balls[None]
    near = np.triu((apart < SLIVER_MM) & (parts[:, None] == parts[None]), 1)
    pairs = ((holes[i], holes[j]) for i, j in zip(*np.nonzero(near), strict=True))
    return [pair for pair in pairs if _may_touch(*pair)]


def _may_touch(first: Hole, second: Hole) -> bool:
    """Return whether two axes come as near as both radii and a sliver."""
    return _axes_apart(first, second) < first.bore.radius + second.bore.radius + SLIVER_MM


def _axes_apart(first: Hole, second: Hole) -> float:
    p, q, _ = nearest_on_axes(first.bore, second.bore)
    return math.dist(p.tolist(), q.tolist())


def _is_parallel(first: Hole, second: Hole) -> bool:
    cosine = math.fsum(a * b for a, b in zip(first.bore.direction, second.bore.direction, strict=True))
    return math.isclose(abs(cosine), 1.0, abs_tol=1e-9)


def _is_stepped(first: Hole, second: Hole) -> bool:
    """Return whether two bores stand on one axis."""
    return _is_parallel(first, second) and _axes_apart(first, second) < COAXIAL_MM


def _cross(first: Hole, second: Hole) -> Meeting | None:
    """Return where the second drill's axis meets the first bore; None for bores beside each other or on one axis."""
    if _is_parallel(first, second):
        return None
    return meet_axis(second.bore, first.bore)
