"""Programs that take their time to write the file, before and after the page writes it."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from sample_serving import DEMO, change

from exports.page.serving import open_file, resting
from exports.page.serving.open_file import Done, OpenFile
from exports.page.serving.resting import Rest, is_doubtful, note_look
from exports.page.serving.seen_file import ABSENT, SeenFile
from geom.errors import EditRefused

SIZE = 'size = ["160 mm", "120 mm"]'
OTHER = DEMO.replace(SIZE, 'size = ["170 mm", "120 mm"]')
assert OTHER != DEMO


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "panel.toml"
    path.write_text(DEMO, encoding="utf-8")
    return path


def edit(file: OpenFile) -> Done:
    return file.edit(1, [change("panel", "corner_radius", value="7 mm")], "corner", None)


def look_until(file: OpenFile, wanted: Callable[[], bool]) -> None:
    until = time.monotonic() + 20
    while not wanted():
        assert time.monotonic() < until
        file.look()
        time.sleep(0.01)


@pytest.mark.parametrize("cut", [0, 40, DEMO.index("[pump]"), len(DEMO) - 30])
def test_half_a_file_is_not_written_over(path: Path, cut: int, monkeypatch):
    """The first half stands on the disk for longer than other changes have to."""
    monkeypatch.setattr(resting, "DOUBT_S", 30.0)
    monkeypatch.setattr(open_file, "MOST_WAIT_S", 60.0)
    file = OpenFile(path)

    def write_slowly() -> None:
        with path.open("w", encoding="utf-8") as slow:
            slow.write(OTHER[:cut])
            slow.flush()
            began.set()
            time.sleep(0.2)
            slow.write(OTHER[cut:])

    began = threading.Event()
    writer = threading.Thread(target=write_slowly)
    writer.start()
    assert began.wait(10)
    assert edit(file).conflict is None
    writer.join()
    assert path.read_text(encoding="utf-8") == OTHER.replace(
        'corner_radius = "5 mm"', 'corner_radius = "7 mm"'
    )
    file.let_go()


def test_a_file_that_is_written_on_and_on_is_told(path: Path, monkeypatch):
    file = OpenFile(path)
    monkeypatch.setattr(open_file, "MOST_WAIT_S", 0.2)
    path.write_text(OTHER[:100], encoding="utf-8")
    with pytest.raises(EditRefused, match=r"panel\.toml is being written by another program; try again"):
        edit(file)
    assert path.read_text(encoding="utf-8") == OTHER[:100]


def test_what_the_page_wrote_is_not_waited_for(path: Path, monkeypatch):
    file = OpenFile(path)
    edit(file)
    monkeypatch.setattr(resting, "REST_S", 1e9)
    file.walk("undo", file.state.revision)
    assert path.read_text(encoding="utf-8") == DEMO


def test_what_is_written_into_a_replaced_file_is_merged(path: Path):
    file = OpenFile(path)
    with path.open("r+b") as late:
        edit(file)
        late.truncate(0)
        late.write(OTHER.encode())
    assert file.is_holding
    look_until(file, lambda: file.state.revision > 2)
    both = OTHER.replace('corner_radius = "5 mm"', 'corner_radius = "7 mm"')
    assert path.read_text(encoding="utf-8") == both
    file.walk("undo", file.state.revision)
    assert '"7 mm"' in path.read_text(encoding="utf-8")
    file.let_go()


@pytest.mark.parametrize(
    "wrote", [DEMO.replace('corner_radius = "5 mm"', 'corner_radius = "9 mm"'), DEMO[:300]]
)
def test_what_is_written_into_a_replaced_file_is_asked_where_it_crosses_or_is_half(path: Path, wrote: str):
    file = OpenFile(path)
    with path.open("r+b") as late:
        edit(file)
        late.truncate(0)
        late.write(wrote.encode())
    written = path.read_text(encoding="utf-8")
    look_until(file, lambda: bool(file.state.conflicts))
    assert path.read_text(encoding="utf-8") == written
    file.let_go()


def test_at_the_end_it_is_kept_beside_the_file(path: Path):
    file = OpenFile(path)
    with path.open("r+b") as late:
        edit(file)
        late.write(b"# by another program\n")
    file.let_go()
    assert not file.is_holding
    (kept,) = file.kept
    assert kept.read_bytes().startswith(b"# by another program\n")


def test_what_is_replaced_is_let_go_in_the_end(path: Path, monkeypatch):
    monkeypatch.setattr(resting, "HOLD_S", 0.0)
    descriptors = len(os.listdir("/proc/self/fd")) if os.path.isdir("/proc/self/fd") else 0
    file = OpenFile(path)
    edit(file)
    look_until(file, lambda: not file.is_holding)
    assert not descriptors or len(os.listdir("/proc/self/fd")) == descriptors


def test_a_file_rests_from_its_last_change():
    rest = Rest((1, 1, 1), "a", 5.0)
    assert note_look(rest, (1, 1, 1), "a", 6.0) == rest
    assert note_look(rest, (1, 2, 1), "a", 6.0).since == 6.0
    # The clock of a disk may be too coarse to tell two writings apart.
    assert note_look(rest, (1, 1, 1), "b", 6.0).since == 6.0


@pytest.mark.parametrize(
    ("text", "doubtful"),
    [("", True), (DEMO[:-1], True), (DEMO[:300] + "\n[", True), (OTHER, False), (DEMO, False)],
)
def test_half_a_file_is_doubtful(text: str, doubtful: bool):
    assert is_doubtful(SeenFile("x", text), DEMO) is doubtful
    assert not is_doubtful(SeenFile(ABSENT, text), DEMO)
