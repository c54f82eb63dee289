"""A panel without a layout, told: in the terminal, and as the report's document (schema 1)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from exports.report.changes import changes_section
from exports.tables.text_tables import LINE
from exports.wording.figures import round_plain, wrap_words
from exports.writing import FileRecord
from geom.outline import Point
from layouts.failure import Gap, LayoutFailure, Remedy

SCHEMA = 1

HELPS = {"unreachable": "that channel can then be routed", "no place": "there is then a place"}
"""What a remedy without changes was found to do where it was tried, if not that all can be routed."""


def describe_failure(failure: LayoutFailure) -> str:
    """Return the failure in lines for the terminal: what, where, why, and what to try."""
    lines = [f"{failure.where}: {failure.headline}"]
    lines += _indent(failure.describe_reason())
    lines += _indent(failure.describe_places())
    for remedy in failure.remedies:
        lines += _indent(tell_remedy(failure, remedy), "- ")
    return "\n".join(lines)


def tell_remedy(failure: LayoutFailure, remedy: Remedy) -> str:
    """Return a remedy with what is known of it."""
    if not remedy.works:
        return f"{remedy.text} (may help)"
    if remedy.changes:
        return f"{remedy.text}: tried, there is then a layout"
    return f"{remedy.text}: tried, {HELPS.get(failure.kind, 'all can then be routed')}"


def _indent(text: str, mark: str = "") -> list[str]:
    wrapped = wrap_words(text, LINE - 4)
    return [f"  {mark if k == 0 else ' ' * len(mark)}{line}" for k, line in enumerate(wrapped)]


def failure_document(
    failure: LayoutFailure,
    files: tuple[FileRecord, ...],
    seconds: Mapping[str, float],
    earlier: tuple[FileRecord, ...] = (),
) -> dict[str, Any]:
    """Return the report of a run that found no layout.

    Parameters
    ----------
    failure : LayoutFailure
    files : tuple of FileRecord
        What was written, the report itself aside.
    seconds : mapping of str to float
        Wall clock of each stage, [s]; empty in the file.
    earlier : tuple of FileRecord
        What earlier runs left in the folder.

    Returns
    -------
    dict
        Ready for JSON.
    """
    panel, placement = failure.panel, failure.placement
    return {
        "schema": SCHEMA,
        "panel": {
            "name": panel.name,
            "sha256": panel.sha256,
            "size_mm": _mm((panel.width, panel.height)),
            "layers": panel.channel.layers,
        },
        "result": "no layout",
        "reason": {
            "kind": failure.kind,
            "proven": failure.proven_everywhere,
            "proven_here": failure.proven,
            "channels": list(failure.channels),
            "text": failure.describe(),
            "remedies": [
                {"text": remedy.text, "works": remedy.works, **changes_section(remedy.changes)}
                for remedy in failure.remedies
            ],
            "at_mm": _mm(failure.at),
            "gap": None if failure.gap is None else _gap(failure.gap),
        },
        "pump": placement and {"at_mm": _mm(placement.inlet), "turn_deg": placement.turn_deg},
        "places": {"all": failure.places, "tried": failure.tried, "impossible": failure.impossible},
        "files": _files(files),
        "earlier_files": _files(earlier),
        "seconds": {stage: round(taken, 3) for stage, taken in seconds.items()},
    }


def _gap(gap: Gap) -> dict[str, Any]:
    return {
        "between": list(gap.between),
        "from_mm": _mm(gap.start),
        "to_mm": _mm(gap.end),
        "width_mm": round_plain(gap.width, 3),
        "needed_mm": round_plain(gap.needed, 3),
        "lacking_mm": round_plain(gap.lacking, 3),
        "must_pass": gap.must_pass,
        "fit": gap.fit,
    }


def _files(records: tuple[FileRecord, ...]) -> list[dict[str, str]]:
    return [{"name": r.name, "what": r.what, "sha256": r.sha256} for r in records]


def _mm(at: Point) -> list[float | None]:
    return [round_plain(v, 4) for v in at]
