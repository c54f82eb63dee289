"""What is told of two panels compared: figures with their bands, differences, findings."""

from __future__ import annotations

import math

from exports.comparing.values import Comparison, Figure, FindingPair, FindingSide, KeyRow, Row, Side
from exports.wording.figures import shorten_text
from geom.words import join_names

NOTHING = "–"
"""Stands where a panel has no such thing."""

RESULTS = {"ok": "no faults", "faults": "with faults", "no layout": "no layout"}

PLANNED = "Everything here is planned: what only solids show (rillplate make) is not compared."
BANDS = (
    "Two numbers differ where they are further apart than both their bands. Both panels are reckoned with the same "
    "formulas, so much of what these leave open is common to both: the sign of a difference within the bands may "
    "still be right, but nothing here proves it."
)


def list_notes(comparison: Comparison) -> list[str]:
    """Return what is to be known of the figures, a paragraph each; nothing where there are none."""
    if not comparison.groups:
        return []
    return [PLANNED] if comparison.alone else [PLANNED, BANDS]


def show_figure(figure: Figure | None, unit: str) -> str:
    """Return a figure with its band and unit, "3.1 ± 0.2 L/min"; no more digits than the band allows.

    Parameters
    ----------
    figure : Figure or None
    unit : str
    """
    if figure is None:
        return NOTHING
    number = figure.number
    if number is None:
        return str(figure.value)
    if figure.error <= 0.0 or not math.isfinite(number):
        return f"{_show_exact(number, figure.decimals)} {unit}".rstrip()
    error = _first_digit(figure.error)
    return f"{_show_to(number, error)} ± {_show_to(error, error)} {unit}".rstrip()


def _first_digit(error: float) -> float:
    """Return an error to its first digit: no error is better known."""
    return float(f"{error:.0e}")


def _show_to(number: float, error: float) -> str:
    """Return a number rounded to the digit that an error of one digit reaches."""
    decimals = -math.floor(math.log10(error))
    text = f"{round(number, decimals) + 0.0:.{max(0, decimals)}f}"
    return text.removeprefix("-") if not text.strip("-0.") else text


def _show_exact(number: float, decimals: int) -> str:
    text = f"{number:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def tell_difference(row: Row) -> str:
    """Return how B differs from A: "+12 cm3", "differs", "within the bands", "same", "only in A".

    Parameters
    ----------
    row : Row
    """
    if row.verdict != "different":
        return row.verdict
    difference = row.difference
    if difference is None:
        return "differs"
    exact = row.error <= 0.0
    shown = _show_exact(difference, row.decimals) if exact else _show_to(difference, _first_digit(row.error))
    return f"{'+' if difference > 0.0 else ''}{shown} {row.unit}".rstrip()


def show_values(row: KeyRow, most: int) -> tuple[str, str]:
    """Return what stands in both files under a key, each of at most so many characters, with where they first differ.

    Parameters
    ----------
    row : KeyRow
    most : int
    """
    a, b = row.a, row.b
    if a is None or b is None:
        only = [NOTHING if one is None else shorten_text(one, most) for one in (a, b)]
        return only[0], only[1]
    shown = (shorten_text(a, most), shorten_text(b, most))
    if shown[0] != shown[1]:
        return shown
    # What differs lies in the part that was left out: some of what stands before it, and all that fits behind.
    first = next((k for k, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
    start = max(0, first - most // 3)
    ends = [shorten_end(f"{'…' if start else ''}{one[start:]}", most) for one in (a, b)]
    return ends[0], ends[1]


def shorten_end(text: str, most: int) -> str:
    """Return a text of at most `most` characters: what is too long loses its end to an ellipsis."""
    return text if len(text) <= most else f"{text[: most - 1]}…"


def name_sides(comparison: Comparison) -> tuple[str, str]:
    """Return each panel with its letter, name and file: 'A: workshop render (panel.toml), no faults'."""
    return _name_side("A", comparison.a), _name_side("B", comparison.b)


def _name_side(letter: str, side: Side) -> str:
    return f"{letter}: {side.name} ({side.path}), {RESULTS[side.result]}"


def tell_sameness(comparison: Comparison) -> str:
    """Return what is to be said before all else: the same file, the same plan; empty where neither is so."""
    if comparison.same_file:
        return f"The two files are the same, byte for byte{'' if comparison.alone else ': nothing differs'}."
    if comparison.alone:
        none = [
            letter
            for letter, side in (("A", comparison.a), ("B", comparison.b))
            if side.result == "no layout"
        ]
        return f"{join_names(none)} {'have' if len(none) == 2 else 'has'} no layout: only the files can be compared."
    if not comparison.keys and comparison.same_plan:
        return "The two files ask for the same, though they are not the same byte for byte."
    return "The files differ, but not what is planned." if comparison.same_plan else ""


def tell_finding(pair: FindingPair) -> str:
    """Return a finding that is not the same in both: severity, code, and what it says.

    Parameters
    ----------
    pair : FindingPair
        Not one that is the same in both.
    """
    a, b = pair.a, pair.b
    if a is None or b is None:
        side = a or b
        assert side is not None, "a finding is in one panel at least"
        accepted = f" (accepted: {side.accepted})" if side.accepted is not None else ""
        return f"{side.severity} {pair.code}{accepted}: {side.text}"
    changes = [change for change in (_tell_severity(a, b), _tell_value(a, b), _tell_features(a, b)) if change]
    severity = a.severity if a.severity == b.severity else f"{a.severity} or {b.severity}"
    return f"{severity} {pair.code}: {'; '.join(changes) or 'told otherwise'}"


def _tell_severity(a: FindingSide, b: FindingSide) -> str:
    told = [side.severity if side.accepted is None else f"accepted, {side.accepted}" for side in (a, b)]
    return f"A {told[0]}, B {told[1]}" if told[0] != told[1] else ""


def _tell_value(a: FindingSide, b: FindingSide) -> str:
    x, y = (show_figure(side.value, side.unit) for side in (a, b))
    return f"A {x}, B {y}" if x != y else ""


def _tell_features(a: FindingSide, b: FindingSide) -> str:
    told = [
        f"only in {letter}: {join_names(names)}"
        for letter, names in (
            ("A", [name for name in a.features if name not in b.features]),
            ("B", [name for name in b.features if name not in a.features]),
        )
        if names
    ]
    return "; ".join(told)
