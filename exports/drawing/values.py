"""What a drawing is made of, as frozen values.

*View*: a part seen from one side, or cut, in its own plane at full size, [mm]: u to the right, v up, origin at the
lower left corner of the part as seen. *Item*: one thing on a sheet. *Paper*: the sheet's frame, [mm], origin at its
lower left corner. A view's point (u, v) stands on the paper at ``corner + scale * (u, v)``. Where letters and lines of
dimensions and leaders stand follows from them in `exports.drawing.annotations`, for all writers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from geom.outline import Point, Region, Segment

Style = Literal["visible", "beyond", "centre", "thread", "cord", "cut", "thin", "frame", "hatch", "text"]
"""What a line means; each is a layer with its weight and dashes: edges seen, edges beyond a
cutting plane, centre lines, the second circle of a thread, cords, cutting planes, dimension and leader lines, the
sheet's frame and tables, hatching, letters."""

Anchor = Literal["left", "middle", "right"]


@dataclass(frozen=True, slots=True)
class ViewLine:
    """A line or a true arc of a view, [mm] in its plane."""

    segment: Segment
    style: Style


@dataclass(frozen=True, slots=True)
class CutFace:
    """What a cutting plane meets of one part: outlines that nest, true arcs among them, [mm] in the view's plane."""

    part: str
    region: Region


@dataclass(frozen=True, slots=True)
class View:
    """A part, or several, seen from one side or cut.

    Parameters
    ----------
    name : str
        "body front", "section A-A" ...
    size : (float, float)
        Of what is seen, [mm].
    lines : tuple of ViewLine
    cuts : tuple of CutFace
        To be hatched; empty where nothing is cut.
    """

    name: str
    size: tuple[float, float]
    lines: tuple[ViewLine, ...]
    cuts: tuple[CutFace, ...] = ()


@dataclass(frozen=True, slots=True)
class PlacedView:
    """A view on a sheet.

    Parameters
    ----------
    view : View
        As it stands.
    corner : (float, float)
        Where its origin stands on the paper, [mm].
    scale : float
        Paper over true length, [-].
    turns : int
        Right angles, counter-clockwise, by which it was turned.
    """

    view: View
    corner: Point
    scale: float
    turns: int = 0

    @property
    def datum(self) -> Point:
        """Where the corner that was its lower left one before it was turned stands in its plane, [mm].

        What a drawing says of places is counted from it: so it says the same however the view stands.
        """
        w, h = self.view.size
        return ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h))[self.turns % 4]


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line or arc on the paper, [mm]."""

    segment: Segment
    style: Style


@dataclass(frozen=True, slots=True)
class Label:
    """A line of text on the paper.

    Parameters
    ----------
    text : str
    at : (float, float)
        Start, middle or end of its baseline, [mm].
    height : float
        Of its capitals, [mm].
    anchor : {"left", "middle", "right"}
    turned : float
        Counter-clockwise, [deg].
    bold : bool
    """

    text: str
    at: Point
    height: float
    anchor: Anchor = "left"
    turned: float = 0.0
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Ordinate:
    """A true ordinate dimension of a placed view, from the view's datum.

    Parameters
    ----------
    view : int
        Number of the placed view on its sheet.
    axis : {"u", "v"}
    at : (float, float)
        The feature's point, [mm] in the view's plane as it stands: its value is how far it is from the datum along
        the axis.
    label : (float, float)
        Where the leader ends and the text begins, [mm] on the paper.
    """

    view: int
    axis: Literal["u", "v"]
    at: Point
    label: Point


@dataclass(frozen=True, slots=True)
class Linear:
    """A true linear dimension of a placed view.

    Parameters
    ----------
    view : int
    axis : {"u", "v"}
        Along which it is measured.
    start, end : (float, float)
        [mm] in the view's plane.
    line : float
        Where the dimension line runs: its v (axis u) or u (axis v) on the paper, [mm].
    tolerance : str
        Written behind the value; empty where none is.
    text : float or None
        Where the middle of its text stands along the line, on the paper, [mm]; None: in the middle of the line.
    """

    view: int
    axis: Literal["u", "v"]
    start: Point
    end: Point
    line: float
    tolerance: str = ""
    text: float | None = None


@dataclass(frozen=True, slots=True)
class Leader:
    """A note with a line to what it names.

    Parameters
    ----------
    points : tuple of (float, float)
        From the arrow's tip to the text, [mm] on the paper.
    text : tuple of str
        Its lines, the first on top.
    height : float
        Of its capitals, [mm].
    dot : bool
        Ends in a dot on a face instead of an arrow on an edge.
    """

    points: tuple[Point, ...]
    text: tuple[str, ...]
    height: float
    dot: bool = False


Item = Stroke | Label | Ordinate | Linear | Leader


@dataclass(frozen=True, slots=True)
class HoleRow:
    """A row of a hole table.

    Parameters
    ----------
    number : str
        "P1", "S12": stands beside the hole on the drawing too.
    what : str
        Name of its feature.
    at : (float, float)
        [mm] in the set-up's frame (`layouts.milling.frame`), however the view is turned.
    callout : str
        Size, depth and thread: "G1/4 ↧15, Ø11.8 ↧18.5".
    view : str
        Name of the view in which it is seen.
    """

    number: str
    what: str
    at: Point
    callout: str
    view: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet.

    Parameters
    ----------
    number : int
        From 1.
    title : str
        "body, front".
    part : str
    size : (float, float)
        Of the paper, [mm].
    scale : float
        Of its main views, paper over true length.
    views : tuple of PlacedView
    items : tuple of Item
    holes : tuple of HoleRow
        Those that its table lists; the table's lines and text are items.
    """

    number: int
    title: str
    part: str
    size: tuple[float, float]
    scale: float
    views: tuple[PlacedView, ...]
    items: tuple[Item, ...]
    holes: tuple[HoleRow, ...] = ()


@dataclass(frozen=True, slots=True)
class DrawingSet:
    """All sheets of a panel. `title` is the panel's name, `sha256` that of the panel file."""

    title: str
    sha256: str
    sheets: tuple[Sheet, ...]
