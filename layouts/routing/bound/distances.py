"""Compiled work on graphs in arrays: their order, distances in them, and what lies within a limit."""

from __future__ import annotations

import numpy as np

from geom.compiled import compile_cached
from geom.heap import grow, pop, push

FAR = 1e18
"""Where there is no way."""


@compile_cached
def sort_by(nodes, key):  # type: ignore[no-untyped-def]
    """Return (first, order): arcs by their node `key`, those of node v at order[first[v]:first[v + 1]]."""
    first = np.zeros(nodes + 1, np.int64)
    for n in range(key.size):
        first[key[n] + 1] += 1
    for v in range(nodes):
        first[v + 1] += first[v]
    place = first.copy()
    order = np.empty(key.size, np.int64)
    for n in range(key.size):
        order[place[key[n]]] = n
        place[key[n]] += 1
    return first, order


@compile_cached
def find_distances(first, other, arc, weight, start):  # type: ignore[no-untyped-def]
    """Return the distance of every node from `start`, (nodes,) float; FAR where there is no way.

    Parameters
    ----------
    first, other : (nodes + 1,) int, (arcs,) int
        The nodes next to node v: other[first[v]:first[v + 1]].
    arc : (arcs,) int
        Number of each arc in `weight`.
    weight : (arcs,) float
        Not negative.
    start : int
    """
    distance = np.full(first.size - 1, FAR)
    keys = np.empty(1024, np.float64)
    values = np.empty(1024, np.int64)
    distance[start] = 0.0
    size = push(keys, values, 0, 0.0, start)
    while size > 0:
        key = keys[0]
        v = values[0]
        size = pop(keys, values, size)
        if key > distance[v]:
            continue
        for n in range(first[v], first[v + 1]):
            t = other[n]
            d = key + weight[arc[n]]
            if d < distance[t]:
                distance[t] = d
                if size == keys.size:
                    keys, values = grow(keys), grow(values)
                size = push(keys, values, size, d, t)
    return distance


@compile_cached
def find_bit_distances(first, other, arc, weight, flips, bit, start):  # type: ignore[no-untyped-def]
    """Return the distance of every node from `start` by an even and by an odd number of crossings, (2, nodes) float.

    Parameters
    ----------
    first, other : (nodes + 1,) int, (arcs,) int
        The nodes next to node v: other[first[v]:first[v + 1]].
    arc : (arcs,) int
        Number of each arc in `weight` and `flips`.
    weight : (arcs,) float
        Not negative.
    flips : (arcs,) int
        Bit j: whether the arc crosses curve j an odd number of times.
    bit : int
        Which curve's crossings are counted.
    start : int
    """
    nodes = first.size - 1
    distance = np.full((2, nodes), FAR)
    keys = np.empty(1024, np.float64)
    values = np.empty(1024, np.int64)
    distance[0, start] = 0.0
    size = push(keys, values, 0, 0.0, 2 * start)
    while size > 0:
        key = keys[0]
        v = values[0] >> 1
        odd = values[0] & 1
        size = pop(keys, values, size)
        if key > distance[odd, v]:
            continue
        for n in range(first[v], first[v + 1]):
            t = other[n]
            d = key + weight[arc[n]]
            there = odd ^ ((flips[arc[n]] >> bit) & 1)
            if d < distance[there, t]:
                distance[there, t] = d
                if size == keys.size:
                    keys, values = grow(keys), grow(values)
                size = push(keys, values, size, d, 2 * t + there)
    return distance


@compile_cached
def find_kept(first, head, weight, flips, before, ahead, bits, want, before_bits, ahead_bits, limit):  # type: ignore[no-untyped-def]
    """Return the arcs that may lie on a way within a limit, (arcs,) bool.

    Parameters
    ----------
    first, head, weight, flips
        Of a graph.
    before, ahead : (nodes,) float
        Distance from the source, and to the sink.
    bits : (k,) int
        Curves for which it is known whether the whole way crosses them an odd number of times.
    want : int
        Word of those that do.
    before_bits, ahead_bits : (k, 2, nodes) float
        Distances by the parity of the crossings on the way from the source, and to the sink.
    limit : float
    """
    kept = np.zeros(head.size, np.bool_)
    for v in range(first.size - 1):
        for n in range(first[v], first[v + 1]):
            t = head[n]
            if before[v] + weight[n] + ahead[t] > limit:
                continue
            kept[n] = True
            for k in range(bits.size):
                turn = ((flips[n] ^ want) >> bits[k]) & 1
                if (
                    before_bits[k, 0, v] + weight[n] + ahead_bits[k, turn, t] > limit
                    and before_bits[k, 1, v] + weight[n] + ahead_bits[k, 1 - turn, t] > limit
                ):
                    kept[n] = False
                    break
    return kept
