"""Why a panel has no layout, as a picture (SVG): what was asked for, what stands in the way, and where.

Conflicting channels are dashed straight lines with their names, a gap is dimensioned, places in the way are marked
with crosses: nothing is told by colour alone.
"""

from __future__ import annotations

import math

from exports.pictures.failure_labels import asked_ports, draw_failure_labels, middle_of, pump_room, tank_room
from exports.pictures.plan_picture import PANEL_HEIGHT, PANEL_WIDTH, draw_sheet
from exports.pictures.plan_symbols import (
    FAULT,
    HIDDEN,
    INK,
    PAPER,
    SHORE,
    SOFT,
    STILL,
    TEXT,
    draw_bore,
    draw_region,
)
from exports.pictures.svg import FONT, View, attribute, guess_width, number, text_at
from exports.pictures.whole_picture import MARGIN, hatch_pattern
from exports.report.failure import tell_remedy
from exports.wording.figures import show_mm, wrap_words
from geom.frame import EDGES
from geom.outline import Point, outline_circle, outline_rectangle
from geom.standards import tables
from layouts.clearance import feed_width
from layouts.explain import find_port_middle
from layouts.failure import LayoutFailure, Link
from layouts.panel import Panel, Port
from layouts.place import Placement
from layouts.tank import tank_corner_radius

HEAD_HEIGHT = 58.0
DASHES = ("10 5", "3 4", "14 4 3 4", "6 3")
"""One for each channel concerned, by turns."""
CROSS = 2.6
"""Half the size of a cross, in picture units."""
ROOM = 'stroke-dasharray="12 5"'
"""Of the boxes in which pump and tank may stand."""
MOST_CROSSES = 600


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
    labels, boxes = draw_failure_labels(failure, view)
    drawing += labels

    width, height = panel.width * view.scale, panel.height * view.scale
    left, top = min([-34.0, *(b[0] for b in boxes)]), min([-8.0, *(b[1] for b in boxes)])
    right = max([width + 8.0, *(b[2] for b in boxes)])
    bottom = max([height + 34.0, *(b[3] for b in boxes)])
    heading = _heading(failure)
    full = max(right - left, 640.0, guess_width(heading[0], 20.0), guess_width(heading[1], 13.0))
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
            hatch_pattern(),
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
    return panel.name, f"{failure.headline} · {size} · seen from the front"


def _draw_asked(failure: LayoutFailure, view: View) -> list[str]:
    """Draw tank, pump and drop where they were tried, and the ports where they may stand."""
    panel = failure.panel
    out = (
        _draw_boxes(panel, view)
        if failure.placement is None
        else _draw_placed(panel, failure.placement, view)
    )
    for port in asked_ports(panel):
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
    tank, x, y = tank_room(panel), *middle_of(pump_room(panel))
    if tank is not None and panel.tank.size is not None:
        (mx, my), (width, height) = middle_of(tank), panel.tank.size
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


def _draw_notes(failure: LayoutFailure, width: float) -> tuple[list[str], float]:
    """Draw the reason and what to try as text; return its height too."""
    most = int(width / (0.6 * TEXT))
    out: list[str] = []
    y = 10.0
    for line in wrap_words(f"{failure.describe_reason()} {failure.describe_places()}", most):
        out.append(text_at(0.0, y, line, TEXT, INK))
        y += 16.0
    if failure.remedies:
        y += 6.0
        out.append(text_at(0.0, y, "What to try:", TEXT, INK, 'font-weight="600"'))
        y += 16.0
    for remedy in failure.remedies:
        for k, line in enumerate(wrap_words(tell_remedy(failure, remedy), most - 4)):
            out.append(text_at(14.0, y, ("· " if k == 0 else "   ") + line, TEXT, INK))
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
