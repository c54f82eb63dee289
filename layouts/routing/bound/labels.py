"""Cheapest ways of one net for each of its courses past other nets' curves, cheapest course first.

A *label* is a word of bits: bit j tells whether the way so far has crossed net j's curve an odd number of times.
The search runs over (node, label) with the exact distance to the sink as its guide, so that labels come out in
the order of their cost. It can be stopped at any cost and taken up again: what it has not reached yet costs at
least its *frontier*.

Source
------
Hart, Nilsson, Raphael, "A Formal Basis for the Heuristic Determination of Minimum Cost Paths", IEEE Transactions
on Systems Science and Cybernetics 4 (1968) (the search).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit

from geom.compiled import compile_cached
from geom.heap import pop, push
from layouts.routing.bound.distances import FAR, find_bit_distances
from layouts.routing.bound.graphs import NetGraph

FIRST_ENTRIES = 4096

_REACHED, _FULL, _SPENT = 0, 1, 2

_ENTRIES, _OPEN, _LABELS, _OPENED = 0, 1, 2, 3


@dataclass(frozen=True, slots=True)
class Ahead:
    """What a net still has to pay at least from each node to the sink.

    Parameters
    ----------
    plain : (nodes,) float
        On the cheapest way.
    known : int
        Bits of the label at the sink that are known; other labels are not wanted.
    want : int
        Their values.
    bits : (k,) int
        Those of the known bits that make ways dearer.
    by_bit : (k, 2, nodes) float
        For each of them, on the cheapest way that crosses its curve an even, and an odd number of times.
    least : float
        At the source.
    """

    plain: np.ndarray
    known: int
    want: int
    bits: np.ndarray
    by_bit: np.ndarray
    least: float


def look_ahead(graph: NetGraph, weight: np.ndarray, known: int, want: int, bits: list[int]) -> Ahead:
    """Return the distances of a graph for weights of its arcs, those by known bits for some of these."""
    plain = graph.distances(weight)
    least = float(plain[graph.source])
    by_bit = np.empty((len(bits), 2, graph.nodes))
    for k, bit in enumerate(bits):
        by_bit[k] = find_bit_distances(
            graph.into, graph.tail, graph.arc, weight, graph.flips, bit, graph.sink
        )
        least = max(least, float(by_bit[k, (want >> bit) & 1, graph.source]))
    return Ahead(plain, known, want, np.array(bits, np.int64), by_bit, least)


class LabelSearch:
    """A search over the labels of one net, kept between calls and used again for other prices."""

    def __init__(self) -> None:
        self.entry = np.empty((3, FIRST_ENTRIES), np.int64)
        self.distance = np.empty(FIRST_ENTRIES)
        self.slots = np.full(4 * FIRST_ENTRIES, -1, np.int32)
        self.keys = np.empty(4 * FIRST_ENTRIES)
        self.values = np.empty(4 * FIRST_ENTRIES, np.int64)
        self.table = np.empty((2, 256), np.int64)
        self.table_cost = np.empty(256)
        self.sizes = np.zeros(4, np.int64)

    def begin(
        self,
        graph: NetGraph,
        weight: np.ndarray,
        ahead: Ahead,
        mask: int,
        cap: float,
        most: int,
    ) -> None:
        """Begin anew.

        Parameters
        ----------
        graph : NetGraph
        weight : (arcs,) float
            Cost and price of each arc.
        ahead : Ahead
            Distances of each node to the sink.
        mask : int
            Bits that labels have.
        cap : float
            Ways that cost more are not wanted.
        most : int
            States that may be opened in all.
        """
        self.graph, self.weight, self.ahead, self.mask, self.cap, self.most = (
            graph,
            weight,
            ahead,
            mask,
            cap,
            most,
        )
        self.slots[:] = -1
        self.sizes[:] = 0
        self.spent = False
        if ahead.least <= cap:
            _start(
                graph.source,
                ahead.least,
                self.entry,
                self.distance,
                self.slots,
                self.keys,
                self.values,
                self.sizes,
            )

    @property
    def frontier(self) -> float:
        """Least cost that a label not found yet can have; FAR where there is none."""
        return float(self.keys[0]) if self.sizes[_OPEN] else FAR

    @property
    def words(self) -> np.ndarray:
        """The labels found, (n,) int, cheapest first."""
        return self.table[0, : self.sizes[_LABELS]]

    @property
    def costs(self) -> np.ndarray:
        """Their costs, (n,) float."""
        return self.table_cost[: self.sizes[_LABELS]]

    @property
    def opened(self) -> int:
        """States opened since `begin`."""
        return int(self.sizes[_OPENED])

    def extend(self, limit: float, wanted: int = -1) -> None:
        """Go on until every label that costs at most `limit` is found, the wanted one is, or `most` are opened."""
        while not self.spent:
            graph = self.graph
            status = _extend(
                graph.first,
                graph.head,
                self.weight,
                graph.flips,
                self.ahead.plain,
                self.ahead.bits,
                self.ahead.want,
                self.ahead.by_bit,
                self.ahead.known,
                graph.sink,
                self.mask,
                self.cap,
                limit,
                wanted,
                self.most,
                self.entry,
                self.distance,
                self.slots,
                self.keys,
                self.values,
                self.table,
                self.table_cost,
                self.sizes,
            )
            if status == _REACHED:
                return
            if status == _SPENT:
                self.spent = True
            else:
                self._grow()

    def _grow(self) -> None:
        if self.sizes[_LABELS] + 1 >= self.table.shape[1]:
            self.table = np.concatenate([self.table, np.empty_like(self.table)], axis=1)
            self.table_cost = np.concatenate([self.table_cost, np.empty_like(self.table_cost)])
            return
        self.entry = np.concatenate([self.entry, np.empty_like(self.entry)], axis=1)
        self.distance = np.concatenate([self.distance, np.empty_like(self.distance)])
        self.keys = np.concatenate([self.keys, np.empty_like(self.keys)])
        self.values = np.concatenate([self.values, np.empty_like(self.values)])
        self.slots = np.full(2 * len(self.slots), -1, np.int32)
        _fill_slots(self.entry, self.slots, int(self.sizes[_ENTRIES]))

    def way(self, number: int) -> np.ndarray:
        """Return the nodes of a found label's way, source and sink left out, (n,) int."""
        entry = int(self.table[1, number])
        out = []
        while entry >= 0:
            out.append(int(self.entry[0, entry]))
            entry = int(self.entry[2, entry])
        return np.array(out[-2:0:-1], np.int64)

    def arcs_of(self, number: int) -> np.ndarray:
        """Return the arcs of a found label's way, in order, (n,) int."""
        return _trace_arcs(
            self.graph.first,
            self.graph.head,
            self.weight,
            self.graph.flips,
            self.mask,
            self.entry,
            self.distance,
            int(self.table[1, number]),
        )


@compile_cached
def _start(source, least, entry, distance, slots, keys, values, sizes):  # type: ignore[no-untyped-def]
    entry[0, 0] = source
    entry[1, 0] = 0
    entry[2, 0] = -1
    distance[0] = 0.0
    slots[_hash(source, 0, slots.size)] = 0
    sizes[0] = 1
    sizes[1] = push(keys, values, 0, least, 0)


@njit(cache=True)
def _ahead(ahead, bits, want, by_bit, node, word):  # type: ignore[no-untyped-def]
    """Return what is still to pay at least from a node to the sink, for a way with this label so far."""
    most = ahead[node]
    for k in range(bits.size):
        there = by_bit[k, ((word ^ want) >> bits[k]) & 1, node]
        if there > most:
            most = there
    return most


@njit(cache=True)
def _hash(node, word, size):  # type: ignore[no-untyped-def]
    mixed = (node * 0x9E3779B1) ^ (word * 0x85EBCA6B)
    mixed ^= mixed >> 15
    mixed *= 0x2C1B3C6D
    mixed ^= mixed >> 13
    return mixed & (size - 1)


@compile_cached
def _fill_slots(entry, slots, count):  # type: ignore[no-untyped-def]
    for e in range(count):
        at = _hash(entry[0, e], entry[1, e], slots.size)
        while slots[at] >= 0:
            at = (at + 1) & (slots.size - 1)
        slots[at] = e


@compile_cached
def _extend(  # type: ignore[no-untyped-def]
    first,
    head,
    weight,
    flips,
    ahead,
    bits,
    want,
    by_bit,
    known,
    sink,
    mask,
    cap,
    limit,
    wanted,
    most,
    entry,
    distance,
    slots,
    keys,
    values,
    table,
    table_cost,
    sizes,
):
    """Open states in the order of their least whole cost; return 0: done, 1: more room is wanted, 2: `most` opened."""
    entries = sizes[0]
    size = sizes[1]
    labels = sizes[2]
    opened = sizes[3]
    status = 0
    while size > 0 and keys[0] <= limit:
        if opened >= most:
            status = 2
            break
        e = values[0]
        v = entry[0, e]
        degree = first[v + 1] - first[v]
        if entries + degree > distance.size or size + degree > keys.size or labels + 1 >= table_cost.size:
            status = 1
            break
        key = keys[0]
        size = pop(keys, values, size)
        g = distance[e]
        word = entry[1, e]
        if key > g + _ahead(ahead, bits, want, by_bit, v, word):
            continue
        opened += 1
        if v == sink:
            table[0, labels] = word
            table[1, labels] = e
            table_cost[labels] = g
            labels += 1
            if word == wanted:
                break
            continue
        for n in range(first[v], first[v + 1]):
            t = head[n]
            d = g + weight[n]
            if d + ahead[t] > cap:
                continue
            there = word ^ (flips[n] & mask)
            if t == sink and (there ^ want) & known != 0:
                continue
            f = d + _ahead(ahead, bits, want, by_bit, t, there)
            if f > cap:
                continue
            at = _hash(t, there, slots.size)
            while True:
                o = slots[at]
                if o < 0:
                    o = entries
                    slots[at] = o
                    entry[0, o] = t
                    entry[1, o] = there
                    entries += 1
                    distance[o] = FAR
                    break
                if entry[0, o] == t and entry[1, o] == there:
                    break
                at = (at + 1) & (slots.size - 1)
            if d < distance[o]:
                distance[o] = d
                entry[2, o] = e
                size = push(keys, values, size, f, o)
    sizes[0] = entries
    sizes[1] = size
    sizes[2] = labels
    sizes[3] = opened
    return status


@compile_cached
def _trace_arcs(first, head, weight, flips, mask, entry, distance, last):  # type: ignore[no-untyped-def]
    count = 0
    e = last
    while entry[2, e] >= 0:
        count += 1
        e = entry[2, e]
    out = np.empty(count, np.int64)
    e = last
    while entry[2, e] >= 0:
        before = entry[2, e]
        v = entry[0, before]
        best = -1
        for n in range(first[v], first[v + 1]):
            if head[n] != entry[0, e] or entry[1, before] ^ (flips[n] & mask) != entry[1, e]:
                continue
            if best < 0 or weight[n] < weight[best]:
                best = n
        count -= 1
        out[count] = best
        e = before
    return out
