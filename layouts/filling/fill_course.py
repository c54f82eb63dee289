"""In which order the loop fills: what coolant poured into the tank reaches by itself, then what the pump pushes full.

With the pump at rest coolant always takes the lowest place that it touches (`geom.wet.flooding.pour_order`): it runs
out of the tank's outlet, through the pump, over sills as it reaches them, and legs that communicate rise with the tank.
The pump pushes it on over the sills that are left, the lowest first. Where air stays nothing goes in.

What lies outside is known by its mouths alone. A part and its share of the hoses are filled when they are first passed:
at the higher mouth, with a hose that falls as soon as coolant comes to a mouth, with one that rises only by the pump.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geom.wet.flooding import NEVER, pour_order
from geom.wet.links import Links, join_links
from geom.wet.voxels import WetVoxels
from layouts.filling.held import Held
from layouts.filling.values import Opening
from layouts.nets import PUMP_INLET

AS_LOW_MM = 1e-3
"""Voxels that stand no higher than the lowest by more are as low, [mm]."""

ROUNDING = 1e-6
"""Share that is the rounding of none, [-]."""


@dataclass(frozen=True, slots=True)
class TankLevels:
    """How full the tank is, as shares of the whole.

    Parameters
    ----------
    level : float
        At its level, or at its fill port's mouth where that lies lower.
    bare : float
        When its outlet is about to be bared.
    stuck : float
        What never runs out of it, with the level as most.
    surface : float
        Height of the coolant along up at the level, [mm]; of a separate tank that of its port's mouth.
    under : float
        How far the fill port's mouth lies under the tank's own level, [mm]; 0 where it does not.
    """

    level: float
    bare: float
    stuck: float
    surface: float
    under: float = 0.0


@dataclass(frozen=True, slots=True)
class Moment:
    """How many items of the course are full, and which share of the tank."""

    items: int
    tank: float


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """What fills, in its order.

    Parameters
    ----------
    items : numpy.ndarray
        int64: voxels outside the tank, by number; link k as n + k; the last one stands for parts that no way leads to.
    filled_ml : numpy.ndarray
        (items + 1,) float64: what the loop holds when so many of them are full, [mL].
    tank : numpy.ndarray
        int64: the tank's voxels, the lowest first.
    at_level : int
        Items that are full when the tank first reads its level with the pump at rest.
    covered : Moment or None
        When all of the pump's inlet stands in coolant; None: not up to then.
    ready : Moment or None
        When all of the inlet in which no air stays, and the tank's outlet, stand in coolant; None: not up to then.
    """

    items: np.ndarray
    filled_ml: np.ndarray
    tank: np.ndarray
    at_level: int
    covered: Moment | None
    ready: Moment | None

    @property
    def whole_ml(self) -> float:
        """What the loop can take, [mL]."""
        return float(self.filled_ml[-1])


def follow_coolant(
    voxels: WetVoxels,
    openings: Sequence[Opening],
    outlet: Opening | None,
    heights: np.ndarray,
    held: Held,
    air: np.ndarray,
    levels: TankLevels,
) -> Course:
    """Return the order in which the loop fills from its tank.

    Parameters
    ----------
    voxels : WetVoxels
    openings : sequence of Opening
        Of these voxels.
    outlet : Opening or None
        Through which a separate tank feeds the panel; None: a pocket.
    heights : numpy.ndarray
        (n,) float32: of the voxels, along up, [mm].
    held : Held
    air : numpy.ndarray
        (n,) bool: voxels outside the tank in which air stays.
    levels : TankLevels
    """
    names, at_rest, running = link_parts(openings, heights)
    parts = dict(held.parts_ml)
    outside = [parts.pop(name, 0.0) for name in names]
    volumes = np.concatenate([np.where(air, 0.0, held.voxels_ml), outside, [sum(parts.values())]])
    tank = np.flatnonzero(held.tank)
    tank = tank[np.argsort(heights[tank], kind="stable")]
    seeds = tank[heights[tank] <= heights[tank[0]] + AS_LOW_MM] if outlet is None else outlet.voxels
    order = pour_order(voxels, heights, seeds, at_rest).astype(np.int64)
    later = order if running is at_rest else pour_order(voxels, heights, seeds, running).astype(np.int64)
    inside = np.concatenate([held.tank, np.zeros(len(names), bool)])
    in_tank = np.cumsum(inside[order])
    if outlet is None:
        end = min(len(order), int(np.searchsorted(in_tank, round(levels.level * len(tank)))) + 1)
    else:
        over = np.concatenate([heights, at_rest.heights])[order] > levels.surface
        end = int(np.argmax(over)) if over.any() else len(order)
    turns = np.full(len(inside), len(order), np.int64)
    turns[order] = np.arange(len(order))
    first = order[:end][~inside[order[:end]]]
    pushed = later[~inside[later] & (turns[later] >= end)]
    items = np.concatenate([first, pushed, [len(volumes) - 1]])

    def moment(turn: int) -> Moment | None:
        if turn >= end:
            return None
        held_voxels = int(in_tank[turn])
        return Moment(turn + 1 - held_voxels, held_voxels / max(1, len(tank)))

    mouth = next((opening.voxels for opening in openings if opening.name == PUMP_INLET), order[:0])
    holds_air = bool(air[mouth].any())
    mouth = np.sort(turns[mouth[~air[mouth]]])
    last = int(mouth.max(initial=-1)) if len(mouth) and not holds_air else len(order)
    wet = int(mouth.max(initial=-1)) if len(mouth) else len(order)
    if wet >= end and len(mouth):
        # What is under half of it may stand over the level: `find_dry` lets it pass.
        wet = int(mouth[len(mouth) // 2])
    if outlet is None:
        wet = max(wet, int(np.searchsorted(in_tank, math.ceil((levels.bare - ROUNDING) * len(tank)))))
    else:
        wet = max(wet, int(turns[outlet.voxels[~air[outlet.voxels]]].max(initial=0)))
    return Course(
        items,
        np.concatenate([[0.0], np.cumsum(volumes[items])]),
        tank,
        len(first),
        moment(last),
        moment(wet) if levels.bare < levels.level else None,
    )


def link_parts(openings: Sequence[Opening], heights: np.ndarray) -> tuple[tuple[str, ...], Links, Links]:
    """Return the ways of coolant outside the panel: with the pump at rest, and with it running.

    Parameters
    ----------
    openings : sequence of Opening
    heights : numpy.ndarray
        (n,) float32: of the voxels, along up, [mm].

    Returns
    -------
    names : tuple of str
        The part of each link; empty for the pump's.
    at_rest, running : Links
        The same links; the same object where no hose rises.
    """
    mouths: dict[str, list[Opening]] = {}
    for opening in openings:
        if opening.kind in ("pump", "part") and len(opening.voxels):
            mouths.setdefault(opening.part, []).append(opening)
    pairs = {name: ends for name, ends in mouths.items() if len(ends) == 2}
    members = [np.concatenate([end.voxels for end in ends]) for ends in pairs.values()]
    passed, waiting = [], []
    for ends in pairs.values():
        feet = [float(heights[end.voxels].min()) for end in ends]
        passed.append(min(feet) if any(end.hose == "falls" for end in ends) else max(feet))
        waiting.append(float(NEVER) if any(end.hose == "rises" for end in ends) else passed[-1])
    running = join_links(len(heights), members, passed)
    if waiting == passed:
        return tuple(pairs), running, running
    return tuple(pairs), join_links(len(heights), members, waiting), running
