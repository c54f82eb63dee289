"""Design rules of the heat: how much the coolant warms, and how warm it becomes."""

from __future__ import annotations

import math

from geom.findings import Finding, Severity
from geom.units import l_min, show_number
from layouts.advice import Feeding, Heating
from layouts.cures import Cure
from layouts.feed import HOT_C
from layouts.file.coolant import MOST_C, find_least_c
from layouts.file.offers import offer_changes
from layouts.file_changes import set_key
from layouts.heat import BEYOND_C, BOILS_C, find_hottest
from layouts.hydraulics.coolant import coolant_properties
from layouts.panel import Panel
from layouts.rules.findings import make_finding

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
        warms = f'warms by {rise:.1f} K in "{step.part}"'
        if step.outlet_c <= BOILS_C:
            warms += f", to {step.outlet_c:.0f} °C"
        elif step.inlet_c <= BOILS_C or rise > BOILS_C:
            flow = show_number(l_min(step.flow_m3_s), 2)
            warms = f'would boil in "{step.part}", which gets {flow} L/min for its {step.heat_w:.0f} W'
        found.append(
            make_finding(
                "heat.rise",
                "note",
                f"the coolant {warms}; more than {RISE_K:g} K says that flow is short",
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
    hottest, most = find_hottest(heating)
    reaches = f'the coolant reaches {most:.0f} °C at "{hottest}", above {HOT_C:g} °C'
    if most > BEYOND_C:
        reaches = f'at "{hottest}" the coolant would become hotter than any coolant, and boil'
    elif most > BOILS_C:
        reaches = f'the coolant would reach {most:.0f} °C at "{hottest}", and boil'
    found = []
    if most > HOT_C:
        found.append(
            make_finding(
                "heat.level",
                "caution",
                reaches,
                "take radiators of more capacity, give them more air, raise the flow, or put less heat into the loop"
                if heating.over_ambient_k is not None
                else "raise the flow, or keep the coolant cooler and lower temperature in [coolant]",
                most,
                HOT_C,
                "°C",
                None,
                (hottest,),
            )
        )
    off = heating.tank_c - panel.coolant.temperature_c
    if abs(off) > OFF_K and heating.tank_c <= BEYOND_C:
        side = "above" if off > 0 else "below"
        severity, cure = _correct_temperature(panel, heating.tank_c)
        found.append(
            make_finding(
                "heat.level",
                severity,
                f"the radiators keep the coolant at {heating.tank_c:.0f} °C, {abs(off):.0f} K {side} the "
                f"{panel.coolant.temperature_c:g} °C that its properties are taken at",
                cure.text,
                heating.tank_c,
                panel.coolant.temperature_c,
                "°C",
                None,
                ("tank",),
                offer_changes(panel, cure),
            )
        )
    return tuple(found)


def check_heat_kept(panel: Panel, heating: Heating, feeding: Feeding) -> tuple[Finding, ...]:
    """Ask whether anything in the file takes the heat away (`heat.level`)."""
    volume_ml = feeding.tank_ml + feeding.loop_ml
    if heating.kept_w <= 0 or not heating.steps:
        return ()
    choice = panel.coolant
    coolant = coolant_properties(choice.fluid, choice.mass_fraction, choice.temperature_c)
    carried = coolant.density_kg_m3 * coolant.heat_capacity_j_kgk
    # An upper bound: metal, and what holds an unknown volume, warm with it.
    rate = heating.kept_w * 60 / (carried * volume_ml * 1e-6)
    return (
        make_finding(
            "heat.level",
            "caution",
            f"nothing in the file takes the heat away: {heating.kept_w:.0f} W warm the coolant by up to "
            f"{show_number(rate, 2)} K per minute, without end",
            "add a [[part]] that cools, with its capacity, and name it in the order of [loop]",
            rate,
            0.0,
            "K/min",
            None,
            tuple(step.part for step in heating.steps),
        ),
    )


def check_order(heating: Heating) -> tuple[Finding, ...]:
    """Ask whether the order of the parts matters (`heat.spread`)."""
    effect = heating.order_effect_k
    if effect is None or effect <= RISE_K or find_hottest(heating)[1] > BEYOND_C:
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
    """Ask whether each radiator's capacity is known, and at its flow (`heat.capacity`)."""
    found = list(_check_idle(panel, heating))
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


def _check_idle(panel: Panel, heating: Heating) -> tuple[Finding, ...]:
    """Name the parts that take and give nothing while the radiators beside them take all the heat."""
    if not any(part.capacity for part in panel.parts):
        return ()
    idle = [
        step.part
        for step in heating.steps
        if panel.part(step.part).heat_w == 0.0 and not panel.part(step.part).capacity
    ]
    if not idle:
        return ()
    names = ", ".join(f'"{name}"' for name in idle)
    one = len(idle) == 1
    return (
        make_finding(
            "heat.capacity",
            "note",
            f"{names} {'has' if one else 'have'} neither heat nor capacity, and {'counts' if one else 'count'} as "
            "taking no heat away, because other parts have a capacity",
            "write its capacity in [[part]] if it cools; accept this with a reason if it does not"
            if one
            else "write the capacity of each that cools; accept this with a reason where they do not",
            None,
            None,
            "",
            None,
            tuple(idle),
        ),
    )


def _correct_temperature(panel: Panel, tank_c: float) -> tuple[Severity, Cure]:
    """Return how grave it is that the tank has this temperature, [°C], and what to do about it."""
    choice = panel.coolant
    nearest = math.floor(tank_c + 0.5)
    if choice.ambient_c is not None:
        # The file refuses coolant that is no warmer than the air.
        nearest = max(nearest, math.floor(choice.ambient_c) + 1)
    if nearest > MOST_C:
        less = "take radiators of more capacity, give them more air, or put less heat into the loop"
        return "caution", Cure(less)
    if nearest < find_least_c(choice.fluid, choice.mass_fraction):
        return "caution", Cure("use a coolant that stays liquid there: a mix with glycol, or with more of it")
    set_to = (set_key(f"{nearest} °C", "coolant", "temperature"),)
    return "note", Cure(f'set temperature = "{nearest} °C" in [coolant]', set_to)
