"""The title block: the fields of ISO 7200, 180 mm wide, in the lower right corner of the frame.

No name and no date is filled in: owner, drawn, checked, approved and the dates are for a pen.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from exports.drawing.paper import Box, box_strokes, frame_box
from exports.drawing.scales import show_scale
from exports.drawing.values import Anchor, Item, Label, Stroke, Style
from exports.lettering import text_width
from exports.wording.figures import show_hash
from exports.wording.finish_words import show_edges
from geom.outline import Arc, Line, Point
from layouts.drawing_choice import PaperName, Projection

WIDTH = 180.0
"""ISO 7200."""

ROWS = (9.0, 13.0, 9.0, 9.0)
"""Heights of the rows, from below, [mm]."""

HEIGHT = sum(ROWS)

CAPTION, VALUE, TITLE = 1.8, 2.5, 3.5
"""Capitals, [mm]; sizes of ISO 3098."""

INSET = 1.2

ESTIMATE = "Engineering estimate, not a certificate"


@dataclass(frozen=True, slots=True)
class Titles:
    """What the title block of one sheet says.

    Parameters
    ----------
    title : str
        The panel's name.
    sheet : str
        What is on the sheet: "body, front".
    kind : str
        Of document: "part drawing", "assembly drawing".
    material : str
    tolerance : str
        General tolerances: "ISO 2768-m".
    scale : float or None
        Paper over true length, [-]; None where nothing is drawn to scale.
    number, count : int
        Of the sheet, of all sheets.
    sha256 : str
        Of the panel file.
    paper : {"A3", "A4"}
    projection : {"first angle", "third angle"}
    flatness, roughness : float or None
        Of the joint face, [mm] and Ra [um]; None where the part has none.
    """

    title: str
    sheet: str
    kind: str
    material: str
    tolerance: str
    scale: float | None
    number: int
    count: int
    sha256: str
    paper: PaperName
    projection: Projection
    flatness: float | None = None
    roughness: float | None = None


def title_box(paper: PaperName) -> Box:
    """Return where the title block stands, [mm]."""
    frame = frame_box(paper)
    return Box(frame.x1 - WIDTH, frame.y0, frame.x1, frame.y0 + HEIGHT)


def draw_title_block(titles: Titles) -> tuple[Item, ...]:
    """Return the title block of a sheet.

    Parameters
    ----------
    titles : Titles
    """
    box = title_box(titles.paper)
    levels = [box.y0 + sum(ROWS[:k]) for k in range(len(ROWS) + 1)]
    file = show_hash(titles.sha256)
    rows: tuple[tuple[tuple[float, str, str], ...], ...] = (
        (
            (50.0, "Owner", ""),
            (30.0, "Drawn, date", ""),
            (30.0, "Checked, date", ""),
            (30.0, "Approved, date", ""),
            (17.0, "Language", "en"),
            (23.0, "Sheet", f"{titles.number} of {titles.count}"),
        ),
        (
            (100.0, "Title", ""),
            (40.0, "Document", titles.kind),
            (40.0, "Number: file's SHA-256", file),
        ),
        (
            (70.0, "Material", titles.material),
            (24.0, "Scale", "–" if titles.scale is None else show_scale(titles.scale)),
            (17.0, "Paper", titles.paper),
            (21.0, "Lengths", "in mm"),
            (48.0, "Projection", titles.projection),
        ),
        (
            (42.0, "General tolerances", titles.tolerance),
            (32.0, "Edges", f"broken {show_edges()}"),
            *_joint_cells(titles),
        ),
    )
    out: list[Item] = list(box_strokes(box))
    for k, cells in enumerate(rows):
        low, high = levels[k], levels[k + 1]
        if k:
            out.append(Stroke(Line((box.x0, low), (box.x1, low)), "frame"))
        x = box.x0
        for width, caption, value in cells:
            if x > box.x0:
                out.append(Stroke(Line((x, low), (x, high)), "frame"))
            out.append(Label(caption, (x + INSET, high - INSET - CAPTION), CAPTION))
            if value:
                out.append(_fit(value, (x + INSET, low + 1.4), width - 2 * INSET, VALUE))
            x += width
    x, y = box.x0 + INSET, levels[1]
    out.append(_fit(titles.title, (x, y + 5.3), 100.0 - 2 * INSET, TITLE, bold=True))
    out.append(_fit(titles.sheet, (x, y + 1.4), 100.0 - 2 * INSET, VALUE))
    out += _draw_symbol((box.x1 - 12.0, levels[2] + ROWS[2] / 2), titles.projection)
    if titles.flatness is not None:
        out += _draw_flatness((box.x0 + 76.0, levels[3] + 1.0), titles.flatness)
    return tuple(out)


def _joint_cells(titles: Titles) -> tuple[tuple[float, str, str], ...]:
    if titles.flatness is None or titles.roughness is None:
        return ((106.0, "Standing of this drawing", ESTIMATE),)
    return (
        (22.0, "Joint face, flat", ""),
        (20.0, "Joint face", f"Ra {titles.roughness:g} µm"),
        (64.0, "Standing of this drawing", ESTIMATE),
    )


def _fit(text: str, at: Point, room: float, height: float, bold: bool = False) -> Label:
    """Return a label no longer than its cell: in smaller letters where it must be."""
    width = text_width(text, height, bold)
    return Label(text, at, height if width <= room else height * room / width, bold=bold)


def _draw_symbol(middle: Point, projection: Projection) -> list[Stroke]:
    """Return the symbol of ISO 5456-2: a frustum seen from its side and on its smaller end."""
    x, y = middle
    small, large, long, apart = 1.5, 3.0, 5.0, 5.2
    cone, rings = (x - apart, x + apart) if projection == "first angle" else (x + apart, x - apart)
    near, far = cone - long / 2, cone + long / 2
    corners = ((near, y - small), (far, y - large), (far, y + large), (near, y + small))
    out = [Stroke(Line(corners[k], corners[(k + 1) % 4]), "visible") for k in range(4)]
    out += [Stroke(Arc((rings, y), radius, 0.0, 2 * math.pi), "visible") for radius in (small, large)]
    axes: tuple[tuple[Point, Point], ...] = (
        ((near - 1.0, y), (far + 1.0, y)),
        ((rings - large - 0.8, y), (rings + large + 0.8, y)),
        ((rings, y - large - 0.8), (rings, y + large + 0.8)),
    )
    return [*out, *(Stroke(Line(a, b), "centre") for a, b in axes)]


def _draw_flatness(corner: Point, flatness: float) -> list[Item]:
    """Return the frame of a flatness tolerance, ISO 1101: the parallelogram, then the value."""
    x, y = corner
    high, first, second = 4.2, 6.5, 11.0
    out: list[Item] = list(box_strokes(Box(x, y, x + first + second, y + high)))
    out.append(Stroke(Line((x + first, y), (x + first, y + high)), "frame"))
    low, top = y + 1.1, y + high - 1.1
    shape = ((x + 1.0, low), (x + 4.0, low), (x + 5.5, top), (x + 2.5, top))
    style: Style = "visible"
    out += [Stroke(Line(shape[k], shape[(k + 1) % 4]), style) for k in range(4)]
    anchor: Anchor = "middle"
    out.append(Label(f"{flatness:g}", (x + first + second / 2, y + 0.85), VALUE, anchor))
    return out
