"""The plan's advice for the terminal: drops, widths, pumps, heat, balance, feed."""

from __future__ import annotations

import math

from exports.tables.text_tables import Told, tell_lines
from exports.wording.channel_drops import drop_band, split_drop
from exports.wording.figures import (
    show_band,
    show_banded,
    show_mm,
    show_share,
)
from geom.units import kpa, l_min, show_number
from layouts.advice import Feeding, GroupBalance, Heating, PumpRating
from layouts.feed import FILL_C, hot_c
from layouts.heat import BEYOND_C, BOILS_C, find_hottest
from layouts.installed import lies_flat
from layouts.plan import Plan
from layouts.pump_fit import MOST_DIGITS, show_rpm
from layouts.pump_order import find_counted_band, judge_fit

MOST_NAMES = 3
"""Of pieces without volume; more are counted."""
COLDEST_AIR_C = -40.0
"""No number is told for air colder than it, which no radiator stands in, [°C]."""
PUMP_NAME = 26
"""Most characters of a pump's name in plain text."""
USED = " (used)"
"""Marks the pump that the flow is with."""


def describe_advice(plan: Plan) -> list[str]:
    """Return the plan's advice as lines: short tables and sentences, a blank line before each heading.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    list of str
        Sections that have nothing to say are left out.
    """
    sections = (
        Told("pressure drop", tuple(drop_rows(plan))),
        tell_widths(plan),
        tell_pumps(plan),
        tell_balance(plan),
        tell_heat(plan),
        tell_feed(plan),
    )
    return [
        line for told in sections if told.rows or told.said for line in ("", told.title, *tell_lines(told))
    ]


def drop_rows(plan: Plan) -> list[tuple[str, ...]]:
    """Return what the channels' drops are made of, in kPa, headings first; empty where nothing flows."""
    rows: list[tuple[str, ...]] = [("channel", "drop, kPa", "band", "straight", "bends", "turns")]
    for channel, flow in zip(plan.routed.channels, plan.flowing.channels, strict=True):
        if flow.flow_m3_s == 0.0:
            continue
        parts = split_drop(channel, flow)
        band = drop_band(plan.flowing, flow.band)
        shares = (parts.straight_pa, parts.bends_pa, parts.turns_pa)
        # A share is told to the digit to which the whole drop is.
        shown = (
            show_banded(kpa(share), band * abs(flow.drop_pa / share)) if share else "-" for share in shares
        )
        rows.append((flow.channel, show_banded(kpa(flow.drop_pa), band), show_band(flow.band), *shown))
    return rows if len(rows) > 1 else []


def tell_widths(plan: Plan) -> Told:
    """Return the least, the recommended and the widest width of each channel."""
    if not plan.advised.sizes:
        return Told("widths")
    rows: list[tuple[str, ...]] = [("channel", "width, mm", "least", "recommended", "widest", "gains")]
    for size in plan.advised.sizes:
        least, recommended = (
            "-" if width is None else show_mm(width) for width in (size.least_mm, size.recommended_mm)
        )
        widest, gain = show_mm(size.widest_mm), show_share(size.gain)
        rows.append((size.channel, show_mm(size.width_mm), least, recommended, widest, gain))
    return Told("widths", tuple(rows), (_tell_together(plan),))


def _tell_together(plan: Plan) -> str:
    """Return what the widths hold for, and what the loop carries with all of those recommended."""
    alone = "least, widest, gains: each channel alone, the others as they are"
    flow, wanted = plan.advised.flow_as_sized_m3_s, plan.panel.wanted_flow_m3_s
    if flow is None:
        return alone
    carries = f"{alone}; all as recommended: {show_banded(l_min(flow), plan.flowing.band)} L/min"
    if wanted is not None and flow < wanted:
        return f"{carries}, short of the {l_min(wanted):.3g} L/min wanted"
    return carries


def _title_pumps(plan: Plan) -> str:
    slows = any(choice.speed is not None for choice in plan.panel.pump.choices)
    return "pumps, each at its most speed" if slows else "pumps"


def tell_pumps(plan: Plan) -> Told:
    """Return the pumps on this loop, the best first, what keeps one from fitting, and why the first stands first."""
    ratings, wanted = plan.advised.pumping.ratings, plan.panel.wanted_flow_m3_s
    if not ratings or (len(ratings) == 1 and wanted is None):
        return Told(_title_pumps(plan))
    for_flow = "-" if wanted is None else f"for {l_min(wanted):.3g} L/min"
    columns: list[tuple[str, ...]] = [
        ("pump", "flow", "head", "margin", "hydraulic", "electric", for_flow, "fits")
    ]
    columns += [_pump_row(rating) for rating in ratings]
    # A column in which no pump has anything says nothing.
    kept = [k for k in range(len(columns[0])) if k == 0 or any(row[k] != "-" for row in columns[1:])]
    rows = tuple(tuple(row[k] for k in kept) for row in columns)
    said: list[str] = []
    for rating in ratings:
        said += [f'"{rating.name}" does not fit: {obstacle}' for obstacle in rating.obstacles]
        if judge_fit(rating) == "just":
            said.append(f'"{rating.name}" just fits: {rating.shortfall}')
        if rating.move is not None and not rating.obstacles:
            said.append(f'"{rating.name}" would be placed anew: {rating.move}')
    reason = plan.advised.pumping.reason
    if reason:
        said.append(reason)
    budget = plan.panel.pump.most_noise_db
    for rating in ratings:
        if budget is not None and rating.speed_for_noise_rpm is not None:
            flow = rating.flow_for_noise_m3_s
            band = find_counted_band(rating)
            gives = f", {show_banded(l_min(flow), band)} L/min" if flow is not None else ""
            within, speed = show_number(budget, MOST_DIGITS), show_rpm(rating.speed_for_noise_rpm)
            said.append(f'within {within} dB "{rating.name}" runs at {speed}{gives}')
    said += _tell_pairs(plan)
    return Told(_title_pumps(plan), rows, tuple(said), most=PUMP_NAME)


def _pump_row(rating: PumpRating) -> tuple[str, ...]:
    band = rating.band
    name = rating.name + (USED if rating.used else "")
    margin, speed = rating.head_margin_m, rating.speed_for_flow_rpm
    at_flow = "-"
    if speed is not None:
        power = rating.power_at_flow_w
        estimate = "" if power is None else f", {show_banded(power, band)} W"
        at_flow = f"{show_rpm(speed)}{estimate}"
    return (
        name,
        f"{show_banded(l_min(rating.flow_m3_s), band)} L/min",
        f"{show_banded(rating.head_m, band)} m",
        "-" if margin is None else f"{margin:+.1f} m",
        f"{show_banded(rating.hydraulic_w, band)} W",
        "-" if rating.electric_w is None else f"{rating.electric_w:.3g} W",
        at_flow,
        judge_fit(rating),
    )


def _tell_pairs(plan: Plan) -> list[str]:
    """Tell what a second pump of the used kind would bring."""
    used = next((rating.name for rating in plan.advised.pumping.ratings if rating.used), None)
    said = [
        f"{show_banded(l_min(pair.flow_m3_s), plan.flowing.band)} L/min in {pair.joined}"
        for pair in plan.advised.pumping.pairs
        if pair.name == used
    ]
    return [f'two of "{used}" would give {", ".join(said)}'] if said else []


def tell_balance(plan: Plan) -> Told:
    """Return the flows of parallel branches, and what evens them."""
    groups, band = plan.advised.groups, plan.flowing.band
    evened = sum(1 for group in groups if group.restrictors)
    return Told(
        "balance, with the spread of the flows (largest less smallest over their mean)",
        said=tuple(line for group in groups for line in _tell_group(group, evened > 1, band)),
    )


def _tell_group(group: GroupBalance, with_others: bool, band: float) -> list[str]:
    """Tell one group's flows and what evens them; `with_others`: only together with what evens other groups."""
    branches = ", ".join(
        f"{' + '.join(parts)} {show_banded(l_min(flow), band)} L/min"
        for parts, flow in zip(group.branches, group.flows_m3_s, strict=True)
    )
    said = [f"{branches}: spread {show_share(group.spread)}"]
    if group.restrictors:
        means = [
            f'an orifice of {show_mm(one.orifice_mm)} mm in the inlet of "{one.part}"'
            + ("" if one.channel_mm is None else f" or a channel {show_mm(one.channel_mm)} mm wide")
            for one in group.restrictors
        ]
        others = ", together with what evens the other groups" if with_others else ""
        even = ", ".join(show_banded(l_min(flow), band) for flow in group.even_flows_m3_s)
        loop = show_banded(l_min(group.even_loop_flow_m3_s), band)
        said.append(
            f"evened to within {math.ceil(100 * group.even_spread_most)} % ({show_share(group.even_spread)} as "
            f"calculated) by {', '.join(means)}{others}: {even} L/min, the loop {loop} L/min; drill small and open up "
            "step by step while measuring"
        )
    return said


def tell_heat(plan: Plan) -> Told:
    """Return the coolant's temperatures before and behind each part, and its level over the air."""
    heating, band = plan.advised.heating, plan.flowing.band
    if not heating.steps:
        return Told("heat")
    whole = f"{heating.heat_w:.0f} W in all, the pump's included"
    hot = _tell_boiling(heating)
    if hot:
        return Told("heat", said=(f"{whole}: {hot}",))
    rows: list[tuple[str, ...]] = [("part", "heat", "before", "behind")]
    for step in heating.steps:
        before, behind = (
            _celsius(degrees, degrees - heating.tank_c, band) for degrees in (step.inlet_c, step.outlet_c)
        )
        rows.append((step.part, f"{step.heat_w:.0f} W", before, behind))
    spread = _kelvin(heating.spread_k, band)
    said = [
        f"{whole}; between its coolest and its warmest place the coolant differs by {spread}",
        _tell_level(heating, band),
    ]
    if heating.order_effect_k is not None:
        effect = _kelvin(heating.order_effect_k, band)
        said.append(f"no other order changes what comes to a part by more than {effect}")
    if heating.tank_effect:
        said.append(heating.tank_effect)
    return Told("heat", tuple(rows), tuple(said))


def _tell_boiling(heating: Heating) -> str:
    """Return that the coolant would boil and what is missing; "" where it would not."""
    part, most = find_hottest(heating)
    missing = "radiators of more capacity, or less heat" if heating.tank_c > BOILS_C else "more flow"
    if most > BEYOND_C:
        return f'at "{part}" the coolant would become hotter than any coolant; it needs {missing}'
    if most > BOILS_C:
        return f'at "{part}" the coolant would reach {most:.0f} °C and boil; it needs {missing}'
    return ""


def _celsius(degrees: float, off: float, band: float) -> str:
    """Return a temperature told to the digit to which its distance from the tank's is known, [°C].

    A tenth of a kelvin at most: the radiators' capacities are known no better.
    """
    error = max(band * abs(off), 0.1)
    return f"{show_banded(degrees, error / abs(degrees) if degrees else 1.0)} °C"


def _tell_level(heating: Heating, band: float) -> str:
    """Return what the coolant's temperature in the tank is, and what it hangs on."""
    tank = f"{heating.tank_c:.1f} °C"
    cools = [step.part for step in heating.steps if step.heat_w < 0]
    if heating.over_ambient_k is None and not cools:
        return (
            "no part takes the heat away, so the coolant warms without end; the table shows it on its way from a "
            f"tank at the file's {tank}"
        )
    if heating.over_ambient_k is None:
        return (
            f"no part has a capacity: the tank is taken to have the file's {tank}, and {_quote_names(cools)} to give "
            "all the heat to the air"
        )
    over = _kelvin(heating.over_ambient_k, band)
    if heating.closes:
        return f"the coolant in the tank has {tank}, {over} over the air around"
    ask = "give [coolant] ambient for its level over the air"
    air_c = heating.tank_c - heating.over_ambient_k
    if air_c < COLDEST_AIR_C:
        return (
            "the radiators keep the coolant so far over the air around that for the file's "
            f"{tank} that air would have less than {COLDEST_AIR_C:g} °C; {ask}"
        )
    return (
        f"the radiators keep the coolant in the tank {over} over the air around: for the file's {tank} that air "
        f"would have {_celsius(air_c, heating.over_ambient_k, band)}; {ask}"
    )


def _quote_names(names: list[str]) -> str:
    """Return names as a phrase; of many, only how many."""
    if len(names) > MOST_NAMES:
        return f"{len(names)} parts"
    *first, last = (f'"{name}"' for name in names)
    return f"{', '.join(first)} and {last}" if first else last


def _kelvin(difference: float, band: float) -> str:
    """Return a difference of temperature, told to 0.01 K at most."""
    return f"{show_banded(difference, max(band, 0.01 / difference)) if difference > 0.0 else 0} K"


def tell_feed(plan: Plan) -> Told:
    """Return what keeps the pump in coolant: depth over the tank's outlet, tilt, head at the inlet, room to grow."""
    feeding, panel = plan.advised.feeding, plan.panel
    lines: list[str] = []
    if lies_flat(panel):
        lines.append(
            "the panel lies flat: heights in it say nothing, so neither a depth over the tank's outlet nor a tilt is "
            "told"
        )
    if feeding.cover_mm is not None:
        said = f"{feeding.cover_mm:.0f} mm of coolant stands over the tank's outlet at the filling level"
        if feeding.needs_mm is not None:
            said += f"; {feeding.needs_mm:.0f} mm keeps a vortex away for certain"
        lines.append(said)
    lines += _tell_tilts(feeding)
    if feeding.available_head_m is not None:
        said = (
            f"head at the pump's inlet, over the coolant's vapour pressure: {feeding.available_head_m:.1f} m"
        )
        if feeding.least_head_m is not None:
            said += f", the pump asks for {feeding.least_head_m:.1f} m"
        lines.append(said)
    if feeding.tank_ml > 0:
        unknown = feeding.unknown_parts
        said = f"to its level the tank holds {feeding.tank_ml:.0f} mL, the loop {feeding.loop_ml:.0f} mL"
        if unknown:
            names = ", ".join(unknown) if len(unknown) <= MOST_NAMES else f"{len(unknown)} of its pieces"
            said += f" without {names}, whose volume the file does not give"
        lines.append(said)
    if feeding.growth_ml is not None and feeding.room_ml is not None:
        lines.append(
            f"from {FILL_C:g} to {hot_c(panel):g} °C the coolant grows by {feeding.growth_ml:.1f} mL"
            f"{' or more' if feeding.unknown_parts else ''}; over the filling level there is room for "
            f"{feeding.room_ml:.1f} mL"
        )
    return Told("feed", said=tuple(lines))


def _tell_tilts(feeding: Feeding) -> list[str]:
    tilts = [
        # Rounded down: what is told is a tilt at which the outlet is still covered.
        f"{math.floor(degrees):d}° {way}"
        for way, degrees in (
            ("to the left", feeding.tilt_left_deg),
            ("to the right", feeding.tilt_right_deg),
            ("forwards", feeding.tilt_front_deg),
            ("backwards", feeding.tilt_back_deg),
        )
        if degrees is not None
    ]
    return [f"the outlet stays covered when the panel is tilted up to {', '.join(tilts)}"] if tilts else []
