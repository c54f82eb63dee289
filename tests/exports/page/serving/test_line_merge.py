"""Three versions of a text: what goes together, and what is asked."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from exports.page.serving import line_merge
from exports.page.serving.line_merge import LineMerge, merge_lines

BASE = "a\nb\nc\nd\ne\n"

texts = st.lists(st.sampled_from(["a", "b", "c", "", "d d"]), max_size=8).map(
    lambda lines: "".join(f"{line}\n" for line in lines)
)


def test_neighbouring_lines_go_together():
    assert merge_lines(BASE, "a\nB\nc\nd\ne\n", "a\nb\nC\nd\ne\n") == LineMerge("a\nB\nC\nd\ne\n")


def test_what_was_put_in_and_what_was_changed_elsewhere_go_together():
    assert merge_lines(BASE, "a\nb\nnew\nc\nd\ne\n", "a\nb\nc\nd\nE\nf\n").text == "a\nb\nnew\nc\nd\nE\nf\n"


def test_the_same_line_is_asked_and_told_by_its_line_in_theirs():
    merged = merge_lines(BASE, "a\nb\nmine\nd\ne\n", "first\na\nb\ntheirs\nd\ne\n")
    assert merged == LineMerge("first\na\nb\nmine\nd\ne\n", (4,))


def test_a_line_that_went_and_was_changed_is_asked():
    assert merge_lines(BASE, "a\nb\nd\ne\n", "a\nb\nC\nd\ne\n") == LineMerge("a\nb\nd\ne\n", (3,))
    assert merge_lines(BASE, "a\nb\nC\nd\ne\n", "a\nb\nd\ne\n") == LineMerge("a\nb\nC\nd\ne\n", (3,))


def test_two_texts_in_the_same_gap_are_asked():
    assert merge_lines(BASE, BASE + "mine\n", BASE + "theirs\n").lines == (6,)


def test_the_same_change_by_both_is_no_question():
    both = "a\nB\nc\nd\ne\n"
    assert merge_lines(BASE, both, both + "f\n") == LineMerge(both + "f\n")


def test_only_line_feeds_part_lines():
    """A form feed or a separator within a text is no end of a line in TOML."""
    assert (
        merge_lines("x = 'a\x0cb'\ny\n", "x = 'a\x0cc'\ny\n", "x = 'a\x0cb'\nz\n").text == "x = 'a\x0cc'\nz\n"
    )


def test_long_stretches_are_one_change(monkeypatch):
    monkeypatch.setattr(line_merge, "MOST_PAIRS", 3)
    assert merge_lines(BASE, "a\nX\nc\nY\ne\n", "a\nb\nC\nd\ne\n").lines == (2, 3, 4)


@given(texts, texts)
def test_one_hand_alone_wins(base: str, mine: str):
    assert merge_lines(base, mine, base) == LineMerge(mine)
    assert merge_lines(base, base, mine) == LineMerge(mine)


@given(texts, texts, texts)
def test_no_line_comes_from_nowhere_and_lines_are_of_theirs(base: str, mine: str, theirs: str):
    merged = merge_lines(base, mine, theirs)
    known = {*base.split("\n"), *mine.split("\n"), *theirs.split("\n")}
    assert set(merged.text.split("\n")) <= known | {""}
    assert all(1 <= line <= max(theirs.count("\n"), 1) for line in merged.lines)


@given(texts, texts, texts)
def test_without_a_question_the_hands_may_be_changed_over(base: str, mine: str, theirs: str):
    merged = merge_lines(base, mine, theirs)
    other = merge_lines(base, theirs, mine)
    assert bool(merged.lines) == bool(other.lines)
    if not merged.lines:
        assert merged.text == other.text
