"""Negotiated congestion: channels that stand too close bid for the place until one gives way.

Every channel is routed alone at first. Where two stand too close both pay a price for the place, and the
price grows with every round and with the place's history, until one gives way. What is found is improved by
rerouting one channel at a time.

Source
------
McMurchie and Ebeling, "PathFinder: A Negotiation-Based Performance-Driven Router for FPGAs", FPGA 1995.
"""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np

from layouts.routing.instance import Instance, Terminal
from layouts.routing.one_channel.find_way import MOST_CROWD, PORT_PRICE, mark_features, note_clashes
from layouts.routing.one_channel.search import INFINITE, mark_near
from layouts.routing.one_channel.trace import Trace, Tracer
from layouts.routing.one_channel.ways import Way, WayFinder, way_of
from layouts.routing.trees.trees import FEW_SEARCHES, MOST_SEARCHES, SAME, improve_tree

HISTORY = 0.6
"""What a place that two nets wanted costs more from then on, in steps."""

MOST_PRICE = 1e4

CHEAP_ENDS = 4
"""Ends up to which a whole tree is searched in some ten milliseconds; with more ends that many times fewer are."""

MOST_ENDS = 8
"""Ends of a tree up to which every pair is tried as its beginning."""


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
        """Return net's cheapest channel with nothing else in the plate.

        With 0 `searches` trees are grown once, and searched for only where that finds none.
        """
        free = np.zeros(self.instance.cells)
        trace = self._trace(net, None, free, None)
        if len(self.instance.nets[net].ends) > 2 and (searches or trace is None):
            trace = self._best_tree(net, trace, free, searches or FEW_SEARCHES)
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

    def list_clashing(self, nets: list[int]) -> list[int]:
        """Return those of `nets`, which all stand, that stand too near another."""
        history = np.zeros((self.classes, self.instance.cells))
        return [net for net in nets if self._note_clashes(net, history)]

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

    def reroute(
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
                found = self.reroute(net, old.cost - SAME)
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

    def near_trace(self, net: int, trace: Trace) -> np.ndarray:
        """Return where a channel like net's would stand too near a trace, (cells,) bool."""
        count = np.zeros(self.instance.cells, np.int32)
        self.tag += 1
        channel_class = self.instance.nets[net].channel_class
        self._mark(count, channel_class, channel_class, trace.cells, 1)
        return count > 0


def _list_pairs(ends: int) -> list[tuple[int, int]]:
    """Return the pairs of ends with which a tree may begin."""
    if ends <= MOST_ENDS:
        return list(combinations(range(ends), 2))
    # Trees of many ends begin at their first end: every pair would take minutes.
    return [(0, n) for n in range(1, ends)]
