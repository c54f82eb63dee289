"""What a remedy says and what it changes in the panel file, side by side, so that the two cannot part."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from geom.findings import KeyChange
from layouts.file_changes import set_length


@dataclass(frozen=True, slots=True)
class Cure:
    """One way out: the part of a sentence, and the same as changes to the file.

    Parameters
    ----------
    text : str
    changes : tuple of KeyChange
        All together; empty where the words name no definite change.
    """

    text: str
    changes: tuple[KeyChange, ...] = ()


def use_cord(section: float) -> Cure:
    """Return the way out of another cord, of that section, [mm]."""
    return Cure(f"use a cord of {section:g} mm (cord in [make])", (set_length(section, "make", "cord"),))


def join_cures(cures: Iterable[Cure], between: str = ", or ") -> str:
    """Return several ways out as one sentence's part."""
    return between.join(cure.text for cure in cures)
