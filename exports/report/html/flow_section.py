"""The page on flow: pumps, pressure along the loop, channels, parts, balance, heat, feed."""

from __future__ import annotations

from collections.abc import Mapping

from exports.pictures.pressure_places import find_half_bands
from exports.report.html.blocks import Block, Section, Table, group_of, said_of, section_of, table_of
from exports.report.html.inline_svg import figure_of
from exports.report.html.plan_things import channel_token, part_tokens
from exports.tables.advice_tables import (
    drop_rows,
    tell_balance,
    tell_feed,
    tell_heat,
    tell_pumps,
    tell_widths,
)
from exports.tables.panel_tables import channel_rows, part_rows, tell_operating
from exports.tables.text_tables import Told
from exports.wording.figures import show_band, show_banded, show_mm
from exports.wording.routing_words import tell_cost, tell_kept, tell_status
from geom.units import kpa, l_min
from layouts.plan import LoopStep, Plan


def flow_section(plan: Plan, pictures: Mapping[str, str]) -> tuple[Section, ...]:
    """Return the section on flow.

    Parameters
    ----------
    plan : Plan
    pictures : mapping of str to str
    """
    band = _within(plan)
    parts = part_tokens(plan)
    tokens = [parts.get(flow.part, "") for flow in plan.flowing.parts]
    heat = [parts.get(step.part, "") for step in plan.advised.heating.steps]
    return section_of(
        "flow",
        "Flow",
        said_of(
            (
                tell_operating(plan),
                f"routing {tell_status(plan.panel, plan.routed)}",
                tell_kept(plan.panel),
                tell_cost(plan.panel, plan.routed),
            )
        ),
        group_of("Channels", tell_channels(plan), _told(tell_widths(plan), "Widths, in mm")),
        group_of(
            "Parts",
            table_of(
                part_rows(plan),
                f"Parts: flow{band}, drop with its band at that flow, warming",
                1,
                tokens,
            ),
        ),
        group_of(
            "Pumps",
            figure_of(
                pictures, "pumps.svg", "The pumps' curves against the loop's: the loop runs where they cross."
            ),
            _told(tell_pumps(plan), f"Pumps: flow and head{band}"),
        ),
        group_of(
            "Pressure along the loop",
            figure_of(pictures, "pressure.svg", "Pressure along the loop, from tank to tank, with its band."),
            _pressure(plan),
        ),
        group_of("Balance", _told(tell_balance(plan), "")),
        group_of("Heat", _told(tell_heat(plan), f"Heat and temperatures, at the flow{band}", heat)),
        group_of("What keeps the pump in coolant", _told(tell_feed(plan), "")),
    )


def tell_channels(plan: Plan) -> tuple[Table, ...]:
    """Return the table of channels with size, flow and drop, and that of what each drop is made of.

    Parameters
    ----------
    plan : Plan
    """
    heads, *rows = channel_rows(plan)
    drops = {row[0]: row[1:3] for row in drop_rows(plan)[1:]}
    told: list[tuple[str, ...]] = [("", *heads[:2], "section", *heads[2:], "drop", "drop's band")]
    for number, (channel, row) in enumerate(zip(plan.routed.channels, rows, strict=True), 1):
        section = f"{show_mm(channel.width)} × {show_mm(channel.depth)} mm"
        drop, band = drops.get(channel.name, ("", "-"))
        told.append((str(number), *row[:2], section, *row[2:], f"{drop} kPa" if drop else "-", band))
    tokens = {channel.name: channel_token(k) for k, channel in enumerate(plan.routed.channels, 1)}
    caption = f"Channels: section is width × depth; flow, velocity and Reynolds number{_within(plan)}"
    shares = drop_rows(plan)
    return (
        *table_of(told, caption, 2, list(tokens.values())),
        *table_of(
            shares,
            "What each drop is made of, in kPa: straight pieces, bends, turns with entries, exits and tees",
            tokens=[tokens[row[0]] for row in shares[1:]],
        ),
    )


def _within(plan: Plan) -> str:
    """Return the flow's band with a space before it; empty where it has none."""
    band = show_band(plan.flowing.band)
    return f" {band}" if band else ""


def _told(told: Told, caption: str, tokens: list[str] | None = None) -> tuple[Block, ...]:
    """Return a table with what is said under it."""
    return (*table_of(told.rows, caption, told.left, tokens or ()), *said_of(told.said))


def _pressure(plan: Plan) -> tuple[Table, ...]:
    """Return the pressures of the picture in figures."""
    halves = find_half_bands(plan.flowing.steps)
    rows: list[tuple[str, ...]] = [
        ("piece", "kind", "flow", "pressure before", "band", "pressure behind", "band ")
    ]
    rows += [
        (
            step.name,
            step.kind,
            f"{show_banded(l_min(step.flow_m3_s), plan.flowing.band)} L/min",
            *_show_pressure(step.start_pa, halves[step.start]),
            *_show_pressure(step.end_pa, halves[step.end]),
        )
        for step in plan.flowing.steps
    ]
    tokens = [_step_token(plan, step) for step in plan.flowing.steps]
    caption = "Pressure over that in the tank, before and behind each piece in flow order"
    return table_of(rows, caption, 2, tokens, folded=True)


def _show_pressure(pressure_pa: float, half_pa: float) -> tuple[str, str]:
    if pressure_pa == 0.0:
        return "0 kPa", "-"
    return f"{show_banded(kpa(pressure_pa), half_pa / abs(pressure_pa))} kPa", f"±{kpa(half_pa):.1g} kPa"


def _step_token(plan: Plan, step: LoopStep) -> str:
    if step.kind == "part":
        return part_tokens(plan).get(step.name, "")
    numbers = {channel.name: k for k, channel in enumerate(plan.routed.channels, 1)}
    return channel_token(numbers[step.name]) if step.name in numbers else ""
