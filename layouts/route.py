"""Place and route: one search over tank, pump, ports and channels, verified before it is handed on.

The places of tank and pump come with a bound each, least first (`layouts.place_bounds`). The most promising are
laid out and routed, each only as long as it may still beat the best. Then the bound is raised where it is least: by
what the channels of that place cost round each other, until no place can beat the best, or the effort is spent. The
least bound of all places, those never looked at included, bounds every layout of the panel on its grid.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import chain, islice

from geom.errors import LayoutError
from layouts.as_routed import to_routed
from layouts.cost_field import CostField
from layouts.explain import explain_failure
from layouts.fixed_bound import bound_fixed, spare_trees
from layouts.ground import Ground, survey_panel
from layouts.panel import Panel
from layouts.place import Placement, list_pumps
from layouts.place_bounds import find_placements
from layouts.plan import Routed
from layouts.refused import explain_refused
from layouts.routing.effort import NORMAL, Effort
from layouts.routing.narrow import find_narrow
from layouts.routing.negotiate import CHEAP_ENDS, Negotiation, Routing, improve_routing, route_instance
from layouts.routing.prove import prove_bound
from layouts.routing.trees import FEW_SEARCHES
from layouts.terrain import Terrain, lay_terrain
from layouts.verify import verify_routed

MOST_BEYOND = 40
"""Places tried beyond the most promising ones while none could be routed."""

MOST_PULLED = 20_000
"""Places that are passed by on the way, each much like one tried before."""

MOST_FAILED = 8
"""Places that may fail although every channel can be reached, before giving up."""

FIRST_RESTARTS = 3
"""Restarts for the first place that fails; after it each gets one."""

AS_LOW = 1.002
"""Times the least bound: places whose bound is less are as low as the least."""

LIKE = 0.9
"""Share of what another place with the same turn of the pump missed its bound by that a place is taken to miss.

Without rounds of prices, all of it: few places are tried then."""

SAME_UNITS = 0.5
"""Costs are whole units: what differs by less is the same."""


@dataclass(slots=True)
class _Look:
    """What is known of one placement: the least that it can cost, whether that has been tried to raise by all its
    channels together, and whether it has been routed."""

    placement: Placement
    bound: float
    proven: bool = False
    routed: bool = False


@dataclass(frozen=True, slots=True)
class _Found:
    look: _Look
    terrain: Terrain
    routing: Routing
    cost: float


class _Search:
    """The search over placements: the best layout so far, what failed, and what was refused."""

    def __init__(self, ground: Ground, seed: int, effort: Effort, tell: Callable[[str], None]) -> None:
        self.ground = ground
        self.tell = tell
        self.seed = seed
        self.effort = effort
        self.best: _Found | None = None
        self.failed: tuple[Terrain, Routing] | None = None
        self.refused: list[str] = []
        self.refused_first: tuple[Terrain, Routing] | None = None
        self.pulled = 0
        self.tried = self.given_up = self.impossible = 0
        self.slack: dict[int, float] = {}
        self.trees = any(len(need.ends) > 2 for need in ground.needs)

    def count(self, placements: Iterator[Placement]) -> Iterator[Placement]:
        """Yield placements, and count them."""
        for placement in placements:
            self.pulled += 1
            yield placement

    def look(self, look: _Look) -> None:
        """Lay a placement out and route it, unless it cannot beat the best."""
        best = math.inf if self.best is None else self.best.cost
        if look.routed or (self.best is not None and self._estimate(look) >= best - SAME_UNITS):
            return
        self.tried += 1
        self.tell(f"placement {self.tried}")
        look.routed = True
        terrain = lay_terrain(self.ground, look.placement)
        alone, unreachable = _bound_alone(terrain)
        look.bound = max(look.bound, alone)
        if unreachable:
            names = tuple(terrain.instance.nets[n].name for n in unreachable)
            look.bound, look.proven = math.inf, True
            self.impossible += 1
            self._fail(terrain, Routing((), math.inf, (), None, names, unreachable, 0))
            return
        if self.best is not None and self._estimate(look) >= best - SAME_UNITS:
            return
        # Where one place failed, others often cannot be routed at all: that is told far sooner.
        narrow = find_narrow(terrain.instance) if self.best is None and self.given_up > 0 else None
        if narrow is not None:
            look.bound, look.proven = math.inf, True
            self.impossible += 1
            names = tuple(terrain.instance.nets[n].name for n in narrow.nets)
            self._fail(terrain, Routing((), math.inf, (), None, names, (), 0))
            return
        restarts = FIRST_RESTARTS if self.given_up == 0 or self.trees else 1
        cheap = all(len(net.ends) <= CHEAP_ENDS for net in terrain.instance.nets)
        searches = min(self.effort.tree_searches, FEW_SEARCHES) if cheap else 0
        routing = route_instance(terrain.instance, self.seed, 0, restarts, best - terrain.feed, searches)
        if routing.conflicting:
            self._fail(terrain, routing)
        elif routing.traces:
            turn = look.placement.turn_deg
            slack = routing.cost + terrain.feed - look.bound
            self.slack[turn] = min(slack, self.slack.get(turn, math.inf))
            self._take(look, terrain, routing)

    def _estimate(self, look: _Look) -> float:
        """Return a guess of what a placement costs: it misses its bound as others of the pump's turn do.

        A place whose guess is no better than the best is not routed; its bound stands as it is.
        """
        like = LIKE if self.effort.bound_rounds else 1.0
        return look.bound + like * self.slack.get(look.placement.turn_deg, 0.0)

    def _fail(self, terrain: Terrain, routing: Routing) -> None:
        if self.failed is None or _rank_failure(terrain, routing) < _rank_failure(*self.failed):
            self.failed = terrain, routing
        self.given_up += not routing.unreachable

    def improve(self) -> None:
        """Improve the best layout in its place."""
        best = self.best
        assert best is not None
        effort = self.effort
        routing = improve_routing(
            best.terrain.instance, best.routing, self.seed, effort.group_steps, effort.tree_searches
        )
        self._take(best.look, best.terrain, routing)

    def lift_bounds(self, looks: list[_Look], field: CostField) -> float:
        """Raise the bounds by what the channels that meet neither tank nor pump cost round each other.

        Parameters
        ----------
        looks : list of _Look
        field : CostField
            Its bounds are held already.

        Returns
        -------
        float
            By how much; 0 with an effort without rounds of prices.
        """
        assert self.best is not None
        if self.effort.bound_rounds == 0:
            return 0.0
        together = bound_fixed(self.ground, field, self.best.routing.traces, self.effort, self.seed)
        lift = max(0.0, together - field.fixed)
        for look in looks:
            look.bound = max(look.bound, look.placement.bound + lift)
        return lift

    def prove(self, look: _Look) -> None:
        """Raise the bound of a placement; take what is found on the way."""
        best = self.best
        assert best is not None
        here = look is best.look
        terrain = best.terrain if here else lay_terrain(self.ground, look.placement)
        traces = best.routing.traces if here else ()
        beat = best.cost - terrain.feed
        effort = spare_trees(terrain.instance, self.effort)
        if self.trees and not here:
            # What the trees cost alone is most of what is to be proven.
            effort = replace(effort, bound_rounds=min(effort.bound_rounds, 1))
        proof = prove_bound(terrain.instance, traces, effort, self.seed, beat)
        look.proven = True
        if proof.bound is not None:
            look.bound = max(look.bound, proof.bound + terrain.feed)
        if proof.traces and proof.cost + terrain.feed < best.cost - SAME_UNITS:
            self._take(look, terrain, Routing(proof.traces, proof.cost, (), proof.bound, (), (), 0))

    def _take(self, look: _Look, terrain: Terrain, routing: Routing) -> None:
        """Make a routing the best one if it is cheaper and keeps all distances on exact outlines."""
        cost = routing.cost + terrain.feed
        if self.best is not None and cost >= self.best.cost - SAME_UNITS:
            return
        problems = verify_routed(self.ground.panel, to_routed(terrain, routing.traces, None))
        self.refused.extend(problems)
        if problems:
            self.refused_first = self.refused_first or (terrain, routing)
        else:
            self.best = _Found(look, terrain, routing, cost)


def route_panel(
    panel: Panel, seed: int = 0, effort: Effort = NORMAL, progress: Callable[[str], None] | None = None
) -> Routed:
    """Return tank, pump, ports and channels, placed and routed.

    Parameters
    ----------
    panel : Panel
    seed : int
        Same seed, same answer.
    effort : Effort
    progress : callable or None
        Told in a few words what is being tried.

    Returns
    -------
    Routed
        Verified on exact outlines. Its bound holds for every layout on the panel's grid, as
        `layouts.place_bounds` says what every means, whose channels keep off themselves.

    Raises
    ------
    LayoutError
        Where nothing was found: names the channel and what blocks it.
    """
    ground = survey_panel(panel)
    field = CostField(ground)
    tell = progress or _tell_nobody
    search = _Search(ground, seed, effort, tell)
    placements = search.count(find_placements(ground, field))
    window = [_Look(p, p.bound) for p in islice(placements, effort.placements)]
    beyond = next(placements, None)
    for look in _first_of_turns(ground, field, window):
        search.look(look)
    for look in _spread(window, panel.pitch):
        if search.best is None and search.given_up >= MOST_FAILED:
            break
        search.look(look)
    if search.best is None and beyond is not None:
        _look_further(search, window, chain((beyond,), placements))
    if search.best is None:
        raise _fail(search, placements)
    tell("improving")
    search.improve()
    lift = search.lift_bounds(window, field)
    first = search.best.look
    for look in window:
        search.look(look)
    if search.best.look is not first:
        search.improve()
    bound = _raise_bound(search, window, math.inf if beyond is None else beyond.bound + lift, tell)
    best = search.best
    return to_routed(best.terrain, best.routing.traces, bound)


def _tell_nobody(what: str) -> None:
    pass


def _raise_bound(search: _Search, window: list[_Look], beyond: float, tell: Callable[[str], None]) -> float:
    """Return the bound of all layouts, raised where it is least, as long as the effort lasts."""
    for number in range(search.effort.proofs):
        assert search.best is not None
        least = min(window, key=lambda look: look.bound)
        if search.trees:
            # Trees propose no better routing: only a bound that stands alone is worth the work.
            as_low = sum(1 for look in window if look.bound < least.bound * AS_LOW)
            if as_low > search.effort.proofs - number:
                break
        elif not search.best.look.proven and number == 0:
            least = search.best.look
        wanted = least is search.best.look or least.bound < min(search.best.cost - SAME_UNITS, beyond)
        if least.proven or not wanted:
            break
        tell(f"bound {number + 1}")
        search.prove(least)
    assert search.best is not None
    return min(search.best.cost, beyond, *(look.bound for look in window))


def _look_further(search: _Search, tried: list[_Look], placements: Iterator[Placement]) -> None:
    """Try placements beyond the most promising ones, each unlike those tried, until one can be routed."""
    pitch = search.ground.panel.pitch
    known = [look.placement for look in tried]
    count = 0
    for placement in islice(placements, MOST_PULLED):
        if count >= MOST_BEYOND or search.best is not None or search.given_up >= 2 * MOST_FAILED:
            return
        if any(_alike(placement, other, pitch) for other in known):
            continue
        known.append(placement)
        count += 1
        search.look(_Look(placement, placement.bound))


def _first_of_turns(ground: Ground, field: CostField, window: list[_Look]) -> list[_Look]:
    """Return the most promising place for each turn of the pump, the least bound first; the window then holds them.

    What a turn costs beyond its bound differs by far more than what one place differs from the next.
    """
    known = {look.placement: look for look in window}
    firsts = []
    turns = ground.panel.pump.turns
    pumps = list_pumps(ground, Counter()) if len(turns) > 1 else []
    for turn in turns:
        of_turn = [place for place in pumps if place.turn_deg == turn]
        placement = next(find_placements(ground, field, of_turn), None) if of_turn else None
        if placement is not None:
            firsts.append(known.get(placement) or _Look(placement, placement.bound))
    window.extend(look for look in firsts if look.placement not in known)
    return sorted(firsts, key=lambda look: look.bound)


def _spread(looks: list[_Look], pitch: float) -> Iterator[_Look]:
    """Yield placements best first, near copies of those yielded before put off to the end."""
    kept: list[_Look] = []
    near: list[_Look] = []
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
        and math.dist(one.inlet, two.inlet) < 2.5 * pitch
        and math.dist(corner, other) < 2.5 * pitch
    )


def _bound_alone(terrain: Terrain) -> tuple[float, tuple[int, ...]]:
    """Return what a placement costs at least by each channel alone, and the channels of two ends out of reach."""
    search = Negotiation(terrain.instance)
    bound, unreachable = terrain.feed + terrain.placement.trees, []
    for number, net in enumerate(terrain.instance.nets):
        if len(net.ends) > 2:
            continue
        # A way that cannot keep off itself is none either, but that is not proven.
        if search.route_alone(number) is None and math.isinf(search.least[number]):
            unreachable.append(number)
        bound += search.least[number]
    return bound, tuple(unreachable)


def _rank_failure(terrain: Terrain, routing: Routing) -> tuple[int, int, float]:
    """Return how far a failed routing is from success: everything reachable, few conflicts, a promising place."""
    return len(routing.unreachable), len(routing.conflicting), terrain.placement.bound


def _fail(search: _Search, left: Iterator[Placement]) -> LayoutError:
    """Return why there is no layout."""
    panel = search.ground.panel
    for _ in left:
        pass
    counts = (search.tried, search.impossible, search.pulled)
    if search.refused_first is not None:
        terrain, routing = search.refused_first
        return LayoutError(explain_refused(panel, terrain, routing.traces, tuple(search.refused), *counts))
    assert search.failed is not None
    terrain, routing = search.failed

    def lay(changed: Panel) -> Terrain:
        return lay_terrain(survey_panel(changed), terrain.placement)

    return LayoutError(explain_failure(panel, terrain, routing, lay, search.effort, *counts))
