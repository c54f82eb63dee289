"""Their text with mine over it: nothing of theirs goes but what both changed."""

from __future__ import annotations

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from exports.page.serving.key_merge import put_over

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
