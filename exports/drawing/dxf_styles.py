"""What lines, letters and dimensions look like in the DXF document: layers, dashes, faces, dimension styles.

Line widths and dashes are those of ISO 128-2 in the line group 0.5: wide 0.5 mm, narrow 0.25 mm; long dash
24 d, gap 3 d, dot half of d, where d is the width.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from exports.drawing.annotations import ARROW, GAP, OFF_FEATURE, PAST_LINE, TEXT
from exports.drawing.values import Style
from exports.lettering import BOLD, PLAIN

if TYPE_CHECKING:
    from ezdxf.document import Drawing

CHAIN, WIDE_CHAIN, CONTINUOUS = "ISO CHAIN", "ISO WIDE CHAIN", "CONTINUOUS"


@dataclass(frozen=True, slots=True)
class Pen:
    """Of a layer: its width on the paper, [mm], and its line type."""

    width: float
    dashes: str = CONTINUOUS


PENS: dict[Style, Pen] = {
    "visible": Pen(0.5),
    "beyond": Pen(0.35),
    "centre": Pen(0.25, CHAIN),
    "thread": Pen(0.25),
    "cord": Pen(0.35),
    "cut": Pen(0.5, WIDE_CHAIN),
    "thin": Pen(0.25),
    "frame": Pen(0.5),
    "hatch": Pen(0.18),
    "text": Pen(0.25),
}
"""One layer each. Edges beyond a plane are drawn narrower than what it cuts, so that the cut is seen first."""

BLACK = 7
"""Colour number: black on white, white on black."""


def add_styles(document: Drawing) -> None:
    """Add layers, line types and text styles to a document.

    Parameters
    ----------
    document : ezdxf.document.Drawing
    """
    narrow, wide = PENS["centre"].width, PENS["cut"].width
    for name, told, pattern in (
        (
            CHAIN,
            "long dash 24 d, gap 3 d, dot, gap 3 d",
            _pattern(24 * narrow, -3 * narrow, narrow / 2, -3 * narrow),
        ),
        (
            WIDE_CHAIN,
            "long dash 24 d, gap 3 d, dot, gap 3 d, wide",
            _pattern(24 * wide, -3 * wide, wide / 2, -3 * wide),
        ),
    ):
        document.linetypes.add(name, pattern, description=told)
    for style, pen in PENS.items():
        document.layers.add(
            layer_name(style), color=BLACK, linetype=pen.dashes, lineweight=round(100 * pen.width)
        )
    for face in (PLAIN, BOLD):
        document.styles.add(face, font=f"{face}.ttf")
    # Dashes are told in mm of the paper and drawn `ltscale` times as long: the viewport makes them small again.
    document.header["$PSLTSCALE"] = 0
    document.header["$LTSCALE"] = 1.0
    document.header["$MEASUREMENT"] = 1
    document.header["$LWDISPLAY"] = 1


def layer_name(style: Style) -> str:
    """Return the layer of a style: "VISIBLE"."""
    return style.upper()


def dimension_style(document: Drawing, enlarged: float, factor: float) -> str:
    """Return the name of a dimension style; it is added where it is not there yet.

    Parameters
    ----------
    document : ezdxf.document.Drawing
    enlarged : float
        Model over paper length of the sheet, [-].
    factor : float
        True over model length of the view, [-].
    """
    name = f"DRAWING {enlarged:g} TIMES {factor:.6g}"
    if name not in document.dimstyles:
        document.dimstyles.add(
            name,
            dxfattribs={
                "dimtxsty": PLAIN,
                "dimtxt": TEXT,
                "dimasz": ARROW,
                "dimgap": GAP,
                "dimexo": OFF_FEATURE,
                "dimexe": PAST_LINE,
                "dimtad": 1,
                "dimtih": 0,
                "dimtoh": 0,
                "dimscale": enlarged,
                "dimlfac": factor,
                "dimdec": 2,
                "dimzin": 8,
                "dimdsep": ord("."),
            },
        )
    return name


def _pattern(*pieces: float) -> list[float]:
    return [sum(abs(piece) for piece in pieces), *pieces]
