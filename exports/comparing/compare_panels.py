"""Two panels compared: figures, findings, files; and two files read and planned for it."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from exports.comparing.file_keys import compare_documents
from exports.comparing.finding_pairs import pair_findings
from exports.comparing.plan_figures import list_figures
from exports.comparing.rows import pair_figures
from exports.comparing.values import Comparison, KeyRow, Side
from geom.errors import LayoutError, PanelFileError
from geom.findings import has_fault
from layouts.panel import Panel
from layouts.plan import Plan
from layouts.routing.effort import NORMAL, Effort

if TYPE_CHECKING:
    from layouts.failure import LayoutFailure

SIDES = ("A", "B")


@dataclass(frozen=True, slots=True)
class Planned:
    """One panel of the two: its plan, or why there is none.

    Parameters
    ----------
    panel : Panel
    plan : Plan or None
    failure : LayoutFailure or None
        Where no routing was found.
    problem : str
        Why there is no plan; empty where there is one.
    """

    panel: Panel
    plan: Plan | None
    failure: LayoutFailure | None = None
    problem: str = ""


def compare_planned(a: Planned, b: Planned, keys: tuple[KeyRow, ...] = ()) -> Comparison:
    """Return two panels compared, of which either may have no layout.

    Parameters
    ----------
    a, b : Planned
    keys : tuple of KeyRow
        What differs in their files.
    """
    figures = ({} if one.plan is None else list_figures(one.plan) for one in (a, b))
    return Comparison(_side(a), _side(b), pair_figures(*figures), pair_findings(a.plan, b.plan), keys)


def _side(one: Planned) -> Side:
    panel = one.panel
    path = _printable(panel.path)
    if one.plan is None:
        return Side(path, panel.name, panel.sha256, "no layout", _printable(one.problem))
    return Side(path, panel.name, panel.sha256, "faults" if has_fault(one.plan.findings) else "ok")


def _printable(text: str) -> str:
    """Return a text without what neither a terminal nor a picture can show: a file's name may hold anything."""
    return "".join(c if c.isprintable() else "\ufffd" for c in text)


def plan_files(
    paths: tuple[Path, Path],
    progress: Callable[[str, float], None] | None = None,
    seed: int = 0,
    effort: Effort = NORMAL,
    note: Callable[[str], None] | None = None,
) -> tuple[Planned, Planned, tuple[KeyRow, ...]]:
    """Return two panel files planned, and what differs in the files.

    Files of the same bytes are planned once.

    Parameters
    ----------
    paths : (Path, Path)
    progress : callable, optional
        Called with ("A route", seconds) after each stage.
    seed : int
    effort : Effort
    note : callable, optional
        Told in a few words what the router is at.

    Returns
    -------
    tuple
        A, B, and the keys that differ.

    Raises
    ------
    PanelFileError
        A file that cannot be used: every problem of both at once.
    """
    from layouts.file.read import parse_panel, read_bytes

    files: list[bytes] = []
    panels: list[Panel] = []
    problems: list[str] = []
    for path in paths:
        try:
            data = read_bytes(path)
            panels.append(parse_panel(data, os.fspath(path)))
            files.append(data)
        except PanelFileError as error:
            problems += error.problems
    if problems:
        raise PanelFileError(tuple(dict.fromkeys(problems)))
    first, second = panels
    a = _plan(SIDES[0], first, progress, seed, effort, note)
    if first.sha256 == second.sha256:
        b = replace(a, panel=second)
    else:
        b = _plan(SIDES[1], second, progress, seed, effort, note)
    of_a, of_b = (tomllib.loads(data.decode("utf-8-sig")) for data in files)
    return a, b, compare_documents(of_a, of_b)


def _plan(
    side: str,
    panel: Panel,
    progress: Callable[[str, float], None] | None,
    seed: int,
    effort: Effort,
    note: Callable[[str], None] | None,
) -> Planned:
    from exports.pipeline import plan_read

    def tell(stage: str, seconds: float) -> None:
        if progress is not None:
            progress(f"{side} {stage}", seconds)

    def say(what: str) -> None:
        if note is not None:
            note(f"{side} {what}")

    try:
        return Planned(panel, plan_read(panel, tell, seed, effort, say))
    except LayoutError as error:
        return Planned(panel, None, error.failure, str(error))
