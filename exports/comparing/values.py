"""What a comparison of two panels hands on: frozen values.

*Figure*: one number with its error, or words. *Row*: the same thing of both panels. *Side*: one of the two, "A" or "B".
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from exports.wording.figures import round_to_error

Verdict = Literal["same", "different", "within the bands", "only in A", "only in B"]
"""Two numbers differ where they lie further apart than both their errors together; "within the bands" is closer,
but not the same. What one panel lacks is only in the other."""

ALIKE: tuple[Verdict, ...] = ("same", "within the bands")
"""Verdicts on what does not differ, or may not."""

SAME_REL = 1e-9
"""Numbers that differ by less, relatively, are one: rounding of the same sum in another order."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A number with its error, or words.

    Parameters
    ----------
    value : float or str
    error : float
        In the number's unit; 0 where it is exact, as drawn or counted.
    decimals : int
        To how many an exact number is told.
    terms : tuple of (str, float, float)
        Of a sum: the name, value and error of each term. What is the same in both panels is not counted in their
        difference, and its error neither.
    """

    value: float | str
    error: float = 0.0
    decimals: int = 2
    terms: tuple[tuple[str, float, float], ...] = ()

    @property
    def number(self) -> float | None:
        """The number; None for words."""
        return None if isinstance(self.value, str) else self.value

    @property
    def told(self) -> float | str:
        """The number rounded to its error with one digit more, or to its decimals; or the words."""
        number = self.number
        if number is None or isinstance(self.value, str):
            return self.value
        return round_to_error(number, self.error) if self.error > 0.0 else round(number, self.decimals) + 0.0


def difference_error(a: Figure, b: Figure) -> float:
    """Return the error of a difference, in its unit: both errors together, of sums those of the terms that differ.

    Parameters
    ----------
    a, b : Figure
        Numbers.
    """
    if not a.terms or not b.terms:
        return a.error + b.error
    return math.fsum(error for _, _, error in {*a.terms} ^ {*b.terms})


@dataclass(frozen=True, slots=True)
class NamedFigure:
    """A figure of one panel under its name.

    Parameters
    ----------
    what : str
        What it is: the same for both panels.
    unit : str
        Of the number; empty for words and for what is counted.
    figure : Figure
    single : bool
        Whether it is of a single part, channel or port: told only where it differs.
    """

    what: str
    unit: str
    figure: Figure
    single: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One thing of both panels.

    Parameters
    ----------
    what, unit : str
        As in `NamedFigure`.
    a, b : Figure or None
        None where that panel has no such thing.
    verdict : Verdict
    single : bool
        As in `NamedFigure`.
    """

    what: str
    unit: str
    a: Figure | None
    b: Figure | None
    verdict: Verdict
    single: bool = False

    @property
    def difference(self) -> float | None:
        """B less A, rounded as its error allows with one digit more; None where the two do not really differ."""
        if self.verdict != "different" or self.a is None or self.b is None:
            return None
        a, b = self.a.number, self.b.number
        if a is None or b is None:
            return None
        if self.error > 0.0:
            return round_to_error(b - a, self.error)
        return round(b - a, self.decimals) + 0.0

    @property
    def decimals(self) -> int:
        """To how many an exact difference is told: more than its numbers where they are told alike."""
        told = max((figure.decimals for figure in (self.a, self.b) if figure is not None), default=0)
        a, b = (None if figure is None else figure.number for figure in (self.a, self.b))
        if a is None or b is None or a == b or round(b - a, told) != 0.0:
            return told
        return 1 - math.floor(math.log10(abs(b - a)))

    @property
    def error(self) -> float:
        """Error of the difference, in its unit."""
        if self.a is not None and self.b is not None:
            return difference_error(self.a, self.b)
        return math.fsum(figure.error for figure in (self.a, self.b) if figure is not None)


@dataclass(frozen=True, slots=True)
class Group:
    """Rows that belong together."""

    name: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class FindingPair:
    """A finding of one panel or of both.

    Parameters
    ----------
    code : str
    a, b : FindingSide or None
        None where that panel has no such finding.
    verdict : Verdict
        "different": in both, with another value, severity or reason of acceptance, or about other features.
    """

    code: str
    a: FindingSide | None
    b: FindingSide | None
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class FindingSide:
    """A finding as one panel has it.

    Parameters
    ----------
    severity : str
    text : str
    value : Figure or None
    unit : str
        Of the value.
    features : tuple of str
        Sorted.
    at_mm : tuple of float or None
        [mm]
    accepted : str or None
        The maker's reason.
    """

    severity: str
    text: str
    value: Figure | None
    unit: str
    features: tuple[str, ...]
    at_mm: tuple[float, float, float] | None
    accepted: str | None


@dataclass(frozen=True, slots=True)
class KeyRow:
    """A key of the files that differs.

    Parameters
    ----------
    key : str
        Dotted; entries of lists of tables by their names.
    a, b : str or None
        What stands in each file, as TOML; None where it does not stand there.
    """

    key: str
    a: str | None
    b: str | None


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two panels.

    Parameters
    ----------
    path, name, sha256 : str
    result : {"ok", "faults", "no layout"}
    problem : str
        Why there is no layout; empty where there is one.
    """

    path: str
    name: str
    sha256: str
    result: Literal["ok", "faults", "no layout"]
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Comparison:
    """All of it; `groups` and `findings` are those of one panel alone where the other has no layout."""

    a: Side
    b: Side
    groups: tuple[Group, ...]
    findings: tuple[FindingPair, ...]
    keys: tuple[KeyRow, ...]

    @property
    def same_file(self) -> bool:
        """Whether both files hold the same bytes."""
        return self.a.sha256 == self.b.sha256

    @property
    def alone(self) -> bool:
        """Whether one of the two has no layout, so that there is nothing to compare with."""
        return "no layout" in (self.a.result, self.b.result)

    @property
    def same_plan(self) -> bool:
        """Whether nothing differs but perhaps the files."""
        rows = (row.verdict for group in self.groups for row in group.rows)
        return all(verdict == "same" for verdict in (*rows, *(pair.verdict for pair in self.findings)))
