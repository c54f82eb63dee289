"""Findings for the local page: as the report lists them, each with the things of the plan that it concerns.

The order is the report's: faults, cautions, notes. The 3D view's scene numbers its findings alike.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from exports.page.documents.plan_document import thing_id
from exports.report.document import order_findings
from exports.wording.figures import show_place
from exports.wording.finding_words import channel_names, port_names, show_both
from exports.wording.places import round_finite
from geom.findings import Finding, KeyChange
from layouts.detail import name_hole
from layouts.panel import Panel
from layouts.plan import Routed

TANK, PUMP = "tank", "pump"

PUMP_NAMES = (PUMP, "pump inlet", "pump outlet", "pump inlet bore", "pump outlet bore", "pump seat")
PUMP_SCREW = "pump screw "


def findings_document(
    findings: tuple[Finding, ...], panel: Panel, routed: Routed, of_solid: Iterable[Finding] = ()
) -> list[dict[str, Any]]:
    """Return findings as the page lists them, the worst first.

    Parameters
    ----------
    findings : tuple of Finding
        All that are told, accepted ones as notes.
    panel : Panel
    routed : Routed
        Its things are those that findings may concern.
    of_solid : iterable of Finding
        Those of them that the solid's own checks have found.

    Returns
    -------
    list of dict
        Ready for JSON.
    """
    things = name_things(panel, routed)
    # By identity: what a finding proposes to write may be a list, which has no hash.
    checked = {id(finding) for finding in of_solid}
    return [
        _finding(number, finding, things, "solid" if id(finding) in checked else "plan")
        for number, finding in enumerate(order_findings(findings))
    ]


def changes_document(changes: tuple[KeyChange, ...]) -> list[dict[str, Any]] | None:
    """Return the changes to the file that a remedy proposes; None where it is none that can be written down.

    Parameters
    ----------
    changes : tuple of KeyChange
    """
    return [{"path": list(change.path), "value": change.value} for change in changes] or None


def name_things(panel: Panel, routed: Routed) -> dict[str, tuple[str, ...]]:
    """Return the ids of the things that each name in a finding stands for.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    dict of str to tuple of str
        A part's name stands for its ports.
    """
    named: dict[str, tuple[str, ...]] = {}
    for part in panel.parts:
        named[part.name] = tuple(
            thing_id("port", port.name) for port in routed.ports if port.part == part.name
        )
    for k, clear in enumerate(panel.keep_clear):
        for name in (clear.name, f'keep-clear region "{clear.name}"'):
            named.setdefault(name, (thing_id("clear", k),))
    for channel in routed.channels:
        holes = (name_hole(channel, at) for at in channel.holes)
        for name in (*channel_names(channel), *holes):
            named[name] = (thing_id("channel", channel.name),)
    for port in routed.ports:
        for name in port_names(port):
            # The drain is a channel and a port: both are meant.
            named[name] = tuple(dict.fromkeys((*_if_channel(named.get(name)), thing_id("port", port.name))))
    named[TANK] = (thing_id(TANK),)
    for name in PUMP_NAMES:
        named[name] = (thing_id(PUMP),)
    return named


def _if_channel(ids: tuple[str, ...] | None) -> tuple[str, ...]:
    return tuple(one for one in ids or () if one.startswith("channel:"))


def _finding(number: int, finding: Finding, things: dict[str, tuple[str, ...]], of: str) -> dict[str, Any]:
    value, limit = show_both(finding)
    ids = [one for name in finding.features for one in _things_of(name, things)]
    at = finding.at_mm
    return {
        "number": number,
        "severity": finding.severity,
        "code": finding.code,
        "text": finding.text,
        "remedy": finding.remedy,
        "source": finding.source,
        "accepted": finding.accepted or "",
        "value": value,
        "limit": limit,
        "where": "" if at is None else show_place(at),
        "at": round_finite(at),
        "features": list(finding.features),
        "things": list(dict.fromkeys(ids)),
        "changes": changes_document(finding.changes),
        "of": of,
    }


def _things_of(name: str, things: dict[str, tuple[str, ...]]) -> tuple[str, ...]:
    if name.startswith(PUMP_SCREW):
        return (thing_id(PUMP),)
    return things.get(name, ())
