"""Two panels compared, as one JSON document (schema 1)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from exports.comparing.values import Comparison, Figure, FindingPair, FindingSide, Row, Side
from exports.wording.comparison_words import list_notes
from exports.wording.figures import round_plain, round_to_error

SCHEMA = 1


def comparison_document(comparison: Comparison, seconds: Mapping[str, float]) -> dict[str, Any]:
    """Return a comparison, ready for JSON.

    Parameters
    ----------
    comparison : Comparison
    seconds : mapping of str to float
        Wall clock of each stage, [s], under its name with the panel's letter: "A route".

    Returns
    -------
    dict
        "schema", "a" and "b" (the two panels), "same_file", "groups" of rows, "findings", "file_keys", "notes",
        "seconds". Numbers have the digits that their errors allow and one more; words stand as they are.
    """
    return {
        "schema": SCHEMA,
        "a": _side(comparison.a),
        "b": _side(comparison.b),
        "same_file": comparison.same_file,
        "groups": [
            {"name": group.name, "rows": [_row(row) for row in group.rows]} for group in comparison.groups
        ],
        "findings": [_pair(pair) for pair in comparison.findings],
        "file_keys": [{"key": row.key, "a": row.a, "b": row.b} for row in comparison.keys],
        "notes": list_notes(comparison),
        "seconds": {stage: round(taken, 3) for stage, taken in seconds.items()},
    }


def _side(side: Side) -> dict[str, Any]:
    return {
        "file": side.path,
        "name": side.name,
        "sha256": side.sha256,
        "result": side.result,
        "problem": side.problem or None,
    }


def _row(row: Row) -> dict[str, Any]:
    return {
        "what": row.what,
        "unit": row.unit,
        "a": _told(row.a),
        "a_error": _error(row.a),
        "b": _told(row.b),
        "b_error": _error(row.b),
        "difference": row.difference,
        "verdict": row.verdict,
    }


def _told(figure: Figure | None) -> float | str | None:
    return None if figure is None else figure.told


def _error(figure: Figure | None) -> float | None:
    """Return the error of a number, 0 of an exact one; None for words."""
    if figure is None or figure.number is None:
        return None
    return round_to_error(figure.error, figure.error)


def _pair(pair: FindingPair) -> dict[str, Any]:
    return {"code": pair.code, "verdict": pair.verdict, "a": _finding(pair.a), "b": _finding(pair.b)}


def _finding(side: FindingSide | None) -> dict[str, Any] | None:
    if side is None:
        return None
    return {
        "severity": side.severity,
        "value": _told(side.value),
        "unit": side.unit,
        "at_mm": None if side.at_mm is None else [round_plain(v, 4) for v in side.at_mm],
        "features": list(side.features),
        "text": side.text,
        "accepted": side.accepted,
    }
