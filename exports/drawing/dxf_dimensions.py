"""True DIMENSION entities, whose lines and letters stand where the sheet says.

Each carries its own block, drawn from the values of `exports.drawing.annotations`; a program that draws dimensions
anew from their points finds the same measures by the style's length factor.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from exports.drawing.annotations import (
    arrows_outside,
    leader_labels,
    leader_lines,
    linear_ends,
    linear_label,
    linear_lines,
    on_paper,
    ordinate_label,
    ordinate_lines,
)
from exports.drawing.dxf_paper import SheetPaper
from exports.drawing.dxf_styles import dimension_style, layer_name
from exports.drawing.values import Label, Leader, Linear, Ordinate, PlacedView
from exports.lettering import text_width

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.entities import DXFGraphic

ROTATED, ORDINATE = 0, 6
BLOCK_OWN, X_ORDINATE, TEXT_MOVED = 32, 64, 128
"""Bits of a dimension's type: what it is; its block is its own; it is of x; its text was put in its place."""


def add_linear(document: Drawing, paper: SheetPaper, linear: Linear, placed: PlacedView) -> DXFGraphic:
    """Add a linear dimension.

    Parameters
    ----------
    document : ezdxf.document.Drawing
    paper : SheetPaper
        Of its sheet, on the model space.
    linear : Linear
    placed : PlacedView
        The view that it measures.
    """
    block = document.blocks.new_anonymous_block("D")
    on_block = paper.on(block)
    for line in linear_lines(linear, placed):
        on_block.draw(line, "thin")
    ends = linear_ends(linear, placed)
    for tip, other in (ends, ends[::-1]):
        away = (2 * tip[0] - other[0], 2 * tip[1] - other[1])
        on_block.arrow(tip, away if arrows_outside(linear, placed) else other)
    label = linear_label(linear, placed)
    on_block.write(label)
    u_axis = linear.axis == "u"
    at, far = ends[1] if u_axis else ends[0], linear.line
    return _add_dimension(
        document,
        paper,
        placed,
        {
            "dimtype": ROTATED | BLOCK_OWN | TEXT_MOVED,
            "geometry": block.name,
            "angle": 0.0 if u_axis else 90.0,
            "defpoint": paper.place((at[0], far) if u_axis else (far, at[1])),
            "defpoint2": paper.place(on_paper(placed, linear.start)),
            "defpoint3": paper.place(on_paper(placed, linear.end)),
            "text": f"<> {linear.tolerance}" if linear.tolerance else "",
            "text_midpoint": paper.place(_middle(label)),
        },
    )


def add_ordinate(document: Drawing, paper: SheetPaper, ordinate: Ordinate, placed: PlacedView) -> DXFGraphic:
    """Add an ordinate dimension.

    Parameters
    ----------
    document : ezdxf.document.Drawing
    paper : SheetPaper
        Of its sheet, on the model space.
    ordinate : Ordinate
    placed : PlacedView
        The view that it measures.
    """
    block = document.blocks.new_anonymous_block("D")
    on_block = paper.on(block)
    for line in ordinate_lines(ordinate, placed):
        on_block.draw(line, "thin")
    label = ordinate_label(ordinate, placed)
    on_block.write(label)
    return _add_dimension(
        document,
        paper,
        placed,
        {
            "dimtype": ORDINATE | BLOCK_OWN | TEXT_MOVED | (X_ORDINATE if ordinate.axis == "u" else 0),
            "geometry": block.name,
            "defpoint": paper.place(on_paper(placed, placed.datum)),
            "defpoint2": paper.place(on_paper(placed, ordinate.at)),
            "defpoint3": paper.place(ordinate.label),
            "text_midpoint": paper.place(_middle(label)),
        },
    )


def add_leader(paper: SheetPaper, leader: Leader) -> list[DXFGraphic]:
    """Add a leader: its lines, its arrow or dot, and its text.

    Parameters
    ----------
    paper : SheetPaper
    leader : Leader
    """
    out = [paper.draw(line, "thin") for line in leader_lines(leader)]
    tip = leader.points[0]
    out.append(paper.dot(tip) if leader.dot else paper.arrow(tip, leader.points[1]))
    return out + [paper.write(label) for label in leader_labels(leader)]


def _add_dimension(
    document: Drawing, paper: SheetPaper, placed: PlacedView, attributes: dict[str, object]
) -> DXFGraphic:
    factor = 1 / (paper.enlarged * placed.scale)
    attributes["dimstyle"] = dimension_style(document, paper.enlarged, factor)
    attributes["layer"] = layer_name("thin")
    return paper.layout.new_entity("DIMENSION", attributes)


def _middle(label: Label) -> tuple[float, float]:
    """Return the middle of a label, [mm] on the paper."""
    width = text_width(label.text, label.height, label.bold)
    along = {"left": width / 2, "middle": 0.0, "right": -width / 2}[label.anchor]
    turned = math.radians(label.turned)
    c, s, up = math.cos(turned), math.sin(turned), label.height / 2
    return label.at[0] + c * along - s * up, label.at[1] + s * along + c * up
