"""Messages of a page: what is read, and what is refused with a reason."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exports.page.serving.wishes import (
    Draft,
    Edit,
    Settle,
    StartDemo,
    StartEmpty,
    Walk,
    WishRefused,
    number_of,
    read_wish,
)


def read(**wish):
    return read_wish(json.dumps(wish))


def test_reads_every_gesture():
    edits = [
        {"move": "port:fill", "to": [1, 2.5]},
        {"turn": "pump", "to": 90},
        {"box": "clear:0", "to": [0, 0, 1, 1]},
        {"size": "tank", "to": [40, 30]},
        {"free": "tank"},
        {"pin": "pump"},
        {"width": "channel:a - b", "to": None},
        {"width": "channel:a - b", "to": 8},
        {"keep": "channel:a - b"},
        {"let": "channel:a - b"},
        {"add": "clear", "box": [0, 0, 5, 5], "name": "strap"},
        {"remove": "clear:0"},
        {"changes": [{"path": ["part", 0, "heat"], "value": "60 W"}]},
    ]
    assert read(do="draft", number=3, revision=2, edits=edits) == Draft(3, 2, tuple(edits))


def test_reads_the_other_wishes():
    assert read(do="edit", number=1, revision=1, edits=[{"pin": "pump"}], said="a\n b") == Edit(
        1, 1, ({"pin": "pump"},), "a b"
    )
    assert read(do="redo", number=3, revision=4) == Walk(3, 4, "redo")
    assert read(do="settle", number=2, revision=5, conflict=1, take="file") == Settle(2, 5, 1, "file")
    assert read(do="start", demo="x") == StartDemo("x")
    assert read(do="start", form={"name": "x"}) == StartEmpty({"name": "x"})


@pytest.mark.parametrize(
    ("message", "why"),
    [
        ("", "not JSON"),
        ("{", "not JSON"),
        ('{"do": NaN}', "not JSON"),
        ("[1]", "not an object"),
        ("7", "not an object"),
        ("[" * 10_000 + "]" * 10_000, "too deeply|not an object"),
        ('{"do":' * 10_000 + "1" + "}" * 10_000, "too deeply"),
        ("9" * 5000, "not JSON"),
        ('{"do": "places", "number": 1, "thing": "\\ud83d"}', "half of a pair"),
        ('{"do": "start", "form": {"\\udc00": 1}}', "half of a pair"),
        ('{"do": "fly"}', '"do" must be one of draft, edit'),
        ('{"do": ["draft"]}', '"do" must be'),
        ('{"do": "draft"}', '"draft" goes with number, revision, edits'),
        ('{"do": "make", "number": 1}', '"make" goes with nothing'),
        ('{"do": "undo", "number": 1, "revision": -1}', "whole number from 0"),
        ('{"do": "undo", "number": 1, "revision": true}', "whole number from 0"),
        ('{"do": "undo", "number": 1, "revision": 1e3}', "whole number from 0"),
        ('{"do": "settle", "number": 1, "revision": 1, "conflict": 1, "take": "both"}', '"page" or "file"'),
        ('{"do": "start", "demo": 5}', '"demo" must be a text'),
        ('{"do": "start", "form": []}', '"form" must be an object'),
        ('{"do": "places", "number": 1, "thing": "%s"}' % ("x" * 999), "at most 200 letters"),
    ],
)
def test_refuses_what_is_no_wish(message: str, why: str):
    with pytest.raises(WishRefused, match=why):
        read_wish(message)


@pytest.mark.parametrize(
    ("edit", "why"),
    [
        (5, "must be an object"),
        ({}, "keys of one kind"),
        ({"move": "port:fill"}, "keys of one kind"),
        ({"move": "port:fill", "to": [1, 2], "by": 3}, "keys of one kind"),
        ({"move": "port:fill", "to": [1, 2, 3]}, '"to" must be a list of 2 numbers'),
        ({"move": "port:fill", "to": [1, "2"]}, "list of 2 numbers"),
        ({"move": "port:fill", "to": [1, True]}, "list of 2 numbers"),
        ({"move": "port:fill", "to": [1, 1e300]}, "list of 2 numbers"),
        ({"move": ["port"], "to": [1, 2]}, '"move" must be a text'),
        ({"turn": "tank", "to": 90}, '"turn" must be "pump"'),
        ({"turn": [], "to": 90}, '"turn" must be "pump"'),
        ({"add": "hole", "box": [0, 0, 1, 1], "name": "x"}, '"add" must be "clear"'),
        ({"changes": []}, "1 to 200 changes"),
        ({"changes": [{"path": "part", "value": 1}]}, '"path" must be a list'),
        ({"changes": [{"path": [1.5], "value": 1}]}, "names and whole numbers"),
        ({"changes": [{"path": ["a"]}]}, "keys path, value"),
        ({"changes": [{"path": ["a"], "value": [[[[[[[[[[[[[[1]]]]]]]]]]]]]]}]}, "nests deeper"),
        ({"changes": [{"path": ["a"], "value": list(range(6000))}]}, "more than 5000"),
    ],
)
def test_refuses_what_is_no_gesture(edit, why: str):
    with pytest.raises(WishRefused, match=why) as refused:
        read(do="draft", number=17, revision=1, edits=[edit])
    assert refused.value.number == 17


def test_refuses_a_number_that_no_file_could_hold():
    with pytest.raises(WishRefused, match="too large"):
        read_wish('{"do": "start", "form": {"width": 1e999}}')


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=4),
    max_leaves=8,
)
words = st.sampled_from(["draft", "edit", "text", "undo", "redo", "settle", "places", "make", "start"])
keys = st.sampled_from(
    ["number", "revision", "edits", "said", "text", "conflict", "take", "thing", "demo", "form"]
)


@given(words, st.dictionaries(keys, values, max_size=5))
def test_whatever_comes_is_read_or_refused(do: str, more: dict):
    told = ""
    try:
        read(do=do, **more)
    except WishRefused as error:
        told = str(error)
    assert len(told) < 400


@pytest.mark.parametrize(
    ("message", "number"),
    [
        ('{"do": "edit", "number": 7}', 7),
        ('{"number": -1}', 0),
        ('{"number": "7"}', 0),
        ("[7]", 0),
        ("x", 0),
        ("[" * 9999, 0),
    ],
)
def test_what_is_refused_unread_is_known_by_its_number(message: str, number: int):
    assert number_of(message) == number
