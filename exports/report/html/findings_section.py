"""Findings as the page lists them, and all checks with what came of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from exports.report.html.plan_things import Thing
from exports.wording.figures import show_place
from exports.wording.finding_words import show_both
from geom.findings import SEVERITIES, Finding, Severity
from geom.words import count_of
from layouts.rules.catalogue import BY_SOLIDS, RULES


@dataclass(frozen=True, slots=True)
class FindingView:
    """A finding as the page lists it.

    Parameters
    ----------
    number : int
        From 0, in the order of the page.
    severity : {"fault", "caution", "note"}
    code, text, remedy, source : str
    accepted : str
        The maker's reason; empty where it is not accepted.
    value, limit, where : str
        With their units; empty without.
    features : tuple of (str, str)
        Names, each with its token in the plan or "".
    tokens : tuple of str
        Of those that are in the plan.
    letter : str
        Of its badge in the plan; empty without one.
    place : str
        "x y" in the plan's picture units; empty where it has no place.
    """

    number: int
    severity: Severity
    code: str
    text: str
    remedy: str
    source: str
    accepted: str
    value: str
    limit: str
    where: str
    features: tuple[tuple[str, str], ...]
    tokens: tuple[str, ...]
    letter: str
    place: str


@dataclass(frozen=True, slots=True)
class CheckView:
    """A check and what came of it: `mark` is its worst severity, "good" or "unmade"."""

    code: str
    question: str
    found: str
    mark: str


def view_findings(
    findings: tuple[Finding, ...],
    things: tuple[Thing, ...],
    letters: Mapping[int, str],
    places: Mapping[int, str],
) -> tuple[FindingView, ...]:
    """Return findings as the page lists them.

    Parameters
    ----------
    findings : tuple of Finding
        In the page's order.
    things : tuple of Thing
        Of the plan.
    letters, places : mapping of int to str
        Badge and place in the plan of those that have one, by number.
    """
    tokens = {name: thing.token for thing in things for name in thing.names}
    return tuple(
        _view(number, finding, tokens, letters.get(number, ""), places.get(number, ""))
        for number, finding in enumerate(findings)
    )


def list_checks(findings: tuple[Finding, ...], built: bool) -> tuple[CheckView, ...]:
    """Return every check of the catalogue with what it found.

    Parameters
    ----------
    findings : tuple of Finding
        All of the run.
    built : bool
        Whether there are solids: without them some checks are not made.
    """
    count = Counter((finding.code, finding.severity) for finding in findings)
    checks = []
    for rule in RULES:
        found = [(severity, count[rule.code, severity]) for severity in SEVERITIES]
        said = ", ".join(count_of(n, severity) for severity, n in found if n)
        worst = next((severity for severity, n in found if n), "good")
        if not said:
            unmade = not built and rule.code in BY_SOLIDS
            said, worst = ("not checked", "unmade") if unmade else ("nothing found", "good")
        checks.append(CheckView(rule.code, rule.question, said, worst))
    return tuple(checks)


def _view(number: int, finding: Finding, tokens: Mapping[str, str], letter: str, place: str) -> FindingView:
    value, limit = show_both(finding)
    named = tuple((name, tokens.get(name, "")) for name in finding.features)
    return FindingView(
        number=number,
        severity=finding.severity,
        code=finding.code,
        text=finding.text,
        remedy=finding.remedy,
        source=finding.source,
        accepted=finding.accepted or "",
        value=value,
        limit=limit,
        where="" if finding.at_mm is None else show_place(finding.at_mm),
        features=named,
        tokens=tuple(dict.fromkeys(token for _, token in named if token)),
        letter=letter,
        place=place,
    )
