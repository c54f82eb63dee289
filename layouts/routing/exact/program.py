"""The exact model in the solver: a linear program whose rows against crowding are added where an answer breaks them."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from layouts.routing.bound.granularity import find_granularity
from layouts.routing.bound.topology import CrossingRow
from layouts.routing.exact.choices import Choices
from layouts.routing.exact.rows import Rows, list_rows, list_window_rows
from layouts.routing.instance import Instance

SLACK = 1e-6
"""By this much an answer of the solver may break a row."""


class Program:
    """One linear program over all choices, with the rows added so far.

    `left` tells which choices may still be taken anywhere, `work` the simplex iterations so far times the choices.
    """

    def __init__(self, instance: Instance, choices: Choices, pairs: tuple[CrossingRow, ...]) -> None:
        self.choices = choices
        self.count = len(choices.net)
        self.grain = find_granularity(instance)
        self.unit = self.grain or 1.0
        self.left = np.ones(self.count, bool)
        self.work = 0
        self.windows, self.window_at = np.unique(choices.windows, return_inverse=True)
        self.held = np.zeros(len(self.windows), bool)
        self.solver = _make_solver(choices, self.unit)
        self.add(list_rows(instance, choices, pairs))

    def solve(self, cost: float) -> tuple[float, np.ndarray | None]:
        """Return a lower bound and the answer that keeps every window.

        Parameters
        ----------
        cost : float
            Of the cheapest routing known.

        Returns
        -------
        float
            [units]; no less than `cost` where nothing cheaper is left, minus infinite where the solver gave up.
        (n,) float or None
            None where nothing cheaper is left, or the solver gave up.
        """
        import highspy

        while True:
            self.solver.run()
            status, info = self.solver.getModelStatus(), self.solver.getInfo()
            self.work += int(info.simplex_iteration_count) * self.count
            if status == highspy.HighsModelStatus.kInfeasible:
                return cost, None
            if status != highspy.HighsModelStatus.kOptimal:
                return -math.inf, None
            bound = self._round_up(info.objective_function_value * self.unit)
            if bound >= cost - SLACK:
                return cost, None
            values = np.array(self.solver.getSolution().col_value)
            if not self._hold_windows(values):
                return bound, values

    def leave_out(self, cost: float) -> None:
        """Leave out, for good, the choices with which no routing can cost less; after `solve` with no limits set."""
        least = self.solver.getInfo().objective_function_value * self.unit
        more = np.array(self.solver.getSolution().col_dual) * self.unit
        most = cost
        if self.grain and math.isfinite(cost):
            most = math.floor((cost - SLACK) / self.grain) * self.grain
        self.left &= least + more <= most + SLACK * max(1.0, abs(least))

    def limit(self, least: np.ndarray, most: np.ndarray) -> None:
        """Set the least and the most that each choice may be, (n,) float."""
        self.solver.changeColsBounds(self.count, np.arange(self.count, dtype=np.int32), least, most)

    def add(self, rows: Rows) -> None:
        """Add rows."""
        order = np.argsort(rows.row, kind="stable")
        starts = np.searchsorted(rows.row[order], np.arange(len(rows.least)))
        self.solver.addRows(
            len(rows.least),
            rows.least,
            rows.most,
            len(order),
            starts.astype(np.int32),
            rows.choice[order].astype(np.int32),
            rows.value[order],
        )

    def _hold_windows(self, values: np.ndarray) -> bool:
        """Add the rows of the windows that an answer enters more than once; return whether there were any."""
        entries = np.bincount(self.window_at, values[self.choices.reaching], len(self.windows))
        broken = (entries > 1 + SLACK) & ~self.held
        if not broken.any():
            return False
        self.held |= broken
        self.add(list_window_rows(self.choices, self.windows[broken]))
        return True

    def _round_up(self, bound: float) -> float:
        """Return the least cost that a routing may have which is not below a bound of the solver."""
        slack = SLACK * max(1.0, abs(bound))
        if self.grain == 0.0:
            return bound - slack
        return math.ceil((bound - slack) / self.grain) * self.grain


def _make_solver(choices: Choices, unit: float) -> Any:
    """Return a solver with all choices as columns, and no rows yet."""
    from highspy._core import _Highs

    # The public class prints its name when it is made.
    solver = _Highs()
    for name, value in (("output_flag", False), ("threads", 1), ("random_seed", 0), ("solver", "simplex")):
        solver.setOptionValue(name, value)
    count = len(choices.net)
    solver.addCols(
        count,
        choices.cost / unit,
        np.zeros(count),
        np.ones(count),
        0,
        np.zeros(count, np.int32),
        np.zeros(0, np.int32),
        np.zeros(0),
    )
    return solver
