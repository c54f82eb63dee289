"""What stands under the plan: the table of channels, the legend with the scale bar, the findings."""

from __future__ import annotations

import math

from exports.pictures.plan_layers import has_front, sort_screws
from exports.pictures.plan_places import Mark
from exports.pictures.plan_split import explain_split
from exports.pictures.plan_symbols import (
    CAUTION,
    FAULT,
    FINE,
    FRONT_WATER,
    HIDDEN,
    INK,
    SHEET,
    SHORE,
    SOFT,
    STILL,
    TEXT,
    WATER,
    ScrewIn,
    draw_badge,
    draw_bore,
    draw_hole,
    draw_plug,
    draw_screw,
    draw_tag,
)
from exports.pictures.svg import View, guess_width, number, text_at
from exports.wording.channel_drops import drop_band
from exports.wording.figures import show_banded, show_mm, show_place, wrap_words
from exports.wording.routing_words import is_kept, tell_status
from geom.frame import EDGES
from geom.units import kpa, l_min
from geom.words import join_names
from layouts.plan import SHUT_ROLES, ChannelFlow, Flowing, Plan


def draw_notes(
    plan: Plan, marks: tuple[Mark, ...], width: float, scale: float
) -> tuple[list[str], float, float]:
    """Draw the table of channels, the legend, the routing's status and the findings; return their size too.

    Parameters
    ----------
    plan : Plan
    marks : tuple of Mark
    width : float
        Of the drawing above, in picture units.
    scale : float
        Picture units a millimetre of the drawing.
    """
    table, table_width, table_height = _channel_table(plan)
    legend, legend_width, legend_height = draw_legend(plan, scale)
    gap = 48.0
    beside = table_width + gap + legend_width <= max(width, 760.0)
    lx, ly = (table_width + gap, 0.0) if beside else (0.0, table_height + 16.0)
    out = [*table, f'<g transform="translate({number(lx)} {number(ly)})">', *legend, "</g>"]
    y = max(table_height, ly + legend_height) + 14.0
    full = max(width, table_width + gap + legend_width if beside else table_width)
    out.append(text_at(0.0, y + 4, f"routing {tell_status(plan.panel, plan.routed)}", TEXT, SOFT))
    y += 22.0
    for mark in marks:
        fault = mark.finding.severity == "fault"
        out += draw_badge((8.0, y), mark.letter, FAULT if fault else CAUTION)
        where = f" at {show_place(mark.finding.at_mm)}" if mark.finding.at_mm else ""
        said = (
            f"{mark.finding.severity} {mark.finding.code}{where}: {mark.finding.text} {mark.finding.remedy}"
        )
        for line in wrap_words(said, int((full - 24.0) / (0.6 * TEXT))):
            out.append(text_at(24.0, y + 4, line, TEXT, INK))
            y += 16.0
        y += 6.0
    more = sum(1 for f in plan.findings if f.severity in ("fault", "caution")) - len(marks)
    if more > 0:
        out.append(text_at(0.0, y + 4, f"and {more} more in the report", TEXT, SOFT))
        y += 18.0
    return out, full, y


def _channel_table(plan: Plan) -> tuple[list[str], float, float]:
    flows = {flow.channel: flow for flow in plan.flowing.channels}
    holed = any(channel.holes for channel in plan.routed.channels)
    heads = ("length", "bends", *(("through holes",) if holed else ()), "flow", "velocity", "pressure drop")
    rows: list[tuple[str, ...]] = [("", "channel", *heads)]
    for k, channel in enumerate(plan.routed.channels, 1):
        length, bends, *rest = _channel_figures(flows[channel.name], plan.flowing)
        holes = (str(len(channel.holes)),) if holed else ()
        kept = ", kept" if is_kept(plan.panel, channel.name) else ""
        rows.append((str(k), f"{channel.name}{kept}", length, bends, *holes, *rest))
    columns = list(zip(*rows, strict=True))
    widths = [max(guess_width(cell, TEXT) for cell in column) + 18.0 for column in columns]
    out = []
    y = 8.0
    for r, row in enumerate(rows):
        x = 0.0
        for c, cell in enumerate(row):
            if r and c == 0:
                out.append(draw_tag((8.0, y), cell))
            elif c <= 1:
                out.append(text_at(x, y + 4, cell, TEXT, INK if r else SOFT))
            else:
                at = x + widths[c] - 18.0
                out.append(text_at(at, y + 4, cell, TEXT, INK if r else SOFT, 'text-anchor="end"'))
            x += 26.0 if c == 0 else widths[c]
        y += 20.0
    return out, 26.0 + sum(widths[1:]), y


def _channel_figures(flow: ChannelFlow, flowing: Flowing) -> tuple[str, ...]:
    band = flowing.band
    if flow.flow_m3_s == 0.0:
        return (f"{flow.length:.0f} mm", str(flow.bends), "none", "–", "–")
    return (
        f"{flow.length:.0f} mm",
        str(flow.bends),
        f"{show_banded(l_min(flow.flow_m3_s), band)} L/min",
        f"{show_banded(flow.velocity_m_s, band)} m/s",
        f"{show_banded(kpa(flow.drop_pa), drop_band(flowing, flow.band))} kPa",
    )


def _screw_entries(plan: Plan, view: View) -> list[tuple[list[str], str]]:
    """Return what the legend says of cover screws: with two covers, which of them each kind is in."""
    name = f"cover screw {plan.panel.make.screw}"
    said = {"both": name, "back": f"{name}, back only", "front": f"{name}, front only"}
    groups = sort_screws(plan)
    kinds: tuple[ScrewIn, ...] = ("both", "front", "back")
    return [([draw_screw((10.0, 0.0), 6.0, kind, view)], said[kind]) for kind in kinds if kind in groups]


def _plug_entry(plan: Plan, view: View) -> list[tuple[list[str], str]]:
    """Return what the legend says of ports in the faces that are closed in use, where there are any."""
    shut = {port.role for port in plan.routed.ports if port.on not in EDGES}
    roles = [role for role in SHUT_ROLES if role in shut]
    return [(draw_plug((10.0, 0.0), 7.0, view), f"{join_names(roles)}, closed in use")] if roles else []


def draw_legend(plan: Plan, scale: float, other: Plan | None = None) -> tuple[list[str], float, float]:
    """Draw what the plan's symbols mean, and its scale bar; return their size too.

    Parameters
    ----------
    plan : Plan
    scale : float
        Picture units a millimetre of the drawing.
    other : Plan, optional
        A second plan in the same picture.
    """
    texts: dict[tuple[str, ...], str] = {}
    for one in (plan,) if other is None else (plan, other):
        for drawn, text in _legend_entries(one):
            said = texts.setdefault(tuple(drawn), text)
            if not said.endswith(text):
                # One symbol, as of screws of two sizes.
                texts[tuple(drawn)] = text if text.endswith(said) else f"{said}; {text}"
    entries = list(texts.items())
    out = []
    column = max(guess_width(text, TEXT) for _, text in entries) + 44.0
    rows = math.ceil(len(entries) / 2)
    for k, (symbol, text) in enumerate(entries):
        x, y = (k // rows) * column, 8.0 + (k % rows) * 20.0
        out += [f'<g transform="translate({number(x)} {number(y)})">', *symbol, "</g>"]
        out.append(text_at(x + 28.0, y + 4, text, TEXT, INK))
    y = 8.0 + rows * 20.0 + 8.0
    bar_mm = 50.0 if plan.panel.width >= 150.0 else 20.0
    bar = bar_mm * scale
    out.append(
        f'<path d="M0 {number(y - 5)}v10M0 {number(y)}h{number(bar)}m0 -5v10" stroke="{INK}" fill="none"/>'
    )
    out.append(text_at(bar + 10.0, y + 4, f"{show_mm(bar_mm)} mm", TEXT, INK))
    return out, max(2 * column, bar + 60.0), y + 12.0


def _legend_entries(plan: Plan) -> list[tuple[list[str], str]]:
    """Return the symbols that a plan's picture needs, with what they mean."""
    view = View(1.0, 0.0)
    entries: list[tuple[list[str], str]] = [
        (draw_bore((10.0, 0.0), 7.0, True, view), "coolant leaves the panel"),
        (draw_bore((10.0, 0.0), 7.0, False, view), "coolant comes in"),
        *_plug_entry(plan, view),
        ([f'<rect x="1" y="-5" width="18" height="10" fill="{WATER}" stroke="{SHORE}"/>'], "coolant flows"),
    ]
    if any(leg.flow_m3_s == 0.0 for flow in plan.flowing.channels for leg in flow.legs):
        still = f'<rect x="1" y="-5" width="18" height="10" fill="{STILL}" stroke="{SHORE}"/>'
        entries.append(([still], "coolant stands"))
    if has_front(plan):
        band = f'<rect x="1" y="-5" width="18" height="10" fill="{FRONT_WATER}" stroke="{SHORE}"/>'
        entries.append(([band], "in the front face"))
    if any(channel.holes for channel in plan.routed.channels):
        entries.append((draw_hole((10.0, 0.0), 6.0, view), "through hole"))
    if plan.panel.pump.on == "back" or any(port.on == "back" for port in plan.routed.ports):
        ring = f'<circle cx="10" cy="0" r="7" fill="{SHEET}" stroke="{INK}" stroke-width="1.5" {HIDDEN}/>'
        entries.append(([ring], "on the back"))
    if plan.sealed.loops:
        entries.append(
            ([f'<rect x="1" y="-4" width="18" height="8" fill="#e9ecee" stroke="{FINE}"/>'], "cord groove")
        )
    if any(loop.layer == "front" for loop in plan.sealed.loops):
        dots = f'<path d="M1 -4h18M1 4h18" stroke="{SOFT}" stroke-width="0.9" stroke-dasharray="1 2.5"/>'
        entries.append(([dots], "cord groove in the front face"))
    entries += [*_screw_entries(plan, view), *explain_split(plan)]
    if plan.panel.keep_clear:
        entries.append(
            (
                [f'<rect x="1" y="-5" width="18" height="10" fill="url(#hatch)" stroke="{SOFT}"/>'],
                "keep clear",
            )
        )
    return entries
