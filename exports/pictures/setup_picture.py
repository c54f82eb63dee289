"""The set-ups of a milled panel as one picture (SVG): each face as it looks up, what is cut, and with which tools."""

from __future__ import annotations

from exports.pictures.labels import LabelRequest, Rect, place_labels
from exports.pictures.plan_symbols import FINE, INK, SHEET, SOFT, draw_region
from exports.pictures.setup_symbols import (
    ROW,
    DepthScale,
    draw_datum,
    draw_depths,
    draw_hole_seen,
    draw_number_tag,
    draw_sides,
    hole_reach,
    side_boxes,
    tag_size,
)
from exports.pictures.svg import View, guess_width, number, text_at
from exports.pictures.whole_picture import whole_picture
from exports.wording.figures import show_mm, wrap_words
from exports.wording.milling_words import (
    JOB_HEADS,
    job_row,
    list_cuts,
    number_jobs,
    tell_axes,
    tell_holding,
    tell_setup,
    tell_total,
)
from geom.outline import Point, path_points, region_polygon
from geom.words import count_of
from layouts.milling.placed_cuts import face_border
from layouts.milling.profiles import list_profiles
from layouts.milling.work import Hole, Milled, Pocket, SetUp
from layouts.plan import Plan

DRAWING_WIDTH, DRAWING_HEIGHT = 640.0, 400.0
"""Most room of one face, in picture units."""

HEADING = 62.0
"""A set-up's name, how its face is seen, and how the part is held."""
BELOW = 24.0
"""Under a face: its datum's arrows."""

GAP = 44.0
BETWEEN = 34.0
"""Between drawing and list, and between one set-up and the next."""

TEXT = 11.0
LINE = 16.0
TAG_GAP = 8.0
FEW_HOLES = 8
"""Holes alike up to so many are tagged one by one; of more only the first."""

TIED = "~"
"""Stands for a space at which no line breaks."""

SHORE_STEP = 2.5
"""Between the points of the outlines that tags keep off, [mm]."""


def draw_setups(plan: Plan) -> str:
    """Return the picture of all set-ups, in the order in which they are done.

    Parameters
    ----------
    plan : Plan
        Of a milled panel.

    Returns
    -------
    str
        A whole SVG document with its own background, the same for the same plan.
    """
    milled = plan.milled
    if milled is None:
        raise ValueError("a printed panel has no set-ups")
    name = plan.panel.name
    wide = max((setup.size[0] for setup in milled.setups), default=1.0)
    tall = max((setup.size[1] for setup in milled.setups), default=1.0)
    scale = min(DRAWING_WIDTH / wide, DRAWING_HEIGHT / tall)
    deepest = max(
        (c.floor if isinstance(c, Pocket) else c.top + c.depth for s in milled.setups for c in list_cuts(s)),
        default=0.0,
    )
    depths = DepthScale(deepest)
    columns = _columns(milled)
    drawing: list[str] = []
    breaks: list[float] = []
    y, list_left = 0.0, wide * scale + GAP
    right = list_left + sum(columns)
    for n, setup in enumerate(milled.setups, 1):
        if n > 1:
            breaks.append(y)
            drawing.append(f'<path d="M0 {number(y)}H{number(right)}" stroke="{FINE}" stroke-width="1"/>')
            y += BETWEEN
        face, face_height = _draw_face(milled, setup, View(scale, setup.size[1]), depths)
        table, table_height = _draw_list(milled, setup, columns)
        drawing += [
            f'<g transform="translate(0 {number(y)})">',
            text_at(
                0.0,
                4.0,
                f"{n} of {len(milled.setups)}: {tell_setup(setup, milled.stocks)}",
                14.0,
                INK,
                'font-weight="600"',
            ),
            text_at(0.0, 4.0 + LINE, tell_axes(setup), TEXT, SOFT),
            text_at(0.0, 4.0 + 2 * LINE, tell_holding(setup, milled.stocks), TEXT, SOFT),
            "</g>",
            f'<g transform="translate(0 {number(y + HEADING)})">',
            *face,
            "</g>",
            f'<g transform="translate({number(list_left)} {number(y + HEADING)})">',
            *table,
            "</g>",
        ]
        y += HEADING + max(face_height, table_height) + BETWEEN / 2
    said = [
        line for text in milled.assumptions for line in (*wrap_words(text, int(right / (0.56 * TEXT))), "")
    ]
    notes, notes_height = [], 8.0
    for line in said:
        if line:
            notes.append(text_at(0.0, notes_height, line, TEXT, INK))
        notes_height += LINE if line else 4.0
    return whole_picture(
        f"Set-ups of {name}",
        (
            f"{name}: set-ups for milling",
            f"{count_of(len(milled.setups), 'set-up')} · {tell_total(milled)} · numbers are lines of the cutter list · "
            "every face as it looks up, to one scale",
        ),
        drawing,
        (0.0, -12.0, right, y),
        (notes, right, notes_height),
        breaks=tuple(breaks),
    )


def _draw_face(milled: Milled, setup: SetUp, view: View, depths: DepthScale) -> tuple[list[str], float]:
    outline = face_border(milled.setups, setup)
    width, height = setup.size[0] * view.scale, setup.size[1] * view.scale
    out = [draw_region((outline,), view, SHEET, INK, 1.6)]
    shore: list[Point] = [view.to((x, y)) for x, y in path_points(outline, SHORE_STEP).tolist()]
    for profile in list_profiles(setup):
        fill = depths.fill(profile.floor)
        out.append(draw_region(profile.loops, view, fill, INK, 0.8, 'fill-rule="evenodd"'))
        shore += [
            view.to((x, y)) for loop in profile.loops for x, y in path_points(loop, SHORE_STEP).tolist()
        ]
    for hole in setup.holes:
        out += draw_hole_seen(hole, view, depths)
    out += _draw_tags(milled, setup, view, shore, (0.0, 0.0, width, height))
    out += [*draw_sides(setup, width, height), *draw_datum(height)]
    legend, legend_height = draw_depths(setup, depths, max(width - 48.0, 200.0))
    out += [f'<g transform="translate(48 {number(height + 14.0)})">', *legend, "</g>"]
    return out, height + 14.0 + max(legend_height, BELOW)


def _draw_tags(milled: Milled, setup: SetUp, view: View, shore: list[Point], within: Rect) -> list[str]:
    """Draw which jobs cut what: a tag at each pocket, and at each hole or the first of many alike."""
    numbers = _number_cuts(milled, setup)
    taken: list[Rect] = side_boxes(setup, within[2], within[3])
    for hole in setup.holes:
        (x, y), r = view.to(hole.at), hole_reach(hole) * view.scale
        taken.append((x - r, y - r, x + r, y + r))
    wanted: list[tuple[str, Point, float]] = []
    for holes in _sort_holes(setup):
        for hole in holes if len(holes) <= FEW_HOLES else holes[:1]:
            many = f" × {len(holes)}" if len(holes) > FEW_HOLES else ""
            said = numbers.get(hole.name, "") + many
            wanted.append((said, view.to(hole.at), hole_reach(hole) * view.scale + 3.0))
    for pocket in setup.pockets:
        inside = region_polygon(pocket.region, islands=pocket.islands).representative_point()
        said = numbers.get(pocket.name, "")
        at = view.to((float(inside.x), float(inside.y)))
        # A tank holds its tag; from anything narrower a line leads to it.
        wanted.append((said, at, 0.0 if pocket.kind == "tank" else TAG_GAP))
    wanted = [w for w in wanted if w[0]]
    requests = tuple(LabelRequest(at, tag_size(said), gap) for said, at, gap in wanted)
    placed = place_labels(requests, tuple(taken), tuple(shore), within)
    out: list[str] = []
    for (said, at, gap), label in zip(wanted, placed, strict=True):
        out += draw_number_tag(said, label.box, at if gap > 0.0 else None)
    return out


def _number_cuts(milled: Milled, setup: SetUp) -> dict[str, str]:
    """Return the numbers of the jobs that make each cut of a set-up: "3 4"."""
    numbers: dict[str, list[str]] = {}
    for n, job in number_jobs(milled).items():
        if (job.part, job.face) == (setup.part, setup.face):
            for name in job.cuts:
                numbers.setdefault(name, []).append(str(n))
    return {name: " ".join(told) for name, told in numbers.items()}


def _sort_holes(setup: SetUp) -> list[list[Hole]]:
    """Return the holes of a set-up, those alike together."""
    alike: dict[tuple[object, ...], list[Hole]] = {}
    for hole in setup.holes:
        key = (hole.kind, hole.diameter, hole.thread, hole.through, hole.chamfer, round(hole.depth, 2))
        alike.setdefault(key, []).append(hole)
    return list(alike.values())


def _columns(milled: Milled) -> tuple[float, ...]:
    rows = [JOB_HEADS, *(job_row(n, job, milled) for n, job in number_jobs(milled).items())]
    return tuple(max(guess_width(cell, TEXT) for cell in column) + 14.0 for column in zip(*rows, strict=True))


def _draw_list(milled: Milled, setup: SetUp, columns: tuple[float, ...]) -> tuple[list[str], float]:
    rows: list[tuple[str, ...]] = [JOB_HEADS]
    rows += [
        job_row(n, job, milled)
        for n, job in number_jobs(milled).items()
        if (job.part, job.face) == (setup.part, setup.face)
    ]
    out: list[str] = []
    y = 8.0
    for r, row in enumerate(rows):
        x = 0.0
        for c, (cell, width) in enumerate(zip(row, columns, strict=True)):
            extra = 'font-weight="600"' if r and c == 0 else ""
            if c >= 3:
                extra = 'text-anchor="end"'
            if cell:
                at = x + width - 14.0 if c >= 3 else x
                out.append(text_at(at, y + 4.0, cell, TEXT, INK if r else SOFT, extra))
            x += width
        y += ROW
    places, y = _draw_places(milled, setup, sum(columns), y)
    return [*out, *places], y


def _draw_places(milled: Milled, setup: SetUp, width: float, y: float) -> tuple[list[str], float]:
    """Draw where the holes stand, to mark them out by, from a height on; return where it ends."""
    if not setup.holes:
        return [], y
    y += LINE / 2
    out = [text_at(0.0, y + 4.0, "holes: diameter, and (u, v) of each, mm", TEXT, SOFT)]
    y += ROW
    numbers = _number_cuts(milled, setup)
    indent = max(guess_width(numbers.get(hole.name, ""), TEXT, bold=True) for hole in setup.holes) + 14.0
    for holes in _sort_holes(setup):
        first = holes[0]
        # Both coordinates of a hole stay on one line.
        pairs = " ".join(f"({show_mm(h.at[0])},{TIED}{show_mm(h.at[1])})" for h in holes)
        size = f"{show_mm(first.diameter)}{', through' if first.through else ''}"
        out.append(text_at(0.0, y + 4.0, numbers.get(first.name, ""), TEXT, INK, 'font-weight="600"'))
        for line in wrap_words(f"{size}: {pairs}", int((width - indent) / (0.56 * TEXT))):
            out.append(text_at(indent, y + 4.0, line.replace(TIED, " "), TEXT, INK))
            y += LINE
        y += 2.0
    return out, y
