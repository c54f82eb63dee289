"""Three versions of a panel file by their keys: theirs, with mine over it where both changed the same."""

from __future__ import annotations

from typing import Any

from geom.errors import EditRefused
from geom.findings import KeyChange
from layouts.file.changes import MISSING, is_same, load_document
from layouts.file.edit import edit_text
from layouts.file.merge import IDENTITIES


def put_over(base: str, mine: str, theirs: str) -> str | None:
    """Return their text with what I changed, over theirs where both changed the same key, and nothing else.

    Parameters
    ----------
    base : str
        What both began with.
    mine, theirs : str

    Returns
    -------
    str or None
        None where one of them is no TOML, or the change cannot be made in their text.
    """
    try:
        old, ours, other = (load_document(text) for text in (base, mine, theirs))
        merged = _merge(old, ours, other)
        changes = []
        for key in dict.fromkeys((*other, *merged)):
            wanted = merged.get(key, MISSING)
            if not is_same(wanted, other.get(key, MISSING)):
                changes.append(KeyChange((key,), None if wanted is MISSING else wanted))
        return edit_text(theirs, changes)
    except EditRefused:
        return None


def is_merge(base: str, mine: str, theirs: str, text: str) -> bool:
    """Return whether a text holds what both hands changed, key by key; lines can be taken for those of another table.

    Parameters
    ----------
    base : str
        What both began with.
    mine, theirs : str
    text : str
        Made of both, line by line.

    Returns
    -------
    bool
        True too where one of them is no TOML, so that it cannot be told.
    """
    try:
        old, ours, other, made = (load_document(one) for one in (base, mine, theirs, text))
    except EditRefused:
        return True
    return is_same(_order_by_name(_merge(old, ours, other)), _order_by_name(made))


def _order_by_name(data: Any) -> Any:
    """Return data with lists of tables that are known by a name in the order of these: no hand means their order."""
    if isinstance(data, dict):
        return {key: _order_by_name(value) for key, value in data.items()}
    if not isinstance(data, list):
        return data
    named = _by_name(data)
    entries = data if named is None else [named[known] for known in sorted(named)]
    return [_order_by_name(entry) for entry in entries]


def _merge(old: Any, ours: Any, other: Any) -> Any:
    if is_same(ours, old):
        return other
    if is_same(other, old) or is_same(ours, other):
        return ours
    if isinstance(ours, dict) and isinstance(other, dict):
        return _merge_keys(old if isinstance(old, dict) else {}, ours, other)
    named = [_by_name(listed) for listed in (old, ours, other)]
    if named[1] is not None and named[2] is not None:
        return list(_merge_keys(named[0] or {}, named[1], named[2]).values())
    return ours


def _merge_keys(old: dict[Any, Any], ours: dict[Any, Any], other: dict[Any, Any]) -> dict[Any, Any]:
    merged = {
        key: _merge(old.get(key, MISSING), ours.get(key, MISSING), other.get(key, MISSING))
        for key in dict.fromkeys((*other, *ours))
    }
    return {key: value for key, value in merged.items() if value is not MISSING}


def _by_name(listed: Any) -> dict[tuple[str, str], Any] | None:
    """Return a list's tables by the key that each is known by; None where they are not told apart by it."""
    if not isinstance(listed, list):
        return None
    found = {}
    for entry in listed:
        known = [
            (key, entry[key])
            for key in IDENTITIES
            if isinstance(entry, dict) and isinstance(entry.get(key), str)
        ]
        if not known:
            return None
        found[known[0]] = entry
    return found if len(found) == len(listed) else None
