"""Findings of two panels, paired by their codes and the features that they are about."""

from __future__ import annotations

from collections.abc import Sequence

from exports.comparing.errors import finding_error
from exports.comparing.rows import judge
from exports.comparing.values import ALIKE, Figure, FindingPair, FindingSide
from geom.findings import SEVERITIES, Finding
from layouts.plan import Plan


def pair_findings(a: Plan | None, b: Plan | None) -> tuple[FindingPair, ...]:
    """Return the findings of two plans: faults first, then cautions, then notes.

    Findings pair by code and features; those left over by most of their features, numbers left out.

    Parameters
    ----------
    a, b : Plan or None
        None where there is no layout.
    """
    of_a = [] if a is None else [_side(finding, a) for finding in a.findings]
    of_b = [] if b is None else [_side(finding, b) for finding in b.findings]
    pairs: list[FindingPair] = []
    for code in dict.fromkeys(code for code, _ in (*of_a, *of_b)):
        sides = ([side for other, side in of if other == code] for of in (of_a, of_b))
        pairs += _pair_code(code, *sides)
    return tuple(sorted(pairs, key=_rank))


def _rank(pair: FindingPair) -> int:
    return min(SEVERITIES.index(side.severity) for side in (pair.a, pair.b) if side is not None)


def _side(finding: Finding, plan: Plan) -> tuple[str, FindingSide]:
    value = None
    if finding.value is not None:
        value = Figure(
            finding.value, finding_error(finding.value, finding.unit, plan.flowing.band, finding.code)
        )
    features = tuple(sorted(finding.features))
    return finding.code, FindingSide(
        finding.severity, finding.text, value, finding.unit, features, finding.at_mm, finding.accepted
    )


def _pair_code(code: str, of_a: Sequence[FindingSide], of_b: Sequence[FindingSide]) -> list[FindingPair]:
    """Pair the findings of one code: those about the same, then those about most of the same kinds."""
    pairs, left, rest = [], [], sorted(of_b, key=_order)
    for side in sorted(of_a, key=_order):
        same = next((other for other in rest if other.features == side.features), None)
        if same is None:
            left.append(side)
        else:
            rest.remove(same)
            pairs.append(_pair(code, side, same))
    offers = sorted(
        (*_unlike(x, y), min(x.features, y.features), max(x.features, y.features), k, j)
        for k, x in enumerate(left)
        for j, y in enumerate(rest)
        if not {*_kinds(x)}.isdisjoint(_kinds(y))
    )
    used_a: set[int] = set()
    used_b: set[int] = set()
    for _, _, _, _, k, j in offers:
        if k not in used_a and j not in used_b:
            pairs.append(_pair(code, left[k], rest[j]))
            used_a.add(k)
            used_b.add(j)
    pairs += [FindingPair(code, one, None, "only in A") for k, one in enumerate(left) if k not in used_a]
    pairs += [FindingPair(code, None, one, "only in B") for j, one in enumerate(rest) if j not in used_b]
    return pairs


def _unlike(x: FindingSide, y: FindingSide) -> tuple[int, int]:
    """Return how many kinds of features only one of two findings is about, and minus how many both are."""
    one, other = {*_kinds(x)}, {*_kinds(y)}
    return len(one ^ other), -len(one & other)


def _order(side: FindingSide) -> tuple[object, ...]:
    return side.features, side.at_mm or (), side.text


def _kinds(side: FindingSide) -> tuple[str, ...]:
    """Return the features without the numbers that the program gave them: "cover screw 38" is one of many."""
    return tuple(sorted(name.rstrip("0123456789").rstrip() for name in side.features))


def _pair(code: str, a: FindingSide, b: FindingSide) -> FindingPair:
    def words(side: FindingSide) -> tuple[object, ...]:
        return side.severity, _kinds(side), side.accepted, side.unit

    alike = words(a) == words(b) and (a.value == b.value or judge(a.value, b.value) in ALIKE)
    return FindingPair(code, a, b, "same" if alike else "different")
