"""Keys, entries of lists and tables put into a TOML text."""

from __future__ import annotations

from typing import Any

from geom.errors import EditRefused
from layouts.file.changes import MISSING, load_document, value_at
from layouts.file.positions import Path, show_path
from layouts.file.spans import Section, Spans, Value, find_spans, line_end, line_start, skip_blank
from layouts.file.toml_text import write_header, write_pair, write_value


def insert_value(text: str, path: Path, value: Any, newline: str) -> str:
    """Return the text with a value at a path where none stands, or with an entry of a list before another.

    Parameters
    ----------
    text : str
        TOML, its last line ended.
    path : Path
        Tables on the way that are not there are made; a list's index is that of the new entry.
    value : text, bool, int, float, date, time, list or dict
    newline : str
        The text's line end.

    Returns
    -------
    str
    """
    data = load_document(text)
    count = 0
    while count < len(path) - 1 and value_at(data, path[: count + 1]) is not MISSING:
        count += 1
    base, part = path[:count], path[count]
    for inner in reversed(path[count + 1 :]):
        value = [value] if isinstance(inner, int) else {inner: value}
    spans = find_spans(text)
    if isinstance(part, int):
        known = spans.values.get(base)
        if known is not None:
            return _insert_entry(text, known, part, value, newline)
        return _insert_listed(text, spans, base, part, value, newline)
    if not base:
        return _insert_at_root(text, spans, part, value, newline)
    return _insert_key(text, spans, base, part, value, newline)


def _insert_key(text: str, spans: Spans, base: Path, key: str, value: Any, newline: str) -> str:
    table = spans.values.get(base)
    if table is not None:
        if not table.pairs:
            return text[: table.start] + write_value({key: value}) + text[table.end :]
        at = table.pairs[-1].value.end
        return text[:at] + f", {write_pair((key,), value)}" + text[at:]
    section = next((one for one in spans.sections if one.path == base), None)
    if section is not None:
        if _is_list_of_tables(value):
            at = _end_of(text, spans, base)
            return _put_sections(text, at, (*base, key), value, newline)
        return _insert_pair(text, section, (key,), value, newline)
    dotted = [
        one for one in spans.pairs.values() if one.path[: len(base)] == base and len(one.table) < len(base)
    ]
    if dotted:
        last = max(dotted, key=lambda one: one.start)
        parts = (*(str(part) for part in base[len(last.table) :]), key)
        if last.inline:
            at = last.value.end
            return text[:at] + f", {write_pair(parts, value)}" + text[at:]
        at = line_end(text, last.value.end)
        return text[:at] + _indent_of(text, last.start) + write_pair(parts, value) + newline + text[at:]
    # Only longer headers tell of the table: its own goes above the first of them and the comment over it.
    first = next(one for one in spans.sections if one.path[: len(base)] == base)
    at = _comment_start(text, first.start)
    new = newline.join((write_header(base, False), write_pair((key,), value), "", ""))
    return text[:at] + new + text[at:]


def _insert_pair(text: str, section: Section, parts: tuple[str, ...], value: Any, newline: str) -> str:
    at = line_end(text, section.end)
    indent = _indent_of(text, section.pairs[-1].start if section.pairs else section.start)
    return text[:at] + indent + write_pair(parts, value) + newline + text[at:]


def _insert_at_root(text: str, spans: Spans, key: str, value: Any, newline: str) -> str:
    if _is_list_of_tables(value):
        return _put_sections(text, len(text), (key,), value, newline)
    if isinstance(value, dict):
        return _put_block(text, len(text), _write_section((key,), value, False, newline), newline)
    root = spans.sections[0]
    if root.pairs:
        return _insert_pair(text, root, (key,), value, newline)
    # Above the first header, under the comments that the file starts with.
    at = 0
    while text.startswith("#", at):
        at = line_end(text, at)
    new = write_pair((key,), value) + newline
    return text[:at] + (newline if at else "") + new + ("" if _is_blank(text, at) else newline) + text[at:]


def _insert_listed(text: str, spans: Spans, base: Path, index: int, value: Any, newline: str) -> str:
    """Insert an entry of a list of tables that is written under headers."""
    if not isinstance(value, dict):
        raise EditRefused(f"{show_path((*base, index))}: an entry under a header is a table; give its keys")
    after = next((one for one in spans.sections if one.path == (*base, index)), None)
    if after is not None:
        at = _comment_start(text, after.start)
        return text[:at] + _write_section(base, value, True, newline) + newline + text[at:]
    last = next(one for one in spans.sections if one.path == (*base, index - 1))
    at = _end_of(text, spans, (*base, index - 1))
    block = _write_section(base, value, True, newline)
    indent = _indent_of(text, last.start)
    if indent:
        block = "".join(indent + line for line in block.splitlines(keepends=True))
    return _put_block(text, at, block, newline)


def _put_sections(text: str, at: int, base: Path, values: list[dict[str, Any]], newline: str) -> str:
    blocks = [_write_section(base, one, True, newline) for one in values]
    return _put_block(text, at, newline.join(blocks), newline)


def _put_block(text: str, at: int, block: str, newline: str) -> str:
    """Insert whole lines at the start of a line, a blank line before and after them."""
    before = "" if at == 0 or not text[line_start(text, at - 1) : at].strip() else newline
    after = "" if at == len(text) or _is_blank(text, at) else newline
    return text[:at] + before + block + after + text[at:]


def _write_section(base: Path, value: dict[str, Any], listed: bool, newline: str) -> str:
    lines = [write_header(base, listed), *(write_pair((key,), inner) for key, inner in value.items())]
    return "".join(line + newline for line in lines)


def _end_of(text: str, spans: Spans, base: Path) -> int:
    """Return where the last section of a table ends, with the comments under it that lead to no header."""
    last = [one for one in spans.sections if one.path[: len(base)] == base][-1]
    end = at = line_end(text, last.end)
    while text[at : line_end(text, at)].lstrip(" \t").startswith("#"):
        at = line_end(text, at)
    return end if text[at : line_end(text, at)].lstrip(" \t").startswith("[") else at


def _comment_start(text: str, at: int) -> int:
    """Return the start of a line, or of the comments that stand directly above it."""
    start = line_start(text, at)
    while start > 0 and text[line_start(text, start - 1) : start].lstrip(" \t").startswith("#"):
        start = line_start(text, start - 1)
    return start


def _insert_entry(text: str, known: Value, index: int, value: Any, newline: str) -> str:
    """Insert an entry into a list in brackets, on a line of its own where the others have theirs."""
    new, entries = write_value(value), known.entries
    if not entries:
        inner = text[known.start + 1 : known.end - 1]
        if inner.strip():
            # Comments only: they stay behind the entry.
            return text[: known.start + 1] + new + text[known.start + 1 :]
        return text[: known.start] + f"[{new}]" + text[known.end :]
    if index < len(entries):
        at = entries[index].start
        if _starts_line(text, at):
            start = line_start(text, at)
            return text[:start] + _indent_of(text, at) + new + "," + newline + text[start:]
        return text[:at] + new + ", " + text[at:]
    last = entries[-1]
    comma = skip_blank(text, last.end)
    trailing = text[comma] == ","
    if not trailing:
        text = text[: last.end] + "," + text[last.end :]
        comma = last.end
    tail = "," if trailing else ""
    end = line_end(text, comma)
    if _starts_line(text, last.start) and end <= known.end:
        return text[:end] + _indent_of(text, last.start) + new + tail + newline + text[end:]
    return text[: comma + 1] + f" {new}{tail}" + text[comma + 1 :]


def _is_list_of_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(one, dict) for one in value)


def _is_blank(text: str, at: int) -> bool:
    return not text[at : line_end(text, at)].strip()


def _starts_line(text: str, at: int) -> bool:
    return not text[line_start(text, at) : at].strip()


def _indent_of(text: str, at: int) -> str:
    start = line_start(text, at)
    return text[start : start + len(text[start:at]) - len(text[start:at].lstrip(" \t"))]
