"""Figures of two panels, paired to rows."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from exports.comparing.values import SAME_REL, Figure, Group, NamedFigure, Row, Verdict, difference_error

Figures = Mapping[str, Sequence[NamedFigure]]
"""Name of a group to its figures."""


def pair_figures(a: Figures, b: Figures) -> tuple[Group, ...]:
    """Return the figures of two panels as rows, in the order of A, with what only B has behind it.

    Parameters
    ----------
    a, b : mapping of str to sequence of NamedFigure
        Within a group each (what, unit) once.
    """
    groups = []
    for name in dict.fromkeys((*a, *b)):
        of_a = {(one.what, one.unit): one for one in a.get(name, ())}
        of_b = {(one.what, one.unit): one for one in b.get(name, ())}
        keys = dict.fromkeys((*of_a, *of_b))
        rows = tuple(_pair(key, of_a.get(key), of_b.get(key)) for key in keys)
        if rows:
            groups.append(Group(name, rows))
    return tuple(groups)


def _pair(key: tuple[str, str], a: NamedFigure | None, b: NamedFigure | None) -> Row:
    single = all(one.single for one in (a, b) if one is not None)
    of_a, of_b = None if a is None else a.figure, None if b is None else b.figure
    return Row(*key, of_a, of_b, judge(of_a, of_b), single)


def judge(a: Figure | None, b: Figure | None) -> Verdict:
    """Return whether two figures differ by more than their errors; words differ where they are not the same.

    Parameters
    ----------
    a, b : Figure or None
        Not both None.
    """
    if a is None:
        return "only in B"
    if b is None:
        return "only in A"
    x, y = a.number, b.number
    if x is None or y is None:
        return "same" if a.value == b.value else "different"
    if x == y or math.isclose(x, y, rel_tol=SAME_REL):
        return "same"
    return "different" if abs(y - x) > difference_error(a, b) else "within the bands"
