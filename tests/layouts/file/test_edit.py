"""Edits of a panel file: only the lines of the edited keys change, and the data are as wanted."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from difflib import SequenceMatcher
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import EditRefused
from geom.findings import KeyChange
from layouts.file.changes import apply_changes, is_same, value_at
from layouts.file.edit import edit_text
from layouts.file.positions import find_lines
from layouts.panels.catalogue import demo_names, demo_path

DEMOS = {name: demo_path(name).read_bytes().decode() for name in (*demo_names(), "new")}


def change(path: str, value: Any = None) -> KeyChange:
    parts = tuple(int(part) if part.isdigit() else part for part in path.split("/"))
    return KeyChange(parts, value)


# What stands in the text, the changes, and what then stands in it: everything else as it was.
CASES: dict[str, tuple[str, list[KeyChange], str]] = {
    "comment behind": ('a = "1"  # why\nb = 2\n', [change("a", "3")], 'a = "3"  # why\nb = 2\n'),
    "comment over": ("# over\na = 1\n\n# b's\nb = 2", [change("b", 5)], "# over\na = 1\n\n# b's\nb = 5"),
    "odd spaces": ("a   =    1   \nb=2\n", [change("a", 3), change("b", 4)], "a   =    3   \nb=4\n"),
    "literal quotes": ("a = 'x'\n", [change("a", "y")], "a = 'y'\n"),
    "quotes that must change": ("a = 'x'\n", [change("a", "it's")], 'a = "it\'s"\n'),
    "quoted key": ('[own]\n"pump - a" = "1"\n', [change("own/pump - a", "2")], '[own]\n"pump - a" = "2"\n'),
    "inline": ("p = { on = 'top', at = 4 } # p\n", [change("p/at", 5)], "p = { on = 'top', at = 5 } # p\n"),
    "inline, one comes": ("p = { on = 1 }\n", [change("p/at", [1, 2])], "p = { on = 1, at = [1, 2] }\n"),
    "inline, empty": ("p = {}\n", [change("p/at", 1)], "p = { at = 1 }\n"),
    "inline, first goes": ("p = { a = 1, b = 2 }\n", [change("p/a")], "p = { b = 2 }\n"),
    "inline, last goes": ("p = { a = 1, b = 2 } #\n", [change("p/b")], "p = { a = 1 } #\n"),
    "inline, all go": ("p = { a = 1 }\n", [change("p/a")], "p = {}\n"),
    "one for another": (
        'p = { on = "front", within = ["1", "2"], thread = "x" } # c\n',
        [change("p/within"), change("p/at", ["3", "4"])],
        'p = { on = "front", at = ["3", "4"], thread = "x" } # c\n',
    ),
    "one for another, the other way round": (
        "[t]\nwithin = [1] # c\nb = 1\n",
        [change("t/at", 2), change("t/within")],
        "[t]\nat = 2 # c\nb = 1\n",
    ),
    "dotted": (
        'p.on = "front"\np.within = 1 # w\n',
        [change("p/within"), change("p/at", 2)],
        'p.on = "front"\np.at = 2 # w\n',
    ),
    "dotted, one comes": ("p.a = 1\nc = 2\n", [change("p/b", 3)], "p.a = 1\np.b = 3\nc = 2\n"),
    "dotted, the last goes": ("c = 2\np.a = 1\n", [change("p/a")], "c = 2\n\n[p]\n"),
    "dotted in inline": ("q = { p.a = 1 }\n", [change("q/p/b", 2)], "q = { p.a = 1, p.b = 2 }\n"),
    "dotted, all of a table": ("q = { x = 1, p.a = 1, p.b = 2 }\n", [change("q/p")], "q = { x = 1 }\n"),
    "key goes with its comment": ("[t]\na = 1 # a\nb = 2 # b\n", [change("t/a")], "[t]\nb = 2 # b\n"),
    "key comes": ("[t]\n  a = 1 # a\n\n[u]\n", [change("t/b", 1)], "[t]\n  a = 1 # a\n  b = 1\n\n[u]\n"),
    "table comes": ("[t]\na = 1\n", [change("u/b", 1)], "[t]\na = 1\n\n[u]\nb = 1\n"),
    "table comes, last line open": ("[t]\na = 1", [change("u/b", 1)], "[t]\na = 1\n\n[u]\nb = 1"),
    "table goes": ("[t]\na = 1\n\n[u]\nb = 1\n\n[v]\n", [change("u")], "[t]\na = 1\n\n[v]\n"),
    "table with a table goes": ("[t.u]\na = 1\n[v]\n[t]\nc = 1\n", [change("t")], "[v]\n"),
    "only a longer header": ("# c\n[t.u]\na = 1\n", [change("t/b", 2)], "[t]\nb = 2\n\n# c\n[t.u]\na = 1\n"),
    "list, on one line": ("a = [1, 2, 3] # c\n", [change("a/1", 5)], "a = [1, 5, 3] # c\n"),
    "list, longer": ("a = [ 1, 2 ]\n", [change("a", [1, 2, 3])], "a = [ 1, 2, 3 ]\n"),
    "list, shorter": ("a = [1, 2, 3]\n", [change("a", [1, 3])], "a = [1, 3]\n"),
    "list, trailing comma": ("a = [1, 2,]\n", [change("a/2", 3)], "a = [1, 2, 3,]\n"),
    "list, empty": ("a = []\n", [change("a/0", 3)], "a = [3]\n"),
    "list, emptied": ("a = [3]\n", [change("a/0")], "a = []\n"),
    "list on lines": (
        "a = [\n  1, # one\n  2, # two\n  # end\n]\n",
        [change("a/0", 7), change("a/1"), change("a/1", 8)],
        "a = [\n  7, # one\n  8,\n  # end\n]\n",
    ),
    "list on lines, no last comma": ("a = [\n  1, # one\n  2 # two\n]\n", [change("a/2", 3)],
        "a = [\n  1, # one\n  2, # two\n  3\n]\n"),
    "list on lines, one in the middle": ("a = [\n 1, # o\n 3, # t\n]\n", [change("a", [1, 2, 3])],
        "a = [\n 1, # o\n 2,\n 3, # t\n]\n"),
    "list, comma first": ("a = [\n  1\n  , 2 # two\n]\n", [change("a/0")], "a = [\n  \n   2 # two\n]\n"),
    "entry comes": ("[[k]]\na = 1 # a\n\n[z]\n", [change("k/1", {"a": 2})],
        "[[k]]\na = 1 # a\n\n[[k]]\na = 2\n\n[z]\n"),
    "entry comes by its key": ("[z]\n", [change("k/0/a", 2)], "[z]\n\n[[k]]\na = 2\n"),
    "entry goes": ("[[k]]\na = 1\n\n# own\n[[k]]\na = 2 # c\n# more\nb = 1\n# under\n\n[z]\n", [change("k/1")],
        "[[k]]\na = 1\n\n# own\n# under\n\n[z]\n"),
    "last entry goes": ("[z]\n\n[[k]]\na = 1\n", [change("k/0")], "[z]\n"),
    "first entry goes with its tables": ("[[k]]\n[k.t]\na = 1\n[[k]]\n[k.t]\na = 2\n", [change("k/0")],
        "[[k]]\n[k.t]\na = 2\n"),
    "entry under comments": ("[t]\na = 1\n# more:\n# b = 2\n\n[z]\n", [change("t/k/0", {"a": 1})],
        "[t]\na = 1\n# more:\n# b = 2\n\n[[t.k]]\na = 1\n\n[z]\n"),
    "inline entry goes": ("k = [{ a = 1 }, { a = 2 }]\n", [change("k/0")], "k = [{ a = 2 }]\n"),
    "the only inline entry goes": ("k = [{ a = 1 }]\nb = 1\n", [change("k/0")], "b = 1\n"),
    "table for a text": ("[t]\na = 1\n\n[z]\n", [change("t", "x")], 't = "x"\n\n[z]\n'),
    "text for a table": ("t = 1 # c\n", [change("t", {"a": 1})], "t = { a = 1 } # c\n"),
    "table set": ("t = { a = 1, b = 2 } # c\n", [change("t", {"a": 1, "c": 3})], "t = { a = 1, c = 3 } # c\n"),
    "kinds differ": ("a = 1\n", [change("a", 1.0)], "a = 1.0\n"),
    "true is no 1": ("a = 1\n", [change("a", True)], "a = true\n"),
    "long text": ('a = """\nx\ny"""  # c\nb = 1\n', [change("a", "z")], 'a = "z"  # c\nb = 1\n'),
    "root key": ("#:schema x\n# c\n\n[t]\n", [change("a", 1)], "#:schema x\n# c\n\na = 1\n\n[t]\n"),
    "nothing there": ("a = 1\n", [change("b/c")], "a = 1\n"),
    "as it was": ("a = 1 \nb = { c='x' }", [change("a", 1), change("b/c", "x")], "a = 1 \nb = { c='x' }"),
    "header with spaces": ("[ t . u ] # c\na=1\n", [change("t/u/a", 2)], "[ t . u ] # c\na=2\n"),
    "brackets in texts": (
        'a = "]}#" # ]\nb = ["}", "#"] # [\n', [change("b/1", "]")], 'a = "]}#" # ]\nb = ["}", "]"] # [\n'
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("style", ["", "windows", "marked"])
def test_an_edit_changes_only_what_it_must(name: str, style: str) -> None:
    old, changes, new = CASES[name]
    if style == "windows":
        old, new = old.replace("\n", "\r\n"), new.replace("\n", "\r\n")
        if "\r\n" not in old:
            return
    if style == "marked":
        old, new = "\ufeff" + old, "\ufeff" + new
    assert edit_text(old, changes) == new


REFUSED = {
    "not toml": ("a = \n", change("a", 1), "not TOML"),
    "key of a text": ("x = 1\na = 'y'\n", change("a/b", 1), "line 2: a.b: a is no table; it has no key b"),
    "entry of a table": ("a = {}\n", change("a/0", 1), "a is no list; it has no entry 1"),
    "beyond the end": ("a = [1]\n", change("a/3", 1), "a has 1 entries; the next is 2"),
    "nan": ("a = 1\n", change("a", float("nan")), "finite"),
    "huge": ("a = 1\n", change("a", 10**30), "64 bits"),
    "surrogate": ("a = 1\n", change("a", "\ud800"), "surrogates"),
    "kind": ("a = 1\n", change("a", {1, 2}), "kind set"),
    "inner nothing": ("a = 1\n", change("a", [None]), "nothing"),
    "no path": ("a = 1\n", KeyChange((), 1), "0 parts"),
    "number first": ("a = 1\n", KeyChange((0,), 1), "starts with a number"),
    "negative": ("a = [1]\n", KeyChange(("a", -1), 1), "counted from 0"),
    "entry that is no table": ("[[a]]\n[[a]]\n", change("a/1", 1), "line 2: a.2: the file is written so"),
    "odd path": ("a = [1]\n", KeyChange(("a", True), 1), "neither"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_does_not_fit_is_refused(name: str) -> None:
    text, one, told = REFUSED[name]
    with pytest.raises(EditRefused, match=re.escape(told)):
        edit_text(text, [one])


def test_an_edit_that_changes_more_is_not_made(monkeypatch: pytest.MonkeyPatch) -> None:
    def spoil(text: str, *_: object) -> str:
        return text.replace("a = 1", "a = 3").replace("b = 2", "b = 4")

    monkeypatch.setattr("layouts.file.edit._make_change", spoil)
    with pytest.raises(EditRefused, match=r"line 2: a: .* without changing more; make it in the file's text"):
        edit_text("# c\na = 1\nb = 2\n", [change("a", 3)])
    assert edit_text("a = 1\n", [change("a", 3)]) == "a = 3\n"


def test_a_deep_value_is_refused() -> None:
    deep: Any = 1
    for _ in range(5000):
        deep = [deep]
    with pytest.raises(EditRefused, match="deep"):
        edit_text("a = 1\n", [change("a", deep)])


def test_tomlkit_is_loaded_by_edits_only() -> None:
    code = "import layouts.file.edit, layouts.file.merge, sys; sys.exit('tomlkit' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=60).returncode == 0


# ---- Random edits of the demos --------------------------------------------------------------------------------------

PLAIN = st.one_of(
    st.text(max_size=12),
    st.booleans(),
    st.integers(-(2**40), 2**40),
    st.floats(allow_nan=False, allow_infinity=False),
)
VALUES = st.recursive(
    PLAIN,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=5,
)
TABLES = st.dictionaries(st.text(max_size=6), PLAIN, max_size=3)


def list_paths(value: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    found = [path] if path else []
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        found += list_paths(inner, (*path, key))
    return found


@st.composite
def edits(draw: st.DrawFn) -> tuple[str, KeyChange]:
    name = draw(st.sampled_from(sorted(DEMOS)))
    data = tomllib.loads(DEMOS[name])
    path = draw(st.sampled_from(list_paths(data)))
    kind = draw(st.sampled_from(("set", "go", "come")))
    if kind == "go":
        return name, KeyChange(path, None)
    if kind == "come":
        there = value_at(data, path)
        if isinstance(there, list):
            path = (*path, len(there))
        elif isinstance(there, dict):
            path = (*path, draw(st.text(min_size=1, max_size=6)))
        else:
            path = (
                (*path[:1], "new key") if isinstance(value_at(data, path[:1]), dict) else ("new table", "key")
            )
    # What stands under headers stays a table, or a list of tables: other values TOML has elsewhere in the text.
    there = value_at(data, path)
    entry = isinstance(path[-1], int) and isinstance(value_at(data, (*path[:-1], 0)), dict)
    if entry or (isinstance(there, dict) and len(path) == 1):
        return name, KeyChange(path, draw(TABLES))
    listed = isinstance(there, list) and isinstance(value_at(there, (0,)), dict)
    return name, KeyChange(path, draw(st.lists(TABLES, min_size=1, max_size=3) if listed else VALUES))


def comments_of(text: str) -> list[str]:
    # The demos hold no # in texts.
    return [line[line.index("#") :] for line in text.splitlines() if "#" in line]


@settings(max_examples=300, deadline=None)
@given(edits(), st.sampled_from(("\n", "\r\n")), st.booleans(), st.booleans())
def test_random_edits_of_the_demos(
    edit: tuple[str, KeyChange], line_end: str, open_end: bool, marked: bool
) -> None:
    name, one = edit
    before = tomllib.loads(DEMOS[name])
    text = DEMOS[name].replace("\n", line_end)
    text = text.removesuffix(line_end) if open_end else text
    text = "\ufeff" + text if marked else text
    new = edit_text(text, [one])
    assert is_same(tomllib.loads(new.removeprefix("\ufeff")), apply_changes(before, [one]))
    assert new.startswith("\ufeff") == marked
    assert new.endswith("\n") != open_end
    assert new.count("\n") == new.count("\r\n") or line_end == "\n"
    old_lines, new_lines = text.split(line_end), new.split(line_end)
    gone = {
        line
        for kind, start, end, _, _ in SequenceMatcher(
            None, old_lines, new_lines, autojunk=False
        ).get_opcodes()
        for line in range(start, end)
        if kind != "equal"
    }
    own = own_lines(DEMOS[name], one.path)
    if own:
        # All before the key's first line and after its last stays; blank lines go where tables do.
        above, under = drop_blank_end(old_lines[: min(own) - 1]), drop_blank_start(old_lines[max(own) :])
        assert new_lines[: len(above)] == above
        assert new_lines[len(new_lines) - len(under) :] == under
    else:
        assert len(gone) <= 1
    if one.value is not None and not isinstance(value_at(before, one.path), dict | list):
        assert all(said in new for said in comments_of(text))


def drop_blank_start(lines: list[str]) -> list[str]:
    return lines[next((k for k, line in enumerate(lines) if line.strip("\ufeff")), len(lines)) :]


def drop_blank_end(lines: list[str]) -> list[str]:
    return drop_blank_start(lines[::-1])[::-1]


def own_lines(text: str, path: tuple[str | int, ...]) -> set[int]:
    """Return the lines from a key's first to its last, counted from 1."""
    under = [line for other, line in find_lines(text).items() if other[: len(path)] == path]
    if not under:
        return set()
    last = max(under)
    # The bracket of a list on lines of its own.
    last += text.splitlines()[last : last + 1] == ["]"]
    return set(range(min(under), last + 1))


@settings(max_examples=60, deadline=None)
@given(st.lists(edits(), min_size=2, max_size=6))
def test_several_edits_are_those_edits_in_turn(several: list[tuple[str, KeyChange]]) -> None:
    name = several[0][0]
    text = DEMOS[name]
    data = tomllib.loads(text)
    made: list[KeyChange] = []
    for other, one in several:
        try:
            data = apply_changes(data, [one]) if other == name else data
        except EditRefused:
            continue
        made += [one] if other == name else []
    assert is_same(tomllib.loads(edit_text(text, made)), data)
