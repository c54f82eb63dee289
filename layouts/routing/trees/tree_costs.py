"""What a routed channel of three and more ends costs: each of its legs at the rates of what flows through it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from layouts.routing.one_channel.runs import HOLE, TEE, GridRun

if TYPE_CHECKING:
    from layouts.routing.instance import Instance, Net, Rates, Terminal
    from layouts.routing.one_channel.trace import Trace

Place = tuple[int, int, int]
"""Column, row, layer."""


class _Way:
    """Runs joined by through holes, from an end to an end or a T, measured along them in cells."""

    def __init__(self, first: int) -> None:
        self.first = first
        self.last = TEE
        self.stretches: list[tuple[float, tuple[int, int], tuple[int, int], int]] = []
        self.bends: list[float] = []
        self.holes: list[float] = []
        self.length = 0.0
        self.landing: Place = (0, 0, 0)

    def add(self, run: GridRun) -> None:
        """Go on along a run."""
        for n, ((ax, ay), (bx, by)) in enumerate(pairwise(run.corners)):
            if n:
                self.bends.append(self.length)
            self.stretches.append((self.length, (ax, ay), (bx, by), run.layer))
            self.length += abs(bx - ax) + abs(by - ay)
        self.last = run.last
        self.landing = (*run.corners[-1], run.layer)
        if run.last == HOLE:
            self.holes.append(self.length)

    def find(self, place: Place) -> float | None:
        """Return how far along a place lies, None where it lies elsewhere."""
        x, y, layer = place
        for start, (ax, ay), (bx, by), here in self.stretches:
            if here == layer and min(ax, bx) <= x <= max(ax, bx) and min(ay, by) <= y <= max(ay, by):
                return start + abs(x - ax) + abs(y - ay)
        return None


def tree_cost(instance: Instance, net: Net, trace: Trace) -> float:
    """Return the cost of a tree's trace: its legs, its Ts, and what its terminals cost.

    Parameters
    ----------
    instance : Instance
    net : Net
    trace : Trace
        Of this net; its own cost is not looked at.

    Returns
    -------
    float
        Without any price of congestion.
    """
    plain = instance.rates_of(net)
    ways = _list_ways(trace)
    total = sum(t.cost for t in trace.chosen)
    tees: list[list[tuple[float, int]]] = [[] for _ in ways]
    for n, way in enumerate(ways):
        if way.last == TEE:
            trunk, along = _find_trunk(ways[:n], way)
            tees[trunk].append((along, n))
            total += plain.tee
    # Ends behind each T, the later ways first: a way carries those of its own first end and of its Ts.
    behind = [0] * len(ways)
    for n in reversed(range(len(ways))):
        behind[n] = 1 << ways[n].first
        for _, branch in tees[n]:
            behind[n] |= behind[branch]
    for way, branches in zip(ways, tees, strict=True):
        # A tail is no part of the search: the terminal's own cost is all that it costs.
        start: float = len(trace.chosen[way.first].tail)
        stop = way.length - (len(trace.chosen[way.last].tail) if way.last >= 0 else 0)
        held = 1 << way.first
        for along, branch in sorted(branches):
            total += _leg_cost(way, start, along, _rates(net, plain, held))
            held |= behind[branch]
            start = along
        total += _leg_cost(way, start, stop, _rates(net, plain, held))
    return float(total)


def find_root(net: Net) -> int:
    """Return the end whose own leg costs most a step: in which all others' flow comes together."""
    return max(range(len(net.ends)), key=lambda end: net.leg_rates[1 << end].step if net.leg_rates else 0.0)


def split_path(plane: int, columns: int, runs: Sequence[GridRun], path: Sequence[int]) -> list[Sequence[int]]:
    """Return the cells of each way of a tree, first to last: runs that a through hole joins are one way."""
    out: list[Sequence[int]] = []
    at = 0
    for run in runs:
        if run.last != HOLE:
            x, y = run.corners[-1]
            stop = path.index(run.layer * plane + y * columns + x, at) + 1
            out.append(path[at:stop])
            at = stop
    return out


@dataclass(frozen=True, slots=True)
class TreeFlow:
    """A tree so far as its flow goes: cells from its root outwards, what feeds each, and the ends behind it.

    Where it does not hold its root yet there are none.
    """

    order: list[int]
    parent: dict[int, int]
    behind: dict[int, int]


def follow_flow(net: Net, ways: Sequence[Sequence[int]], chosen: dict[int, Terminal]) -> TreeFlow:
    """Return a tree so far as its flow goes.

    Parameters
    ----------
    net : Net
        With `leg_rates`.
    ways : sequence of sequence of int
        The tree's cells.
    chosen : dict of int to Terminal
        The ends that it has.

    Returns
    -------
    TreeFlow
    """
    root = find_root(net)
    if root not in chosen:
        return TreeFlow([], {}, {})
    beside: dict[int, list[int]] = {}
    for way in ways:
        for cell in way:
            beside.setdefault(cell, [])
        for a, b in pairwise(way):
            beside[a].append(b)
            beside[b].append(a)
    order, parent = [chosen[root].node], {chosen[root].node: -1}
    for cell in order:
        for near in beside[cell]:
            if near not in parent:
                parent[near] = cell
                order.append(near)
    behind = dict.fromkeys(order, 0)
    for other, t in chosen.items():
        if other != root:
            behind[t.node] |= 1 << other
    for cell in reversed(order[1:]):
        behind[parent[cell]] |= behind[cell]
    return TreeFlow(order, parent, behind)


def price_upgrades(net: Net, flow: TreeFlow, end: int) -> dict[int, float]:
    """Return what a tree so far becomes dearer by, where an end is attached at one of its cells.

    From there to the root its flow comes on top. Ends that are not attached yet count for nothing, and neither
    do bends, nor arcs' shorter ways: this guides a search.

    Parameters
    ----------
    net : Net
        With `leg_rates`.
    flow : TreeFlow
    end : int
        To be attached.

    Returns
    -------
    dict of int to float
        Empty where the tree does not hold its root yet.
    """
    if not flow.order:
        return {}
    out = {flow.order[0]: 0.0}
    steps = [rates.step for rates in net.leg_rates]
    for cell in flow.order[1:]:
        held = flow.behind[cell]
        out[cell] = out[flow.parent[cell]] + max(0.0, steps[held | 1 << end] - steps[held])
    return out


def _list_ways(trace: Trace) -> list[_Way]:
    ways: list[_Way] = []
    for run in trace.runs:
        if run.first != HOLE:
            ways.append(_Way(run.first))
        ways[-1].add(run)
    return ways


def _find_trunk(earlier: list[_Way], way: _Way) -> tuple[int, float]:
    for n, trunk in enumerate(earlier):
        along = trunk.find(way.landing)
        if along is not None:
            return n, along
    raise ValueError(f"the T at {way.landing} (column, row, layer) lies on no earlier run")


def _rates(net: Net, plain: Rates, ends: int) -> Rates:
    return net.leg_rates[ends] if net.leg_rates else plain


def _leg_cost(way: _Way, start: float, stop: float, rates: Rates) -> float:
    bends = sum(1 for at in way.bends if start <= at < stop)
    holes = sum(1 for at in way.holes if start <= at < stop)
    return (stop - start) * rates.step + bends * rates.bend + holes * rates.through
