"""A drawing as PDF: a page of true size for each sheet, drawn from the entities of its DXF document.

Lines, arcs and circles are strokes with the weights and dashes of their layers, letters are text in the bundled faces:
it can be searched and selected, that of dimensions too.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ezdxf.entities import Arc, Circle, Dimension, Hatch, Line, Solid, Text
from ezdxf.entities.boundary_paths import ArcEdge, EdgePath, LineEdge
from ezdxf.enums import TextEntityAlignment
from reportlab.pdfgen.canvas import FILL_EVEN_ODD, Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from exports.drawing.dxf_document import DrawnDocument, Page
from exports.formats.pdf_canvas import new_canvas
from exports.lettering import CAPITALS, MM, spell_letters
from geom.outline import Point

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.entities import DXFGraphic

ROUND, BUTT = 1, 0
"""Ends of lines; dashes would grow by round ones."""

DIGITS = 4
"""Decimals of coordinates, [mm]."""

ANCHORS = {TextEntityAlignment.LEFT: 0.0, TextEntityAlignment.CENTER: 0.5, TextEntityAlignment.RIGHT: 1.0}
"""Share of a text's width that stands before its point."""

Stroke = Line | Arc | Circle


def write_drawing_pdf(path: Path, drawn: DrawnDocument) -> None:
    """Write all sheets as one PDF file.

    Parameters
    ----------
    path : Path
    drawn : DrawnDocument
    """
    canvas = new_canvas(path, drawn.title, "Drawing of the parts and their assembly")
    for page in drawn.pages:
        _draw_page(canvas, drawn.document, page)
    canvas.save()


def _draw_page(canvas: Canvas, document: Drawing, page: Page) -> None:
    width, height = page.sheet.size
    canvas.setPageSize((width * MM, height * MM))
    canvas.scale(MM, MM)
    canvas.setLineJoin(ROUND)
    strokes: dict[tuple[str, float], list[Stroke]] = {}
    letters: list[Text] = []
    for entity in _flat(page.entities):
        if isinstance(entity, Hatch):
            _hatch(canvas, document, page, entity)
        elif isinstance(entity, Text):
            letters.append(entity)
        elif isinstance(entity, Solid):
            _fill(canvas, page, entity)
        elif isinstance(entity, Line | Arc | Circle):
            strokes.setdefault((entity.dxf.layer, entity.dxf.ltscale), []).append(entity)
    for (layer, scale), drawn in strokes.items():
        _set_pen(canvas, document, layer, scale / page.enlarged)
        lines = canvas.beginPath()
        for stroke in drawn:
            _add_stroke(lines, page, stroke)
        canvas.drawPath(lines, stroke=1, fill=0)
    _write(canvas, page, letters)
    key, name = f"sheet {page.sheet.number}", f"{page.sheet.number} {page.sheet.title}"
    canvas.bookmarkPage(key)
    canvas.addOutlineEntry(name, key)
    canvas.showPage()


def _flat(entities: Iterable[DXFGraphic]) -> Iterator[DXFGraphic]:
    """Yield entities, and in place of a dimension what its block holds."""
    for entity in entities:
        if isinstance(entity, Dimension):
            yield from entity.get_geometry_block() or ()
        else:
            yield entity


def _to_paper(page: Page, x: float, y: float) -> Point:
    u, v = page.origin
    return round((x - u) / page.enlarged, DIGITS), round((y - v) / page.enlarged, DIGITS)


def _set_pen(canvas: Canvas, document: Drawing, layer: str, scale: float) -> None:
    look = document.layers.get(layer).dxf
    dashes = document.linetypes.get(look.linetype).simplified_line_pattern()
    canvas.setLineWidth(look.lineweight / 100)
    canvas.setDash([round(dash * scale, DIGITS) for dash in dashes])
    canvas.setLineCap(BUTT if dashes else ROUND)


def _add_stroke(lines: PDFPathObject, page: Page, stroke: Stroke) -> None:
    if isinstance(stroke, Line):
        lines.moveTo(*_to_paper(page, stroke.dxf.start.x, stroke.dxf.start.y))
        lines.lineTo(*_to_paper(page, stroke.dxf.end.x, stroke.dxf.end.y))
        return
    box = _round_box(page, stroke.dxf.center, stroke.dxf.radius)
    # An arc is a circle to ezdxf, too.
    if isinstance(stroke, Arc):
        first = stroke.dxf.start_angle
        lines.arc(*box, startAng=first, extent=(stroke.dxf.end_angle - first) % 360.0)
    else:
        lines.arc(*box, startAng=0.0, extent=360.0)
        lines.close()


def _round_box(page: Page, centre: Sequence[float], radius: float) -> tuple[float, float, float, float]:
    x, y = _to_paper(page, centre[0], centre[1])
    r = radius / page.enlarged
    return x - r, y - r, x + r, y + r


def _fill(canvas: Canvas, page: Page, solid: Solid) -> None:
    corners = [_to_paper(page, p.x, p.y) for p in (solid.dxf.vtx0, solid.dxf.vtx1, solid.dxf.vtx2)]
    outline = canvas.beginPath()
    outline.moveTo(*corners[0])
    for corner in corners[1:]:
        outline.lineTo(*corner)
    outline.close()
    canvas.drawPath(outline, stroke=0, fill=1)


def _hatch(canvas: Canvas, document: Drawing, page: Page, hatch: Hatch) -> None:
    """Fill a cut face, or draw its pattern's lines right across it, clipped to its outlines."""
    outline = canvas.beginPath()
    for path in hatch.paths:
        _add_boundary(outline, page, path)
    if hatch.pattern is None:
        canvas.drawPath(outline, stroke=0, fill=1, fillMode=FILL_EVEN_ODD)
        return
    canvas.saveState()
    canvas.clipPath(outline, stroke=0, fill=0, fillMode=FILL_EVEN_ODD)
    _set_pen(canvas, document, hatch.dxf.layer, 1.0)
    canvas.setLineCap(BUTT)
    lines = canvas.beginPath()
    corners = _corners(hatch)
    for line in hatch.pattern.lines:
        for start, end in _pattern_lines(line.angle, line.base_point, line.offset, corners):
            lines.moveTo(*_to_paper(page, *start))
            lines.lineTo(*_to_paper(page, *end))
    canvas.drawPath(lines, stroke=1, fill=0)
    canvas.restoreState()


def _add_boundary(outline: PDFPathObject, page: Page, path: EdgePath) -> None:
    begun = False
    for edge in path.edges:
        if isinstance(edge, LineEdge):
            if not begun:
                outline.moveTo(*_to_paper(page, edge.start.x, edge.start.y))
            outline.lineTo(*_to_paper(page, edge.end.x, edge.end.y))
        elif isinstance(edge, ArcEdge):
            first, turn = edge.start_angle, edge.end_angle - edge.start_angle
            if not edge.ccw:
                first, turn = edge.end_angle, -turn
            draw = outline.arcTo if begun else outline.arc
            draw(*_round_box(page, edge.center, edge.radius), startAng=first, extent=turn)
        begun = True
    outline.close()


def _corners(hatch: Hatch) -> tuple[float, float, float, float]:
    """Return the box round the outlines of a hatch, in the model space."""
    xs, ys = [], []
    for path in hatch.paths:
        for edge in path.edges:
            if isinstance(edge, LineEdge):
                xs.append(edge.start.x)
                ys.append(edge.start.y)
            elif isinstance(edge, ArcEdge):
                xs += [edge.center.x - edge.radius, edge.center.x + edge.radius]
                ys += [edge.center.y - edge.radius, edge.center.y + edge.radius]
    return min(xs), min(ys), max(xs), max(ys)


def _pattern_lines(
    angle: float, base: Sequence[float], offset: Sequence[float], box: tuple[float, float, float, float]
) -> Iterator[tuple[Point, Point]]:
    """Yield the lines of a family across a box: those at `angle`, [deg], each `offset` beside the one before."""
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    step = offset[1] * c - offset[0] * s
    corners = [(x - base[0], y - base[1]) for x in box[::2] for y in box[1::2]]
    aside = sorted((y * c - x * s) / step for x, y in corners)
    along = [x * c + y * s for x, y in corners]
    low, high = min(along), max(along)
    for k in range(math.ceil(aside[0]), math.floor(aside[-1]) + 1):
        x, y = base[0] - s * step * k, base[1] + c * step * k
        yield (x + c * low, y + s * low), (x + c * high, y + s * high)


def _write(canvas: Canvas, page: Page, letters: Sequence[Text]) -> None:
    if not letters:
        return
    block = canvas.beginText()
    for letter in letters:
        face, size = letter.dxf.style, letter.dxf.height / page.enlarged / CAPITALS
        align, point, _ = letter.get_placement()
        x, y = _to_paper(page, point.x, point.y)
        c, s = math.cos(math.radians(letter.dxf.rotation)), math.sin(math.radians(letter.dxf.rotation))
        said = spell_letters(letter.dxf.text)
        before = ANCHORS[align] * canvas.stringWidth(said, face, size)
        block.setFont(face, round(size, DIGITS))
        block.setTextTransform(
            *(round(value, DIGITS) for value in (c, s, -s, c, x - c * before, y - s * before))
        )
        block.textOut(said)
    canvas.drawText(block)
