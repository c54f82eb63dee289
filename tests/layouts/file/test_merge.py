"""Two hands in one file: changes that do not touch one another are merged, others are told."""

from __future__ import annotations

import pytest

from geom.errors import EditRefused
from geom.findings import KeyChange
from layouts.file.changes import load_document, value_at
from layouts.file.edit import edit_text
from layouts.file.merge import merge_changes
from layouts.panels.catalogue import demo_path

DEMO = demo_path("workshop-render").read_text("utf-8")
MOVE = (
    KeyChange(("part", 0, "outlet", "within"), None),
    KeyChange(("part", 0, "outlet", "at"), ["240 mm", "40 mm"]),
)
CLEAR = {"name": "lug", "box": ["0 mm", "0 mm", "10 mm", "10 mm"]}


def edited(*changes: KeyChange) -> str:
    return edit_text(DEMO, changes)


def test_other_keys_are_merged_and_both_stay() -> None:
    theirs = edited(KeyChange(("channel", "width"), "9 mm")).replace("# A quiet", "# Our quiet")
    merged = merge_changes(DEMO, MOVE, theirs)
    assert merged.conflicts == ()
    assert merged.text == edit_text(theirs, MOVE)
    assert "# Our quiet" in str(merged.text)


def test_comments_and_order_are_no_conflict() -> None:
    theirs = "# new\n" + DEMO.replace('level = "80 %"\n', "").replace("[pump]\n", "[pump] # p\n")
    merged = merge_changes(DEMO, MOVE, theirs)
    assert merged.text == edit_text(theirs, MOVE)


CONFLICTS = {
    "same key": (KeyChange(("pump", "within"), ["1 mm", "2 mm", "99 mm", "99 mm"]), ("pump", "within")),
    "made by both": (KeyChange(("pump", "at"), ["1 mm", "2 mm"]), ("pump", "at")),
    "table gone": (KeyChange(("pump",), None), ("pump", "within")),
}


@pytest.mark.parametrize("name", CONFLICTS)
def test_the_same_key_is_a_conflict(name: str) -> None:
    their, path = CONFLICTS[name]
    mine = (KeyChange(("pump", "within"), None), KeyChange(("pump", "at"), ["300 mm", "60 mm"]))
    merged = merge_changes(DEMO, mine, edited(their))
    assert merged.text is None
    assert path in merged.conflicts


def test_both_made_the_same_change() -> None:
    theirs = edited(*MOVE)
    assert merge_changes(DEMO, MOVE, theirs).text == theirs


def test_entries_are_known_by_name_where_they_moved() -> None:
    theirs = edited(KeyChange(("part", 1), None))
    mine = (KeyChange(("part", 2, "heat"), "200 W"),)
    merged = merge_changes(DEMO, mine, theirs)
    assert value_at(load_document(str(merged.text)), ("part", 1, "heat")) == "200 W"
    gone = merge_changes(DEMO, (KeyChange(("part", 1, "heat"), "200 W"),), theirs)
    assert gone.conflicts == (("part", 1, "heat"),)
    assert merge_changes(DEMO, (KeyChange(("part", 1), None),), theirs).text == theirs


def test_both_add_an_entry() -> None:
    other = {**CLEAR, "name": "their lug"}
    theirs = edited(KeyChange(("keep_clear", 1), other))
    merged = merge_changes(DEMO, (KeyChange(("keep_clear", 1), CLEAR),), theirs)
    names = [entry["name"] for entry in load_document(str(merged.text))["keep_clear"]]
    assert names == ["cable slot", "their lug", "lug"]


def test_both_make_a_table() -> None:
    theirs = edited(KeyChange(("channel", "own", "drain"), "7 mm"))
    mine = (KeyChange(("channel", "own", "pump - processor block"), "9 mm"),)
    merged = merge_changes(DEMO, mine, theirs)
    own = load_document(str(merged.text))["channel"]["own"]
    assert own == {"drain": "7 mm", "pump - processor block": "9 mm"}


def test_an_entry_that_they_changed_is_not_removed() -> None:
    theirs = edited(KeyChange(("keep_clear", 0, "box", 2), "210 mm"))
    assert merge_changes(DEMO, (KeyChange(("keep_clear", 0), None),), theirs).conflicts == (
        ("keep_clear", 0),
    )


def test_a_list_without_names_that_they_made_longer() -> None:
    theirs = edited(KeyChange(("loop", "order", 1), None))
    mine = (KeyChange(("loop", "order", 2), "memory block"),)
    assert merge_changes(DEMO, mine, theirs).conflicts == (("loop", "order", 2),)


def test_a_text_that_is_not_toml_is_refused() -> None:
    with pytest.raises(EditRefused, match="not TOML"):
        merge_changes(DEMO, MOVE, DEMO + "x = \n")
