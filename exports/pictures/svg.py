"""Small pieces of SVG: numbers, text, and paths with true arcs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from geom.outline import Arc, Loop, Point, Segment

FONT = "system-ui, 'DejaVu Sans', Arial, sans-serif"

BOLD_SHARE = 1.13
"""How much wider bold letters are, [-]: the digits and small letters of common sans-serif faces."""

_NARROW = set("iljtfrI.,:;'|!()[] /")
_WIDE = set("mwMW@%–—")


@dataclass(frozen=True, slots=True)
class View:
    """Panel frame, [mm], to picture units: scaled, and turned upside down since SVG's y points down."""

    scale: float
    height: float

    def to(self, p: Point) -> Point:
        """Return a point of the panel in picture units."""
        return (p[0] * self.scale, (self.height - p[1]) * self.scale)

    def xy(self, p: Point) -> str:
        """Return a point of the panel as "x y" in picture units."""
        x, y = self.to(p)
        return f"{number(x)} {number(y)}"


def number(value: float) -> str:
    """Return a coordinate to 0.01 units, without trailing zeros and without a negative zero."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def attribute(value: str) -> str:
    """Return a quoted, escaped attribute value."""
    return quoteattr(value)


def path_of(loops: tuple[Loop, ...], view: View) -> str:
    """Return the path data of closed outlines; arcs stay arcs.

    Parameters
    ----------
    loops : tuple of loops
        Lines and arcs, [mm].
    view : View

    Returns
    -------
    str
    """
    return "".join(f"{track_of(loop, view)}Z" for loop in loops)


def track_of(path: tuple[Segment, ...], view: View) -> str:
    """Return the path data of lines and arcs that follow each other, left open; arcs stay arcs."""
    out = [f"M{view.xy(path[0].start)}"]
    for s in path:
        if not isinstance(s, Arc):
            out.append(f"L{view.xy(s.end)}")
            continue
        # SVG cannot draw a full turn as one arc.
        pieces = 2 if abs(s.sweep) > math.pi * 1.01 else 1
        radius = number(s.radius * view.scale)
        turn = 0 if s.sweep > 0 else 1
        out.extend(f"A{radius} {radius} 0 0 {turn} {view.xy(s.at(k / pieces))}" for k in range(1, pieces + 1))
    return "".join(out)


def guess_width(text: str, size: float, bold: bool = False) -> float:
    """Return an upper estimate of a text's width in whatever sans-serif face a viewer has.

    Parameters
    ----------
    text : str
    size : float
        Picture units, as the result.
    bold : bool
    """
    ems = sum(0.36 if c in _NARROW else 0.95 if c in _WIDE else 0.63 for c in text)
    return ems * size * (BOLD_SHARE if bold else 1.0)


def text_at(x: float, y: float, text: str, size: float, fill: str, extra: str = "") -> str:
    """Return a text element.

    Parameters
    ----------
    x, y : float
        Start of the baseline, or its middle where `extra` says so, in picture units.
    text : str
        Escaped here.
    size : float
        Picture units.
    fill : str
    extra : str
        Further attributes, ready-made.
    """
    spaced = f" {extra}" if extra else ""
    return (
        f'<text x="{number(x)}" y="{number(y)}" font-size="{number(size)}" fill="{fill}"{spaced}>'
        f"{escape(text)}</text>"
    )
