"""The example panels that come with the package, and the template of a new file."""

from __future__ import annotations

from functools import lru_cache
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


@lru_cache(maxsize=16)
def describe_demo(name: str) -> str:
    """Return what an example panel says of itself: the first sentences of its comment, up to the word on its figures.

    Raises
    ------
    OutOfRange
        As `demo_path`.
    """
    lines = (
        line for line in demo_path(name).read_text(encoding="utf-8").splitlines() if not line.startswith("#:")
    )
    told = takewhile(lambda line: line.startswith("#") and not line.startswith("# Invented"), lines)
    return " ".join(line.lstrip("# ").strip() for line in told)
