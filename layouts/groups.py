"""Flows through the branches of parallel groups, and the restrictors that even them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from geom.errors import OutOfRange
from geom.standards import tables
from layouts.advice import GroupBalance, Restrictor
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.held import HeldGroup, hold_shares
from layouts.hydraulics.network import Edge, FlowSolution, Network, solve_network
from layouts.hydraulics.orifice import fitting_bore_mm, size_orifice_m
from layouts.hydraulics.segments import Bend, Orifice, PortTurn, Segment, Straight, drop_band, drop_pa
from layouts.loop_network import PUMP, build_network, find_coolant, list_flows, name_part_edge
from layouts.nets import list_groups, list_parts
from layouts.panel import Panel, Part, Step
from layouts.plan import Flowing, Routed
from layouts.sizes import find_least_made

EVEN_SPREAD = 0.05
"""Groups whose flows lie closer need nothing; the same is asked of what evens a group."""

BORE_STEP = 0.1
"""Bores are given as they can be drilled, [mm]."""

LEAST_BORE = 1.0
"""No narrower orifice is advised, because it clogs without a filter before it, [mm]: common practice, no source.

A file may ask for one of half of it (`layouts.file.parts`).
"""

WIDTH_STEP = 0.5
"""Widths of channels are given to this, [mm]."""

MOST_TRIMS = 6
"""Steps of `BORE_STEP` by which one bore after another is trimmed.

The bores are worked out for equal flows and then rounded, which a few steps make good; a group that stays uneven
gets none.
"""


@dataclass(frozen=True, slots=True)
class _Branch:
    """A branch of a group: its parts, the edges that its flow enters by, one edge that carries it alone.

    `part` is the name of the first part that carries the whole branch, "" where there is none.
    """

    parts: tuple[str, ...]
    entries: tuple[str, ...]
    edge: str
    part: str


@dataclass(frozen=True, slots=True)
class _Group:
    """A parallel group; `parent` is the edge that carries its whole flow."""

    branches: tuple[_Branch, ...]
    parent: str

    def flows_in(self, solution: FlowSolution) -> tuple[float, ...]:
        return tuple(
            math.fsum(solution.flow_m3_s[edge] for edge in branch.entries) for branch in self.branches
        )


def balance_groups(
    panel: Panel, routed: Routed, flowing: Flowing, least_spread: float = EVEN_SPREAD
) -> tuple[GroupBalance, ...]:
    """Return the balance of each parallel group, an outer one before those within its branches.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    flowing : Flowing
    least_spread : float
        No group is evened where none spreads more, [-].

    Returns
    -------
    tuple of GroupBalance
        Restrictors stand for all of a group's that the file gives, and all groups have theirs at once: the
        even flows of one group hold only with the restrictors of all. Even means equal flows, with the orifices'
        losses as calculated.

    Raises
    ------
    OutOfRange
        A network or coolant without an answer.

    Source
    ------
    `EVEN_SPREAD`, 5 %: common practice, no source. The orifice: `layouts.hydraulics.orifice`.
    """
    if not list_groups(panel.loop):
        return ()
    coolant = find_coolant(panel)
    network = build_network(panel, routed)
    solution = solve_network(network, coolant, near=list_flows(flowing))
    groups = _trace_groups(panel.loop, PUMP, network, solution)
    uneven = [
        group
        for group in groups
        if _spread(group.flows_in(solution)) > EVEN_SPREAD
        and all(branch.edge for g in groups for branch in g.branches)
    ]
    if not any(_spread(group.flows_in(solution)) > least_spread for group in uneven):
        uneven = []
    bores = _size_bores(panel, network, coolant, groups, uneven, solution) if uneven else {}
    even = solution
    if bores:
        bores, even = _trim_bores(panel, network, coolant, uneven, bores, solution)
    widths = _size_widths(panel, network, coolant, uneven, bores, even) if bores else {}
    ends = _solve_ends(panel, network, coolant, uneven, bores, even) if bores else ()
    return tuple(
        GroupBalance(
            branches=tuple(branch.parts for branch in group.branches),
            flows_m3_s=group.flows_in(solution),
            spread=_spread(group.flows_in(solution)),
            restrictors=tuple(
                Restrictor(branch.part, bores[branch.part], widths.get(branch.part))
                for branch in group.branches
                if branch.part in bores
            ),
            even_flows_m3_s=group.flows_in(even),
            even_spread=_spread(group.flows_in(even)),
            even_loop_flow_m3_s=even.flow_m3_s[PUMP],
            even_spread_most=max(_spread(group.flows_in(end)) for end in (even, *ends)),
        )
        for group in groups
    )


def _trace_groups(
    chain: tuple[Step, ...], parent: str, network: Network, solution: FlowSolution
) -> tuple[_Group, ...]:
    found: list[_Group] = []
    for step in chain:
        if isinstance(step, str):
            continue
        branches = tuple(_trace_branch(branch, network, solution) for branch in step)
        found.append(_Group(branches, parent))
        for branch, traced in zip(step, branches, strict=True):
            if isinstance(branch, tuple):
                found += _trace_groups(branch, traced.edge, network, solution)
    return tuple(found)


def _trace_branch(branch: Step, network: Network, solution: FlowSolution) -> _Branch:
    chain = (branch,) if isinstance(branch, str) else branch
    part = next((step for step in chain if isinstance(step, str)), "")
    entries = tuple(name_part_edge(name) for name in _list_entries(chain))
    if part:
        return _Branch(list_parts(branch), entries, name_part_edge(part), part)
    # Groups only: the channel between two of them carries the branch, where it is one.
    flow = math.fsum(solution.flow_m3_s[edge] for edge in entries)
    near = 1e-7 * solution.flow_m3_s[PUMP]
    edge = next((e.name for e in network.edges if abs(abs(solution.flow_m3_s[e.name]) - flow) <= near), "")
    return _Branch(list_parts(branch), entries, edge, "")


def _list_entries(chain: tuple[Step, ...]) -> tuple[str, ...]:
    """Return the parts that a chain begins with."""
    first = chain[0]
    if isinstance(first, str):
        return (first,)
    return tuple(
        name for branch in first for name in _list_entries((branch,) if isinstance(branch, str) else branch)
    )


def _spread(flows: tuple[float, ...]) -> float:
    mean = math.fsum(flows) / len(flows)
    return (max(flows) - min(flows)) / abs(mean) if mean else math.inf


def _size_bores(
    panel: Panel,
    network: Network,
    coolant: Coolant,
    groups: tuple[_Group, ...],
    uneven: list[_Group],
    solution: FlowSolution,
) -> dict[str, float]:
    """Return the bores [mm], by part, that even the uneven groups while the others keep their shares."""
    held = []
    share_of = {PUMP: 1.0}
    for group in groups:
        flows, whole = group.flows_in(solution), share_of[group.parent]
        shares = [
            whole / len(flows) if group in uneven else whole * flow / math.fsum(flows) for flow in flows
        ]
        edges = tuple(branch.edge for branch in group.branches)
        share_of |= dict(zip(edges, shares, strict=True))
        held.append(HeldGroup(edges, tuple(shares), group.parent))
    bare = _restrict(network, panel, {branch.part: None for group in uneven for branch in group.branches})
    try:
        flow, added = hold_shares(bare, coolant, held, PUMP, solution.flow_m3_s[PUMP])
    except OutOfRange:
        # Legs that join beside the groups, or a pump too weak for even flows.
        return {}
    bores: dict[str, float] = {}
    for group in uneven:
        own: dict[str, float] = {}
        for branch in group.branches:
            if added[branch.edge] <= 0:
                continue
            if not branch.part:
                break
            fitting = _fitting_mm(panel.part(branch.part))
            bore = size_orifice_m(added[branch.edge], share_of[branch.edge] * flow, fitting / 1e3, coolant)
            if bore is not None:
                own[branch.part] = round(round(bore * 1e3 / BORE_STEP) * BORE_STEP, 1)
        else:
            if all(bore >= LEAST_BORE for bore in own.values()):
                bores |= own
    return bores


def _trim_bores(
    panel: Panel,
    network: Network,
    coolant: Coolant,
    uneven: list[_Group],
    bores: dict[str, float],
    solution: FlowSolution,
) -> tuple[dict[str, float], FlowSolution]:
    """Return bores and the flows with them, each group even enough or without any bore."""

    def solve(with_bores: dict[str, float]) -> FlowSolution:
        return solve_network(
            _restrict(network, panel, _list_bores(uneven, with_bores)), coolant, near=solution.flow_m3_s
        )

    even = solve(bores)
    for _ in range(MOST_TRIMS):
        worst = max(uneven, key=lambda group: _spread(group.flows_in(even)))
        before = _spread(worst.flows_in(even))
        if before <= EVEN_SPREAD:
            break
        flows = worst.flows_in(even)
        most = worst.branches[flows.index(max(flows))].part
        least = worst.branches[flows.index(min(flows))].part
        tries = []
        if most in bores:
            tries.append({**bores, most: round(bores[most] - BORE_STEP, 1)})
        if least in bores:
            tries.append({**bores, least: round(bores[least] + BORE_STEP, 1)})
        solved = [(trial, solve(trial)) for trial in tries]
        better = [(t, s) for t, s in solved if _spread(worst.flows_in(s)) < before]
        if not better:
            break
        bores, even = min(better, key=lambda pair: _spread(worst.flows_in(pair[1])))
    failed = [group for group in uneven if _spread(group.flows_in(even)) > EVEN_SPREAD]
    if failed:
        gone = {branch.part for group in failed for branch in group.branches}
        bores = {part: bore for part, bore in bores.items() if part not in gone}
        even = solve(bores) if bores else solution
    return bores, even


def _solve_ends(
    panel: Panel,
    network: Network,
    coolant: Coolant,
    uneven: list[_Group],
    bores: dict[str, float],
    even: FlowSolution,
) -> tuple[FlowSolution, ...]:
    """Return the flows with the losses of all orifices at the high, then at the low end of their band.

    Together, because the error is that of one formula, and of like plates in like fittings.
    """
    ends = []
    for sign in (1.0, -1.0):
        varied: dict[str, float | None] = {}
        for part, bore in bores.items():
            fitting, flow = _fitting_mm(panel.part(part)) / 1e3, even.flow_m3_s[name_part_edge(part)]
            orifice = Orifice(bore / 1e3, fitting)
            loss = (1.0 + sign * drop_band(orifice, flow, coolant)) * drop_pa(orifice, flow, coolant)
            # The loss goes with the square of the flow: a share more of it is a narrower bore, at any flow.
            other = size_orifice_m(loss, flow, fitting, coolant)
            varied[part] = None if other is None else other * 1e3
        restricted = _restrict(network, panel, _list_bores(uneven, varied))
        ends.append(solve_network(restricted, coolant, near=even.flow_m3_s))
    return tuple(ends)


def _list_bores(uneven: list[_Group], bores: Mapping[str, float | None]) -> dict[str, float | None]:
    """Return the bore of every part of the groups that are evened; a group without any keeps the file's."""
    return {
        branch.part: bores.get(branch.part)
        for group in uneven
        if any(branch.part in bores for branch in group.branches)
        for branch in group.branches
    }


def _restrict(network: Network, panel: Panel, bores: Mapping[str, float | None]) -> Network:
    """Return the network with these restrictors [mm] in place of those that the parts have."""
    part_at = {name_part_edge(part.name): part for part in panel.parts if part.name in bores}
    edges = []
    for edge in network.edges:
        part = part_at.get(edge.name)
        if part is not None:
            own: tuple[Segment, ...] = tuple(e for e in edge.elements if not isinstance(e, Orifice))
            bore = bores[part.name]
            if bore is not None:
                own = (Orifice(bore / 1e3, _fitting_mm(part) / 1e3), *own)
            edge = replace(edge, elements=own)
        edges.append(edge)
    return replace(network, edges=tuple(edges))


def _fitting_mm(part: Part) -> float:
    return fitting_bore_mm(tables.thread(part.inlet.thread).tap_drill)


def _size_widths(
    panel: Panel,
    network: Network,
    coolant: Coolant,
    uneven: list[_Group],
    bores: dict[str, float],
    even: FlowSolution,
) -> dict[str, float]:
    """Return the width [mm], by part, of the leg to its inlet that does in place of its orifice, where one does."""
    legs: dict[str, Edge] = {}
    widths: dict[str, float] = {}
    for part, bore in bores.items():
        leg = _find_own_leg(network, panel.part(part))
        if leg is None:
            continue
        orifice = Orifice(bore / 1e3, _fitting_mm(panel.part(part)) / 1e3)
        flow = even.flow_m3_s[name_part_edge(part)]
        wanted = drop_pa(orifice, flow, coolant)
        width = _narrow_leg(leg, abs(even.flow_m3_s[leg.name]), wanted, find_least_made(panel), coolant)
        if width is not None:
            legs[part], widths[part] = _set_width(leg, width), width
    if not widths:
        return {}
    kept = {part: None if part in widths else bore for part, bore in _list_bores(uneven, bores).items()}
    narrow = {leg.name: leg for leg in legs.values()}
    restricted = _restrict(network, panel, kept)
    trial = replace(restricted, edges=tuple(narrow.get(edge.name, edge) for edge in restricted.edges))
    solution = solve_network(trial, coolant, near=even.flow_m3_s)
    for group in uneven:
        if _spread(group.flows_in(solution)) > EVEN_SPREAD:
            for branch in group.branches:
                widths.pop(branch.part, None)
    return widths


def _find_own_leg(network: Network, part: Part) -> Edge | None:
    """Return the leg that leads to a part's inlet and nowhere else, where it comes from a tee."""
    at_inlet = [
        edge
        for edge in network.edges
        if part.inlet.name in (edge.start, edge.end) and edge.name != name_part_edge(part.name)
    ]
    branched = {name for tee in network.tees for name in (tee.run, tee.branch, tee.combined)}
    return at_inlet[0] if len(at_inlet) == 1 and at_inlet[0].name in branched else None


def _narrow_leg(leg: Edge, flow_m3_s: float, added_pa: float, least: float, coolant: Coolant) -> float | None:
    """Return the width [mm] at which a leg costs as much more as is nearest to a drop, or None."""
    ducts = [element for element in leg.elements if isinstance(element, Straight | Bend | PortTurn)]
    if not ducts:
        return None
    now = ducts[0].width_m * 1e3
    before = _sum_drops(leg, flow_m3_s, coolant)

    def miss(steps: int) -> float:
        narrow = _set_width(leg, now - steps * WIDTH_STEP)
        return _sum_drops(narrow, flow_m3_s, coolant) - before - added_pa

    low, high = 0, math.floor((now - least) / WIDTH_STEP)
    if high < 1 or miss(high) < 0:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if miss(middle) < 0 else (low, middle)
    steps = high if low == 0 or abs(miss(high)) < abs(miss(low)) else low
    return now - steps * WIDTH_STEP


def _set_width(leg: Edge, width: float) -> Edge:
    return replace(
        leg,
        elements=tuple(
            replace(element, width_m=width / 1e3)
            if isinstance(element, Straight | Bend | PortTurn)
            else element
            for element in leg.elements
        ),
    )


def _sum_drops(leg: Edge, flow_m3_s: float, coolant: Coolant) -> float:
    return math.fsum(drop_pa(element, flow_m3_s, coolant) for element in leg.elements)
