"""Loop flows at which the drops balance, by Newton's method.

Without tees every drop rises with its flow, the energy left over round the loops is the slope of a convex
function, and Newton's method with a search along its line always arrives. Tee losses, which may be negative,
are then taken into Newton's method; where that does not settle, the flow is followed in time as it would
settle by its own inertia.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geom.errors import OutOfRange
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.interpolation import Floats
from layouts.hydraulics.loops import Loops
from layouts.hydraulics.tees import find_tee_drops
from layouts.hydraulics.terms import TermStack

CLOSED = 1e-11
"""Energy round every loop closes to this share of the largest drop, or as near as rounding allows."""

CLOSED_ENOUGH = 1e-9
"""What must be reached at the least."""

MOST_ITERATIONS = 200
MOST_STEPS_IN_TIME = 600

SLOPE_FLOOR = 1e-7
"""Least slope of any drop over the steepest: keeps the matrix regular where a square law stands still. Newton's
direction stays downhill."""


@dataclass(frozen=True, slots=True)
class TeeLegs:
    """A tee by the numbers of its edges.

    Parameters
    ----------
    run, branch : int
        Edges.
    run_sign, branch_sign : float
        +1 where the edge ends at the tee, -1 where it starts there, [-].
    area_m2 : float
        Of the legs, [m2].
    """

    run: int
    run_sign: float
    branch: int
    branch_sign: float
    area_m2: float


@dataclass(frozen=True, slots=True, eq=False)
class LoopModel:
    """A network made ready: numbers for names, arrays for elements.

    Parameters
    ----------
    ends : tuple of (int, int)
        Start and end node of each edge.
    loops : Loops
    stack : TermStack
        Terms of all edges.
    driving : (n,) bool
        Which of the stack's terms are pumps.
    scales : (n,) float
        Factor on each of the stack's terms, [-].
    tees : tuple of TeeLegs
    tee_scale : float
        Factor on every tee's losses, [-].
    coolant : Coolant
    """

    ends: tuple[tuple[int, int], ...]
    loops: Loops
    stack: TermStack
    driving: NDArray[np.bool_]
    scales: Floats
    tees: tuple[TeeLegs, ...]
    tee_scale: float
    coolant: Coolant

    def find_terms(self, flows: Floats) -> Floats:
        """Return the drop of each of the stack's terms.

        Parameters
        ----------
        flows : (edges,) float
            [m3/s]

        Returns
        -------
        (n,) float
            [Pa]
        """
        return self.stack.find_drops(flows, self.coolant) * self.scales

    def find_drops(self, flows: Floats) -> Floats:
        """Return the drop of each edge without tees.

        Parameters
        ----------
        flows : (edges,) float
            [m3/s]

        Returns
        -------
        (edges,) float
            [Pa]
        """
        return self.sum_terms(self.find_terms(flows))

    def sum_terms(self, terms: Floats) -> Floats:
        """Return the sum over each edge's terms.

        Parameters
        ----------
        terms : (n,) float
            In the order of the stack, [Pa].

        Returns
        -------
        (edges,) float
            [Pa]
        """
        return np.bincount(self.stack.place, weights=terms, minlength=len(self.ends)).astype(np.float64)

    def find_slopes(self, flows: Floats, step: float) -> Floats:
        """Return how each edge's drop rises with its flow, tees left out.

        Parameters
        ----------
        flows : (edges,) float
            [m3/s]
        step : float
            Least step of the difference, [m3/s].

        Returns
        -------
        (edges,) float
            0 or more, [Pa s/m3].
        """
        half = 1e-4 * np.abs(flows) + step
        rise: Floats = (self.find_drops(flows + half) - self.find_drops(flows - half)) / (2 * half)
        return np.maximum(rise, 0.0)

    def find_tee_drops(self, flows: Floats) -> Floats:
        """Return what the tees add to each edge's drop.

        Parameters
        ----------
        flows : (edges,) float
            [m3/s]

        Returns
        -------
        (edges,) float
            [Pa]
        """
        drops = np.zeros(len(self.ends))
        for tee in self.tees:
            run, branch = tee.run_sign * flows[tee.run], tee.branch_sign * flows[tee.branch]
            on_run, on_branch = self._evaluate_tee(tee, run, branch)
            drops[tee.run] += tee.run_sign * on_run
            drops[tee.branch] += tee.branch_sign * on_branch
        return drops

    def find_tee_slopes(self, flows: Floats, step: float) -> Floats:
        """Return how the tees' drops change with the flows.

        Parameters
        ----------
        flows : (edges,) float
            [m3/s]
        step : float
            Least step of the difference, [m3/s].

        Returns
        -------
        (edges, edges) float
            Drop of the first edge by flow of the second, [Pa s/m3].
        """
        slopes = np.zeros((len(self.ends), len(self.ends)))
        for tee in self.tees:
            run, branch = tee.run_sign * flows[tee.run], tee.branch_sign * flows[tee.branch]
            half = 1e-6 * max(abs(run), abs(branch)) + step
            for edge, sign, a, b in (
                (tee.run, tee.run_sign, half, 0.0),
                (tee.branch, tee.branch_sign, 0.0, half),
            ):
                up = self._evaluate_tee(tee, run + a, branch + b)
                down = self._evaluate_tee(tee, run - a, branch - b)
                slopes[tee.run, edge] += tee.run_sign * sign * (up[0] - down[0]) / (2 * half)
                slopes[tee.branch, edge] += tee.branch_sign * sign * (up[1] - down[1]) / (2 * half)
        return slopes

    def _evaluate_tee(self, tee: TeeLegs, run: float, branch: float) -> tuple[float, float]:
        area = tee.area_m2
        on_run, on_branch = find_tee_drops(-(run + branch) / area, run / area, branch / area)
        head = 0.5 * self.coolant.density_kg_m3 * self.tee_scale
        return head * on_run, head * on_branch


def settle_flows(model: LoopModel, start_flow_m3_s: float) -> tuple[Floats, int]:
    """Return the flow of each edge at which all drops balance.

    Parameters
    ----------
    model : LoopModel
    start_flow_m3_s : float
        Where to start looking, greater than 0, [m3/s].

    Returns
    -------
    tuple of (edges,) float and int
        Flows [m3/s], and the steps of Newton's method.

    Raises
    ------
    OutOfRange
        No balance found.

    Source
    ------
    Loop flows by Newton's method: Todini and Rossman, Unified framework for deriving simultaneous equation
    algorithms for water distribution networks, J. Hydraul. Eng. 139 (2013) 511-526.
    """
    around = _guess_flows(model, start_flow_m3_s)
    around, steps = _settle_without_tees(model, around, np.zeros(len(model.ends)), start_flow_m3_s)
    if model.tees:
        settled, more = _settle_with_tees(model, around, start_flow_m3_s)
        steps += more
        if settled is None:
            settled, more = _ease_into_tees(model, around, start_flow_m3_s)
            steps += more
        around = settled
    flows: Floats = around @ model.loops.matrix
    return flows, steps


def _guess_flows(model: LoopModel, start_flow: float) -> Floats:
    """Return loop flows of the network with every drop a straight line through the start flow."""
    b = model.loops.matrix
    everywhere = np.full(len(model.ends), start_flow)
    terms = model.find_terms(everywhere)
    line = model.sum_terms(np.where(model.driving, 0.0, terms)) / start_flow
    head = model.sum_terms(np.where(model.driving, terms, 0.0))
    # A loop whose flow a pump's steep end alone limits has no resistance here: its head over the start flow.
    least = 1e-3 * float(np.abs(head).max()) / start_flow
    return _solve_linear((b * np.maximum(line, least)) @ b.T, -(b @ head))


def _solve_linear(matrix: Floats, right: Floats) -> Floats:
    try:
        return np.linalg.solve(matrix, right).astype(np.float64)
    except np.linalg.LinAlgError:
        # A loop in which nothing changes with the flow: the shortest of the best answers keeps the search going.
        return np.linalg.lstsq(matrix, right, rcond=None)[0].astype(np.float64)


def _measure(model: LoopModel, around: Floats, added: Floats) -> tuple[Floats, float]:
    """Return the energy left over round each loop [Pa], and the largest drop [Pa] to hold it against."""
    terms = model.find_terms(around @ model.loops.matrix)
    left: Floats = model.loops.matrix @ (model.sum_terms(terms) + added)
    return left, float(np.abs(terms).max())


def _settle_without_tees(
    model: LoopModel, around: Floats, added: Floats, start_flow: float
) -> tuple[Floats, int]:
    """Return loop flows at which drops and the fixed `added` drops balance: a convex problem."""
    b = model.loops.matrix
    left, largest = _measure(model, around, added)
    best, best_left = around, float(np.abs(left).max()) / largest
    stalled = 0
    for step in range(MOST_ITERATIONS):
        if best_left <= CLOSED or (stalled >= 3 and best_left <= CLOSED_ENOUGH):
            return best, step
        slopes = model.find_slopes(around @ b, 1e-9 * start_flow)
        slopes = np.maximum(slopes, SLOPE_FLOOR * float(slopes.max()))
        direction: Floats = _solve_linear((b * slopes) @ b.T, -left)
        around = around + _search_line(model, around, direction, added, float(left @ direction)) * direction
        left, largest = _measure(model, around, added)
        now = float(np.abs(left).max()) / largest
        stalled = stalled + 1 if now > 0.5 * best_left else 0
        if now < best_left:
            best, best_left = around, now
    raise OutOfRange(
        f"network: no balance after {MOST_ITERATIONS} steps ({best_left:.1e} of the largest drop left); "
        "look for a loop without any resistance, or a pump curve that never falls"
    )


def _search_line(
    model: LoopModel, around: Floats, direction: Floats, added: Floats, first_slope: float
) -> float:
    """Return how far to go: to where the slope along the line, which only rises, is nearly nothing."""
    low, high = 0.0, 1.0
    for _ in range(60):
        slope = float(_measure(model, around + high * direction, added)[0] @ direction)
        if abs(slope) <= 0.3 * abs(first_slope):
            return high
        if slope > 0:
            break
        low, high = high, 2.0 * high
    for _ in range(60):
        middle = 0.5 * (low + high)
        slope = float(_measure(model, around + middle * direction, added)[0] @ direction)
        if abs(slope) <= 0.3 * abs(first_slope):
            return middle
        low, high = (middle, high) if slope < 0 else (low, middle)
    return low if low > 0 else high


def _settle_with_tees(model: LoopModel, around: Floats, start_flow: float) -> tuple[Floats | None, int]:
    """Return loop flows with the tees' losses by Newton's method, or None where it does not settle."""
    b = model.loops.matrix
    left, now, _ = _measure_with_tees(model, around)
    for step in range(40):
        if now <= CLOSED:
            return around, step
        direction = _solve_linear(_find_matrix(model, around @ b, start_flow), -left)
        size = float(left @ left)
        for halving in range(12):
            trial = around + 0.5**halving * direction
            trial_left, trial_now, _ = _measure_with_tees(model, trial)
            if float(trial_left @ trial_left) < (1.0 - 1e-4 * 0.5**halving) * size:
                break
        else:
            return (around if now <= CLOSED_ENOUGH else None), step
        around, left, now = trial, trial_left, trial_now
    return (around if now <= CLOSED_ENOUGH else None), 40


def _ease_into_tees(model: LoopModel, around: Floats, start_flow: float) -> tuple[Floats, int]:
    """Return loop flows with the tees' losses by following how the flow would settle, with inertia, in time."""
    b = model.loops.matrix
    left, now, largest = _measure_with_tees(model, around)
    inertia = (b * (largest / start_flow)) @ b.T
    pace = 1.0
    for step in range(MOST_STEPS_IN_TIME):
        if now <= CLOSED_ENOUGH:
            return around, step
        trial = around + _solve_linear(inertia / pace + _find_matrix(model, around @ b, start_flow), -left)
        trial_left, trial_now, _ = _measure_with_tees(model, trial)
        if trial_now > 2.0 * now:
            pace *= 0.25
            continue
        pace *= min(2.0, max(0.5, now / trial_now)) if trial_now > 0 else 1.0
        around, left, now = trial, trial_left, trial_now
    raise OutOfRange(
        f"network: the losses of the tees do not settle ({now:.1e} of the largest drop left); a branch stands "
        "still between two directions: give the branches more length, or leave their tee out"
    )


def _find_matrix(model: LoopModel, flows: Floats, start_flow: float) -> Floats:
    """Return how the energy left over round each loop changes with the loop flows, tees included."""
    b, step = model.loops.matrix, 1e-9 * start_flow
    slopes = model.find_slopes(flows, step)
    slopes = np.maximum(slopes, SLOPE_FLOOR * float(slopes.max()))
    matrix: Floats = (b * slopes) @ b.T + b @ model.find_tee_slopes(flows, step) @ b.T
    return matrix


def _measure_with_tees(model: LoopModel, around: Floats) -> tuple[Floats, float, float]:
    """Return the energy left over round each loop [Pa], its largest share of the largest drop, that drop."""
    left, largest = _measure(model, around, model.find_tee_drops(around @ model.loops.matrix))
    return left, float(np.abs(left).max()) / largest, largest
