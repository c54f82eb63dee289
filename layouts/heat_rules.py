"""Design rules of the heat: how much the coolant warms, and how warm it becomes."""

from __future__ import annotations

import math

from geom.findings import Finding
from geom.units import l_min, show_number
from layouts.advice import Heating
from layouts.feed import HOT_C
from layouts.panel import Panel
from layouts.rule_catalogue import make_finding

RISE_K = 5.0
"""Common practice, no source: a larger rise in one part, or by another order, says that flow is short."""

OFF_K = 5.0
"""Coolant further from the file's temperature has other properties: water's viscosity changes by 10 %, [K]."""


def check_rises(heating: Heating) -> tuple[Finding, ...]:
    """Ask how much the coolant warms in each part (`heat.rise`)."""
    found = []
    for step in heating.steps:
        rise = step.outlet_c - step.inlet_c
        if rise <= RISE_K:
            continue
        found.append(
            make_finding(
                "heat.rise",
                "note",
                f'the coolant warms by {rise:.1f} K in "{step.part}", to {step.outlet_c:.0f} °C; more than '
                f"{RISE_K:g} K says that flow is short",
                "raise the flow through it: a stronger pump, wider channels or fewer parts in series",
                rise,
                RISE_K,
                "K",
                None,
                (step.part,),
            )
        )
    return tuple(found)


def check_coolant_level(panel: Panel, heating: Heating) -> tuple[Finding, ...]:
    """Ask how warm the coolant becomes, and whether the file's temperature is that (`heat.level`)."""
    if not heating.steps:
        return ()
    hottest = max(heating.steps, key=lambda step: max(step.inlet_c, step.outlet_c))
    most = max(hottest.inlet_c, hottest.outlet_c)
    found = []
    if most > HOT_C:
        found.append(
            make_finding(
                "heat.level",
                "caution",
                f'the coolant reaches {most:.0f} °C at "{hottest.part}", above {HOT_C:g} °C',
                "take radiators of more capacity, or raise the flow"
                if heating.over_ambient_k is not None
                else "raise the flow, or keep the coolant cooler and lower temperature in [coolant]",
                most,
                HOT_C,
                "°C",
                None,
                (hottest.part,),
            )
        )
    off = heating.tank_c - panel.coolant.temperature_c
    if abs(off) > OFF_K:
        side = "above" if off > 0 else "below"
        found.append(
            make_finding(
                "heat.level",
                "note",
                f"the radiators keep the coolant at {heating.tank_c:.0f} °C, {abs(off):.0f} K {side} the "
                f"{panel.coolant.temperature_c:g} °C that its properties are taken at",
                f'set temperature = "{math.floor(heating.tank_c + 0.5)} °C" in [coolant]',
                heating.tank_c,
                panel.coolant.temperature_c,
                "°C",
                None,
                ("tank",),
            )
        )
    return tuple(found)


def check_order(heating: Heating) -> tuple[Finding, ...]:
    """Ask whether the order of the parts matters (`heat.spread`)."""
    effect = heating.order_effect_k
    if effect is None or effect <= RISE_K:
        return ()
    return (
        make_finding(
            "heat.spread",
            "note",
            f"another order of the loop would change the coolant at the inlet of some part by {effect:.1f} K; up to "
            f"{RISE_K:g} K order hardly matters",
            "raise the flow, or put the part that is to stay coolest next behind a radiator",
            effect,
            RISE_K,
            "K",
        ),
    )


def check_capacities(panel: Panel, heating: Heating) -> tuple[Finding, ...]:
    """Ask whether each radiator's capacity is known at its flow (`heat.capacity`)."""
    found = []
    for step in heating.steps:
        capacity = panel.part(step.part).capacity
        if not capacity or capacity[0][0] <= step.flow_m3_s <= capacity[-1][0]:
            continue
        under = step.flow_m3_s < capacity[0][0]
        near = l_min(capacity[0 if under else -1][0])
        flow = show_number(l_min(step.flow_m3_s), 3)
        found.append(
            make_finding(
                "heat.capacity",
                "note",
                f'"{step.part}" gets {flow} L/min; its capacity is given {"from" if under else "up to"} '
                f"{show_number(near, 3)} L/min and taken as at that",
                f"give a point of its capacity at {flow} L/min",
                l_min(step.flow_m3_s),
                near,
                "L/min",
                None,
                (step.part,),
            )
        )
    return tuple(found)
