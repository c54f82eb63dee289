"""The loop's pieces in the order in which coolant comes to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

from layouts.hydraulics.network import Edge, FlowSolution
from layouts.plan import LoopStep

TANK = "tank"

StepKind = Literal["pump", "part", "channel"]


def list_steps(
    edges: Sequence[Edge],
    titles: Mapping[str, tuple[str, StepKind]],
    solution: FlowSolution,
    bands: Mapping[str, float],
) -> tuple[LoopStep, ...]:
    """Return the pieces of a solved loop that carry flow, in flow order from the tank.

    Parameters
    ----------
    edges : sequence of Edge
    titles : mapping of str to (str, str)
        Of each edge: name and kind of its step.
    solution : FlowSolution
    bands : mapping of str to float
        Of each edge: relative band of its drop, [-].

    Returns
    -------
    tuple of LoopStep
        No step stands before one that leads to its start; steps that could come next in any order keep that
        of `edges`.
    """
    waiting = []
    for edge in edges:
        flow = solution.flow_m3_s[edge.name]
        if flow != 0.0:
            start, end = (edge.start, edge.end) if flow > 0 else (edge.end, edge.start)
            waiting.append((edge, start, end))
    steps = []
    while waiting:
        ends = {end for _, _, end in waiting} - {TANK}
        # Flow that goes round without the tank leaves no first piece; the file's order then decides.
        ready = next((one for one in waiting if one[1] not in ends), waiting[0])
        waiting.remove(ready)
        edge, start, end = ready
        name, kind = titles[edge.name]
        steps.append(
            LoopStep(
                name=name,
                kind=kind,
                start=start,
                end=end,
                start_pa=solution.pressure_pa[start],
                end_pa=solution.pressure_pa[end],
                flow_m3_s=abs(solution.flow_m3_s[edge.name]),
                band=0.0 if kind == "pump" else bands[edge.name],
            )
        )
    return tuple(steps)
