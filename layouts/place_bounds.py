"""Every place of tank and pump with what a layout there costs at least, the most promising first.

*Every* means: each grid node on which the pump's seat fits into its box, in each turn the file allows; each node
for the lower left corner of a pocket tank in its box, or each node along a separate tank's outlet port; of
these all pairs in which the tank's outlet lies in the pump inlet's column. Ports stand on nodes too.

A channel's cost from its port to every node of the plate is measured with nothing in its way but what stands
fast: the panel's edge, keep-clear regions and the ports of other channels that have no choice. Read off at the
pump's outlet, at the tank's walls, at the other port, and summed over the channels, it bounds the cost of any layout
with tank and pump there. A channel of many ends is bounded by its least tree (Dreyfus and Wagner), or by the dearest
of its ways where there are more than `MOST_TREE_ENDS`.

Source
------
Dijkstra, "A note on two problems in connexion with graphs", Numerische Mathematik 1 (1959); Dreyfus and Wagner,
"The Steiner Problem in Graphs", Networks 1 (1971).
"""

from __future__ import annotations

import heapq
import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from geom.errors import LayoutError
from geom.frame import SAME_MM
from layouts.cost_field import CostField
from layouts.ground import Ground
from layouts.kept_failure import explain_clash
from layouts.no_place import explain_no_place
from layouts.panel import Box
from layouts.place import Placement, PumpPlace, list_outlets, list_pumps, list_tanks
from layouts.tank_over_pump import match_drops, match_tanks

GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0
"""Share of a pump's tanks from one rank to the next: any few of its multiples, less whole ones, lie far apart."""

TURN_APART = 1.4
"""How far another turn of the pump counts, in widths of the pump's box: about its diagonal."""


@dataclass(frozen=True, slots=True)
class _Tanks:
    """Where the tank may stand: pockets (n, 4), or feet of a separate tank's outlet (n, 2), [mm].

    `bounds` is what the channels into it cost at least, `trees` that of those of many ends.
    """

    boxes: np.ndarray
    feet: np.ndarray
    bounds: np.ndarray
    trees: np.ndarray

    @property
    def lows(self) -> np.ndarray:
        """Where the feed leaves it, [mm]."""
        return self.boxes[:, 1] if len(self.boxes) else self.feet[:, 1]


def find_placements(
    ground: Ground, field: CostField | None = None, pumps: list[PumpPlace] | None = None
) -> Iterator[Placement]:
    """Yield every placement that can stand by itself, the least bound first.

    Parameters
    ----------
    ground : Ground
    field : CostField or None
        Of this ground, where it is known already.
    pumps : list of PumpPlace or None
        Only with the pump in these places; there may be none then.

    Yields
    ------
    Placement
        Ordered by bound, then by place: the same for the same panel.

    Raises
    ------
    LayoutError
        Where there is none: carries what was in the way most often, and what to try; or why a route that the file
        keeps cannot stand.
    """
    if ground.clash is not None:
        raise LayoutError(explain_clash(ground.panel, ground.clash))
    reasons: Counter[str] = Counter()
    some = pumps is not None
    pumps = list_pumps(ground, reasons) if pumps is None else pumps
    field = CostField(ground) if field is None else field
    tanks = _list_tanks(ground, field, reasons)
    count = 0
    # Pumps wait with the least that any tank could add; those whose tanks are ranked, with their next one.
    waiting: list[tuple[float, int, int, float, float, int]] = []
    ranked: dict[int, tuple[np.ndarray, np.ndarray]] = {}
    if len(tanks.lows):
        for number, place in enumerate(pumps):
            least = field.bound_pump(place) + float(tanks.bounds.min())
            least += float(field.feed(max(0.0, float(tanks.lows.min()) - place.inlet[1])))
            heapq.heappush(waiting, (least, place.turn_deg, 0, *place.inlet, number))
    while waiting:
        bound, _, rank, _, _, number = heapq.heappop(waiting)
        place = pumps[number]
        if number in ranked:
            count += 1
            yield _make_placement(field, place, tanks, int(ranked[number][0][rank]), bound)
            rank += 1
        else:
            ranked[number] = _rank_tanks(ground, field, place, tanks, reasons)
        order, bounds = ranked[number]
        if rank < len(order):
            heapq.heappush(waiting, (float(bounds[rank]), place.turn_deg, rank, *place.inlet, number))
    if count == 0 and not some:
        raise LayoutError(explain_no_place(ground, reasons, len(pumps), len(tanks.lows)))


def spread_placements(ground: Ground, field: CostField) -> Iterator[Placement]:
    """Yield placements spread over all there are: each pump far from those before it, with tanks of every rank.

    Parameters
    ----------
    ground : Ground
    field : CostField
        Of this ground.

    Yields
    ------
    Placement
        Each once; the same for the same panel. Where there are few pumps, each comes again with other tanks.

    Source
    ------
    Ranks of the tanks by multiples of the golden ratio: common practice, no source.
    """
    reasons: Counter[str] = Counter()
    pumps = list_pumps(ground, reasons)
    tanks = _list_tanks(ground, field, reasons)
    if not pumps or not len(tanks.lows):
        return
    given: list[set[int]] = [set() for _ in pumps]
    order = list(order_far(pumps))
    share, fresh = 0.0, True
    while fresh:
        fresh = False
        for number in order:
            ranks, bounds = _rank_tanks(ground, field, pumps[number], tanks, reasons)
            if len(given[number]) == len(ranks):
                continue
            rank = int(share * len(ranks))
            while rank in given[number]:
                rank = (rank + 1) % len(ranks)
            share = (share + GOLDEN) % 1.0
            given[number].add(rank)
            fresh = True
            yield _make_placement(field, pumps[number], tanks, int(ranks[rank]), float(bounds[rank]))


def order_far(pumps: list[PumpPlace]) -> Iterator[int]:
    """Yield the pumps' numbers, each farthest from those before it; another turn is far too.

    Parameters
    ----------
    pumps : list of PumpPlace
        At least one.

    Yields
    ------
    int
        The first is 0.

    Source
    ------
    Gonzalez, "Clustering to minimize the maximum intercluster distance", Theoretical Computer Science 38 (1985);
    recalled, not verified.
    """
    inlets = np.array([place.inlet for place in pumps])
    turns = np.array([place.turn_deg for place in pumps])
    size = max(float(np.ptp(inlets, axis=0).max()), 1.0)
    away = np.full(len(pumps), np.inf)
    number = 0
    for _ in pumps:
        yield number
        to = np.hypot(*(inlets - inlets[number]).T) / size
        away = np.minimum(away, np.hypot(to, TURN_APART * (turns != turns[number])))
        away[number] = -1.0
        number = int(np.argmax(away))


def _list_tanks(ground: Ground, field: CostField, reasons: Counter[str]) -> _Tanks:
    boxes = np.array(list_tanks(ground, reasons)).reshape(-1, 4)
    feet = np.array(list_outlets(ground)).reshape(-1, 2)
    if len(boxes):
        return _Tanks(boxes, feet, field.bound_tanks(boxes), field.bound_tanks(boxes, trees=True))
    return _Tanks(boxes, feet, np.zeros(len(feet)), np.zeros(len(feet)))


def _make_placement(field: CostField, place: PumpPlace, tanks: _Tanks, tank: int, bound: float) -> Placement:
    box: Box | None = None
    if len(tanks.boxes):
        x0, y0, x1, y1 = (float(v) for v in tanks.boxes[tank])
        box = (x0, y0, x1, y1)
    top = (place.inlet[0], float(tanks.lows[tank]))
    trees = field.bound_trees(place) + float(tanks.trees[tank])
    return Placement(place.inlet, place.outlet, place.turn_deg, place.screws, box, top, bound, trees)


def _rank_tanks(
    ground: Ground, field: CostField, place: PumpPlace, tanks: _Tanks, reasons: Counter[str]
) -> tuple[np.ndarray, np.ndarray]:
    """Return the tanks that can stand over a pump, the least bound first, and their bounds."""
    drops = tanks.lows - place.inlet[1]
    if len(tanks.boxes):
        which = np.flatnonzero(match_tanks(ground, place, tanks.boxes, reasons))
    else:
        over = (np.abs(tanks.feet[:, 0] - place.inlet[0]) < SAME_MM) & (drops > 0)
        which = np.flatnonzero(over)
        which = which[match_drops(ground, place, tanks.lows[which], reasons)]
    if not len(which):
        return which, np.zeros(0)
    bounds = field.refine_pump(place, float(tanks.lows[which].min())) + tanks.bounds[which]
    bounds += field.feed(drops[which])
    if len(tanks.boxes):
        bounds += field.bound_direct(place, tanks.boxes[which])
    order = np.argsort(np.round(bounds, 6), kind="stable")
    return which[order], bounds[order]
