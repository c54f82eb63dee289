"""The fewest columns that serve all rows, and a proof of how few it takes: numbers only.

What cannot matter is left out first; then the linear program over what is left gives the bound, and a search that
goes down from its answer gives the columns: it takes all columns that the answer takes wholly, and the one it takes
most of, solves again, and so on. Where a way down ends above the bound, another parts from it near its top, without the
column taken there. On plates the linear program is so nearly tight that a few ways down mostly end at the bound.

Source
------
Set covering by linear programming and branch and bound: Garfinkel and Nemhauser, Integer Programming, 1972, chapter 8
(recalled, not verified). Solver: Huangfu and Hall, "Parallelizing the dual revised simplex method", Mathematical
Programming Computation 10 (2018).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from layouts.closing.dominance import Core, Pairs, reduce_pairs

SLACK = 1e-6
"""By this much an answer of the solver may break a row."""

NODES, MOST_NODES = 48, 200
"""Linear programs solved once columns are known, and in all."""

WORK, LEAST_WORK = 2, 300
"""The search for fewer columns ends after so many times the simplex iterations of the first program, or these many."""

UNSERVED = 3.0
"""What a row costs that clashes leave unserved, in columns."""

ROOM_TRIALS, MOST_ROOM_TRIALS = 12, 48
"""Columns that are tried for a row that clashes leave unserved, and for all such rows together."""

MOST_ITERATIONS = 60_000
"""Simplex iterations in all: a model too large for that is covered without the solver."""


Clashes = Callable[[int, np.ndarray], np.ndarray]


@dataclass(frozen=True, slots=True)
class Cover:
    """Columns that serve all rows that have any.

    Parameters
    ----------
    columns : tuple of int
        In increasing order. Without each of them some row would be served by none.
    least : int
        No fewer columns serve all those rows.
    """

    columns: tuple[int, ...]
    least: int


def find_cover(
    pairs: Pairs,
    near: np.ndarray | None = None,
    clashes: Clashes | None = None,
) -> Cover:
    """Return the fewest columns that could be found to serve all rows, and a proven least number.

    Parameters
    ----------
    pairs : Pairs
        Rows without a column are left unserved.
    near : (columns, k) int, optional
        As in `reduce_pairs`.
    clashes : callable, optional
        Gives for a column, and some columns, which of these cannot be taken beside it; never itself. A row may stay
        unserved for them. The bound does not reckon with them.

    Returns
    -------
    Cover
    """
    beside = np.zeros((pairs.columns, 0), int) if near is None else near
    clash = clashes if clashes is not None else lambda _, others: np.zeros(len(others), bool)
    served = np.flatnonzero(np.bincount(pairs.row, minlength=pairs.rows))
    if not len(served):
        return Cover((), 0)
    number = np.full(pairs.rows, -1)
    number[served] = np.arange(len(served))
    pairs = Pairs(len(served), pairs.columns, number[pairs.row], pairs.column)
    core = reduce_pairs(pairs, beside)
    least, found = _search(core, clash)
    chosen = _make_room(pairs, clash, _fill(pairs, clash, found))
    return Cover(_without_idle(pairs, chosen), max(least, 1))


def _search(core: Core, clash: Clashes) -> tuple[int, np.ndarray]:
    """Return a lower bound, and the fewest columns found; none where the solver gave up."""
    program = _Program(core.pairs)
    count = core.pairs.columns
    none, all_of = np.zeros(count), np.ones(count)
    root = program.solve(none, all_of)
    if root is None:
        return _packed(core.pairs), np.zeros(0, int)
    root_work = max(program.used, LEAST_WORK)
    least = math.ceil(root[0] - SLACK)
    best, best_cost, loose = np.zeros(0, int), math.inf, False
    # What was left aside on the ways down, the oldest first: a way that parts early leads elsewhere.
    aside: list[tuple[np.ndarray, np.ndarray]] = []
    here: tuple[np.ndarray, np.ndarray] | None = (none, all_of)
    for node in range(MOST_NODES):
        if best_cost <= least or (
            best_cost < math.inf and (node >= NODES or program.used > WORK * root_work)
        ):
            break
        if here is None and aside:
            here = aside.pop(0)
        elif here is None and best_cost == math.inf and not loose:
            # Clashes leave no choice that serves all.
            loose = True
            program.loosen()
            here = none, all_of
        elif here is None:
            break
        low, high = here
        here = None
        answer = program.solve(low, high)
        if answer is None or math.ceil(answer[0] - SLACK) >= best_cost:
            continue
        values = answer[1]
        whole = np.flatnonzero(values > 1 - SLACK)
        groups = _find_clashes(core, clash, whole)
        if groups:
            program.forbid(groups)
            here = low, high
            continue
        broken = np.minimum(values, 1 - values) > SLACK
        if not broken.any():
            best, best_cost = core.columns[whole], round(answer[0])
            continue
        most = int(np.argmax(np.where(broken, values, 0.0)))
        without = high.copy()
        without[most] = 0.0
        aside.append((low, without))
        here = _take(core, clash, low, high, (*whole, most))
    return least, best


def _find_clashes(core: Core, clash: Clashes, whole: np.ndarray) -> tuple[tuple[int, ...], ...]:
    """Return for pairs of columns that clash a group in which each clashes with each; empty where none do."""
    groups = []
    for k, one in enumerate(whole):
        later = whole[k + 1 :]
        for other in later[clash(int(core.columns[one]), core.columns[later])]:
            group = [int(one), int(other)]
            common = clash(int(core.columns[one]), core.columns) & clash(
                int(core.columns[other]), core.columns
            )
            while common.any():
                group.append(int(np.argmax(common)))
                common &= clash(int(core.columns[group[-1]]), core.columns)
            groups.append(tuple(sorted(group)))
    return tuple(dict.fromkeys(groups))


def _take(
    core: Core, clash: Clashes, low: np.ndarray, high: np.ndarray, columns: tuple[int, ...]
) -> tuple[np.ndarray, np.ndarray]:
    """Return the limits with some columns taken that do not clash, and what clashes with them left out."""
    low, high = low.copy(), high.copy()
    for column in columns:
        if low[column] == 0.0 and high[column] > 0.0:
            low[column] = 1.0
            high[clash(int(core.columns[column]), core.columns)] = 0.0
    return low, np.maximum(low, high)


class _Program:
    """The linear program: as few columns as can be, each row served."""

    def __init__(self, pairs: Pairs) -> None:
        from highspy._core import _Highs

        # The public class prints its name when it is made.
        self.solver: Any = _Highs()
        self.count, self.rows, self.used = pairs.columns, pairs.rows, 0
        for name, value in (
            ("output_flag", False),
            ("threads", 1),
            ("random_seed", 0),
            ("solver", "simplex"),
        ):
            self.solver.setOptionValue(name, value)
        empty = np.zeros(0, np.int32)
        costs, zeros = np.ones(self.count), np.zeros(self.count)
        starts = np.zeros(self.count, np.int32)
        self.solver.addCols(self.count, costs, zeros, costs, 0, starts, empty, np.zeros(0))
        order = np.lexsort((pairs.column, pairs.row))
        firsts = np.searchsorted(pairs.row[order], np.arange(pairs.rows)).astype(np.int32)
        columns = pairs.column[order].astype(np.int32)
        one, any_more = np.ones(pairs.rows), np.full(pairs.rows, np.inf)
        self.solver.addRows(pairs.rows, one, any_more, len(order), firsts, columns, np.ones(len(order)))

    def forbid(self, groups: tuple[tuple[int, ...], ...]) -> None:
        """Let at most one column of each group be taken."""
        members = np.array([column for group in groups for column in group], np.int32)
        starts = np.cumsum([0, *(len(group) for group in groups[:-1])]).astype(np.int32)
        least, most = np.full(len(groups), -np.inf), np.ones(len(groups))
        self.solver.addRows(len(groups), least, most, len(members), starts, members, np.ones(len(members)))

    def loosen(self) -> None:
        """Let each row stay unserved, at the cost of several columns."""
        rows = np.arange(self.rows, dtype=np.int32)
        costs, ones = np.full(self.rows, UNSERVED), np.ones(self.rows)
        self.solver.addCols(self.rows, costs, np.zeros(self.rows), ones, self.rows, rows, rows, ones)

    def solve(self, low: np.ndarray, high: np.ndarray) -> tuple[float, np.ndarray] | None:
        """Return the least number within limits of each column, and the answer; None where there is none."""
        import highspy

        if self.used >= MOST_ITERATIONS:
            return None
        self.solver.setOptionValue("simplex_iteration_limit", MOST_ITERATIONS - self.used)
        self.solver.changeColsBounds(self.count, np.arange(self.count, dtype=np.int32), low, high)
        self.solver.run()
        info = self.solver.getInfo()
        self.used += int(info.simplex_iteration_count)
        if self.solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        return float(info.objective_function_value), np.array(self.solver.getSolution().col_value)[
            : self.count
        ]


def _packed(pairs: Pairs) -> int:
    """Return how many rows were found of which no two share a column: it takes as many columns."""
    size = np.bincount(pairs.row, minlength=pairs.rows)
    order = np.argsort(pairs.row, kind="stable")
    columns, first = pairs.column[order], np.concatenate(([0], np.cumsum(size)))
    used = np.zeros(pairs.columns, bool)
    count = 0
    for row in np.argsort(size, kind="stable"):
        own = columns[first[row] : first[row + 1]]
        if not used[own].any():
            used[own] = True
            count += 1
    return count


def _fill(pairs: Pairs, clash: Clashes, found: np.ndarray) -> np.ndarray:
    """Return the columns with others for rows still unserved, one by one the one that serves most of them."""
    free, waiting = np.ones(pairs.columns, bool), np.ones(pairs.rows, bool)
    everything = np.arange(pairs.columns)
    chosen: list[int] = []

    def choose(column: int) -> None:
        nonlocal free
        chosen.append(column)
        free &= ~clash(column, everything)
        waiting[pairs.row[pairs.column == column]] = False

    for column in found.tolist():
        choose(column)
    while waiting.any():
        gains = np.bincount(pairs.column[waiting[pairs.row]], minlength=pairs.columns)
        best = int(np.argmax(np.where(free, gains, 0)))
        if not free[best] or gains[best] == 0:
            break
        choose(best)
    return np.array(sorted(chosen), int)


def _make_room(pairs: Pairs, clash: Clashes, chosen: np.ndarray) -> np.ndarray:
    """Return the columns with others in the place of some, where that serves rows that clashes had left unserved."""
    unserved = _unserved(pairs, chosen)
    trials = 0
    for row in unserved:
        if row not in _unserved(pairs, chosen):
            continue
        able = pairs.column[pairs.row == row]
        against = [chosen[clash(int(column), chosen)] for column in able]
        for k in sorted(range(len(able)), key=lambda k: len(against[k]))[:ROOM_TRIALS]:
            if trials == MOST_ROOM_TRIALS:
                return chosen
            trials += 1
            others = np.setdiff1d(chosen, against[k])
            trial = _fill(pairs, clash, np.append(others, able[k]))
            if len(_unserved(pairs, trial)) < len(_unserved(pairs, chosen)):
                chosen = trial
                break
    return chosen


def _unserved(pairs: Pairs, chosen: np.ndarray) -> np.ndarray:
    taken = np.zeros(pairs.columns, bool)
    taken[chosen] = True
    return np.flatnonzero(np.bincount(pairs.row[taken[pairs.column]], minlength=pairs.rows) == 0)


def _without_idle(pairs: Pairs, chosen: np.ndarray) -> tuple[int, ...]:
    """Return the columns without those whose rows the others serve too."""
    position = np.full(pairs.columns, -1)
    position[chosen] = np.arange(len(chosen))
    use = position[pairs.column] >= 0
    serves = np.zeros((len(chosen), pairs.rows), bool)
    serves[position[pairs.column[use]], pairs.row[use]] = True
    served = serves.sum(axis=0)
    kept = []
    for column, own in zip(chosen, serves, strict=True):
        if (served[own] > 1).all():
            served -= own
        else:
            kept.append(int(column))
    return tuple(sorted(kept))
