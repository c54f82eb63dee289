"""A sheet's part of the model space, drawn on in mm of its paper."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from exports.drawing.annotations import ARROW
from exports.drawing.dxf_styles import CONTINUOUS, PENS, layer_name
from exports.drawing.values import CutFace, Label, PlacedView, Style
from exports.lettering import BOLD, PLAIN
from geom.outline import Arc, Line, Point, Segment

if TYPE_CHECKING:
    from ezdxf.entities import DXFGraphic, Hatch
    from ezdxf.layouts import BaseLayout

ARROW_WIDTH = ARROW / 3
"""ISO 129-1: filled, about 20 degrees sharp, [mm]."""

DOT = 0.5
"""Radius of the dot that ends a leader on a face, [mm]."""

HATCH_SPACING = 2.2
PATTERN_SPACING = 3.175
"""Between hatch lines, [mm]: on the paper, and of the pattern ANSI31 as it is defined."""

SOLID_UNDER = 3.0
"""Cords that are narrower on the paper are filled black, [mm]; ISO 128-50 on thin sections."""

BY_LAYER = 256
OUTER, INNER = 1, 16
"""Flags of hatch boundaries."""


class SheetPaper:
    """Draws in mm of a sheet's paper onto a layout whose units are `enlarged` as small, from `origin` on.

    Parameters
    ----------
    layout : ezdxf.layouts.BaseLayout
        The model space, or the block of a dimension.
    origin : (float, float)
        Where the paper's lower left corner stands on it.
    enlarged : float
        Model over paper length, [-].
    """

    def __init__(self, layout: BaseLayout, origin: Point, enlarged: float) -> None:
        self.layout = layout
        self.origin = origin
        self.enlarged = enlarged

    def on(self, layout: BaseLayout) -> SheetPaper:
        """Return the same paper, drawn onto another layout."""
        return SheetPaper(layout, self.origin, self.enlarged)

    def place(self, point: Point) -> Point:
        """Return where a point of the paper, [mm], stands on the layout."""
        return self.origin[0] + self.enlarged * point[0], self.origin[1] + self.enlarged * point[1]

    def draw(self, segment: Segment, style: Style) -> DXFGraphic:
        """Draw a line, an arc or a circle."""
        attributes: dict[str, object] = {"layer": layer_name(style)}
        if PENS[style].dashes != CONTINUOUS:
            attributes["ltscale"] = self.enlarged
        if isinstance(segment, Line):
            return self.layout.add_line(
                self.place(segment.start), self.place(segment.end), dxfattribs=attributes
            )
        centre, radius = self.place(segment.centre), self.enlarged * segment.radius
        if segment.is_whole:
            return self.layout.add_circle(centre, radius, dxfattribs=attributes)
        first, last = sorted((segment.first, segment.first + segment.sweep))
        angles = (math.degrees(first) % 360.0, math.degrees(last) % 360.0)
        return self.layout.add_arc(centre, radius, *angles, dxfattribs=attributes)

    def arrow(self, tip: Point, towards: Point) -> DXFGraphic:
        """Draw a filled arrow head: its tip, and a point that its line runs to."""
        length = math.dist(tip, towards)
        ux, uy = (towards[0] - tip[0]) / length * ARROW, (towards[1] - tip[1]) / length * ARROW
        wx, wy = -uy / ARROW * ARROW_WIDTH / 2, ux / ARROW * ARROW_WIDTH / 2
        x, y = tip[0] + ux, tip[1] + uy
        corners = [tip, (x + wx, y + wy), (x - wx, y - wy)]
        return self.layout.add_solid(
            [self.place(corner) for corner in corners], dxfattribs={"layer": layer_name("thin")}
        )

    def dot(self, at: Point) -> DXFGraphic:
        """Draw the dot that ends a leader on a face."""
        hatch = self.layout.add_hatch(color=BY_LAYER, dxfattribs={"layer": layer_name("thin")})
        hatch.paths.add_edge_path(flags=OUTER).add_arc(self.place(at), self.enlarged * DOT)
        return hatch

    def write(self, label: Label) -> DXFGraphic:
        """Write a line of text."""
        from ezdxf.enums import TextEntityAlignment as Align

        text = self.layout.add_text(
            label.text,
            height=self.enlarged * label.height,
            rotation=label.turned,
            dxfattribs={"layer": layer_name("text"), "style": BOLD if label.bold else PLAIN},
        )
        align = {"left": Align.LEFT, "middle": Align.CENTER, "right": Align.RIGHT}[label.anchor]
        text.set_placement(self.place(label.at), align=align)
        return text

    def hatch(self, cut: CutFace, placed: PlacedView, angle: float) -> Hatch:
        """Hatch a cut face, or fill it where it is a thin cord.

        Parameters
        ----------
        cut : CutFace
        placed : PlacedView
            Its view.
        angle : float
            By which the pattern's lines are turned from 45 degrees, [deg].
        """
        hatch = self.layout.add_hatch(color=BY_LAYER, dxfattribs={"layer": layer_name("hatch")})
        cord = cut.part.startswith("cord")
        if not cord or _least_width(cut) * placed.scale > SOLID_UNDER:
            name = "ANSI37" if cord else "ANSI31"
            scale = self.enlarged * HATCH_SPACING / PATTERN_SPACING
            hatch.set_pattern_fill(name, color=BY_LAYER, angle=angle, scale=scale / 2 if cord else scale)
        for k, loop in enumerate(cut.region):
            path = hatch.paths.add_edge_path(flags=OUTER if k == 0 else INNER)
            for s in _placed(loop, placed):
                if isinstance(s, Line):
                    path.add_line(self.place(s.start), self.place(s.end))
                    continue
                first, last = sorted((s.first, s.first + s.sweep))
                path.add_arc(
                    self.place(s.centre),
                    self.enlarged * s.radius,
                    math.degrees(first),
                    math.degrees(last),
                    ccw=s.sweep > 0,
                )
        return hatch


def place_segment(segment: Segment, placed: PlacedView) -> Segment:
    """Return a view's line or arc on the paper, [mm]."""
    (u, v), k = placed.corner, placed.scale

    def move(p: Point) -> Point:
        return u + k * p[0], v + k * p[1]

    if isinstance(segment, Line):
        return Line(move(segment.start), move(segment.end))
    return Arc(move(segment.centre), k * segment.radius, segment.first, segment.sweep)


def _placed(loop: Iterable[Segment], placed: PlacedView) -> list[Segment]:
    return [place_segment(s, placed) for s in loop]


def _least_width(cut: CutFace) -> float:
    ends = [
        (s.start, s.at(0.25), s.at(0.5), s.at(0.75)) if isinstance(s, Arc) else (s.start,)
        for s in cut.region[0]
    ]
    points = [p for group in ends for p in group]
    return min(max(p[k] for p in points) - min(p[k] for p in points) for k in (0, 1))
