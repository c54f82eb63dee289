"""What the real server refuses, from the browser and beside it; and that it goes on when its processes are killed."""

from __future__ import annotations

import contextlib
import socket
import threading
from collections.abc import Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import httpx
import pytest
from browser import open_served
from playwright.sync_api import Page
from sample_page import (
    ServedPage,
    await_calm,
    await_place,
    await_plan,
    await_root,
    drag,
    listen,
    open_quiet,
    place_of,
    revision_of,
    serve_file,
    take,
)
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect

pytestmark = [pytest.mark.needs("chromium"), pytest.mark.usefixtures("shared_browser")]

INLET = "port:diode block inlet"
TOKEN = "another-token-of-the-same-length-as-theirs-x"

FOREIGN = """<!doctype html><html lang="en"><title>foreign</title><script>
const address = decodeURIComponent(location.hash.slice(1)), root = document.documentElement.dataset;
const live = new WebSocket("ws" + address.slice(4) + "live");
live.onopen = () => { root.live = "open"; };
live.onerror = () => { root.live = "refused"; };
fetch(address).then((answer) => { root.fetched = answer.status; }, () => { root.fetched = "refused"; });
fetch(address, { mode: "no-cors" }).then((answer) => { root.blind = answer.type; }, () => { root.blind = "refused"; });
const script = document.createElement("script");
script.onload = () => { root.script = "loaded"; };
script.onerror = () => { root.script = "refused"; };
script.src = address + "page.js";
document.head.append(script);
</script>"""


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ServedPage]:
    with serve_file(tmp_path_factory.mktemp("guarded")) as served:
        yield served
        assert served.said() == []


class _Silent(SimpleHTTPRequestHandler):
    def log_message(self, format: str, *words: object) -> None:
        pass


@contextlib.contextmanager
def serve_folder(folder: Path) -> Iterator[str]:
    """Serve a folder at another port of this computer, as any other page there may be."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Silent, directory=str(folder)))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/"
    finally:
        server.shutdown()
        server.server_close()


# ---- Processes that are killed ---------------------------------------------------------------------------------------


@pytest.fixture
def page(served: ServedPage) -> Iterator[Page]:
    with open_quiet(served) as page:
        await_calm(page)
        yield page


def told_of(page: Page, name: str) -> None:
    page.locator("#warned").filter(has_text=f"the {name} ended by itself (signal 9)").wait_for()


def test_the_builder_killed_amid_its_work_is_started_anew_and_answers(served: ServedPage, page: Page):
    told = listen(page)
    await_root(page, shown="checked", solid="ready")
    revision = revision_of(page) + 1
    builder = served.computing()["builder"]
    # It stands still from here on: whatever it is at when it is killed, it has not answered.
    builder.suspend()
    drag(page, INLET, (5, 0))
    await_plan(page, revision)
    await_root(page, revision=revision, shown="quick")
    builder.kill()
    told_of(page, "builder")
    await_root(page, revision=revision, shown="checked", solid="ready", solid_revision=revision)
    assert served.computing()["builder"].pid != builder.pid
    assert [one["tell"] for one in told].count("restarted") == 1


def test_the_planner_killed_amid_a_draft_is_started_anew_and_answers(served: ServedPage, page: Page):
    await_root(page, shown="checked")
    revision = revision_of(page) + 1
    x, y = place_of(page, INLET)
    planner = served.computing()["planner"]
    planner.suspend()
    take(page, INLET, (0, -5))
    page.locator(".plan-stage.waiting").wait_for()
    planner.kill()
    told_of(page, "planner")
    page.locator('.plan-view:not([data-draft-shown=""]) .plan-stage:not(.waiting)').wait_for()
    page.mouse.up()
    await_plan(page, revision)
    await_place(page, INLET, x, y - 5)
    assert served.computing()["planner"].pid != planner.pid


# ---- What is refused -------------------------------------------------------------------------------------------------


def ask_raw(served: ServedPage, path: str) -> bytes:
    """Ask for a path exactly as it is written; return the whole answer."""
    with socket.create_connection(("127.0.0.1", served.port), timeout=30) as line:
        line.sendall(
            f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\nConnection: close\r\n\r\n".encode()
        )
        answer = b""
        while part := line.recv(65536):
            answer += part
    return answer


def test_only_the_token_opens_the_page(served: ServedPage):
    assert httpx.get(served.address).status_code == 200
    for address in (f"{served.origin}/", f"{served.origin}/{TOKEN[:43]}/", f"{served.address[:-2]}/"):
        assert httpx.get(address).status_code == 404
    with (
        pytest.raises(InvalidStatus, match="404"),
        connect(f"ws://127.0.0.1:{served.port}/{TOKEN[:43]}/live", origin=served.origin),
    ):
        pass


@pytest.mark.parametrize(
    "tail",
    [
        "../panel.toml",
        "panel.toml",
        "made/../panel.toml",
        "made/..%2fpanel.toml",
        "%2e%2e/panel.toml",
        "..\\panel.toml",
        "/etc/passwd",
        "made//etc/passwd",
        "../../../../../../etc/passwd",
        "page.js/../../panel.toml",
        "made/panel.toml%00",
    ],
)
def test_no_path_leads_out(served: ServedPage, tail: str):
    token = served.address.split("/")[3]
    answer = ask_raw(served, f"/{token}/{tail}")
    assert b" 404 " in answer.split(b"\r\n")[0]
    assert b"[panel]" not in answer
    assert b"root:" not in answer


def test_foreign_names_and_origins_are_refused(served: ServedPage):
    for headers in ({"host": "panel.example"}, {"origin": "http://panel.example"}, {"origin": "null"}):
        assert httpx.get(served.address, headers=headers).status_code == 403
    live = "ws" + served.address.removeprefix("http") + "live"
    for origin in (
        None,
        "null",
        "http://panel.example",
        "http://127.0.0.1:1",
        f"http://localhost:{served.port}",
    ):
        with pytest.raises(InvalidStatus, match="403"), connect(live, origin=origin):
            pass


def test_a_page_of_another_server_gets_nothing_though_it_knows_the_token(served: ServedPage, tmp_path: Path):
    (tmp_path / "foreign.html").write_text(FOREIGN, encoding="utf-8")
    before = served.text()
    with serve_folder(tmp_path) as other, open_served(f"{other}foreign.html#{served.address}") as opened:
        await_root(opened.page, live="refused", fetched="refused", script="refused", blind="refused")
        assert opened.requests
        assert opened.complaints
    assert served.text() == before


def test_the_page_is_shown_in_no_frame(served: ServedPage, tmp_path: Path):
    text = f'<!doctype html><title>frame</title><iframe src="{served.address}"></iframe>'
    (tmp_path / "frame.html").write_text(text, encoding="utf-8")
    with serve_folder(tmp_path) as other, open_served(f"{other}frame.html") as opened:
        assert any("frame" in said for said in opened.complaints)
        assert opened.page.frames[1].locator(".head").count() == 0
