"""The server whole, over its socket: what pages are told, what becomes of their wishes, and what they may download."""

from __future__ import annotations

import io
import json
import os
import shutil
import time
import zipfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import httpx
import pytest
from sample_serving import DEMO, RunningPage, change, run_page
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import ClientConnection, connect

from exports.page.serving import application, clients, page_files
from exports.page.serving.application import MOST_MESSAGE
from exports.page.serving.clients import MOST_CLIENTS

WAIT_S = 20.0


class Tab:
    """One page: a socket, and what it was told."""

    def __init__(self, socket: ClientConnection) -> None:
        self.socket = socket
        self.told: list[dict[str, Any]] = []

    def wish(self, do: str, **more: Any) -> None:
        self.socket.send(json.dumps({"do": do, **more}))

    def hear(
        self, kind: str, wanted: Callable[[dict[str, Any]], bool] = lambda event: True
    ) -> dict[str, Any]:
        """Return the next message of a kind, once it comes."""
        until = time.monotonic() + WAIT_S
        while True:
            event = json.loads(self.socket.recv(timeout=until - time.monotonic()))
            self.told.append(event)
            if event["tell"] == kind and wanted(event):
                return event

    def hear_all(self) -> list[dict[str, Any]]:
        """Return what is told up to the answer to a question that is refused."""
        self.socket.send("{}")
        start = len(self.told)
        self.hear("refused", lambda event: event["why"].startswith('"do" must'))
        return self.told[start:-1]


@pytest.fixture
def page(tmp_path: Path) -> Iterator[RunningPage]:
    path = tmp_path / "panel.toml"
    path.write_text(DEMO, encoding="utf-8")
    folder = tmp_path / "session"
    folder.mkdir()
    with run_page(path, folder) as running:
        yield running
    assert running.said == []


@pytest.fixture
def open_tab(page: RunningPage) -> Iterator[Callable[[], Tab]]:
    with ExitStack() as opened:

        def open_one() -> Tab:
            tab = Tab(opened.enter_context(connect(page.live, origin=page.origin, max_size=None, proxy=None)))
            tab.hear("file")
            return tab

        yield open_one


def kinds(events: list[dict[str, Any]]) -> list[str]:
    return [event["tell"] for event in events]


def wait_for(wanted: Callable[[], Any]) -> Any:
    until = time.monotonic() + WAIT_S
    while not (found := wanted()):
        assert time.monotonic() < until
        time.sleep(0.01)
    return found


def corner(value: str, number: int = 1, revision: int = 1) -> dict[str, Any]:
    edits = [change("panel", "corner_radius", value=value)]
    return {"number": number, "revision": revision, "edits": edits}


def test_a_new_page_is_told_all(page: RunningPage, open_tab):
    tab = open_tab()
    assert kinds(tab.told) == ["hello", "file"]
    hello, file = tab.told
    assert hello["file"] == "panel.toml"
    assert hello["demos"][0]["name"] == "workshop-render"
    assert hello["demos"][0]["said"].startswith("A quiet render computer")
    assert not any("Invented" in demo["said"] for demo in hello["demos"])
    assert (file["revision"], file["exists"], file["text"], file["by"]) == (1, True, DEMO, "editor")
    assert (file["undo"], file["redo"]) == (None, None)
    assert kinds(tab.hear_all()) == ["plan"]


def test_an_edit_is_told_to_both_tabs_and_computed(page: RunningPage, open_tab):
    one, two = open_tab(), open_tab()
    one.wish("edit", **corner("7 mm", number=5), said="rounder")
    done = one.hear("done")
    assert (done["number"], done["revision"], done["said"]) == (5, 2, "rounder")
    for tab in (one, two):
        file = next((event for event in tab.told if event.get("revision") == 2), None) or tab.hear("file")
        assert (file["revision"], file["undo"], file["by"]) == (2, "rounder", "page")
    assert [asked[1] for asked in page.workers.asked_for("settle")] == [1, 2]
    two.wish("undo", number=9, revision=2)
    assert one.hear("file", lambda event: event["revision"] == 3)["redo"] == "rounder"
    assert page.path.read_text(encoding="utf-8") == DEMO


def test_an_outside_change_is_told(page: RunningPage, open_tab):
    tab = open_tab()
    page.path.write_text(DEMO + "# by hand\n", encoding="utf-8")
    file = tab.hear("file")
    assert (file["by"], file["text"], file["revision"]) == ("editor", DEMO + "# by hand\n", 2)
    page.path.unlink()
    assert tab.hear("file")["exists"] is False
    tab.wish("edit", **corner("7 mm", revision=3), said="x")
    assert "another program removed it" in tab.hear("refused")["why"]
    assert not page.path.exists()
    page.path.write_text(DEMO, encoding="utf-8")
    assert tab.hear("file", lambda event: event["exists"])["text"] == DEMO
    page.path.write_bytes(b"\xff")
    problem = tab.hear("problem")["problem"]
    assert problem["told"][0]["line"] == 1
    assert "not UTF-8" in problem["told"][0]["text"]


def test_a_question_is_told_to_all_and_again_to_who_comes_later(page: RunningPage, open_tab):
    one, two = open_tab(), open_tab()
    one.wish("edit", **corner("7 mm"), said="seven")
    two.hear("file")
    two.wish("edit", **corner("8 mm"), said="eight")
    asked = two.hear("conflict")
    assert one.hear("conflict") == asked
    # In the page that wished for it, it is the answer too.
    assert two.hear("conflict") == asked | {"number": 1}
    assert asked["said"] == "eight"
    assert '"8 mm"' in asked["page"]
    assert '"7 mm"' in asked["file"]
    # The page is loaded again: nothing is lost.
    two.socket.close()
    two = open_tab()
    assert two.hear("conflict") == asked
    two.wish("settle", number=2, revision=2, conflict=asked["conflict"], take="page")
    assert two.hear("done")["said"] == "eight"
    assert one.hear("settled")["conflict"] == asked["conflict"]
    assert 'corner_radius = "8 mm"' in page.path.read_text(encoding="utf-8")
    assert "conflict" not in kinds(open_tab().hear_all())


def test_the_newest_draft_wins_and_its_end_is_kept(page: RunningPage, open_tab):
    one, two = open_tab(), open_tab()
    for number in range(1, 30):
        one.wish("draft", **corner(f"{number / 4} mm", number=number))
    one.wish("draft", **corner("1 mm", number=3))
    drafts = wait_for(lambda: [d for d in page.workers.asked_for("draft") if d[2] == 29])
    assert 'corner_radius = "7.25 mm"' in drafts[0][3]
    one.hear_all()
    numbers = [draft[2] for draft in page.workers.asked_for("draft")]
    assert numbers == sorted(set(numbers))
    key = drafts[0][1]
    answer = {"tell": "draft", "number": 29, "ms": 1.0, "answer": None, "problem": None}
    page.do(page.workers.tell, answer, key)
    assert one.hear("draft")["number"] == 29
    one.wish("draft", number=30, revision=1, edits=[])
    one.hear_all()
    page.do(page.workers.tell, answer | {"number": 30}, key)
    assert "draft" not in kinds(one.hear_all())
    assert ("drop", key) in page.workers.asked
    assert "draft" not in kinds(two.hear_all())
    assert page.path.read_text(encoding="utf-8") == DEMO


def test_a_draft_that_cannot_be_is_answered(page: RunningPage, open_tab):
    tab = open_tab()
    tab.wish("draft", number=4, revision=1, edits=[{"move": "port:nowhere", "to": [5, 5]}])
    answer = tab.hear("draft")
    assert (answer["number"], answer["answer"]) == (4, None)
    assert (answer["problem"]["kind"], answer["problem"]["told"]) == ("edit", [])
    assert "nowhere" in answer["problem"]["headline"]


def test_what_is_stale_is_not_told(page: RunningPage, open_tab):
    tab = open_tab()
    tab.wish("edit", **corner("7 mm"), said="x")
    tab.hear("done")
    tab.hear_all()
    page.do(page.workers.tell, {"tell": "plan", "revision": 1, "ms": 9}, None)
    page.do(page.workers.tell, {"tell": "restarted", "why": "it died"}, None)
    assert kinds(tab.hear_all()) == ["restarted"]


def test_places_are_asked_for_the_file(page: RunningPage, open_tab):
    tab = open_tab()
    tab.wish("places", number=9, thing="tank")
    ((_, key, number, text, thing),) = wait_for(lambda: page.workers.asked_for("places"))
    assert (number, text, thing) == (9, DEMO, "tank")
    page.do(page.workers.tell, {"tell": "refused", "number": 9, "why": "no"}, key)
    assert tab.hear("refused")["why"] == "no"


def test_bad_messages_are_refused_and_the_page_goes_on(page: RunningPage, open_tab):
    tab = open_tab()
    for message in (
        "",
        "[" * 10_000,
        "{}",
        '{"do": "draft", "number": "x"}',
        '{"do": "edit", "number": 2}',
        "\x00",
    ):
        tab.socket.send(message)
        assert tab.hear("refused")["why"]
    tab.socket.send(b"bytes")
    assert tab.hear("refused")["why"] == "messages are text"
    tab.wish("settle", number=3, revision=1, conflict=7, take="page")
    assert "has been settled" in tab.hear("refused")["why"]
    tab.wish("start", demo="../panel")
    assert "there is no demo" in tab.hear("refused")["why"]
    tab.wish("start", demo="laser-driver")
    assert "exists already" in tab.hear("refused")["why"]
    assert page.path.read_text(encoding="utf-8") == DEMO


def test_a_message_too_long_closes_the_socket(page: RunningPage, open_tab):
    tab = open_tab()

    def send() -> None:
        tab.socket.send("x" * (MOST_MESSAGE + 1))
        tab.hear("never")

    with pytest.raises(ConnectionClosed) as closed:
        send()
    assert closed.value.rcvd is None or closed.value.rcvd.code == 1009
    assert open_tab().told


def test_a_mistake_of_ours_is_one_line_and_the_page_goes_on(page: RunningPage, open_tab, monkeypatch):
    tab = open_tab()

    def fail(*given):
        raise ZeroDivisionError("by\nnothing")

    monkeypatch.setattr(page.session.file, "walk", fail)
    tab.wish("undo", number=2, revision=1)
    assert tab.hear("refused")["why"].startswith("the server failed at this")
    assert page.said == ["internal error: ZeroDivisionError: by nothing; please report with the panel file"]
    page.said.clear()
    tab.wish("edit", **corner("7 mm"), said="x")
    tab.hear("done")


def test_no_more_pages_than_may_be(page: RunningPage, open_tab):
    for _ in range(MOST_CLIENTS):
        open_tab()
    with pytest.raises(InvalidStatus) as refused:
        open_tab()
    assert refused.value.response.status_code == 503
    assert b"close one" in (refused.value.response.body or b"")


def test_a_page_that_does_not_read_is_dropped(page: RunningPage, open_tab, monkeypatch):
    slow, other = open_tab(), open_tab()
    monkeypatch.setattr(clients, "MOST_WAITING", 30)

    def flood() -> None:
        for _ in range(100):
            page.workers.tell({"tell": "restarted", "why": "x" * 1000}, None)

    page.session.clients.leave(page.session.clients.find("page 2"))
    page.do(flood)
    wait_for(lambda: page.session.clients.find("page 1") is None)
    with pytest.raises(ConnectionClosed) as closed:
        slow.hear("never")
    assert closed.value.rcvd is not None
    assert closed.value.rcvd.code == 1013
    assert other.hear_all() is not None


def test_what_was_asked_before_a_page_went_is_done(page: RunningPage, open_tab):
    tab = open_tab()
    tab.wish("edit", **corner("7 mm"), said="x")
    tab.socket.close()
    wait_for(lambda: 'corner_radius = "7 mm"' in page.path.read_text(encoding="utf-8"))
    wait_for(lambda: len(page.session.clients) == 0)


def make(page: RunningPage, tab: Tab, files: dict[str, bytes]) -> Path:
    """Have the workers make some files."""
    runs = len(page.workers.asked_for("make"))
    tab.wish("make")
    folder = wait_for(lambda: page.workers.asked_for("make")[runs:])[0][3]
    for name, data in files.items():
        (folder / name).write_bytes(data)
    listed = [{"name": n, "what": n, "bytes": len(d), "address": f"made/{n}"} for n, d in files.items()]
    event = {
        "tell": "made",
        "revision": 1,
        "files": listed,
        "all": "made.zip",
        "withheld": "",
        "findings": [],
    }
    page.do(page.workers.say, event)
    tab.hear("made")
    return folder


def test_made_files_are_downloaded_one_by_one_or_all(page: RunningPage, open_tab):
    tab = open_tab()
    assert httpx.get(page.address + "made.zip").status_code == 404
    folder = make(page, tab, {"b.step": b"solid", "a.html": b"<script>1</script>"})
    (folder / "secret").write_text("x")
    one = httpx.get(page.address + "made/a.html")
    assert one.content == b"<script>1</script>"
    assert one.headers["content-disposition"] == 'attachment; filename="a.html"'
    assert one.headers["content-type"] == "application/octet-stream"
    assert one.headers["x-content-type-options"] == "nosniff"
    assert httpx.get(page.address + "made/secret").status_code == 404
    every = httpx.get(page.address + "made.zip")
    assert every.content == httpx.get(page.address + "made.zip").content
    with zipfile.ZipFile(io.BytesIO(every.content)) as packed:
        assert packed.namelist() == ["a.html", "b.step"]
        assert packed.read("b.step") == b"solid"
        assert {entry.date_time for entry in packed.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    # A newer run takes the place of this one whole.
    make(page, tab, {"c.step": b"new"})
    assert httpx.get(page.address + "made/b.step").status_code == 404
    assert httpx.get(page.address + "made/c.step").content == b"new"
    assert not folder.exists()
    with zipfile.ZipFile(io.BytesIO(httpx.get(page.address + "made.zip").content)) as packed:
        assert packed.namelist() == ["c.step"]
    assert "made" in kinds(open_tab().hear_all())


def test_a_run_that_makes_nothing_leaves_what_was_made(page: RunningPage, open_tab):
    tab = open_tab()
    make(page, tab, {"a.step": b"a"})
    for _ in range(2):
        runs = len(page.workers.asked_for("make"))
        tab.wish("make")
        folder = wait_for(lambda runs=runs: page.workers.asked_for("make")[runs:])[0][3]
        event = {"tell": "made", "revision": 2, "files": [], "all": "", "findings": []}
        event["withheld"] = "making was stopped"
        page.do(page.workers.say, event)
        told = tab.hear("made")
        assert not folder.exists()
        assert [file["name"] for file in told["files"]] == ["a.step"]
        assert (told["revision"], told["all"]) == (1, "made.zip")
        assert told["withheld"] == "making was stopped; the files below are those that were made before"
        assert httpx.get(page.address + "made/a.step").content == b"a"
    late = open_tab()
    assert late.hear("made")["files"] == told["files"]


def test_a_folder_that_was_swept_away_is_made_again(page: RunningPage, open_tab):
    tab = open_tab()
    page.session._folder.rmdir()
    make(page, tab, {"a.step": b"a"})
    assert httpx.get(page.address + "made/a.step").content == b"a"
    shutil.rmtree(page.session._folder)
    page.session._folder.write_text("in the way")
    tab.wish("make")
    assert "no folder can be made there" in tab.hear("refused")["why"]


def test_a_name_that_is_no_text_is_told_as_far_as_it_is(tmp_path: Path):
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/caf\xe9.toml"))
    try:
        path.write_text(DEMO, encoding="utf-8")
    except OSError:
        pytest.skip("this file system takes only names that are text")
    with (
        run_page(path, tmp_path) as page,
        connect(page.live, origin=page.origin, proxy=None, max_size=None) as socket,
    ):
        tab = Tab(socket)
        assert tab.hear("hello")["file"] == "caf\ufffd.toml"
        assert tab.hear("file")["text"] == DEMO
    assert page.said == []


def test_a_made_link_is_not_followed(page: RunningPage, open_tab):
    folder = make(page, open_tab(), {"a.step": b"a"})
    (folder / "a.step").unlink()
    (folder / "a.step").symlink_to(page.path)
    assert httpx.get(page.address + "made/a.step").status_code == 404


def test_making_twice_at_once_is_refused_and_can_be_stopped(page: RunningPage, open_tab):
    tab = open_tab()
    tab.wish("stop making")
    tab.wish("make")
    wait_for(lambda: page.workers.asked_for("make"))
    assert page.workers.asked_for("stop") == []
    tab.wish("make")
    assert "being made already" in tab.hear("refused")["why"]
    page.do(
        page.workers.tell,
        {"tell": "progress", "of": "make", "stage": "solids", "seconds": 1, "share": None},
        None,
    )
    assert "progress" in kinds(open_tab().hear_all())
    tab.wish("stop making")
    wait_for(lambda: page.workers.asked_for("stop"))


def test_scenes_and_built_files_are_packed_where_that_is_asked(page: RunningPage, open_tab):
    open_tab()
    page.workers.scenes[1] = json.dumps({"x": "y" * 2000})
    plain = httpx.get(page.address + "scene/1.json", headers={"accept-encoding": "identity"})
    packed = httpx.get(page.address + "scene/1.json")
    assert "content-encoding" not in plain.headers
    assert packed.headers["content-encoding"] == "gzip"
    assert plain.json() == packed.json()
    assert plain.headers["content-type"] == "application/json"
    assert int(packed.headers["content-length"]) < 200
    assert httpx.get(page.address + "scene/2.json").status_code == 404


def test_only_files_of_the_page_are_handed_out(tmp_path: Path, monkeypatch):
    built = tmp_path / "built"
    (built / "more").mkdir(parents=True)
    for name in (
        "page.html",
        "page.js",
        "page-solid.js",
        "page.css",
        "sources.sha256",
        ".hidden",
        "more/x.js",
    ):
        (built / name).write_text(f"/* {name} */" * 60)
    (built / "link.js").symlink_to(tmp_path / "panel.toml")
    path = tmp_path / "panel.toml"
    path.write_text(DEMO)
    monkeypatch.setattr(application, "list_built", lambda: page_files.list_built(built))
    with run_page(path, tmp_path) as page:
        assert httpx.get(page.address).text.startswith("/* page.html */")
        for name, media in (
            ("page.js", "text/javascript"),
            ("page.css", "text/css"),
            ("more/x.js", "text/javascript"),
        ):
            found = httpx.get(page.address + name)
            assert found.text.startswith(f"/* {name} */")
            assert found.headers["content-type"].startswith(media)
            assert found.headers["content-encoding"] == "gzip"
        for name in ("sources.sha256", ".hidden", "link.js", "more/", "more"):
            assert httpx.get(page.address + name).status_code == 404


def test_a_page_that_was_not_built_says_how(tmp_path: Path, monkeypatch):
    monkeypatch.setattr(application, "list_built", dict)
    with run_page(tmp_path / "panel.toml", tmp_path) as page:
        told = httpx.get(page.address)
        assert told.status_code == 200
        assert "pip install -e ." in told.text


@pytest.mark.parametrize("way", ["demo", "form"])
def test_a_page_without_a_file_starts_one(tmp_path: Path, way: str):
    path = tmp_path / "panel.toml"
    with run_page(path, tmp_path) as page, connect(page.live, origin=page.origin, proxy=None) as socket:
        tab = Tab(socket)
        assert tab.hear("file")["exists"] is False
        assert page.workers.asked_for("settle") == []
        tab.wish("make")
        assert "no panel.toml" in tab.hear("refused")["why"]
        if way == "demo":
            tab.wish("start", demo="laser-driver")
        else:
            form = {"name": "mine", "width": 240, "height": 160, "closing": "cord", "flow": 1.5}
            part = {"name": "block", "kind": "cooled", "rating": 80, "beside": False}
            radiator = {"name": "radiator", "kind": "radiator", "rating": 15, "beside": False}
            tab.wish("start", form=form | {"parts": [part, radiator]})
        file = tab.hear("file")
        assert (file["exists"], file["by"], file["text"]) == (True, "start", path.read_text(encoding="utf-8"))
        assert file["undo"] is None
        assert tab.hear("done")["said"] == "wrote panel.toml"
    assert page.said == []


def test_what_was_not_settled_is_kept_at_the_end(tmp_path: Path):
    path = tmp_path / "panel.toml"
    path.write_text(DEMO, encoding="utf-8")
    with run_page(path, tmp_path) as page, connect(page.live, origin=page.origin, proxy=None) as socket:
        tab = Tab(socket)
        tab.wish("edit", **corner("7 mm"), said="x")
        tab.hear("done")
        tab.wish("edit", **corner("8 mm"), said="y")
        tab.hear("conflict")
    kept = path.with_name("panel-unsettled-1.toml")
    assert '"8 mm"' in kept.read_text(encoding="utf-8")
    assert page.said == [f"a change of the page was not settled; it is kept in {kept}"]
    assert page.workers.asked[-1] == ("close",)
