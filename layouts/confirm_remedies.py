"""Remedies of a failure held against the whole search: only one with which there is a layout is told to work."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from geom.errors import LayoutError
from layouts.failure import LayoutFailure, Remedy
from layouts.file.read import build_changed
from layouts.panel import Panel
from layouts.routing.effort import Effort

MOST_CONFIRMED = 4
"""Remedies that are laid out whole: each is a search with little effort."""


def confirm_remedies(
    panel: Panel, error: LayoutError, finds: Callable[[Panel], bool], effort: Effort
) -> LayoutError:
    """Return an error whose remedies that are changes of the file work where these give a layout, else may help.

    What was tried before is one place of tank and pump, or one channel: the rest of the panel may still fail.

    Parameters
    ----------
    panel : Panel
    error : LayoutError
        Of this panel.
    finds : callable
        Returns whether a quick search finds a layout of a panel.
    effort : Effort
        Of the search; of more remedies than its trials none is told to work.

    Returns
    -------
    LayoutError
        As given where it tells no failure.
    """
    failure = error.failure
    if not isinstance(failure, LayoutFailure):
        return error
    left = min(MOST_CONFIRMED, effort.trials)
    remedies: list[Remedy] = []
    for remedy in failure.remedies:
        if remedy.works and remedy.changes:
            changed = build_changed(panel, remedy.changes) if left > 0 else None
            left -= 1
            remedy = replace(remedy, works=changed is not None and finds(changed))
        remedies.append(remedy)
    remedies.sort(key=lambda remedy: not remedy.works)
    return LayoutError(replace(failure, remedies=tuple(remedies)))
