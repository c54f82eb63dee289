"""How a cover bows as a picture (SVG): its lift as a map in steps, its cords and screws, and the places that count.

Seen from the front like the plan, so that every place stands where it does there; the back cover is seen through the
body.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from exports.pictures.axes import round_ticks, show_tick, widen_to_ticks
from exports.pictures.contours import trace_above
from exports.pictures.labels import LabelRequest, Rect, place_labels
from exports.pictures.plan_picture import PANEL_HEIGHT, PANEL_WIDTH, draw_label, draw_sheet, lines_size
from exports.pictures.plan_places import free_place
from exports.pictures.plan_symbols import INK, PAPER, SHEET, SMALL, SOFT, TEXT, draw_region, draw_screw
from exports.pictures.svg import View, guess_width, number, text_at, track_of
from exports.pictures.whole_picture import whole_picture
from exports.tables.cover_tables import LEFT_COLUMNS, bending_rows, show_lift, tell_limits
from exports.wording.figures import wrap_words
from geom.outline import Point, outline_circle, outline_rectangle, path_points
from geom.standards import tables
from geom.units import show_number
from layouts.closing.wet_regions import joint_discs
from layouts.faces import cover_name
from layouts.plan import CordLoop, Layer, Plan
from layouts.strength.cover_limits import bow_limits, stress_limits
from layouts.strength.peaks import CordLift, cord_lifts, find_stress, tell_case
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
    "The map is the cover's lift alone; what the joint opens counts the body's bow too. The cords push with their "
    "largest squeeze. Not counted: what the screws' heads press into the cover, and parts on it."
)

OF_PLASTICS = (
    "A plastic's stiffness scatters by a tenth from sheet to sheet, and what creep leaves of it by more."
)
OF_TWO_COVERS = "The body is bent under this cover alone, the other one left out."


@dataclass(frozen=True, slots=True)
class _Place:
    """A place that counts, where its mark stands, in picture units, and what is said of it."""

    kind: str
    at: Point
    mark: Point
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
    loops = plan.sealed.loops_of(bending.layer)
    places = _places(plan, bending.layer, worst, view)
    drawing = [
        *draw_sheet(replace(panel, keep_clear=()), view),
        *_draw_map(case, levels, view),
        *_draw_holes(plan, bending, view),
        *_draw_cords(loops, view),
        *_draw_screws(plan, bending, view),
    ]
    labels, boxes = _draw_labels(plan, bending, loops, places, view)
    drawing += [*labels, *(piece for place in places for piece in _draw_place(place))]
    width, height = panel.width * view.scale, panel.height * view.scale
    left, top = min([-34.0, *(b[0] for b in boxes)]), min([-8.0, *(b[1] for b in boxes)])
    right, bottom = max([width + 8.0, *(b[2] for b in boxes)]), max([height + 34.0, *(b[3] for b in boxes)])
    title = f"How the {cover_name(bending.layer)} of {panel.name} bows"
    said = (
        f"{panel.make.cover:g} mm of {panel.make.cover_row} {tell_case(case)}, modulus {case.young_mpa:.0f} MPa · "
        "seen from the front" + ("" if bending.layer == "front" else ", through the body")
    )
    notes, notes_width, notes_height = _draw_notes(plan, bending, levels, right - left)
    return whole_picture(
        title, (title, said), drawing, (left, top, right, bottom), (notes, notes_width, notes_height)
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
    discs = [(at, radius) for _, at, radius in joint_discs(panel, plan.routed, bending.layer)]
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
    screws = plan.sealed.screws_of(bending.layer)
    radius = tables.screw(plan.panel.make.screw).head_diameter / 2
    return [draw_screw(at, radius, "both", view) for at in screws]


def _places(plan: Plan, layer: Layer, worst: CordLift, view: View) -> tuple[_Place, ...]:
    """Return the places that count in the drawn case: the most lift, that at a cord, the most stress."""
    case = worst.case
    top = int(np.argmax(case.bent.lift.round(9)))
    x, y = case.bent.points[top]
    caution, fault = bow_limits(tables.cord(plan.panel.make.cord))
    stress, stress_at = find_stress(case)
    told = [
        ("lift", (float(x), float(y)), ("cover lifts", show_lift(float(case.bent.lift[top])))),
        (
            "cord",
            worst.at,
            (
                f"joint opens {show_lift(worst.lift)}",
                f"{worst.loop}; {show_lift(worst.body)} of it by the body",
                *tell_limits(caution, fault, "mm").split(", "),
            ),
        ),
        (
            "stress",
            stress_at,
            (
                f"most stress {show_number(stress, 2)} MPa",
                *tell_limits(*stress_limits(tables.material(plan.panel.make.cover_row), case), "MPa").split(
                    ", "
                ),
            ),
        ),
    ]
    radius = tables.screw(plan.panel.make.screw).head_diameter / 2 * view.scale
    taken = [(view.to(at), radius) for at in plan.sealed.screws_of(layer)]
    places = []
    for kind, at, lines in told:
        mark = free_place(view.to(at), MARK * 1.3, tuple(taken))
        taken.append((mark, MARK * 1.3))
        places.append(_Place(kind, view.to(at), mark, lines))
    return tuple(places)


def _draw_place(place: _Place) -> list[str]:
    """Draw a place's mark; where it stands beside its place, a dot there and a line to it."""
    out = []
    if place.mark != place.at:
        x, y = place.at
        out += _draw_leader(place.at, place.mark)
        out.append(
            f'<circle cx="{number(x)}" cy="{number(y)}" r="2.6" fill="{INK}" stroke="{SHEET}" stroke-width="0.8"/>'
        )
    return [*out, _draw_mark(place.kind, place.mark)]


def _draw_leader(start: Point, end: Point) -> list[str]:
    """Draw a line dark on a light band, to be seen on every colour."""
    line = f"M{number(start[0])} {number(start[1])}L{number(end[0])} {number(end[1])}"
    return [
        f'<path d="{line}" stroke="{SHEET}" stroke-width="3.2" stroke-opacity="0.7"/>',
        f'<path d="{line}" stroke="{INK}" stroke-width="1.1"/>',
    ]


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
    screws = plan.sealed.screws_of(bending.layer)
    radius = tables.screw(panel.make.screw).head_diameter / 2 * view.scale
    taken = [_square(view.to(at), radius) for at in screws]
    taken += [_square(place.mark, MARK * 1.4) for place in places]
    taken += [(-34.0, height, width, height + 27.0), (-34.0, 0.0, 0.0, height)]
    points = np.concatenate([path_points(loop.path, LINE_STEP) for loop in loops])
    drawn = tuple(view.to((float(x), float(y))) for x, y in points)
    wanted = tuple(LabelRequest(p.mark, lines_size(p.lines), MARK * 1.4 + 3.0) for p in places)
    placed = place_labels(wanted, tuple(taken), drawn, (2.0, 2.0, width - 2.0, height - 2.0))
    out: list[str] = []
    for request, place, label in zip(wanted, places, placed, strict=True):
        # On a map every label has its line, and a ground of its own: the darkest steps would swallow the text.
        x0, y0, x1, y1 = label.box
        near = (min(max(place.mark[0], x0), x1), min(max(place.mark[1], y0), y1))
        out += _draw_leader(place.mark, near)
        out.append(
            f'<rect x="{number(x0 - 3)}" y="{number(y0 - 1)}" width="{number(x1 - x0 + 6)}" '
            f'height="{number(y1 - y0 + 3)}" rx="3" fill="{SHEET}" fill-opacity="0.9"/>'
        )
        out += draw_label(request, place.lines, SHEET, replace(label, led=False))
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
    out = [text_at(0.0, 12.0, f"cover's lift, {'µm' if fine else 'mm'}", TEXT, INK)]
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
    for kind, said in (
        ("lift", "cover lifts most"),
        ("cord", "joint opens most at a cord"),
        ("stress", "most stress"),
    ):
        out.append(_draw_mark(kind, (x, 8.0)))
        out.append(text_at(x + 12.0, 12.0, said, TEXT, INK))
        x += 12.0 + guess_width(said, TEXT) + 18.0
    out.append(f'<path d="M{number(x)} 8h22" stroke="{INK}" stroke-width="1.3"/>')
    out.append(text_at(x + 28.0, 12.0, "cord", TEXT, INK))
    x += 28.0 + guess_width("cord", TEXT) + 24.0
    out.append(draw_screw((x, -8.0), 7.0, "both", View(1.0, 0.0)))
    out.append(text_at(x + 14.0, 12.0, "screw", TEXT, INK))
    whole = x + 14.0 + guess_width("screw", TEXT)
    y = 52.0
    rows = bending_rows(plan, (bending,))
    widths = [max(guess_width(cell, TEXT) for cell in column) + 18.0 for column in zip(*rows, strict=True)]
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
    make = plan.panel.make
    kinds = {tables.material(row).kind for row in (make.cover_row, make.material)}
    notes = [
        CAUTION,
        *[OF_PLASTICS] * ("plastic" in kinds),
        *[OF_TWO_COVERS] * (plan.panel.channel.layers == 2),
    ]
    for line in wrap_words(" ".join(notes), int(max(width, whole) / (0.6 * TEXT))):
        out.append(text_at(0.0, y, line, TEXT, SOFT))
        y += 16.0
    return out, whole, y
