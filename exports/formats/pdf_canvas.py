"""PDF files that are the same bytes each time: no clock, no dates in them."""

from __future__ import annotations

from pathlib import Path

from reportlab.pdfbase.pdfdoc import PDFDictionary, PDFDocument, PDFInfo, PDFString
from reportlab.pdfgen.canvas import Canvas

from exports.lettering import PLAIN, register_fonts

MAKER = "rillplate"


class _Undated(PDFInfo):
    """What a file tells of itself, without the dates that the library else puts in."""

    def format(self, document: PDFDocument) -> bytes:
        told = {"Title": self.title, "Author": self.author, "Subject": self.subject, "Creator": self.creator}
        return PDFDictionary({key: PDFString(text) for key, text in told.items()}).format(document)


def new_canvas(path: Path, title: str, subject: str) -> Canvas:
    """Return an empty PDF file to draw on, with the bundled faces.

    Parameters
    ----------
    path : Path
    title, subject : str
        What it tells of itself.
    """
    register_fonts()
    canvas = Canvas(str(path), invariant=1, pageCompression=1, initialFontName=PLAIN, lang="en")
    name_canvas(canvas, title, subject)
    return canvas


def name_canvas(canvas: Canvas, title: str, subject: str) -> None:
    """Let a PDF file tell what it is, without any date.

    Parameters
    ----------
    canvas : Canvas
    title, subject : str
        What it tells of itself.
    """
    info = _Undated()
    info.title, info.subject, info.author, info.creator = title, subject, MAKER, MAKER
    canvas._doc.info = info
