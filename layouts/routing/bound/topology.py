"""Which courses two channels may take past each other in one layer, as counts that any router can check.

Each net j has a *reference curve*: a way along the cells' corners from its first end to its second. A channel of
another net i crosses it a number of times, counted with signs: W_ij. Two channels that do not cross obey
W_ij - W_ji = kappa_ij, and kappa is a matter of the two reference curves alone.

Why: a channel and its own reference curve, run backwards, close a loop. Two loops in the plane cross each other
zero times when signs are counted; the channels do not cross, so the other three sorts of crossings cancel.

For this the loop must close. An end with several terminals is closed through ground that no other channel enters
(what is blocked beside the terminals, or the outside of the plate) to one *anchor*, where the reference curve
begins. Where no such ground is found, or where another's curve or room lies across it, the pair is left out:
the rule then says nothing about it. Nets with three and more ends, and two layers, have no such rule.

Source
------
Intersection numbers of closed curves in the plane: Guillemin and Pollack, "Differential Topology", 1974,
chapter 3 (recalled, not verified).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from layouts.routing.bound.curves import Lattice, count_line_crossings
from layouts.routing.instance import DX, DY, Instance
from layouts.routing.one_channel.trace import Trace


@dataclass(frozen=True, slots=True)
class CrossingRow:
    """The rule of one pair of nets: crossings of i over j's curve less crossings of j over i's are `kappa`.

    With x the moves, arcs and terminals that a routing uses (each counted as often as it is used):
    sum(x_i * (moves_i, arcs_i, starts_i, goals_i)) - sum(x_j * (moves_j, ...)) == kappa.

    Parameters
    ----------
    i, j : int
        Index of the nets, i < j.
    moves_i : (cells * 4,) int8
        Entry cell * 4 + direction: signed crossings over j's curve of a step of i in this direction INTO the cell.
    arcs_i : (cells * 8,) int8
        Entry cell * 8 + direction * 2 + turn: the same of a bend of i that begins in state (cell, direction);
        turn 0 left, 1 right, as in `arc_cells`. Zero where the bend leaves the grid or takes no cells.
    starts_i, goals_i : (terminals,) int8
        The same of what lies behind the terminals of i's first end (bore, tail and last step, outward in) and of
        its second (the same, inward out), in the order of the net's terminals.
    moves_j, arcs_j, starts_j, goals_j
        The same of j over i's curve.
    kappa : int
    """

    i: int
    j: int
    moves_i: np.ndarray
    arcs_i: np.ndarray
    starts_i: np.ndarray
    goals_i: np.ndarray
    moves_j: np.ndarray
    arcs_j: np.ndarray
    starts_j: np.ndarray
    goals_j: np.ndarray
    kappa: int


@dataclass(frozen=True, slots=True)
class Topology:
    """Reference curves of an instance's nets and the pairs that they hold for.

    Parameters
    ----------
    moves : (nets, cells * 4) int8
        Signed crossings of a step into a state over each net's curve; zero for a net without one.
    arcs : (nets, cells * 8) int8
        The same of bends.
    kappa : (nets, nets) int
        Antisymmetric.
    holds : (nets, nets) bool
        Pairs for which the rule holds; symmetric, False on the diagonal.
    behind : tuple of tuple of (nets, terminals) int8
        behind[i][e][j, t]: signed crossings over j's curve of what lies behind terminal t of end e (0 or 1) of
        net i, along the channel's own direction; empty for a net without a curve.
    """

    moves: np.ndarray
    arcs: np.ndarray
    kappa: np.ndarray
    holds: np.ndarray
    behind: tuple[tuple[np.ndarray, ...], ...]

    def row(self, i: int, j: int) -> CrossingRow:
        """Return the rule of a pair for which it holds, i < j."""
        return CrossingRow(
            i,
            j,
            self.moves[j],
            self.arcs[j],
            self.behind[i][0][j],
            self.behind[i][1][j],
            self.moves[i],
            self.arcs[i],
            self.behind[j][0][i],
            self.behind[j][1][i],
            int(self.kappa[i, j]),
        )


def find_topology(
    instance: Instance, blocked: tuple[np.ndarray, ...], usable: tuple[tuple[np.ndarray, ...], ...]
) -> Topology:
    """Return the crossing rules of an instance.

    Parameters
    ----------
    instance : Instance
    blocked : tuple of (classes, cells) bool
        For each net, where its features may not stand (`Negotiation.fixed`).
    usable : tuple of tuple of (terminals,) bool
        For each net and end, the terminals that it may choose.

    Returns
    -------
    Topology
    """
    lattice = Lattice(instance, blocked, usable)
    count = len(instance.nets)
    claims = [lattice.claim(net) for net in range(count)]
    curves = [lattice.draw_curve(net, claims) for net in range(count)]
    holds = np.zeros((count, count), dtype=bool)
    kappa = np.zeros((count, count), np.int64)
    for i in range(count):
        for j in range(i):
            a, b, curve_a, curve_b = claims[i], claims[j], curves[i], curves[j]
            if a is None or b is None or curve_a is None or curve_b is None:
                continue
            apart = (
                not lattice.reach[j][a.cells].any()
                and not lattice.reach[i][b.cells].any()
                and not np.isin(a.cells, b.cells).any()
            )
            if apart and not curve_a.crosses(b) and not curve_b.crosses(a):
                holds[i, j] = holds[j, i] = True
                kappa[i, j] = count_line_crossings(curve_a.line, curve_b.line)
                kappa[j, i] = -kappa[i, j]
    moves = np.stack([lattice.state_moves(curve) for curve in curves])
    arcs = np.stack([lattice.arc_moves(moves[net]) for net in range(count)])
    behind = tuple(lattice.behind(claim, curves) for claim in claims)
    return Topology(moves, arcs, kappa, holds, behind)


def count_crossings(instance: Instance, topology: Topology, net: int, trace: Trace) -> np.ndarray:
    """Return the signed crossings of a routed net of two ends over every net's curve, (nets,) int.

    Parameters
    ----------
    instance : Instance
    topology : Topology
    net : int
    trace : Trace
    """
    columns, k = instance.columns, instance.bend_cells
    ends = instance.nets[net].ends
    tails = [set(t.tail) for t in trace.chosen]
    total = np.zeros(len(instance.nets), np.int64)
    for e, terminal in enumerate(trace.chosen):
        total += topology.behind[net][e][:, ends[e].index(terminal)]
    corners = trace.runs[0].corners
    last = len(corners) - 1
    for n, ((ax, ay), (bx, by)) in enumerate(pairwise(corners)):
        length = abs(bx - ax) + abs(by - ay)
        if length == 0:
            continue
        sx, sy = (bx > ax) - (bx < ax), (by > ay) - (by < ay)
        d = next(m for m in range(4) if (DX[m], DY[m]) == (sx, sy))
        first = k if n else len(tails[0])
        until = length - (k if n + 1 < last else len(tails[1]))
        for m in range(first + 1, until + 1):
            total += topology.moves[:, ((ay + sy * m) * columns + ax + sx * m) * 4 + d]
        if n + 1 < last and k:
            cx, cy = corners[n + 2]
            turn = 0 if sx * (cy - by) - sy * (cx - bx) > 0 else 1
            begins = (by - k * sy) * columns + bx - k * sx
            total += topology.arcs[:, begins * 8 + d * 2 + turn]
    return total


def find_violated(instance: Instance, topology: Topology, traces: tuple[Trace, ...]) -> list[tuple[int, int]]:
    """Return the pairs of nets whose rule a routing breaks: none, where it is feasible and the rules are right."""
    count, plane = len(instance.nets), instance.columns * instance.rows
    # The rules are those of the first layer, for channels that stay in it.
    told = topology.holds.any(axis=1)
    told &= np.array([not trace.holes and bool((trace.cells < plane).all()) for trace in traces])
    w = np.zeros((count, count), np.int64)
    for net in np.flatnonzero(told):
        w[net] = count_crossings(instance, topology, int(net), traces[net])
    wrong = topology.holds & told & told[:, None] & (w - w.T != topology.kappa)
    return [(int(i), int(j)) for i, j in np.argwhere(wrong) if i < j]
