"""Loop flows at which the drops balance: three stages, each of bounded work.

1. Without tees every drop never falls as its flow rises. The energy left over round the loops is then the slope
   of a convex function of the loop flows, which grows without bound as every drop does. Newton's direction
   leads downhill, because `SLOPE_FLOOR` keeps its matrix positive definite and well enough conditioned. From
   `CAREFUL` steps on, a step ends where the function still falls along the line, by at most half of how it
   fell at first: each step then lowers it by at least a fixed share of the squared slope (Zoutendijk's
   theorem: Nocedal and Wright, Numerical Optimization, 2nd edition, theorem 3.2), so that the slope goes to 0
   from any start. Before, steps may also end a little behind the lowest place, which keeps Newton's quadratic
   end. At most `MOST_ITERATIONS` steps of at most 2 * `MOST_HALVINGS` evaluations bound the work. The theorem
   holds for exact numbers and tells no number of steps. Here the stage may refuse: a loop that resists with next
   to nothing; a pump curve that never falls on a loop without resistance, which has no answer; and drops so far
   apart in size that no digit of the flows is left to close them, as beside an orifice of a micrometre.
   The last is told, with its edge, where what is left is within what `ROUNDING` of the flows makes.
2. Tee losses may be negative and have no such function. Newton's method goes on with them from where the first
   stage came near, as long as the sum of squares left falls: at most `MOST_TEE_STEPS` steps.
3. Where that stops, the flow is followed in time from the first stage's answer as it would settle by its own
   inertia: at most `MOST_STEPS_IN_TIME` steps, and the second stage once more from where it came. Nothing
   proves that tees settle: where they do not, an error names one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geom.errors import OutOfRange
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.interpolation import Floats
from layouts.hydraulics.loops import Loops
from layouts.hydraulics.tees import trace_tee
from layouts.hydraulics.terms import TermStack

CLOSED = 1e-11
"""Energy round every loop closes to this share of the largest drop, or as near as rounding allows."""

CLOSED_ENOUGH = 1e-9
"""What must be reached at the least."""

NEAR = 1e-2
"""Where the first stage hands over to the second: the tees turn the rest round in any case."""

LEAST_RESISTANCE = 1e-7
"""A largest drop of less of the pumps' head at no flow drowns in the rounding of that head."""

LEAST_START_HEAD = 1e-3
"""Share of the pumps' head at no flow that they must give where the search starts."""

MOST_ITERATIONS = 200
"""Newton's steps without tees: the networks of the tests take four, the hardest a dozen."""

CAREFUL = 30
"""Steps without tees from which on each must do its share by the theorem: before, speed comes first."""

MOST_HALVINGS = 60
"""Halvings of an interval: more than the 52 binary digits of a number leave none of it."""

MOST_TEE_STEPS = 40
"""Newton's steps with tees; where it works at all it takes fewer than ten."""

MOST_STEPS_IN_TIME = 600
"""Steps in time: mostly ten; what has not settled by then swings, and would go on."""

MOST_TEE_HALVINGS = 12
"""Halvings of a step with tees: one that must be shorter than 1/4096 leads nowhere."""

LEAST_FALL = 1e-4
"""Share of the fall that the slope promises which a step with tees must bring (Armijo's rule)."""

ROUNDING = 8 * 2.0**-52
"""An edge's flow is no better known than to this share of the loop flows that add up to it."""

SLOPE_FLOOR = 1e-12
"""Least slope of any drop over the steepest: keeps the matrix regular where a square law stands still."""


@dataclass(frozen=True, slots=True)
class TeeLegs:
    """A tee by the numbers of its edges.

    Parameters
    ----------
    node : str
    run, branch : int
        Edges.
    run_sign, branch_sign : float
        +1 where the edge ends at the tee, -1 where it starts there, [-].
    area_m2 : float
        Of the legs, [m2].
    """

    node: str
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
    names : tuple of str
        Of the edges.
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
    tee_edges : (t,) int
        Edges that are a run or a branch of any tee.
    tee_scale : float
        Factor on every tee's losses, [-].
    coolant : Coolant
    """

    names: tuple[str, ...]
    ends: tuple[tuple[int, int], ...]
    loops: Loops
    stack: TermStack
    driving: NDArray[np.bool_]
    scales: Floats
    tees: tuple[TeeLegs, ...]
    tee_edges: NDArray[np.intp]
    tee_scale: float
    coolant: Coolant

    def find_terms(self, flows: Floats) -> tuple[Floats, Floats]:
        """Return the drop of each of the stack's terms and its slope.

        Parameters
        ----------
        flows : (edges,) float
            [m3/s]

        Returns
        -------
        tuple of (n,) float
            [Pa] and [Pa s/m3].
        """
        drops, slopes = self.stack.evaluate(flows, self.coolant)
        return drops * self.scales, slopes * self.scales

    def find_shut_off_pa(self) -> float:
        """Return the greatest pressure that any pump gives, at no flow, [Pa]."""
        terms, _ = self.find_terms(np.zeros(len(self.ends)))
        return float(np.abs(terms[self.driving]).max())

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
        return np.asarray(np.bincount(self.stack.place, terms, len(self.ends)), dtype=float)

    def find_tee_drops(self, flows: Floats) -> tuple[Floats, Floats]:
        """Return what the tees add to each edge's drop, and how that changes with the flows.

        Parameters
        ----------
        flows : (edges,) float
            [m3/s]

        Returns
        -------
        drops : (edges,) float
            [Pa]
        slopes : (edges, edges) float
            Drop of the first edge by flow of the second, [Pa s/m3].
        """
        drops, slopes = np.zeros(len(self.ends)), np.zeros((len(self.ends), len(self.ends)))
        for tee in self.tees:
            i, j, a, b = tee.run, tee.branch, tee.run_sign, tee.branch_sign
            head = 0.5 * self.coolant.density_kg_m3 * self.tee_scale / tee.area_m2**2
            (run, run_by_run, run_by_branch), (branch, branch_by_run, branch_by_branch) = trace_tee(
                a * float(flows[i]), b * float(flows[j])
            )
            drops[i] += a * head * run
            drops[j] += b * head * branch
            slopes[i, i] += head * run_by_run
            slopes[i, j] += a * b * head * run_by_branch
            slopes[j, i] += a * b * head * branch_by_run
            slopes[j, j] += head * branch_by_branch
        return drops, slopes


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """Where the search stands.

    `around` are the loop flows, `left` the energy left over round each loop [Pa], `largest` the largest drop
    of any term [Pa], `share` the largest of `left` over it, `slopes` how `left` changes with `around`.
    """

    around: Floats
    left: Floats
    largest: float
    share: float
    slopes: Floats


def settle_flows(model: LoopModel, start_flow_m3_s: float, near: Floats | None = None) -> tuple[Floats, int]:
    """Return the flow of each edge at which all drops balance.

    Parameters
    ----------
    model : LoopModel
    start_flow_m3_s : float
        Where to start looking, greater than 0, [m3/s].
    near : (edges,) float or None
        Flows to start from instead, those of a like network, [m3/s].

    Returns
    -------
    tuple of (edges,) float and int
        Flows [m3/s], and the steps of Newton's method.

    Raises
    ------
    OutOfRange
        No balance found: see the head of this module for when that may be.

    Source
    ------
    Loop flows by Newton's method: Todini and Rossman, Unified framework for deriving simultaneous equation
    algorithms for water distribution networks, J. Hydraul. Eng. 139 (2013) 511-526.
    """
    known = None if near is None else near[list(model.loops.chords)]
    if model.tees:
        settled, steps = _settle_past_tees(model, start_flow_m3_s, known)
    else:
        start = _guess_flows(model, start_flow_m3_s) if known is None else known
        settled, steps = _settle_without_tees(model, start, CLOSED)
    return model.loops.spread_flows(settled), steps


def _settle_past_tees(model: LoopModel, start_flow: float, known: Floats | None) -> tuple[Floats, int]:
    """Return loop flows of a network with tees, by as many of the stages as are needed."""
    spent = 0
    if known is not None:
        settled, spent = _settle_with_tees(model, known)
        if settled is not None:
            return settled, spent
    first, steps = _settle_without_tees(model, _guess_flows(model, start_flow), NEAR)
    settled, more = _settle_with_tees(model, first)
    spent += steps + more
    if settled is None:
        first, steps = _settle_without_tees(model, first, CLOSED)
        settled, more = _ease_into_tees(model, first, start_flow)
        spent += steps + more
    return settled, spent


def _guess_flows(model: LoopModel, start_flow: float) -> Floats:
    """Return loop flows of the network with every drop a straight line through the start flow."""
    least_head = LEAST_START_HEAD * model.find_shut_off_pa()
    for _ in range(MOST_HALVINGS):
        terms, _ = model.find_terms(np.full(len(model.ends), start_flow))
        head = model.sum_terms(np.where(model.driving, terms, 0.0))
        if float(np.abs(head).max()) > least_head:
            break
        # Past the pumps' ends there is no head, and a guess of no flow would leave nothing to follow.
        start_flow *= 0.5
    line = model.sum_terms(np.where(model.driving, 0.0, terms)) / start_flow
    # A loop whose flow a pump's steep end alone limits has no resistance here: its head over the start flow.
    least = 1e-3 * float(np.abs(head).max()) / start_flow
    loops = model.loops
    return _solve_linear(loops.sum_slopes(np.maximum(line, least)), -loops.sum_round(head))


def _solve_linear(matrix: Floats, right: Floats) -> Floats:
    try:
        return np.asarray(np.linalg.solve(matrix, right), dtype=float)
    except np.linalg.LinAlgError:
        # A loop in which nothing changes with the flow: the shortest of the best answers keeps the search going.
        return np.asarray(np.linalg.lstsq(matrix, right, rcond=None)[0], dtype=float)


def _look(model: LoopModel, around: Floats, with_tees: bool) -> _Place:
    loops = model.loops
    flows = loops.spread_flows(around)
    terms, rises = model.find_terms(flows)
    drops, slopes = model.sum_terms(terms), model.sum_terms(rises)
    slopes = np.maximum(slopes, SLOPE_FLOOR * float(slopes.max()))
    matrix = loops.sum_slopes(slopes)
    if with_tees:
        on_tees, by_flows = model.find_tee_drops(flows)
        drops = drops + on_tees
        at = loops.matrix[:, model.tee_edges]
        matrix = matrix + at @ by_flows[np.ix_(model.tee_edges, model.tee_edges)] @ at.T
    left = loops.sum_round(drops)
    largest = float(np.abs(terms).max())
    return _Place(around, left, largest, float(np.abs(left).max()) / largest, matrix)


def _settle_without_tees(model: LoopModel, around: Floats, closed: float) -> tuple[Floats, int]:
    """Return loop flows at which the drops without tees balance to `closed`: a convex problem."""
    here = best = _look(model, around, with_tees=False)
    stalled = 0
    for step in range(MOST_ITERATIONS):
        if best.share <= closed or (stalled >= 3 and best.share <= CLOSED_ENOUGH):
            return best.around, step
        direction = _solve_linear(here.slopes, -here.left)
        if stalled >= 3:
            _refuse_rounding(model, best)
        here = _search_line(model, here, direction, step >= CAREFUL)
        stalled = stalled + 1 if here.share > 0.5 * best.share else 0
        if here.share < best.share:
            best = here
        if stalled >= 3 and here.largest <= LEAST_RESISTANCE * model.find_shut_off_pa():
            raise OutOfRange(
                "network: the loop resists with next to nothing, so that the pump's curve alone sets its flow; "
                "give it a resistance, or leave out edges without elements beside others"
            )
    raise OutOfRange(
        f"network: no balance after {MOST_ITERATIONS} steps ({best.share:.1e} of the largest drop left, limit "
        f'{CLOSED_ENOUGH:g}) round the loop of edge "{_find_noisiest_edge(model, best)[0]}"; look for a '
        "pump curve that never falls there, or resistances of far different size"
    )


def _search_line(model: LoopModel, here: _Place, direction: Floats, careful: bool) -> _Place:
    """Return a place along the line where the slope along it, which only rises, is nearly nothing."""
    first = abs(float(here.left @ direction))
    least, most = (-0.5 * first, 0.0) if careful else (-0.3 * first, 0.3 * first)
    low, at, high = 0.0, 1.0, 0.0
    place = here
    for _ in range(2 * MOST_HALVINGS):
        trial = _look(model, here.around + at * direction, with_tees=False)
        slope = float(trial.left @ direction)
        if least <= slope <= most:
            return trial
        if slope < 0:
            low, place = at, trial
        else:
            high = at
        at = 0.5 * (low + high) if high else 2.0 * low
        if not (low < at < high or not high):
            break
    return place if low > 0 else trial


def _settle_with_tees(model: LoopModel, around: Floats) -> tuple[Floats | None, int]:
    """Return loop flows with the tees' losses by Newton's method, or None where it does not settle."""
    here = _look(model, around, with_tees=True)
    for step in range(MOST_TEE_STEPS):
        if here.share <= CLOSED:
            return here.around, step
        direction = _solve_linear(here.slopes, -here.left)
        size = float(here.left @ here.left)
        for halving in range(MOST_TEE_HALVINGS):
            trial = _look(model, here.around + 0.5**halving * direction, with_tees=True)
            if float(trial.left @ trial.left) < (1.0 - LEAST_FALL * 0.5**halving) * size:
                break
        else:
            return (here.around if here.share <= CLOSED_ENOUGH else None), step
        here = trial
    return (here.around if here.share <= CLOSED_ENOUGH else None), MOST_TEE_STEPS


def _ease_into_tees(model: LoopModel, around: Floats, start_flow: float) -> tuple[Floats, int]:
    """Return loop flows with the tees' losses by following how the flow would settle, with inertia, in time."""
    here = _look(model, around, with_tees=True)
    inertia = model.loops.sum_slopes(np.full(len(model.ends), here.largest / start_flow))
    pace = 1.0
    for step in range(MOST_STEPS_IN_TIME):
        if here.share <= CLOSED_ENOUGH:
            return here.around, step
        ahead = _solve_linear(inertia / pace + here.slopes, -here.left)
        trial = _look(model, here.around + ahead, with_tees=True)
        if trial.share > 2.0 * here.share:
            pace *= 0.25
            continue
        pace *= min(2.0, max(0.5, here.share / trial.share)) if trial.share > 0 else 1.0
        here = trial
    settled, more = _settle_with_tees(model, here.around)
    if settled is not None:
        return settled, MOST_STEPS_IN_TIME + more
    _refuse_rounding(model, here)
    raise OutOfRange(
        f'tee at node "{_find_worst_tee(model, here)}": its losses do not settle ({here.share:.1e} of the '
        "largest drop left); a leg stands still between two directions: give its branches more length, or "
        "leave the tee out"
    )


def _find_worst_tee(model: LoopModel, here: _Place) -> str:
    """Return the node of the tee, on the loop that is furthest from balance, whose least leg is stillest."""
    flows = model.loops.spread_flows(here.around)
    loop = model.loops.matrix[int(np.abs(here.left).argmax())]

    def rank(tee: TeeLegs) -> tuple[bool, float]:
        run, branch = tee.run_sign * float(flows[tee.run]), tee.branch_sign * float(flows[tee.branch])
        sizes = (abs(run), abs(branch), abs(run + branch))
        off_loop = loop[tee.run] == 0 and loop[tee.branch] == 0
        return off_loop, min(sizes) / max(*sizes, 1e-300)

    return min(model.tees, key=rank).node


def _refuse_rounding(model: LoopModel, here: _Place) -> None:
    """Raise where all that is left comes of the flows' rounding, so that no step can bring them nearer."""
    edge, noise = _find_noisiest_edge(model, here)
    if float(np.abs(here.left).max()) <= noise:
        raise OutOfRange(
            f'network: edge "{edge}" resists so much more than those beside it that rounding leaves '
            f"{here.share:.1e} of the largest drop, more than {CLOSED_ENOUGH:g}; widen its narrowest bore, or "
            "leave the edge out"
        )


def _find_noisiest_edge(model: LoopModel, here: _Place) -> tuple[str, float]:
    """Return the edge whose drop the rounding of the flows changes most, and by how much, [Pa]."""
    _, rises = model.find_terms(model.loops.spread_flows(here.around))
    sums = np.einsum("l,le->e", np.abs(here.around), np.abs(model.loops.matrix))
    noise = ROUNDING * model.sum_terms(rises) * sums
    worst = int(noise.argmax())
    return model.names[worst], float(noise[worst])
