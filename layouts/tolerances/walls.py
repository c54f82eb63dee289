"""Every measured wall as thin as the class of general tolerances lets it become.

Features that are cut in one set-up stand to each other within the tolerance of the dimension between them: the wall is
that dimension. Features of different set-ups are each located on their own, and what both are off adds up, with half of
what their widths are off. Heights add up with the thickness of what lies between the faces they are measured from.
The holes of a cover are held over the body by its screws: they are off by what these may move in them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from geom.features import Detail
from geom.frame import SAME_MM, Vec
from geom.measured import Wall, WallReach
from geom.standards import tables
from layouts.faces import cover_name, material_of
from layouts.milling.work import Milled
from layouts.panel import Panel
from layouts.plan import Plan, Routed
from layouts.printing.process import is_printed, process_of
from layouts.strength.screw_hole import clearance_hole
from layouts.tolerances.classes import corner_tolerance, length_tolerance
from layouts.tolerances.located import (
    CORNER_SHARE,
    Located,
    across,
    is_groove,
    locate_features,
    shares_setup,
    upright,
)


@dataclass(frozen=True, slots=True)
class WorstWall:
    """A wall at its worst.

    Parameters
    ----------
    nominal, worst : float
        Thickness as drawn, and what the class may leave of it, [mm]; 0 or less: it may be a breach.
    needed : float
        What the material stands beside coolant, or the printer prints watertight, [mm].
    between : (str, str)
        Names of features, or "outer left" and so on.
    at : (float, float, float)
        Its middle, [mm].
    wet : bool
    one_setup : bool
        Whether both sides are cut in one set-up.
    groove : bool
        Whether a cord lies on one side at least.
    """

    nominal: float
    worst: float
    needed: float
    between: tuple[str, str]
    at: Vec
    wet: bool
    one_setup: bool
    groove: bool = False


def needed_wall(panel: Panel, z: float) -> float:
    """Return the thinnest wall that the material at a height stands beside coolant, printed: that is watertight, [mm].

    Parameters
    ----------
    panel : Panel
    z : float
        [mm]
    """
    covered = panel.make.closing != "one-piece" and not 0.0 <= z <= panel.make.body
    part = cover_name("front" if z > 0.0 else "back") if covered else "body"
    if is_printed(panel, part):
        return process_of(panel).tight_wall
    return tables.material(material_of(panel, part)).least_wall_milled


def worst_walls(plan: Plan, walls: Iterable[Wall]) -> tuple[WorstWall, ...]:
    """Return walls at their worst, the thinnest first.

    Parameters
    ----------
    plan : Plan
    walls : iterable of Wall
        As measured. Those that meet as drawn are left out: they are faults of their own.

    Returns
    -------
    tuple of WorstWall
        Thicknesses in [mm].
    """
    located = locate_features(plan.panel, plan.detail, plan.milled)
    found = []
    for wall in walls:
        if wall.thickness <= 0.0:
            continue
        loss, together = _loss(plan.panel, plan.routed, plan.detail, plan.milled, located, wall)
        worst, needed = wall.thickness - loss, needed_wall(plan.panel, wall.middle[2])
        groove = any(is_groove(located[name].feature) for name in wall.between if name in located)
        found.append(
            WorstWall(wall.thickness, worst, needed, wall.between, wall.middle, wall.wet, together, groove)
        )
    return tuple(sorted(found, key=lambda wall: (wall.worst, wall.between)))


def thickest_at_risk(plan: Plan) -> WallReach:
    """Return up to which thickness the class may make a wall too thin, [mm].

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    WallReach
        Thicker walls need no measuring.
    """
    panel = plan.panel
    located = locate_features(panel, plan.detail, plan.milled)
    side = length_tolerance(panel, max(panel.width, panel.height))
    sheets = _sheets_between(panel, plan.detail, -math.inf, math.inf)
    # One place is two coordinates, and half of a width; heights are measured from faces.
    place = math.sqrt(2.0) * side + length_tolerance(panel, max(panel.make.body, panel.channel.width))
    play = _play(panel)
    apart, edge = 2 * place + sheets + play, place + math.sqrt(2.0) * side + sheets
    close = length_tolerance(panel, 6.0)
    needed = max(needed_wall(panel, 0.0), needed_wall(panel, -1.0))

    def at_risk(a: str, b: str) -> float:
        one, two = located.get(a), located.get(b)
        wet = any(each is not None and each.feature.medium == "wet" for each in (one, two))
        if one is None or two is None:
            loss = close if panel.make.method == "printed" else edge
        elif shares_setup(one, two):
            loss = close
        else:
            loss = close + play + _hole_off(panel) if _screwed_on(one, two) else apart
        return loss + (needed if wet else 0.0)

    return WallReach(at_risk, max(apart, edge) + needed)


def _screwed_on(a: Located, b: Located) -> bool:
    """Return whether one is a screw's hole in a cover, and the other in the body under it."""
    return "clearance hole" in (a.feature.kind, b.feature.kind) and not set(a.parts) & set(b.parts)


def _loss(
    panel: Panel,
    routed: Routed,
    detail: Detail,
    milled: Milled | None,
    located: dict[str, Located],
    wall: Wall,
) -> tuple[float, bool]:
    """Return what the class may take of a wall, [mm], and whether it is one dimension of one set-up."""
    (one, two), (p, q) = wall.between, wall.points
    way = _unit(p, q)
    back = (-way[0], -way[1], -way[2])
    a, b = located.get(one), located.get(two)
    if a is not None and b is not None:
        if shares_setup(a, b):
            return length_tolerance(panel, wall.thickness), True
        if _screwed_on(a, b):
            # The screw's own hole in the body stands to the other within the dimension between them.
            return length_tolerance(panel, wall.thickness) + _play(panel) + _hole_off(panel), False
        lost = across(panel, routed, a, p, way) + across(panel, routed, b, q, back)
        lost += upright(panel, a, p, way) + upright(panel, b, q, back)
        lost += abs(way[2]) * _sheets_between(panel, detail, a.reference_z, b.reference_z)
        if not set(a.parts) & set(b.parts):
            lost += math.hypot(way[0], way[1]) * _play(panel)
        return lost, False
    feature, at, out, name = (a, p, way, two) if a is not None else (b, q, back, one)
    assert feature is not None
    if panel.make.method == "printed" or _cut_with_outline(milled, feature, name):
        return length_tolerance(panel, wall.thickness), True
    lost = across(panel, routed, feature, at, out) + upright(panel, feature, at, out)
    return lost + _outer(panel, detail, feature, name, out), False


def _play(panel: Panel) -> float:
    """Return how far a cover may move to each side on its screws, [mm]; 0 without any."""
    if panel.make.closing != "cord":
        return 0.0
    return (clearance_hole(panel) - tables.screw(panel.make.screw).diameter) / 2


def _hole_off(panel: Panel) -> float:
    """Return half of what a cover's screw hole may be wider, [mm]."""
    return length_tolerance(panel, clearance_hole(panel)) / 2 if panel.make.closing == "cord" else 0.0


def _sheets_between(panel: Panel, detail: Detail, a: float, b: float) -> float:
    """Return what the thickness of all sheets between two faces may be off, [mm]."""
    low, high = min(a, b), max(a, b)
    return math.fsum(
        length_tolerance(panel, blank.z1 - blank.z0)
        for blank in detail.blanks
        if min(high, blank.z1) - max(low, blank.z0) > SAME_MM
    )


def _cut_with_outline(milled: Milled | None, feature: Located, name: str) -> bool:
    """Return whether an edge of the panel is cut in a set-up of a feature."""
    if milled is None or name in ("outer front", "outer back"):
        return False
    outlined = {(setup.part, setup.face) for setup in milled.setups if setup.outline is not None}
    return bool(outlined & set(feature.setups))


def _outer(panel: Panel, detail: Detail, feature: Located, name: str, way: Vec) -> float:
    """Return what an outer face may be off, seen from what its neighbour is measured from, [mm]."""
    if name in ("outer front", "outer back"):
        z = [blank.z1 for blank in detail.blanks] + [blank.z0 for blank in detail.blanks]
        face = max(z) if name == "outer front" else min(z)
        return abs(way[2]) * _sheets_between(panel, detail, feature.reference_z, face)
    width, height = length_tolerance(panel, panel.width), length_tolerance(panel, panel.height)
    off = {"outer left": 0.0, "outer bottom": 0.0, "outer right": width, "outer top": height}.get(name)
    if off is not None:
        return off
    far = (width * way[0] if way[0] > 0 else 0.0) + (height * way[1] if way[1] > 0 else 0.0)
    return far + CORNER_SHARE * corner_tolerance(panel, panel.corner_radius)


def _unit(p: Vec, q: Vec) -> Vec:
    length = math.dist(p, q)
    if length < SAME_MM:
        return 0.0, 0.0, 0.0
    return (q[0] - p[0]) / length, (q[1] - p[1]) / length, (q[2] - p[2]) / length
