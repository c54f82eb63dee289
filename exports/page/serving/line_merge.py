"""Three versions of a text, line by line: what both hands changed on the way from one to two."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import SequenceMatcher

Change = tuple[int, int, tuple[str, ...]]
"""Lines of the base from and before which, and what stands there instead."""


MOST_PAIRS = 4_000_000
"""Lines times lines that are compared one by one; longer stretches are taken as one change."""


@dataclass(frozen=True, slots=True)
class LineMerge:
    """What came of a merge.

    Parameters
    ----------
    text : str
        With the changes of both; where both changed the same lines, mine alone.
    lines : tuple of int
        Lines of theirs, counted from 1, where both changed the same and not alike; empty where all went together. Where
        they took lines away, the line that now stands there.
    """

    text: str
    lines: tuple[int, ...] = ()


def merge_lines(base: str, mine: str, theirs: str) -> LineMerge:
    """Return what becomes of a text that two hands changed.

    Changes of neighbouring lines go together; of the same line, or at the same gap, only where they are alike.

    Parameters
    ----------
    base : str
        What both began with.
    mine, theirs : str

    Returns
    -------
    LineMerge
    """
    if mine == theirs or theirs == base:
        return LineMerge(mine)
    if mine == base:
        return LineMerge(theirs)
    old = split_lines(base)
    ours, other = find_changes(old, split_lines(mine)), find_changes(old, split_lines(theirs))
    merged: list[str] = []
    crossed: list[int] = []
    at = i = j = 0
    shift = 0  # Of theirs against the base, in lines, up to here.
    while i < len(ours) or j < len(other):
        first = min(some[k][0] for some, k in ((ours, i), (other, j)) if k < len(some))
        merged += old[at:first]
        took_ours, took_other, end = _take_touching(ours, i, other, j)
        mine_now, theirs_now = ours[i:took_ours], other[j:took_other]
        i, j = took_ours, took_other
        grown = sum(len(new) - (stop - start) for start, stop, new in theirs_now)
        lines_mine, lines_theirs = (_applied(old, first, end, some) for some in (mine_now, theirs_now))
        if mine_now and theirs_now and lines_mine != lines_theirs:
            begin = first + shift + 1
            crossed += range(begin, begin + max(len(lines_theirs), 1))
        merged += lines_mine if mine_now else lines_theirs
        shift += grown
        at = end
    merged += old[at:]
    most = max(len(split_lines(theirs)), 1)
    return LineMerge("".join(merged), tuple(sorted({min(line, most) for line in crossed})))


def split_lines(text: str) -> list[str]:
    """Return the lines of a text with their ends; only those ends count that count in a panel file.

    Parameters
    ----------
    text : str
    """
    parts = text.split("\n")
    lines = [f"{part}\n" for part in parts[:-1]]
    return [*lines, parts[-1]] if parts[-1] else lines


def tell_lines(old: str, new: str) -> tuple[int, ...]:
    """Return the lines of the old text, counted from 1, that the new one changes.

    Parameters
    ----------
    old, new : str

    Returns
    -------
    tuple of int
        Where lines only come, the line that now stands there (the last one at the end).
    """
    lines = split_lines(old)
    changed: set[int] = set()
    for start, stop, _ in find_changes(lines, split_lines(new)):
        changed.update(range(start + 1, max(stop, start + 1) + 1))
    most = max(len(lines), 1)
    return tuple(sorted({min(line, most) for line in changed}))


def find_changes(old: list[str], new: list[str]) -> list[Change]:
    """Return what makes one list of lines into another, in their order.

    Parameters
    ----------
    old, new : list of str
    """
    head = 0
    while head < min(len(old), len(new)) and old[head] == new[head]:
        head += 1
    tail = 0
    while tail < min(len(old), len(new)) - head and old[-1 - tail] == new[-1 - tail]:
        tail += 1
    inner_old, inner_new = old[head : len(old) - tail], new[head : len(new) - tail]
    if len(inner_old) * len(inner_new) > MOST_PAIRS:
        return [(head, len(old) - tail, tuple(inner_new))]
    changes: list[Change] = []
    for tag, i1, i2, j1, j2 in SequenceMatcher(None, inner_old, inner_new, autojunk=False).get_opcodes():
        if tag == "equal":
            continue
        if i2 - i1 == j2 - j1:
            # As many lines as before: each is a change of its own, so that neighbours do not cross.
            changes += [(head + i1 + k, head + i1 + k + 1, (inner_new[j1 + k],)) for k in range(i2 - i1)]
        else:
            changes.append((head + i1, head + i2, tuple(inner_new[j1:j2])))
    return changes


def _take_touching(ours: list[Change], i: int, other: list[Change], j: int) -> tuple[int, int, int]:
    """Return how far both lists go from here with changes that cross one another, and where that ends in the base."""
    if j >= len(other) or (i < len(ours) and ours[i] <= other[j] and not _cross(ours[i], other[j])):
        return i + 1, j, ours[i][1]
    if i >= len(ours) or not _cross(ours[i], other[j]):
        return i, j + 1, other[j][1]
    end = max(ours[i][1], other[j][1])
    i, j = i + 1, j + 1
    grew = True
    while grew:
        grew = False
        while i < len(ours) and ours[i][0] < end:
            end, i, grew = max(end, ours[i][1]), i + 1, True
        while j < len(other) and other[j][0] < end:
            end, j, grew = max(end, other[j][1]), j + 1, True
    return i, j, end


def _cross(a: Change, b: Change) -> bool:
    """Return whether two changes meet: in a line, or both put lines into the same gap or the edge of the other's."""
    if a[0] == a[1] or b[0] == b[1]:
        return a[0] <= b[1] and b[0] <= a[1]
    return a[0] < b[1] and b[0] < a[1]


def _applied(old: list[str], first: int, end: int, changes: list[Change]) -> list[str]:
    lines: list[str] = []
    at = first
    for start, stop, new in changes:
        lines += [*old[at:start], *new]
        at = stop
    return [*lines, *old[at:end]]
