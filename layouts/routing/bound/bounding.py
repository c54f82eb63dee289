"""One lower bound of an instance for given prices: the cheapest ways of all nets whose courses agree."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.bound.choose_labels import choose_labels
from layouts.routing.bound.distances import FAR, find_bit_distances, find_kept
from layouts.routing.bound.granularity import find_granularity
from layouts.routing.bound.graphs import NetGraph, build_graph
from layouts.routing.bound.labels import Ahead, LabelSearch, look_ahead
from layouts.routing.bound.one_layer import first_layer, in_first_layer, usable_ends
from layouts.routing.bound.prices import Windows
from layouts.routing.bound.topology import Topology, find_topology
from layouts.routing.instance import Instance
from layouts.routing.trees.tree_bound import MOST_EXACT_ENDS, EntryPrices, bound_tree

MOST_BRANCHES = 20_000
"""Branches of one choice of labels."""

SAME = 1e-6
"""Costs that differ by less are the same."""

STRIDE_GROWTH = 1.3
"""By this much more each time, a search for further labels goes on beyond what is known."""


@dataclass(frozen=True, slots=True)
class Relaxed:
    """What a set of prices proves.

    Parameters
    ----------
    value : float
        No routing costs less; infinite where none exists that is cheap enough to be wanted.
    used : (cells,) float
        How often each window is entered by the ways chosen; empty where none were.
    words : tuple of int or None
        The label of each net, None where the choice is not complete.
    """

    value: float
    used: np.ndarray
    words: tuple[int, ...] | None


@dataclass(frozen=True, slots=True)
class Roam:
    """The cheapest way of a net through other layers than the first: its cost, a node there, and all distances."""

    least: float
    node: int
    weight: np.ndarray
    before: np.ndarray
    ahead: np.ndarray


class Bounding:
    """Everything that stays the same between rounds of prices, and what is learnt on the way.

    Parameters
    ----------
    instance : Instance
    search : Negotiation
    most_pairs, most_states : int
        As in `Effort`.
    """

    def __init__(
        self,
        instance: Instance,
        search: Negotiation,
        most_pairs: int,
        most_states: int,
    ) -> None:
        self.instance, self.fixed = instance, search.fixed
        self.most_pairs, self.most_states = most_pairs, most_states
        self.windows = Windows(instance)
        self.nets = [n for n, net in enumerate(instance.nets) if len(net.ends) == 2]
        self.trees = [n for n, net in enumerate(instance.nets) if len(net.ends) > 2]
        usable = usable_ends(instance, search)
        self.topology: Topology | None = None
        self.roaming: list[NetGraph] = []
        plane, closed = instance, tuple(search.fixed)
        if len(self.nets) > 1 and most_pairs:
            if instance.layers > 1:
                size = instance.columns * instance.rows
                self.roaming = [self._build(instance, n, closed, usable) for n in self.nets]
                plane = first_layer(instance)
                closed = tuple(blocked[:, :size] for blocked in closed)
                usable = in_first_layer(instance, usable)
            self.topology = find_topology(plane, closed, usable)
        self.whole = [
            self._build(plane, n, closed, usable).in_layers(plane.cells, instance.layers // plane.layers)
            for n in self.nets
        ]
        self.graphs = list(self.whole)
        self.searches = [LabelSearch() for _ in self.nets]
        self.pairs: list[tuple[int, int]] = []
        self.masks = [0] * len(self.nets)
        self.known = [0] * len(self.nets)
        self.want = [0] * len(self.nets)
        self.telling: list[list[int]] = [[] for _ in self.nets]
        self.opened = 0
        self.step = find_granularity(instance) or 1.0

    def _build(
        self,
        plane: Instance,
        net: int,
        closed: tuple[np.ndarray, ...],
        usable: tuple[tuple[np.ndarray, ...], ...],
    ) -> NetGraph:
        blocked = closed[net][plane.nets[net].channel_class]
        return build_graph(plane, net, blocked, usable[net], self.topology)

    def distrust(self, wrong: list[tuple[int, int]]) -> None:
        """Forget the rules of pairs of nets that a routing broke, and all that was concluded with them."""
        assert self.topology is not None
        for i, j in wrong:
            self.topology.holds[i, j] = self.topology.holds[j, i] = False
        self.pairs = [(n, m) for n, m in self.pairs if self.topology.holds[self.nets[n], self.nets[m]]]
        self.masks = [0] * len(self.nets)
        for n, m in self.pairs:
            self.masks[n] |= 1 << self.nets[m]
            self.masks[m] |= 1 << self.nets[n]
        self.graphs = list(self.whole)
        self.known = [0] * len(self.nets)
        self.want = [0] * len(self.nets)
        self.telling = [[] for _ in self.nets]

    def _rows(self) -> np.ndarray:
        """Return the pairs told apart with the parity of their rule, (pairs, 3) int, by place among two-ended nets."""
        if self.topology is None:
            return np.zeros((0, 3), np.int64)
        kappa, nets = self.topology.kappa, self.nets
        return np.array([(n, m, kappa[nets[n], nets[m]] & 1) for n, m in self.pairs], np.int64).reshape(-1, 3)

    def relax(self, price: np.ndarray, cap: float) -> Relaxed:
        """Return what prices prove; routings that cost more than `cap` are not wanted.

        Parameters
        ----------
        price : (cells,) float
            Of the windows.
        cap : float
            Infinite: all are wanted.
        """
        steps = self.windows.price_steps(price)
        paid = float(price.sum())
        self.weights = [graph.cost + steps[graph.slot] for graph in self.graphs]
        self.ahead: list[Ahead] = [
            look_ahead(self.graphs[n], self.weights[n], self.known[n], self.want[n], self.telling[n])
            for n in range(len(self.nets))
        ]
        self.roam = [self._roam(n, steps) for n in range(len(self.roaming))]
        self.elsewhere = np.array([roam.least for roam in self.roam] or [FAR] * len(self.nets))
        base = np.minimum([a.least for a in self.ahead], self.elsewhere)
        nothing = np.zeros(0)
        if base.max(initial=0.0) >= FAR / 2:
            return Relaxed(math.inf, nothing, None)
        used = np.zeros(self.instance.cells)
        for net in self.trees:
            # What trees cost is taken off what is paid: the rest is a matter of the nets of two ends.
            paid -= self._relax_tree(net, steps, used)
        if paid == -math.inf:
            return Relaxed(math.inf, nothing, None)
        self.paid = paid
        self.least = float(base.sum()) - paid
        if self.least > cap:
            return Relaxed(self.least, nothing, None)
        slack = cap - self.least if cap < FAR / 2 else FAR
        fresh = list(range(len(self.nets)))
        while True:
            for n in fresh:
                self.searches[n].begin(
                    self.graphs[n],
                    self.weights[n],
                    self.ahead[n],
                    self.masks[n],
                    float(base[n]) + slack,
                    self.most_states,
                )
                self.searches[n].extend(float(base[n]))
            value, chosen = self._choose(cap)
            if value > cap or value == math.inf:
                return Relaxed(value, nothing, None)
            fresh = self._add_pairs(chosen)
            if not fresh:
                break
        words = []
        for n, number in enumerate(chosen):
            search = self.searches[n]
            if number < 0 and self.elsewhere[n] < FAR / 2:
                roam, graph = self.roam[n], self.roaming[n]
                way = graph.way_through(roam.weight, roam.before, roam.ahead, roam.node)
                self.windows.count_entries(graph.slot[np.array(way, np.int64)], used)
                continue
            number = max(int(number), 0)
            if len(search.words):
                arcs = search.arcs_of(number)
                self.windows.count_entries(self.graphs[n].slot[arcs], used)
                words.append(int(search.words[number]))
        complete = bool((chosen >= 0).all())
        return Relaxed(value, used, tuple(words) if complete else None)

    def _relax_tree(self, net: int, steps: np.ndarray, used: np.ndarray) -> float:
        """Return what a tree costs at least, and count the windows that it enters."""
        cells = self.instance.cells
        prices = EntryPrices(
            steps[: cells * 4], steps[cells * 4 : cells * 12], steps[cells * 12 : cells * 13]
        )
        # A tree's search looks at every state with every set of its ends but the first.
        self.opened += cells * 4 << min(len(self.instance.nets[net].ends), MOST_EXACT_ENDS) - 1
        tree = bound_tree(self.instance, self.instance.nets[net], self.fixed[net], prices)
        for number, leg in enumerate(tree.legs):
            slots = self.windows.list_slots(leg.states)
            self.windows.count_entries(slots if number == 0 else slots[1:], used)
        return tree.cost

    def _choose(self, cap: float) -> tuple[float, np.ndarray]:
        """Return the value of the cheapest choice of labels and their numbers, searching only as far as it must."""
        rows = self._rows()
        stride = self.step
        while True:
            choice = choose_labels(
                [self._bits(n) for n in range(len(self.nets))],
                [s.costs for s in self.searches],
                self._frontiers(),
                rows,
                MOST_BRANCHES,
            )
            value = choice.value - self.paid if choice.value < FAR / 2 else math.inf
            waiting = [
                n
                for n in np.flatnonzero(choice.chosen < 0)
                if not self.searches[n].spent and self.searches[n].frontier < min(self.elsewhere[n], FAR / 2)
            ]
            if value > cap or value == math.inf or not waiting:
                return value, choice.chosen
            for n in waiting:
                before = self.searches[n].opened
                self.searches[n].extend(self.searches[n].frontier + stride)
                self.opened += self.searches[n].opened - before
            stride *= STRIDE_GROWTH

    def _frontiers(self) -> np.ndarray:
        """Return what each net costs at least on a way that no label found stands for, (nets,) float."""
        return np.minimum([s.frontier for s in self.searches], self.elsewhere)

    def _roam(self, n: int, steps: np.ndarray) -> Roam:
        """Return the cheapest way of a net that is not all in the first layer: no rule holds for it."""
        graph = self.roaming[n]
        weight = graph.cost + steps[graph.slot]
        before, ahead = graph.distances_from(weight), graph.distances(weight)
        away = np.flatnonzero(graph.states >> 2 >= self.instance.columns * self.instance.rows)
        whole = (before + ahead)[away]
        if not len(away) or whole.min() >= FAR / 2:
            return Roam(FAR, -1, weight, before, ahead)
        return Roam(float(whole.min()), int(away[np.argmin(whole)]), weight, before, ahead)

    def _bits(self, n: int) -> np.ndarray:
        """Return the labels of a net, bits by place among the nets of two ends."""
        words = self.searches[n].words
        if not self.trees:
            return words
        out = np.zeros_like(words)
        for place, net in enumerate(self.nets):
            out |= ((words >> net) & 1) << place
        return out

    def _add_pairs(self, chosen: np.ndarray) -> list[int]:
        """Tell apart the pairs that the chosen ways get wrong; return the places of the nets concerned."""
        if self.topology is None or not self.topology.holds.any():
            return []
        parity: list[int | None] = []
        for n, number in enumerate(chosen):
            if number < 0:
                parity.append(None)
                continue
            flips = self.graphs[n].flips[self.searches[n].arcs_of(int(number))]
            parity.append(int(np.bitwise_xor.reduce(flips)))
        fresh = set()
        for n, i in enumerate(self.nets):
            for m, j in enumerate(self.nets[:n]):
                a, b = parity[n], parity[m]
                if a is None or b is None or not self.topology.holds[i, j] or (n, m) in self.pairs:
                    continue
                if ((a >> j) ^ (b >> i) ^ int(self.topology.kappa[i, j])) & 1 == 0:
                    continue
                if max(self.masks[n].bit_count(), self.masks[m].bit_count()) >= self.most_pairs:
                    continue
                self.pairs.append((n, m))
                self.masks[n] |= 1 << j
                self.masks[m] |= 1 << i
                fresh |= {n, m}
        return sorted(fresh)

    def rest_bounds(self, cap: float) -> list[float]:
        """Return for each net what all others cost at least, prices taken off, with the labels found last."""
        rows = self._rows()
        out = []
        for n in range(len(self.nets)):
            words = [self._bits(m) if m != n else np.zeros(0, np.int64) for m in range(len(self.nets))]
            costs = [s.costs if m != n else np.zeros(0) for m, s in enumerate(self.searches)]
            frontier = self._frontiers()
            frontier[n] = 0.0
            out.append(choose_labels(words, costs, frontier, rows, MOST_BRANCHES).value - self.paid)
        return out

    def shrink(self, cap: float) -> None:
        """Take out, for good, what cannot lie on a routing that costs `cap` or less, by the prices used last."""
        self._learn_bits(cap)
        rest = self.rest_bounds(cap)
        for n, graph in enumerate(self.graphs):
            weight = self.weights[n]
            ahead = look_ahead(graph, weight, self.known[n], self.want[n], bits_of(self.known[n]))
            # Bits that make no way dearer need not be looked at again.
            floor = ahead.plain[graph.source] + self.step / 2
            self.telling[n] = [
                int(bit)
                for k, bit in enumerate(ahead.bits)
                if ahead.by_bit[k, (ahead.want >> int(bit)) & 1, graph.source] > floor
            ]
            out = np.arange(len(graph.head))
            before_bits = np.empty_like(ahead.by_bit)
            for k, bit in enumerate(ahead.bits):
                before_bits[k] = find_bit_distances(
                    graph.first, graph.head, out, weight, graph.flips, int(bit), graph.source
                )
            kept = find_kept(
                graph.first,
                graph.head,
                weight,
                graph.flips,
                graph.distances_from(weight),
                ahead.plain,
                ahead.bits,
                ahead.want,
                before_bits,
                ahead.by_bit,
                cap - rest[n] + SAME,
            )
            if kept.sum() < 0.95 * len(kept):
                self.graphs[n] = graph.keep(kept)
        for n, graph in enumerate(self.roaming):
            roam = self.roam[n]
            tails = np.repeat(np.arange(graph.nodes), np.diff(graph.first))
            self.roaming[n] = graph.keep(
                roam.before[tails] + roam.weight + roam.ahead[graph.head] <= cap - rest[n] + SAME
            )

    def _learn_bits(self, cap: float) -> None:
        """Fix the bits of labels whose other value costs more than `cap`, by the labels found last."""
        rows = self._rows()
        words = [self._bits(n) for n in range(len(self.nets))]
        costs = [s.costs for s in self.searches]
        frontier = self._frontiers()
        for n, m, parity in rows.tolist():
            i, j = self.nets[n], self.nets[m]
            if self.known[n] >> j & 1:
                continue
            for bit in (0, 1):
                forced = choose_labels(words, costs, frontier, rows, MOST_BRANCHES, (n, m, bit))
                if forced.value - self.paid > cap + SAME:
                    self.known[n] |= 1 << j
                    self.known[m] |= 1 << i
                    self.want[n] |= (1 - bit) << j
                    self.want[m] |= (1 - bit ^ parity) << i
                    break

    def states_left(self) -> list[np.ndarray]:
        """Return for each net of two ends the states that are left, (cells * 4,) bool."""
        out = []
        for n, graph in enumerate(self.graphs):
            keep = np.zeros(self.instance.cells * 4, dtype=bool)
            keep[graph.states] = True
            if graph.by_axis:
                keep[graph.states | 2] = True
            if self.roaming:
                keep[self.roaming[n].states] = True
            out.append(keep)
        return out


def bits_of(word: int) -> list[int]:
    """Return the places of a word's bits that are set, ascending."""
    return [bit for bit in range(word.bit_length()) if word >> bit & 1]
