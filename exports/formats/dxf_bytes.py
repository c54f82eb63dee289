"""DXF documents to bytes, the same each time: no clock, no version, no random numbers."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ezdxf.document import Drawing

VERSION = "R2010"
MILLIMETRES = 4
"""Of the header variable $INSUNITS."""


def new_document() -> Drawing:
    """Return an empty document in mm."""
    import ezdxf

    with _fixed_dates():
        return ezdxf.new(VERSION, units=MILLIMETRES)


def document_bytes(document: Drawing) -> bytes:
    """Return a document as the bytes of its file.

    Parameters
    ----------
    document : ezdxf.document.Drawing
        Of `new_document`.
    """
    with _fixed_dates():
        _sort_classes(document)
        text = io.StringIO()
        document.write(text)
    return text.getvalue().encode("utf-8")


@contextmanager
def _fixed_dates() -> Iterator[None]:
    """Write without clock, version and random numbers."""
    import ezdxf

    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before


def _sort_classes(document: Drawing) -> None:
    """Register the classes that the format asks for in one order: ezdxf 1.4 does so in that of a set of names."""
    sections = document.classes
    sections.add_required_classes(document.dxfversion)
    ordered = sorted(sections.classes.items())
    sections.classes.clear()
    sections.classes.update(ordered)
