"""A set of files appears whole or not at all."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from exports import writing
from exports.writing import FileRecord, OutFile, earlier_files, replace_file, write_files, write_new_file
from geom.errors import OutputError


def text_file(name: str, text: str) -> OutFile:
    return OutFile(name, "text", lambda path: path.write_text(text, encoding="utf-8") and None)


def report(records: tuple[FileRecord, ...], left: tuple[FileRecord, ...]) -> bytes:
    written, earlier = (
        [{"name": r.name, "what": r.what, "sha256": r.sha256} for r in some] for some in (records, left)
    )
    return json.dumps({"files": written, "earlier_files": earlier}).encode()


def snapshot(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def write(folder: Path, *files: OutFile, drop_stale: bool = True) -> tuple[FileRecord, ...]:
    return write_files(folder, files, report, drop_stale)


@pytest.fixture
def good(tmp_path: Path) -> Path:
    """A folder with a good earlier run and a file of the user's own."""
    folder = tmp_path / "out"
    write(folder, text_file("a.step", "old a"), text_file("b.stl", "old b"))
    (folder / "mine.txt").write_text("mine")
    return folder


def test_writes_all_and_their_digests(tmp_path: Path):
    records = write(tmp_path / "new" / "deep", text_file("a.step", "A"), text_file("b.stl", "B"))
    folder = tmp_path / "new" / "deep"
    assert sorted(snapshot(folder)) == ["a.step", "b.stl", "report.json"]
    assert [r.sha256 for r in records] == [hashlib.sha256(t).hexdigest() for t in (b"A", b"B")]
    assert earlier_files(folder) == records


def test_replaces_and_drops_what_is_stale(good: Path):
    write(good, text_file("a.step", "new a"))
    assert snapshot(good).keys() == {"a.step", "report.json", "mine.txt"}
    assert (good / "a.step").read_text() == "new a"


def test_keeps_stale_files_that_were_changed_or_when_told(good: Path):
    (good / "b.stl").write_text("changed by hand")
    write(good, text_file("a.step", "new a"))
    assert (good / "b.stl").read_text() == "changed by hand"


def test_keeps_stale_files_on_a_fault(good: Path):
    write(good, text_file("plan.svg", "p"), drop_stale=False)
    assert (good / "b.stl").read_text() == "old b"


def test_faults_in_between_do_not_make_a_good_run_forget(good: Path):
    write(good, text_file("plan.svg", "p"), drop_stale=False)
    write(good, text_file("plan.svg", "q"), drop_stale=False)
    assert {r.name for r in earlier_files(good)} == {"plan.svg", "a.step", "b.stl"}
    write(good, text_file("plan.svg", "r"), text_file("a.step", "new a"))
    assert snapshot(good).keys() == {"plan.svg", "a.step", "report.json", "mine.txt"}
    assert {r.name for r in earlier_files(good)} == {"plan.svg", "a.step"}


def test_what_was_changed_after_a_fault_stays(good: Path):
    write(good, text_file("plan.svg", "p"), drop_stale=False)
    (good / "b.stl").write_text("changed by hand")
    write(good, text_file("plan.svg", "q"), drop_stale=False)
    write(good, text_file("plan.svg", "r"))
    assert snapshot(good).keys() == {"plan.svg", "b.stl", "report.json", "mine.txt"}


def killed_run(folder: Path) -> Path:
    """Kill a run in the midst of writing into the folder; return the staging folder that it left."""
    code = (
        "import os, signal, sys\n"
        "from pathlib import Path\n"
        "from exports.writing import OutFile, write_files\n"
        "die = lambda path: os.kill(os.getpid(), signal.SIGKILL)\n"
        "write_files(Path(sys.argv[1]), (OutFile('a.step', 'x', die),), lambda r, e: b'{}', True)\n"
    )
    root = Path(writing.__file__).parents[1]
    done = subprocess.run([sys.executable, "-c", code, str(folder)], cwd=root, check=False)
    assert done.returncode == -signal.SIGKILL
    (left,) = folder.glob(".rillplate-*")
    return left


def test_removes_what_a_killed_run_left(good: Path):
    before = snapshot(good)
    left = killed_run(good)
    assert {name: data for name, data in snapshot(good).items() if left.name not in name} == before
    write(good, text_file("a.step", "new a"), text_file("b.stl", "new b"))
    assert snapshot(good).keys() == before.keys()
    assert not left.exists()


def test_leaves_folders_that_are_not_its_own(good: Path, tmp_path: Path):
    elsewhere = tmp_path / "elsewhere"
    shutil.move(killed_run(good), elsewhere)
    mine = good / ".rillplate-mine"
    mine.mkdir()
    (mine / "notes.txt").write_text("mine")
    (good / ".rillplate-link").symlink_to(elsewhere, target_is_directory=True)
    write(good, text_file("a.step", "new a"))
    assert (mine / "notes.txt").read_text() == "mine"
    assert elsewhere.is_dir()
    assert (good / ".rillplate-link").is_symlink()


def test_leaves_the_staging_folder_of_a_living_run(good: Path):
    def run_another(path: Path) -> None:
        write(good, text_file("b.stl", "of the other run"))
        path.write_text("of this run")

    write(good, text_file("c.3mf", "C"), OutFile("a.step", "x", run_another))
    assert (good / "a.step").read_text() == "of this run"
    assert (good / "c.3mf").read_text() == "C"
    assert not list(good.glob(".rillplate-*"))


def test_does_not_follow_names_out_of_the_folder(good: Path, tmp_path: Path):
    victim = tmp_path / "victim"
    victim.write_text("v")
    listed = {"name": "../victim", "what": "x", "sha256": hashlib.sha256(b"v").hexdigest()}
    (good / "report.json").write_text(json.dumps({"files": [listed]}))
    write(good, text_file("a.step", "new a"))
    assert victim.read_text() == "v"


@pytest.mark.parametrize("junk", [b"", b"{", b"[]", b'{"files": 3}', b'{"files": [{"name": "x"}]}', b"\xff"])
def test_lives_with_a_damaged_earlier_report(good: Path, junk: bytes):
    (good / "report.json").write_bytes(junk)
    assert earlier_files(good) == ()
    write(good, text_file("a.step", "new a"))
    assert (good / "b.stl").exists()


def full_disk(path: Path) -> None:
    path.write_bytes(b"half")
    raise OSError(errno.ENOSPC, "No space left on device", str(path))


def interrupt(path: Path) -> None:
    path.write_bytes(b"half")
    raise KeyboardInterrupt


def test_full_disk_while_writing_leaves_the_last_good_run(good: Path):
    before = snapshot(good)
    with pytest.raises(OutputError, match="disk is full"):
        write(good, text_file("a.step", "new a"), OutFile("b.stl", "x", full_disk))
    assert snapshot(good) == before


def test_interrupt_while_writing_leaves_the_last_good_run(good: Path):
    before = snapshot(good)
    with pytest.raises(KeyboardInterrupt):
        write(good, text_file("a.step", "new a"), OutFile("b.stl", "x", interrupt))
    assert snapshot(good) == before


def test_failure_removes_only_the_folders_it_made(tmp_path: Path):
    (tmp_path / "kept").mkdir()
    with pytest.raises(OutputError, match="disk is full"):
        write(tmp_path / "kept" / "a" / "b", OutFile("b.stl", "x", full_disk))
    assert (tmp_path / "kept").is_dir()
    assert not (tmp_path / "kept" / "a").exists()


@pytest.mark.parametrize(
    "failure", [OSError(errno.ENOSPC, "full"), PermissionError(13, "no"), KeyboardInterrupt()]
)
@pytest.mark.parametrize("at", [1, 2, 3, 4])
def test_failure_while_moving_puts_everything_back(
    good: Path, monkeypatch: pytest.MonkeyPatch, failure: BaseException, at: int
):
    before = snapshot(good)
    moves = 0
    true_replace = os.replace

    def replace(source: Path, target: Path) -> None:
        nonlocal moves
        moves += 1
        if moves == at:
            raise failure
        true_replace(source, target)

    monkeypatch.setattr(writing.os, "replace", replace)
    with pytest.raises((OutputError, KeyboardInterrupt)):
        write(good, text_file("c.3mf", "C"), text_file("a.step", "new a"), text_file("b.stl", "new b"))
    assert snapshot(good) == before


def test_no_hard_links_is_no_hindrance(good: Path, monkeypatch: pytest.MonkeyPatch):
    def no_link(source: Path, target: Path) -> None:
        raise OSError(errno.EPERM, "no links here")

    monkeypatch.setattr(writing.os, "link", no_link)
    write(good, text_file("a.step", "new a"), text_file("b.stl", "new b"))
    assert (good / "b.stl").read_text() == "new b"


def test_a_file_in_place_of_the_folder(tmp_path: Path):
    (tmp_path / "out").write_text("I am a file")
    with pytest.raises(OutputError, match="a file stands where the folder should be"):
        write(tmp_path / "out", text_file("a", "A"))
    assert (tmp_path / "out").read_text() == "I am a file"
    with pytest.raises(OutputError, match="a file stands where the folder should be"):
        write(tmp_path / "out" / "below", text_file("a", "A"))


def test_a_folder_in_place_of_a_file(good: Path):
    before = snapshot(good)
    (good / "c.3mf").mkdir()
    with pytest.raises(OutputError, match=r"a folder stands where c\.3mf should be"):
        write(good, text_file("a.step", "new a"), text_file("c.3mf", "C"))
    assert snapshot(good) == before


def test_a_folder_that_may_not_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    # The administrator may write anywhere: so the refusal is staged.
    def refuse(**options: object) -> str:
        raise PermissionError(errno.EACCES, "Permission denied", str(options["dir"]))

    monkeypatch.setattr(writing.tempfile, "mkdtemp", refuse)
    with pytest.raises(OutputError, match="may not be written"):
        write(tmp_path / "out", text_file("a", "A"))
    assert not (tmp_path / "out").exists()


def test_an_empty_file_is_not_passed_on(tmp_path: Path):
    with pytest.raises(OutputError, match="came out empty"):
        write(tmp_path / "out", OutFile("a.step", "x", lambda path: path.touch()))


def test_new_file_never_overwrites(tmp_path: Path):
    path = tmp_path / "panel.toml"
    write_new_file(path, b"one", overwrite=False)
    with pytest.raises(OutputError, match="exists already"):
        write_new_file(path, b"two", overwrite=False)
    assert path.read_bytes() == b"one"
    write_new_file(path, b"three", overwrite=True)
    assert path.read_bytes() == b"three"
    assert [p.name for p in tmp_path.iterdir()] == ["panel.toml"]


def test_new_file_tells_what_is_in_the_way(tmp_path: Path):
    with pytest.raises(OutputError, match="is a folder"):
        write_new_file(tmp_path, b"x", overwrite=True)
    with pytest.raises(OutputError, match="make the folder first"):
        write_new_file(tmp_path / "none" / "x.toml", b"x", overwrite=False)


def test_new_file_on_a_full_disk_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def sync(handle: int) -> None:
        raise OSError(errno.ENOSPC, "full")

    monkeypatch.setattr(writing.os, "fsync", sync)
    with pytest.raises(OutputError, match="disk is full"):
        write_new_file(tmp_path / "x.toml", b"x", overwrite=False)
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_is_named_with_what_was_free(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def fail(path: Path) -> None:
        path.write_text("half")
        raise OSError(f"{path.name} could not be written")

    free = iter((912_345, 0))
    monkeypatch.setattr(writing.shutil, "disk_usage", lambda path: SimpleNamespace(free=next(free)))
    said = r"out: the disk is full: more is needed than the 0\.9 MB that were free there"
    with pytest.raises(OutputError, match=said):
        write(tmp_path / "out", OutFile("a.step", "x", fail))
    assert not (tmp_path / "out").exists()


def test_a_writer_that_fails_with_room_left_is_no_full_disk(tmp_path: Path):
    def fail(path: Path) -> None:
        raise OSError(f"{path.name} could not be written")

    with pytest.raises(OutputError, match=r"a\.step could not be written") as told:
        write(tmp_path / "out", OutFile("a.step", "x", fail))
    assert "full" not in str(told.value)


def test_a_folder_that_cannot_be_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def refuse(self: Path, **options: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied", str(self))

    monkeypatch.setattr(writing.Path, "mkdir", refuse)
    with pytest.raises(OutputError, match=f"the folder cannot be made: {tmp_path} may not be written"):
        write(tmp_path / "a" / "b", text_file("a", "A"))


def test_a_file_is_replaced_whole_with_its_rights(tmp_path: Path):
    path = tmp_path / "mine.toml"
    path.write_bytes(b"old")
    path.chmod(0o604)
    asked = []
    assert replace_file(path, b"new", lambda: asked.append(path.read_bytes()) is None)
    assert (path.read_bytes(), path.stat().st_mode & 0o777, asked) == (b"new", 0o604, [b"old"])
    assert list(snapshot(tmp_path)) == ["mine.toml"]


def test_a_file_is_not_replaced_where_it_may_not_be(tmp_path: Path):
    path = tmp_path / "mine.toml"
    path.write_bytes(b"old")
    assert not replace_file(path, b"new", lambda: False)
    assert not replace_file(tmp_path / "gone.toml", b"new", lambda: True)
    path.chmod(0o444)
    with pytest.raises(OutputError, match="protected from writing"):
        replace_file(path, b"new", lambda: True)
    with pytest.raises(OutputError, match="its folder does not exist"):
        replace_file(tmp_path / "none" / "x.toml", b"new", lambda: True)
    assert snapshot(tmp_path) == {"mine.toml": b"old"}


def test_a_new_file_never_takes_the_place_of_one_made_meanwhile(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    path = tmp_path / "x.toml"
    sync = os.fsync

    def make_other(handle: int) -> None:
        path.write_bytes(b"theirs")
        sync(handle)

    monkeypatch.setattr(writing.os, "fsync", make_other)
    with pytest.raises(OutputError, match="exists already"):
        write_new_file(path, b"ours", overwrite=False)
    assert snapshot(tmp_path) == {"x.toml": b"theirs"}


def test_a_new_file_needs_no_hard_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def link(source: Path, target: Path) -> None:
        raise PermissionError(errno.EPERM, "no links")

    monkeypatch.setattr(writing.os, "link", link)
    path = tmp_path / "x.toml"
    write_new_file(path, b"ours", overwrite=False)
    assert snapshot(tmp_path) == {"x.toml": b"ours"}
    monkeypatch.setattr(writing.os.path, "lexists", lambda path: False)
    with pytest.raises(OutputError, match="exists already"):
        write_new_file(path, b"again", overwrite=False)
    assert snapshot(tmp_path) == {"x.toml": b"ours"}


def test_a_new_file_is_written_where_its_link_leads(tmp_path: Path):
    link = tmp_path / "link"
    link.symlink_to("target")
    write_new_file(link, b"new", overwrite=False)
    assert link.is_symlink()
    assert (tmp_path / "target").read_bytes() == b"new"
    link.unlink()
    link.symlink_to("link")
    with pytest.raises(OutputError, match="exists already"):
        write_new_file(link, b"new", overwrite=False)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names")
@pytest.mark.parametrize("overwrite", [True, False])
def test_a_new_file_takes_no_pipes_place(tmp_path: Path, overwrite: bool):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(OutputError, match="pipe or a device" if overwrite else "exists already"):
        write_new_file(pipe, b"new", overwrite=overwrite)


def test_a_file_of_several_names_is_not_parted(tmp_path: Path):
    path = tmp_path / "mine.toml"
    path.write_bytes(b"old")
    os.link(path, tmp_path / "other")
    with pytest.raises(OutputError, match=r"has 2 names \(hard links\)"):
        replace_file(path, b"new", lambda: True)
    assert snapshot(tmp_path) == {"mine.toml": b"old", "other": b"old"}


@pytest.mark.skipif(sys.platform == "win32", reason="owners are those of POSIX")
def test_a_replaced_file_keeps_its_owner_or_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    path = tmp_path / "mine.toml"
    path.write_bytes(b"old")
    found = path.stat()
    other = os.stat_result([*found[:4], found.st_uid, found.st_gid + 1, *found[6:]])
    given: list[tuple[int, int]] = []
    monkeypatch.setattr(writing.os, "chown", lambda path, user, group: given.append((user, group)))
    writing._keep_rights(path, path, other)
    assert given == [(-1, found.st_gid + 1)]

    def refuse(path: Path, user: int, group: int) -> None:
        raise PermissionError(errno.EPERM, "not yours")

    monkeypatch.setattr(writing.os, "chown", refuse)
    with pytest.raises(OutputError, match="belongs to another group"):
        writing._keep_rights(path, path, other)


@pytest.mark.skipif(not hasattr(os, "setxattr"), reason="no further attributes")
def test_a_replaced_file_keeps_its_attributes(tmp_path: Path):
    path = tmp_path / "mine.toml"
    path.write_bytes(b"old")
    try:
        os.setxattr(path, "user.kept", b"yes")
    except OSError:
        pytest.skip("this file system has no further attributes")
    assert replace_file(path, b"new", lambda: True)
    assert os.getxattr(path, "user.kept") == b"yes"


def test_what_another_user_left_stays_and_hinders_nobody(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    for name in ("run-a", "run-b"):
        (tmp_path / name).mkdir()
        (tmp_path / name / writing.STAGING_MARKER).touch()

    # As Python 3.11 answers where the folder may not be looked into.
    def refuse(self: Path) -> bool:
        if "run-a" in self.parts:
            raise PermissionError(errno.EACCES, "Permission denied", str(self))
        return True

    monkeypatch.setattr(writing.Path, "is_file", refuse)
    writing.remove_leftovers(tmp_path, "run-")
    assert (tmp_path / "run-a").exists()
    assert (tmp_path / "run-b").exists() is (sys.platform == "win32")
