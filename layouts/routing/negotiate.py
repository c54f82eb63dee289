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
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from layouts.routing.instance import CHANNEL, Instance, Terminal
from layouts.routing.search import mark_near
from layouts.routing.trace import Trace, Tracer

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
        Cost of each net alone, with nothing else in the plate: infinite where it cannot be reached. Their
        sum is a lower bound of the cost, exact for nets of two ends (a tree's ideal is its own search's
        result and no bound).
    bound : float or None
        Proven lower bound; None where the instance holds trees, or where a net alone had to be kept off itself.
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
        self.tracer = Tracer(instance)
        classes, cells = instance.blocked.shape
        self.classes = classes
        self.taken = np.zeros((classes, cells), np.int32)
        self.stamp = np.zeros(cells, np.int64)
        self.tag = 0
        self.traces: list[Trace | None] = [None] * len(instance.nets)
        fixed = [self._fixed_for(n) for n in range(len(instance.nets))]
        self.fixed = [instance.blocked | near for near in fixed]
        self.near_others = [near[CHANNEL] for near in fixed]
        self.alone: list[Trace | None] = [None] * len(instance.nets)
        self.pairs: list[tuple[int, int] | None] = [None] * len(instance.nets)
        self.rounds = 0

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
                        self._mark(count, CHANNEL, here, np.array([end[0].cell, *end[0].tail], np.int64), 1)
            near[here] = count > 0
        return near

    def _mark_terminal(self, count: np.ndarray, t: Terminal, here: int, amount: int) -> None:
        self._mark(count, t.port_class, here, np.array([t.node, *t.bore], np.int64), amount)

    def put(self, net: int, trace: Trace | None) -> None:
        """Take net's place (or give it up, with None), and forget what it took before."""
        for amount, there in ((-1, self.traces[net]), (1, trace)):
            if there is None:
                continue
            for here in range(self.classes):
                self.tag += 1
                self._mark(self.taken[here], CHANNEL, here, there.cells, amount)
                for t in there.chosen:
                    if t.port_class != CHANNEL:
                        self._mark_terminal(self.taken[here], t, here, amount)
        self.traces[net] = trace

    def conflicts(self, net: int) -> list[tuple[int, np.ndarray]]:
        """Return (class, cells) of net where another stands too near."""
        trace = self.traces[net]
        assert trace is not None
        out = [(CHANNEL, trace.cells[self.taken[CHANNEL, trace.cells] > 1])]
        for t in trace.chosen:
            if t.port_class != CHANNEL:
                cells = np.array([t.node, *t.bore], np.int64)
                out.append((t.port_class, cells[self.taken[t.port_class, cells] > 1]))
        return [(k, cells) for k, cells in out if cells.size]

    def route_alone(self, net: int) -> Trace | None:
        """Return net's cheapest channel with nothing else in the plate; keep the pair its tree begins with."""
        free = np.zeros(self.instance.cells)
        trace, self.pairs[net] = self._best_tree(net, free, None)
        self.alone[net] = trace
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
            blocked, busy = blocked | walls, busy | walls[CHANNEL]
        return self.tracer.trace(self.instance.nets[net], blocked, price, ends, pair, busy)

    def _best_tree(
        self, net: int, price: np.ndarray, walls: np.ndarray | None
    ) -> tuple[Trace | None, tuple[int, int] | None]:
        best, best_pair = self._trace(net, walls, price, None), None
        ends = len(self.instance.nets[net].ends)
        if ends > 2 and not self.instance.nets[net].straight_down:
            # Trees of many ends begin at their first end: every pair would take minutes.
            pairs = combinations(range(ends), 2) if ends <= MOST_ENDS else ((0, n) for n in range(1, ends))
            for pair in pairs:
                other = self._trace(net, walls, price, None, pair)
                if other is not None and (best is None or other.cost < best.cost - 1e-9):
                    best, best_pair = other, pair
        return best, best_pair

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
        for round_number in range(rounds):
            self.rounds += 1
            order = list(nets) if round_number == 0 else list(waiting)
            if rng is not None:
                rng.shuffle(order)
            for net in order:
                self.put(net, None)
                crowd = np.minimum(self.taken, 3)
                step = instance.rates_of(instance.nets[net]).step
                prices = step * (history + price * crowd * (1 + history))
                # A port that must move pays like a stretch of channel that goes round it.
                ends = 4.0 * prices if self.classes > 1 else None
                trace = self._trace(net, walls, prices[CHANNEL], ends, self.pairs[net])
                if trace is None and walls is None:
                    # Prices drove the path back onto itself: its way alone stands in, and pays.
                    trace = self.alone[net]
                if trace is None:
                    return [net]
                self.put(net, trace)
            waiting = []
            for net in nets:
                clashes = self.conflicts(net)
                if clashes:
                    waiting.append(net)
                    for k, cells in clashes:
                        history[k, cells] += HISTORY
            if not waiting:
                return []
            price = first_price if price == 0.0 else min(price * growth, 1e4)
        return waiting

    def improve_each(self, nets: list[int]) -> None:
        """Reroute one net at a time round all others, until none gets cheaper."""
        free = np.zeros(self.instance.cells)
        better = True
        while better:
            better = False
            for net in nets:
                old = self.traces[net]
                assert old is not None
                self.put(net, None)
                found = self._trace(net, self.taken > 0, free, None, self.pairs[net])
                if found is not None and found.cost < old.cost - 1e-9:
                    self.put(net, found)
                    better = True
                else:
                    self.put(net, old)

    def cost(self) -> float:
        """Return the sum of costs."""
        return float(sum(trace.cost for trace in self.traces if trace is not None))

    def keep(self) -> list[Trace | None]:
        """Return the present traces."""
        return list(self.traces)

    def restore(self, traces: list[Trace | None]) -> None:
        """Go back to earlier traces."""
        for net, trace in enumerate(traces):
            if self.traces[net] is not trace:
                self.put(net, trace)

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
        least = sum(trace.cost for trace in ideal)
        best = self.cost()
        for _ in range(steps):
            if best <= least + 1e-6:
                return
            slack = np.array(
                [(t.cost if t else 0.0) - i.cost for t, i in zip(self.traces, ideal, strict=True)]
            )
            weight = np.maximum(slack, 0.0) + 1.0
            seed_net = int(rng.choice(count, p=weight / weight.sum()))
            blocking = np.full(count, 0.3)
            for other, trace in enumerate(self.traces):
                if trace is not None and np.intersect1d(trace.cells, ideal[seed_net].cells).size:
                    blocking[other] += 3.0
            blocking[seed_net] = 0.0
            size = min(int(rng.integers(1, 4)), count - 1)
            others = rng.choice(count, size=size, replace=False, p=blocking / blocking.sum())
            group = [seed_net, *sorted(int(o) for o in others)]
            before = self.keep()
            if rng.random() < 0.5:
                first_price = (0.3, 0.6, 1.5)[int(rng.integers(3))]
                done = not self.negotiate(group, first_price, 1.6, 15, rng, hard=True)
            else:
                done = self._route_in_turn(group, rng)
            if done:
                self.improve_each(group)
            if done and self.cost() <= best + 1e-9:
                best = self.cost()
            else:
                self.restore(before)

    def _route_in_turn(self, group: list[int], rng: np.random.Generator) -> bool:
        """Route a group one after the other in a random order, each round those before it."""
        for net in group:
            self.put(net, None)
        for net in (int(n) for n in rng.permutation(group)):
            noise = (0.0, 0.0, 0.3)[int(rng.integers(3))]
            step = self.instance.rates_of(self.instance.nets[net]).step
            price = rng.random(self.instance.cells) * step * noise
            trace = self._trace(net, self.taken > 0, price, None, self.pairs[net])
            if trace is None:
                return False
            self.put(net, trace)
        return True


def route_instance(
    instance: Instance, seed: int = 0, steps: int = 30, restarts: int = 8, beat: float = math.inf
) -> Routing:
    """Return the best routing found.

    Parameters
    ----------
    instance : Instance
    seed : int
        Same seed, same answer.
    steps : int
        Steps of the last improvement.
    restarts : int
        Most restarts of the negotiation, up to 8.
    beat : float
        Give up at once where even the ideal costs add up to this much; the routing is then empty, and
        names nothing.

    Returns
    -------
    Routing
    """
    rng = np.random.default_rng(seed)
    search = Negotiation(instance)
    nets = list(range(len(instance.nets)))
    alone: list[Trace | None] = []
    for net in nets:
        alone.append(search.route_alone(net))
        if sum(trace.cost for trace in alone if trace is not None) >= beat - 1e-9:
            return Routing((), math.inf, (), None, (), (), 0)
    ideal = tuple(trace.cost if trace is not None else math.inf for trace in alone)
    plain = all(len(net.ends) == 2 for net in instance.nets)
    bound = float(sum(ideal)) if plain and not search.tracer.narrowed else None
    unreachable = tuple(n for n in nets if alone[n] is None)
    if unreachable:
        names = tuple(instance.nets[n].name for n in unreachable)
        return Routing((), math.inf, ideal, None, names, unreachable, 0)
    left: list[int] = nets
    for number in range(restarts):
        first_price, growth, rounds = RESTARTS[number % len(RESTARTS)]
        left = search.negotiate(nets, first_price, growth, rounds, rng if number else None)
        if not left:
            break
    if left:
        names = tuple(instance.nets[n].name for n in left)
        return Routing((), math.inf, ideal, bound, names, (), search.rounds)
    search.improve_each(nets)
    search.improve_groups([trace for trace in alone if trace is not None], steps, rng)
    return _found(search, ideal, bound)


def improve_routing(instance: Instance, routing: Routing, seed: int, steps: int) -> Routing:
    """Return a routing after further steps of the last improvement; never dearer.

    Parameters
    ----------
    instance : Instance
    routing : Routing
        Of this instance, with traces.
    seed, steps : int

    Returns
    -------
    Routing
    """
    search = Negotiation(instance)
    alone = [search.route_alone(net) for net in range(len(instance.nets))]
    for net, trace in enumerate(routing.traces):
        search.put(net, trace)
    ideals = [trace for trace in alone if trace is not None]
    search.improve_groups(ideals, steps, np.random.default_rng(seed))
    return _found(search, routing.ideal, routing.bound)


def _found(search: Negotiation, ideal: tuple[float, ...], bound: float | None) -> Routing:
    traces = tuple(trace for trace in search.traces if trace is not None)
    return Routing(traces, search.cost(), ideal, bound, (), (), search.rounds)
