"""Why a panel has no layout, as a picture (SVG): what was asked for, what stands in the way, and where.

Conflicting channels are dashed straight lines with their names, a gap is dimensioned, places in the way are marked
with crosses: nothing is told by colour alone.
"""

from __future__ import annotations

import math
from itertools import pairwise

from exports.failure_report import KINDS, tell_remedy
from exports.figures import show_mm, wrap_words
from exports.labels import LabelRequest, Rect, place_labels
from exports.plan_picture import MARGIN, PANEL_HEIGHT, PANEL_WIDTH, draw_label, draw_sheet, lines_size
from exports.plan_symbols import (
    FAULT,
    HIDDEN,
    INK,
    PAPER,
    SHEET,
    SHORE,
    SOFT,
    STILL,
    TEXT,
    draw_bore,
    draw_region,
)
from exports.svg import FONT, View, attribute, number, text_at, text_width
from geom.frame import EDGES
from geom.outline import Point, outline_circle, outline_rectangle
from geom.standards import tables
from layouts.clearance import feed_width
from layouts.explain import find_port_middle
from layouts.failure import LayoutFailure, Link
from layouts.panel import Box, Panel, Port
from layouts.place import Placement
from layouts.tank import tank_corner_radius

HEAD_HEIGHT = 58.0
DASHES = ("10 5", "3 4", "14 4 3 4", "6 3")
"""One for each channel concerned, by turns."""
CROSS = 2.6
"""Half the size of a cross, in picture units."""
ROOM = 'stroke-dasharray="12 5"'
"""Of the boxes in which pump and tank may stand."""
LINE_STEP = 6.0
"""Between the points that stand for drawn lines where labels are placed, in picture units."""
MOST_CROSSES = 600

Label = tuple[LabelRequest, tuple[str, ...], str]


def draw_failure(failure: LayoutFailure) -> str:
    """Return the failure's picture.

    Parameters
    ----------
    failure : LayoutFailure

    Returns
    -------
    str
        A whole SVG document with its own background, the same for the same failure.
    """
    panel = failure.panel
    view = View(min(PANEL_WIDTH / panel.width, PANEL_HEIGHT / panel.height), panel.height)
    drawing = [*draw_sheet(panel, view), *_draw_asked(failure, view), *_draw_crosses(failure, view)]
    drawing += [line for k, link in enumerate(failure.links) for line in _draw_link(link, k, view)]
    drawing += _draw_gap(failure, view)
    labels, boxes = _draw_labels(failure, view)
    drawing += labels

    width, height = panel.width * view.scale, panel.height * view.scale
    left, top = min([-34.0, *(b[0] for b in boxes)]), min([-8.0, *(b[1] for b in boxes)])
    right = max([width + 8.0, *(b[2] for b in boxes)])
    bottom = max([height + 34.0, *(b[3] for b in boxes)])
    heading = _heading(failure)
    full = max(right - left, 640.0, text_width(heading[0], 20.0), text_width(heading[1], 13.0))
    notes, notes_height = _draw_notes(failure, full)
    whole_width = full + 2 * MARGIN
    origin = (MARGIN - left, MARGIN + HEAD_HEIGHT - top)
    notes_top = origin[1] + bottom + 20.0
    whole_height = notes_top + notes_height + MARGIN
    return "\n".join(
        (
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(whole_width)}" '
            f'height="{number(whole_height)}" viewBox="0 0 {number(whole_width)} {number(whole_height)}" '
            f'font-family={attribute(FONT)} role="img" '
            f"aria-label={attribute(f'Why {panel.name} has no layout')}>",
            "<defs>",
            '<pattern id="hatch" width="7" height="7" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate(45)"><path d="M0 0V7" stroke="{SOFT}" stroke-width="1.4"/></pattern>',
            "</defs>",
            f'<rect width="100%" height="100%" fill="{PAPER}"/>',
            text_at(MARGIN, MARGIN + 18, heading[0], 20.0, INK, 'font-weight="600"'),
            text_at(MARGIN, MARGIN + 38, heading[1], 13.0, FAULT),
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


def _heading(failure: LayoutFailure) -> tuple[str, str]:
    panel = failure.panel
    size = f"{show_mm(panel.width)} × {show_mm(panel.height)} × {show_mm(panel.make.body)} mm"
    proof = "proven" if failure.proven else "not proven"
    return panel.name, f"no layout: {KINDS[failure.kind]} ({proof}) · {size} · seen from the front"


def _asked_ports(panel: Panel) -> tuple[Port, ...]:
    parts = [port for part in panel.parts for port in (part.inlet, part.outlet)]
    own = (panel.tank.outlet, panel.tank.inlet, panel.drain)
    return (*parts, *(port for port in own if port is not None))


def _draw_asked(failure: LayoutFailure, view: View) -> list[str]:
    """Draw tank, pump and drop where they were tried, and the ports where they may stand."""
    panel = failure.panel
    out = (
        _draw_boxes(panel, view)
        if failure.placement is None
        else _draw_placed(panel, failure.placement, view)
    )
    for port in _asked_ports(panel):
        if port.within is not None:
            out.append(draw_region((outline_rectangle(*port.within, 0.0),), view, "none", INK, 1.0, HIDDEN))
        elif port.on in EDGES:
            a, b = _edge_span(panel, port)
            out.append(
                f'<path d="M{view.xy(a)}L{view.xy(b)}" stroke="{INK}" stroke-width="5" stroke-dasharray="3 2"/>'
            )
        else:
            radius = tables.thread(port.thread).tap_drill / 2
            middle = find_port_middle(panel, port)
            out += draw_bore(middle, radius, port.role == "inlet", view, port.on == "back")
    return out


def _draw_boxes(panel: Panel, view: View) -> list[str]:
    """Draw where pump and tank may stand, long dashes, and each with its size in the middle of it."""
    out: list[str] = []
    tank, x, y = _tank_room(panel), *_middle(pump_room(panel))
    if tank is not None and panel.tank.size is not None:
        (mx, my), (width, height) = _middle(tank), panel.tank.size
        box = (mx - width / 2, my - height / 2, mx + width / 2, my + height / 2)
        shape = outline_rectangle(*box, tank_corner_radius(panel))
        out.append(draw_region((shape,), view, STILL, SHORE, 1.4))
        out.append(draw_region((outline_rectangle(*tank, 0.0),), view, "none", INK, 1.6, ROOM))
    if panel.pump.seat_diameter > 0.0:
        out.append(
            draw_region((outline_circle((x, y), panel.pump.seat_diameter / 2),), view, "none", INK, 1.0)
        )
    out.append(draw_region((outline_rectangle(*pump_room(panel), 0.0),), view, "none", INK, 1.6, ROOM))
    return out


def pump_room(panel: Panel) -> Box:
    """Return the box that the pump's seat must stay in, [mm]: its own outline where it has no choice."""
    pump = panel.pump
    if pump.within is not None:
        return pump.within
    assert pump.at is not None
    (x, y), radius = pump.at, max(pump.seat_diameter, pump.inlet_bore) / 2
    return x - radius, y - radius, x + radius, y + radius


def _tank_room(panel: Panel) -> Box | None:
    """Return the box that a pocket tank must stay in, [mm]; None for a separate tank."""
    tank = panel.tank
    if tank.size is None:
        return None
    if tank.within is not None:
        return tank.within
    assert tank.at is not None
    return (*tank.at, tank.at[0] + tank.size[0], tank.at[1] + tank.size[1])


def _middle(box: Box) -> Point:
    return (box[0] + box[2]) / 2, (box[1] + box[3]) / 2


def _draw_placed(panel: Panel, placement: Placement, view: View) -> list[str]:
    out: list[str] = []
    if placement.box is not None:
        tank = outline_rectangle(*placement.box, tank_corner_radius(panel))
        out.append(draw_region((tank,), view, STILL, SHORE, 1.4))
    half = feed_width(panel) / 2
    (x, y0), (_, y1) = placement.inlet, placement.top
    drop = outline_rectangle(x - half, y0, x + half, y1, 0.0)
    out.append(draw_region((drop,), view, STILL, SHORE, 1.0))
    if panel.pump.seat_diameter > 0.0:
        seat = outline_circle(placement.inlet, panel.pump.seat_diameter / 2)
        out.append(draw_region((seat,), view, "none", INK, 1.0, 'stroke-dasharray="7 4"'))
    behind = panel.pump.on == "back"
    out += draw_bore(placement.inlet, panel.pump.inlet_bore / 2, True, view, behind)
    out += draw_bore(placement.outlet, panel.pump.outlet_bore / 2, False, view, behind)
    return out


def _edge_span(panel: Panel, port: Port) -> tuple[Point, Point]:
    """Return the ends of the piece of edge on which a port may stand, [mm]; a fixed one's is its bore."""
    upright = port.on in ("left", "right")
    size = panel.height if upright else panel.width
    if port.at is not None:
        half, along = tables.thread(port.thread).tap_drill / 2, port.at[1] if upright else port.at[0]
        low, high = along - half, along + half
    else:
        low, high = port.between if port.between is not None else (0.0, size)
    if upright:
        x = 0.0 if port.on == "left" else panel.width
        return (x, low), (x, high)
    y = 0.0 if port.on == "bottom" else panel.height
    return (low, y), (high, y)


def _draw_crosses(failure: LayoutFailure, view: View) -> list[str]:
    """Draw the places in the way; a gap that is dimensioned needs none."""
    marks: list[str] = []
    if failure.gap is not None:
        return marks
    for at in failure.cells[:MOST_CROSSES]:
        x, y = view.to(at)
        a, b, c, d = (number(v) for v in (x - CROSS, x + CROSS, y - CROSS, y + CROSS))
        marks.append(f"M{a} {c}L{b} {d}M{a} {d}L{b} {c}")
    return [f'<path d="{"".join(marks)}" stroke="{FAULT}" stroke-width="1.1"/>'] if marks else []


def _draw_link(link: Link, number_of: int, view: View) -> list[str]:
    """Draw a channel that was asked for: straight, dashed, from its first end to each other."""
    dash = DASHES[number_of % len(DASHES)]
    first = link.ends[0]
    way = "".join(f"M{view.xy(first)}L{view.xy(other)}" for other in link.ends[1:])
    out = [f'<path d="{way}" stroke="{INK}" stroke-width="2" stroke-dasharray="{dash}" fill="none"/>']
    for end in link.ends:
        x, y = view.to(end)
        out.append(f'<circle cx="{number(x)}" cy="{number(y)}" r="4" fill="{INK}"/>')
    return out


def _draw_gap(failure: LayoutFailure, view: View) -> list[str]:
    """Draw the gap's width as a dimension: a line between two short ones, with points at its ends."""
    gap = failure.gap
    if gap is None:
        return []
    (x0, y0), (x1, y1) = view.to(gap.start), view.to(gap.end)
    length = math.dist((x0, y0), (x1, y1))
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    ends = []
    for x, y, way in ((x0, y0, 1.0), (x1, y1, -1.0)):
        ends.append(f"M{number(x - 9 * uy)} {number(y + 9 * ux)}L{number(x + 9 * uy)} {number(y - 9 * ux)}")
        bx, by = x + way * 7 * ux, y + way * 7 * uy
        tips = [(bx - 3 * uy, by + 3 * ux), (x, y), (bx + 3 * uy, by - 3 * ux)]
        ends.append("M" + "L".join(f"{number(px)} {number(py)}" for px, py in tips))
    line = f"M{number(x0)} {number(y0)}L{number(x1)} {number(y1)}{''.join(ends)}"
    return [f'<path d="{line}" stroke="{FAULT}" stroke-width="2" fill="none"/>']


def _draw_labels(failure: LayoutFailure, view: View) -> tuple[list[str], list[Rect]]:
    """Place and draw the names of the channels concerned, the gap, ports, tank, pump and keep-clear regions."""
    panel = failure.panel
    width, height = panel.width * view.scale, panel.height * view.scale
    wanted = _list_labels(failure, view)
    lines: list[Point] = []
    for link in failure.links:
        for other in link.ends[1:]:
            lines += _points_along(view.to(link.ends[0]), view.to(other))
    boxes = [port.within for port in _asked_ports(panel)]
    if failure.placement is None:
        boxes += [pump_room(panel), _tank_room(panel)]
    for box in boxes:
        if box is not None:
            x0, y0, x1, y1 = box
            corners = [view.to(p) for p in ((x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0))]
            for a, b in pairwise(corners):
                lines += _points_along(a, b)
    taken: list[Rect] = [(-34.0, height, width, height + 27.0), (-34.0, 0.0, 0.0, height)]
    for port in _asked_ports(panel):
        if port.on not in EDGES and port.at is not None:
            (x, y), half = view.to(port.at), tables.thread(port.thread).tap_drill / 2 * view.scale + 1.0
            taken.append((x - half, y - half, x + half, y + half))
    if failure.gap is not None:
        (x0, y0), (x1, y1) = view.to(failure.gap.start), view.to(failure.gap.end)
        taken.append((min(x0, x1) - 9.0, min(y0, y1) - 9.0, max(x0, x1) + 9.0, max(y0, y1) + 9.0))
    placed = place_labels(
        tuple(label[0] for label in wanted), tuple(taken), tuple(lines), (2.0, 2.0, width - 2.0, height - 2.0)
    )
    out: list[str] = []
    for (request, said, ground), label in zip(wanted, placed, strict=True):
        out += draw_label(request, said, ground, label)
    return out, [label.box for label in placed]


def _list_labels(failure: LayoutFailure, view: View) -> list[Label]:
    panel = failure.panel
    wanted: list[Label] = []

    def ask(at: Point, said: tuple[str, ...], gap: float, outward: Point | None = None) -> None:
        ground = SHEET if outward is None else PAPER
        wanted.append((LabelRequest(view.to(at), lines_size(said), gap, outward), said, ground))

    if failure.gap is not None:
        gap = failure.gap
        middle = ((gap.start[0] + gap.end[0]) / 2, (gap.start[1] + gap.end[1]) / 2)
        ask(middle, (f"gap {gap.width:.1f} mm wide", f"{gap.needed:.1f} mm needed"), 14.0)
    for link in failure.links:
        (x0, y0), (x1, y1) = link.ends[0], link.ends[-1]
        ask(((x0 + x1) / 2, (y0 + y1) / 2), (link.channel,), 6.0)
    for port in _asked_ports(panel):
        said = (port.name, f"{port.thread}{', back' if port.on == 'back' else ''}")
        middle = find_port_middle(panel, port)
        if port.on in EDGES:
            outward = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "top": (0.0, -1.0), "bottom": (0.0, 1.0)}[
                port.on
            ]
            ask(middle, said, 30.0 if port.on in ("bottom", "left") else 14.0, outward)
        elif port.within is not None:
            x0, y0, x1, y1 = port.within
            ask(middle, said, max(x1 - x0, y1 - y0) / 2 * view.scale * 0.7 + 3.0)
        else:
            ask(middle, said, tables.thread(port.thread).tap_drill / 2 * view.scale + 3.0)
    placement, box = failure.placement, _tank_room(panel)
    tank: tuple[str, ...] = ("tank",)
    if placement is None:
        room = pump_room(panel)
        ask(_middle(room), ("pump", f"seat {show_mm(panel.pump.seat_diameter)} mm"), 0.0)
        ask((_middle(room)[0], room[1]), ("where the pump may stand",), 8.0)
        if box is not None:
            ask((_middle(box)[0], box[3]), ("where the tank may stand",), 8.0)
    else:
        ask(
            placement.inlet,
            ("pump inlet", f"turned {placement.turn_deg}°"),
            panel.pump.inlet_bore / 2 * view.scale + 6.0,
        )
        ask(placement.outlet, ("pump outlet",), panel.pump.outlet_bore / 2 * view.scale + 6.0)
        box = placement.box
    if box is not None:
        x0, y0, x1, y1 = box
        home = (*view.to((x0, y1)), *view.to((x1, y0)))
        request = LabelRequest(view.to(_middle(box)), lines_size(tank), 0.0, None, home)
        wanted.append((request, tank, STILL))
    for clear in panel.keep_clear:
        ask(((clear.box[0] + clear.box[2]) / 2, (clear.box[1] + clear.box[3]) / 2), (clear.name,), 0.0)
    return wanted


def _points_along(a: Point, b: Point) -> list[Point]:
    count = max(1, int(math.dist(a, b) / LINE_STEP))
    return [(a[0] + (b[0] - a[0]) * k / count, a[1] + (b[1] - a[1]) * k / count) for k in range(count + 1)]


def _draw_notes(failure: LayoutFailure, width: float) -> tuple[list[str], float]:
    """Draw the reason and what to try as text; return its height too."""
    most = int(width / (0.6 * TEXT))
    out: list[str] = []
    y = 10.0
    for line in wrap_words(f"{failure.text} {failure.describe_places()}", most):
        out.append(text_at(0.0, y, line, TEXT, INK))
        y += 16.0
    if failure.remedies:
        y += 6.0
        out.append(text_at(0.0, y, "What to try:", TEXT, INK, 'font-weight="600"'))
        y += 16.0
    for remedy in failure.remedies:
        for k, line in enumerate(wrap_words(tell_remedy(failure, remedy), most - 4)):
            out.append(text_at(14.0, y, ("– " if k == 0 else "   ") + line, TEXT, INK))
            y += 16.0
    legend = (
        "dashed with a name: a channel asked for, straight; dashed boxes and edges: where a port may stand"
        if failure.placement is not None
        else "long dashes: where pump and tank may stand; short dashes: where a port may"
    )
    if failure.cells and failure.gap is None:
        legend += (
            "; crosses: places in the way" if failure.kind == "unreachable" else "; crosses: the gap's nodes"
        )
    for line in wrap_words(legend, most):
        y += 6.0
        out.append(text_at(0.0, y, line, TEXT, SOFT))
        y += 10.0
    return out, y
