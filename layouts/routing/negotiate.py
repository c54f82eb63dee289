"""Routing all channels: negotiated congestion, then single-channel improvement, then larger neighbourhoods.

Every channel is routed alone at first. Where two stand too close both pay a price for the place, and the
price grows with every round and with the place's history, until one gives way. What is found is improved by
rerouting one channel at a time, and then by taking out a channel together with those that block its ideal
path and routing them again in another order.

Source
------
McMurchie and Ebeling, "PathFinder: A Negotiation-Based Performance-Driven Router for FPGAs", FPGA 1995
(the negotiation); Ropke and Pisinger, "An Adaptive Large Neighborhood Search Heuristic", Transportation
Science 40 (2006) (the last step).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from layouts.routing.find_way import MOST_CROWD, PORT_PRICE, mark_features, note_clashes
from layouts.routing.instance import Instance, Terminal
from layouts.routing.search import INFINITE, mark_near
from layouts.routing.trace import Trace, Tracer
from layouts.routing.trees import FEW_SEARCHES, MOST_SEARCHES, SAME, improve_tree
from layouts.routing.ways import Way, WayFinder, way_of

RESTARTS = (
    # first price, growth a round, rounds: the first settles most instances, the rest vary the pressure.
    (0.5, 1.6, 50),
    (0.2, 1.3, 80),
    (1.0, 1.6, 80),
    (0.1, 1.2, 150),
    (0.5, 1.6, 50),
    (2.0, 1.3, 80),
    (0.3, 1.6, 80),
    (0.7, 1.2, 150),
)
HISTORY = 0.6
"""What a place that two nets wanted costs more from then on, in steps."""

MOST_PRICE = 1e4

NOISE = 0.3
"""Most that a cell costs at random where a group is routed in turn, in steps."""

MOST_OTHERS = 3
"""Nets that are taken out together with the one that is to become cheaper."""

BIDDING, GROUP_ROUNDS = 0.2, 10
"""Share of groups that bid for cells instead of being routed in turn, and their rounds."""

STEPS_A_START = 100
"""Steps of the last improvement for which one more routing is begun."""

LATER_STARTS = (4, 2, 1)
"""Of the routings begun the cheapest are improved further, fewer each time, with as many steps together."""

TREE_STARTS, TREE_ROUNDS = 3, 25
"""Routings begun at least, and most rounds of each, where there are trees: their shapes differ with each pair of ends
that they begin with, and what has not settled by then seldom does."""

CHEAP_ENDS = 4
"""Ends up to which a whole tree is searched in some ten milliseconds; with more ends that many times fewer are."""

LARGE = 5000
"""Cells beyond which a step of the last improvement takes so long that fewer are done."""

MOST_ENDS = 8
"""Ends of a tree up to which every pair is tried as its beginning."""


@dataclass(frozen=True, slots=True)
class Routing:
    """What the search found.

    Parameters
    ----------
    traces : tuple of Trace
        In the order of the instance's nets; empty where nothing was found.
    cost : float
        Sum of the traces' costs; infinite where nothing was found.
    ideal : tuple of float
        Cost of each net alone, with nothing else in the plate: infinite where it cannot be reached. No
        routing costs less than their sum, unless a net is a tree or alone had to be kept off itself.
    bound : float or None
        Proven lower bound; None where the instance holds trees.
    conflicting : tuple of str
        Nets that were still too close when the search gave up, or that cannot be reached alone.
    unreachable : tuple of int
        Nets that cannot be reached even alone.
    rounds : int
        Rounds of negotiation, all restarts together.
    """

    traces: tuple[Trace, ...]
    cost: float
    ideal: tuple[float, ...]
    bound: float | None
    conflicting: tuple[str, ...]
    unreachable: tuple[int, ...]
    rounds: int


class Negotiation:
    """The state of one search: which net takes which cells, and what it costs to stand there."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        classes, cells = instance.blocked.shape
        self.classes = classes
        self.taken = np.zeros((classes, cells), np.int32)
        self.stamp = np.zeros(cells, np.int64)
        self.tag = 0
        offsets = [to for row in instance.offsets for to in row]
        self.near_first = np.cumsum([0, *(len(to) for to in offsets)]).astype(np.int64)
        self.near = np.concatenate(offsets).astype(np.int64)
        self.ways: list[Way | None] = [None] * len(instance.nets)
        fixed = [self._fixed_for(n) for n in range(len(instance.nets))]
        self.fixed = [instance.blocked | near for near in fixed]
        self.near_others = [near[net.channel_class] for near, net in zip(fixed, instance.nets, strict=True)]
        self.tracer = Tracer(instance, self.fixed)
        self.alone: list[Trace | None] = [None] * len(instance.nets)
        self.least = [math.inf] * len(instance.nets)
        self.pairs = [_list_pairs(len(net.ends)) for net in instance.nets]
        self.rng = np.random.default_rng(0)
        self.rounds = 0
        self.finder = WayFinder(
            instance, self.fixed, self.near_others, self.tracer, self.near_first, self.near
        )

    @property
    def traces(self) -> list[Trace | None]:
        """How every net stands, None where it has no place."""
        return [None if way is None else self.finder.trace_of(net, way) for net, way in enumerate(self.ways)]

    def _mark(
        self, count: np.ndarray, class_there: int, class_here: int, cells: np.ndarray, amount: int
    ) -> None:
        offsets = self.instance.offsets[class_there][class_here]
        mark_near(
            self.instance.columns, self.instance.rows, cells, offsets, amount, count, self.stamp, self.tag
        )

    def _fixed_for(self, net: int) -> np.ndarray:
        """Return where net's features would stand too near an end of another that has no choice."""
        instance = self.instance
        near = np.zeros_like(instance.blocked)
        count = np.zeros(instance.cells, np.int32)
        for here in range(self.classes):
            count[:] = 0
            for other, there in enumerate(instance.nets):
                if other == net:
                    continue
                for end in there.ends:
                    if len({t.node for t in end}) != 1:
                        continue
                    self.tag += 1
                    self._mark_terminal(count, end[0], here, 1)
                    if len(end) == 1:
                        cells = np.array([end[0].cell, *end[0].tail], np.int64)
                        self._mark(count, there.channel_class, here, cells, 1)
            near[here] = count > 0
        return near

    def _mark_terminal(self, count: np.ndarray, t: Terminal, here: int, amount: int) -> None:
        self._mark(count, t.port_class, here, np.array([t.node, *t.bore], np.int64), amount)

    def put(self, net: int, there: Trace | Way | None) -> None:
        """Take net's place (or give it up, with None), and forget what it took before."""
        new = way_of(self.instance.nets[net], there) if isinstance(there, Trace) else there
        for amount, way in ((-1, self.ways[net]), (1, new)):
            if way is not None:
                columns, rows = self.instance.columns, self.instance.rows
                mark_features(
                    columns,
                    rows,
                    way.cells,
                    way.of_class,
                    self.near_first,
                    self.near,
                    amount,
                    self.taken,
                    self.stamp,
                    self.tag + 1,
                )
                self.tag += self.classes
        self.ways[net] = new

    def route_alone(self, net: int, searches: int = FEW_SEARCHES) -> Trace | None:
        """Return net's cheapest channel with nothing else in the plate; with 0 `searches` trees are grown once."""
        free = np.zeros(self.instance.cells)
        trace = self._trace(net, None, free, None)
        if searches and len(self.instance.nets[net].ends) > 2:
            trace = self._best_tree(net, trace, free, searches)
        self.alone[net] = trace
        self.least[net] = self.tracer.least
        return trace

    def _trace(
        self,
        net: int,
        walls: np.ndarray | None,
        price: np.ndarray,
        ends: np.ndarray | None,
        pair: tuple[int, int] | None = None,
    ) -> Trace | None:
        blocked, busy = self.fixed[net], self.near_others[net]
        if walls is not None:
            blocked, busy = blocked | walls, busy | walls[self.instance.nets[net].channel_class]
        return self.tracer.trace(self.instance.nets[net], blocked, price, ends, pair, busy)

    def _best_tree(self, net: int, trace: Trace | None, price: np.ndarray, searches: int) -> Trace | None:
        best = trace
        for pair in self.pairs[net]:
            other = self._trace(net, None, price, None, pair)
            if other is not None and (best is None or other.cost < best.cost - 1e-9):
                best = other
        return self._improve_tree(net, best, None, searches)

    def _draw_pair(self, net: int) -> tuple[int, int]:
        """Return the ends with which a tree begins: another pair each time, since none suits every neighbour."""
        pairs = self.pairs[net]
        return pairs[int(self.rng.integers(len(pairs)))]

    def _improve_tree(
        self, net: int, trace: Trace | None, walls: np.ndarray | None, searches: int = MOST_SEARCHES
    ) -> Trace | None:
        blocked, busy = self.fixed[net], self.near_others[net]
        if walls is not None:
            blocked, busy = blocked | walls, busy | walls[self.instance.nets[net].channel_class]
        if len(self.instance.nets[net].ends) > CHEAP_ENDS:
            searches = -(-searches // CHEAP_ENDS)
        return improve_tree(self.tracer, self.instance.nets[net], trace, blocked, busy, searches)

    def _improve_trees(self, trees: list[int], beat: float, searches: int) -> bool:
        """Improve trees one at a time round all others; return whether any got cheaper.

        Those of a routing that would not be cheaper than `beat`, were each as cheap as alone, are left.
        """
        slack = 0.0
        for net in trees:
            way, alone = self.ways[net], self.alone[net]
            assert way is not None
            slack += way.cost - (alone.cost if alone is not None else 0.0)
        if beat < math.inf and (slack <= SAME or self.cost() - slack >= beat - SAME):
            return False
        better = False
        for net in trees:
            old = self.traces[net]
            assert old is not None
            self.put(net, None)
            found = self._improve_tree(net, old, self.taken > 0, searches)
            assert found is not None
            self.put(net, found)
            better |= found.cost < old.cost - SAME
        return better

    def negotiate(
        self,
        nets: list[int],
        first_price: float,
        growth: float,
        rounds: int,
        rng: np.random.Generator | None,
        hard: bool = False,
    ) -> list[int]:
        """Route `nets` until none stands too near another; return those that still do (empty: done).

        Parameters
        ----------
        nets : list of int
            All are given up first.
        first_price, growth : float
        rounds : int
        rng : Generator or None
            Shuffles the order in each round.
        hard : bool
            Nets outside `nets` may not be moved and block.
        """
        instance = self.instance
        for net in nets:
            self.put(net, None)
        walls = self.taken > 0 if hard else None
        history = np.zeros((self.classes, instance.cells))
        price = 0.0
        waiting = list(nets)
        for _ in range(rounds):
            self.rounds += 1
            if rng is not None:
                rng.shuffle(waiting)
            for net in waiting:
                self.put(net, None)
                found = self._bid(net, walls, history, price)
                if found is None and walls is None and self.alone[net] is not None:
                    # Prices drove the path back onto itself: its way alone stands in, and pays.
                    found = self.alone[net]
                if found is None:
                    return [net]
                self.put(net, found)
            waiting = [net for net in nets if self._note_clashes(net, history)]
            if not waiting:
                return []
            price = first_price if price == 0.0 else min(price * growth, MOST_PRICE)
        return waiting

    def _note_clashes(self, net: int, history: np.ndarray) -> bool:
        way = self.ways[net]
        assert way is not None
        return note_clashes(way.cells, way.of_class, self.taken, history, HISTORY) > 0

    def _is_plain(self, net: int) -> bool:
        """Return whether one compiled call finds a net's way."""
        own = self.instance.nets[net]
        return len(own.ends) == 2 and own.name not in self.tracer.guides

    def _bid(
        self, net: int, walls: np.ndarray | None, history: np.ndarray, price: float
    ) -> Trace | Way | None:
        """Return net's cheapest place where others may stand too, for a price."""
        if self._is_plain(net):
            return self.finder.find(net, self.taken, walls=walls, history=history, price=price)
        own = self.instance.nets[net]
        crowd = np.minimum(self.taken, MOST_CROWD)
        prices = self.instance.rates_of(own).step * (history + price * crowd * (1 + history))
        ends = PORT_PRICE * prices if self.classes > 1 else None
        return self._trace(net, walls, prices[own.channel_class], ends, self._draw_pair(net))

    def _reroute(
        self, net: int, most: float = INFINITE, noise: np.ndarray | None = None
    ) -> Trace | Way | None:
        """Return net's cheapest place round all others; only one that costs at most `most`, noise included."""
        if self._is_plain(net):
            return self.finder.find(net, self.taken, hard=True, noise=noise, most=most)
        free = np.zeros(self.instance.cells) if noise is None else noise
        return self._trace(net, self.taken > 0, free, None, self._draw_pair(net))

    def improve_each(self, nets: list[int], beat: float = math.inf, searches: int = FEW_SEARCHES) -> None:
        """Reroute one net at a time round all others, until none gets cheaper.

        Trees are searched as a whole, up to `searches` times each, where the routing might become cheaper than
        `beat`; with 0 only their branches are set anew.
        """
        trees = [net for net in nets if len(self.instance.nets[net].ends) > 2]
        better = True
        while better:
            better = False
            for net in nets:
                old = self.ways[net]
                assert old is not None
                if self._is_least(net, old.cost):
                    continue
                self.put(net, None)
                found = self._reroute(net, old.cost - SAME)
                if found is not None and found.cost < old.cost - SAME:
                    self.put(net, found)
                    better = True
                else:
                    self.put(net, old)
            if not better:
                better = self._improve_trees(trees, beat, searches)

    def _is_least(self, net: int, cost: float) -> bool:
        """Return whether a net of two ends costs no more than alone."""
        alone = self.alone[net]
        return alone is not None and len(alone.chosen) == 2 and cost <= alone.cost + 1e-9

    def cost(self) -> float:
        """Return the sum of costs."""
        return float(sum(way.cost for way in self.ways if way is not None))

    def keep(self) -> list[Way | None]:
        """Return how every net stands."""
        return list(self.ways)

    def restore(self, ways: list[Way | None]) -> None:
        """Go back to how every net stood."""
        for net, way in enumerate(ways):
            if self.ways[net] is not way:
                self.put(net, way)

    def improve_groups(self, ideal: list[Trace], steps: int, rng: np.random.Generator) -> None:
        """Take out a net and some that block its ideal path, route them anew, keep what is not dearer.

        Parameters
        ----------
        ideal : list of Trace
            Each net alone.
        steps : int
        rng : Generator
        """
        count = len(ideal)
        if count < 2:
            return
        alone = np.array([trace.cost for trace in ideal])
        steps_long = np.array([self.instance.rates_of(net).step for net in self.instance.nets])
        near_ideal = [self._near(net, trace) for net, trace in enumerate(ideal)]
        best = self.cost()
        for _ in range(steps):
            if best <= alone.sum() + 1e-6:
                return
            standing = [way for way in self.ways if way is not None]
            slack = np.array([way.cost for way in standing]) - alone
            seed_net = _choose(np.maximum(slack, 0.0) / steps_long + 0.1, rng)
            weights = np.array([3.3 if near_ideal[seed_net][way.channel].any() else 0.3 for way in standing])
            weights[seed_net] = 0.0
            group = [seed_net]
            for _ in range(min(int(rng.integers(1, MOST_OTHERS + 1)), count - 1)):
                group.append(_choose(weights, rng))
                weights[group[-1]] = 0.0
            before = self.keep()
            if rng.random() < BIDDING:
                first_price = (0.3, 0.6, 1.2)[int(rng.integers(3))]
                done = not self.negotiate(group, first_price, 1.6, GROUP_ROUNDS, rng, hard=True)
            else:
                done = self._route_in_turn(group, best, rng)
            if done:
                # A whole tree takes as long as a hundred ways: trees are searched when the groups are done.
                self.improve_each(group, best, 0)
            if done and self.cost() <= best + SAME:
                best = self.cost()
            else:
                self.restore(before)

    def _near(self, net: int, trace: Trace) -> np.ndarray:
        """Return where a channel like net's would stand too near a trace, (cells,) bool."""
        count = np.zeros(self.instance.cells, np.int32)
        self.tag += 1
        channel_class = self.instance.nets[net].channel_class
        self._mark(count, channel_class, channel_class, trace.cells, 1)
        return count > 0

    def _route_in_turn(self, group: list[int], best: float, rng: np.random.Generator) -> bool:
        """Route a group one after the other in a random order, each round those before it.

        Given up as soon as the routing would cost more than `best`, were the rest as cheap as alone.
        """
        for net in group:
            self.put(net, None)
        waiting = [int(n) for n in rng.permutation(group)]
        while waiting:
            net = waiting.pop(0)
            rest = sum(alone.cost for n in waiting if (alone := self.alone[n]) is not None)
            # A tree alone is its own search's result and bounds nothing.
            sure = all(len(self.instance.nets[n].ends) == 2 for n in waiting)
            most = best - self.cost() - rest + 1e-6 if sure else INFINITE
            noise = None
            if rng.integers(3) == 0:
                noise = (
                    rng.random(self.instance.cells)
                    * NOISE
                    * self.instance.rates_of(self.instance.nets[net]).step
                )
                most *= 1.0 + NOISE
            found = self._reroute(net, most, noise)
            if found is None:
                return False
            self.put(net, found)
        return True


def _list_pairs(ends: int) -> list[tuple[int, int]]:
    """Return the pairs of ends with which a tree may begin."""
    if ends <= MOST_ENDS:
        return list(combinations(range(ends), 2))
    # Trees of many ends begin at their first end: every pair would take minutes.
    return [(0, n) for n in range(1, ends)]


def _choose(weights: np.ndarray, rng: np.random.Generator) -> int:
    """Return an index drawn by weight."""
    sums = np.cumsum(weights)
    return min(int(np.searchsorted(sums, rng.random() * sums[-1], side="right")), len(weights) - 1)


def route_instance(
    instance: Instance,
    seed: int = 0,
    steps: int = 30,
    restarts: int = 8,
    beat: float = math.inf,
    searches: int = FEW_SEARCHES,
) -> Routing:
    """Return the best routing found.

    Parameters
    ----------
    instance : Instance
    seed : int
        Same seed, same answer.
    steps : int
        Steps of the last improvement, on a plate of up to LARGE cells; fewer on larger ones, in proportion.
    restarts : int
        Most restarts of the negotiation, up to 8.
    beat : float
        Give up at once where even the ideal costs add up to this much; the routing is then empty, and
        names nothing.
    searches : int
        For each whole tree; 0: trees are only grown end by end.

    Returns
    -------
    Routing
    """
    rng = np.random.default_rng(seed)
    search = Negotiation(instance)
    nets = list(range(len(instance.nets)))
    alone: list[Trace | None] = []
    for net in nets:
        alone.append(search.route_alone(net, searches))
        if sum(trace.cost for trace in alone if trace is not None) >= beat - 1e-9:
            return Routing((), math.inf, (), None, (), (), 0)
    ideal = tuple(trace.cost if trace is not None else math.inf for trace in alone)
    plain = all(len(net.ends) == 2 for net in instance.nets)
    bound = float(sum(search.least)) if plain else None
    unreachable = tuple(n for n in nets if alone[n] is None)
    if unreachable:
        names = tuple(instance.nets[n].name for n in unreachable)
        return Routing((), math.inf, ideal, None, names, unreachable, 0)
    ideals = [trace for trace in alone if trace is not None]
    steps = math.ceil(steps * min(1.0, LARGE / instance.cells))
    starts = max(1 if plain else TREE_STARTS, steps // STEPS_A_START)
    left: list[int] = nets
    begun: list[tuple[float, list[Way | None]]] = []
    for number in range(max(restarts, starts)):
        if number >= (starts if begun else restarts):
            break
        first_price, growth, rounds = RESTARTS[number % len(RESTARTS)]
        rounds = rounds if plain else min(rounds, TREE_ROUNDS)
        left = search.negotiate(nets, first_price, growth, rounds, rng if number else None)
        if not left:
            search.improve_each(nets, searches=0)
            begun.append((search.cost(), search.keep()))
            if bound is not None and search.cost() <= bound + SAME:
                break
    if not begun:
        names = tuple(instance.nets[n].name for n in left)
        return Routing((), math.inf, ideal, bound, names, (), search.rounds)
    rungs = sorted({min(len(begun), most) for most in (starts, *LATER_STARTS)}, reverse=True)
    # Without steps there is nothing to do but to search the cheapest one's trees.
    rungs = rungs if steps else [1] if searches else []
    for most in rungs:
        begun = sorted(begun, key=lambda one: one[0])[:most]
        for n, (_, ways) in enumerate(begun):
            search.restore(ways)
            search.improve_groups(ideals, math.ceil(steps / len(rungs) / most), rng)
            search.improve_each(nets, searches=searches if most == rungs[-1] else 0)
            begun[n] = (search.cost(), search.keep())
    search.restore(min(begun, key=lambda one: one[0])[1])
    return _found(search, ideal, bound)


def improve_routing(
    instance: Instance, routing: Routing, seed: int, steps: int, searches: int = FEW_SEARCHES
) -> Routing:
    """Return a routing after further steps of the last improvement; never dearer.

    Parameters
    ----------
    instance : Instance
    routing : Routing
        Of this instance, with traces.
    seed, steps : int
    searches : int
        For each whole tree.

    Returns
    -------
    Routing
    """
    traces = improve_traces(instance, routing.traces, seed, steps, searches)
    return replace(routing, traces=traces, cost=sum(trace.cost for trace in traces))


def improve_traces(
    instance: Instance, traces: tuple[Trace, ...], seed: int, steps: int, searches: int = FEW_SEARCHES
) -> tuple[Trace, ...]:
    """Return the traces of a routing after the improvement of single nets and of groups; never dearer.

    Parameters
    ----------
    instance : Instance
    traces : tuple of Trace
        One for each net, none too near another.
    seed, steps : int
    searches : int
        For each whole tree.

    Returns
    -------
    tuple of Trace
    """
    search = Negotiation(instance)
    for net, trace in enumerate(traces):
        cheap = len(instance.nets[net].ends) <= CHEAP_ENDS
        alone = search.route_alone(net, min(searches, 1) if cheap else 0)
        if alone is None or trace.cost < alone.cost:
            search.alone[net] = trace
        search.put(net, trace)
    search.improve_each(list(range(len(traces))), searches=0)
    search.improve_groups([t for t in search.alone if t is not None], steps, np.random.default_rng(seed))
    search.improve_each(list(range(len(traces))), searches=searches)
    return tuple(trace for trace in search.traces if trace is not None)


def _found(search: Negotiation, ideal: tuple[float, ...], bound: float | None) -> Routing:
    traces = tuple(trace for trace in search.traces if trace is not None)
    return Routing(traces, search.cost(), ideal, bound, (), (), search.rounds)
