"""The tubes between panel and parts as one picture (SVG): three views, and each tube straight with its bends marked."""

from __future__ import annotations

from exports.pictures.plan_symbols import FAULT, INK, SOFT
from exports.pictures.setup_symbols import TAG_HEIGHT, draw_number_tag, tag_size
from exports.pictures.svg import guess_width, number, text_at
from exports.pictures.tube_views import TUBE, draw_views
from exports.pictures.whole_picture import Notes, whole_picture
from exports.wording.figures import show_degrees, show_mm, wrap_words
from exports.wording.tube_words import (
    face_of,
    marks_of,
    number_of,
    show_cut,
    tell_mark,
    tell_turn,
)
from geom.words import count_of
from layouts.plan import Plan
from layouts.tubes.values import TubeRun

TEXT = 11.0
LINE = 15.0
LETTERS = 74
"""Most characters of a line beside a tube."""

BAR = 430.0
"""Length of the longest tube, in picture units."""

BAR_HEIGHT = 12.0
BEND = "#9cc3d6"
"""Fill of what is bent."""

GAP = 26.0
"""Between the columns of the list, and between its rows."""


def draw_tubes(plan: Plan) -> str:
    """Return the picture of a plan's tubes.

    Parameters
    ----------
    plan : Plan
        With tubes and what they are of.

    Returns
    -------
    str
        A whole SVG document with its own background, the same for the same plan.
    """
    tubing = plan.panel.tubing
    if tubing is None or not plan.tubes:
        raise ValueError("a panel whose file gives no part's port has no tubes")
    name = plan.panel.name
    drawing, extent = draw_views(plan)
    bent = "" if tubing.bend_radius is None else f", bent on a radius of {show_mm(tubing.bend_radius)} mm"
    return whole_picture(
        f"Tubes of {name}",
        (
            f"{name}: tubes",
            f"{count_of(len(plan.tubes), 'tube')} of {show_mm(tubing.outer)} mm outside{bent} · a dot marks the end in "
            "the part's port, a tick where a bend starts",
        ),
        drawing,
        extent,
        _draw_list(plan),
    )


def _draw_list(plan: Plan) -> Notes:
    """Return the list of the tubes: what each joins, its marks in words, and the tube straight with its marks."""
    heads = {tube.name: f"{tube.port} ({face_of(plan, tube)}) to {tube.part}" for tube in plan.tubes}
    said = {tube.name: wrap_words(_tell_marks(tube), LETTERS) for tube in plan.tubes}
    tags = max(tag_size(number_of(tube))[0] for tube in plan.tubes)
    texts = [guess_width(head, TEXT, bold=True) for head in heads.values()]
    texts += [guess_width(line, TEXT) for lines in said.values() for line in lines]
    left, bars = tags + 12.0, tags + 12.0 + max(texts) + GAP
    longest = max((tube.length for tube in plan.tubes), default=0.0)
    scale = BAR / longest if longest > 0.0 else 1.0
    notes = [
        "marks and cut lengths in mm, along the straight tube from its end at the panel, both insertions included"
    ]
    if any(_is_turned(mark.turned_deg) for tube in plan.tubes for mark in marks_of(tube)):
        notes.append(
            "clockwise: seen along the tube from its end at the panel; a tube in a fixed bender is turned the other way"
        )
    out = [text_at(0.0, 4.0 + LINE * k, note, TEXT, SOFT) for k, note in enumerate(notes)]
    y = 4.0 + LINE * (len(notes) - 1) + GAP
    for tube in plan.tubes:
        wide = tag_size(number_of(tube))[0]
        out += draw_number_tag(number_of(tube), (0.0, y - 10.5, wide, y - 10.5 + TAG_HEIGHT), None)
        out.append(text_at(left, y, heads[tube.name], TEXT, INK, 'font-weight="600"'))
        colour = SOFT if tube.points and not tube.near else FAULT
        out += [
            text_at(left, y + LINE * k, line, TEXT, colour) for k, line in enumerate(said[tube.name], start=1)
        ]
        if tube.points:
            out += _draw_bar(tube, bars, y - 2.0, scale)
        y += LINE * max(len(said[tube.name]), 1) + GAP
    right = max(
        bars + BAR + 10.0 + guess_width("0000 mm", TEXT), *(guess_width(note, TEXT) for note in notes)
    )
    return out, right, y - GAP + 8.0


def _tell_marks(tube: TubeRun) -> str:
    """Return the bends of a tube in words, and what is wrong with it."""
    if not tube.points:
        return f"no tube: {tube.why_none}"
    marks = "; ".join(tell_mark(mark, k == 0) for k, mark in enumerate(marks_of(tube))) or "straight"
    return "; ".join((marks, *(f"too near to {near.what}" for near in tube.near)))


def _is_turned(turned_deg: float) -> bool:
    return tell_turn(turned_deg).startswith("pointing")


def _draw_bar(tube: TubeRun, x: float, y: float, scale: float) -> list[str]:
    """Return a tube straight, what is bent of it filled, with each bend's angle over it and its start under it."""
    long, top = tube.length * scale, y - BAR_HEIGHT / 2
    out = [
        f'<rect x="{number(x)}" y="{number(top)}" width="{number(long)}" height="{number(BAR_HEIGHT)}" fill="{TUBE}" '
        f'stroke="{INK}" stroke-width="1"/>'
    ]
    middle = 'text-anchor="middle"'
    taken, off = -BAR, 0.0
    for mark in marks_of(tube):
        start, end = x + mark.start * scale, x + mark.end * scale
        said = f"{mark.start:.0f}"
        half = guess_width(said, 0.9 * TEXT) / 2
        # A mark too close to the one before stands a line farther off.
        off = LINE * 0.8 if start - half < taken and off == 0.0 else 0.0
        taken = start + half + 4.0
        out += [
            f'<rect x="{number(start)}" y="{number(top)}" width="{number(end - start)}" '
            f'height="{number(BAR_HEIGHT)}" fill="{BEND}" stroke="{INK}" stroke-width="0.8"/>',
            f'<path d="M{number(start)} {number(top - 3)}V{number(top + BAR_HEIGHT + 3 + off)}" stroke="{INK}" '
            'stroke-width="1.6"/>',
            text_at(start, top + BAR_HEIGHT + 12.0 + off, said, 0.9 * TEXT, INK, middle),
        ]
        angle = show_degrees(mark.angle_deg)
        # A bend too short for its angle is told in words beside.
        if end - start > guess_width(angle, 0.9 * TEXT) + 2.0:
            out.append(text_at((start + end) / 2, y + 3.6, angle, 0.9 * TEXT, INK, middle))
    out.append(text_at(x + long + 8.0, y + 4.0, show_cut(tube.length), TEXT, INK, 'font-weight="600"'))
    return out
