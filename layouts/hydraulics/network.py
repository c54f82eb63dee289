"""The loop as a network of edges: flows, drops and pressures where pump and resistances meet.

The unknowns are the flows round the independent loops, so mass balances exactly; `balance` finds them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from geom.errors import OutOfRange
from layouts.hydraulics.balance import CLOSED_ENOUGH, LoopModel, TeeLegs, settle_flows
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.interpolation import Floats
from layouts.hydraulics.loops import find_loops
from layouts.hydraulics.losses import LOSS_BANDS
from layouts.hydraulics.pump import CurvePoints, check_pump_curve, pump_head_m
from layouts.hydraulics.segments import (
    DROP_KINDS,
    Duct,
    PumpCurve,
    Segment,
    drop_kind,
    find_area_m2,
    list_terms,
)
from layouts.hydraulics.terms import stack_terms


@dataclass(frozen=True, slots=True)
class Edge:
    """A run of elements between two nodes.

    Parameters
    ----------
    name : str
    start, end : str
        Nodes; flow from start to end is positive.
    elements : tuple of Segment
        In order from start to end; none for a plain joint without drop.
    """

    name: str
    start: str
    end: str
    elements: tuple[Segment, ...]


@dataclass(frozen=True, slots=True)
class Tee:
    """A 90-degree tee of three edges at a node; the roles are of geometry, whichever way the flow goes.

    Parameters
    ----------
    node : str
    combined, run, branch : str
        Names of edges; `combined` and `run` are in line, `branch` leaves at right angles.
    """

    node: str
    combined: str
    run: str
    branch: str


@dataclass(frozen=True, slots=True)
class Network:
    """A closed network driven by its pumps.

    Parameters
    ----------
    edges : tuple of Edge
    tees : tuple of Tee
        Junctions whose losses are charged; others join without loss.
    """

    edges: tuple[Edge, ...]
    tees: tuple[Tee, ...] = ()


@dataclass(frozen=True, slots=True)
class FlowSolution:
    """Flows, drops and pressures of a network.

    Parameters
    ----------
    flow_m3_s : dict of str to float
        Of each edge, from start to end, [m3/s].
    drop_pa : dict of str to float
        Total pressure at the start less that at the end, tee losses and pump included, [Pa].
    pressure_pa : dict of str to float
        Total pressure at each node over that at "tank", or at the first node where there is none, [Pa]; at a
        tee that of its combined leg. Height plays no part.
    breakdown : dict of str to dict of str to float
        Of each edge: "straight", "bends", "turns" (tees with them), "part", "pump"; sums to its drop, [Pa].
    iterations : int
        Steps of Newton's method.
    residual : float
        The larger of flow left over at a node against the largest flow, and energy left over round a loop
        against the largest drop, [-].
    """

    flow_m3_s: dict[str, float]
    drop_pa: dict[str, float]
    pressure_pa: dict[str, float]
    breakdown: dict[str, dict[str, float]]
    iterations: int
    residual: float


def solve_network(
    network: Network,
    coolant: Coolant,
    start_flow_m3_s: float | None = None,
    near: Mapping[str, float] | None = None,
) -> FlowSolution:
    """Return the flows at which pumps and resistances balance.

    Parameters
    ----------
    network : Network
    coolant : Coolant
    start_flow_m3_s : float or None
        Where to start looking, greater than 0, [m3/s]; by default half-way along the longest pump curve.
    near : mapping of str to float, or None
        Flows of these edges in a network of like sizes, to start from, [m3/s]: saves most steps.

    Returns
    -------
    FlowSolution
        Its residual is never more than 1e-9.

    Raises
    ------
    OutOfRange
        A network that is not one: names used twice or unknown, pieces that do not touch, no pump, a pump in
        no loop, a pump that is driven backwards; or no balance found, see `balance`.

    Source
    ------
    Loop flows by Newton's method: Todini and Rossman, Unified framework for deriving simultaneous equation
    algorithms for water distribution networks, J. Hydraul. Eng. 139 (2013) 511-526.
    """
    ready = prepare_network(network, coolant)
    flows, iterations = _solve(network, ready.model, start_flow_m3_s, _list_flows(network, near))
    solution = _report(network, ready, flows, iterations)
    if not solution.residual <= CLOSED_ENOUGH:
        raise OutOfRange(
            f"network: {solution.residual:.1e} of the flow or the largest drop is left over, more than "
            f"{CLOSED_ENOUGH:g}; look for drops or flows of far different size in one network"
        )
    return solution


def flow_band(network: Network, coolant: Coolant, solution: FlowSolution) -> dict[str, tuple[float, float]]:
    """Return how far each flow may lie from its calculated value.

    Parameters
    ----------
    network : Network
    coolant : Coolant
    solution : FlowSolution
        Of this network and coolant.

    Returns
    -------
    dict of str to (float, float)
        Of each edge: lowest and highest flow over the calculated one, less 1, [-]; (0, 0) without flow. All
        drops are taken high together, then low together, each by its own band: the widest case for the
        whole loop's flow, not for the split between parallel branches.

    Raises
    ------
    OutOfRange
        As `solve_network`.

    Source
    ------
    Bands: `friction.friction_band`, `losses.LOSS_BANDS`, `segments.PART_BAND`.
    """
    model = prepare_network(network, coolant).model
    flows = np.array([solution.flow_m3_s[edge.name] for edge in network.edges])
    bands = model.stack.find_bands(flows, coolant)
    largest = float(np.abs(flows).max())
    ends = []
    for sign in (1.0, -1.0):
        varied = replace(model, scales=1.0 + sign * bands, tee_scale=1.0 + sign * LOSS_BANDS["tee"])
        ends.append(_solve(network, varied, largest, flows)[0])
    result = {}
    for i, edge in enumerate(network.edges):
        if abs(flows[i]) <= 1e-9 * largest:
            result[edge.name] = (0.0, 0.0)
            continue
        ratios = [float(end[i] / flows[i]) - 1.0 for end in ends]
        result[edge.name] = (min(*ratios, 0.0), max(*ratios, 0.0))
    return result


def operating_point(pump_points: CurvePoints, system: Callable[[float], float]) -> tuple[float, float]:
    """Return where a pump curve meets a system curve.

    Parameters
    ----------
    pump_points : tuple of (float, float)
        Flow [m3/s] and head [m].
    system : callable
        Head [m] that the system asks for at a flow [m3/s]; continuous.

    Returns
    -------
    tuple of float
        Flow [m3/s] and head [m].

    Raises
    ------
    OutOfRange
        The system asks for more than the shut-off head, or for less than the pump gives at any flow.

    Source
    ------
    Bisection.
    """
    check_pump_curve(pump_points)
    if system(0.0) >= pump_head_m(pump_points, 0.0):
        raise OutOfRange(
            f"pump: the system asks for {system(0.0):g} m at no flow, the pump gives "
            f"{pump_head_m(pump_points, 0.0):g} m; no flow is possible, choose a pump with more head"
        )
    low, high = 0.0, pump_points[-1][0]
    for _ in range(60):
        if pump_head_m(pump_points, high) <= system(high):
            break
        low, high = high, 2 * high
    else:
        raise OutOfRange(
            f"pump: its curve is above the system's at every flow up to {high:g} m3/s; extend the pump curve "
            "to where its head falls"
        )
    for _ in range(200):
        middle = 0.5 * (low + high)
        if not low < middle < high:
            break
        if pump_head_m(pump_points, middle) > system(middle):
            low = middle
        else:
            high = middle
    return high, pump_head_m(pump_points, high)


@dataclass(frozen=True, slots=True, eq=False)
class ReadyNetwork:
    """A network ready to solve.

    Parameters
    ----------
    nodes : tuple of str
        Names of the nodes, by their numbers.
    kinds : (n,) int
        Of each of the stack's terms: its heading's place in `DROP_KINDS`.
    model : LoopModel
    """

    nodes: tuple[str, ...]
    kinds: NDArray[np.intp]
    model: LoopModel


@lru_cache(maxsize=32)
def prepare_network(network: Network, coolant: Coolant) -> ReadyNetwork:
    """Return a network as numbers and arrays.

    Parameters
    ----------
    network : Network
    coolant : Coolant

    Returns
    -------
    ReadyNetwork

    Raises
    ------
    OutOfRange
        A network that is not one, see `solve_network`.
    """
    edges = network.edges
    names = [edge.name for edge in edges]
    if len(set(names)) < len(names):
        twice = sorted({name for name in names if names.count(name) > 1})
        raise OutOfRange(f'network: the edge name "{twice[0]}" is used twice; give each edge its own')
    nodes = tuple(dict.fromkeys(node for edge in edges for node in (edge.start, edge.end)))
    pumped = tuple(_has_pump(edge) for edge in edges)
    if not any(pumped):
        raise OutOfRange("network: no edge holds a pump curve, so nothing drives the flow; add the pump's")
    number = {node: i for i, node in enumerate(nodes)}
    ends = tuple((number[edge.start], number[edge.end]) for edge in edges)
    loops = find_loops(ends, number.get("tank", 0), pumped)
    if loops.nodes < len(nodes):
        seen = {number.get("tank", 0), *(node for _, _, node in loops.walk)}
        missed = next(node for i, node in enumerate(nodes) if i not in seen)
        raise OutOfRange(f'network: no edge leads to the node "{missed}"; join it, or solve its loop apart')
    looped = [bool(column.any()) for column in loops.matrix.T]
    for edge, has_pump, in_loop in zip(edges, pumped, looped, strict=True):
        if has_pump and not in_loop:
            raise OutOfRange(
                f'network: the pump of edge "{edge.name}" is in no loop, so no flow is possible; lead its '
                "outlet back to its inlet"
            )
    located = [
        (i, DROP_KINDS.index(drop_kind(element)), term)
        for i, edge in enumerate(edges)
        for element in edge.elements
        for term in list_terms(element)
    ]
    stack = stack_terms([(i, term) for i, _, term in located])
    kinds = np.array([located[i][1] for i in stack.order], dtype=np.intp)
    tees = tuple(_prepare_tee(tee, network, looped) for tee in network.tees)
    model = LoopModel(
        names=tuple(names),
        ends=ends,
        loops=loops,
        stack=stack,
        driving=kinds == DROP_KINDS.index("pump"),
        scales=np.ones(len(located)),
        tees=tees,
        tee_edges=np.array(sorted({e for tee in tees for e in (tee.run, tee.branch)}), dtype=np.intp),
        tee_scale=1.0,
        coolant=coolant,
    )
    return ReadyNetwork(nodes, kinds, model)


def _prepare_tee(tee: Tee, network: Network, looped: list[bool]) -> TeeLegs:
    number = {edge.name: i for i, edge in enumerate(network.edges)}
    names = (tee.combined, tee.run, tee.branch)
    where = f'tee at node "{tee.node}"'
    if len(set(names)) < 3 or any(name not in number for name in names):
        raise OutOfRange(f"{where}: {', '.join(names)} must be three different edges of the network")
    legs = [network.edges[number[name]] for name in names]
    for leg in legs:
        if (leg.start == tee.node) == (leg.end == tee.node):
            raise OutOfRange(f'{where}: edge "{leg.name}" must touch this node with exactly one end')
    for edge, in_loop in zip(network.edges, looped, strict=True):
        if tee.node in (edge.start, edge.end) and edge.name not in names and in_loop:
            raise OutOfRange(
                f'{where}: edge "{edge.name}" meets there too; a tee has three legs, split the node'
            )
    _, run_sign, branch_sign = (1.0 if leg.end == tee.node else -1.0 for leg in legs)
    areas = [
        find_area_m2(element)
        for leg in legs
        for element in (reversed(leg.elements) if leg.end == tee.node else leg.elements)
        if isinstance(element, Duct)
    ]
    if not areas:
        raise OutOfRange(
            f"{where}: none of {', '.join(names)} has a channel to give the tee its size; add one"
        )
    return TeeLegs(tee.node, number[tee.run], run_sign, number[tee.branch], branch_sign, areas[0])


def _list_flows(network: Network, near: Mapping[str, float] | None) -> Floats | None:
    if near is None:
        return None
    strange = [edge.name for edge in network.edges if edge.name not in near]
    if strange:
        raise OutOfRange(
            f'network: the solution to start from lacks edge "{strange[0]}"; give one of the same edges'
        )
    return np.array([near[edge.name] for edge in network.edges])


def _solve(
    network: Network, model: LoopModel, start_flow: float | None, near: Floats | None = None
) -> tuple[Floats, int]:
    """Return the flow of each edge and the number of steps; refuse a pump that gives no flow."""
    if start_flow is None:
        start_flow = 0.5 * max(pump.points[-1][0] for pump in model.stack.pumps)
    if not (math.isfinite(start_flow) and start_flow > 0):
        raise OutOfRange(f"network: the start flow {start_flow:g} m3/s must be greater than 0")
    flows, steps = settle_flows(model, start_flow, near)
    least = 1e-9 * float(np.abs(flows).max())
    for edge, flow in zip(network.edges, flows.tolist(), strict=True):
        if _has_pump(edge) and flow <= least:
            raise OutOfRange(
                f'network: the pump of edge "{edge.name}" gives the loop no positive flow ({flow:g} m3/s); '
                "choose one with more head or lower the drop"
            )
    return flows, steps


def _has_pump(edge: Edge) -> bool:
    return any(isinstance(element, PumpCurve) for element in edge.elements)


def _report(network: Network, ready: ReadyNetwork, flows: Floats, iterations: int) -> FlowSolution:
    model, nodes = ready.model, ready.nodes
    names = [edge.name for edge in network.edges]
    terms, _ = model.find_terms(flows)
    width = len(DROP_KINDS)
    cells = model.stack.place * width + ready.kinds
    parts = np.asarray(np.bincount(cells, terms, len(names) * width), dtype=float).reshape(-1, width)
    parts[:, DROP_KINDS.index("turns")] += model.find_tee_drops(flows)[0]
    drops = parts.sum(axis=1)
    drop_list = drops.tolist()
    pressures = {nodes[model.loops.walk[0][0] if model.loops.walk else 0]: 0.0}
    for known, edge, reached in model.loops.walk:
        sign = -1.0 if model.ends[edge][0] == known else 1.0
        pressures[nodes[reached]] = pressures[nodes[known]] + sign * drop_list[edge]
    starts, stops = np.array(model.ends).T
    balance = np.bincount(stops, flows, len(nodes)) - np.bincount(starts, flows, len(nodes))
    left = float(np.abs(model.loops.sum_round(drops)).max()) / float(np.abs(terms).max())
    return FlowSolution(
        flow_m3_s=dict(zip(names, flows.tolist(), strict=True)),
        drop_pa=dict(zip(names, drop_list, strict=True)),
        pressure_pa={node: pressures[node] for node in nodes},
        breakdown={
            name: dict(zip(DROP_KINDS, row, strict=True))
            for name, row in zip(names, parts.tolist(), strict=True)
        },
        iterations=iterations,
        residual=max(left, float(np.abs(balance).max()) / float(np.abs(flows).max())),
    )
