"""A drawing as a DXF document: true size in model space, all sheets beside each other, a layout to print each.

Each sheet is enlarged until its main views are of true size. A view at another scale keeps its proportion to them; its
dimensions have a length factor, so that they tell the true length. The PDF file is made from the same document.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from exports.drawing.dxf_dimensions import add_leader, add_linear, add_ordinate
from exports.drawing.dxf_paper import SheetPaper, place_segment
from exports.drawing.dxf_styles import add_styles
from exports.drawing.values import DrawingSet, Item, Label, Linear, Ordinate, PlacedView, Sheet, Stroke
from exports.formats.dxf_bytes import document_bytes, new_document
from geom.outline import Point

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.entities import DXFGraphic

BETWEEN = 50.0
"""From sheet to sheet, [mm] of paper."""

TURNED = ("cover", "right", "upper")
"""How the names of the parts end whose hatching is turned: covers lie on a body, pieces of a split panel on the others.
A part is hatched alike in all views, and unlike its neighbours (ISO 128-3)."""


@dataclass(frozen=True, slots=True)
class Page:
    """A sheet in the document.

    Parameters
    ----------
    sheet : Sheet
    origin : (float, float)
        Of its paper in the model space.
    enlarged : float
        Model over paper length, [-].
    entities : tuple of DXFGraphic
        All that stands on it.
    """

    sheet: Sheet
    origin: Point
    enlarged: float
    entities: tuple[DXFGraphic, ...]


@dataclass(frozen=True, slots=True)
class DrawnDocument:
    """A drawing as a DXF document, and which of its entities stand on which sheet."""

    title: str
    document: Drawing
    pages: tuple[Page, ...]


def build_document(drawing: DrawingSet) -> DrawnDocument:
    """Return a drawing as a DXF document.

    Parameters
    ----------
    drawing : DrawingSet
    """
    document = new_document()
    add_styles(document)
    pages: list[Page] = []
    x = 0.0
    for sheet in drawing.sheets:
        paper = SheetPaper(document.modelspace(), (x, 0.0), 1 / sheet.scale)
        pages.append(Page(sheet, paper.origin, paper.enlarged, tuple(_draw_sheet(document, paper, sheet))))
        _add_layout(document, paper, sheet)
        x += (sheet.size[0] + BETWEEN) / sheet.scale
    return DrawnDocument(drawing.title, document, tuple(pages))


def write_drawing_dxf(path: Path, drawn: DrawnDocument) -> None:
    """Write all sheets as one DXF file.

    Parameters
    ----------
    path : Path
    drawn : DrawnDocument
    """
    path.write_bytes(document_bytes(drawn.document))


def _draw_sheet(document: Drawing, paper: SheetPaper, sheet: Sheet) -> list[DXFGraphic]:
    out: list[DXFGraphic] = []
    for placed in sheet.views:
        out += _draw_view(paper, placed)
    for item in sheet.items:
        out += _draw_item(document, paper, item, sheet.views)
    return out


def _draw_view(paper: SheetPaper, placed: PlacedView) -> list[DXFGraphic]:
    out: list[DXFGraphic] = []
    for cut in placed.view.cuts:
        turned = cut.part.rpartition(" ")[2] in TURNED
        out.append(paper.hatch(cut, placed, 90.0 if turned else 0.0))
    return out + [paper.draw(place_segment(line.segment, placed), line.style) for line in placed.view.lines]


def _draw_item(
    document: Drawing, paper: SheetPaper, item: Item, views: tuple[PlacedView, ...]
) -> list[DXFGraphic]:
    if isinstance(item, Stroke):
        return [paper.draw(item.segment, item.style)]
    if isinstance(item, Label):
        return [paper.write(item)]
    if isinstance(item, Ordinate):
        return [add_ordinate(document, paper, item, views[item.view])]
    if isinstance(item, Linear):
        return [add_linear(document, paper, item, views[item.view])]
    return add_leader(paper, item)


def _add_layout(document: Drawing, paper: SheetPaper, sheet: Sheet) -> None:
    name = f"Sheet {sheet.number}"
    if sheet.number == 1:
        document.layouts.rename("Layout1", name)
        layout = document.paperspace(name)
    else:
        layout = document.layouts.new(name)
    width, height = sheet.size
    layout.page_setup(size=(width, height), margins=(0, 0, 0, 0), units="mm", name="", device="")
    layout.add_viewport(
        center=(width / 2, height / 2),
        size=(width, height),
        view_center_point=paper.place((width / 2, height / 2)),
        view_height=paper.enlarged * height,
    )
