"""Heat round the loop in steady state.

Temperatures are followed as a + b T, T being that of the tank, both over the air around: heat adds to a, a
radiator takes its share off both, streams that meet mix by their flow. Where the loop comes back to the tank,
T = a / (1 - b). The pump's hydraulic power turns to heat all along the loop; it is counted at the pump.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from layouts.advice import Heating, HeatStep
from layouts.hydraulics.coolant import coolant_properties
from layouts.hydraulics.interpolation import interpolate_monotone
from layouts.loop_network import PUMP
from layouts.loop_steps import TANK
from layouts.panel import Panel, Part, Step
from layouts.plan import Flowing

WARM_K = 10.0
"""Warming for which a time is told where no capacity of the radiators is known, [K]."""

BOILS_C = 100.0
"""Water boils at it in a tank open to the air, a mix with glycol a few kelvin higher, [°C]."""

BEYOND_C = 150.0
"""A temperature above it is no longer told: it says only that no coolant stands it, [°C]."""

Line = tuple[float, float]
"""a [K] and b [-] of a temperature a + b T."""


@dataclass(frozen=True, slots=True)
class Exchange:
    """What a part does to the coolant at its flow: heat given to it [W], share of T - air taken off it [-]."""

    flow_m3_s: float
    heat_w: float
    taken: float


def follow_heat(panel: Panel, flowing: Flowing) -> Heating:
    """Return the coolant's temperature before and behind each part.

    Parameters
    ----------
    panel : Panel
    flowing : Flowing
        Its `steps` say how the coolant runs.

    Returns
    -------
    Heating
        Where no part has a capacity, the parts without heat share in taking all of it away; where there are
        none of those either, nothing does. Where the temperature of the air is not given, the file's is taken
        for the tank and the air follows from it.

    Raises
    ------
    OutOfRange
        A coolant outside its table.

    Source
    ------
    Energy balance of steady streams, with density and heat capacity at the file's temperature.
    """
    choice = panel.coolant
    coolant = coolant_properties(choice.fluid, choice.mass_fraction, choice.temperature_c)
    carried = coolant.density_kg_m3 * coolant.heat_capacity_j_kgk
    pump_w = flowing.loop_drop_pa * flowing.flow_m3_s
    heat_w = sum(part.heat_w for part in panel.parts) + pump_w
    exchanges = _find_exchanges(panel, flowing, carried, heat_w)
    kept_w = 0.0 if any(part.capacity or part.heat_w == 0.0 for part in panel.parts) else heat_w
    lines, nodes, back = _trace_lines(flowing, exchanges, carried, pump_w)
    over_k = back[0] / (1.0 - back[1]) if back[1] < 1.0 else None
    if over_k is None:
        tank_c, air_c = choice.temperature_c, choice.temperature_c
    elif choice.ambient_c is None:
        tank_c, air_c = choice.temperature_c, choice.temperature_c - over_k
    else:
        tank_c, air_c = choice.ambient_c + over_k, choice.ambient_c
    warm = over_k or 0.0
    reached = [air_c + a + b * warm for a, b in nodes]
    return Heating(
        steps=tuple(
            _tell_step(name, exchanges[name], line, air_c, warm, carried) for name, line in lines.items()
        ),
        tank_c=tank_c,
        spread_k=max(reached) - min(reached),
        heat_w=heat_w,
        over_ambient_k=over_k,
        closes=over_k is not None and choice.ambient_c is not None,
        order_effect_k=_find_order_effect(panel, flowing, exchanges, carried, pump_w) if lines else None,
        tank_effect=_tell_tank_effect(carried, heat_w, over_k, kept_w),
        kept_w=kept_w,
    )


def find_hottest(heating: Heating) -> tuple[str, float]:
    """Return the part at which the coolant is warmest, before or behind it, and how warm it is there, [°C].

    Parameters
    ----------
    heating : Heating
        With at least one step.
    """
    hottest = max(heating.steps, key=lambda step: max(step.inlet_c, step.outlet_c))
    return hottest.part, max(hottest.inlet_c, hottest.outlet_c)


def read_capacity(part: Part, flow_m3_s: float) -> float:
    """Return the heat that a radiator gives to the air per kelvin of the coolant entering it.

    Parameters
    ----------
    part : Part
        With at least one point of `capacity`.
    flow_m3_s : float
        [m3/s]

    Returns
    -------
    float
        [W/K]; a monotone cubic through the points, level beyond the first and the last.
    """
    if len(part.capacity) == 1:
        return part.capacity[0][1]
    flows, capacities = (np.array(column, dtype=float) for column in zip(*part.capacity, strict=True))
    return float(interpolate_monotone(flow_m3_s, flows, capacities))


def _find_exchanges(panel: Panel, flowing: Flowing, carried: float, heat_w: float) -> dict[str, Exchange]:
    """Return what each part does; `carried` is density times heat capacity, [J/(m3 K)]."""
    flows = {part.part: abs(part.flow_m3_s) for part in flowing.parts}
    idle = [part.name for part in panel.parts if part.heat_w == 0.0]
    balanced = any(part.capacity for part in panel.parts)
    exchanges = {}
    for part in panel.parts:
        flow = flows[part.name]
        # Coolant cannot leave a radiator colder than the air: it takes no more than the stream carries.
        taken = min(1.0, read_capacity(part, flow) / (carried * flow)) if part.capacity else 0.0
        given = -heat_w / len(idle) if not balanced and part.name in idle else part.heat_w
        exchanges[part.name] = Exchange(flow, given, taken)
    return exchanges


def _trace_lines(
    flowing: Flowing, exchanges: Mapping[str, Exchange], carried: float, pump_w: float
) -> tuple[dict[str, Line], list[Line], Line]:
    """Return the line of each part's inlet in flow order, those of all places, and that back at the tank."""
    streams: dict[str, list[tuple[float, float, float]]] = {}
    lines: dict[str, Line] = {}
    places: list[Line] = [(0.0, 1.0)]
    for step in flowing.steps:
        a, b = (0.0, 1.0) if step.start == TANK else _mix(streams.get(step.start, []))
        if step.kind == "pump":
            a += pump_w / (carried * step.flow_m3_s)
        elif step.kind == "part":
            lines[step.name] = (a, b)
            part = exchanges[step.name]
            a = a * (1.0 - part.taken) + part.heat_w / (carried * step.flow_m3_s)
            b *= 1.0 - part.taken
        streams.setdefault(step.end, []).append((step.flow_m3_s, a, b))
        places.append((a, b))
    return lines, places, _mix(streams.get(TANK, []))


def _mix(streams: list[tuple[float, float, float]]) -> Line:
    """Return the line of streams (flow, a, b) that meet; that of the tank where there is none."""
    whole = math.fsum(flow for flow, _, _ in streams)
    if whole <= 0:
        return 0.0, 1.0
    # A sum of shares that is 1 but for rounding would leave a balance where no radiator closes one.
    b = 1.0 if all(b == 1.0 for _, _, b in streams) else math.fsum(q * b for q, _, b in streams) / whole
    return math.fsum(q * a for q, a, _ in streams) / whole, b


def _tell_step(
    name: str, part: Exchange, line: Line, air_c: float, warm_k: float, carried: float
) -> HeatStep:
    over = line[0] + line[1] * warm_k
    heat = part.heat_w - part.taken * carried * part.flow_m3_s * over
    return HeatStep(
        part=name,
        flow_m3_s=part.flow_m3_s,
        heat_w=heat,
        inlet_c=air_c + over,
        outlet_c=air_c + over + heat / (carried * part.flow_m3_s),
    )


def _find_order_effect(
    panel: Panel, flowing: Flowing, exchanges: Mapping[str, Exchange], carried: float, pump_w: float
) -> float | None:
    """Return the most that any part's inlet changes with another order of the loop's stages, [K].

    The first parts of a group stand at its inlet, so no part changes by more than its stage's inlet. The flow is
    held: another order has other channels, which change it by little.
    """
    stages = [
        _join_step(stage, exchanges, carried, in_series=False)[1:]
        for stage in panel.loop
        if stage not in (TANK, PUMP)
    ]
    # Two stages have one order round a loop.
    if len(stages) < 3:
        return None
    pump = (pump_w / (carried * flowing.flow_m3_s), 1.0)
    whole_rise, whole_keep = _chain([pump, *stages])
    closed = whole_keep < 1.0
    inlet = pump[0] + (whole_rise / (1.0 - whole_keep) if closed else 0.0)
    most = 0.0
    for k, (rise, keep) in enumerate(stages):
        others = stages[:k] + stages[k + 1 :]
        for warmest in (True, False):
            if closed:
                # Round the loop, all others and the pump may stand in any order between a stage's outlet and
                # its inlet.
                added, kept = _chain(_sort_stages([pump, *others], warmest))
                reached = (added + kept * rise) / (1.0 - whole_keep)
            else:
                # The tank is held, and a stage's inlet differs from it by what stands before it.
                reached = pump[0] + math.fsum(a for a, _ in others if (a > 0.0) == warmest)
            most = max(most, abs(reached - inlet))
        inlet = inlet * keep + rise
    return most


def _chain(stages: list[Line]) -> Line:
    """Return a and b of the outlet of stages in series where T is the temperature of the first one's inlet."""
    a, b = 0.0, 1.0
    for rise, keep in stages:
        a, b = a * keep + rise, b * keep
    return a, b


def _sort_stages(stages: list[Line], warmest: bool) -> list[Line]:
    """Return stages in the order in which they leave the coolant warmest, or coolest.

    Each draws the coolant towards the temperature rise / (1 - keep), at which it would leave it as it is. Of two
    neighbours the second has more say, so that the outlet is warmest where those temperatures rise along the
    chain: an exchange of any two that do not can only cool it.
    """

    def draws_to(stage: Line) -> float:
        rise, keep = stage
        return rise / (1.0 - keep) if keep < 1.0 else math.inf

    # A stage without share and without rise changes nothing, wherever it stands.
    return sorted(stages, key=draws_to, reverse=not warmest)


def _join_step(
    step: Step, exchanges: Mapping[str, Exchange], carried: float, in_series: bool
) -> tuple[float, float, float]:
    """Return the flow of a step, and a and b of its outlet where T is the temperature of its inlet."""
    if isinstance(step, str):
        part = exchanges[step]
        return part.flow_m3_s, part.heat_w / (carried * part.flow_m3_s), 1.0 - part.taken
    inner = [_join_step(one, exchanges, carried, not in_series) for one in step]
    if not in_series:
        return (math.fsum(flow for flow, _, _ in inner), *_mix(inner))
    return (inner[0][0], *_chain([(rise, keep) for _, rise, keep in inner]))


def _tell_tank_effect(carried: float, heat_w: float, over_k: float | None, kept_w: float) -> str:
    """Return the sentence on tank size: a litre more delays the same steady temperature."""
    if over_k is not None and over_k > 0:
        minutes = carried * 1e-3 * over_k / heat_w / 60
        return (
            "tank size changes how fast the coolant warms, not how warm it becomes: each litre of coolant adds "
            f"{minutes:.2g} min to the time in which it goes 63 % of the way"
        )
    minutes = carried * 1e-3 * WARM_K / heat_w / 60
    so = (
        "a larger tank only delays the warming, which nothing ends"
        if kept_w > 0
        else "tank size changes how fast the coolant warms, not how warm it becomes"
    )
    return (
        f"{so}: each litre of coolant takes {minutes:.2g} min more to warm by {WARM_K:g} K at {heat_w:.0f} W"
    )
