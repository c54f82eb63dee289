"""Place and route: one search over tank, pump, ports and channels, verified before it is handed on.

The places of tank and pump come with a bound each, least first (`layouts.place_bounds`). The most promising are laid
out and routed, each only as long as it may still beat the best; where they fail, others from all over the box
(`layouts.place_order`). A longer search first does all that a shorter one does, and goes on from there. Then the
bound is raised where it is least: by what the channels of that place cost round each other, until no place can beat
the best, or the effort is spent. The least bound of all places, those never looked at included, bounds every layout
of the panel on its grid.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import chain, islice

from geom.errors import LayoutError, RillplateError
from layouts.as_routed import to_routed
from layouts.confirm_remedies import confirm_remedies
from layouts.cost_field import CostField
from layouts.explain import explain_failure
from layouts.failure import LayoutFailure
from layouts.fixed_bound import bound_fixed, spare_trees
from layouts.ground import Ground, survey_panel
from layouts.laid_out import LaidOut, as_laid
from layouts.panel import Panel
from layouts.place_order import Look, PlaceOrder, spread_looks
from layouts.plan import Routed
from layouts.refused import explain_refused
from layouts.release_routes import release_routes
from layouts.routing.all_channels.negotiate import CHEAP_ENDS, Negotiation
from layouts.routing.all_channels.route_instance import Routing, improve_routing, route_instance
from layouts.routing.bound.prove import prove_bound
from layouts.routing.effort import NORMAL, QUICK, Effort, list_stages
from layouts.routing.reasons.narrow import find_narrow
from layouts.routing.trees.trees import FEW_SEARCHES
from layouts.terrain import Terrain, lay_terrain
from layouts.verify import verify_routed

FEWER = 6
"""Where no place failed, that many times fewer are routed although they are guessed to be dearer."""

MOST_PASSED = 10
"""Places passed by for each one that is routed although it is guessed to be dearer."""

MOST_REFUSED = 3
"""Places tried for each one that may fail: most are told to be impossible at once, and cost little."""

MOST_FAILED = 8
"""Of the most promising places, those that may fail although every channel can be reached."""

FIRST_RESTARTS = 3
"""Restarts for the first place that fails; after it each gets one."""

AS_LOW = 1.002
"""Times the least bound: places whose bound is less are as low as the least."""

LIKE = 0.9
"""Share of what another place with the same turn of the pump missed its bound by that a place is taken to miss.

Without rounds of prices, all of it: few places are tried then."""

SAME_UNITS = 0.5
"""Costs are whole units: what differs by less is the same."""


@dataclass(frozen=True, slots=True)
class _Found:
    look: Look
    terrain: Terrain
    routing: Routing
    cost: float


class _Search:
    """The search over placements: the best layout so far, what failed, and what was refused."""

    def __init__(
        self, ground: Ground, field: CostField, seed: int, effort: Effort, tell: Callable[[str], None]
    ) -> None:
        self.ground = ground
        self.field = field
        self.tell = tell
        self.seed = seed
        self.effort = effort
        self.best: _Found | None = None
        self.failed: tuple[Terrain, Routing] | None = None
        self.failed_counted = False
        self.shut: LayoutError | None = None
        self.refused: list[str] = []
        self.refused_first: tuple[Terrain, Routing] | None = None
        self.order = PlaceOrder(ground, field)
        self.bound = -math.inf
        self.tried = self.given_up = self.impossible = 0
        self.slack: dict[int, float] = {}
        self.trees = any(len(need.ends) > 2 for need in ground.needs)

    def look(self, look: Look, guess: bool = True) -> bool:
        """Lay a placement out and route it, unless it cannot beat the best, or is guessed not to.

        Returns
        -------
        bool
            Whether it was routed, or tried to be.
        """
        best = math.inf if self.best is None else self.best.cost
        searches = self.effort.tree_searches if self.trees else 0
        # A channel reaches its ends from nowhere, whatever stands beside it. The first such place is laid out all the
        # same: it tells why.
        hopeless = math.isinf(look.bound)
        if hopeless and (look.proven or self.failed is not None):
            self.tried += not look.proven
            self.impossible += not look.proven
            look.proven = True
            return False
        if look.searches >= searches or self._cannot_beat(look, guess):
            return False
        self.tried += look.searches < 0
        self.tell(f"placement {self.tried}")
        look.searches = searches
        terrain = self._lay(look)
        if terrain is None:
            return False
        alone, unreachable = _bound_alone(terrain)
        look.bound = max(look.bound, alone)
        if unreachable:
            names = tuple(terrain.instance.nets[n].name for n in unreachable)
            self._refuse(look, terrain, Routing((), math.inf, (), None, names, unreachable, 0))
            return False
        if self._cannot_beat(look, guess):
            return False
        # Where one place failed, others often cannot be routed at all: that is told far sooner.
        narrow = find_narrow(terrain.instance) if self.best is None and self.given_up > 0 else None
        if narrow is not None:
            names = tuple(terrain.instance.nets[n].name for n in narrow.nets)
            shut = () if narrow.cells else narrow.nets
            self._refuse(look, terrain, Routing((), math.inf, (), None, names, shut, 0))
            return False
        restarts = FIRST_RESTARTS if (self.best is None and self.given_up == 0) or self.trees else 1
        cheap = all(len(net.ends) <= CHEAP_ENDS for net in terrain.instance.nets)
        searches = min(searches, FEW_SEARCHES) if cheap else 0
        routing = route_instance(terrain.instance, self.seed, 0, restarts, best - terrain.feed, searches)
        if hopeless:
            self._refuse(look, terrain, routing)
        elif routing.conflicting:
            self._fail(terrain, routing)
            self.given_up += self.best is None
        elif routing.traces or not terrain.instance.nets:
            turn = look.placement.turn_deg
            slack = routing.cost + terrain.feed - look.bound
            self.slack[turn] = min(slack, self.slack.get(turn, math.inf))
            self._take(look, terrain, routing)
        return True

    def _lay(self, look: Look) -> Terrain | None:
        """Return a placement's terrain; None, noted as proven, where a kept route cannot stand with it."""
        try:
            return lay_terrain(self.ground, look.placement)
        except LayoutError as error:
            look.bound, look.proven = math.inf, True
            self.impossible += 1
            self.shut = self.shut or error
            return None

    def _cannot_beat(self, look: Look, guess: bool) -> bool:
        if self.best is None:
            return False
        return (self._estimate(look) if guess else look.bound) >= self.best.cost - SAME_UNITS

    def _refuse(self, look: Look, terrain: Terrain, routing: Routing) -> None:
        """Note that a placement is proven impossible."""
        look.bound, look.proven = math.inf, True
        self.impossible += 1
        self._fail(terrain, routing, counted=True)

    def _estimate(self, look: Look) -> float:
        """Return a guess of what a placement costs: it misses its bound as others of the pump's turn do.

        A place whose guess is no better than the best is not routed; its bound stands as it is.
        """
        like = LIKE if self.effort.bound_rounds else 1.0
        return look.bound + like * self.slack.get(look.placement.turn_deg, 0.0)

    def _fail(self, terrain: Terrain, routing: Routing, counted: bool = False) -> None:
        """Keep what came nearest to a routing, and whether it is counted as proven impossible."""
        if self.failed is None or _rank_failure(terrain, routing) < _rank_failure(*self.failed):
            self.failed = terrain, routing
            self.failed_counted = counted

    def improve(self) -> None:
        """Improve the best layout in its place."""
        best = self.best
        assert best is not None
        effort = self.effort
        routing = improve_routing(
            best.terrain.instance, best.routing, self.seed, effort.group_steps, effort.tree_searches
        )
        self._take(best.look, best.terrain, routing)

    def lift_bounds(self, looks: list[Look]) -> float:
        """Raise the bounds by what the channels that meet neither tank nor pump cost round each other.

        Parameters
        ----------
        looks : list of Look

        Returns
        -------
        float
            By how much; 0 with an effort without rounds of prices.
        """
        assert self.best is not None
        if self.effort.bound_rounds == 0:
            return 0.0
        field = self.field
        together = bound_fixed(self.ground, field, self.best.routing.traces, self.effort, self.seed)
        lift = max(0.0, together - field.fixed)
        for look in looks:
            look.bound = max(look.bound, look.placement.bound + lift)
        return lift

    def prove(self, look: Look) -> None:
        """Raise the bound of a placement; take what is found on the way."""
        best = self.best
        assert best is not None
        here = look is best.look
        terrain = best.terrain if here else self._lay(look)
        if terrain is None:
            return
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

    def _take(self, look: Look, terrain: Terrain, routing: Routing) -> None:
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
    """Return tank, pump, ports and channels, placed and routed, as `lay_out` does.

    Parameters
    ----------
    panel : Panel
    seed : int
    effort : Effort
    progress : callable or None

    Returns
    -------
    Routed

    Raises
    ------
    LayoutError
    """
    return lay_out(panel, seed, effort, progress).routed


def lay_out(
    panel: Panel, seed: int = 0, effort: Effort = NORMAL, progress: Callable[[str], None] | None = None
) -> LaidOut:
    """Return tank, pump, ports and channels, placed and routed, with what they are on the grid.

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
    LaidOut
        Verified on exact outlines. Its bound holds for every layout on the panel's grid, as
        `layouts.place_bounds` says what every means, whose channels keep off themselves and which keeps the routes
        that the file keeps.

    Raises
    ------
    LayoutError
        Where nothing was found: names the channel and what blocks it.
    """
    tell = progress or _tell_nobody
    try:
        return _lay_out(panel, seed, effort, tell)
    except LayoutError as error:
        confirmed = confirm_remedies(panel, error, lambda changed: _finds(changed, seed, tell), effort)
        raise release_routes(
            panel, confirmed, lambda changed, quick: _lay_out(changed, seed, quick, tell), effort
        ) from None


def _finds(panel: Panel, seed: int, tell: Callable[[str], None]) -> bool:
    """Return whether a quick search finds a layout; why not is not looked for."""
    try:
        return _search(panel, seed, QUICK, tell).best is not None
    except RillplateError:
        return False


def _search(panel: Panel, seed: int, effort: Effort, tell: Callable[[str], None]) -> _Search:
    ground = survey_panel(panel)
    search = _Search(ground, CostField(ground), seed, effort, tell)
    for stage in list_stages(effort):
        search.effort = stage
        _run_stage(search)
    return search


def _lay_out(panel: Panel, seed: int, effort: Effort, tell: Callable[[str], None]) -> LaidOut:
    search = _search(panel, seed, effort, tell)
    if search.best is None:
        raise _fail(search)
    best = search.best
    return as_laid(best.terrain, best.routing.traces, min(search.bound, best.cost))


def _run_stage(search: _Search) -> None:
    """Search as long as the stage's effort allows, from the best layout and the bound found so far."""
    order, effort = search.order, search.effort
    window = list(order.pull(effort.placements))
    beyond = next(iter(order.pull(effort.placements + 1)[effort.placements :]), None)
    firsts = order.find_firsts()
    window.extend(look for look in firsts if all(look is not other for other in window))
    for look in chain(firsts, spread_looks(window, search.ground.panel.pitch)):
        if search.best is None and search.given_up >= MOST_FAILED:
            break
        search.look(look)
    if search.best is None:
        _look_further(search)
    if search.best is None:
        return
    _look_around(search)
    search.tell("improving")
    search.improve()
    for look in window:
        # The stage before may have raised it as far as its own effort went.
        look.proven = math.isinf(look.bound)
    lift = search.lift_bounds(window)
    first = search.best.look
    for look in window:
        search.look(look)
    if search.best.look is not first:
        search.improve()
    bound = _raise_bound(search, window, math.inf if beyond is None else beyond.placement.bound + lift)
    search.bound = max(search.bound, bound)


def _tell_nobody(what: str) -> None:
    pass


def _raise_bound(search: _Search, window: list[Look], beyond: float) -> float:
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
        search.tell(f"bound {number + 1}")
        search.prove(least)
    assert search.best is not None
    return min(search.best.cost, beyond, *(look.bound for look in window))


def _look_further(search: _Search) -> None:
    """Try places beyond the most promising ones until one can be routed, or the effort is spent."""
    for look in search.order.find_further():
        search.look(look)
        spent = search.given_up >= search.effort.failures
        if search.best is not None or spent or search.tried >= MOST_REFUSED * search.effort.failures:
            return


def _look_around(search: _Search) -> None:
    """Route places that are unlike those tried and may be cheaper than the best, whatever is guessed of them."""
    # Where none of the most promising places failed, guesses from them are good.
    most = search.effort.regions if search.given_up else search.effort.regions // FEWER
    count = 0
    for look in islice(search.order.find_further(), MOST_PASSED * most):
        if count >= most:
            return
        count += search.look(look, guess=False)


def _bound_alone(terrain: Terrain) -> tuple[float, tuple[int, ...]]:
    """Return what a placement costs at least by each channel alone, and channels with an end out of reach."""
    search = Negotiation(terrain.instance)
    bound, unreachable = terrain.feed + terrain.placement.trees, []
    for number, net in enumerate(terrain.instance.nets):
        if len(net.ends) > 2:
            # What it costs alone is in the placement's own bound; without any place for an end there is no tree.
            if not all(net.ends):
                unreachable.append(number)
            continue
        # A way that cannot keep off itself is none either, but that is not proven.
        if search.route_alone(number) is None and math.isinf(search.least[number]):
            unreachable.append(number)
        bound += search.least[number]
    return bound, tuple(unreachable)


def _rank_failure(terrain: Terrain, routing: Routing) -> tuple[int, int, float]:
    """Return how far a failed routing is from success: everything reachable, few conflicts, a promising place."""
    return len(routing.unreachable), len(routing.conflicting), terrain.placement.bound


def _fail(search: _Search) -> LayoutError:
    """Return why there is no layout."""
    panel = search.ground.panel
    counts = (search.tried, search.impossible, search.order.count_all())
    if search.refused_first is not None:
        terrain, routing = search.refused_first
        return LayoutError(
            explain_refused(panel, terrain, routing.traces, tuple(search.refused), *counts, search.effort)
        )
    if search.failed is None:
        # No place that was looked at takes the kept routes.
        assert search.shut is not None
        failure = search.shut.failure
        assert isinstance(failure, LayoutFailure)
        tried, impossible, places = counts
        return LayoutError(replace(failure, tried=tried, impossible=impossible, places=places))
    terrain, routing = search.failed

    def lay(changed: Panel) -> Terrain:
        return lay_terrain(survey_panel(changed), terrain.placement)

    return LayoutError(
        explain_failure(panel, terrain, routing, lay, search.effort, *counts, search.failed_counted)
    )
