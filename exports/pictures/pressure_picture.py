"""The pressure along the loop as a picture (SVG): from the tank, through pump, channels and parts, to the tank."""

from __future__ import annotations

from dataclasses import dataclass

from exports.pictures.axes import (
    LABEL,
    MARGIN,
    TICK,
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
from exports.pictures.colours import LOOP_BAND, SERIES
from exports.pictures.plan_symbols import INK, SHEET, SOFT
from exports.pictures.pressure_places import StepPlace, find_half_bands, outline_bands, place_steps
from exports.pictures.svg import guess_width, number, text_at
from exports.wording.channel_drops import drop_band
from exports.wording.figures import show_band, show_banded, show_mm
from geom.outline import Point
from geom.units import kpa, l_min
from layouts.legs import measure_leg
from layouts.plan import LoopStep, Plan

PLOT_HEIGHT = 380.0
LEFT = 66.0
"""Of the plot, picture units: room for the ticks."""
PART_WIDTH = 40.0
LEAST_WIDTH = 18.0
CHANNEL_WIDTH = 34.0
"""Of a part and the pump; of any channel; what the mean length of a channel adds to that."""
UNDER = 0.04
"""Free room under the lowest pressure, as a share of the whole rise."""
LANE = 17.0
ROW = 18.0
LABELLED_SHARE = 0.03
"""Drops of less of the pump's rise are told in the table alone."""
NAME_WIDTH = 190.0
"""Of a name in the plot, picture units."""
STILL_COLUMN = 262.0
"""Width of a row of the table beside its name, picture units."""
GAIN_NOTE = (
    "+ at a piece other than the pump: a junction may give pressure to a leg, its tee's loss is signed"
)


@dataclass(frozen=True, slots=True)
class _Look:
    """How a kind of piece is drawn: its line, and its cell under the plot."""

    colour: str
    weight: float
    dashes: str
    cell: str
    ink: str
    title: str


_LOOKS = {
    "pump": _Look(SERIES[2], 3.6, "9 4", SERIES[2], SHEET, "pump"),
    "part": _Look(SERIES[1], 4.2, "", "#f6d3b8", INK, "part outside the panel"),
    "channel": _Look(SERIES[0], 2.0, "", "#cfe3f1", INK, "channel in the panel"),
}


def draw_pressure(plan: Plan) -> str:
    """Return the picture of the pressure along the loop.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    str
        A whole SVG document on white, the same for the same plan.
    """
    steps = plan.flowing.steps
    title = f"Pressure along the loop of {plan.panel.name}"
    heading = wrap_heading(_reading(plan))
    if not steps:
        return write_chart(title, heading, [], heading_height(heading) + MARGIN)
    places = place_steps(steps, _widths(plan))
    halves = find_half_bands(steps)
    top = heading_height(heading) + 24.0
    right = WIDTH - MARGIN
    highs = [kpa(s.start_pa + halves[s.start]) for s in steps] + [
        kpa(s.end_pa + halves[s.end]) for s in steps
    ]
    lows = [kpa(s.start_pa - halves[s.start]) for s in steps] + [kpa(s.end_pa - halves[s.end]) for s in steps]
    low, high = min(0.0, *lows), max(1e-3, *highs)
    up = (low - UNDER * (high - low), widen_to_ticks(low, high, 8)[1])
    way = max(max(place.start, place.end) for place in places)
    frame = Frame((LEFT, top, right, top + PLOT_HEIGHT), (0.0, way), up)
    body = draw_grid(frame, "", "total pressure over that in the tank, kPa", (), round_ticks(*up, 8))
    body += _bands(steps, places, halves, frame)
    zero = frame.to(0.0, 0.0)[1]
    body.append(draw_line(((LEFT, zero), (right, zero)), SOFT, 1.0))
    body += _lines(steps, places, frame)
    body += _labels(plan, places, frame)
    y = top + PLOT_HEIGHT + 8.0
    body += _cells(plan, places, frame, y)
    y += (1 + max(place.lane for place in places)) * LANE + 8.0
    body.append(
        text_at(LEFT, y + 8.0, "the way of the coolant, from the tank round to the tank", LABEL, SOFT)
    )
    y += 28.0
    key, y = _key(steps, places, y)
    table, y = _table(plan, y + 10.0)
    return write_chart(title, heading, [*body, *key, *table], y + MARGIN)


def _reading(plan: Plan) -> str:
    flowing = plan.flowing
    rise = show_banded(kpa(flowing.loop_drop_pa), flowing.head_band)
    said = f"reads: the pump lifts the coolant by {rise} kPa, and the way round takes that away again"
    drops = [step for step in flowing.steps if step.kind != "pump"]
    if drops:
        most = max(drops, key=_drop)
        said += f'; the largest drop is that of "{most.name}", {_drop_text(plan, most)}'
    return said


def _drop(step: LoopStep) -> float:
    return step.start_pa - step.end_pa


def _drop_text(plan: Plan, step: LoopStep) -> str:
    band = plan.flowing.head_band if step.kind == "pump" else drop_band(plan.flowing, step.band)
    return f"{show_banded(kpa(abs(_drop(step))), band)} kPa"


def _widths(plan: Plan) -> tuple[float, ...]:
    """Return the least width of each step: fixed for parts and the pump, by length for channels."""
    nodes = {node for step in plan.flowing.steps for node in (step.start, step.end)}
    lengths = []
    for step in plan.flowing.steps:
        length = 0.0
        if step.kind == "channel":
            channel = plan.routed.channel(step.name)
            for leg in channel.legs:
                # An end at the tank has a name of its own in the channel, and none among the steps.
                if all(end in (step.start, step.end) or end not in nodes for end in (leg.start, leg.end)):
                    length = measure_leg(leg.points, channel.bend_radius, leg.holes)[1]
        lengths.append(length)
    known = [length for length in lengths if length > 0.0]
    mean = sum(known) / len(known) if known else 1.0
    return tuple(
        LEAST_WIDTH + CHANNEL_WIDTH * length / mean if step.kind == "channel" else PART_WIDTH
        for step, length in zip(plan.flowing.steps, lengths, strict=True)
    )


def _bands(
    steps: tuple[LoopStep, ...], places: tuple[StepPlace, ...], halves: dict[str, float], frame: Frame
) -> list[str]:
    paths = (
        trace_path(frame.to(way, kpa(pressure)) for way, pressure in outline)
        for outline in outline_bands(steps, places, halves)
    )
    return [f'<path d="{path}Z" fill="{LOOP_BAND}"/>' for path in paths]


def _ends(step: LoopStep, place: StepPlace, frame: Frame) -> tuple[tuple[float, float], tuple[float, float]]:
    return frame.to(place.start, kpa(step.start_pa)), frame.to(place.end, kpa(step.end_pa))


def _lines(steps: tuple[LoopStep, ...], places: tuple[StepPlace, ...], frame: Frame) -> list[str]:
    out = []
    for step, place in zip(steps, places, strict=True):
        look = _LOOKS[step.kind]
        out.append(draw_line(_ends(step, place, frame), look.colour, look.weight, look.dashes))
    return out


def _labels(plan: Plan, places: tuple[StepPlace, ...], frame: Frame) -> list[str]:
    """Name the drops in the plot, the largest first, as far as there is room."""
    steps = plan.flowing.steps
    ends = [_ends(step, place, frame) for step, place in zip(steps, places, strict=True)]
    zero = frame.to(0.0, 0.0)[1]
    axis: list[Point] = [(frame.box[0], zero), (frame.box[2], zero)]
    labels = ChartLabels(frame.box, [*(list(pair) for pair in ends), axis])
    least = LABELLED_SHARE * max(abs(_drop(step)) for step in steps)
    names = _label_names(steps)
    for k in sorted(range(len(steps)), key=lambda k: (-abs(_drop(steps[k])), k)):
        step, ((x0, y0), (x1, y1)) = steps[k], ends[k]
        if abs(_drop(step)) < least:
            break
        gain = "+" if _drop(step) < 0.0 else ""
        said = f"{names[k]} {gain}{_drop_text(plan, step)}"
        labels.write(((x0 + x1) / 2, (y0 + y1) / 2), said, INK, 5.0)
    return labels.elements


def _label_names(steps: tuple[LoopStep, ...]) -> list[str]:
    """Return the steps' names as short as the plot needs them; those that then read the same give their number."""
    short = [fit_text(step.name, LABEL, NAME_WIDTH) for step in steps]
    return [f"piece {k}" if short.count(name) > 1 else name for k, name in enumerate(short, 1)]


def _cells(plan: Plan, places: tuple[StepPlace, ...], frame: Frame, top: float) -> list[str]:
    """Draw the strip under the plot: a numbered cell for each piece, parallel branches in lanes."""
    out = []
    for k, (step, place) in enumerate(zip(plan.flowing.steps, places, strict=True), 1):
        look = _LOOKS[step.kind]
        x0, x1 = frame.to(place.start, 0.0)[0], frame.to(place.end, 0.0)[0]
        y = top + place.lane * LANE
        out.append(
            f'<rect x="{number(x0)}" y="{number(y)}" width="{number(max(0.5, x1 - x0 - 1.0))}" '
            f'height="{number(LANE - 2.0)}" fill="{look.cell}"/>'
        )
        if guess_width(str(k), TICK) <= x1 - x0 - 1.0:
            at = (x0 + x1 - 1.0) / 2
            out.append(text_at(at, y + 11.5, str(k), TICK, look.ink, 'text-anchor="middle"'))
    return out


def _key(steps: tuple[LoopStep, ...], places: tuple[StepPlace, ...], top: float) -> tuple[list[str], float]:
    """Draw what the lines mean; return its lower end too."""
    out: list[str] = []
    x = LEFT
    for kind, look in _LOOKS.items():
        if any(step.kind == kind for step in steps):
            out.append(draw_line(((x, top), (x + 30.0, top)), look.colour, look.weight, look.dashes))
            out.append(text_at(x + 38.0, top + 4.0, look.title, LABEL, INK))
            x += 38.0 + guess_width(look.title, LABEL) + 26.0
    out.append(f'<rect x="{number(x)}" y="{number(top - 6.0)}" width="30" height="12" fill="{LOOP_BAND}"/>')
    out.append(text_at(x + 38.0, top + 4.0, "band: the formulas' errors, added up to the tank", LABEL, INK))
    if any(place.lane > 0 for place in places):
        top += ROW
        out.append(text_at(x + 38.0, top + 2.0, "parallel pieces share one band", LABEL, INK))
    return out, top + ROW


def _piece_names(plan: Plan) -> tuple[str, ...]:
    """Return the steps' names; a channel of several pieces says where each one leads, a part its restrictor."""
    steps = plan.flowing.steps
    bores = {part.name: part.restrictor for part in plan.panel.parts}
    several = {step.name for k, step in enumerate(steps) for other in steps[:k] if step.name == other.name}
    names = []
    for step in steps:
        bore = bores.get(step.name) if step.kind == "part" else None
        name = step.name if bore is None else f"{step.name}, with restrictor {show_mm(bore)} mm"
        if step.name in several:
            name += f", to {step.end.removeprefix(step.name).strip()}"
        names.append(name)
    return tuple(names)


def _table(plan: Plan, top: float) -> tuple[list[str], float]:
    """List all pieces with flow and drop, in two columns where their names leave room; return the lower end too."""
    steps, names = plan.flowing.steps, _piece_names(plan)
    width = WIDTH - LEFT - MARGIN
    name = max(guess_width(said, LABEL) for said in names)
    columns = 2 if name + STILL_COLUMN <= (width - 24.0) / 2 and len(steps) > 6 else 1
    column = min((width - 24.0 * (columns - 1)) / columns, name + STILL_COLUMN + 1.0)
    rows = -(-len(steps) // columns)
    flow_band = plan.flowing.band
    out = []
    for k, step in enumerate(steps):
        x, y = LEFT + (k // rows) * (column + 24.0), top + (k % rows) * ROW
        look = _LOOKS[step.kind]
        out.append(
            f'<rect x="{number(x)}" y="{number(y - 4.0)}" width="20" height="{number(LANE - 2.0)}" '
            f'fill="{look.cell}"/>'
        )
        out.append(text_at(x + 10.0, y + 8.0, str(k + 1), TICK, look.ink, 'text-anchor="middle"'))
        out.append(text_at(x + 28.0, y + 8.0, fit_text(names[k], LABEL, column - STILL_COLUMN), LABEL, INK))
        sign = "+" if _drop(step) < 0.0 else "−"
        for at, said in (
            (column - 148.0, f"{show_banded(l_min(step.flow_m3_s), flow_band)} L/min"),
            (column - 60.0, f"{sign}{_drop_text(plan, step)}"),
            (column, show_band(step.band)),
        ):
            if said:
                out.append(text_at(x + at, y + 8.0, said, LABEL, INK, 'text-anchor="end"'))
    end = top + rows * ROW
    if any(step.kind != "pump" and _drop(step) < 0.0 for step in steps):
        out.append(text_at(LEFT, end + 14.0, GAIN_NOTE, LABEL, SOFT))
        end += ROW + 6.0
    return out, end
