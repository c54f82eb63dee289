"""What the page says where a longer search may find more: how the page is opened with one."""

from __future__ import annotations

from layouts.routing.effort import LONGER_SEARCH, Effort, find_longer

PAGE_COMMAND = "rillplate page FILE"


def tell_longer_remedy(text: str) -> str:
    """Return a remedy's words; those of a longer search with the command that opens the page with one."""
    return text.replace(LONGER_SEARCH, f"{LONGER_SEARCH}{PAGE_COMMAND} ", 1)


def tell_longer_search(status: str, effort: Effort) -> str:
    """Return how to search longer than for a layout of a status; empty where that may help no more.

    Parameters
    ----------
    status : str
        `Routed.status`.
    effort : Effort
        With which it was found.
    """
    longer = find_longer(effort)
    if longer is None or status.startswith("optimal"):
        return ""
    return f"--effort {longer.name} searches longer"
