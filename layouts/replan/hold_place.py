"""The places of tank and pump nearest to where they stood, for a changed panel."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from geom.frame import SAME_MM
from layouts.failure import LayoutFailure
from layouts.ground import Ground
from layouts.no_place import explain_no_place
from layouts.panel import Box
from layouts.place import Placement, PumpPlace, list_outlets, list_pumps, list_tanks
from layouts.tank_over_pump import match_drops, match_tanks

UNLIKE_PITCHES = 2.5
"""Pitches: a place whose pump and tank stand less far from those of one that failed would most likely fail too."""


def hold_places(ground: Ground, before: Placement) -> Iterator[Placement]:
    """Yield the places of tank and pump that are allowed, those that move least first.

    Pump and tank move together where one of them must: the tank's outlet stands straight above the inlet. Of
    places that move alike the one with the shorter drop comes first.

    Parameters
    ----------
    ground : Ground
        Of the changed panel.
    before : Placement
        Where they stood.

    Yields
    ------
    Placement
        Without a bound: it is 0. Each unlike those before it.
    """
    given: list[Placement] = []
    for placement in _list_nearest(ground, before):
        if not any(_alike(placement, other, ground.panel.pitch) for other in given):
            given.append(placement)
            yield placement


def explain_no_hold(ground: Ground) -> LayoutFailure:
    """Return why no pump and tank can stand together on a ground.

    Parameters
    ----------
    ground : Ground
        For which `hold_places` yields nothing.

    Returns
    -------
    LayoutFailure
    """
    reasons: Counter[str] = Counter()
    pumps, tanks = list_pumps(ground, reasons), _list_tanks(ground, reasons)
    for place in pumps:
        if len(tanks):
            _match(ground, place, tanks, reasons)
    return explain_no_place(ground, reasons, len(pumps), len(tanks))


def _list_nearest(ground: Ground, before: Placement) -> Iterator[Placement]:
    reasons: Counter[str] = Counter()
    held = _hold_ground(ground, before)
    if held is not None:
        # Most often they may stay, and this is known far sooner than all places are listed.
        yield from _pair_up(ground, before, list_pumps(held, reasons), _list_tanks(held, reasons))
    yield from _pair_up(ground, before, list_pumps(ground, reasons), _list_tanks(ground, reasons))


def _hold_ground(ground: Ground, before: Placement) -> Ground | None:
    """Return the ground with pump and tank pinned where they stood; None where the file does not let them."""
    panel = ground.panel
    pump, tank = panel.pump, panel.tank
    if before.turn_deg not in pump.turns or (before.box is None) != (tank.kind == "separate"):
        return None
    if pump.at is not None:
        if math.dist(pump.at, before.inlet) > SAME_MM:
            return None
    else:
        assert pump.within is not None
        x0, y0, x1, y1 = pump.within
        radius, (x, y) = pump.seat_diameter / 2 - SAME_MM, before.inlet
        inside = x0 + radius <= x <= x1 - radius and y0 + radius <= y <= y1 - radius
        if not inside or not ground.grid.holds(before.inlet):
            return None
    pump = replace(pump, at=before.inlet, within=None, turns=(before.turn_deg,))
    if before.box is not None:
        corners = [box[:2] for box in list_tanks(ground, Counter())]
        if not any(math.dist(corner, before.box[:2]) < SAME_MM for corner in corners):
            return None
        tank = replace(tank, at=before.box[:2], within=None)
    return replace(ground, panel=replace(panel, pump=pump, tank=tank))


def _list_tanks(ground: Ground, reasons: Counter[str]) -> np.ndarray:
    """Return where the tank may stand: pockets (n, 4), or feet of a separate tank's outlet (n, 2), [mm]."""
    if ground.panel.tank.kind == "separate":
        return np.array(list_outlets(ground)).reshape(-1, 2)
    return np.array(list_tanks(ground, reasons)).reshape(-1, 4)


def _pair_up(
    ground: Ground, before: Placement, pumps: list[PumpPlace], tanks: np.ndarray
) -> Iterator[Placement]:
    """Yield every pump with every tank that can stand over it, the least move of both first."""
    if not pumps or not len(tanks):
        return
    inlets = np.array([place.inlet for place in pumps])
    outlets = np.array([place.outlet for place in pumps])
    moved = np.hypot(*(inlets - before.inlet).T) + np.hypot(*(outlets - before.outlet).T)
    corner = np.array(before.top if before.box is None else before.box[:2])
    tank_moved = np.hypot(*(tanks[:, :2] - corner).T)
    total = np.round(moved[:, None] + tank_moved[None, :], 6).ravel()
    drops = (tanks[None, :, 1] - inlets[:, 1:2]).ravel()
    fits: dict[int, np.ndarray] = {}
    for pair in np.lexsort((np.arange(len(total)), drops, total)):
        number, tank = divmod(int(pair), len(tanks))
        if number not in fits:
            fits[number] = _match(ground, pumps[number], tanks, Counter())
        if fits[number][tank]:
            yield _place(pumps[number], tanks[tank])


def _match(ground: Ground, place: PumpPlace, tanks: np.ndarray, reasons: Counter[str]) -> np.ndarray:
    """Return which tanks can stand over a pump, (n,) bool; what keeps the others away is counted."""
    if tanks.shape[1] == 4:
        return match_tanks(ground, place, tanks, reasons)
    over = (np.abs(tanks[:, 0] - place.inlet[0]) < SAME_MM) & (tanks[:, 1] > place.inlet[1])
    return over & match_drops(ground, place, tanks[:, 1], reasons)


def _place(pump: PumpPlace, tank: np.ndarray) -> Placement:
    box: Box | None = None
    if len(tank) == 4:
        x0, y0, x1, y1 = (float(v) for v in tank)
        box = (x0, y0, x1, y1)
    top = (pump.inlet[0], float(tank[1]))
    return Placement(pump.inlet, pump.outlet, pump.turn_deg, pump.screws, box, top, 0.0)


def _alike(one: Placement, two: Placement, pitch: float) -> bool:
    corner, other = (one.box or one.top)[:2], (two.box or two.top)[:2]
    return (
        one.turn_deg == two.turn_deg
        and math.dist(one.inlet, two.inlet) < UNLIKE_PITCHES * pitch
        and math.dist(corner, other) < UNLIKE_PITCHES * pitch
    )
