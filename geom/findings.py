"""What a check reports."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

Severity = Literal["fault", "caution", "note"]
SEVERITIES: tuple[Severity, ...] = ("fault", "caution", "note")


KeyPath = tuple[str | int, ...]
"""Where a value stands in a panel file, as in the parsed data: ("part", 0, "inlet", "at")."""


@dataclass(frozen=True, slots=True)
class KeyChange:
    """One change to a panel file: the value of a key, or, with None, that the key goes.

    Parameters
    ----------
    path : tuple of str or int
        Tables on the way that are not there are made; a list's index that is its length appends.
    value : str, bool, int, float, list, dict or None
        As TOML holds it: lengths and the like as text with a unit.
    """

    path: KeyPath
    value: Any


@dataclass(frozen=True, slots=True)
class Finding:
    """One answer of one check.

    Parameters
    ----------
    code : str
        Stable code in plain words, two parts: ``wall.thin``.
    severity : {"fault", "caution", "note"}
        A fault stops the export.
    text : str
        One sentence that names the object, its value and the limit.
    remedy : str
        One sentence: what to change.
    source : str
        Where the limit comes from.
    value, limit : float or None
        In `unit`.
    unit : str
        "mm", "m/s", "kPa" ...; empty where there is none.
    at_mm : tuple of float or None
        (x, y, z) in the panel frame, [mm].
    features : tuple of str
        Names of the features concerned.
    accepted : str or None
        The maker's reason, where the panel file accepts this code: the severity is then "note".
    changes : tuple of KeyChange
        The remedy as changes to the file, all together; empty where it is none that can be written down.
    """

    code: str
    severity: Severity
    text: str
    remedy: str
    source: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    at_mm: tuple[float, float, float] | None = None
    features: tuple[str, ...] = ()
    accepted: str | None = None
    changes: tuple[KeyChange, ...] = ()


def accept_findings(findings: tuple[Finding, ...], reasons: dict[str, str]) -> tuple[Finding, ...]:
    """Return the findings with those accepted by the panel file turned into notes.

    Parameters
    ----------
    findings : tuple of Finding
    reasons : dict of str to str
        Finding code to the maker's reason.

    Returns
    -------
    tuple of Finding
        Same order; faults first stays the caller's business.
    """
    return tuple(
        replace(f, severity="note", accepted=reasons[f.code]) if f.code in reasons else f for f in findings
    )


def has_fault(findings: tuple[Finding, ...]) -> bool:
    """Return whether any finding is a fault (an accepted one no longer is)."""
    return any(f.severity == "fault" for f in findings)
