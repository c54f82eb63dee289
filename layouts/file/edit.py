"""Edits of a panel file's text that change only what they must.

tomlkit writes the keys and values; where they go in the text is found here (`spans.py`), as its own documents lose
comments behind entries, move tables that stand out of order and know no byte order mark. Whatever the text looks
like, the result is read again and must hold the old data with exactly the changes made.
"""

from __future__ import annotations

from collections.abc import Sequence

from geom.errors import EditRefused
from geom.findings import KeyChange
from layouts.file.changes import (
    MISSING,
    apply_changes,
    is_same,
    line_of,
    load_document,
    value_at,
)
from layouts.file.insert import insert_value
from layouts.file.positions import Path, show_path
from layouts.file.remove import remove_value
from layouts.file.spans import find_spans
from layouts.file.toml_text import write_key, write_like

BYTE_ORDER_MARK = "\ufeff"


def edit_text(text: str, changes: Sequence[KeyChange]) -> str:
    """Return a panel file's text with some keys changed.

    Parameters
    ----------
    text : str
        TOML. A byte order mark, comments, order, blank lines, quotes and line ends stay as they are; a comment goes
        only with the line of a key or the entry of a list that goes.
    changes : sequence of KeyChange
        Made one after the other: a path counts as things stand once those before it are made. A key that goes and
        one that comes in the same table are one line, whose place and comment stay.

    Returns
    -------
    str

    Raises
    ------
    EditRefused
        The text is not TOML, a path or a value does not fit, or the text is written so that the change cannot be
        made in it; the message says where and why.
    """
    mark = BYTE_ORDER_MARK if text.startswith(BYTE_ORDER_MARK) else ""
    body = text[len(mark) :]
    before = load_document(body)
    wanted = before
    for change in changes:
        try:
            wanted = apply_changes(wanted, (change,))
        except EditRefused as refused:
            raise EditRefused(str(refused), line_of(body, change.path)) from None
    if is_same(wanted, before):
        return text
    ends_open = not body.endswith("\n")
    line_end = "\r\n" if body.count("\r\n") * 2 > body.count("\n") else "\n"
    whole = body + line_end if ends_open else body
    for paired in (True, False):
        try:
            edited = _make_changes(whole, changes, line_end, paired)
            if is_same(load_document(edited), wanted):
                return mark + (edited.removesuffix("\n").removesuffix("\r") if ends_open else edited)
        except (EditRefused, LookupError):
            # Where the text is found not to be as this module takes it, nothing of it is used.
            continue
    path = changes[0].path
    raise EditRefused(
        f"{show_path(path)}: the file is written so that this change cannot be made in it without changing more;"
        " make it in the file's text",
        line_of(body, path),
    )


def _make_changes(text: str, changes: Sequence[KeyChange], line_end: str, paired: bool) -> str:
    todo = list(changes)
    while todo:
        change = todo.pop(0)
        other = _find_other(text, change, todo) if paired else None
        if other is None:
            text = _make_change(text, change, line_end)
            continue
        todo.remove(other)
        gone, come = (change, other) if change.value is None else (other, change)
        pair = find_spans(text).pairs[gone.path]
        text = (
            text[: pair.last_start]
            + write_key(str(come.path[-1]))
            + text[pair.key_end : pair.value.start]
            + write_like(come.value, text[pair.value.start : pair.value.end])
            + text[pair.value.end :]
        )
    return text


def _find_other(text: str, change: KeyChange, later: Sequence[KeyChange]) -> KeyChange | None:
    """Return the later change that with this one replaces a key by another of the same table; None without one."""
    for other in later:
        if isinstance(other.path[-1], int):
            # An entry that comes or goes moves others: what stands behind it is looked at once it is made.
            return None
        if other.path[:-1] != change.path[:-1] or (other.value is None) == (change.value is None):
            continue
        gone, come = (change, other) if change.value is None else (other, change)
        there = value_at(load_document(text), come.path) is not MISSING
        return None if there or gone.path not in find_spans(text).pairs else other
    return None


def _make_change(text: str, change: KeyChange, line_end: str) -> str:
    path, value = change.path, change.value
    there = value_at(load_document(text), path)
    if value is None:
        return text if there is MISSING else remove_value(text, path, line_end)
    if there is MISSING:
        return insert_value(text, path, value, line_end)
    if is_same(there, value):
        return text
    if isinstance(value, dict) and isinstance(there, dict):
        gone = [KeyChange((*path, key), None) for key in there if key not in value]
        come = [KeyChange((*path, key), inner) for key, inner in value.items()]
        return _make_changes(text, [*gone, *come], line_end, True)
    found = find_spans(text).values.get(path)
    # Entries under headers stay under headers while all of them are tables.
    listed = isinstance(value, list) and (
        found is not None or all(isinstance(entry, dict) for entry in value)
    )
    if listed and isinstance(there, list) and value:
        return _change_list(text, path, there, value, line_end)
    if found is None:
        return insert_value(remove_value(text, path, line_end), path, value, line_end)
    return text[: found.start] + write_like(value, text[found.start : found.end]) + text[found.end :]


def _change_list(text: str, path: Path, old: list[object], new: list[object], line_end: str) -> str:
    """Change only the entries between those that both lists start and end with."""
    shorter = min(len(old), len(new))
    first = next((k for k in range(shorter) if not is_same(old[k], new[k])), shorter)
    alike = next(
        (k for k in range(shorter - first) if not is_same(old[-1 - k], new[-1 - k])), shorter - first
    )
    for k in range(first, shorter - alike):
        text = _make_change(text, KeyChange((*path, k), new[k]), line_end)
    at = shorter - alike
    for k in reversed(range(at, len(old) - alike)):
        text = remove_value(text, (*path, k), line_end)
    for k in range(at, len(new) - alike):
        text = insert_value(text, (*path, k), new[k], line_end)
    return text
