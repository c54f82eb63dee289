"""A lower bound for a channel of three and more ends: the least tree, by Dreyfus and Wagner's recursion.

The tree is looked at as one that flows out of its first end: every way is a way from there to the other ends,
so that a price for moving into a cell is paid once by everything behind it. What only makes a real tree dearer
is left out, as the distance of its branches from each other; the straights beside a T are asked for.

Source
------
Dreyfus and Wagner, "The Steiner Problem in Graphs", Networks 1 (1971); with the order of labels by Hougardy,
Silvanus and Vygen, "Dijkstra meets Steiner", Mathematical Programming Computation 9 (2017).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from layouts.routing.instance import DX, DY, Instance, Net
from layouts.routing.one_channel.ends import EndTable
from layouts.routing.one_channel.trail import arc_cells
from layouts.routing.trees.steiner import find_tree, price_arcs


@dataclass(frozen=True, slots=True)
class EntryPrices:
    """Prices for a channel that is followed from its first end; none negative.

    Parameters
    ----------
    entering : (cells * 4,) float
        Of moving one cell straight into a state (cell * 4 + direction).
    turning : (cells * 8,) float
        Of a bend that begins in (cell, direction): entry cell * 8 + direction * 2 for a left turn, + 1 for a
        right one.
    standing : (cells,) float
        Of beginning at a cell, and of coming into it by a through hole.
    ends : tuple of (terminals,) float
        Of each terminal of each end, beyond `Terminal.cost`; empty: none.
    """

    entering: np.ndarray
    turning: np.ndarray
    standing: np.ndarray
    ends: tuple[np.ndarray, ...] = ()


@dataclass(frozen=True, slots=True)
class TreeLeg:
    """A piece of the tree with one flow.

    Parameters
    ----------
    ends : int
        Bit e is set where end e lies beyond it, seen from the first end.
    states : tuple of int
        From the first end outwards. The first state is where the tree begins, or that of the T (its cell is
        paid by the leg before); each further one is a move, a bend or a through hole.
    """

    ends: int
    states: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class TreeBound:
    """The least tree of the relaxed problem.

    Parameters
    ----------
    cost : float
        Prices included; infinite where there is no tree, or none within the limit.
    legs : tuple of TreeLeg
        The first one begins at the first end; empty where there is no tree.
    exact : bool
        Whether all ends are in it; otherwise some were left out, and `cost` is a bound all the same.
    """

    cost: float
    legs: tuple[TreeLeg, ...]
    exact: bool = True


MOST_EXACT_ENDS = 6
"""Ends up to which all sets of them are looked at: each further one makes the work threefold."""


def bound_tree(
    instance: Instance,
    net: Net,
    blocked: np.ndarray,
    prices: EntryPrices | None = None,
    limit: float = math.inf,
) -> TreeBound:
    """Return a tree that no channel of this net beats, prices included.

    Of a net with more than `MOST_EXACT_ENDS` ends that many are joined, chosen far apart: the tree of all
    contains a tree of these, whose legs cost at least what the cheapest leg with the same chosen ends does, and
    which pays for a T at least where a left out branch lets it turn within a cell.

    Parameters
    ----------
    instance : Instance
    net : Net
        Of two and more ends, not straight down.
    blocked : (classes, cells) bool
        For this net: the instance's own, with what always stands near; ends that stand there are left out.
    prices : EntryPrices or None
    limit : float
        Trees that cost more are not looked for.

    Returns
    -------
    TreeBound

    Source
    ------
    Dreyfus and Wagner, Networks 1 (1971).
    """
    if len(net.ends) > MOST_EXACT_ENDS:
        chosen = _far_apart(instance, net)
        # A branch that is left out may let others turn in the straights beside a T: none are asked for.
        return TreeBound(*search_tree(instance, net, blocked, prices, limit, chosen=chosen), exact=False)
    chosen = tuple(range(len(net.ends)))
    reach, margin = stub_cells(instance, net), instance.tee_margin
    found = search_tree(instance, net, blocked, prices, limit, chosen=chosen, reach=reach, margin=margin)
    return TreeBound(*found)


def stub_cells(instance: Instance, net: Net) -> int:
    """Return the straight cells with which a branch begins: as many as keep it off its trunk."""
    if instance.bend_cells == 0:
        return 0
    return int(np.abs(instance.offsets[net.channel_class][net.channel_class]).max()) + 1


def price_cells(instance: Instance, cell_price: np.ndarray, closed: np.ndarray) -> EntryPrices:
    """Return the prices of a search that pays for each cell that it enters; infinite where closed.

    Parameters
    ----------
    instance : Instance
    cell_price : (cells,) float
    closed : (cells,) bool

    Returns
    -------
    EntryPrices
    """
    arc_x, arc_y = arc_cells(instance)
    priced = np.where(closed, math.inf, cell_price)
    turning = price_arcs(
        instance.columns, instance.rows, instance.layers, closed, cell_price, arc_x, arc_y, arc_x.shape[1]
    )
    return EntryPrices(np.repeat(priced, 4), turning, priced)


def search_tree(
    instance: Instance,
    net: Net,
    blocked: np.ndarray,
    prices: EntryPrices | None = None,
    limit: float = math.inf,
    *,
    chosen: tuple[int, ...],
    reach: int = 0,
    margin: int = 0,
    relaxed: bool = True,
    no_tee: np.ndarray | None = None,
    usable: list[np.ndarray] | None = None,
) -> tuple[float, tuple[TreeLeg, ...]]:
    """Return the cost and the legs of the cheapest tree of some ends, the first of them its root.

    Parameters
    ----------
    instance : Instance
    net : Net
    blocked : (classes, cells) bool
    prices : EntryPrices or None
    limit : float
    chosen : tuple of int
        Which ends; where some are left out, legs may turn at the Ts of theirs.
    reach : int
        Straight cells with which each branch begins at its T.
    margin : int
        Straight cells between a T and an end or another T; 0: `reach` is not asked for either. Neither is where
        bends turn within a cell.
    relaxed : bool
        Whether no tree that keeps the rules may cost less.
    no_tee : (cells,) bool or None
        Where no T may stand.
    usable : list of (terminals,) bool, or None
        Which terminals of each end may be used; None: by `blocked`.

    Returns
    -------
    float, tuple of TreeLeg
        Infinite and nothing where there is no tree, or none within the limit.
    """
    closed = blocked[net.channel_class]
    loose = instance.bend_cells == 0 or instance.tee_margin == 0
    plain = price_cells(instance, np.zeros(instance.cells), closed)
    entering, turning, standing = plain.entering, plain.turning, plain.standing
    if prices is not None:
        entering, turning = entering + prices.entering, turning + prices.turning
        standing = standing + prices.standing
    tables = [EndTable(end, net.channel_class) for end in net.ends]
    may = usable if usable is not None else [table.usable(blocked, None) for table in tables]
    rates = _set_rates(instance, net, chosen)
    arc_x, arc_y = arc_cells(instance)
    last = arc_x.shape[1] - 1
    end_x, end_y = (arc_x[:, last], arc_y[:, last]) if last >= 0 else (np.zeros(8, np.int64),) * 2

    def states_of(end: int, states: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        table = tables[end]
        here = may[end][table.owner]
        owner = table.owner[here]
        price = table.cost[owner]
        if prices is not None and prices.ends:
            price = price + prices.ends[end][owner]
        tails = np.array([len(t.tail) for t in table.terminals], np.int64)[owner]
        return states[here], price, tails

    sources, source_price, source_tail = states_of(chosen[0], tables[chosen[0]].leaving)
    goals = [states_of(end, tables[end].arriving) for end in chosen[1:]]
    if not len(sources) or any(not len(states) for states, _, _ in goals):
        return math.inf, ()
    cost, label, nearer, other = find_tree(
        instance.columns,
        instance.rows,
        instance.layers,
        closed,
        entering,
        turning,
        standing,
        np.zeros(instance.cells, dtype=bool) if no_tee is None else no_tee,
        rates,
        float(instance.rates_of(net).tee),
        np.ascontiguousarray(end_x),
        np.ascontiguousarray(end_y),
        np.concatenate([states for states, _, _ in goals]),
        np.concatenate([price for _, price, _ in goals]),
        np.concatenate([np.full(len(s), 1 << n, np.int64) for n, (s, _, _) in enumerate(goals)]),
        np.concatenate([tails for _, _, tails in goals]),
        sources,
        source_price + (0.0 if prices is None else standing[sources >> 2]),
        source_tail,
        _spans(instance, [tables[end].cell for end in chosen]),
        _least_steps(rates[:, 0]),
        0 if loose or margin == 0 else reach,
        0 if loose else margin,
        loose,
        relaxed,
        len(chosen) < len(net.ends),
        float(limit),
    )
    if label < 0:
        return math.inf, ()
    return float(cost), _read_legs(instance, chosen, len(rates), label, nearer, other, end_x, end_y)


def _set_rates(instance: Instance, net: Net, chosen: tuple[int, ...]) -> np.ndarray:
    """Return step, bend (its straights included) and through hole of a leg, by the chosen ends beyond it.

    Ends that are left out may lie on either side: the least of each rate counts.
    """
    straight = 2 * instance.bend_cells
    sets = 1 << (len(chosen) - 1)
    if not net.leg_rates:
        rates = instance.rates_of(net)
        return np.full((sets, 3), (rates.step, rates.bend + straight * rates.step, rates.through))
    out = np.full((sets, 3), math.inf)
    for beyond, rates in enumerate(net.leg_rates):
        if not beyond >> chosen[0] & 1:
            held = sum(1 << n for n, end in enumerate(chosen[1:]) if beyond >> end & 1)
            row = (rates.step, rates.bend + straight * rates.step, rates.through)
            out[held] = np.minimum(out[held], row)
    return out


def _least_steps(steps: np.ndarray) -> np.ndarray:
    """Return the least step of each set of ends and all that hold it; of the empty set the least of all."""
    sets = np.arange(1, len(steps))
    return np.array([steps[1:][(sets & held) == held].min() for held in range(len(steps))])


def _spans(instance: Instance, cells: list[np.ndarray]) -> np.ndarray:
    """Return, for each set of ends after the first, where the first and all outside the set lie, (sets, 4) float.

    The greatest of their least columns, the least of their greatest, and the same of rows: half the box that
    holds one terminal of each, and a given place, is no smaller than these with that place say.
    """
    area = instance.columns * instance.rows
    x = [cell % area % instance.columns for cell in cells]
    y = [cell % area // instance.columns for cell in cells]
    out = np.empty((1 << (len(cells) - 1), 4))
    for held in range(len(out)):
        outside = [n for n in range(len(cells)) if n == 0 or not held >> (n - 1) & 1]
        for column, places in ((0, x), (2, y)):
            out[held, column] = max(places[n].min() for n in outside)
            out[held, column + 1] = min(places[n].max() for n in outside)
    return out


def _far_apart(instance: Instance, net: Net) -> tuple[int, ...]:
    """Return the first end and others, each as far from those before it as any."""
    middles = [
        np.mean([divmod(t.cell % (instance.columns * instance.rows), instance.columns) for t in end], axis=0)
        for end in net.ends
    ]
    chosen = [0]
    while len(chosen) < MOST_EXACT_ENDS:
        rest = [n for n in range(len(middles)) if n not in chosen]
        chosen.append(max(rest, key=lambda n: min(np.abs(middles[n] - middles[m]).sum() for m in chosen)))
    return tuple(chosen)


def _read_legs(  # type: ignore[no-untyped-def]
    instance: Instance, chosen: tuple[int, ...], sets: int, label: int, nearer, other, end_x, end_y
) -> tuple[TreeLeg, ...]:
    """Return the legs of the tree that a label stands for, from the root outwards."""
    states = instance.cells * 4
    area = instance.columns * instance.rows
    legs: list[TreeLeg] = []
    waiting = [int(label)]

    def advance(trail: list[int], to: int) -> None:
        """Add the states after the trail's last one up to and with `to`."""
        cell, d = trail[-1] >> 2, trail[-1] & 3
        goal, nd = to >> 2, to & 3
        if goal == cell or goal // area != cell // area:
            if to != trail[-1]:
                trail.append(to)
            return
        if d != nd:
            row = d * 2 + (0 if nd == (d + 1) % 4 else 1)
            cell += int(end_y[row]) * instance.columns + int(end_x[row])
            trail.append(cell * 4 + nd)
        while cell != goal:
            cell += DY[nd] * instance.columns + DX[nd]
            trail.append(cell * 4 + nd)

    while waiting:
        at = waiting.pop()
        held = at // states % sets
        trail = [at % states]
        while True:
            one, two = int(nearer[at]), int(other[at])
            if two >= 0:
                # Some labels stand short of their T, at the end of the straight that it asks for.
                advance(trail, (one % states >> 2) * 4 + (trail[-1] & 3))
                waiting.extend((two, one))
            if one < 0 or two >= 0:
                break
            advance(trail, one % states)
            at = one
        ends = sum(1 << end for n, end in enumerate(chosen[1:]) if held >> n & 1)
        legs.append(TreeLeg(ends, tuple(trail)))
    return tuple(legs)
