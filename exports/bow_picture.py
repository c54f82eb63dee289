"""How a cover bows as a picture (SVG): its lift as a map in steps, its cords and screws, and the places that count.

Seen from the front like the plan, so that every place stands where it does there; the back cover is seen through the
body.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from exports.axes import round_ticks, show_tick, widen_to_ticks
from exports.contours import trace_above
from exports.cover_tables import LEFT_COLUMNS, bending_rows, show_lift
from exports.figures import wrap_words
from exports.labels import LabelRequest, Rect, place_labels
from exports.plan_picture import MARGIN, PANEL_HEIGHT, PANEL_WIDTH, draw_label, draw_sheet, lines_size
from exports.plan_symbols import INK, PAPER, SHEET, SMALL, SOFT, TEXT, draw_region, draw_screw
from exports.svg import FONT, View, attribute, number, text_at, text_width, track_of
from geom.outline import Point, outline_circle, outline_rectangle, path_points
from geom.standards import tables
from geom.units import show_number
from layouts.faces import passes_joint
from layouts.plan import CordLoop, Plan
from layouts.rules.cover_rules import CordLift, cord_lifts, cover_name, find_stress, tell_case
from layouts.strength.bow_limits import bow_limits
from layouts.strength.results import CoverBending, CoverCase

BANDS = ("#f3efe2", "#d8d7ad", "#b1c192", "#81ab8c", "#52948f", "#327a8c", "#2c5e83", "#314272")
"""From no lift to the most: each darker than the one before by the same step, for every colour vision."""

COARSE_MM = 0.15
"""Farthest that an outline of the map may be drawn beside its course."""

MARK = 6.0
"""Half the size of the mark of a place, picture units."""

LINE_STEP = 2.0
"""Between the points that stand for drawn cords where labels are placed, [mm]."""

BAR = (40.0, 14.0)
"""Width and height of a step of the scale, picture units."""

LEAST_MM = 1e-4
"""Lift that a map shows at least: less is nothing that a cover keeps."""

FINE_SCALE = 0.02
"""Most lift of a map whose scale is told in thousandths, [mm]."""

CAUTION = (
    "Calculated as a plate that lies on the body and is held down under the screws' heads, which are taken as rigid. "
    "A plastic's stiffness scatters by a tenth from sheet to sheet, and what creep leaves of it by more. The cords "
    "push with their largest squeeze. Not counted: what the screws' heads press into the cover, and parts on it."
)


@dataclass(frozen=True, slots=True)
class _Place:
    """A place that counts: its mark and what is said of it."""

    kind: str
    at: Point
    lines: tuple[str, ...]


def draw_bow(plan: Plan, bending: CoverBending) -> str:
    """Return the picture of how a cover bows, in the case in which it lifts most off its cords.

    Parameters
    ----------
    plan : Plan
    bending : CoverBending

    Returns
    -------
    str
        A whole SVG document, the same for the same values.
    """
    panel = plan.panel
    view = View(min(PANEL_WIDTH / panel.width, PANEL_HEIGHT / panel.height), panel.height)
    worst = max(cord_lifts(plan.sealed, bending), key=lambda one: one.lift)
    case = worst.case
    levels = _levels(case)
    loops = tuple(loop for loop in plan.sealed.loops if loop.layer == bending.layer)
    places = _places(plan, worst)
    drawing = [
        *draw_sheet(replace(panel, keep_clear=()), view),
        *_draw_map(case, levels, view),
        *_draw_holes(plan, bending, view),
        *_draw_cords(loops, view),
        *_draw_screws(plan, bending, view),
        *(_draw_mark(place.kind, view.to(place.at)) for place in places),
    ]
    labels, boxes = _draw_labels(plan, bending, loops, places, view)
    drawing += labels
    width, height = panel.width * view.scale, panel.height * view.scale
    left, top = min([-34.0, *(b[0] for b in boxes)]), min([-8.0, *(b[1] for b in boxes)])
    right, bottom = max([width + 8.0, *(b[2] for b in boxes)]), max([height + 34.0, *(b[3] for b in boxes)])
    title = f"How the {cover_name(bending.layer)} of {panel.name} bows"
    said = (
        f"{panel.make.cover:g} mm of {panel.make.cover_row} {tell_case(case)}, modulus {case.young_mpa:.0f} MPa · "
        "seen from the front" + ("" if bending.layer == "front" else ", through the body")
    )
    notes, notes_width, notes_height = _draw_notes(plan, bending, levels, right - left)
    whole_width = max(right - left, notes_width, text_width(title, 20.0), text_width(said, 13.0)) + 2 * MARGIN
    origin = (MARGIN - left, MARGIN + 58.0 - top)
    notes_top = origin[1] + bottom + 20.0
    whole_height = notes_top + notes_height + MARGIN
    return "\n".join(
        (
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(whole_width)}" height="{number(whole_height)}" '
            f'viewBox="0 0 {number(whole_width)} {number(whole_height)}" font-family={attribute(FONT)} role="img" '
            f"aria-label={attribute(title)}>",
            f'<rect width="100%" height="100%" fill="{PAPER}"/>',
            text_at(MARGIN, MARGIN + 18, title, 20.0, INK, 'font-weight="600"'),
            text_at(MARGIN, MARGIN + 38, said, 13.0, SOFT),
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


def _levels(case: CoverCase) -> tuple[float, ...]:
    """Return the lifts between which the map changes colour, from 0 up, [mm]."""
    most = max(float(case.bent.lift.max()), LEAST_MM)
    return round_ticks(*widen_to_ticks(0.0, most, len(BANDS)), len(BANDS))


def _colours(levels: tuple[float, ...]) -> tuple[str, ...]:
    """Return a colour for each step, from the lightest to the darkest whatever their number."""
    steps = len(levels) - 1
    last = max(steps - 1, 1)
    return tuple(BANDS[round(k * (len(BANDS) - 1) / last)] for k in range(steps))


def _draw_map(case: CoverCase, levels: tuple[float, ...], view: View) -> list[str]:
    """Draw the lift: each step's area over those below, in tenths of a picture unit."""
    bent = case.bent
    out = ['<g transform="scale(0.1)">']
    # Below the first step all is one: what lies on the body, or sinks into a channel by less than it lifts elsewhere.
    for level, colour in zip((-math.inf, *levels[1:-1]), _colours(levels), strict=True):
        rings = trace_above(bent.points, bent.triangles, bent.lift, level, COARSE_MM)
        if rings:
            data = "".join(_ring_path(ring, view) for ring in rings)
            out.append(f'<path d="{data}" fill="{colour}"/>')
    return [*out, "</g>"]


def _ring_path(ring: np.ndarray, view: View) -> str:
    """Return a ring as path data: whole tenths of a picture unit, each point from the one before."""
    units = np.rint(np.column_stack((ring[:, 0], view.height - ring[:, 1])) * view.scale * 10).astype(int)
    steps = np.diff(units, axis=0)
    steps = steps[np.any(steps != 0, axis=1)]
    return f"M{units[0, 0]} {units[0, 1]}l" + " ".join(f"{dx} {dy}" for dx, dy in steps.tolist()) + "z"


def _draw_holes(plan: Plan, bending: CoverBending, view: View) -> list[str]:
    """Draw the ports' and the pump's bores through the cover, and the outline."""
    panel = plan.panel
    discs = [
        (port.foot, tables.thread(port.thread).tap_drill / 2)
        for port in plan.routed.ports
        if passes_joint(panel, port.on, bending.layer)
    ]
    if passes_joint(panel, panel.pump.on, bending.layer):
        pump = plan.routed.pump
        discs += [(pump.inlet, panel.pump.inlet_bore / 2), (pump.outlet, panel.pump.outlet_bore / 2)]
    outline = outline_rectangle(0.0, 0.0, panel.width, panel.height, panel.corner_radius)
    out = [draw_region((outline_circle(at, radius),), view, PAPER, INK, 1.2) for at, radius in discs]
    return [*out, draw_region((outline,), view, "none", INK, 1.6)]


def _draw_cords(loops: tuple[CordLoop, ...], view: View) -> list[str]:
    """Draw the middles of the cords: dark on a light band, to be seen on every colour."""
    data = "".join(track_of(loop.path, view) + ("Z" if loop.closed else "") for loop in loops)
    return [
        f'<path d="{data}" fill="none" stroke="{SHEET}" stroke-width="3.2" stroke-opacity="0.7"/>',
        f'<path d="{data}" fill="none" stroke="{INK}" stroke-width="1.3"/>',
    ]


def _draw_screws(plan: Plan, bending: CoverBending, view: View) -> list[str]:
    screws = plan.sealed.front_screws if bending.layer == "front" else plan.sealed.screws
    radius = tables.screw(plan.panel.make.screw).head_diameter / 2
    return [draw_screw(at, radius, "both", view) for at in screws]


def _places(plan: Plan, worst: CordLift) -> tuple[_Place, ...]:
    """Return the places that count in the drawn case: the most lift, that at a cord, the most stress."""
    case = worst.case
    top = int(np.argmax(case.bent.lift.round(9)))
    x, y = case.bent.points[top]
    limit = bow_limits(tables.cord(plan.panel.make.cord))[0]
    stress, stress_at = find_stress(case)
    return (
        _Place("lift", (float(x), float(y)), ("most lift", show_lift(float(case.bent.lift[top])))),
        _Place(
            "cord",
            worst.at,
            (f"at a cord {show_lift(worst.lift)}", f"{worst.loop}; up to {limit:.2g} mm is good"),
        ),
        _Place(
            "stress",
            stress_at,
            (f"most stress {show_number(stress, 2)} MPa", f"of {case.allowable_mpa:.3g} MPa"),
        ),
    )


def _draw_mark(kind: str, at: Point) -> str:
    """Draw a place's mark: a triangle for the most lift, a diamond for that at a cord, a square for the stress."""
    x, y = at
    half = MARK
    corners = {
        "lift": ((x, y - half), (x + half, y + half * 0.8), (x - half, y + half * 0.8)),
        "cord": ((x, y - half * 1.2), (x + half * 1.2, y), (x, y + half * 1.2), (x - half * 1.2, y)),
        "stress": (
            (x - half * 0.85, y - half * 0.85),
            (x + half * 0.85, y - half * 0.85),
            (x + half * 0.85, y + half * 0.85),
            (x - half * 0.85, y + half * 0.85),
        ),
    }[kind]
    data = "L".join(f"{number(px)} {number(py)}" for px, py in corners)
    return f'<path d="M{data}Z" fill="{INK}" stroke="{SHEET}" stroke-width="1.6"/>'


def _draw_labels(
    plan: Plan, bending: CoverBending, loops: tuple[CordLoop, ...], places: tuple[_Place, ...], view: View
) -> tuple[list[str], list[Rect]]:
    panel = plan.panel
    width, height = panel.width * view.scale, panel.height * view.scale
    screws = plan.sealed.front_screws if bending.layer == "front" else plan.sealed.screws
    radius = tables.screw(panel.make.screw).head_diameter / 2 * view.scale
    taken = [_square(view.to(at), radius) for at in screws]
    taken += [_square(view.to(place.at), MARK * 1.4) for place in places]
    taken += [(-34.0, height, width, height + 27.0), (-34.0, 0.0, 0.0, height)]
    points = np.concatenate([path_points(loop.path, LINE_STEP) for loop in loops])
    drawn = tuple(view.to((float(x), float(y))) for x, y in points)
    wanted = tuple(LabelRequest(view.to(p.at), lines_size(p.lines), MARK * 1.4 + 3.0) for p in places)
    placed = place_labels(wanted, tuple(taken), drawn, (2.0, 2.0, width - 2.0, height - 2.0))
    out: list[str] = []
    for request, place, label in zip(wanted, places, placed, strict=True):
        out += draw_label(request, place.lines, SHEET, label)
    return out, [label.box for label in placed]


def _square(at: Point, half: float) -> Rect:
    return (at[0] - half, at[1] - half, at[0] + half, at[1] + half)


def _draw_notes(
    plan: Plan, bending: CoverBending, levels: tuple[float, ...], width: float
) -> tuple[list[str], float, float]:
    """Draw the scale, what the marks mean, the table of all cases and the cautions; return their size too."""
    # A stiff cover lifts by less than any decimal place of a millimetre that reads well.
    fine = levels[-1] < FINE_SCALE
    told = tuple(round(1e3 * level, 3) for level in levels) if fine else levels
    out = [text_at(0.0, 12.0, f"lift off the body, {'µm' if fine else 'mm'}", TEXT, INK)]
    x = 150.0
    step, tall = BAR
    colours = _colours(levels)
    for k in range(len(levels)):
        if k < len(levels) - 1:
            box = f'x="{number(x + k * step)}" y="0" width="{number(step)}" height="{number(tall)}"'
            out.append(f'<rect {box} fill="{colours[k]}" stroke="{SOFT}" stroke-width="0.5"/>')
        said = show_tick(told[k], told)
        out.append(text_at(x + k * step, tall + 13.0, said, SMALL, SOFT, 'text-anchor="middle"'))
    x += (len(levels) - 1) * step + 44.0
    for kind, said in (("lift", "most lift"), ("cord", "most lift at a cord"), ("stress", "most stress")):
        out.append(_draw_mark(kind, (x, 8.0)))
        out.append(text_at(x + 12.0, 12.0, said, TEXT, INK))
        x += 12.0 + text_width(said, TEXT) + 18.0
    out.append(f'<path d="M{number(x)} 8h22" stroke="{INK}" stroke-width="1.3"/>')
    out.append(text_at(x + 28.0, 12.0, "cord", TEXT, INK))
    x += 28.0 + text_width("cord", TEXT) + 24.0
    out.append(draw_screw((x, -8.0), 7.0, "both", View(1.0, 0.0)))
    out.append(text_at(x + 14.0, 12.0, "screw", TEXT, INK))
    whole = x + 14.0 + text_width("screw", TEXT)
    y = 52.0
    rows = bending_rows(plan, (bending,))
    widths = [max(text_width(cell, TEXT) for cell in column) + 18.0 for column in zip(*rows, strict=True)]
    for r, row in enumerate(rows):
        at = 0.0
        for c, (cell, wide) in enumerate(zip(row, widths, strict=True)):
            flush = c not in LEFT_COLUMNS
            extra = 'text-anchor="end"' if flush else ""
            out.append(
                text_at(at + (wide - 18.0 if flush else 0.0), y, cell, TEXT, INK if r else SOFT, extra)
            )
            at += wide
        y += 19.0
    whole = max(whole, sum(widths))
    y += 6.0
    for line in wrap_words(CAUTION, int(max(width, whole) / (0.6 * TEXT))):
        out.append(text_at(0.0, y, line, TEXT, SOFT))
        y += 16.0
    return out, whole, y
