"""What stands first on the page: whether the panel may be made, and what is against it."""

from __future__ import annotations

from dataclasses import dataclass

from exports.report.html.findings_section import FindingView
from exports.wording.withheld import NOTHING_TO_WORK_FROM, order_left
from geom.findings import Severity
from geom.words import count_of


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict: `mark` is "fault", "caution" or "good"; `against` are faults and cautions; `left` are the files
    of an earlier run."""

    mark: str
    text: str
    counted: str
    against: tuple[FindingView, ...]
    left: tuple[str, ...] = ()


def judge_findings(findings: tuple[FindingView, ...], built: bool, left: tuple[str, ...] = ()) -> Verdict:
    """Return whether a panel may be made.

    Parameters
    ----------
    findings : tuple of FindingView
        All of the run.
    built : bool
        Whether there are solids.
    left : tuple of str
        Names of an earlier run's files that are still beside the page.
    """
    count: dict[Severity, int] = {"fault": 0, "caution": 0, "note": 0}
    for finding in findings:
        count[finding.severity] += 1
    against = tuple(finding for finding in findings if finding.severity != "note")
    counted = ", ".join(count_of(n, severity) if n else f"no {severity}s" for severity, n in count.items())
    if count["fault"]:
        why = NOTHING_TO_WORK_FROM if built else f"no solid was built, and {NOTHING_TO_WORK_FROM}"
        return Verdict("fault", f"Not to be made as it is: {why}.", counted, against, order_left(left))
    if count["caution"]:
        return Verdict("caution", "May be made, with the cautions below in mind.", counted, against)
    return Verdict("good", "May be made: nothing is against it.", counted, against)
