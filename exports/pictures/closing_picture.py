"""How a cover is closed, as a picture (SVG): cords and screws, or bonded lands and clamps; seen from the front."""

from __future__ import annotations

import math

from exports.pictures.closing_notes import draw_closing_notes
from exports.pictures.closing_places import distance_along, place_tags, tight_arcs
from exports.pictures.closing_symbols import (
    CORD,
    GROOVE,
    LAND,
    LAND_GROUND,
    REACH,
    TURNS,
    draw_clamp,
    draw_cord_tag,
    draw_screw_number,
    land_pattern,
    screw_radius,
)
from exports.pictures.labels import LabelRequest, Rect, place_labels
from exports.pictures.plan_picture import PANEL_HEIGHT, PANEL_WIDTH, draw_label, draw_sheet, lines_size
from exports.pictures.plan_symbols import (
    FAULT,
    FINE,
    HIDDEN,
    INK,
    SHEET,
    SHORE,
    SOFT,
    draw_region,
)
from exports.pictures.svg import View, number, path_of, track_of
from exports.pictures.whole_picture import hatch_pattern, whole_picture
from exports.wording.cord_names import cord_tag
from exports.wording.figures import show_mm
from geom.along import Way
from geom.frame import EDGES
from geom.outline import Loop, Point, outline_circle, outline_rectangle, path_points
from geom.standards import tables
from layouts.closing.wet_regions import joint_discs, outline_channel, outline_tank
from layouts.faces import cover_name
from layouts.plan import BondedLands, Coverage, Layer, Plan

WATER_FAINT = "#e3f0f5"

THROUGH = "Seen from the front, through the body. "
FROM_BACK = "worked from the back: mirrored, with x from the right-hand edge."
MIRRORED = {
    False: f"{THROUGH}The cover, and the grooves and holes in the body's back, are {FROM_BACK}",
    True: f"{THROUGH}The cover lies at the back, and is {FROM_BACK}",
}
"""What the picture of a back cover says first, by whether it is bonded."""

SHORE_STEP = 1.5
"""Between the points of the outlines that the label keeps off, [mm]."""


def draw_closing(plan: Plan, layer: Layer = "back") -> str:
    """Return the picture of one joint's closing.

    Parameters
    ----------
    plan : Plan
        Of a panel with a cover.
    layer : {"back", "front"}
        The joint.

    Returns
    -------
    str
        A whole SVG document with its own background, the same for the same plan.
    """
    panel = plan.panel
    view = View(min(PANEL_WIDTH / panel.width, PANEL_HEIGHT / panel.height), panel.height)
    width, height = panel.width * view.scale, panel.height * view.scale
    lands = plan.sealed.lands_of(layer)
    drawing = draw_sheet(panel, view)
    if lands is not None:
        drawing.append(draw_region(_sheet(plan), view, LAND, INK, 1.6))
        drawing += [
            *_wet(plan, view, layer, SHEET),
            *_openings(plan, view),
            *_bonded(plan, lands, view),
        ]
    else:
        drawing += [
            *_wet(plan, view, layer, WATER_FAINT),
            *_openings(plan, view),
            *_screwed(plan, view, layer),
        ]
    heading = _heading(plan, layer)
    left, top, right, bottom = -34.0, -8.0, width + 8.0, height + 34.0
    notes, notes_width, notes_height = draw_closing_notes(plan, layer, right - left, view.scale)
    return whole_picture(
        "Closing of " + panel.name,
        heading,
        drawing,
        (left, top, right, bottom),
        (notes, notes_width, notes_height),
        (
            hatch_pattern(),
            *land_pattern(),
            f'<clipPath id="sheet"><path d="{path_of(_sheet(plan), view)}"/></clipPath>',
        ),
        "" if layer == "front" else MIRRORED[lands is not None],
    )


def _heading(plan: Plan, layer: Layer) -> tuple[str, str]:
    make = plan.panel.make
    cover = cover_name(layer)
    if make.closing == "bonded":
        how = "bonded lands, and clamps while the bond sets"
    else:
        how = f"{show_mm(make.cord)} mm cords and {make.screw} screws"
    seen = " · seen from the front" if layer == "front" else ""
    return (
        f"{plan.panel.name}: closing of the {cover}",
        f"{show_mm(make.cover)} mm {cover} of {make.cover_row} on {make.material} · {how}{seen}",
    )


def _sheet(plan: Plan) -> tuple[Loop, ...]:
    panel = plan.panel
    return (outline_rectangle(0.0, 0.0, panel.width, panel.height, panel.corner_radius),)


def _wet_loops(plan: Plan, layer: Layer) -> list[Loop]:
    panel, routed = plan.panel, plan.routed
    loops: list[Loop] = [loop for channel in routed.channels for loop in outline_channel(channel, 0.0, layer)]
    loops += [outline_circle(at, radius) for _, at, radius in joint_discs(panel, routed, layer)]
    if routed.tank.box is not None and layer == "back":
        loops.append(outline_tank(routed, 0.0))
    return loops


def _wet(plan: Plan, view: View, layer: Layer, fill: str) -> list[str]:
    """Draw what is wet in the joint: strokes under fills leave only the outer line of each union."""
    routed = plan.routed
    loops = _wet_loops(plan, layer)
    if not loops:
        return []
    out = [draw_region(tuple(loops), view, "none", SHORE, 1.6)]
    out += [draw_region((loop,), view, fill, "none", 0.0) for loop in loops]
    if routed.tank.posts and layer == "back":
        posts = [outline_circle(at, routed.tank.post_diameter / 2) for at in routed.tank.posts]
        out.append(draw_region(tuple(posts), view, SHEET, SHORE, 1.0))
    return out


def _openings(plan: Plan, view: View) -> list[str]:
    """Draw the bores in front and back, and the pump's seat, thin: they tell where one is."""
    panel, routed = plan.panel, plan.routed
    out = []
    for port in routed.ports:
        if port.on not in EDGES:
            circle = outline_circle(port.foot, tables.thread(port.thread).tap_drill / 2)
            out.append(draw_region((circle,), view, "none", FINE, 1.0, HIDDEN if port.on == "back" else ""))
    if panel.pump.seat_diameter > 0.0:
        seat = outline_circle(routed.pump.inlet, panel.pump.seat_diameter / 2)
        out.append(draw_region((seat,), view, "none", FINE, 1.0, 'stroke-dasharray="7 4"'))
    return out


def _screwed(plan: Plan, view: View, layer: Layer) -> list[str]:
    """Draw cords, their tight corners and what no screw reaches; screws with their reach."""
    sealed, section = plan.sealed, plan.panel.make.cord
    loops, screws, coverage = sealed.loops_of(layer), sealed.screws_of(layer), sealed.coverage_of(layer)
    out: list[str] = []
    if coverage is not None:
        circles = tuple(outline_circle(at, coverage.spacing / 2) for at in screws)
        out.append('<g clip-path="url(#sheet)">')
        out += [
            draw_region((c,), view, REACH, SOFT, 0.4, 'fill-opacity="0.07" stroke-opacity="0.45"')
            for c in circles
        ]
        out.append("</g>")
    lines = [(loop, track_of(loop.path, view) + ("Z" if loop.closed else "")) for loop in loops]
    for more, colour in ((1.6, FINE), (0.0, GROOVE)):
        out += [_line(d, colour, loop.groove_width * view.scale + more) for loop, d in lines]
    out += [_line(d, CORD, loop.cord_width * view.scale) for loop, d in lines]
    for sections, colour in TURNS:
        for loop in loops:
            arcs = tight_arcs(loop, sections * section)
            out += [
                _line(track_of((arc,), view), colour, 0.45 * loop.cord_width * view.scale) for arc in arcs
            ]
    out += _bare_stretches(coverage, plan, view)
    radius = screw_radius(plan, view)
    out += [draw_screw_number(view.to(at), radius, k) for k, at in enumerate(screws, 1)]
    places = place_tags(loops, screws, radius, view)
    for place in places.values():
        if place.at != place.about:
            (x0, y0), (x1, y1) = place.about, place.at
            ends = f"M{number(x0)} {number(y0)}L{number(x1)} {number(y1)}"
            out.append(f'<path d="{ends}" stroke="{INK}" stroke-width="1.2"/>')
    out += [draw_cord_tag(places[loop.name].at, cord_tag(loop)) for loop in loops]
    return out


def _bare_stretches(coverage: Coverage | None, plan: Plan, view: View) -> list[str]:
    out = []
    loops = {loop.name: loop for loop in plan.sealed.loops}
    for stretch in coverage.stretches if coverage is not None else ():
        loop = loops[stretch.loop]
        middle = distance_along(loop.path, stretch.at)
        length = min(stretch.length, loop.length)
        piece = Way(loop.path, loop.closed).cut(middle - length / 2, middle + length / 2)
        if piece:
            out.append(_line(track_of(piece, view), FAULT, loop.cord_width * view.scale + 2.0))
    return out


def _line(d: str, colour: str, width: float) -> str:
    return f'<path d="{d}" fill="none" stroke="{colour}" stroke-width="{number(width)}" stroke-linejoin="round"/>'


def _bonded(plan: Plan, lands: BondedLands, view: View) -> list[str]:
    """Draw clamps and weights with their reach, and the narrowest land with its width."""
    places = (*lands.clamps, *lands.weights)
    out = ['<g clip-path="url(#sheet)">']
    for at in places:
        circle = outline_circle(at, lands.reach)
        out.append(
            draw_region((circle,), view, "none", SOFT, 0.6, 'stroke-opacity="0.6" stroke-dasharray="2 4"')
        )
    out.append("</g>")
    for k, at in enumerate(places, 1):
        out += draw_clamp(view.to(at), k, k > len(lands.clamps))
    a, b = (view.to(end) for end in lands.least_ends)
    length = math.dist(a, b)
    ux, uy = ((b[0] - a[0]) / length, (b[1] - a[1]) / length) if length > 0 else (1.0, 0.0)
    bars = "".join(
        f"M{number(x - 6 * uy)} {number(y + 6 * ux)}L{number(x + 6 * uy)} {number(y - 6 * ux)}"
        for x, y in (a, b)
    )
    line = f"M{number(a[0])} {number(a[1])}L{number(b[0])} {number(b[1])}{bars}"
    out.append(f'<path d="{line}" stroke="{SHEET}" stroke-width="5" fill="none"/>')
    out.append(f'<path d="{line}" stroke="{FAULT}" stroke-width="2" fill="none"/>')
    middle: Point = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    said = (f"least land {show_mm(lands.least_width)} mm",)
    taken: list[Rect] = [(x - 10.0, y - 10.0, x + 10.0, y + 10.0) for x, y in (view.to(at) for at in places)]
    taken.append((min(a[0], b[0]) - 6, min(a[1], b[1]) - 6, max(a[0], b[0]) + 6, max(a[1], b[1]) + 6))
    loops = (*_sheet(plan), *_wet_loops(plan, lands.layer))
    shore = [view.to((x, y)) for loop in loops for x, y in path_points(loop, SHORE_STEP).tolist()]
    inside = (2.0, 2.0, plan.panel.width * view.scale - 2.0, plan.panel.height * view.scale - 2.0)
    request = LabelRequest(middle, lines_size(said), 12.0)
    (label,) = place_labels((request,), tuple(taken), tuple(shore), inside)
    return [*out, *draw_label(request, said, LAND_GROUND, label)]
