"""Plain-text tables and sentences for the terminal: channels, parts, ports, findings, rules."""

from __future__ import annotations

from typing import TYPE_CHECKING

from exports.tables.advice_tables import PUMP_NAME, describe_advice
from exports.tables.fastening_tables import describe_fastening
from exports.tables.filling_tables import describe_filling
from exports.tables.milling_tables import describe_setups
from exports.tables.text_tables import LINE, align_rows, shorten_names
from exports.tables.tube_tables import describe_tubes
from exports.wording.channel_drops import drop_band
from exports.wording.figures import shorten_text, show_band, show_banded, show_mm, show_place, wrap_words
from exports.wording.routing_words import tell_cost, tell_kept, tell_status
from exports.wording.screw_words import describe_screws
from geom.findings import SEVERITIES, Finding
from geom.units import kpa, l_min, ml
from geom.words import count_of
from layouts.panel import Pump
from layouts.plan import Plan
from layouts.pump_fit import show_rpm
from layouts.rules.rule import Rule

if TYPE_CHECKING:
    from exports.check_solids import Checked


def describe_plan(plan: Plan, brief: bool = True) -> str:
    """Return a plan in tables: what it is, channels, parts, advice, ports.

    Parameters
    ----------
    plan : Plan
    brief : bool
        Whether how it fills is told in a few lines among them; not where all of that follows.
    """
    panel, flowing, routed = plan.panel, plan.flowing, plan.routed
    turn = routed.pump.turn_deg
    lines = [
        f"{panel.name}: {show_mm(panel.width)} x {show_mm(panel.height)} x {show_mm(panel.make.body)} mm, "
        f"{panel.make.material}, {panel.make.method}, {panel.make.closing}",
        *wrap_words(tell_operating(plan), LINE),
        f"pump inlet at ({show_mm(routed.pump.inlet[0])}, {show_mm(routed.pump.inlet[1])}) mm, turned {turn} deg",
        *wrap_words(f"routing {tell_status(panel, routed)}", LINE),
        *wrap_words(tell_kept(panel), LINE),
        *wrap_words(tell_cost(panel, routed), LINE),
        "",
    ]
    lines += align_rows(shorten_names(channel_rows(plan)))
    if flowing.parts:
        lines += ["", *align_rows(shorten_names(part_rows(plan)))]
    lines += describe_advice(plan)
    if brief:
        lines += describe_filling(plan)
    lines += [*describe_fastening(plan), *describe_screws(plan), *describe_setups(plan)]
    lines += ["", *align_rows(port_rows(plan), left=3 + (panel.channel.layers == 2)), *describe_tubes(plan)]
    return "\n".join(lines)


def tell_operating(plan: Plan) -> str:
    """Return the operating point: flow with its band, pump, head, the loop's drop."""
    flowing = plan.flowing
    band = flowing.band
    return (
        f"flow {show_banded(l_min(flowing.flow_m3_s), band)} L/min (within {100 * band:.0f} %)"
        f"{tell_pump(plan.panel.pump)}; head {show_banded(flowing.head_m, flowing.head_band)} m, loop drop "
        f"{show_banded(kpa(flowing.loop_drop_pa), flowing.head_band)} kPa"
    )


def describe_made(checked: Checked) -> str:
    """Return what was measured on the solids: parts, coolant, thinnest wall."""
    wall = tell_thinnest(checked)
    return "\n".join(
        align_rows(volume_rows(checked)) + ([f"thinnest wall beside coolant {wall}"] if wall else [])
    )


def volume_rows(checked: Checked) -> list[tuple[str, ...]]:
    """Return the volumes of parts and coolant, headings first."""
    volumes = checked.volumes
    rows: list[tuple[str, ...]] = [("solid", "volume", "by mesh")]
    rows += [(p.name, f"{ml(p.solid):.1f} cm3", f"{ml(p.mesh):.1f} cm3") for p in volumes.parts]
    rows.append(("coolant", f"{ml(volumes.wet_solid):.1f} cm3", f"{ml(volumes.wet_mesh):.1f} cm3"))
    return rows


def tell_thinnest(checked: Checked) -> str:
    """Return the thinnest wall beside coolant and what it lies between; empty where none was measured."""
    if checked.thinnest is None:
        return ""
    a, b = checked.thinnest.between
    return f"{checked.thinnest.thickness:.2f} mm, between {a} and {b}"


def describe_findings(findings: tuple[Finding, ...]) -> str:
    """Return the findings, each with its place and its remedy; one sentence where there is none.

    Notes come first and faults last, where a terminal ends; the count of all is the last line.
    """
    if not findings:
        return "no findings"
    lines: list[str] = []
    for severity in reversed(SEVERITIES):
        for finding in findings:
            if finding.severity != severity:
                continue
            where = f" at {show_place(finding.at_mm)}" if finding.at_mm is not None else ""
            lines.append(f"{severity} {finding.code}{where}")
            lines += _indented(finding.text)
            if finding.accepted is not None:
                lines += _indented(f"accepted: {finding.accepted}")
            else:
                lines += _indented(f"remedy: {finding.remedy}")
    counts = [(sum(1 for f in findings if f.severity == s), s) for s in SEVERITIES]
    codes = ", ".join(dict.fromkeys(f.code for f in findings if f.severity == "fault"))
    counted = [count_of(n, s) + (f" ({codes})" if s == "fault" else "") for n, s in counts if n]
    lines += wrap_words(", ".join(counted), LINE)
    return "\n".join(lines)


def describe_rule(rule: Rule) -> str:
    """Return a rule in full."""
    lines = [rule.code]
    for title, text in (
        ("asks", rule.question),
        ("finds", rule.limit_text),
        ("why", rule.why),
        ("source", rule.source),
    ):
        wrapped = wrap_words(text, LINE - 10)
        lines += [f"  {title if k == 0 else '':7} {line}" for k, line in enumerate(wrapped)]
    return "\n".join(lines)


def port_rows(plan: Plan) -> list[tuple[str, ...]]:
    """Return the ports with thread and place, headings first; with two faces, into which each opens."""
    faced = plan.panel.channel.layers == 2
    rows: list[tuple[str, ...]] = [
        ("port", "thread", "on", *(("opens into",) if faced else ()), "x", "y", "z")
    ]
    for p in plan.routed.ports:
        into = (f"{p.layer} face",) if faced else ()
        rows.append((p.name, p.thread, p.on, *into, *(f"{show_mm(c)} mm" for c in p.at)))
    return rows


def channel_rows(plan: Plan) -> list[tuple[str, ...]]:
    """Return the channels with length and flow, headings first."""
    band = plan.flowing.band
    holes = {channel.name: len(channel.holes) for channel in plan.routed.channels}
    holed = any(holes.values())
    heads = ("length", "bends", *(("holes",) if holed else ()), "flow", "velocity", "Re")
    rows: list[tuple[str, ...]] = [("channel", *heads)]
    for flow in plan.flowing.channels:
        passed = (str(holes[flow.channel]),) if holed else ()
        size = (flow.channel, f"{flow.length:.0f} mm", str(flow.bends), *passed)
        if flow.flow_m3_s == 0.0:
            rows.append((*size, "none", "-", "-"))
            continue
        rows.append(
            (
                *size,
                f"{show_banded(l_min(flow.flow_m3_s), band)} L/min",
                f"{show_banded(flow.velocity_m_s, band)} m/s",
                show_banded(flow.reynolds, band),
            )
        )
    return rows


def part_rows(plan: Plan) -> list[tuple[str, ...]]:
    """Return the parts with flow, drop and how much they warm the coolant, headings first."""
    flowing, band = plan.flowing, plan.flowing.band
    bores = {part.name: part.restrictor for part in plan.panel.parts if part.restrictor is not None}
    rows: list[tuple[str, ...]] = [
        ("part", "flow", "drop", "band", "warms by", *(("restrictor",) if bores else ()))
    ]
    for part in flowing.parts:
        rounded = drop_band(flowing, part.band)
        row = (
            part.part,
            f"{show_banded(l_min(part.flow_m3_s), band)} L/min",
            f"{show_banded(kpa(part.drop_pa), rounded)} kPa",
            show_band(rounded) or "-",
            f"{show_banded(part.rise_k, band)} K" if part.rise_k else "-",
        )
        bore = f"{show_mm(bores[part.part])} mm" if part.part in bores else "-"
        rows.append((*row, bore) if bores else row)
    return rows


def tell_pump(pump: Pump) -> str:
    """Return with which pump the flow is, and at which speed; nothing where there is but one pump and speed."""
    choice = pump.choice(pump.used)
    if choice.speed is None and len(pump.choices) == 1:
        return ""
    said = f' with "{shorten_text(choice.name, PUMP_NAME)}"'
    if choice.speed is None:
        return said
    if pump.run_at_rpm is None:
        return f"{said} at its most speed, {show_rpm(choice.speed[1])}"
    return f"{said} at {show_rpm(pump.run_at_rpm)}"


def _indented(text: str) -> list[str]:
    return [f"  {line}" for line in wrap_words(text, LINE - 2)]
