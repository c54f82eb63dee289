"""Keys, entries of lists and tables taken out of a TOML text, with their own lines and comments only."""

from __future__ import annotations

from collections.abc import Sequence

from layouts.file.changes import MISSING, load_document, value_at
from layouts.file.insert import insert_value
from layouts.file.positions import Path
from layouts.file.spans import Pair, Spans, Value, find_spans, line_end, line_start, skip_blank

Cut = tuple[int, int]


def remove_value(text: str, path: Path, newline: str) -> str:
    """Return the text without the value at a path.

    Parameters
    ----------
    text : str
        TOML that holds it, its last line ended.
    path : Path
    newline : str
        The text's line end.

    Returns
    -------
    str
        A table that is left without keys stays; a list of tables that is left without entries goes.
    """
    before = load_document(text)
    removed, parent = value_at(before, path), path[:-1]
    if isinstance(path[-1], int) and isinstance(removed, dict) and len(value_at(before, parent)) == 1:
        return (
            remove_value(text, parent, newline)
            if parent in find_spans(text).values
            else _take_out(text, path)
        )
    after = _take_out(text, path)
    if parent and value_at(load_document(after), parent) is MISSING:
        # It was there only by this key: a dotted one, or a longer header.
        return insert_value(after, parent, {}, newline)
    return after


def _take_out(text: str, path: Path) -> str:
    spans = find_spans(text)
    pair, value = spans.pairs.get(path), spans.values.get(path)
    if pair is not None:
        return _cut(text, (_cut_pair(text, spans, pair),))
    if value is not None:
        entries = spans.values[path[:-1]].entries
        return _cut(text, _cut_entry(text, entries, entries.index(value)))
    length = len(path)
    # From the last to the first: what stands before a cut stays where it is.
    for section in reversed(spans.sections):
        if section.path[:length] == path:
            text = _cut(text, (_cut_lines(text, section.start, section.end),))
    while True:
        spans = find_spans(text)
        dotted = (
            one for one in spans.pairs.values() if one.path[:length] == path and len(one.table) < length
        )
        found = next(dotted, None)
        # Under headers the numbers in a path are others once an entry is gone: only keys are looked for again.
        if found is None or isinstance(path[-1], int):
            return text
        text = _cut(text, (_cut_pair(text, spans, found),))


def _cut(text: str, cuts: Sequence[Cut]) -> str:
    for start, end in sorted(cuts, reverse=True):
        text = text[:start] + text[end:]
    return text


def _cut_lines(text: str, start: int, end: int) -> Cut:
    """Return whole lines, with blank lines that would stand in twos, or at the text's end, without them."""
    start, end = line_start(text, start), line_end(text, end)
    before = start
    while before > 0 and not text[line_start(text, before - 1) : before].strip():
        before = line_start(text, before - 1)
    if before < start or start == 0:
        while end < len(text) and not text[end : line_end(text, end)].strip():
            end = line_end(text, end)
        if end == len(text):
            start = before
    return start, end


def _cut_pair(text: str, spans: Spans, pair: Pair) -> Cut:
    if not pair.inline:
        return line_start(text, pair.start), line_end(text, pair.value.end)
    pairs = spans.values[pair.table].pairs
    index = pairs.index(pair)
    if len(pairs) == 1:
        table = spans.values[pair.table]
        return table.start + 1, table.end - 1
    if index + 1 < len(pairs):
        return pair.start, pairs[index + 1].start
    return pairs[index - 1].value.end, pair.value.end


def _cut_entry(text: str, entries: tuple[Value, ...], index: int) -> tuple[Cut, ...]:
    """Return what goes with an entry of a list: on lines of its own these, with their comment."""
    entry = entries[index]
    comma = skip_blank(text, entry.end)
    comma = comma if text[comma] == "," else -1
    start, end = line_start(text, entry.start), line_end(text, entry.end)
    alone = not text[start : entry.start].strip() and _ends_line(text, entry.end, end)
    if alone and (comma < 0 or comma < end):
        return ((start, end),)
    if index + 1 < len(entries) and "\n" not in text[entry.end : entries[index + 1].start]:
        return ((entry.start, entries[index + 1].start),)
    if index > 0 and not _has_comment(text[entries[index - 1].end : entry.start]):
        return ((entries[index - 1].end, entry.end),)
    if comma >= 0:
        return (entry.start, entry.end), (comma, comma + 1)
    return ((entry.start, entry.end),)


def _ends_line(text: str, at: int, end: int) -> bool:
    """Return whether only a comma and a comment follow in the line."""
    rest = text[at:end].strip().removeprefix(",").lstrip()
    return not rest or rest.startswith("#")


def _has_comment(between: str) -> bool:
    return "#" in between or "\n" in between
