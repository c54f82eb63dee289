"""The loop's own curve: the head that it asks for at each flow, read between solved points.

A loop is solved where a pump meets it. A point of its curve near a flow is found by letting a made-up pump meet
it there, one whose curve is a straight line; the point found lies on the loop's curve exactly.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from layouts.advice import LoopCurve
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.interpolation import find_slopes
from layouts.hydraulics.network import (
    Edge,
    FlowSolution,
    Network,
    flow_band,
    operating_point,
    solve_network,
)
from layouts.hydraulics.pump import GRAVITY_M_S2, CurvePoints, read_cubic
from layouts.hydraulics.segments import PumpCurve, drop_pa
from layouts.loop_network import PUMP, build_network, find_coolant
from layouts.nets import PUMP_INLET, PUMP_OUTLET
from layouts.panel import Panel
from layouts.plan import Flowing, Routed

Point = tuple[float, float]
"""Flow [m3/s] and head [m]."""

HEAD_EXPONENT = 1.8
"""Guess of how the head goes with the flow: between 1.75 of friction by Blasius and 2 of turns."""

NEAREST = 1.02
"""Solved points whose flows stand nearer than this ratio are one."""

STEP = 1.5
"""Most ratio of neighbouring solved flows: reading between them is then right within 1 %."""

PICTURE_POINTS = 61
PICTURE_SOLVED = 8
PICTURE_REACH = 1.2
PICTURE_LEAST = 0.05
"""Least solved flow of a picture over its largest."""


@dataclass(frozen=True, slots=True)
class LoopHeads:
    """A loop's curve as solved points and slopes, in natural logarithms of flow [m3/s] and head [m].

    Parameters
    ----------
    log_flows, log_heads, exponents : tuple of float
        Points by rising flow, and how the head goes with the flow there, [-].
    """

    log_flows: tuple[float, ...]
    log_heads: tuple[float, ...]
    exponents: tuple[float, ...]

    def read_head(self, flow_m3_s: float) -> float:
        """Return the head that the loop asks for at a flow.

        Parameters
        ----------
        flow_m3_s : float
            0 or more, [m3/s].

        Returns
        -------
        float
            [m]; beyond the points at either end by the power law of that end, 0 without flow.
        """
        if flow_m3_s <= 0:
            return 0.0
        at = math.log(flow_m3_s)
        for beyond, end in ((at <= self.log_flows[0], 0), (at >= self.log_flows[-1], -1)):
            if beyond:
                return math.exp(self.log_heads[end] + self.exponents[end] * (at - self.log_flows[end]))
        return math.exp(read_cubic(at, self.log_flows, self.log_heads, self.exponents)[0])

    def read_exponent(self, flow_m3_s: float) -> float:
        """Return how the head goes with the flow about a flow.

        Parameters
        ----------
        flow_m3_s : float
            Greater than 0, [m3/s].

        Returns
        -------
        float
            [-]
        """
        wide = 1.05
        rise = math.log(self.read_head(flow_m3_s * wide) / self.read_head(flow_m3_s / wide))
        return rise / (2 * math.log(wide))


def join_heads(points: list[Point]) -> LoopHeads:
    """Return the curve through solved points.

    Parameters
    ----------
    points : list of (float, float)
        Flow [m3/s] and head [m], greater than 0, in any order; at least one.

    Returns
    -------
    LoopHeads
    """
    kept: list[Point] = []
    for flow, head in sorted(points):
        if not kept or flow > NEAREST * kept[-1][0]:
            kept.append((flow, head))
    flows, heads = (np.log(np.array(column)) for column in zip(*kept, strict=True))
    slopes = find_slopes(flows, heads) if len(kept) > 1 else np.array([HEAD_EXPONENT])
    columns = (tuple(float(value) for value in column) for column in (flows, heads, slopes))
    return LoopHeads(*columns)


def spread_flows(least_m3_s: float, most_m3_s: float) -> tuple[float, ...]:
    """Return flows in equal ratios of at most `STEP`, both ends among them, [m3/s]."""
    count = max(2, math.ceil(math.log(most_m3_s / least_m3_s) / math.log(STEP)) + 1)
    ratio = most_m3_s / least_m3_s
    return tuple(least_m3_s * ratio ** (k / (count - 1)) for k in range(count))


def sample_loop(
    network: Network,
    coolant: Coolant,
    flows_m3_s: tuple[float, ...],
    known: Point,
    near: Mapping[str, float] | None = None,
) -> list[Point]:
    """Return points of a loop's curve near some flows.

    Parameters
    ----------
    network : Network
        The loop with any pump.
    coolant : Coolant
    flows_m3_s : tuple of float
        Greater than 0, [m3/s].
    known : (float, float)
        A point of the loop's curve to guess from.
    near : mapping of str to float, or None
        The flow of each edge at any point of the loop, to start from, [m3/s].

    Returns
    -------
    list of (float, float)
        Flow [m3/s] and head [m], one for each flow, within some percent of it.

    Raises
    ------
    OutOfRange
        As `solve_network`.
    """
    points = []
    for flow in flows_m3_s:
        line = aim_line(flow, known)
        start = None if near is None else {name: its * flow / near[PUMP] for name, its in near.items()}
        solution = solve_network(with_curve(network, line), coolant, start_flow_m3_s=flow, near=start)
        points.append(read_meeting(solution, coolant))
    return points


def aim_line(flow_m3_s: float, known: Point) -> CurvePoints:
    """Return a straight pump curve that meets the loop near a flow, guessed from a known point of the loop."""
    head = known[1] * (flow_m3_s / known[0]) ** HEAD_EXPONENT
    return ((0.0, 2.0 * head), (2.0 * flow_m3_s, 0.0))


def with_curve(network: Network, curve: CurvePoints) -> Network:
    """Return the loop with another curve of its pump, all else as it is."""
    edges = tuple(
        Edge(PUMP, edge.start, edge.end, (PumpCurve(curve),)) if edge.name == PUMP else edge
        for edge in network.edges
    )
    return replace(network, edges=edges)


def read_meeting(solution: FlowSolution, coolant: Coolant) -> Point:
    """Return flow [m3/s] and head [m] of the loop's pump."""
    head = -solution.drop_pa[PUMP] / (coolant.density_kg_m3 * GRAVITY_M_S2)
    return solution.flow_m3_s[PUMP], head


def shift_points(points: list[Point], base: Network, other: Network, coolant: Coolant) -> list[Point]:
    """Return points of a loop's curve with other bores of the pump.

    Parameters
    ----------
    points : list of (float, float)
        Flow [m3/s] and head [m], of `base`.
    base, other : Network
        The same loop; only elements beside the pump differ, which carry its whole flow.
    coolant : Coolant

    Returns
    -------
    list of (float, float)
        Flow [m3/s] and head [m], of `other`.
    """
    changed = [
        (1.0 if edge.start == PUMP_OUTLET or edge.end == PUMP_INLET else -1.0, old, new)
        for edge, its in zip(base.edges, other.edges, strict=True)
        if edge.name != PUMP
        for old, new in zip(edge.elements, its.elements, strict=True)
        if old != new
    ]
    weight = coolant.density_kg_m3 * GRAVITY_M_S2
    return [
        (
            flow,
            head
            + sum(
                sign * (drop_pa(new, sign * flow, coolant) - drop_pa(old, sign * flow, coolant))
                for sign, old, new in changed
            )
            / weight,
        )
        for flow, head in points
    ]


def trace_loop_curve(panel: Panel, routed: Routed, flowing: Flowing) -> LoopCurve:
    """Return the head that the loop asks for at each flow, with its band, for a picture.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    flowing : Flowing

    Returns
    -------
    LoopCurve
        With the used pump's bores, from no flow to 1.2 times the largest of: the loop's flow, the wanted flow,
        the flow of every pump of the file at its most speed.

    Raises
    ------
    OutOfRange
        A network or coolant without an answer.
    """
    coolant = find_coolant(panel)
    network = build_network(panel, routed)
    known = (flowing.flow_m3_s, flowing.head_m)
    rough = join_heads([known])
    met = [operating_point(pump.curve, rough.read_head)[0] for pump in panel.pump.choices]
    most = PICTURE_REACH * max(flowing.flow_m3_s, panel.wanted_flow_m3_s or 0.0, *met)
    points = [known]
    above: list[Point] = []
    below: list[Point] = []
    ratio = PICTURE_LEAST ** (1 / (PICTURE_SOLVED - 1))
    for k in range(PICTURE_SOLVED):
        flow = most * ratio**k
        line = aim_line(flow, known)
        driven = with_curve(network, line)
        solution = solve_network(driven, coolant, start_flow_m3_s=flow)
        flow, head = read_meeting(solution, coolant)
        points.append((flow, head))
        least, largest = flow_band(driven, coolant, solution)[PUMP]
        # With all drops high the loop meets the same straight line at the least flow: a point of its upper end.
        for ends, change in ((above, least), (below, largest)):
            at = flow * (1.0 + change)
            ends.append((at, line[0][1] * (1.0 - at / line[1][0])))
    middle, low, high = join_heads(points), join_heads(below), join_heads(above)
    flows = tuple(most * k / (PICTURE_POINTS - 1) for k in range(PICTURE_POINTS))
    heads, lows, highs = (tuple(curve.read_head(flow) for flow in flows) for curve in (middle, low, high))
    return LoopCurve(flows, heads, lows, highs)
