"""The exact model of what the bound has left over: branch and cut over the choices of all channels.

The model holds every choice that may still lie on a routing cheaper than the one known. Its rows ask for one whole
way for each channel and for the order of the channels past each other; that no two stand too near is asked where
an answer breaks it, since nearly all places never matter. Where an answer shares a place among channels the search
branches: either the place is closed to one of them, or to all the others.

Why not a solver for whole numbers: the linear program is nearly tight, so that few branches are needed, and HiGHS
solves it again in milliseconds after each; its own search for whole numbers spends a hundred times that on cuts
and heuristics that do not help here (measured).

Source
------
Row generation: Dantzig, Fulkerson and Johnson, "Solution of a Large-Scale Traveling-Salesman Problem", Journal of
the Operations Research Society of America 2 (1954). Branching on a disjunction of sets: Ryan and Foster, "An
Integer Programming Approach to Scheduling", 1981 (recalled, not verified). Solver: Huangfu and Hall,
"Parallelizing the dual revised simplex method", Mathematical Programming Computation 10 (2018).
"""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass

import numpy as np

from layouts.routing.bound.topology import CrossingRow
from layouts.routing.effort import Effort
from layouts.routing.exact.answers import read_traces
from layouts.routing.exact.choices import Choices, list_choices
from layouts.routing.exact.clashes import find_clash_rows
from layouts.routing.exact.program import SLACK, Program
from layouts.routing.instance import Instance
from layouts.routing.one_channel.trace import Trace

WORK_A_NODE = 100_000
"""Simplex iterations times choices, for each node of the effort: so that large models stop no later than small ones."""


@dataclass(frozen=True, slots=True)
class ExactResult:
    """What the exact model tells.

    Parameters
    ----------
    bound : float
        No routing costs less, [units]; minus infinite where the model was not tried, infinite where it is proven
        that there is no routing.
    traces : tuple of Trace
        A routing cheaper than the one known, empty where none was found.
    complete : bool
        Whether the bound is the least cost: that of `traces`, or else of the routing known.
    """

    bound: float
    traces: tuple[Trace, ...]
    complete: bool


NOT_TRIED = ExactResult(-math.inf, (), False)


@dataclass(frozen=True, slots=True)
class _Branch:
    """Choices that are all set to one value, on top of those of an earlier branch."""

    choices: np.ndarray
    value: float
    before: _Branch | None


def solve_exact(
    instance: Instance,
    fixed: list[np.ndarray],
    keep: list[np.ndarray],
    pairs: tuple[CrossingRow, ...],
    cost: float,
    effort: Effort,
) -> ExactResult:
    """Return the least cost of an instance, or a lower bound of it, from the states that are left.

    Parameters
    ----------
    instance : Instance
        Of nets with two ends; with others the model is not tried.
    fixed : list of (classes, cells) bool
        For each net what is blocked: by the ground, and by the rooms of others' ends that have no choice.
    keep : list of (cells * 4,) bool
        For each net the states that may lie on a routing cheaper than `cost`.
    pairs : tuple of CrossingRow
        Rules of the nets' order past each other; none where the instance has two layers.
    cost : float
        Of the cheapest routing known; infinite where none is.
    effort : Effort

    Returns
    -------
    ExactResult
    """
    if effort.exact_arcs == 0 or any(len(net.ends) != 2 for net in instance.nets):
        return NOT_TRIED
    if sum(int(states.sum()) for states in keep) > effort.exact_arcs:
        return NOT_TRIED
    choices = list_choices(instance, fixed, keep)
    if len(choices.net) > effort.exact_arcs:
        return NOT_TRIED
    return _Search(instance, fixed, choices, pairs, cost).run(effort.exact_nodes)


class _Search:
    """Branch and cut: the branches still open, and the cheapest routing known."""

    def __init__(
        self,
        instance: Instance,
        fixed: list[np.ndarray],
        choices: Choices,
        pairs: tuple[CrossingRow, ...],
        cost: float,
    ) -> None:
        self.instance, self.fixed, self.choices, self.cost = instance, fixed, choices, cost
        self.traces: tuple[Trace, ...] = ()
        self.program = Program(instance, choices, pairs)
        nets = len(instance.nets)
        places = self.program.window_at * nets + choices.net[choices.reaching]
        self.places, self.place_of = np.unique(places, return_inverse=True)
        self.window_of, self.net_of = self.places // nets, self.places % nets

    def run(self, nodes: int) -> ExactResult:
        """Return what is known once no branch is left, or after some nodes."""
        bound, values = self.program.solve(self.cost)
        if values is None:
            return ExactResult(bound, (), bound >= self.cost)
        self.program.leave_out(self.cost)
        # Open branches, the lowest bound first and of these the deepest: bound, minus depth, order, branch.
        waiting: list[tuple[float, int, int, _Branch | None]] = [(bound, 0, 0, None)]
        count = 0
        most_work = self.program.work + nodes * WORK_A_NODE
        while waiting and waiting[0][0] < self.cost - SLACK:
            if count >= nodes or self.program.work > most_work:
                break
            least, depth, _, branch = heapq.heappop(waiting)
            bound, values = self._look(branch)
            if bound == -math.inf:
                # The solver gave up: what was known of this branch still holds, and nothing more will be.
                return ExactResult(least, self.traces, False)
            for kid in () if values is None else self._part(values, branch):
                count += 1
                heapq.heappush(waiting, (max(bound, least), depth - 1, count, kid))
        bound = min([self.cost, *(entry[0] for entry in waiting)])
        return ExactResult(bound, self.traces, bound >= self.cost - SLACK)

    def _look(self, branch: _Branch | None) -> tuple[float, np.ndarray | None]:
        """Return a branch's bound, and its answer where that is no routing; keep the routing that it may be."""
        least, most = np.zeros(self.program.count), self.program.left.astype(float)
        step = branch
        while step is not None:
            if step.value > 0:
                least[step.choices] = step.value
            else:
                most[step.choices] = 0.0
            step = step.before
        if (least > most).any():
            return self.cost, None
        self.program.limit(least, most)
        while True:
            bound, values = self.program.solve(self.cost)
            if values is None or np.minimum(values, 1 - values).max() > SLACK:
                return bound, values
            traces = read_traces(self.instance, self.fixed, self.choices, values)
            if not traces:
                # No row says what is wrong with a channel that comes back to itself.
                return -math.inf, None
            rows = find_clash_rows(self.instance, self.choices, traces)
            if rows is None:
                found = sum(trace.cost for trace in traces)
                if found < self.cost - SLACK:
                    self.cost, self.traces = found, traces
                return bound, None
            self.program.add(rows)

    def _part(self, values: np.ndarray, branch: _Branch | None) -> tuple[_Branch, _Branch]:
        """Return two branches, of which every routing keeps one and the answer neither."""
        reaching = self.choices.reaching
        own = np.bincount(self.place_of, values[reaching], len(self.places))
        all_nets = np.bincount(self.window_of, own, len(self.program.windows))
        shared = np.minimum(own, all_nets[self.window_of] - own)
        place = int(np.argmax(shared)) if len(shared) else -1
        if place >= 0 and shared[place] > SLACK:
            here = np.unique(reaching[self.program.window_at == self.window_of[place]])
            mine = self.choices.net[here] == self.net_of[place]
            return _Branch(here[mine], 0.0, branch), _Branch(here[~mine], 0.0, branch)
        one = np.array([int(np.argmax(np.minimum(values, 1 - values)))])
        return _Branch(one, 0.0, branch), _Branch(one, 1.0, branch)
