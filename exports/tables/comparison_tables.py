"""Two panels compared, in plain text: figures side by side, findings, what differs in the files."""

from __future__ import annotations

from exports.comparing.values import ALIKE, Comparison, FindingPair, KeyRow
from exports.tables.text_tables import LINE, align_rows
from exports.wording.comparison_words import (
    list_notes,
    name_sides,
    show_figure,
    show_values,
    tell_difference,
    tell_finding,
    tell_sameness,
)
from exports.wording.figures import shorten_text, wrap_words

WHAT = 60
"""Most characters of what a row tells."""
CELL = 30
"""Most characters of words in a column."""
KEY = 48
VALUE = 40
"""Most characters of a key, and of its value, in the table of what differs in the files."""


def describe_comparison(comparison: Comparison) -> str:
    """Return a comparison for the terminal.

    Parameters
    ----------
    comparison : Comparison
    """
    lines = [line for side in name_sides(comparison) for line in wrap_words(side, LINE)]
    lines += wrap_words(tell_sameness(comparison), LINE)
    if comparison.same_file:
        return "\n".join(lines)
    lines += _describe_groups(comparison)
    lines += _describe_findings(comparison)
    lines += _describe_keys(comparison.keys)
    if comparison.groups:
        lines += ["", *(line for note in list_notes(comparison) for line in wrap_words(note, LINE))]
    return "\n".join(lines)


def _describe_groups(comparison: Comparison) -> list[str]:
    alone = comparison.alone
    rows: list[tuple[str, ...]] = [("", "A", "B", "" if alone else "B less A")]
    starts = set()
    for group in comparison.groups:
        shown = [row for row in group.rows if not (row.single and row.verdict in ALIKE)]
        starts.add(len(rows))
        rows.append((group.name, "", "", ""))
        for row in shown:
            cells = (shorten_text(show_figure(figure, row.unit), CELL) for figure in (row.a, row.b))
            rows.append((f"  {shorten_text(row.what, WHAT)}", *cells, "" if alone else tell_difference(row)))
        hidden = len(group.rows) - len(shown)
        if hidden:
            rows.append((f"  and {hidden} more, the same or within the bands", "", "", ""))
    if len(rows) == 1:
        return []
    lines = align_rows(rows, words=1)
    out = ["", lines[0]]
    for k, line in enumerate(lines[1:], 1):
        out += ["", line] if k in starts and k > 1 else [line]
    return out


def _describe_findings(comparison: Comparison) -> list[str]:
    if not comparison.groups:
        return []
    out = ["", "findings"]
    if not comparison.findings:
        return [*out, "  none in either"]
    for verdict, title in (
        ("only in A", "only in A"),
        ("only in B", "only in B"),
        ("different", "not the same"),
    ):
        pairs = [pair for pair in comparison.findings if pair.verdict == verdict]
        if pairs:
            out.append(f"  {title}")
            out += [line for pair in pairs for line in _indent(tell_finding(pair))]
    return out + _tell_same([pair for pair in comparison.findings if pair.verdict == "same"])


def _tell_same(pairs: list[FindingPair]) -> list[str]:
    if not pairs:
        return []
    codes = dict.fromkeys(pair.code for pair in pairs)
    said = wrap_words(f"the same in both: {', '.join(codes)}", LINE - 2)
    return [f"  {line}" for line in said]


def _indent(text: str) -> list[str]:
    first, *more = wrap_words(text, LINE - 6)
    return [f"    {first}", *(f"      {line}" for line in more)]


def _describe_keys(keys: tuple[KeyRow, ...]) -> list[str]:
    if not keys:
        return []
    rows: list[tuple[str, ...]] = [("what differs in the files", "A", "B")]
    rows += [(f"  {shorten_text(row.key, KEY)}", *show_values(row, VALUE)) for row in keys]
    return ["", *align_rows(rows, left=3)]
