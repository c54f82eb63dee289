"""How a panel fills, as a strip of pictures (SVG): a small front view for each step, then what stays.

The views are turned so that up is up as installed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from exports.pictures.filling_left import draw_left, room_beside
from exports.pictures.filling_notes import draw_fill_notes
from exports.pictures.filling_shapes import PER_MM
from exports.pictures.filling_sheet import FillSheet, define_sheet, draw_step, level_off, make_sheet
from exports.pictures.plan_symbols import FINE, INK, SMALL, SOFT, TEXT
from exports.pictures.svg import number, text_at
from exports.pictures.whole_picture import whole_picture
from exports.wording.figures import show_mm, wrap_words
from exports.wording.fill_step_words import (
    list_steps,
    tell_level,
    tell_no_run,
    tell_ranges,
    tell_sequence,
    tell_step,
)
from exports.wording.filling_words import Kind, show_ml_range, tell_attitude
from geom.wet.raster import raster_wet
from geom.words import capitalise, make_sentence
from layouts.filling.sequence_values import FillStep
from layouts.filling.values import Filling
from layouts.installed import lies_flat
from layouts.plan import Plan

WIDTH = 1140.0
"""Of the strip, picture units."""

STEP_ROOM = (360.0, 300.0)
LEFT_ROOM = (548.0, 430.0)
"""Most room of the panel in a view of a step, and in one of what stays, picture units."""

MOST_ACROSS = 4
"""Steps up to so many stand in one row."""

GAP, BETWEEN = 30.0, 24.0
"""Between two views beside one another, and between rows, picture units."""

ABOVE = 20.0
"""Over each panel, for the arrow at its fill port, picture units."""

LINE = 15.0
BOLD_LETTER, LETTER = 0.62, 0.55
"""Width of letters in the mean, in their sizes."""


@dataclass(frozen=True, slots=True)
class _Row:
    """Views that stand beside one another: their pieces, and how tall they are."""

    pieces: list[str]
    height: float


def draw_filling(plan: Plan, filling: Filling) -> str:
    """Return the picture of how a panel fills, and of what stays when it is filled and drained.

    Parameters
    ----------
    plan : Plan
    filling : Filling
        Of the plan, or of the made panel.

    Returns
    -------
    str
        A whole SVG document with its own background, the same for the same values.
    """
    voxels = raster_wet(plan.detail.features, filling.left.spacing)
    sheet = make_sheet(plan, voxels)
    room = (LEFT_ROOM[0] - sum(_beside(sheet, filling)), LEFT_ROOM[1])
    small, large = _scale(sheet, _step_room(filling)), _scale(sheet, room)
    rows = [*_draw_sequence(filling), *_draw_strip(sheet, filling, small), _draw_pair(sheet, filling, large)]
    drawing: list[str] = []
    breaks: list[float] = []
    y = 0.0
    for k, row in enumerate(rows):
        if k:
            if k == len(rows) - 1:
                y += BETWEEN
                drawing.append(f'<path d="M0 {number(y)}H{number(WIDTH)}" stroke="{FINE}" stroke-width="1"/>')
            breaks.append(y + BETWEEN / 2)
            y += BETWEEN
        drawing += [f'<g transform="translate(0 {number(y)})">', *row.pieces, "</g>"]
        y += row.height
    return whole_picture(
        f"How {plan.panel.name} fills and drains",
        _heading(plan),
        drawing,
        (0.0, 0.0, WIDTH, y),
        draw_fill_notes(plan, filling, WIDTH),
        define_sheet(sheet, (large, PER_MM)),
        _warning(filling),
        tuple(breaks),
    )


def _step_room(filling: Filling) -> tuple[float, float]:
    """Return the room of a step's view: up to `MOST_ACROSS` steps stand in one row."""
    steps = 0 if filling.sequence is None else len(list_steps(filling.sequence))
    across = steps if 0 < steps <= MOST_ACROSS else 1
    return (min(STEP_ROOM[0], (WIDTH - (across - 1) * GAP) / across), STEP_ROOM[1])


def _scale(sheet: FillSheet, room: tuple[float, float]) -> float:
    return min(room[0] / sheet.width, room[1] / sheet.height)


def _heading(plan: Plan) -> tuple[str, str]:
    drawn = "seen from the front" if lies_flat(plan.panel) else "up is at the top"
    seen = f"{tell_attitude(plan.panel)}, {drawn}"
    size = f"{show_mm(plan.panel.width)} × {show_mm(plan.panel.height)} mm"
    return f"{plan.panel.name}: how it fills and drains", f"{size}, {seen}"


def _warning(filling: Filling) -> str:
    """Return what must not be overlooked: that the pump may not run."""
    said = "" if filling.sequence is None else tell_no_run(filling.sequence)
    return capitalise(said)


def _draw_sequence(filling: Filling) -> list[_Row]:
    """Write how much goes in over the strip; what cannot be filled has been told of above."""
    if filling.sequence is None or not filling.sequence.steps:
        return []
    told = (tell_sequence(filling.sequence), tell_ranges(filling.sequence))
    whole = " ".join(make_sentence(said) for said in told if said)
    lines = wrap_words(whole, int(WIDTH / (LETTER * TEXT)))
    texts = [text_at(0.0, 10.0 + LINE * k, line, TEXT, INK) for k, line in enumerate(lines)]
    return [_Row(texts, LINE * len(lines))]


def _draw_strip(sheet: FillSheet, filling: Filling, scale: float) -> list[_Row]:
    """Draw a view for each step, as many in a row as there is room for."""
    sequence = filling.sequence
    if sequence is None:
        return []
    told_steps, runs = list_steps(sequence), sequence.may_run_ml is not None
    levels = [s.level_mm for s in sequence.steps if s.kind in ("level reached", "top up", "end")]
    mark = next((level for level in levels if level is not None), None)
    wide = max(sheet.width * scale, 200.0)
    across = max(1, min(len(told_steps), int((WIDTH + GAP) / (wide + GAP))))
    rows = []
    for first in range(0, len(told_steps), across):
        steps = told_steps[first : first + across]
        told = [
            _tell(step, first + k, wide, runs and first + k == len(told_steps))
            for k, step in enumerate(steps, 1)
        ]
        head = LINE * max(len(lines) for lines in told) + ABOVE
        pieces: list[str] = []
        for k, (step, lines) in enumerate(zip(steps, told, strict=True)):
            x = k * (wide + GAP)
            for n, (line, bold) in enumerate(lines):
                weight = 'font-weight="600"' if bold else ""
                pieces.append(
                    text_at(x, LINE * n + 10.0, line, TEXT if bold else SMALL, INK if bold else SOFT, weight)
                )
            pieces += [
                f'<g transform="translate({number(x)} {number(head)})">',
                *draw_step(sheet, scale, step, mark),
                "</g>",
            ]
        rows.append(_Row(pieces, head + sheet.height * scale))
    return rows


def _tell(step: FillStep, number_: int, wide: float, last: bool) -> list[tuple[str, bool]]:
    """Return the lines over a step's view, each with whether it is bold."""
    done = wrap_words(f"{number_}: {tell_step(step, last)}", int(wide / (BOLD_LETTER * TEXT)))
    more = 0.0 < step.poured_ml < step.total_ml
    said = f"{show_ml_range(step.poured_ml, step.poured_range_ml)} more, " * more
    said += f"{show_ml_range(step.total_ml, step.total_range_ml)} in all"
    if step.level is not None:
        said += f"; tank {tell_level(step)} full"
    if step.loop_share > 0.0:
        said += f"; rest of the loop {100.0 * step.loop_share:.0f} %"
    lines = wrap_words(said, int(wide / (LETTER * SMALL)))
    return [*((line, True) for line in done), *((line, False) for line in lines)]


def _draw_pair(sheet: FillSheet, filling: Filling, scale: float) -> _Row:
    """Draw what stays: air when filled on the left, coolant when drained on the right."""
    wet = _filled_at_last(sheet, filling)
    step = LEFT_ROOM[0] + WIDTH - 2 * LEFT_ROOM[0]
    beside = _beside(sheet, filling)[0]
    air, air_height = draw_left(sheet, filling, scale, "air", wet, LEFT_ROOM[0], beside)
    coolant, coolant_height = draw_left(sheet, filling, scale, "coolant", wet, LEFT_ROOM[0], beside)
    pieces = [*air, f'<g transform="translate({number(step)} 0)">', *coolant, "</g>"]
    return _Row(pieces, max(air_height, coolant_height))


def _beside(sheet: FillSheet, filling: Filling) -> tuple[float, float]:
    """Return the room that names of ports take on the left and on the right of both views, picture units."""
    kinds: tuple[Kind, Kind] = ("air", "coolant")
    rooms = [room_beside(sheet, filling, kind) for kind in kinds]
    return max(left for left, _ in rooms), max(right for _, right in rooms)


def _filled_at_last(sheet: FillSheet, filling: Filling) -> np.ndarray:
    """Return which voxels hold coolant after the last step; all of them where that is not known."""
    if filling.sequence is None:
        return np.ones(sheet.voxels.count, bool)
    if not filling.sequence.steps:
        return np.zeros(sheet.voxels.count, bool)
    return level_off(sheet, filling.sequence.steps[-1].wet)
