"""The plan as a picture (SVG): panel, channels to width with true arcs, flow, ports, pump, tank, findings."""

from __future__ import annotations

import math
from dataclasses import dataclass

from exports.figures import show_banded, show_mm, show_place, wrap_words
from exports.labels import LabelRequest, PlacedLabel, Rect, place_labels
from exports.svg import FONT, View, attribute, number, path_of, text_at, text_width
from geom.findings import Finding, has_fault
from geom.frame import EDGES, INTO
from geom.outline import (
    Arc,
    Line,
    Loop,
    Point,
    Segment,
    outline_circle,
    outline_rectangle,
    path_length,
    round_corners,
)
from geom.standards import tables
from geom.units import kpa, l_min, ml
from layouts.plan import Channel, ChannelFlow, PlacedPort, Plan
from layouts.seal import outline_channel, outline_tank

PANEL_WIDTH = 900.0
"""Width that a wide panel gets, in picture units."""
PANEL_HEIGHT = 620.0
"""Height that a tall panel gets, in picture units."""

PAPER = "#f4f2ec"
SHEET = "#ffffff"
INK = "#22303a"
SOFT = "#66747e"
FINE = "#a9b4bb"
WATER = "#7fc0d8"
STILL = "#cfe6ee"
SHORE = "#1f6f8f"
FAULT = "#c0392b"
CAUTION = "#b9770e"

TEXT = 12.0
SMALL = 10.5
MARGIN = 28.0
MOST_FINDINGS = 12


@dataclass(frozen=True, slots=True)
class _Mark:
    """A finding with its letter and where it is drawn."""

    letter: str
    finding: Finding
    at: Point | None


def draw_plan(plan: Plan) -> str:
    """Return the plan's picture.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    str
        A whole SVG document with its own background, the same for the same plan.
    """
    panel = plan.panel
    view = View(min(PANEL_WIDTH / panel.width, PANEL_HEIGHT / panel.height), panel.height)
    marks = _marks(plan.findings, view)
    drawing = [*_sheet(plan, view), *_grooves(plan, view), *_wet(plan, view), *_dry(plan, view)]
    busy = _bores(plan, view)
    tags = {c.name: _tag_place(c, view, busy) for c in plan.routed.channels}
    drawing += _flow_arrows(plan, view, tags)
    drawing += [_tag(at, str(k)) for k, at in enumerate(tags.values(), 1)]
    labels, label_boxes = _labels(plan, view, tags, marks)
    drawing += labels
    drawing += _draw_marks(marks)

    width, height = panel.width * view.scale, panel.height * view.scale
    left = min([-34.0, *(b[0] for b in label_boxes)])
    right = max([width + 8.0, *(b[2] for b in label_boxes)])
    top = min([-8.0, *(b[1] for b in label_boxes)])
    bottom = max([height + 34.0, *(b[3] for b in label_boxes)])
    heading = _heading(plan)
    notes, notes_width, notes_height = _notes(plan, marks, right - left)
    head_width = max(text_width(heading[0], 20.0), text_width(heading[1], 13.0))
    whole_width = max(right - left, notes_width, head_width) + 2 * MARGIN
    head_height = 58.0
    origin = (MARGIN - left, MARGIN + head_height - top)
    notes_top = origin[1] + bottom + 20.0
    whole_height = notes_top + notes_height + MARGIN
    return "\n".join(
        (
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(whole_width)}" '
            f'height="{number(whole_height)}" viewBox="0 0 {number(whole_width)} {number(whole_height)}" '
            f'font-family={attribute(FONT)} role="img" aria-label={attribute("Plan of " + panel.name)}>',
            "<defs>",
            '<pattern id="hatch" width="7" height="7" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate(45)"><path d="M0 0V7" stroke="{SOFT}" stroke-width="1.4"/></pattern>',
            "</defs>",
            f'<rect width="100%" height="100%" fill="{PAPER}"/>',
            text_at(MARGIN, MARGIN + 18, heading[0], 20.0, INK, 'font-weight="600"'),
            text_at(MARGIN, MARGIN + 38, heading[1], 13.0, SOFT),
            f'<g transform="translate({number(origin[0])} {number(origin[1])})">',
            *drawing,
            "</g>",
            f'<g transform="translate({number(MARGIN)} {number(notes_top)})">',
            *notes,
            "</g>",
            "</svg>",
            "",
        )
    )


def _heading(plan: Plan) -> tuple[str, str]:
    panel, flowing = plan.panel, plan.flowing
    result = "with faults" if has_fault(plan.findings) else "no faults"
    size = f"{show_mm(panel.width)} × {show_mm(panel.height)} × {show_mm(panel.make.body)} mm"
    flow = show_banded(l_min(flowing.flow_m3_s), flowing.band)
    head = show_banded(flowing.head_m, flowing.band)
    return (
        panel.name,
        f"{size}, {panel.make.material}, {panel.make.method}, {panel.make.closing} · "
        f"{flow} L/min at {head} m of head (±{100 * flowing.band:.0f} %) · {result} · seen from the front",
    )


def _sheet(plan: Plan, view: View) -> list[str]:
    panel = plan.panel
    outline = outline_rectangle(0.0, 0.0, panel.width, panel.height, panel.corner_radius)
    out = [_path((outline,), view, SHEET, INK, 1.6)]
    out += [
        _path((outline_rectangle(*clear.box, 0.0),), view, "url(#hatch)", SOFT, 0.8)
        for clear in panel.keep_clear
    ]
    k, height = view.scale, panel.height * view.scale
    across, up = range(0, math.floor(panel.width) + 1, 10), range(0, math.floor(panel.height) + 1, 10)
    ticks = [f"M{number(mm * k)} {number(height + 4)}v{9 if mm % 50 == 0 else 5}" for mm in across]
    ticks += [f"M-4 {number(height - mm * k)}h{-9 if mm % 50 == 0 else -5}" for mm in up]
    out.append(f'<path d="{"".join(ticks)}" stroke="{FINE}" stroke-width="0.9" fill="none"/>')
    out += [text_at(mm * k, height + 23, str(mm), 9.0, SOFT, 'text-anchor="middle"') for mm in across[::5]]
    out += [text_at(-15, height - mm * k + 3, str(mm), 9.0, SOFT, 'text-anchor="end"') for mm in up[::5]]
    return out


def _grooves(plan: Plan, view: View) -> list[str]:
    """Draw grooves as thin lines: fills laid over strokes leave only the outer line of each union."""
    out = []
    for loop in plan.sealed.loops:
        for region, fill in ((loop.outer, "#e9ecee"), (loop.inner, SHEET)):
            out.append(_path(region, view, "none", FINE, 1.6))
            out.append(_path(region, view, fill, "none", 0.0))
    return out


def _wet(plan: Plan, view: View) -> list[str]:
    still = {leg.leg for flow in plan.flowing.channels for leg in flow.legs if leg.flow_m3_s == 0.0}
    standing: list[Loop] = []
    flowing: list[Loop] = []
    for channel in plan.routed.channels:
        quiet = [leg.points for leg in channel.legs if leg.name in still]
        for run, loop in zip(channel.runs, outline_channel(channel, 0.0), strict=True):
            same = any({run.points[0], run.points[-1]} == {points[0], points[-1]} for points in quiet)
            (standing if same or len(quiet) == len(channel.legs) else flowing).append(loop)
    if plan.routed.tank.box is not None:
        flowing.append(outline_tank(plan.routed, 0.0))
    out = [_path((*standing, *flowing), view, "none", SHORE, 2.0)]
    out += [
        _path((loop,), view, fill, "none", 0.0)
        for loops, fill in ((standing, STILL), (flowing, WATER))
        for loop in loops
    ]
    box = plan.routed.tank.box
    if box is not None and plan.panel.up[1] > 0.9:
        level = box[1] + plan.panel.tank.level * (box[3] - box[1])
        start, end = view.xy((box[0] + 2, level)), view.xy((box[2] - 2, level))
        out.append(f'<path d="M{start}L{end}" stroke="{SHEET}" stroke-width="1.4" stroke-dasharray="6 4"/>')
    return out


def _dry(plan: Plan, view: View) -> list[str]:
    panel, routed = plan.panel, plan.routed
    out: list[str] = []
    pump = panel.pump
    if pump.seat_diameter > 0.0:
        seat = outline_circle(routed.pump.inlet, pump.seat_diameter / 2)
        out.append(_path((seat,), view, "none", INK, 1.0, 'stroke-dasharray="7 4"'))
    for at, bore, leaves in (
        (routed.pump.inlet, pump.inlet_bore, True),
        (routed.pump.outlet, pump.outlet_bore, False),
    ):
        out += _flow_symbol(at, bore / 2, leaves, view)
    for at in routed.pump.screws:
        out.append(_path((outline_circle(at, 1.7),), view, SHEET, INK, 1.0))
    if plan.sealed.screws:
        screw = tables.screw(panel.make.screw)
        for x, y in plan.sealed.screws:
            out.append(_path((outline_circle((x, y), screw.clearance / 2),), view, SHEET, SOFT, 1.1))
            r = screw.clearance / 2 * 0.6
            cross = (
                f"M{view.xy((x - r, y))}L{view.xy((x + r, y))}M{view.xy((x, y - r))}L{view.xy((x, y + r))}"
            )
            out.append(f'<path d="{cross}" stroke="{SOFT}" stroke-width="0.9"/>')
    for port in routed.ports:
        thread = tables.thread(port.thread)
        if port.on in EDGES:
            out += _edge_port(port, thread.tap_drill, view)
        else:
            out.append(_path((outline_circle(port.foot, thread.collar / 2),), view, "none", FINE, 1.0))
            out += _flow_symbol(port.foot, thread.tap_drill / 2, port.role == "inlet", view)
    return out


def _edge_port(port: PlacedPort, bore: float, view: View) -> list[str]:
    dx, dy, _ = INTO[port.on]
    x, y = port.at[0], port.at[1]
    tip = (x + dx * port.depth, y + dy * port.depth)
    side = (abs(dy) * bore / 2, abs(dx) * bore / 2)
    a, b = (x - side[0], y - side[1]), (x + side[0], y + side[1])
    c, d = (tip[0] + side[0], tip[1] + side[1]), (tip[0] - side[0], tip[1] - side[1])
    box = f"M{view.xy(a)}L{view.xy(d)}L{view.xy(c)}L{view.xy(b)}"
    out = [f'<path d="{box}" fill="none" stroke="{INK}" stroke-width="1" stroke-dasharray="4 3"/>']
    if port.part not in ("tank", "drain") or port.role in ("inlet", "outlet"):
        px, py = view.to((x, y))
        # y points down in the picture: the outward direction keeps x and turns y.
        out.append(_arrow((px, py), (-dx, dy) if port.role == "inlet" else (dx, -dy), 9.0, INK))
    return out


def _flow_symbol(at: Point, radius: float, leaves: bool, view: View) -> list[str]:
    """Draw a bore: a dot where coolant leaves towards the viewer, a cross where it goes in."""
    out = [_path((outline_circle(at, radius),), view, SHEET, INK, 1.5)]
    x, y = at
    if leaves:
        out.append(_path((outline_circle(at, radius * 0.3),), view, INK, "none", 0.0))
    else:
        r = radius * math.sqrt(0.5)
        rising = f"M{view.xy((x - r, y - r))}L{view.xy((x + r, y + r))}"
        cross = f"{rising}M{view.xy((x - r, y + r))}L{view.xy((x + r, y - r))}"
        out.append(f'<path d="{cross}" stroke="{INK}" stroke-width="1.3"/>')
    return out


def _flow_arrows(plan: Plan, view: View, tags: dict[str, Point]) -> list[str]:
    flows = {leg.leg: leg.flow_m3_s for flow in plan.flowing.channels for leg in flow.legs}
    bores = _bores(plan, view)
    keep = max(24.0, 6.6 * view.scale + 9.0)
    out = []
    for channel in plan.routed.channels:
        for leg in channel.legs:
            flow = flows.get(leg.name, 0.0)
            if flow == 0.0 or len(leg.points) < 2:
                continue
            segments = round_corners(leg.points, channel.bend_radius)
            length = path_length(segments)
            count = max(1, round(length * view.scale / 70.0))
            for k in range(count):
                at, (ux, uy) = _along(segments, length * (k + 0.5) / count)
                if flow < 0.0:
                    ux, uy = -ux, -uy
                place = view.to(at)
                off = all(math.dist(place, tag) > 24.0 for tag in tags.values())
                if off and all(math.dist(place, bore) > keep for bore in bores):
                    size = min(7.0, 0.3 * channel.width * view.scale)
                    out.append(_chevron(place, (ux, -uy), size))
    return out


def _along(segments: tuple[Segment, ...], distance: float) -> tuple[Point, Point]:
    """Return the point at a distance along a centreline and the direction there."""
    for s in segments:
        if distance <= s.length or s is segments[-1]:
            fraction = min(1.0, distance / s.length)
            if isinstance(s, Line):
                ux, uy = (s.end[0] - s.start[0]) / s.length, (s.end[1] - s.start[1]) / s.length
                at = (
                    s.start[0] + (s.end[0] - s.start[0]) * fraction,
                    s.start[1] + (s.end[1] - s.start[1]) * fraction,
                )
                return at, (ux, uy)
            angle = s.first + s.sweep * fraction + math.copysign(math.pi / 2, s.sweep)
            return s.at(fraction), (math.cos(angle), math.sin(angle))
        distance -= s.length
    raise ValueError("a centreline has at least one piece")


def _tag_place(channel: Channel, view: View, busy: list[Point]) -> Point:
    """Return where a channel's number stands: the middle of its longest piece that keeps off the bores."""
    offers: list[tuple[bool, bool, float, int, Point]] = []
    for run in channel.runs:
        for s in round_corners(run.points, channel.bend_radius):
            at, _ = _along((s,), s.length / 2)
            crowded = min((math.dist(view.to(at), other) for other in busy), default=99.0) < 26.0
            offers.append((crowded, isinstance(s, Arc), -round(s.length, 6), len(offers), view.to(at)))
    return min(offers)[-1]


def _bores(plan: Plan, view: View) -> list[Point]:
    at = [port.foot for port in plan.routed.ports]
    return [view.to(p) for p in (*at, plan.routed.pump.inlet, plan.routed.pump.outlet)]


def _labels(
    plan: Plan, view: View, tags: dict[str, Point], marks: tuple[_Mark, ...]
) -> tuple[list[str], list[Rect]]:
    """Place and draw the names of ports, pump, tank and keep-clear regions."""
    panel, routed = plan.panel, plan.routed
    width, height = panel.width * view.scale, panel.height * view.scale
    taken: list[Rect] = [_square(at, 10.0) for at in tags.values()]
    taken += [_square(m.at, 11.0) for m in marks if m.at is not None]
    taken += [_square(view.to(at), 3.0 * view.scale) for at in (*plan.sealed.screws, *routed.pump.screws)]
    taken.append((-34.0, height, width, height + 27.0))
    taken.append((-34.0, 0.0, 0.0, height))
    wanted: list[tuple[LabelRequest, tuple[str, ...], str]] = []
    pump_at, pump_out = view.to(routed.pump.inlet), view.to(routed.pump.outlet)
    for at, bore in ((pump_at, panel.pump.inlet_bore), (pump_out, panel.pump.outlet_bore)):
        taken.append(_square(at, bore / 2 * view.scale + 1))
    for port in routed.ports:
        if port.on not in EDGES:
            taken.append(
                _square(view.to(port.foot), tables.thread(port.thread).tap_drill / 2 * view.scale + 1)
            )
    for port in routed.ports:
        lines = _port_lines(port)
        size = _lines_size(lines)
        if port.on in EDGES:
            ix, iy, _ = INTO[port.on]
            anchor = view.to((port.at[0], port.at[1]))
            gap = 30.0 if port.on in ("bottom", "left") else 14.0
            wanted.append((LabelRequest(anchor, size, gap, (-ix, iy)), lines, PAPER))
        else:
            anchor = view.to(port.foot)
            gap = tables.thread(port.thread).collar / 2 * view.scale + 3.0
            wanted.append((LabelRequest(anchor, size, gap), lines, SHEET))
    for at, lines, bore in (
        (pump_at, ("pump inlet", f"turned {routed.pump.turn_deg}°"), panel.pump.inlet_bore),
        (pump_out, ("pump outlet",), panel.pump.outlet_bore),
    ):
        wanted.append((LabelRequest(at, _lines_size(lines), bore / 2 * view.scale + 6.0), lines, SHEET))
    if routed.tank.box is not None:
        x0, y0, x1, y1 = routed.tank.box
        volume = ml((x1 - x0) * (y1 - y0) * panel.tank.depth)
        anchor = view.to(((x0 + x1) / 2, (y0 + y1) / 2))
        lines = ("tank", f"about {volume:.0f} mL")
        wanted.append((LabelRequest(anchor, _lines_size(lines), 0.0), lines, WATER))
    for clear in panel.keep_clear:
        anchor = view.to(((clear.box[0] + clear.box[2]) / 2, (clear.box[1] + clear.box[3]) / 2))
        wanted.append((LabelRequest(anchor, _lines_size((clear.name,)), 0.0), (clear.name,), SHEET))
    placed = place_labels(
        tuple(w[0] for w in wanted),
        tuple(taken),
        _line_points(plan, view),
        (2.0, 2.0, width - 2.0, height - 2.0),
    )
    out: list[str] = []
    for (request, lines, ground), label in zip(wanted, placed, strict=True):
        out += _draw_label(request, lines, ground, label)
    return out, [label.box for label in placed]


def _draw_label(request: LabelRequest, lines: tuple[str, ...], ground: str, label: PlacedLabel) -> list[str]:
    anchor = request.anchor
    x0, y0, x1, y1 = label.box
    out = []
    if label.led:
        near = (min(max(anchor[0], x0), x1), min(max(anchor[1], y0), y1))
        length = math.dist(anchor, near)
        start = min(request.gap - 2.0, length) / length if length > 0 else 0.0
        if request.outward is not None:
            start = 4.0 / length if length > 4.0 else 0.0
        sx = anchor[0] + (near[0] - anchor[0]) * start
        sy = anchor[1] + (near[1] - anchor[1]) * start
        out.append(
            f'<path d="M{number(sx)} {number(sy)}L{number(near[0])} {number(near[1])}" '
            f'stroke="{SOFT}" stroke-width="0.8"/>'
        )
    halo = (
        f'text-anchor="middle" paint-order="stroke" stroke="{ground}" stroke-width="3" '
        'stroke-linejoin="round"'
    )
    y = y0 + TEXT * 0.9
    for k, line in enumerate(lines):
        size, colour = (TEXT, INK) if k == 0 else (SMALL, SOFT)
        out.append(text_at((x0 + x1) / 2, y, line, size, colour, halo))
        y += SMALL * 1.2
    return out


def _port_lines(port: PlacedPort) -> tuple[str, ...]:
    if port.name == f"{port.part} {port.role}":
        return (port.part, f"{port.role} {port.thread}")
    return (port.name, port.thread)


def _lines_size(lines: tuple[str, ...]) -> tuple[float, float]:
    width = max(text_width(line, TEXT if k == 0 else SMALL) for k, line in enumerate(lines))
    return (width, TEXT * 1.15 + SMALL * 1.2 * (len(lines) - 1))


def _line_points(plan: Plan, view: View) -> tuple[Point, ...]:
    """Return points all over the channels and round the pump's seat, for labels to keep off."""
    points: list[Point] = []
    for channel in plan.routed.channels:
        half = channel.width / 2
        beside = half + 3.0
        for run in channel.runs:
            segments = round_corners(run.points, channel.bend_radius)
            length = path_length(segments)
            for k in range(int(length / 3.0) + 1):
                (x, y), (ux, uy) = _along(segments, min(length, 3.0 * k))
                points += [
                    view.to((x - uy * side, y + ux * side)) for side in (-beside, -half, 0.0, half, beside)
                ]
    if plan.panel.pump.seat_diameter > 0.0:
        (x, y), radius = plan.routed.pump.inlet, plan.panel.pump.seat_diameter / 2
        turns = [k * math.pi / 30 for k in range(60)]
        points += [view.to((x + radius * math.cos(a), y + radius * math.sin(a))) for a in turns]
    return tuple(points)


def _marks(findings: tuple[Finding, ...], view: View) -> tuple[_Mark, ...]:
    told = [f for severity in ("fault", "caution") for f in findings if f.severity == severity]
    marks: list[_Mark] = []
    for k, finding in enumerate(told[:MOST_FINDINGS]):
        at = view.to((finding.at_mm[0], finding.at_mm[1])) if finding.at_mm else None
        # Findings at one place stand beside each other.
        while at is not None and any(m.at is not None and math.dist(m.at, at) < 18.0 for m in marks):
            at = (at[0] + 19.0, at[1])
        marks.append(_Mark(chr(ord("A") + k), finding, at))
    return tuple(marks)


def _draw_marks(marks: tuple[_Mark, ...]) -> list[str]:
    out: list[str] = []
    for mark in marks:
        if mark.at is not None:
            out += _badge(mark.at, mark.letter, FAULT if mark.finding.severity == "fault" else CAUTION)
    return out


def _badge(at: Point, letter: str, colour: str) -> list[str]:
    x, y = at
    return [
        f'<rect x="{number(x - 8)}" y="{number(y - 8)}" width="16" height="16" rx="3" fill="{colour}" '
        f'stroke="{SHEET}" stroke-width="1.5"/>',
        text_at(x, y + 4, letter, 11.0, SHEET, 'text-anchor="middle" font-weight="700"'),
    ]


def _notes(plan: Plan, marks: tuple[_Mark, ...], width: float) -> tuple[list[str], float, float]:
    """Draw the table of channels, the legend with the scale bar, and the findings; return their size too."""
    table, table_width, table_height = _channel_table(plan)
    legend, legend_width, legend_height = _legend(plan)
    gap = 48.0
    beside = table_width + gap + legend_width <= max(width, 760.0)
    lx, ly = (table_width + gap, 0.0) if beside else (0.0, table_height + 16.0)
    out = [*table, f'<g transform="translate({number(lx)} {number(ly)})">', *legend, "</g>"]
    y = max(table_height, ly + legend_height) + 14.0
    full = max(width, table_width + gap + legend_width if beside else table_width)
    for mark in marks:
        fault = mark.finding.severity == "fault"
        out += _badge((8.0, y), mark.letter, FAULT if fault else CAUTION)
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
    rows: list[tuple[str, ...]] = [("", "channel", "length", "bends", "flow", "velocity", "pressure drop")]
    for k, channel in enumerate(plan.routed.channels, 1):
        rows.append((str(k), channel.name, *_channel_figures(flows[channel.name], plan.flowing.band)))
    columns = list(zip(*rows, strict=True))
    widths = [max(text_width(cell, TEXT) for cell in column) + 18.0 for column in columns]
    out = []
    y = 8.0
    for r, row in enumerate(rows):
        x = 0.0
        for c, cell in enumerate(row):
            if r and c == 0:
                out.append(_tag((8.0, y), cell))
            elif c <= 1:
                out.append(text_at(x, y + 4, cell, TEXT, INK if r else SOFT))
            else:
                at = x + widths[c] - 18.0
                out.append(text_at(at, y + 4, cell, TEXT, INK if r else SOFT, 'text-anchor="end"'))
            x += 26.0 if c == 0 else widths[c]
        y += 20.0
    return out, 26.0 + sum(widths[1:]), y


def _channel_figures(flow: ChannelFlow, band: float) -> tuple[str, ...]:
    if flow.flow_m3_s == 0.0:
        return (f"{flow.length:.0f} mm", str(flow.bends), "none", "–", "–")
    return (
        f"{flow.length:.0f} mm",
        str(flow.bends),
        f"{show_banded(l_min(flow.flow_m3_s), band)} L/min",
        f"{show_banded(flow.velocity_m_s, band)} m/s",
        f"{show_banded(kpa(flow.drop_pa), band)} kPa",
    )


def _legend(plan: Plan) -> tuple[list[str], float, float]:
    view = View(1.0, 0.0)
    entries: list[tuple[list[str], str]] = [
        (_flow_symbol((10.0, 0.0), 7.0, True, view), "coolant leaves the panel"),
        (_flow_symbol((10.0, 0.0), 7.0, False, view), "coolant comes in"),
        ([f'<rect x="1" y="-5" width="18" height="10" fill="{WATER}" stroke="{SHORE}"/>'], "coolant flows"),
        ([f'<rect x="1" y="-5" width="18" height="10" fill="{STILL}" stroke="{SHORE}"/>'], "coolant stands"),
    ]
    if plan.sealed.loops:
        entries.append(
            ([f'<rect x="1" y="-4" width="18" height="8" fill="#e9ecee" stroke="{FINE}"/>'], "cord groove")
        )
    if plan.sealed.screws:
        screw = [
            f'<circle cx="10" cy="0" r="6" fill="{SHEET}" stroke="{SOFT}"/>',
            f'<path d="M6 0h8M10 -4v8" stroke="{SOFT}" stroke-width="0.9"/>',
        ]
        entries.append((screw, f"cover screw {plan.panel.make.screw}"))
    if plan.panel.keep_clear:
        entries.append(
            (
                [f'<rect x="1" y="-5" width="18" height="10" fill="url(#hatch)" stroke="{SOFT}"/>'],
                "keep clear",
            )
        )
    out = []
    column = max(text_width(text, TEXT) for _, text in entries) + 44.0
    rows = math.ceil(len(entries) / 2)
    for k, (symbol, text) in enumerate(entries):
        x, y = (k // rows) * column, 8.0 + (k % rows) * 20.0
        out += [f'<g transform="translate({number(x)} {number(y)})">', *symbol, "</g>"]
        out.append(text_at(x + 28.0, y + 4, text, TEXT, INK))
    y = 8.0 + rows * 20.0 + 8.0
    scale = min(PANEL_WIDTH / plan.panel.width, PANEL_HEIGHT / plan.panel.height)
    bar_mm = 50.0 if plan.panel.width >= 150.0 else 20.0
    bar = bar_mm * scale
    out.append(
        f'<path d="M0 {number(y - 5)}v10M0 {number(y)}h{number(bar)}m0 -5v10" stroke="{INK}" fill="none"/>'
    )
    out.append(text_at(bar + 10.0, y + 4, f"{show_mm(bar_mm)} mm", TEXT, INK))
    return out, max(2 * column, bar + 60.0), y + 12.0


def _path(region: tuple[Loop, ...], view: View, fill: str, stroke: str, width: float, extra: str = "") -> str:
    line = f' stroke="{stroke}" stroke-width="{number(width)}"' if stroke != "none" else ""
    spaced = f" {extra}" if extra else ""
    return f'<path d="{path_of(region, view)}" fill="{fill}"{line}{spaced}/>'


def _tag(at: Point, text: str) -> str:
    x, y = at
    return f'<circle cx="{number(x)}" cy="{number(y)}" r="8" fill="{SHORE}"/>' + text_at(
        x, y + 3.8, text, 10.5, SHEET, 'text-anchor="middle" font-weight="600"'
    )


def _chevron(at: Point, u: Point, size: float) -> str:
    x, y = at
    back = (x - u[0] * size * 0.5, y - u[1] * size * 0.5)
    tip = (x + u[0] * size * 0.5, y + u[1] * size * 0.5)
    a = (back[0] - u[1] * size * 0.75, back[1] + u[0] * size * 0.75)
    b = (back[0] + u[1] * size * 0.75, back[1] - u[0] * size * 0.75)
    points = "L".join(f"{number(p[0])} {number(p[1])}" for p in (a, tip, b))
    return f'<path d="M{points}" fill="none" stroke="{SHORE}" stroke-width="2" stroke-linecap="round"/>'


def _arrow(at: Point, u: Point, length: float, colour: str) -> str:
    """Draw a short arrow across the panel's edge, its middle at `at`."""
    x0, y0 = at[0] - u[0] * length, at[1] - u[1] * length
    x1, y1 = at[0] + u[0] * length, at[1] + u[1] * length
    a = (x1 - u[0] * 5 - u[1] * 4, y1 - u[1] * 5 + u[0] * 4)
    b = (x1 - u[0] * 5 + u[1] * 4, y1 - u[1] * 5 - u[0] * 4)
    return (
        f'<path d="M{number(x0)} {number(y0)}L{number(x1)} {number(y1)}M{number(a[0])} {number(a[1])}'
        f'L{number(x1)} {number(y1)}L{number(b[0])} {number(b[1])}" fill="none" stroke="{colour}" '
        'stroke-width="1.6"/>'
    )


def _square(at: Point, half: float) -> Rect:
    return (at[0] - half, at[1] - half, at[0] + half, at[1] + half)
