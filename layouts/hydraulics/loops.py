"""The independent loops of a network: with flow round loops as the unknown, every node balances by itself.

Sums over loops go through `einsum`, not through the matrix product: at this size its threads cost more than they
save, and a hundred times more where other programs keep the cores busy.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from layouts.hydraulics.interpolation import Floats


@dataclass(frozen=True, slots=True, eq=False)
class Loops:
    """A spanning tree of a network and the loop that each other edge closes.

    Parameters
    ----------
    matrix : (loops, edges) float
        +1 where a loop runs along an edge, -1 against it, 0 elsewhere, [-].
    chords : tuple of int
        Of each loop: the edge outside the tree that closes it, along which it runs.
    walk : tuple of (int, int, int)
        Steps from the first node through the tree: node known, edge, node reached.
    nodes : int
        Number of nodes that the walk reaches, the first included.
    """

    matrix: Floats
    chords: tuple[int, ...]
    walk: tuple[tuple[int, int, int], ...]
    nodes: int

    def spread_flows(self, around: Floats) -> Floats:
        """Return the flow of each edge.

        Parameters
        ----------
        around : (loops,) float
            Flow round each loop, [m3/s].

        Returns
        -------
        (edges,) float
            [m3/s]
        """
        return np.einsum("l,le->e", around, self.matrix)

    def sum_round(self, drops: Floats) -> Floats:
        """Return the sum of drops round each loop.

        Parameters
        ----------
        drops : (edges,) float
            [Pa]

        Returns
        -------
        (loops,) float
            [Pa]
        """
        return np.einsum("le,e->l", self.matrix, drops)

    def sum_slopes(self, slopes: Floats) -> Floats:
        """Return how the sums round the loops change with the flows round them.

        Parameters
        ----------
        slopes : (edges,) float
            Of each edge's drop over its own flow, [Pa s/m3].

        Returns
        -------
        (loops, loops) float
            Symmetric, [Pa s/m3].
        """
        return np.einsum("le,ke->lk", self.matrix * slopes, self.matrix)


@lru_cache(maxsize=64)
def find_loops(ends: tuple[tuple[int, int], ...], first: int, last_choice: tuple[bool, ...]) -> Loops:
    """Return a spanning tree from a node, and the loops of the edges outside it.

    Parameters
    ----------
    ends : tuple of (int, int)
        Start and end node of each edge.
    first : int
        The node to start from.
    last_choice : tuple of bool
        Edges to leave out of the tree where possible.

    Returns
    -------
    Loops
    """
    tree = _choose_tree(ends, last_choice)
    at_node: dict[int, list[int]] = {}
    for edge in tree:
        for node in ends[edge]:
            at_node.setdefault(node, []).append(edge)
    reached: dict[int, tuple[int, int, int]] = {first: (-1, -1, 0)}
    walk: list[tuple[int, int, int]] = []
    queue = [first]
    for node in queue:
        for edge in at_node.get(node, ()):
            start, end = ends[edge]
            other = end if start == node else start
            if other not in reached:
                reached[other] = (node, edge, reached[node][2] + 1)
                walk.append((node, edge, other))
                queue.append(other)
    in_tree = set(tree)
    chords = [e for e, (start, _) in enumerate(ends) if e not in in_tree and start in reached]
    matrix = np.zeros((len(chords), len(ends)))
    for row, chord in enumerate(chords):
        matrix[row, chord] = 1.0
        start, end = ends[chord]
        # Back from the chord's end to its start, each side climbing to where the two paths meet.
        while start != end:
            if reached[end][2] >= reached[start][2]:
                node, edge, _ = reached[end]
                matrix[row, edge] += 1.0 if ends[edge][0] == end else -1.0
                end = node
            else:
                node, edge, _ = reached[start]
                matrix[row, edge] += 1.0 if ends[edge][1] == start else -1.0
                start = node
    return Loops(matrix, tuple(chords), tuple(walk), len(reached))


def _choose_tree(ends: tuple[tuple[int, int], ...], last_choice: tuple[bool, ...]) -> list[int]:
    group = {node: node for pair in ends for node in pair}

    def find_root(node: int) -> int:
        while group[node] != node:
            group[node] = group[group[node]]
            node = group[node]
        return node

    tree = []
    for edge in sorted(range(len(ends)), key=lambda e: last_choice[e]):
        start, end = (find_root(node) for node in ends[edge])
        if start != end:
            group[start] = end
            tree.append(edge)
    return tree
