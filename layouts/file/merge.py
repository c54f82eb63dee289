"""Two hands in one file: what both may change together, and where they changed the same key."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from geom.findings import KeyChange, KeyPath
from layouts.file.changes import MISSING, apply_changes, is_same, load_document, value_at
from layouts.file.edit import edit_text

IDENTITIES = ("name", "channel")
"""Keys by which an entry of a list of tables is known, wherever it stands in the list."""


@dataclass(frozen=True, slots=True)
class Merged:
    """What came of a merge.

    Parameters
    ----------
    text : str or None
        The merged text; None where both changed the same key.
    conflicts : tuple of KeyPath
        Paths, in the base text, of my changes that their text crosses; empty where there are none.
    """

    text: str | None
    conflicts: tuple[KeyPath, ...] = ()


def merge_changes(base: str, mine: Sequence[KeyChange], theirs: str) -> Merged:
    """Return their text with my changes, which were made on the base text.

    Entries of lists of tables ([[part]], [[keep_clear]] ...) are known by their name, so that one that was added or
    removed before them is no conflict.

    Parameters
    ----------
    base : str
        The text that my changes were made on.
    mine : sequence of KeyChange
    theirs : str
        The text as it is now.

    Returns
    -------
    Merged
        With the text where, at each path of mine, theirs holds what the base holds (or already what I want).

    Raises
    ------
    EditRefused
        A text is not TOML, or the changes do not fit the base.
    """
    ours, other = load_document(base), load_document(theirs)
    todo: list[KeyChange] = []
    conflicts: list[KeyPath] = []
    for change in mine:
        if _is_gone(ours, other, change):
            ours = apply_changes(ours, (change,))
            continue
        path = _find_path(ours, other, change.path)
        wanted = MISSING if change.value is None else change.value
        there = MISSING if path is None else value_at(other, path)
        if path is None or not (is_same(there, value_at(ours, change.path)) or is_same(there, wanted)):
            conflicts.append(change.path)
        elif there is not wanted and not is_same(there, wanted):
            todo.append(KeyChange(path, change.value))
            other = apply_changes(other, todo[-1:])
        # A later path counts as things stand once this change is made.
        ours = apply_changes(ours, (change,))
    if conflicts:
        return Merged(None, tuple(conflicts))
    return Merged(edit_text(theirs, todo))


def _find_path(ours: Any, other: Any, path: KeyPath) -> KeyPath | None:
    """Return where a path of our data stands in the other's; None where what it goes through is another there."""
    found: list[str | int] = []
    for k, part in enumerate(path):
        if ours is MISSING and isinstance(other, dict | list):
            # They made a table or list that we make too.
            ours = type(other)()
        if type(ours) is not type(other) or isinstance(part, int) is not isinstance(ours, list):
            return None
        if isinstance(part, int):
            at = _find_entry(ours, other, part)
            if at is None:
                return None
            found.append(at)
            ours, other = value_at(ours, (part,)), value_at(other, (at,))
        else:
            found.append(part)
            ours, other = value_at(ours, (part,)), value_at(other, (part,))
        if ours is MISSING and other is MISSING:
            return (*found, *path[k + 1 :])
    return tuple(found)


def _is_gone(ours: Any, other: Any, change: KeyChange) -> bool:
    """Return whether a change removes an entry of a list of tables that they have removed too."""
    *parent, last = change.path
    if change.value is not None or not isinstance(last, int):
        return False
    entry = value_at(ours, change.path)
    path = _find_path(ours, other, tuple(parent))
    listed = MISSING if path is None else value_at(other, path)
    known = _identity(entry)
    return known is not None and not (
        isinstance(listed, list) and any(_identity(one) == known for one in listed)
    )


def _find_entry(ours: list[Any], other: list[Any], index: int) -> int | None:
    """Return where an entry of our list, or its end, stands in the other."""
    if index == len(ours):
        return len(other)
    name = _identity(ours[index])
    if name is None:
        # Without names nothing tells an entry from another: both lists must be one, but for what is in tables.
        return index if len(ours) == len(other) else None
    places = [k for k, entry in enumerate(other) if _identity(entry) == name]
    return places[0] if len(places) == 1 else None


def _identity(entry: Any) -> tuple[str, str] | None:
    if isinstance(entry, dict):
        for key in IDENTITIES:
            if isinstance(entry.get(key), str):
                return key, entry[key]
    return None
