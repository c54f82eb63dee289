"""From a check's code to its finding, with the source of its rule."""

from __future__ import annotations

from geom.errors import OutOfRange
from geom.findings import Finding, KeyChange, Severity
from geom.words import make_sentence
from layouts.rules.catalogue import RULES
from layouts.rules.rule import Rule

_BY_CODE = {rule.code: rule for rule in RULES}


def find_rule(code: str) -> Rule:
    """Return the rule of a code.

    Parameters
    ----------
    code : str
        "wall.thin".

    Returns
    -------
    Rule

    Raises
    ------
    OutOfRange
        Where there is none; the message lists the codes.
    """
    if code not in _BY_CODE:
        raise OutOfRange(f'there is no check "{code}": use one of {", ".join(sorted(_BY_CODE))}')
    return _BY_CODE[code]


def make_finding(
    code: str,
    severity: Severity,
    text: str,
    remedy: str,
    value: float | None = None,
    limit: float | None = None,
    unit: str = "",
    at_mm: tuple[float, float, float] | None = None,
    features: tuple[str, ...] = (),
    changes: tuple[KeyChange, ...] = (),
) -> Finding:
    """Return a finding whose source is its rule's.

    Parameters
    ----------
    code : str
    severity : {"fault", "caution", "note"}
    text, remedy : str
        One sentence each; given a capital and a full stop here.
    value, limit : float or None
        In `unit`.
    unit : str
    at_mm : (float, float, float) or None
        [mm]
    features : tuple of str
    changes : tuple of KeyChange
        The remedy as changes to the file, all together.

    Returns
    -------
    Finding

    Raises
    ------
    OutOfRange
        A code that the catalogue lacks.
    """
    source = find_rule(code).source
    return Finding(
        code,
        severity,
        make_sentence(text),
        make_sentence(remedy),
        source,
        value,
        limit,
        unit,
        at_mm,
        features,
        changes=changes,
    )
