"""In which order the places of tank and pump are tried: the most promising first, or spread over all there are.

Among the places with the least bounds most are near copies of each other: where one cannot be routed, neither can
the next. So the places that are tried after them are drawn from all over the pump's box, in every turn.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from layouts.cost_field import CostField
from layouts.ground import Ground
from layouts.place import Placement, list_pumps
from layouts.place_bounds import find_placements, spread_placements

MOST_PULLED = 20_000
"""Places that are passed by on the way, each much like one tried before."""

LIKE_PITCHES = 2.5
"""Pitches: two places whose pump and tank are less far apart are much alike."""


@dataclass(slots=True)
class Look:
    """What is known of one placement.

    Parameters
    ----------
    placement : Placement
    bound : float
        The least that it can cost.
    proven : bool
        Whether that has been tried to raise by all its channels together.
    searches : int
        Searches for each whole tree with which it was routed; -1: it was not.
    """

    placement: Placement
    bound: float
    proven: bool = False
    searches: int = -1


class PlaceOrder:
    """The places of a panel, pulled one by one; each has one look for good."""

    def __init__(self, ground: Ground, field: CostField) -> None:
        self.ground = ground
        self.field = field
        self.best_first: list[Look] = []
        self._left = find_placements(ground, field)
        self._looks: dict[Placement, Look] = {}
        self._further = self._find_further()

    def _look_at(self, placement: Placement) -> Look:
        return self._looks.setdefault(placement, Look(placement, placement.bound))

    def pull(self, count: int) -> list[Look]:
        """Return the `count` places of the least bounds, fewer where there are no more."""
        while len(self.best_first) < count:
            placement = next(self._left, None)
            if placement is None:
                break
            self.best_first.append(self._look_at(placement))
        return self.best_first[:count]

    def count_all(self) -> int:
        """Return how many places there are."""
        return len(self.best_first) + sum(1 for _ in self._left)

    def find_firsts(self) -> list[Look]:
        """Return the most promising place for each turn of the pump, the least bound first.

        What a turn costs beyond its bound differs by far more than what one place differs from the next.
        """
        turns = self.ground.panel.pump.turns
        pumps = list_pumps(self.ground, Counter()) if len(turns) > 1 else []
        firsts = []
        for turn in turns:
            of_turn = [place for place in pumps if place.turn_deg == turn]
            placement = next(find_placements(self.ground, self.field, of_turn), None) if of_turn else None
            if placement is not None:
                firsts.append(self._look_at(placement))
        return sorted(firsts, key=lambda look: look.bound)

    def find_further(self) -> Iterator[Look]:
        """Yield places not yet routed, by turns the two most promising unlike those before, and one far from all.

        Asked again it goes on where it stopped.
        """
        return self._further

    def _find_further(self) -> Iterator[Look]:
        near, far = self._find_unlike(), self._find_far()
        while True:
            looks = [
                look for look in (next(near, None), next(near, None), next(far, None)) if look is not None
            ]
            if not looks:
                return
            yield from looks

    def _find_unlike(self) -> Iterator[Look]:
        pitch = self.ground.panel.pitch
        known = [look.placement for look in self._looks.values() if look.searches >= 0]
        for number in range(MOST_PULLED):
            if len(self.pull(number + 1)) <= number:
                return
            look = self.best_first[number]
            if look.searches >= 0 or any(_alike(look.placement, other, pitch) for other in known):
                continue
            known.append(look.placement)
            yield look

    def _find_far(self) -> Iterator[Look]:
        for placement in spread_placements(self.ground, self.field):
            look = self._look_at(placement)
            if look.searches < 0:
                yield look


def spread_looks(looks: list[Look], pitch: float) -> Iterator[Look]:
    """Yield places best first, near copies of those yielded before put off to the end."""
    kept: list[Look] = []
    near: list[Look] = []
    for look in looks:
        if any(_alike(look.placement, other.placement, pitch) for other in kept):
            near.append(look)
        else:
            kept.append(look)
            yield look
    yield from near


def _alike(one: Placement, two: Placement, pitch: float) -> bool:
    corner, other = (one.box or one.top)[:2], (two.box or two.top)[:2]
    return (
        one.turn_deg == two.turn_deg
        and math.dist(one.inlet, two.inlet) < LIKE_PITCHES * pitch
        and math.dist(corner, other) < LIKE_PITCHES * pitch
    )
