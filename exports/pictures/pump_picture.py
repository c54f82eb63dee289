"""The pumps' curves against the loop's as a picture (SVG): where they meet, and what the file asks for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from exports.pictures.axes import (
    LABEL,
    LINE_HEIGHT,
    MARGIN,
    WIDTH,
    Frame,
    draw_grid,
    draw_line,
    fit_text,
    heading_height,
    round_ticks,
    trace_path,
    widen_to_ticks,
    wrap_heading,
    write_chart,
)
from exports.pictures.chart_labels import ChartLabels
from exports.pictures.colours import LOOP, LOOP_BAND, SERIES
from exports.pictures.plan_symbols import INK, SHEET, SOFT
from exports.pictures.svg import number, text_at
from exports.wording.figures import show_band, show_banded, wrap_words
from geom.outline import Point
from geom.units import l_min, show_number
from layouts.advice import LoopCurve, PumpRating
from layouts.hydraulics.pump import CurvePoints, pump_head_m, scale_affinity
from layouts.hydraulics.pump_speed import STEP_RPM
from layouts.plan import Plan
from layouts.pump_fit import MOST_DIGITS, show_rpm
from layouts.pump_order import find_counted_band, judge_fit

PLOT_HEIGHT = 430.0
LEFT = 66.0
SAMPLES = 80
"""Points of a drawn pump curve."""
PAST_MEETING = 1.8
"""Flows are shown up to this many times the largest that matters, or to the end of the longest curve."""
MARK = 6.0
"""Half the size of an operating point's mark, picture units."""
UNFIT = "7 5"
SLOWER = "2 4"
LOOP_DASHES = "12 3 2 3"
"""Dashes of a pump that does not fit, of the used one at less than its most speed, and of the loop."""
SLOWER_WEIGHT = 1.6
SYMBOL = 44.0
"""Length of a line in the legend, picture units."""
NAME_PLACES = (0.06, 0.16, 0.3, 0.45, 0.6, 0.75)
"""Where along its curve a pump's name may stand, as shares of the frame's width."""
NAME_WIDTH = 130.0
"""Of a pump's name beside its meeting with the loop, picture units."""
NEAR = 20.0
"""How far a curve's drawn point may lie from such a place, picture units: farther, and it ends before."""


@dataclass(frozen=True, slots=True)
class _Line:
    """A pump's curve and its meeting with the loop, and how both are drawn."""

    rating: PumpRating
    points: CurvePoints
    colour: str
    weight: float
    dashes: str
    mark: int
    first: bool
    tells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Slower:
    """The used pump at less than its most speed: curve, meeting with the loop [m3/s], [m], and why."""

    name: str
    colour: str
    mark: int
    points: CurvePoints
    flow_m3_s: float
    head_m: float
    band: float
    why: str


def draw_pumps(plan: Plan, curve: LoopCurve) -> str:
    """Return the picture of the pumps against the loop.

    Parameters
    ----------
    plan : Plan
    curve : LoopCurve
        What the loop asks for at each flow.

    Returns
    -------
    str
        A whole SVG document on white, the same for the same plan.
    """
    lines = _pump_lines(plan)
    slower = _slower_points(plan, lines, curve)
    heading = wrap_heading(_reading(plan))
    top = heading_height(heading) + 24.0
    frame = _frame(plan, lines, slower, top)
    body = [
        '<defs><clipPath id="plot">'
        f'<rect x="{number(LEFT)}" y="{number(top)}" width="{number(WIDTH - MARGIN - LEFT)}" '
        f'height="{number(PLOT_HEIGHT)}"/></clipPath></defs>',
        f'<path d="{_band_path(curve, frame)}Z" fill="{LOOP_BAND}" clip-path="url(#plot)"/>',
    ]
    body += draw_grid(
        frame, "flow, L/min", "head, m", round_ticks(*frame.across, 12), round_ticks(*frame.up, 8)
    )
    loop = [frame.to(l_min(q), h) for q, h in zip(curve.flows_m3_s, curve.heads_m, strict=True)]
    drawn = [loop]
    strokes = [draw_line(loop, LOOP, 2.6, LOOP_DASHES)]
    for points, colour, weight, dashes in (
        *((line.points, line.colour, line.weight, line.dashes) for line in lines),
        *((point.points, point.colour, SLOWER_WEIGHT, SLOWER) for point in slower),
    ):
        drawn.append(_sample(points, frame))
        strokes.append(draw_line(drawn[-1], colour, weight, dashes))
    wanted = plan.panel.wanted_flow_m3_s
    if wanted is not None:
        x = frame.to(l_min(wanted), 0.0)[0]
        drawn.append([(x, top), (x, top + PLOT_HEIGHT)])
        strokes.append(draw_line(drawn[-1], SOFT, 1.2, "3 3"))
    body += ['<g clip-path="url(#plot)">', *strokes, "</g>"]
    body += _marks_and_labels(plan, lines, slower, frame, drawn)
    legend, y = _legend(plan, lines, slower, frame.across[1], top + PLOT_HEIGHT + 62.0)
    return write_chart(f"Pumps on the loop of {plan.panel.name}", heading, [*body, *legend], y + MARGIN)


def _reading(plan: Plan) -> str:
    said = "reads: the loop runs where a pump's line crosses the loop's"
    reason = plan.advised.pumping.reason.rstrip(".")
    return f"{said}; {reason}" if reason else said


def _pump_lines(plan: Plan) -> tuple[_Line, ...]:
    """Return the pumps in the order of the ranking; colour and mark are those of the file's order."""
    order = {choice.name: k for k, choice in enumerate(plan.panel.pump.choices)}
    out = []
    for place, rating in enumerate(plan.advised.pumping.ratings):
        k = order[rating.name]
        first = place == 0 and len(order) > 1
        tells = [word for word, said in (("used", rating.used), ("first of the ranking", first)) if said]
        if rating.obstacles:
            tells.append("does not fit: " + "; ".join(one.rstrip(".") for one in rating.obstacles))
        if judge_fit(rating) == "just":
            tells.append(f"just fits: {rating.shortfall}")
        weight = 3.6 if rating.used else 2.4 if first else 1.5
        dashes = UNFIT if rating.obstacles else ""
        points = plan.panel.pump.choices[k].curve
        out.append(_Line(rating, points, SERIES[k % len(SERIES)], weight, dashes, k, first, tuple(tells)))
    return tuple(out)


def _slower_points(plan: Plan, lines: tuple[_Line, ...], curve: LoopCurve) -> tuple[_Slower, ...]:
    """Return the used pump at the speed that the file gives it, and at that which its noise allows.

    Speeds no more than a step apart are one point with both reasons; the most speed is none.
    """
    pump, flowing = plan.panel.pump, plan.flowing
    used = next((line for line in lines if line.rating.used), None)
    speed = None if used is None else pump.choice(used.rating.name).speed
    if used is None or speed is None:
        return ()
    slower: list[tuple[float, float, float, float, str]] = []
    if pump.run_at_rpm is not None and pump.run_at_rpm < speed[1]:
        why = f"the file's {show_rpm(pump.run_at_rpm)}"
        slower.append((pump.run_at_rpm, flowing.flow_m3_s, flowing.head_m, flowing.band, why))
    rpm, flow = used.rating.speed_for_noise_rpm, used.rating.flow_for_noise_m3_s
    if rpm is not None and rpm < speed[1] and flow is not None and pump.most_noise_db is not None:
        why = f"{show_rpm(rpm)} for {show_number(pump.most_noise_db, MOST_DIGITS)} dB"
        if slower and abs(slower[0][0] - rpm) <= STEP_RPM:
            *point, file_why = slower.pop()
            slower.append((point[0], point[1], point[2], point[3], f"{file_why}, also the {why}"))
        else:
            head = float(np.interp(flow, curve.flows_m3_s, curve.heads_m))
            slower.append((rpm, flow, head, find_counted_band(used.rating), why))
    return tuple(
        _Slower(
            used.rating.name,
            used.colour,
            used.mark,
            scale_affinity(used.points, rpm / speed[1]),
            flow,
            head,
            band,
            why,
        )
        for rpm, flow, head, band, why in slower
    )


def _frame(plan: Plan, lines: tuple[_Line, ...], slower: tuple[_Slower, ...], top: float) -> Frame:
    """Return the frame: so wide that the meetings lie well inside, and the curves' ends where they are near."""
    matters = [line.rating.flow_m3_s for line in lines] + [point.flow_m3_s for point in slower]
    matters += [plan.flowing.flow_m3_s, plan.panel.wanted_flow_m3_s or 0.0]
    end = max([line.points[-1][0] for line in lines], default=0.0)
    right = PAST_MEETING * max(matters)
    if end <= 1.3 * right:
        right = max(end, 1.05 * max(matters))
    heads = [line.points[0][1] for line in lines] + [plan.flowing.head_m]
    box = (LEFT, top, WIDTH - MARGIN, top + PLOT_HEIGHT)
    return Frame(box, widen_to_ticks(0.0, l_min(right), 12), widen_to_ticks(0.0, 1.04 * max(heads), 8))


def _sample(points: CurvePoints, frame: Frame) -> list[Point]:
    """Return a pump's curve from no flow to its last point, in picture units."""
    last = points[-1][0]
    flows = [last * k / SAMPLES for k in range(SAMPLES + 1)]
    return [frame.to(l_min(flow), pump_head_m(points, flow)) for flow in flows]


def _band_path(curve: LoopCurve, frame: Frame) -> str:
    there = [frame.to(l_min(q), h) for q, h in zip(curve.flows_m3_s, curve.low_m, strict=True)]
    back = [frame.to(l_min(q), h) for q, h in zip(curve.flows_m3_s, curve.high_m, strict=True)]
    return trace_path([*there, *reversed(back)])


def _marks_and_labels(
    plan: Plan, lines: tuple[_Line, ...], slower: tuple[_Slower, ...], frame: Frame, drawn: list[list[Point]]
) -> list[str]:
    """Mark where the curves meet, say flow and head there, then name the wanted flow and the curves."""
    marks: list[str] = []
    meetings: list[tuple[Point, str, str]] = []
    # Those that fit have the first choice of place, and the used pump's mark lies on top.
    for line in sorted(lines, key=lambda line: (bool(line.rating.obstacles), not line.rating.used)):
        rating = line.rating
        at = frame.to(l_min(rating.flow_m3_s), rating.head_m)
        marks.insert(0, _mark(line.mark, at, line.colour, SHEET))
        ink = SOFT if rating.obstacles else INK
        named = f"{fit_text(rating.name, LABEL, NAME_WIDTH)}: " if len(lines) > 1 else ""
        meetings.append((at, named + _meeting(rating.flow_m3_s, rating.head_m, rating.band), ink))
    for point in slower:
        at = frame.to(l_min(point.flow_m3_s), point.head_m)
        marks.append(_mark(point.mark, at, SHEET, point.colour))
        flow = show_banded(l_min(point.flow_m3_s), point.band)
        meetings.append((at, f"{point.why}, {flow} L/min", INK))
    spots = [(x - MARK, y - MARK, x + MARK, y + MARK) for (x, y), _, _ in meetings]
    labels = ChartLabels(frame.box, drawn, spots)
    for at, said, ink in meetings:
        labels.write(at, said, ink, MARK + 1.0)
    wanted = plan.panel.wanted_flow_m3_s
    if wanted is not None:
        x, said = frame.to(l_min(wanted), 0.0)[0], f"wanted {l_min(wanted):.3g} L/min"
        heights = (frame.box[1] + share * PLOT_HEIGHT for share in (0.03, 0.97, 0.9, 0.5))
        any(labels.write((x, y), said, SOFT, 3.0, led=False) for y in heights)
    for path, line in zip(drawn[1:], lines, strict=False):
        _name_curve(labels, path, _title(line), line.colour, frame, NAME_PLACES)
    _name_curve(labels, drawn[0], "the loop", LOOP, frame, NAME_PLACES[::-1])
    return [*labels.elements, *marks]


def _name_curve(
    labels: ChartLabels,
    points: list[Point],
    said: str,
    ink: str,
    frame: Frame,
    places: tuple[float, ...],
) -> None:
    """Write a curve's name beside it, at the first of the places that has room."""
    for share in places:
        x = frame.box[0] + share * (frame.box[2] - frame.box[0])
        near = min(points, key=lambda p: abs(p[0] - x))
        on_curve = frame.box[1] < near[1] < frame.box[3] and abs(near[0] - x) < NEAR
        if on_curve and labels.write(near, said, ink, 4.0, led=False):
            return


def _title(line: _Line) -> str:
    word = "used" if line.rating.used else "first" if line.first else ""
    return f"{line.rating.name} ({word})" if word else line.rating.name


def _meeting(flow_m3_s: float, head_m: float, band: float) -> str:
    return f"{show_banded(l_min(flow_m3_s), band)} L/min, {show_banded(head_m, band)} m"


def _mark(shape: int, at: Point, fill: str, edge: str) -> str:
    """Return the mark of an operating point: circle, square, triangle, diamond in turn."""
    x, y, r = *at, MARK
    paint = f'fill="{fill}" stroke="{edge}" stroke-width="1.5"'
    if shape % 4 == 0:
        return f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(r)}" {paint}/>'
    corners: tuple[tuple[float, float], ...] = ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))
    if shape % 4 == 2:
        corners = ((0.0, -1.2), (1.2, 0.9), (-1.2, 0.9))
    elif shape % 4 == 3:
        corners = ((0.0, -1.3), (1.3, 0.0), (0.0, 1.3), (-1.3, 0.0))
    return f'<path d="{trace_path((x + dx * r, y + dy * r) for dx, dy in corners)}Z" {paint}/>'


def _legend(
    plan: Plan, lines: tuple[_Line, ...], slower: tuple[_Slower, ...], most: float, top: float
) -> tuple[list[str], float]:
    """Tell every line under the plot; return the lower end too. `most`: greatest flow shown, [L/min]."""
    rows: list[tuple[list[str], str]] = []
    stroke = ((0.0, 0.0), (SYMBOL, 0.0))
    for line in lines:
        rating = line.rating
        symbol = [
            draw_line(stroke, line.colour, line.weight, line.dashes),
            _mark(line.mark, (SYMBOL / 2, 0.0), line.colour, SHEET),
        ]
        said = f"{_meeting(rating.flow_m3_s, rating.head_m, rating.band)} {show_band(rating.band)}".rstrip()
        end = l_min(line.points[-1][0])
        goes_on = (f"its curve goes on to {end:.3g} L/min",) if end > most else ()
        rows.append((symbol, f"{rating.name}: {'; '.join((said, *line.tells, *goes_on))}"))
    for point in slower:
        symbol = [
            draw_line(stroke, point.colour, SLOWER_WEIGHT, SLOWER),
            _mark(point.mark, (SYMBOL / 2, 0.0), SHEET, point.colour),
        ]
        said = _meeting(point.flow_m3_s, point.head_m, point.band)
        rows.append((symbol, f"{point.name}, slowed to {point.why}: {said}"))
    loop = [
        f'<rect x="0" y="-6" width="{number(SYMBOL)}" height="12" fill="{LOOP_BAND}"/>',
        draw_line(stroke, LOOP, 2.6, LOOP_DASHES),
    ]
    rows.append((loop, "the loop: the head that it asks for; light, the band of the formulas' errors"))
    out: list[str] = []
    y, x = top, LEFT + SYMBOL + 12.0
    for symbol, said in rows:
        out += [f'<g transform="translate({number(LEFT)} {number(y)})">', *symbol, "</g>"]
        for text in wrap_words(said, int((WIDTH - MARGIN - x) / (0.6 * LABEL))):
            out.append(text_at(x, y + 4.0, text, LABEL, INK))
            y += LINE_HEIGHT
        y += 4.0
    return out, y - 12.0
