"""What the build made of `web`: scripts and styles that stand in the pages."""

from __future__ import annotations

from pathlib import Path

FOLDER = Path(__file__).with_name("built")

REMEDY = "run `pip install -e .` in the folder of the sources"
"""Where nothing is built: rillplate runs from sources that were never installed."""


def read_built(name: str) -> str:
    """Return a built file's text; empty where it is not built.

    Parameters
    ----------
    name : str
        "report.js", "report.css".
    """
    path = FOLDER / name
    return path.read_text(encoding="utf-8") if path.is_file() else ""
