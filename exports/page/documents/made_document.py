"""What a run has written, for the local page to hand out."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from exports.report.html.whole import LATER_FILES
from exports.writing import FileRecord

FOLDER, ALL = "made/", "made.zip"
"""Addresses of the files beside the page, and of all in one."""


def made_document(
    records: tuple[FileRecord, ...], folder: Path, withheld: str, findings: list[dict[str, Any]]
) -> dict[str, Any]:
    """Return the files of a run.

    Parameters
    ----------
    records : tuple of FileRecord
        Those that it wrote, the report for programs aside, which is added.
    folder : Path
        In which they stand.
    withheld : str
        Why some are not there; empty where nothing is withheld.
    findings : list of dict
        From `findings_document`.

    Returns
    -------
    dict
        Ready for JSON.
    """
    named = (*((record.name, record.what) for record in records), *LATER_FILES)
    return {
        "files": [
            {"name": name, "what": what, "bytes": (folder / name).stat().st_size, "address": FOLDER + name}
            for name, what in named
        ],
        "all": ALL,
        "withheld": withheld,
        "findings": findings,
    }
