"""The plan as a picture (SVG): panel, channels to width with true arcs, flow, ports, pump, tank, findings."""

from __future__ import annotations

import math
from dataclasses import dataclass

from exports.pictures.labels import LabelRequest, PlacedLabel, Rect, place_labels
from exports.pictures.plan_layers import (
    draw_channels,
    draw_grooves,
    draw_holes,
    has_front,
    list_discs,
    list_holes,
    sort_screws,
)
from exports.pictures.plan_notes import draw_notes
from exports.pictures.plan_places import (
    Mark,
    list_screws,
    list_symbols,
    place_arrows,
    place_marks,
    place_tags,
    point_along,
)
from exports.pictures.plan_posts import draw_level, draw_posts, find_level, post_squares
from exports.pictures.plan_split import draw_split, label_split, split_boxes
from exports.pictures.plan_symbols import (
    CAUTION,
    FAULT,
    FINE,
    HIDDEN,
    INK,
    PAPER,
    SHEET,
    SMALL,
    SOFT,
    TAG_RADIUS,
    TEXT,
    WATER,
    draw_badge,
    draw_bore,
    draw_chevron,
    draw_edge_port,
    draw_plug,
    draw_region,
    draw_screw,
    draw_tag,
    front_patterns,
)
from exports.pictures.svg import View, guess_width, number, text_at
from exports.pictures.whole_picture import hatch_pattern, whole_picture
from exports.wording.figures import show_banded, show_mm
from geom.findings import has_fault
from geom.frame import EDGES, INTO
from geom.outline import Point, outline_circle, outline_rectangle, path_length, round_corners, track_loops
from geom.standards import tables
from geom.units import l_min
from layouts.closing.wet_regions import outline_tank
from layouts.feed import tank_volume_ml
from layouts.panel import Panel
from layouts.plan import PlacedPort, Plan
from layouts.strength.screw_hole import clearance_hole

PANEL_WIDTH = 900.0
"""Width that a wide panel gets, in picture units."""
PANEL_HEIGHT = 620.0
"""Height that a tall panel gets, in picture units."""

RULER = 30.0
"""How far the rulers below and on the left reach out with their numbers, in picture units."""

LINE_STEP = 1.5
"""Between the points that stand for drawn lines where labels are placed, [mm]."""
TANK_STEP = 6.0
"""The same inside the tank, [mm]: its own label must stand there."""


@dataclass(frozen=True, slots=True)
class PlanDrawing:
    """The drawn plan without heading and notes.

    Parameters
    ----------
    view : View
    pieces : tuple of str
        SVG elements.
    extent : (float, float, float, float)
        What they cover, in picture units.
    marks : tuple of Mark
        The findings that have a badge.
    definitions : tuple of str
        Patterns that the pieces name.
    """

    view: View
    pieces: tuple[str, ...]
    extent: Rect
    marks: tuple[Mark, ...]
    definitions: tuple[str, ...]


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
    drawn = lay_plan(plan)
    left, _, right, _ = drawn.extent
    notes = draw_notes(plan, drawn.marks, right - left, drawn.view.scale)
    return whole_picture(
        "Plan of " + plan.panel.name,
        plan_heading(plan),
        list(drawn.pieces),
        drawn.extent,
        notes,
        drawn.definitions,
    )


def plan_scale(panel: Panel) -> float:
    """Return the picture units a millimetre with which a panel is drawn unless asked otherwise."""
    return min(PANEL_WIDTH / panel.width, PANEL_HEIGHT / panel.height)


def lay_plan(plan: Plan, scale: float | None = None) -> PlanDrawing:
    """Return the plan as drawn: panel, channels, ports, names, badges of its findings.

    Parameters
    ----------
    plan : Plan
    scale : float, optional
        Picture units a millimetre; `plan_scale` of the panel unless given.
    """
    panel = plan.panel
    view = View(plan_scale(panel) if scale is None else scale, panel.height)
    drawing = [
        *draw_sheet(plan.panel, view),
        *draw_grooves(plan, view, "back"),
        *draw_channels(plan, view, "back"),
    ]
    drawing += [*draw_level(plan, view), *draw_posts(plan, view)]
    drawing += [*draw_grooves(plan, view, "front"), *draw_channels(plan, view, "front")]
    drawing += [*draw_holes(plan, view), *_dry(plan, view), *draw_split(plan, view)]
    tags = place_tags(plan, view)
    arrows = place_arrows(plan, view, tags)
    drawing += [draw_chevron(one.at, (one.along[0], -one.along[1]), one.size) for one in arrows]
    drawing += [draw_tag(at, str(k)) for k, at in enumerate(tags.values(), 1)]
    busy = [*list_symbols(plan, view), *((at, TAG_RADIUS) for at in tags.values())]
    busy += [(one.at, one.size) for one in arrows]
    busy += list_screws(plan, view)
    marks = place_marks(plan.findings, view, tuple(busy))
    labels, label_boxes = _labels(plan, view, tags, marks)
    drawing += labels
    drawing += _draw_marks(marks)

    width, height = panel.width * view.scale, panel.height * view.scale
    left = min([-34.0, *(b[0] for b in label_boxes)])
    right = max([width + 8.0, *(b[2] for b in label_boxes)])
    top = min([-8.0, *(b[1] for b in label_boxes)])
    bottom = max([height + 34.0, *(b[3] for b in label_boxes)])
    patterns = (hatch_pattern(), *(front_patterns() if has_front(plan) else ()))
    return PlanDrawing(view, tuple(drawing), (left, top, right, bottom), marks, patterns)


def plan_heading(plan: Plan) -> tuple[str, str]:
    """Return the title over a plan, and what stands under it: size, making, flow, whether there are faults."""
    panel, flowing = plan.panel, plan.flowing
    result = "with faults" if has_fault(plan.findings) else "no faults"
    size = f"{show_mm(panel.width)} × {show_mm(panel.height)} × {show_mm(panel.make.body)} mm"
    flow = show_banded(l_min(flowing.flow_m3_s), flowing.band)
    head = show_banded(flowing.head_m, flowing.head_band)
    return (
        panel.name,
        f"{size}, {panel.make.material}, {panel.make.method}, {panel.make.closing} · "
        f"{flow} L/min at {head} m of head (±{100 * flowing.band:.0f} %) · {result} · seen from the front",
    )


def draw_sheet(panel: Panel, view: View) -> list[str]:
    """Draw the panel's outline, its keep-clear regions (filled with the pattern "hatch") and a ruler on two edges."""
    outline = outline_rectangle(0.0, 0.0, panel.width, panel.height, panel.corner_radius)
    out = [draw_region((outline,), view, SHEET, INK, 1.6)]
    out += [
        draw_region((outline_rectangle(*clear.box, 0.0),), view, "url(#hatch)", SOFT, 0.8)
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


def _dry(plan: Plan, view: View) -> list[str]:
    panel, routed = plan.panel, plan.routed
    out: list[str] = []
    pump = panel.pump
    behind = pump.on == "back"
    if pump.seat_diameter > 0.0:
        seat = outline_circle(routed.pump.inlet, pump.seat_diameter / 2)
        out.append(draw_region((seat,), view, "none", INK, 1.0, 'stroke-dasharray="7 4"'))
    for at, bore, leaves in (
        (routed.pump.inlet, pump.inlet_bore, True),
        (routed.pump.outlet, pump.outlet_bore, False),
    ):
        out += draw_bore(at, bore / 2, leaves, view, behind)
    for at in routed.pump.screws:
        out.append(draw_region((outline_circle(at, 1.7),), view, SHEET, INK, 1.0, HIDDEN if behind else ""))
    out += _screws(plan, view)
    for port in routed.ports:
        thread = tables.thread(port.thread)
        if port.on in EDGES:
            out += draw_edge_port(port, thread.tap_drill, view)
        else:
            out.append(draw_region((outline_circle(port.foot, thread.collar / 2),), view, "none", FINE, 1.0))
            radius, behind = thread.tap_drill / 2, port.on == "back"
            out += (
                draw_plug(port.foot, radius, view, behind)
                if port.is_shut
                else draw_bore(port.foot, radius, port.role == "inlet", view, behind)
            )
    return out


def _screws(plan: Plan, view: View) -> list[str]:
    """Draw the cover screws."""
    groups = sort_screws(plan)
    radius = clearance_hole(plan.panel) / 2 if groups else 0.0
    return [draw_screw(at, radius, kind, view) for kind, group in groups.items() for at in group]


def _labels(
    plan: Plan, view: View, tags: dict[str, Point], marks: tuple[Mark, ...]
) -> tuple[list[str], list[Rect]]:
    """Place and draw the names of ports, pump, tank and keep-clear regions."""
    panel, routed = plan.panel, plan.routed
    width, height = panel.width * view.scale, panel.height * view.scale
    taken: list[Rect] = [_square(at, 10.0) for at in tags.values()]
    taken += [_square(m.at, 11.0) for m in marks if m.at is not None]
    taken += [
        _square(view.to(at), 3.0 * view.scale)
        for at in (*plan.sealed.screws, *plan.sealed.front_screws, *routed.pump.screws)
    ]
    taken += [_square(view.to(at), radius * view.scale + 1) for at, radius in list_holes(plan)]
    taken += [_square(at, radius) for at, radius in list_discs(plan, view, "front")]
    taken.append((-34.0, height, width, height + 27.0))
    taken.append((-34.0, 0.0, 0.0, height))
    level = find_level(plan)
    if level is not None:
        steps = math.ceil(math.dist(*level) / LINE_STEP)
        shares = [k / steps for k in range(steps + 1)]
        (x0, y0), (x1, y1) = level
        taken += [_square(view.to((x0 + (x1 - x0) * share, y0 + (y1 - y0) * share)), 1.0) for share in shares]
    taken += [*post_squares(plan, view), *split_boxes(plan, view)]
    for port in routed.ports:
        if port.on in EDGES:
            dx, dy, _ = INTO[port.on]
            half, tip = tables.thread(port.thread).tap_drill / 2, port.depth
            xs = sorted((port.at[0] - abs(dy) * half, port.at[0] + abs(dy) * half + dx * tip))
            ys = sorted((port.at[1] - abs(dx) * half, port.at[1] + abs(dx) * half + dy * tip))
            taken.append((*view.to((xs[0], ys[1])), *view.to((xs[1], ys[0]))))
    wanted: list[tuple[LabelRequest, tuple[str, ...], str]] = []
    behind = ("on the back",) if panel.pump.on == "back" else ()
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
        size = lines_size(lines)
        if port.on in EDGES:
            ix, iy, _ = INTO[port.on]
            anchor = view.to((port.at[0], port.at[1]))
            gap = RULER if port.on in ("bottom", "left") else 14.0
            wanted.append((LabelRequest(anchor, size, gap, (-ix, iy)), lines, PAPER))
        else:
            anchor = view.to(port.foot)
            gap = tables.thread(port.thread).collar / 2 * view.scale + 3.0
            wanted.append((LabelRequest(anchor, size, gap), lines, SHEET))
    for at, lines, bore in (
        (pump_at, ("pump inlet", *behind, f"turned {routed.pump.turn_deg}°"), panel.pump.inlet_bore),
        (pump_out, ("pump outlet", *behind), panel.pump.outlet_bore),
    ):
        wanted.append((LabelRequest(at, lines_size(lines), bore / 2 * view.scale + 6.0), lines, SHEET))
    if routed.tank.box is not None:
        x0, y0, x1, y1 = routed.tank.box
        anchor = view.to(((x0 + x1) / 2, (y0 + y1) / 2))
        lines = ("tank", f"about {tank_volume_ml(panel, routed):.0f} mL")
        home = (*view.to((x0, y1)), *view.to((x1, y0)))
        wanted.append((LabelRequest(anchor, lines_size(lines), 0.0, None, home), lines, WATER))
    plane = label_split(plan, view, lines_size(("split",)))
    if plane is not None:
        wanted.append((plane, ("split",), PAPER))
    # First the names of what is kept clear, which stand on it: all others keep off it and them.
    regions = [
        (*view.to((x0, y1)), *view.to((x1, y0))) for x0, y0, x1, y1 in (c.box for c in panel.keep_clear)
    ]
    names = [
        (LabelRequest(((x0 + x1) / 2, (y0 + y1) / 2), lines_size((clear.name,)), 0.0), (clear.name,), SHEET)
        for clear, (x0, y0, x1, y1) in zip(panel.keep_clear, regions, strict=True)
    ]
    within, points = (2.0, 2.0, width - 2.0, height - 2.0), _line_points(plan, view)
    on_them = place_labels(tuple(w[0] for w in names), tuple(taken), points, within)
    taken += [*regions, *(label.box for label in on_them)]
    placed = (*on_them, *place_labels(tuple(w[0] for w in wanted), tuple(taken), points, within))
    out: list[str] = []
    for (request, lines, ground), label in zip((*names, *wanted), placed, strict=True):
        out += draw_label(request, lines, ground, label)
    return out, [label.box for label in placed]


def draw_label(request: LabelRequest, lines: tuple[str, ...], ground: str, label: PlacedLabel) -> list[str]:
    """Draw a placed label on a halo of its ground's colour, with a leader line where it stands far off."""
    anchor = request.anchor
    x0, y0, x1, y1 = label.box
    out = []
    if label.led:
        near = (min(max(anchor[0], x0), x1), min(max(anchor[1], y0), y1))
        length = math.dist(anchor, near)
        start = min(request.gap - 2.0, length) / length if length > 0 else 0.0
        if request.outward is not None:
            ux, uy = request.outward
            outward = (near[0] - anchor[0]) * ux + (near[1] - anchor[1]) * uy
            # Beyond the numbers of the rulers, which stand below and on the left, where there is room for that.
            past = RULER + 6.0 if request.gap >= RULER and outward > RULER + 12.0 else 4.0
            start = past / outward if outward > past else 0.0
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
    where = ", back" if port.on == "back" else ""
    if port.name == f"{port.part} {port.role}":
        return (port.part, f"{port.role} {port.thread}{where}")
    return (port.name, f"{port.thread}{where}")


def lines_size(lines: tuple[str, ...]) -> tuple[float, float]:
    """Return width and height of a label's lines."""
    width = max(guess_width(line, TEXT if k == 0 else SMALL) for k, line in enumerate(lines))
    return (width, TEXT * 1.15 + SMALL * 1.2 * (len(lines) - 1))


def _line_points(plan: Plan, view: View) -> tuple[Point, ...]:
    """Return points all over the channels, along grooves, collars and the pump's seat, for labels to keep off."""
    points: list[Point] = []
    for channel in plan.routed.channels:
        half = channel.width / 2
        for run in channel.runs:
            segments = round_corners(run.points, channel.bend_radius)
            length = path_length(segments)
            for k in range(int(length / LINE_STEP) + 1):
                (x, y), (ux, uy) = point_along(segments, min(length, LINE_STEP * k))
                points += [view.to((x - uy * side, y + ux * side)) for side in (-half, 0.0, half)]
    loops = [track_loops(cord.path, cord.closed, cord.groove_width)[0] for cord in plan.sealed.loops]
    loops += [
        outline_circle(port.foot, tables.thread(port.thread).collar / 2)
        for port in plan.routed.ports
        if port.on not in EDGES
    ]
    if plan.panel.pump.seat_diameter > 0.0:
        loops.append(outline_circle(plan.routed.pump.inlet, plan.panel.pump.seat_diameter / 2))
    box = plan.routed.tank.box
    if box is not None:
        loops.append(outline_tank(plan.routed, 0.0))
        columns, rows = int((box[2] - box[0]) / TANK_STEP), int((box[3] - box[1]) / TANK_STEP)
        inside = [(i + 0.5, j + 0.5) for i in range(columns) for j in range(rows)]
        points += [view.to((box[0] + i * TANK_STEP, box[1] + j * TANK_STEP)) for i, j in inside]
    for loop in loops:
        length = path_length(loop)
        points += [view.to(point_along(loop, LINE_STEP * k)[0]) for k in range(int(length / LINE_STEP) + 1)]
    return tuple(points)


def _draw_marks(marks: tuple[Mark, ...]) -> list[str]:
    out: list[str] = []
    for mark in marks:
        if mark.at is None or mark.about is None:
            continue
        colour = FAULT if mark.finding.severity == "fault" else CAUTION
        if mark.at != mark.about:
            (x0, y0), (x1, y1) = mark.about, mark.at
            ends = f"M{number(x0)} {number(y0)}L{number(x1)} {number(y1)}"
            out.append(f'<path d="{ends}" stroke="{colour}" stroke-width="1.2"/>')
        out += draw_badge(mark.at, mark.letter, colour)
    return out


def _square(at: Point, half: float) -> Rect:
    return (at[0] - half, at[1] - half, at[0] + half, at[1] + half)
