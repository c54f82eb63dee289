"""The sheets' paper: sizes, frame, zones and centring marks of ISO 5457, A3 and A4 lying.

The zones' strip is 5 mm wide and lies round the frame; an A4 has it on top and on the right only.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from exports.drawing.values import Item, Label, Stroke
from geom.outline import Line, Point
from layouts.drawing_choice import PaperName

SIZES: dict[PaperName, tuple[float, float]] = {"A3": (420.0, 297.0), "A4": (297.0, 210.0)}
"""Trimmed, lying, [mm]; ISO 5457."""

FILING, MARGIN = 20.0, 10.0
"""From the left edge, and from the others, to the frame, [mm]; ISO 5457."""

STRIP, ZONE = 5.0, 50.0
"""Width of the zones' strip and length of a zone, counted from the centring marks, [mm]; ISO 5457."""

INWARD = 5.0
"""How far a centring mark runs into the frame, [mm]."""

ZONE_TEXT = 3.5


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on the paper, [mm]."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def width(self) -> float:
        """[mm]"""
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        """[mm]"""
        return self.y1 - self.y0


def frame_box(paper: PaperName) -> Box:
    """Return the frame, inside which is drawn.

    Parameters
    ----------
    paper : {"A3", "A4"}
    """
    width, height = SIZES[paper]
    return Box(FILING, MARGIN, width - MARGIN, height - MARGIN)


def box_strokes(box: Box) -> tuple[Stroke, ...]:
    """Return a rectangle's four lines, in the frame's style."""
    corners = ((box.x0, box.y0), (box.x1, box.y0), (box.x1, box.y1), (box.x0, box.y1))
    return tuple(Stroke(Line(corners[k], corners[(k + 1) % 4]), "frame") for k in range(4))


def draw_frame(paper: PaperName) -> tuple[Item, ...]:
    """Return frame, centring marks and zones of a sheet.

    Parameters
    ----------
    paper : {"A3", "A4"}
    """
    frame = frame_box(paper)
    return (*box_strokes(frame), *_centring_marks(paper, frame), *_zones(paper, frame))


def _centring_marks(paper: PaperName, frame: Box) -> list[Stroke]:
    width, height = SIZES[paper]
    x, y = width / 2, height / 2
    ends: tuple[tuple[Point, Point], ...] = (
        ((x, frame.y0 - STRIP), (x, frame.y0 + INWARD)),
        ((x, frame.y1 + STRIP), (x, frame.y1 - INWARD)),
        ((frame.x0 - STRIP, y), (frame.x0 + INWARD, y)),
        ((frame.x1 + STRIP, y), (frame.x1 - INWARD, y)),
    )
    return [Stroke(Line(a, b), "frame") for a, b in ends]


def _zones(paper: PaperName, frame: Box) -> list[Item]:
    width, height = SIZES[paper]
    whole = paper != "A4"
    out: list[Item] = []
    outer = Box(frame.x0 - STRIP * whole, frame.y0 - STRIP * whole, frame.x1 + STRIP, frame.y1 + STRIP)
    across = _divide(width / 2, outer.x0, outer.x1)
    upward = _divide(height / 2, outer.y0, outer.y1)
    rows = [(frame.y1, outer.y1), *([(outer.y0, frame.y0)] if whole else [])]
    columns = [(frame.x1, outer.x1), *([(outer.x0, frame.x0)] if whole else [])]
    for low, high in rows:
        at = outer.y1 if high == outer.y1 else outer.y0
        out.append(Stroke(Line((outer.x0, at), (outer.x1, at)), "thin"))
        # The centring marks part the two zones in the middle.
        out += [Stroke(Line((x, low), (x, high)), "thin") for x in across[1:-1] if x != width / 2]
        for k, (a, b) in enumerate(pairwise(across), 1):
            out.append(_zone_label(str(k), (a + b) / 2, (low + high) / 2))
    for low, high in columns:
        at = outer.x1 if high == outer.x1 else outer.x0
        out.append(Stroke(Line((at, outer.y0), (at, outer.y1)), "thin"))
        out += [Stroke(Line((low, y), (high, y)), "thin") for y in upward[1:-1] if y != height / 2]
        for k, (a, b) in enumerate(zip(upward[::-1], upward[-2::-1], strict=False)):
            out.append(_zone_label("ABCDEFGH"[k], (low + high) / 2, (a + b) / 2))
    return out


def _divide(middle: float, low: float, high: float) -> list[float]:
    """Return the ends of zones along a side: counted from its middle, the last of both ends as long as is left."""
    count = int(min(high - middle, middle - low) / ZONE - 1e-9)
    return [low, *(middle + ZONE * k for k in range(-count, count + 1)), high]


def _zone_label(text: str, x: float, y: float) -> Label:
    return Label(text, (x, y - ZONE_TEXT / 2), ZONE_TEXT, "middle")
