"""Names and counts in sentences."""

from __future__ import annotations

from collections.abc import Sequence


def join_names(names: Sequence[str]) -> str:
    """Return names as a list in words: "a", "a and b", "a, b and c"; empty where there are none."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def count_of(number: int, thing: str) -> str:
    """Return "1 post", "2 posts"."""
    return f"{number} {thing}{'' if number == 1 else 's'}"
