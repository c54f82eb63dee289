"""Two servers of one file: neither writes between the other's check and writing, and each knows of the other."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from exports.page.serving import locks
from exports.page.serving.locks import lock_writing, mark_open
from geom.errors import OutputError

ROOT = Path(__file__).parents[4]

WRITER = """
import sys
from pathlib import Path
from exports.page.serving.seen_file import see_file, write_over
path, name, done = Path(sys.argv[1]), sys.argv[2], []
while len(done) < 150:
    seen = see_file(path)
    line = f"# {name}{len(done)}\\n"
    if write_over(path, seen.text + line, seen) is not None:
        done.append(line)
"""


@pytest.fixture(autouse=True)
def temporary(tmp_path: Path, monkeypatch) -> Path:
    folder = tmp_path / "temporary"
    folder.mkdir()
    monkeypatch.setattr(locks.tempfile, "tempdir", str(folder))
    return folder


def test_two_servers_lose_nothing_of_each_other(tmp_path: Path, temporary: Path):
    path = tmp_path / "panel.toml"
    path.write_text("")
    running = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path), name],
            env={"PYTHONPATH": str(ROOT), "TMPDIR": str(temporary)},
        )
        for name in "ab"
    ]
    assert [one.wait(120) for one in running] == [0, 0]
    assert sorted(path.read_text().splitlines()) == sorted(
        f"# {name}{k}" for name in "ab" for k in range(150)
    )
    assert list(temporary.iterdir()) == []


def test_writing_waits_for_the_other_but_not_for_good(tmp_path: Path, temporary: Path, monkeypatch):
    monkeypatch.setattr(locks, "MOST_WAIT_S", 0.05)
    link = tmp_path / "link.toml"
    link.symlink_to(tmp_path / "panel.toml")
    with lock_writing(tmp_path / "panel.toml"):
        with lock_writing(tmp_path / "other.toml"):
            pass
        with pytest.raises(OutputError, match="another page server holds it"), lock_writing(link):
            pass
    with lock_writing(link):
        pass
    assert list(temporary.iterdir()) == []


def test_others_that_have_the_file_open_are_known_whichever_ends_first(tmp_path: Path, temporary: Path):
    path = tmp_path / "panel.toml"
    first, second = mark_open(path), mark_open(path)
    assert first.__enter__()
    assert not second.__enter__()
    first.__exit__(None, None, None)
    with mark_open(path) as alone:
        assert not alone
    second.__exit__(None, None, None)
    with mark_open(path) as alone:
        assert alone
    assert list(temporary.iterdir()) == []


def test_without_locks_the_work_goes_on(tmp_path: Path, temporary: Path):
    path = tmp_path / "panel.toml"
    # Where the lock's file should be stands what another user could have put there.
    for what in ("writing", "open"):
        locks._lock_name(path, what).symlink_to(tmp_path)
    with lock_writing(path), mark_open(path) as alone:
        assert alone
