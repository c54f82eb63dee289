"""Why there is no plan, for the local page: what is wrong in the file, or why no layout was found."""

from __future__ import annotations

import re
from typing import Any

from exports.page.documents.finding_documents import changes_document
from exports.page.documents.longer_search import tell_longer_remedy
from exports.page.documents.stopped_documents import fill_problem
from exports.report.failure import tell_remedy
from exports.wording.places import round_finite
from geom.errors import LayoutError, PanelFileError, RillplateError
from geom.words import count_of
from layouts.failure import LayoutFailure
from layouts.routing.effort import is_longer_search

NO_LAYOUT = "no layout was found"

_KEY_PART = r"""(?:[\w-]+|"(?:[^"\\]|\\.)*")"""
_TOLD = re.compile(
    rf"(?::(?P<line>\d+))?: (?:(?P<key>{_KEY_PART}(?:\.{_KEY_PART})*): )?(?P<text>.*)", re.DOTALL
)
"""What stands behind the file's name: ":line: key: text", line and key only where there are some."""


def problem_document(
    error: RillplateError, path: str, plan: dict[str, Any] | None = None, is_last: bool = False
) -> dict[str, Any]:
    """Return what stopped a plan.

    Parameters
    ----------
    error : RillplateError
    path : str
        The file's name as the error gives it.
    plan : dict or None
        The panel without routes, as `loose_document` gives it; of a file that cannot be used it is left out.
    is_last : bool
        Whether no longer search follows by itself, so that one is named.

    Returns
    -------
    dict
        Ready for JSON.
    """
    if isinstance(error, PanelFileError):
        told = [_tell_problem(problem, path) for problem in error.problems]
        return fill_problem("file", f"{count_of(len(told), 'problem')} in the file", told)
    if isinstance(error, LayoutError) and isinstance(error.failure, LayoutFailure):
        return _tell_failure(error.failure, is_last) | {"plan": plan}
    headline = NO_LAYOUT if isinstance(error, LayoutError) else "no plan could be made"
    return fill_problem("layout", headline, [_tell_problem(str(error), path)]) | {"plan": plan}


def _tell_failure(failure: LayoutFailure, is_last: bool) -> dict[str, Any]:
    said = [one for one in (failure.describe_reason(), failure.describe_places()) if one]
    line, key = 0, failure.key
    if key:
        found = _TOLD.fullmatch(failure.where.removeprefix(failure.panel.path) + ": ")
        line = int(found["line"]) if found is not None and found["line"] else 0
    told = [
        {"line": line if k == 0 else 0, "key": key if k == 0 else "", "text": text}
        for k, text in enumerate(said)
    ]
    return fill_problem("layout", failure.headline, told) | {
        "remedies": [
            {
                "text": tell_longer_remedy(tell_remedy(failure, remedy)),
                "changes": changes_document(remedy.changes),
            }
            for remedy in failure.remedies
            if is_last or not is_longer_search(remedy.text)
        ],
        "at": round_finite(failure.at),
        "channels": list(failure.channels),
        "cells": [place for place in map(round_finite, failure.cells) if place is not None],
    }


def _tell_problem(problem: str, path: str) -> dict[str, Any]:
    found = _TOLD.fullmatch(problem.removeprefix(path)) if problem.startswith(path) else None
    if found is None:
        return {"line": 0, "key": "", "text": problem}
    return {"line": int(found["line"] or 0), "key": found["key"] or "", "text": found["text"]}
