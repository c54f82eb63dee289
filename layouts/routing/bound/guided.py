"""Routing with the course of each net past the others given: what the bound proposes is tried in earnest."""

from __future__ import annotations

import numpy as np

from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.bound.bounding import bits_of
from layouts.routing.bound.distances import FAR
from layouts.routing.bound.graphs import NetGraph
from layouts.routing.bound.labels import LabelSearch, look_ahead
from layouts.routing.instance import Instance
from layouts.routing.one_channel.trace import Trace
from layouts.routing.trees.tree_bound import price_cells

MOST_GUIDED_STATES = 300_000
"""States that one search may open before its net counts as not to be led along its course."""

ATTEMPTS = (
    # first price, growth a round, rounds: the same courses are tried with another pressure and order.
    (0.5, 1.5, 25),
    (0.2, 1.3, 40),
    (1.0, 1.6, 40),
    (0.1, 1.2, 60),
)


class CourseGuide:
    """Finds the cheapest way of one net that takes a given course past other nets' curves.

    Parameters
    ----------
    instance : Instance
    graph : NetGraph
        Of the net, with nothing taken out.
    mask, word : int
        The bits that matter, and their values.
    """

    def __init__(self, instance: Instance, graph: NetGraph, mask: int, word: int) -> None:
        self.instance, self.graph, self.mask, self.word = instance, graph, mask, word
        self.search = LabelSearch()
        self.opened = 0
        # Bits that make the way no dearer where nothing stands in it are only asked for at its end.
        ahead = look_ahead(graph, graph.cost, mask, word, bits_of(mask))
        plain = ahead.plain[graph.source]
        self.telling = [
            int(bit)
            for k, bit in enumerate(ahead.bits)
            if ahead.by_bit[k, (word >> int(bit)) & 1, graph.source] > plain
        ]
        self.out = np.arange(graph.first[graph.source], graph.first[graph.source + 1])
        self.into = np.arange(graph.into[graph.sink], graph.into[graph.sink + 1])

    def find(
        self,
        blocked: np.ndarray,
        cell_price: np.ndarray,
        sources: np.ndarray,
        source_cost: np.ndarray,
        goal: np.ndarray,
        goal_cost: np.ndarray,
    ) -> tuple[list[int], float] | None:
        """Return the states of the cheapest way of this course and its cost; None where none is found.

        The arguments are those of `find_path`.
        """
        graph, cells = self.graph, self.instance.cells
        price = price_cells(self.instance, cell_price, blocked)
        slots = np.concatenate([price.entering, price.turning, price.standing, np.zeros(1)])
        weight = np.minimum(graph.cost + slots[graph.slot], FAR)
        begin = np.full(cells * 4, FAR)
        np.minimum.at(begin, sources, source_cost)
        finish = np.where(goal >= 0, goal_cost[np.maximum(goal, 0)], FAR)
        if graph.by_axis:
            begin, finish = _join_axes(begin), _join_axes(finish)
        heads = graph.head[self.out]
        weight[self.out] = begin[graph.states[heads]]
        weight[graph.arc[self.into]] = finish[graph.states[graph.tail[self.into]]]
        ahead = look_ahead(graph, weight, self.mask, self.word, self.telling)
        self.search.begin(graph, weight, ahead, self.mask, FAR / 2, MOST_GUIDED_STATES)
        self.search.extend(FAR / 2, self.word)
        self.opened += self.search.opened + graph.nodes * (1 + 2 * len(self.telling))
        if not len(self.search.words):
            return None
        trail = graph.trail(self.search.way(0), self.instance.columns)
        return trail, float(self.search.costs[0])


def _join_axes(cost: np.ndarray) -> np.ndarray:
    """Return for each state the lesser cost of its own direction and the opposite one."""
    by_cell = cost.reshape(-1, 2, 2)
    return np.repeat(by_cell.min(axis=1, keepdims=True), 2, axis=1).ravel()


def route_guided(
    search: Negotiation,
    graphs: list[NetGraph],
    masks: list[int],
    words: tuple[int, ...],
    attempt: int,
    seed: int,
) -> tuple[tuple[Trace, ...], int]:
    """Return a routing in which each net takes its course, improved without it, and the states opened for it.

    The routing is empty where none was found.

    Parameters
    ----------
    search : Negotiation
        Left with the routing found, or with none.
    graphs : list of NetGraph
        Whole, of each net.
    masks, words : list of int, tuple of int
        For each net the bits of its label that matter, and their values.
    attempt : int
        How often the same courses were tried before.
    seed : int
    """
    nets = list(range(len(graphs)))
    guides = {
        search.instance.nets[n].name: CourseGuide(search.instance, graphs[n], masks[n], words[n])
        for n in nets
        if masks[n]
    }
    search.tracer.guides = dict(guides)
    first_price, growth, rounds = ATTEMPTS[attempt % len(ATTEMPTS)]
    rng = np.random.default_rng((seed, attempt)) if attempt else None
    left = search.negotiate(nets, first_price, growth, rounds, rng)
    search.tracer.guides = {}
    opened = sum(guide.opened for guide in guides.values())
    if left:
        for n in nets:
            search.put(n, None)
        return (), opened
    search.improve_each(nets)
    return tuple(trace for trace in search.traces if trace is not None), opened
