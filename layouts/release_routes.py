"""Where there is no layout with the routes that the file keeps: which of them, found again, lets there be one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from geom.errors import LayoutError
from geom.findings import KeyChange
from layouts.failure import LayoutFailure, Remedy
from layouts.keep_routes import name_kept
from layouts.kept_failure import release_route
from layouts.panel import Panel
from layouts.routing.effort import QUICK, Effort

MOST_RELEASED = 4
"""Kept routes that are found again one by one: each is a whole search."""


def release_routes(
    panel: Panel, error: LayoutError, lay_out: Callable[[Panel, Effort], object], effort: Effort
) -> LayoutError:
    """Return an error with what helps of finding kept routes again, first of all remedies.

    Parameters
    ----------
    panel : Panel
    error : LayoutError
        Of this panel.
    lay_out : callable
        Lays a panel out; raises LayoutError where it cannot.
    effort : Effort
        Of the search; one that tries nothing only names the routes.

    Returns
    -------
    LayoutError
        As given where the file keeps no route, or it tells no failure.
    """
    failure = error.failure
    if not panel.keep_routes or not isinstance(failure, LayoutFailure):
        return error
    told = str(failure)
    named = [n for n, route in enumerate(panel.keep_routes) if name_kept(route.channel) in told]
    numbers = [*named, *(n for n in range(len(panel.keep_routes)) if n not in named)]
    most = min(MOST_RELEASED, effort.trials)

    def helps(gone: tuple[int, ...]) -> bool:
        left = tuple(route for n, route in enumerate(panel.keep_routes) if n not in gone)
        try:
            lay_out(replace(panel, keep_routes=left), QUICK)
        except LayoutError:
            return False
        return True

    found = [release_route(panel, n, True) for n in numbers[:most] if helps((n,))]
    if not found and len(numbers) > 1 and most and helps(tuple(numbers)):
        lines = ", ".join(str(route.line) for route in panel.keep_routes if route.line)
        where = f" of lines {lines}" if lines else ""
        text = f"let all kept routes be found again (take every [[keep_route]]{where} out)"
        found.append(Remedy(text, True, (KeyChange(("keep_route",), None),)))
    if not most:
        found = [release_route(panel, n, False) for n in named]
    others = [one for one in failure.remedies if not found or not _is_release(one)]
    remedies = sorted([*found, *others], key=lambda one: not one.works)
    return LayoutError(replace(failure, remedies=tuple(remedies)))


def _is_release(remedy: Remedy) -> bool:
    """Return whether a remedy is one that finds a kept route again."""
    return any(change.path[:1] == ("keep_route",) for change in remedy.changes)
