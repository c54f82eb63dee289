"""The letters of all PDF papers: one bundled face, and how wide its text is.

The files in `exports/fonts` are DejaVu Sans, unchanged, with its licence beside them.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

PLAIN, BOLD = "DejaVuSans", "DejaVuSans-Bold"
"""Names of the faces, in PDF and DXF alike."""

FOLDER = Path(__file__).parent / "fonts"

CAPITALS = 0.729
"""Height of capitals over the size of the face, [-]: its H is 1493 of 2048 units tall."""

MM = 72.0 / 25.4
"""Points in a millimetre."""


@lru_cache(maxsize=1)
def register_fonts() -> None:
    """Make both faces known to the PDF writer."""
    for name in (PLAIN, BOLD):
        pdfmetrics.registerFont(TTFont(name, str(FOLDER / f"{name}.ttf")))


@lru_cache(maxsize=1)
def _known_letters() -> frozenset[int]:
    register_fonts()
    plain, bold = (pdfmetrics.getFont(name).face.charToGlyph for name in (PLAIN, BOLD))
    return frozenset(plain) & frozenset(bold)


def spell_letters(text: str) -> str:
    """Return a text as it is written in a PDF: letters that the faces lack by their code points, "[U+8A66]".

    A panel or a part may be named in any script, and an empty box would not tell one from another.

    Parameters
    ----------
    text : str
    """
    known = _known_letters()
    return "".join(c if ord(c) in known else f"[U+{ord(c):04X}]" for c in text)


def text_width(text: str, height: float, bold: bool = False) -> float:
    """Return the width of a line of text, [mm].

    Parameters
    ----------
    text : str
    height : float
        Of its capitals, [mm].
    bold : bool
    """
    return text_points(text, height / CAPITALS, bold)


def text_points(text: str, size: float, bold: bool = False) -> float:
    """Return the width of a line of text as `spell_letters` writes it, in the unit of its size.

    Parameters
    ----------
    text : str
    size : float
        Of the face, [pt] on the sheets.
    bold : bool
    """
    return float(pdfmetrics.stringWidth(spell_letters(text), BOLD if bold else PLAIN, size))
