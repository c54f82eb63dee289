"""The example panels that come with the package, and the template of a new file."""

from __future__ import annotations

from importlib.resources import files
from itertools import takewhile
from pathlib import Path

from geom.errors import OutOfRange

DEMOS = (
    "workshop-render",
    "laser-driver",
    "cell-tester",
    "cupboard-server",
    "observatory-camera",
    "synthesizer-rack",
)
TEMPLATE = "new"


def demo_names() -> tuple[str, ...]:
    """Return the names of the example panels, the main one first."""
    return DEMOS


def demo_path(name: str) -> Path:
    """Return the file of an example panel, or of the template "new".

    Raises
    ------
    OutOfRange
        Where there is no such example; the message lists the names.
    """
    if name not in (*DEMOS, TEMPLATE):
        raise OutOfRange(f'"{name}" is not an example panel: use one of {", ".join((*DEMOS, TEMPLATE))}')
    return Path(str(files("layouts.panels") / f"{name}.toml"))


def list_demos() -> tuple[tuple[str, str], ...]:
    """Return the example panels' names, the main one first, each with the sentence that its file starts with."""
    return tuple((name, _first_sentence(demo_path(name).read_text("utf-8"))) for name in DEMOS)


def _first_sentence(text: str) -> str:
    lines = (line for line in text.splitlines() if not line.startswith("#:"))
    said = " ".join(line.lstrip("# ") for line in takewhile(lambda line: line.startswith("#"), lines))
    return said.partition(". ")[0].removesuffix(".") + "."
