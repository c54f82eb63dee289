"""The plan's advice for the terminal: drops, widths, pumps, heat, balance, feed."""

from __future__ import annotations

from exports.channel_drops import drop_band, split_drop
from exports.figures import (
    shorten_text,
    show_band,
    show_banded,
    show_mm,
    show_share,
    show_speed_limit,
    wrap_words,
)
from exports.text_tables import LINE, NAME, align_rows
from geom.units import kpa, l_min
from layouts.advice import Feeding, GroupBalance, Heating, PumpRating
from layouts.plan import Plan

MOST_NAMES = 3
"""Of pieces without volume; more are counted."""
PUMP_NAME = 26
"""Most characters of a pump's name in its table."""


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
        ("pressure drop", _drop_lines(plan)),
        ("widths", _width_lines(plan)),
        ("pumps", _pump_lines(plan)),
        (
            "balance",
            [line for group in plan.advised.groups for line in _group_lines(group, plan.flowing.band)],
        ),
        ("heat", _heat_lines(plan.advised.heating, plan.flowing.band)),
        ("feed", _feed_lines(plan.advised.feeding)),
    )
    return [line for title, lines in sections if lines for line in ("", title, *lines)]


def _drop_lines(plan: Plan) -> list[str]:
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
        rows.append(
            (
                shorten_text(flow.channel, NAME),
                show_banded(kpa(flow.drop_pa), band),
                show_band(flow.band),
                *shown,
            )
        )
    return align_rows(rows) if len(rows) > 1 else []


def _width_lines(plan: Plan) -> list[str]:
    if not plan.advised.sizes:
        return []
    rows: list[tuple[str, ...]] = [("channel", "width, mm", "least", "recommended", "widest", "gains")]
    for size in plan.advised.sizes:
        least, recommended = (
            "-" if width is None else show_mm(width) for width in (size.least_mm, size.recommended_mm)
        )
        widest, gain = show_mm(size.widest_mm), show_share(size.gain)
        rows.append(
            (shorten_text(size.channel, NAME), show_mm(size.width_mm), least, recommended, widest, gain)
        )
    return align_rows(rows)


def _pump_lines(plan: Plan) -> list[str]:
    ratings, wanted = plan.advised.pumping.ratings, plan.panel.wanted_flow_m3_s
    if not ratings or (len(ratings) == 1 and wanted is None):
        return []
    for_flow = "-" if wanted is None else f"for {l_min(wanted):.3g} L/min"
    columns: list[tuple[str, ...]] = [
        ("pump", "flow", "head", "margin", "hydraulic", "electric", for_flow, "fits")
    ]
    columns += [_pump_row(rating) for rating in ratings]
    # A column in which no pump has anything says nothing.
    kept = [k for k in range(len(columns[0])) if k == 0 or any(row[k] != "-" for row in columns[1:])]
    lines = align_rows([tuple(row[k] for k in kept) for row in columns])
    for rating in ratings:
        for obstacle in rating.obstacles:
            lines += wrap_words(f'"{rating.name}" does not fit: {obstacle}', LINE)
    reason = plan.advised.pumping.reason
    if reason:
        lines += wrap_words(reason, LINE)
    budget = plan.panel.pump.most_noise_db
    for rating in ratings:
        if budget is not None and rating.speed_for_noise_rpm is not None:
            flow = rating.flow_for_noise_m3_s
            gives = f", {show_banded(l_min(flow), rating.band)} L/min" if flow is not None else ""
            speed = show_speed_limit(rating.speed_for_noise_rpm)
            lines += wrap_words(f'within {budget:.0f} dB "{rating.name}" runs at {speed}{gives}', LINE)
    lines += _pair_lines(plan)
    return lines


def _pump_row(rating: PumpRating) -> tuple[str, ...]:
    band = rating.band
    name = shorten_text(rating.name, PUMP_NAME) + (" (used)" if rating.used else "")
    margin, speed = rating.head_margin_m, rating.speed_for_flow_rpm
    at_flow = "-"
    if speed is not None:
        power = rating.power_at_flow_w
        estimate = "" if power is None else f", {show_banded(power, band)} W"
        at_flow = f"{show_banded(speed, band)} rpm{estimate}"
    return (
        name,
        f"{show_banded(l_min(rating.flow_m3_s), band)} L/min",
        f"{show_banded(rating.head_m, band)} m",
        "-" if margin is None else f"{margin:+.1f} m",
        f"{show_banded(rating.hydraulic_w, band)} W",
        "-" if rating.electric_w is None else f"{rating.electric_w:.3g} W",
        at_flow,
        "no" if rating.obstacles else "yes",
    )


def _pair_lines(plan: Plan) -> list[str]:
    """Tell what a second pump of the used kind would bring."""
    used = next((rating.name for rating in plan.advised.pumping.ratings if rating.used), None)
    said = [
        f"{show_banded(l_min(pair.flow_m3_s), plan.flowing.band)} L/min in {pair.joined}"
        for pair in plan.advised.pumping.pairs
        if pair.name == used
    ]
    return wrap_words(f'two of "{used}" would give {", ".join(said)}', LINE) if said else []


def _group_lines(group: GroupBalance, band: float) -> list[str]:
    branches = ", ".join(
        f"{' + '.join(parts)} {show_banded(l_min(flow), band)} L/min"
        for parts, flow in zip(group.branches, group.flows_m3_s, strict=True)
    )
    lines = wrap_words(f"{branches}: spread {show_share(group.spread)}", LINE)
    if group.restrictors:
        means = [
            f'an orifice of {show_mm(one.orifice_mm)} mm in the inlet of "{one.part}"'
            + ("" if one.channel_mm is None else f" or a channel {show_mm(one.channel_mm)} mm wide")
            for one in group.restrictors
        ]
        even = ", ".join(show_banded(l_min(flow), band) for flow in group.even_flows_m3_s)
        loop = show_banded(l_min(group.even_loop_flow_m3_s), band)
        lines += wrap_words(
            f"evened to {show_share(group.even_spread)} by {', '.join(means)}: {even} L/min, the loop {loop} L/min",
            LINE,
        )
    return lines


def _heat_lines(heating: Heating, band: float) -> list[str]:
    if not heating.steps:
        return []
    # A tenth of a kelvin: the radiators' capacities are known no better.
    error = max(heating.spread_k * band, 0.05)
    rows: list[tuple[str, ...]] = [("part", "heat", "before", "behind")]
    for step in heating.steps:
        before, behind = (
            f"{show_banded(degrees, error / abs(degrees) if degrees else 1.0)} °C"
            for degrees in (step.inlet_c, step.outlet_c)
        )
        rows.append((shorten_text(step.part, NAME), f"{step.heat_w:.0f} W", before, behind))
    lines = align_rows(rows)
    said = f"{heating.heat_w:.0f} W in all; the coolant's spread is {_kelvin(heating.spread_k, band)}"
    if heating.over_ambient_k is not None and heating.closes:
        said += (
            f", in the tank it has {heating.tank_c:.1f} °C, "
            f"{_kelvin(heating.over_ambient_k, band)} over the air around"
        )
    else:
        said += f"; the tank is taken to have the file's {heating.tank_c:.1f} °C"
    lines += wrap_words(said, LINE)
    if heating.order_effect_k is not None:
        effect = _kelvin(heating.order_effect_k, band)
        lines += wrap_words(f"no other order changes what comes to a part by more than {effect}", LINE)
    if heating.tank_effect:
        lines += wrap_words(heating.tank_effect, LINE)
    return lines


def _kelvin(difference: float, band: float) -> str:
    """Return a difference of temperature, told to 0.01 K at most."""
    return f"{show_banded(difference, max(band, 0.01 / difference)) if difference > 0.0 else 0} K"


def _feed_lines(feeding: Feeding) -> list[str]:
    lines: list[str] = []
    if feeding.cover_mm is not None:
        said = f"{feeding.cover_mm:.0f} mm of coolant over the tank's outlet when cold"
        left = feeding.cover_filled_mm
        if left is not None:
            said += f", {f'{left:.0f} mm' if left >= 0.5 else 'none'} once it has filled the loop"
        if feeding.needs_mm is not None:
            said += f"; {feeding.needs_mm:.0f} mm keep a vortex away for certain"
        lines.append(said)
    lines += _tilt_lines(feeding)
    if feeding.available_head_m is not None:
        said = f"head at the pump's inlet {feeding.available_head_m:.1f} m"
        if feeding.least_head_m is not None:
            said += f", the pump asks for {feeding.least_head_m:.1f} m"
        lines.append(said)
    if feeding.fills > 0:
        said = (
            f"fill the tank {feeding.fills} times"
            if feeding.fills > 1
            else "one filling of the tank is enough"
        )
        said += f": it holds {feeding.tank_ml:.0f} mL, the loop {feeding.loop_ml:.0f} mL"
        unknown = feeding.unknown_parts
        if unknown:
            names = ", ".join(unknown) if len(unknown) <= MOST_NAMES else f"{len(unknown)} of its pieces"
            said += f" without {names}, whose volume the file does not give"
        lines.append(said)
    if feeding.growth_ml is not None and feeding.room_ml is not None:
        lines.append(
            f"from 20 to 60 °C the coolant grows by {feeding.growth_ml:.1f} mL; "
            f"over the cold level there is room for {feeding.room_ml:.1f} mL"
        )
    return [line for said in lines for line in wrap_words(said, LINE)]


def _tilt_lines(feeding: Feeding) -> list[str]:
    ways: dict[str, list[str]] = {}
    for way, degrees in (
        ("left", feeding.tilt_left_deg),
        ("right", feeding.tilt_right_deg),
        ("front", feeding.tilt_front_deg),
        ("back", feeding.tilt_back_deg),
    ):
        if degrees is not None:
            ways.setdefault(f"{degrees:.0f}°", []).append(way)
    tilts = [f"{degrees} to the {' and '.join(names)}" for degrees, names in ways.items()]
    return [f"the outlet stays covered when tilted {', '.join(tilts)}"] if tilts else []
