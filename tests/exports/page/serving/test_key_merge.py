"""Their text with mine over it: nothing of theirs goes but what both changed."""

from __future__ import annotations

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from exports.page.serving.key_merge import is_merge, put_over
from exports.page.serving.line_merge import merge_lines

BASE = '# head\n[panel]\nname = "a"\nwidth = 1\n\n[[keep_clear]]\nname = "x"\nat = 1\n'


def test_a_name_that_both_add_is_mine_and_all_else_is_theirs():
    mine = BASE + '\n[[keep_clear]]\nname = "n"\nat = 2\n'
    theirs = (
        BASE.replace('"a"', '"b"  # theirs').replace("at = 1", "at = 9")
        + '\n[[keep_clear]]\nname = "n"\nat = 3\n'
    )
    assert put_over(BASE, mine, theirs) == theirs.replace("at = 3", "at = 2")


def test_what_i_took_away_goes_and_what_they_took_away_and_i_changed_stays():
    gone = BASE.replace("width = 1\n", "")
    assert put_over(BASE, gone, BASE.replace("width = 1", "width = 2")) == gone
    assert (
        tomllib.loads(put_over(BASE, BASE.replace("width = 1", "width = 2"), gone) or "")["panel"]["width"]
        == 2
    )


def test_no_toml_is_not_merged():
    assert put_over(BASE, "oops", BASE) is None


tables = st.dictionaries(st.sampled_from("abcd"), st.integers(0, 2) | st.lists(st.integers(0, 2), max_size=2))


@given(tables, tables, tables)
def test_each_key_is_mine_where_i_changed_it_else_theirs(base, mine, theirs):
    def write(table: dict) -> str:
        return "[t]\n" + "".join(f"{key} = {value}\n" for key, value in table.items())

    merged = put_over(write(base), write(mine), write(theirs))
    wanted = {
        key: value[key]
        for key in {*base, *mine, *theirs}
        if key in (value := theirs if mine.get(key) == base.get(key) else mine)
    }
    assert merged is not None
    assert tomllib.loads(merged)["t"] == wanted


names = st.lists(st.sampled_from("pqrstu"), min_size=2, max_size=4, unique=True)
heats = st.integers(0, 2)


@given(names, st.data())
def test_lines_that_went_together_across_tables_that_changed_places_are_told_from_a_merge(order, data):
    """What `is_merge` passes holds the change of each hand at the table that the hand meant."""

    def write(entries: list[tuple[str, int]]) -> str:
        return "".join(f'[[part]]\nname = "{name}"\nheat = {heat}\n\n' for name, heat in entries)

    base = [(name, data.draw(heats)) for name in order]
    at = data.draw(st.integers(0, len(base) - 1))
    mine = [*base[:at], (base[at][0], 7), *base[at + 1 :]]
    theirs = data.draw(st.permutations(base))
    texts = [write(entries) for entries in (base, mine, theirs)]
    merged = merge_lines(*texts)
    meant = {name: 7 if k == at else heat for k, (name, heat) in enumerate(base)}
    if not merged.lines and is_merge(*texts, merged.text):
        parts = tomllib.loads(merged.text)["part"]
        assert {part["name"]: part["heat"] for part in parts} == meant
    by_keys = put_over(*texts)
    assert by_keys is not None
    assert is_merge(*texts, by_keys)
