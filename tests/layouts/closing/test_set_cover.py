"""The fewest columns: against plain enumeration, an outside solver, and closed forms."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model

from layouts.closing import set_cover
from layouts.closing.dominance import Pairs, reduce_pairs
from layouts.closing.set_cover import find_cover


def pairs_of(sets: list[set[int]], rows: int) -> Pairs:
    """Return a problem from the rows that each column serves."""
    both = [(row, column) for column, served in enumerate(sets) for row in sorted(served)]
    row, column = (np.array([pair[k] for pair in both], int) for k in (0, 1))
    return Pairs(rows, len(sets), row, column)


def least_by_trying(sets: list[set[int]]) -> int:
    """Return the least number of columns that serve all rows which any serves, by trying all choices."""
    wanted = set().union(*sets)
    return next(
        count
        for count in range(len(sets) + 1)
        if any(set().union(*choice) == wanted for choice in combinations(sets, count))
    )


def least_by_solver(pairs: Pairs) -> int:
    """Return the least number by CP-SAT."""
    model = cp_model.CpModel()
    taken = [model.new_bool_var(f"{k}") for k in range(pairs.columns)]
    for row in range(pairs.rows):
        able = pairs.column[pairs.row == row]
        if len(able):
            model.add_bool_or([taken[k] for k in able])
    model.minimize(sum(taken))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value)


def assert_serves(pairs: Pairs, columns: tuple[int, ...]) -> None:
    """Assert that the columns serve all rows that have any, and that none of them is idle."""
    served = np.bincount(pairs.row[np.isin(pairs.column, columns)], minlength=pairs.rows)
    assert (served[np.unique(pairs.row)] > 0).all()
    for column in columns:
        assert (served[pairs.row[pairs.column == column]] == 1).any()


sets = st.lists(st.sets(st.integers(0, 11), max_size=5), min_size=1, max_size=9)


@settings(max_examples=60, deadline=None)
@given(sets=sets)
def test_as_few_as_enumeration_finds(sets: list[set[int]]) -> None:
    pairs = pairs_of(sets, 12)
    cover = find_cover(pairs)
    assert_serves(pairs, cover.columns)
    assert len(cover.columns) == least_by_trying(sets)
    assert cover.least <= len(cover.columns)


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6), rows=st.integers(10, 60), columns=st.integers(10, 50))
def test_the_bound_holds_and_the_cover_is_near_it(seed: int, rows: int, columns: int) -> None:
    random = np.random.default_rng(seed)
    points, places = random.random((rows, 2)), random.random((columns, 2))
    near = np.hypot(*(points[:, None] - places[None]).transpose(2, 0, 1)) < 0.25
    row, column = np.nonzero(near)
    pairs = Pairs(rows, columns, row, column)
    cover, best = find_cover(pairs), least_by_solver(pairs)
    assert_serves(pairs, cover.columns)
    assert cover.least <= best <= len(cover.columns) <= best + 1


@settings(max_examples=60, deadline=None)
@given(sets=sets.filter(any))
def test_what_is_left_out_changes_no_least_number(sets: list[set[int]]) -> None:
    number = {row: k for k, row in enumerate(sorted(set().union(*sets)))}
    pairs = pairs_of([{number[row] for row in served} for served in sets], len(number))
    core = reduce_pairs(pairs, np.zeros((len(sets), 0), int))
    kept = [set(core.pairs.row[core.pairs.column == k].tolist()) for k in range(core.pairs.columns)]
    assert (least_by_trying(kept) if kept else 0) == least_by_trying(sets)
    for small, large in combinations(kept, 2):
        assert not small <= large
        assert not large <= small


def test_neighbours_only_save_time() -> None:
    random = np.random.default_rng(7)
    table = random.random((40, 60)) < 0.15
    row, column = np.nonzero(table[table.any(axis=1)])
    pairs = Pairs(int(row.max()) + 1, 60, row, column)
    near = random.integers(-1, 60, (60, 5))
    near[near == np.arange(60)[:, None]] = -1
    assert len(find_cover(pairs, near).columns) == len(find_cover(pairs).columns)


@pytest.mark.published(
    source="closed form: on a ring of n rows, a column for each two neighbours, ceil(n / 2) serve"
)
@pytest.mark.parametrize("count", [4, 5, 9, 30])
def test_ring(count: int) -> None:
    cover = find_cover(pairs_of([{k, (k + 1) % count} for k in range(count)], count))
    assert len(cover.columns) == cover.least == -(-count // 2)


@pytest.mark.published(
    source="Steiner triple system of the Fano plane: 7 points, 7 lines, 3 lines serve; its linear program gives 7/3"
)
def test_fano() -> None:
    lines = [{0, 1, 2}, {0, 3, 4}, {0, 5, 6}, {1, 3, 5}, {1, 4, 6}, {2, 3, 6}, {2, 4, 5}]
    cover = find_cover(pairs_of(lines, 7))
    assert (len(cover.columns), cover.least) == (3, 3)


def test_what_clashes_is_not_taken_together() -> None:
    sets = [{0, 1, 2}, {2, 3, 4}, {3}, {4}, {2}]

    def clashes(column: int, others: np.ndarray) -> np.ndarray:
        return (others + column == 1) & (others < 2)

    pairs = pairs_of(sets, 5)
    assert find_cover(pairs).columns == (0, 1)
    told = find_cover(pairs, None, clashes)
    assert not {0, 1} <= set(told.columns)
    assert told.least == 2


def test_a_row_stays_unserved_where_all_that_serve_it_clash() -> None:
    def clashes(column: int, others: np.ndarray) -> np.ndarray:
        return others != column

    assert len(find_cover(pairs_of([{0, 1}, {2}], 3), None, clashes).columns) == 1


def test_nothing_to_serve() -> None:
    empty = np.zeros(0, int)
    assert find_cover(Pairs(3, 2, empty, empty)).columns == ()
    assert find_cover(Pairs(3, 2, empty, empty)).least == 0


def test_a_model_too_large_is_covered_without_the_solver(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(set_cover, "MOST_ITERATIONS", 0)
    random = np.random.default_rng(3)
    points, places = random.random((80, 2)), random.random((50, 2))
    row, column = np.nonzero(np.hypot(*(points[:, None] - places[None]).transpose(2, 0, 1)) < 0.2)
    pairs = Pairs(80, 50, row, column)
    cover = find_cover(pairs)
    assert_serves(pairs, cover.columns)
    assert 1 <= cover.least <= least_by_solver(pairs) <= len(cover.columns)
