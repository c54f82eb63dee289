"""Pockets of a set-up as closed profiles for each depth, as one who cuts them wants them.

*Profile*: outlines of lines and arcs that do not cross, with the even-odd rule: an outline inside another is left
standing. Pockets of one depth that overlap become one profile, exactly, so that no wall is cut between them.
"""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from geom.errors import GeometryError
from geom.outline import Region, region_polygon
from geom.union import unite_loops
from layouts.milling.work import Pocket, SetUp

DEPTH_DIGITS = 2
"""Depths that are the same to 0.01 mm are one depth."""

TOUCH_MM2 = 1e-4
"""Two outlines that share less are told apart, [mm2]: what chords of the same arc differ by."""


@dataclass(frozen=True, slots=True)
class Profile:
    """What is cut from one depth to another, [mm]; outlines in the set-up's plane, `pockets` by name."""

    top: float
    floor: float
    loops: Region
    pockets: tuple[str, ...]


def list_profiles(setup: SetUp) -> tuple[Profile, ...]:
    """Return the profiles of a set-up's pockets, shallow to deep; those of one depth that do not meet stay apart.

    Parameters
    ----------
    setup : SetUp

    Returns
    -------
    tuple of Profile
        [mm]. Where an outline stands across another's island, each pocket keeps a profile of its own.
    """
    depths: dict[tuple[float, float], list[Pocket]] = {}
    for pocket in setup.pockets:
        key = (round(pocket.floor, DEPTH_DIGITS), round(pocket.top, DEPTH_DIGITS))
        depths.setdefault(key, []).append(pocket)
    out: list[Profile] = []
    for (floor, top), pockets in sorted(depths.items()):
        for together in _meeting(pockets):
            names = tuple(pocket.name for pocket in together)
            united = _unite(together)
            if united is None:
                out += [Profile(top, floor, (*p.region, *p.islands), (p.name,)) for p in together]
            else:
                out.append(Profile(top, floor, united, names))
    return tuple(out)


def _meeting(pockets: list[Pocket]) -> list[list[Pocket]]:
    """Return pockets in groups that hang together, in their order."""
    plans = [region_polygon(pocket.region, islands=pocket.islands) for pocket in pockets]
    tree = shapely.STRtree(plans)
    group = list(range(len(pockets)))

    def root(k: int) -> int:
        while group[k] != k:
            k = group[k]
        return k

    for k, plan in enumerate(plans):
        for j in sorted(int(j) for j in tree.query(plan, predicate="intersects")):
            a, b = root(k), root(j)
            group[max(a, b)] = min(a, b)
    gathered: dict[int, list[Pocket]] = {}
    for k, pocket in enumerate(pockets):
        gathered.setdefault(root(k), []).append(pocket)
    return [gathered[k] for k in sorted(gathered)]


def _unite(pockets: list[Pocket]) -> Region | None:
    """Return the outlines of pockets that hang together; None where they cannot be united exactly."""
    for pocket in pockets:
        others = [region_polygon(p.region, islands=p.islands) for p in pockets if p is not pocket]
        if pocket.islands and others:
            standing = region_polygon(pocket.islands)
            if any(shapely.intersection(standing, other).area > TOUCH_MM2 for other in others):
                return None
    try:
        united = unite_loops(tuple(loop for pocket in pockets for loop in pocket.region))
    except GeometryError:
        return None
    return (*united, *(loop for pocket in pockets for loop in pocket.islands))
