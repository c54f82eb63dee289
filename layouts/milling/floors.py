"""What stands under pockets, and between pockets of a part's two faces."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import shapely

from geom.features import Blank, Detail
from geom.frame import SAME_MM, Vec
from geom.outline import region_polygon
from layouts.milling.frame import plane_of
from layouts.milling.work import Pocket, SetUp

LEAST_AREA = 0.01
"""Pockets that overlap by less only touch in plan, [mm2]."""


@dataclass(frozen=True, slots=True)
class Floor:
    """A floor that milling leaves.

    Parameters
    ----------
    part : str
    pockets : tuple of str
        The pocket over it, or the front's and the back's that it stands between.
    thickness : float
        [mm]
    at : (float, float, float)
        A place in the middle of it, in the panel frame, [mm].
    area : float
        In plan, [mm2].
    """

    part: str
    pockets: tuple[str, ...]
    thickness: float
    at: Vec
    area: float


def list_floors(detail: Detail, setups: tuple[SetUp, ...], under: float) -> tuple[Floor, ...]:
    """Return the floors of all parts that are thinner than `under`.

    Parameters
    ----------
    detail : Detail
    setups : tuple of SetUp
    under : float
        [mm]

    Returns
    -------
    tuple of Floor
        Those under one pocket first; where a pocket opens the far side there is none.
    """
    return tuple(floor for blank in detail.blanks for floor in _list_of(blank, setups, under))


def _list_of(blank: Blank, setups: tuple[SetUp, ...], under: float) -> Iterator[Floor]:
    own = [setup for setup in setups if setup.part == blank.name and setup.face in ("front", "back")]
    high = blank.z1 - blank.z0
    for setup in own:
        for pocket in setup.pockets:
            left = high - pocket.floor
            if SAME_MM < left < under - SAME_MM:
                z = blank.z0 + left / 2 if setup.face == "front" else blank.z1 - left / 2
                yield _floor(blank, (pocket.name,), left, z, _plan(blank, setup, pocket))
    fronts = [(setup, pocket) for setup in own if setup.face == "front" for pocket in setup.pockets]
    backs = [(setup, pocket) for setup in own if setup.face == "back" for pocket in setup.pockets]
    for one, over in fronts:
        for other, below in backs:
            left = high - over.floor - below.floor
            if not SAME_MM < left < under - SAME_MM:
                continue
            both = shapely.intersection(_plan(blank, one, over), _plan(blank, other, below))
            if both.area > LEAST_AREA:
                z = blank.z0 + below.floor + left / 2
                yield _floor(blank, (over.name, below.name), left, z, both)


def _plan(blank: Blank, setup: SetUp, pocket: Pocket) -> shapely.Geometry:
    plane = plane_of(blank, setup.face)
    region = tuple(plane.loop_to_panel(loop) for loop in pocket.region)
    islands = tuple(plane.loop_to_panel(loop) for loop in pocket.islands)
    return region_polygon(region, islands=islands)


def _floor(blank: Blank, names: tuple[str, ...], left: float, z: float, plan: shapely.Geometry) -> Floor:
    middle = plan.centroid
    if not plan.contains(middle):
        middle = plan.representative_point()
    return Floor(blank.name, names, left, (middle.x, middle.y, z), float(plan.area))
