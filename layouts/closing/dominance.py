"""Rows and columns of a covering problem that cannot matter.

A *row* asks for one of some *columns*. A column is idle where another serves all rows that it serves; a row follows
where another asks for some of its columns only. Leaving out both, by turns, changes neither the least number of
columns nor its bounds.

Source
------
Reductions of the set covering problem: Garfinkel and Nemhauser, Integer Programming, 1972, section 8.3 (recalled, not
verified).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

PAIRS = 200_000
"""So many pairs of sets are compared at once: a bound of memory."""

LEAST_SHARE = 0.02
"""A round that leaves out a smaller share of rows and columns is the last: the solver is as fast as a further one."""

ROW_NEIGHBOURS = (1, -1, 2, -2, 3, -3, 5, -5, 8, -8)
"""Rows follow one another along a cord: those of these distances are compared first."""


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """Which column serves which row: `column[k]` serves `row[k]`; each pair once.

    Parameters
    ----------
    rows, columns : int
        How many there are.
    row, column : (n,) int
    """

    rows: int
    columns: int
    row: np.ndarray
    column: np.ndarray


@dataclass(frozen=True, slots=True, eq=False)
class Core:
    """What is left: `rows` and `columns` hold the numbers that they had, `pairs` counts anew."""

    rows: np.ndarray
    columns: np.ndarray
    pairs: Pairs


def reduce_pairs(pairs: Pairs, near: np.ndarray) -> Core:
    """Return the rows and columns that matter.

    Parameters
    ----------
    pairs : Pairs
        Every row has a column.
    near : (columns, k) int
        For each column others that are likely to serve its rows; -1 for none. They only save time.

    Returns
    -------
    Core
        Of equal rows, and of equal columns, the first.
    """
    core = Core(np.arange(pairs.rows), np.arange(pairs.columns), pairs)
    if not len(pairs.row):
        return core
    core = _without_idle(core)
    near = _renumber(near, core.columns, pairs.columns)
    core = _keep_columns(core, _compare_near(_column_sets(core.pairs), near))
    lines = np.arange(pairs.rows)
    beside = np.column_stack([np.roll(lines, step) for step in ROW_NEIGHBOURS])
    core = _keep_rows(core, _compare_near(~_row_sets(core.pairs), beside))
    while True:
        before = core = _without_idle(core)
        small, large = _find_nested(core.pairs.column, core.pairs.row, core.pairs.columns, core.pairs.rows)
        core = _keep_columns(core, _leave_out(core.pairs.columns, small, large))
        small, large = _find_nested(core.pairs.row, core.pairs.column, core.pairs.rows, core.pairs.columns)
        core = _keep_rows(core, _leave_out(core.pairs.rows, large, small))
        left, had = core.pairs.rows + core.pairs.columns, before.pairs.rows + before.pairs.columns
        if left > (1 - LEAST_SHARE) * had:
            return core


def _column_sets(pairs: Pairs) -> np.ndarray:
    return _pack(pairs.column, pairs.row, pairs.columns, pairs.rows)


def _row_sets(pairs: Pairs) -> np.ndarray:
    return _pack(pairs.row, pairs.column, pairs.rows, pairs.columns)


def _pack(owner: np.ndarray, member: np.ndarray, owners: int, members: int) -> np.ndarray:
    """Return the members of each owner as bits, (owners, words) uint32."""
    words = (members + 31) // 32
    # Each bit comes once, so that sums are unions; doubles hold 53 bits.
    sums = np.bincount(owner * words + (member >> 5), (1 << (member & 31)).astype(float), owners * words)
    return sums.astype(np.uint32).reshape(owners, words)


def _compare_near(sets: np.ndarray, near: np.ndarray) -> np.ndarray:
    """Return which sets are kept once those that lie within a neighbour are left out."""
    kept = np.ones(len(sets), bool)
    for beside in near.T:
        small = np.flatnonzero(kept & (beside >= 0))
        small = small[kept[beside[small]]]
        large = beside[small]
        within = ~(sets[small] & ~sets[large]).any(axis=1)
        small, large = small[within], large[within]
        # A set within another that is left out in the same breath lies within what that one lies in.
        kept[small[(large < small) | (sets[small] != sets[large]).any(axis=1)]] = False
    return kept


def _find_nested(
    owner: np.ndarray, member: np.ndarray, owners: int, members: int
) -> tuple[np.ndarray, np.ndarray]:
    """Return all pairs of owners of which the first's set lies in the second's; equal ones both ways."""
    sets = _pack(owner, member, owners, members)
    spread = np.bincount(member, minlength=members)
    holders, first = owner[np.argsort(member, kind="stable")], np.concatenate(([0], np.cumsum(spread)))
    # Whoever holds all of a set holds its rarest member.
    ranked = np.lexsort((spread[member], owner))
    owned, heads = np.unique(owner[ranked], return_index=True)
    rarest = member[ranked][heads]
    ends = np.cumsum(spread[rarest])
    found = []
    start = 0
    while start < len(owned):
        done = ends[start - 1] if start else 0
        stop = max(start + 1, int(np.searchsorted(ends, done + PAIRS)))
        count = spread[rarest[start:stop]]
        step = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
        small = np.repeat(owned[start:stop], count)
        large = holders[np.repeat(first[rarest[start:stop]], count) + step]
        small, large = small[small != large], large[small != large]
        within = ~(sets[small] & ~sets[large]).any(axis=1)
        found.append((small[within], large[within]))
        start = stop
    return np.concatenate([small for small, _ in found]), np.concatenate([large for _, large in found])


def _leave_out(count: int, idle: np.ndarray, for_sake: np.ndarray) -> np.ndarray:
    """Return what is kept once each of `idle` is left out for the other of its pair; of equal ones the first stays."""
    kept = np.ones(count, bool)
    order = np.sort(for_sake * count + idle)
    back = idle * count + for_sake
    equal = (
        order[np.minimum(np.searchsorted(order, back), len(order) - 1)] == back
        if len(order)
        else np.zeros(0, bool)
    )
    kept[idle[~equal | (for_sake < idle)]] = False
    return kept


def _renumber(near: np.ndarray, kept: np.ndarray, count: int) -> np.ndarray:
    """Return the neighbours of the kept columns by their new numbers; -1 for those left out."""
    number = np.full(count + 1, -1)
    number[kept] = np.arange(len(kept))
    return number[near[kept]]


def _without_idle(core: Core) -> Core:
    return _keep_columns(core, np.bincount(core.pairs.column, minlength=core.pairs.columns) > 0)


def _keep_columns(core: Core, kept: np.ndarray) -> Core:
    number = np.cumsum(kept) - 1
    left = kept[core.pairs.column]
    pairs = Pairs(core.pairs.rows, int(kept.sum()), core.pairs.row[left], number[core.pairs.column[left]])
    return Core(core.rows, core.columns[kept], pairs)


def _keep_rows(core: Core, kept: np.ndarray) -> Core:
    number = np.cumsum(kept) - 1
    left = kept[core.pairs.row]
    pairs = Pairs(int(kept.sum()), core.pairs.columns, number[core.pairs.row[left]], core.pairs.column[left])
    return Core(core.rows[kept], core.columns, pairs)
