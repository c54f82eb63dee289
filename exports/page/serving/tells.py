"""What the server itself tells the pages, each as `Tell` in `exports/page/web/src/page/messages.ts`."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any, get_args

from exports.page.documents.stopped_documents import fill_problem
from exports.page.serving.file_state import Conflict, FileState
from layouts.file.loop import RESERVED
from layouts.file.quantities import NAME_LENGTH
from layouts.file.read import MOST_BYTES
from layouts.panel import Closing
from layouts.panels.catalogue import demo_names, describe_demo
from layouts.panels.start_form import CAPACITIES, FLOWS, HEATS, HEIGHTS, MOST_BESIDE, MOST_PARTS, WIDTHS

_PROBLEM = re.compile(r"(?:[^\n]*?):(?P<line>\d+): (?P<text>.*)", re.DOTALL)


def tell_hello(name: str) -> dict[str, Any]:
    """Return the first message to a page.

    Parameters
    ----------
    name : str
        Of the file.
    """
    return {
        "tell": "hello",
        "version": _version(),
        "file": name,
        "demos": [{"name": demo, "said": describe_demo(demo)} for demo in demo_names()],
        "most_bytes": MOST_BYTES,
        "limits": {
            "width": list(WIDTHS),
            "height": list(HEIGHTS),
            "flow": list(FLOWS),
            "heat": list(HEATS),
            "capacity": list(CAPACITIES),
            "parts": MOST_PARTS,
            "beside": MOST_BESIDE,
            "letters": NAME_LENGTH,
            "closings": list(get_args(Closing)),
            "reserved": list(RESERVED),
        },
    }


def tell_file(name: str, state: FileState) -> dict[str, Any]:
    """Return the file as it stands.

    Parameters
    ----------
    name : str
    state : FileState
    """
    return {
        "tell": "file",
        "revision": state.revision,
        "name": name,
        "exists": state.seen.exists,
        "text": state.text,
        "undo": state.past[-1].said if state.past else None,
        "redo": state.future[-1].said if state.future else None,
        "by": state.by,
    }


def tell_conflict(conflict: Conflict, number: int | None = None) -> dict[str, Any]:
    """Return a question to the pages.

    Parameters
    ----------
    conflict : Conflict
    number : int or None
        Of the wish that led to it, for the page that it came from; None for all others.
    """
    told: dict[str, Any] = {
        "tell": "conflict",
        "conflict": conflict.number,
        "said": conflict.said,
        "page": conflict.page,
        "file": conflict.file,
        "lines": list(conflict.lines),
    }
    return told if number is None else told | {"number": number}


def tell_settled(number: int) -> dict[str, Any]:
    """Return that a question is answered, by whichever page."""
    return {"tell": "settled", "conflict": number}


def tell_done(number: int, revision: int, said: str) -> dict[str, Any]:
    """Return that a wish was done."""
    return {"tell": "done", "number": number, "revision": revision, "said": said}


def tell_refused(number: int, why: str) -> dict[str, Any]:
    """Return that a wish was not done, and why."""
    return {"tell": "refused", "number": number, "why": why}


def tell_draft_refused(number: int, ms: float, why: str) -> dict[str, Any]:
    """Return the answer to a draft whose edits cannot be made.

    Parameters
    ----------
    number : int
    ms : float
        Since the draft came, [ms].
    why : str
    """
    problem = fill_problem("edit", why, [])
    return {"tell": "draft", "number": number, "ms": round(ms, 1), "answer": None, "problem": problem}


def tell_unusable(revision: int, name: str, why: str) -> dict[str, Any]:
    """Return that the file is none that could be worked on.

    Parameters
    ----------
    revision : int
    name : str
        Of the file.
    why : str
        As `SeenFile.unusable`.
    """
    match = _PROBLEM.fullmatch(why)
    line, text = (int(match["line"]), match["text"]) if match else (0, why)
    problem = fill_problem("file", f"{name} cannot be read.", [{"line": line, "key": "", "text": text}])
    return {"tell": "problem", "revision": revision, "problem": problem}


@lru_cache(maxsize=1)
def _version() -> str:
    from importlib import metadata

    try:
        return metadata.version("rillplate")
    except metadata.PackageNotFoundError:
        return ""
