"""The file under two hands: page and editor, undo and redo, files that go, come and must not be written."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_serving import DEMO, change

from exports.page.serving import open_file
from exports.page.serving.file_state import MOST_CONFLICTS, is_panel
from exports.page.serving.open_file import OpenFile
from geom.errors import EditRefused, OutputError
from layouts.panels.catalogue import demo_path

CORNER = ("panel", "corner_radius")
SIZE = 'size = ["160 mm", "120 mm"]'
assert SIZE in DEMO


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "panel.toml"
    path.write_text(DEMO, encoding="utf-8")
    return path


def edit(file: OpenFile, value: str, revision: int | None = None, said: str = "corner"):
    edits = [change(*CORNER, value=value)]
    return file.edit(file.state.revision if revision is None else revision, edits, said, None)


def change_outside(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_an_edit_changes_its_line_alone_and_can_be_undone_and_redone(path: Path):
    file = OpenFile(path)
    assert edit(file, "7 mm").said == "corner"
    edited = path.read_text(encoding="utf-8")
    assert edited == DEMO.replace('corner_radius = "5 mm"', 'corner_radius = "7 mm"')
    assert (file.state.revision, file.state.by) == (2, "page")
    assert file.walk("undo", file.state.revision).said == "undone: corner"
    assert path.read_text(encoding="utf-8") == DEMO
    assert file.walk("redo", file.state.revision).said == "done again: corner"
    assert path.read_text(encoding="utf-8") == edited
    with pytest.raises(EditRefused, match="nothing to redo"):
        file.walk("redo", file.state.revision)


def test_what_an_edit_does_is_told_where_the_page_does_not(path: Path):
    file = OpenFile(path)
    assert edit(file, "7 mm", said="").said
    assert file.state.past[-1].said


def test_an_edit_that_changes_nothing_is_no_step(path: Path):
    file = OpenFile(path)
    edit(file, "5 mm")
    assert (file.state.revision, file.state.past) == (1, ())


def test_an_edit_that_would_leave_errors_is_refused(path: Path):
    file = OpenFile(path)
    with pytest.raises(
        EditRefused, match=r"would leave errors in the file: panel\.toml:\d+: panel\.corner_radius"
    ):
        edit(file, "many")
    assert path.read_text(encoding="utf-8") == DEMO


def test_a_file_keeps_its_rights_mark_and_line_ends(path: Path):
    path.write_bytes(b"\xef\xbb\xbf" + DEMO.replace("\n", "\r\n").encode())
    path.chmod(0o640)
    file = OpenFile(path)
    edit(file, "7 mm")
    file.replace_text(2, file.state.text.replace("\r\n", "\n") + "# end\n")
    data = path.read_bytes()
    assert data.startswith(b"\xef\xbb\xbf#:schema")
    assert data.count(b"\n") == data.count(b"\r\n") == DEMO.count("\n") + 1
    assert path.stat().st_mode & 0o777 == 0o640
    assert [p.name for p in path.parent.iterdir()] == ["panel.toml"]


def test_a_link_stays_a_link(path: Path):
    link = path.with_name("link.toml")
    link.symlink_to(path)
    edit(OpenFile(link), "7 mm")
    assert link.is_symlink()
    assert '"7 mm"' in path.read_text(encoding="utf-8")


def test_the_editor_is_seen_and_merged_with_where_it_changed_another_key(path: Path):
    file = OpenFile(path)
    change_outside(path, SIZE, 'size = ["170 mm", "120 mm"]')
    done = edit(file, "7 mm")
    assert done.conflict is None
    text = path.read_text(encoding="utf-8")
    assert '"170 mm"' in text
    assert 'corner_radius = "7 mm"' in text
    # Once for the editor, once for the page; undo takes back the page's alone.
    assert file.state.revision == 3
    file.walk("undo", file.state.revision)
    text = path.read_text(encoding="utf-8")
    assert '"170 mm"' in text
    assert 'corner_radius = "5 mm"' in text
    file.walk("redo", file.state.revision)
    assert 'corner_radius = "7 mm"' in path.read_text(encoding="utf-8")


@pytest.mark.parametrize("take", ["page", "file"])
def test_the_same_key_is_asked_and_nothing_is_lost(path: Path, take):
    file = OpenFile(path)
    change_outside(path, 'corner_radius = "5 mm"', 'corner_radius = "6 mm"')
    conflict = edit(file, "7 mm").conflict
    assert conflict is not None
    assert 'corner_radius = "6 mm"' in path.read_text(encoding="utf-8")
    line = conflict.file.splitlines()[conflict.lines[0] - 1]
    assert line.startswith("corner_radius")
    # The file goes on changing while the question is open.
    change_outside(path, SIZE, 'size = ["170 mm", "120 mm"]')
    file.look()
    (asked,) = file.state.conflicts
    assert asked.number == conflict.number
    assert '"170 mm"' in asked.page
    assert 'corner_radius = "7 mm"' in asked.page
    file.settle(asked.number, take, file.state.revision)
    assert file.state.conflicts == ()
    text = path.read_text(encoding="utf-8")
    assert text == (asked.page if take == "page" else asked.file)
    with pytest.raises(EditRefused, match="has been settled"):
        file.settle(asked.number, take, file.state.revision)
    if take == "page":
        file.walk("undo", file.state.revision)
        assert path.read_text(encoding="utf-8") == asked.file


def test_two_pages_on_one_text_are_merged_or_asked(path: Path):
    file = OpenFile(path)
    edit(file, "7 mm", revision=1)
    other = file.edit(1, [change("panel", "name", value="other")], "name", None)
    assert other.conflict is None
    assert edit(file, "8 mm", revision=1).conflict is not None
    # The same question is not asked twice.
    assert edit(file, "8 mm", revision=1).conflict == file.state.conflicts[0]
    text = path.read_text(encoding="utf-8")
    assert 'corner_radius = "7 mm"' in text
    assert 'name = "other"' in text


def test_questions_are_bounded(path: Path):
    file = OpenFile(path)
    edit(file, "7 mm")
    for k in range(MOST_CONFLICTS):
        edit(file, f"{8 + k} mm", revision=1)
    with pytest.raises(EditRefused, match="settle these first"):
        edit(file, "9.5 mm", revision=1)


def test_what_was_not_settled_is_kept_beside_the_file(path: Path):
    file = OpenFile(path)
    edit(file, "7 mm")
    edit(file, "8 mm", revision=1)
    path.with_name("panel-unsettled-1.toml").write_text("another's")
    (kept,) = file.keep_unsettled()
    assert kept.name == "panel-unsettled-2.toml"
    assert 'corner_radius = "8 mm"' in kept.read_text(encoding="utf-8")


def test_a_revision_that_never_was_is_refused(path: Path):
    with pytest.raises(EditRefused, match="revision 99 of the file, which is kept no more"):
        edit(OpenFile(path), "7 mm", revision=99)


def test_undo_of_what_the_editor_changed_again_is_asked(path: Path):
    file = OpenFile(path)
    edit(file, "7 mm")
    change_outside(path, 'corner_radius = "7 mm"', 'corner_radius = "9 mm"')
    conflict = file.walk("undo", file.state.revision).conflict
    assert conflict is not None
    assert 'corner_radius = "9 mm"' in path.read_text(encoding="utf-8")
    file.settle(conflict.number, "page", file.state.revision)
    assert path.read_text(encoding="utf-8") == DEMO
    assert not file.state.past
    file.walk("redo", file.state.revision)
    assert 'corner_radius = "9 mm"' in path.read_text(encoding="utf-8")


def test_undo_of_what_the_editor_has_undone_writes_nothing(path: Path):
    file = OpenFile(path)
    edit(file, "7 mm")
    path.write_text(DEMO, encoding="utf-8")
    before = path.stat().st_mtime_ns
    file.walk("undo", file.state.revision)
    assert path.stat().st_mtime_ns == before
    assert not file.state.past


def test_merged_lines_that_make_no_panel_are_asked(path: Path):
    file = OpenFile(path)
    mine = DEMO.replace("[panel]\n", "[panel]\nup = [0, 1, 0]\n")
    assert is_panel(mine)
    change_outside(path, SIZE, SIZE + "\nup = [0, 1, 0]")
    conflict = file.replace_text(1, mine).conflict
    assert conflict is not None
    assert is_panel(conflict.page)
    assert path.read_text(encoding="utf-8") == conflict.file


def test_a_name_that_both_add_costs_nothing_else_of_theirs(path: Path):
    file = OpenFile(path)
    clear = '\n[[keep_clear]]\nname = "N"\nbox = ["1 mm", "1 mm", "9 mm", "9 mm"]\n'
    path.write_text(DEMO.replace(SIZE, 'size = ["170 mm", "120 mm"]') + clear, encoding="utf-8")
    conflict = file.edit(1, [{"add": "clear", "box": [2, 2, 8, 8], "name": "N"}], "add", None).conflict
    assert conflict is not None
    assert is_panel(conflict.page)
    assert '"170 mm"' in conflict.page
    mine, theirs = conflict.page.splitlines(), conflict.file.splitlines()
    assert len(mine) == len(theirs)
    assert conflict.lines == tuple(k + 1 for k in range(len(theirs)) if mine[k] != theirs[k])
    assert [theirs[k - 1] for k in conflict.lines] == ['box = ["1 mm", "1 mm", "9 mm", "9 mm"]']


def test_every_line_that_the_pages_version_changes_is_told(path: Path):
    file = OpenFile(path)
    change_outside(path, 'corner_radius = "5 mm"', 'corner_radius = "6 mm"')
    mine = DEMO.replace('corner_radius = "5 mm"', 'corner_radius = "7 mm"').replace(
        SIZE, SIZE.replace("160", "170")
    )
    conflict = file.replace_text(1, mine).conflict
    assert conflict is not None
    told = {conflict.file.splitlines()[k - 1] for k in conflict.lines}
    assert told == {'corner_radius = "6 mm"', SIZE}


def test_a_late_text_is_merged_with_the_last_one_of_a_file_that_went(path: Path):
    file = OpenFile(path)
    edit(file, "7 mm")
    path.unlink()
    assert file.replace_text(1, DEMO + "# late\n").said == "wrote panel.toml"
    text = path.read_text(encoding="utf-8")
    assert text == DEMO.replace('corner_radius = "5 mm"', 'corner_radius = "7 mm"') + "# late\n"
    path.unlink()
    conflict = file.replace_text(1, DEMO.replace('corner_radius = "5 mm"', 'corner_radius = "8 mm"')).conflict
    assert conflict is not None
    assert not path.exists()
    file.settle(conflict.number, "page", file.state.revision)
    assert '"8 mm"' in path.read_text(encoding="utf-8")
    assert path.read_text(encoding="utf-8").endswith("# late\n")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names")
def test_a_pipe_in_the_files_place_is_told_and_not_waited_for(path: Path):
    file = OpenFile(path)
    path.unlink()
    os.mkfifo(path)
    assert file.look()
    assert "a pipe or a device" in file.state.seen.unusable
    with pytest.raises(EditRefused, match="a pipe or a device"):
        edit(file, "7 mm")
    with pytest.raises(OutputError, match="exists already"):
        file.start(DEMO.encode())


def test_a_link_that_leads_nowhere_yet_is_followed(path: Path):
    link = path.with_name("link.toml")
    link.symlink_to("target.toml")
    file = OpenFile(link)
    assert not file.state.seen.exists
    file.start(DEMO.encode())
    assert link.is_symlink()
    assert path.with_name("target.toml").read_text(encoding="utf-8") == DEMO


def test_mixed_line_ends_stay_where_nothing_changes(path: Path):
    ends = ["\r\n", "\n", "\r\n"]
    lines = DEMO.splitlines()
    path.write_bytes("".join(line + ends[k % 3] for k, line in enumerate(lines)).encode())
    before = path.read_bytes().splitlines(keepends=True)
    file = OpenFile(path)
    at = lines.index(SIZE)
    plain = file.state.text.replace("\r\n", "\n")
    file.replace_text(1, plain.replace(SIZE, SIZE.replace("160", "170")))
    after = path.read_bytes().splitlines(keepends=True)
    assert [k for k in range(len(lines)) if before[k] != after[k]] == [at]
    assert after[at].endswith(b"\r\n")


def test_text_may_have_errors_and_edits_then_wait(path: Path):
    file = OpenFile(path)
    file.replace_text(1, DEMO + "oops\n")
    assert path.read_text(encoding="utf-8").endswith("oops\n")
    with pytest.raises(EditRefused, match=r"errors, which must be corrected first: panel\.toml:\d+"):
        edit(file, "7 mm")
    file.replace_text(2, DEMO)
    edit(file, "7 mm")


def test_text_too_long_is_refused(path: Path):
    with pytest.raises(EditRefused, match="longer than a panel file may be"):
        OpenFile(path).replace_text(1, DEMO + "#" * 1_000_000)


def test_a_file_that_went_is_not_made_again_but_by_its_text(path: Path):
    file = OpenFile(path)
    edit(file, "7 mm")
    text = file.state.text
    path.unlink()
    assert file.look()
    assert not file.state.seen.exists
    assert file.state.text == text
    for wish in (lambda: edit(file, "8 mm"), lambda: file.walk("undo", file.state.revision)):
        with pytest.raises(EditRefused, match="another program removed it"):
            wish()
    assert not path.exists()
    file.replace_text(file.state.revision, text)
    assert path.read_text(encoding="utf-8") == text
    path.unlink()
    file.look()
    path.write_text(DEMO, encoding="utf-8")
    assert file.look()
    assert (file.state.by, file.state.text) == ("editor", DEMO)


def test_a_start_overwrites_nothing(tmp_path: Path):
    path = tmp_path / "new.toml"
    file = OpenFile(path)
    with pytest.raises(EditRefused, match=r"there is no new\.toml yet"):
        edit(file, "7 mm")
    path.write_text("the maker's own\n")
    with pytest.raises(OutputError, match="exists already"):
        file.start(demo_path("laser-driver").read_bytes())
    assert path.read_text() == "the maker's own\n"
    path.unlink()
    file.start(demo_path("laser-driver").read_bytes())
    assert (file.state.by, file.state.text, file.state.past) == ("start", DEMO, ())


def test_a_protected_file_is_left(path: Path):
    file = OpenFile(path)
    path.chmod(0o444)
    with pytest.raises(OutputError, match="protected from writing"):
        edit(file, "7 mm")
    assert path.read_text(encoding="utf-8") == DEMO
    assert (file.state.revision, file.state.past) == (1, ())


@pytest.mark.parametrize(
    ("data", "why"), [(b"a = '\xff'\n", "is not UTF-8"), (b"#" * 1_000_001, "at most 1000000 bytes")]
)
def test_a_file_that_is_no_text_is_left(path: Path, data: bytes, why: str):
    path.write_bytes(data)
    file = OpenFile(path)
    assert why in file.state.seen.unusable
    for wish in (lambda: edit(file, "7 mm"), lambda: file.replace_text(1, DEMO)):
        with pytest.raises(EditRefused, match=why):
            wish()
    assert path.read_bytes() == data


def test_a_folder_in_the_files_place_is_told(path: Path):
    file = OpenFile(path)
    path.unlink()
    path.mkdir()
    assert file.look()
    assert "is a directory" in file.state.seen.unusable


def test_a_file_written_in_the_same_moment_is_merged_not_lost(path: Path, monkeypatch):
    """The editor writes after the file was read and before it is replaced."""
    file = OpenFile(path)
    write, late = open_file.write_over, [True]

    def write_late(*given):
        if late:
            late.clear()
            change_outside(path, SIZE, 'size = ["170 mm", "120 mm"]')
        return write(*given)

    monkeypatch.setattr(open_file, "write_over", write_late)
    edit(file, "7 mm")
    text = path.read_text(encoding="utf-8")
    assert '"170 mm"' in text
    assert 'corner_radius = "7 mm"' in text
    assert (file.state.seen.text, file.state.text) == (text, text)


def test_a_file_that_never_rests_is_given_up(path: Path, monkeypatch):
    file = OpenFile(path)
    monkeypatch.setattr(open_file, "write_over", lambda *given: None)
    with pytest.raises(EditRefused, match="again and again"):
        edit(file, "7 mm")
    assert file.state.past == ()


def test_a_half_written_file_is_waited_for(path: Path, monkeypatch):
    """The editor has emptied the file and fills it a moment later."""
    file = OpenFile(path)
    whole = DEMO.replace(SIZE, 'size = ["170 mm", "120 mm"]')
    path.write_text("")
    waits = iter([lambda: path.write_text(whole[:40]), lambda: path.write_text(whole)])
    monkeypatch.setattr(open_file.time, "sleep", lambda seconds: next(waits, lambda: None)())
    assert edit(file, "7 mm").conflict is None
    assert path.read_text(encoding="utf-8") == whole.replace(
        'corner_radius = "5 mm"', 'corner_radius = "7 mm"'
    )


texts = st.sampled_from(
    [DEMO, DEMO.replace('"5 mm"', '"6 mm"', 1), DEMO.replace(SIZE, 'size = ["170 mm", "120 mm"]')]
)
actions = st.one_of(
    st.tuples(st.just("edit"), st.sampled_from(["5 mm", "6 mm", "7 mm"]), st.integers(0, 9)),
    st.tuples(st.just("name"), st.sampled_from(["a", "b"]), st.integers(0, 9)),
    st.tuples(st.just("text"), texts, st.integers(0, 9)),
    st.tuples(st.sampled_from(["undo", "redo", "look", "remove"])),
    st.tuples(st.just("outside"), texts),
    st.tuples(st.just("settle"), st.integers(1, 4), st.sampled_from(["page", "file"])),
)


@settings(max_examples=25, deadline=None)
@given(st.lists(actions, max_size=14))
def test_whatever_is_done_the_file_stays_a_panel_and_the_state_true(tmp_path_factory, done):
    path = tmp_path_factory.mktemp("any") / "panel.toml"
    path.write_text(DEMO, encoding="utf-8")
    file = OpenFile(path)
    for what, *given_ in done:
        revision = max(1, file.state.revision - given_[1]) if what in ("edit", "name", "text") else 0
        try:
            if what == "edit":
                edit(file, given_[0], revision)
            elif what == "name":
                file.edit(revision, [change("panel", "name", value=given_[0])], "name", None)
            elif what == "text":
                file.replace_text(revision, given_[0])
            elif what == "outside":
                path.write_text(given_[0], encoding="utf-8")
            elif what == "remove":
                path.unlink(missing_ok=True)
            elif what == "settle":
                file.settle(*given_, file.state.revision)
            elif what == "look":
                file.look()
            else:
                file.walk(what, file.state.revision)
        except EditRefused:
            pass
        file.look()
        assert file.state.seen.exists == path.exists()
        if path.exists():
            assert file.state.text == path.read_text(encoding="utf-8")
            assert is_panel(file.state.text)
        assert all(is_panel(one.page) for one in file.state.conflicts)
        assert sorted(os.listdir(path.parent)) == (["panel.toml"] if path.exists() else [])


FOUR = demo_path("cell-tester").read_text(encoding="utf-8")
"""Four parts that are alike but for their names."""


def swap_parts(text: str, one: int, other: int) -> str:
    """Return a text with two of its parts in each other's place, as an editor may leave them."""
    head, *parts = text.split("[[part]]")
    # The last part is followed by other tables.
    last, gap, rest = parts[-1].partition("\n\n[")
    parts[-1] = last + "\n\n"
    parts[one], parts[other] = parts[other], parts[one]
    return "[[part]]".join([head, *parts]).rstrip("\n") + gap + rest


def heats(text: str) -> dict[str, str]:
    return {part["name"]: part["heat"] for part in tomllib.loads(text)["part"] if "heat" in part}


def set_heat(text: str, name: str, heat: str) -> str:
    """Return a text with another heat of a part, written by hand."""
    before, found, after = text.partition(f'name = "{name}"')
    key, line, rest = after.partition("heat = ")
    return before + found + key + line + f'"{heat}"' + rest[rest.index("\n") :]


def test_undo_after_parts_have_changed_places_is_never_of_another_part(path: Path):
    cold = set_heat(FOUR, "cold plate 1", "50 W")
    path.write_text(cold, encoding="utf-8")
    file = OpenFile(path)
    file.replace_text(1, FOUR)
    swapped = swap_parts(FOUR, 0, 2)
    assert heats(swapped) == heats(FOUR)
    path.write_text(swapped, encoding="utf-8")
    conflict = file.walk("undo", 2).conflict
    # Lines alone would put it at another of the parts that are alike.
    assert conflict is not None
    assert path.read_text(encoding="utf-8") == swapped
    assert heats(conflict.page) == heats(cold)


def test_a_text_typed_while_parts_change_places_is_never_of_another_part(path: Path):
    path.write_text(FOUR, encoding="utf-8")
    file = OpenFile(path)
    swapped = swap_parts(FOUR, 0, 3)
    path.write_text(swapped, encoding="utf-8")
    typed = set_heat(FOUR, "cold plate 1", "99 W")
    conflict = file.replace_text(1, typed).conflict
    assert conflict is None or heats(conflict.page) == heats(typed)
    assert heats(path.read_text(encoding="utf-8")) in (heats(typed), heats(FOUR))


def test_an_answer_writes_over_nothing_that_was_not_seen(path: Path):
    file = OpenFile(path)
    change_outside(path, 'corner_radius = "5 mm"', 'corner_radius = "6 mm"')
    asked = edit(file, "7 mm").conflict
    assert asked is not None
    seen = file.state.revision
    change_outside(path, 'corner_radius = "6 mm"', 'corner_radius = "8 mm"')
    again = file.settle(asked.number, "page", seen).conflict
    assert again is not None
    assert 'corner_radius = "8 mm"' in again.file
    assert 'corner_radius = "8 mm"' in path.read_text(encoding="utf-8")
    assert file.settle(asked.number, "page", file.state.revision).conflict is None
    assert 'corner_radius = "7 mm"' in path.read_text(encoding="utf-8")


def test_undo_is_of_the_step_that_was_seen(path: Path):
    file = OpenFile(path)
    edit(file, "7 mm", said="mine")
    file.edit(2, [{"changes": [{"path": ["panel", "name"], "value": "other"}]}], "another page's", None)
    with pytest.raises(EditRefused, match="undo would now mean: another page's"):
        file.walk("undo", 2)
    # What another program changes does not count: the step is the same.
    change_outside(path, SIZE, 'size = ["170 mm", "120 mm"]')
    assert file.walk("undo", 3).said == "undone: another page's"
    with pytest.raises(EditRefused, match="kept no more"):
        file.walk("undo", 99)


def test_a_draft_is_of_the_text_that_it_was_made_on(path: Path):
    text = DEMO + '\n[[keep_clear]]\nname = "b"\nbox = ["5 mm", "5 mm", "10 mm", "10 mm"]\n'
    path.write_text(text, encoding="utf-8")
    file = OpenFile(path)
    first = '\n[[keep_clear]]\nname = "a"\nbox = ["20 mm", "5 mm", "25 mm", "10 mm"]\n'
    change_outside(path, '\n[[keep_clear]]\nname = "b"', first + '\n[[keep_clear]]\nname = "b"')
    file.look()
    drafted = tomllib.loads(file.draft_text(1, [{"remove": "clear:0"}], None))
    assert [clear["name"] for clear in drafted["keep_clear"]] == ["a"]
    change_outside(path, 'corner_radius = "5 mm"', 'corner_radius = "6 mm"')
    file.look()
    with pytest.raises(EditRefused, match="has been changed there since"):
        file.draft_text(1, [{"changes": [{"path": ["panel", "corner_radius"], "value": "7 mm"}]}], None)


def test_a_question_that_was_answered_for_a_file_that_is_gone_is_open_no_more(path: Path):
    file = OpenFile(path)
    change_outside(path, 'corner_radius = "5 mm"', 'corner_radius = "6 mm"')
    asked = edit(file, "7 mm", 1).conflict
    assert asked is not None
    path.write_text("", encoding="utf-8")
    file.look()
    path.unlink()
    file.look()
    file.settle(asked.number, "page", file.state.revision)
    assert 'corner_radius = "7 mm"' in path.read_text(encoding="utf-8")
    assert file.state.conflicts == ()
