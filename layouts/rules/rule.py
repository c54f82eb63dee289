"""One check as the catalogue tells it."""

from __future__ import annotations

from dataclasses import dataclass

PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Rule:
    """One check.

    Parameters
    ----------
    code : str
        As in its findings.
    question : str
        What it asks of the panel.
    limit_text : str
        When it finds something, and how severe that is.
    why : str
        What goes wrong otherwise.
    source : str
        Where the limit comes from.
    """

    code: str
    question: str
    limit_text: str
    why: str
    source: str
