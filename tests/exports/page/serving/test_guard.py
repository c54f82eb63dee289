"""Who is let in: asked of a real server, with bytes as a program of ill will would send them."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Iterator

import psutil
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_serving import DEMO, TOKEN, RunningPage, run_page

from exports.page.serving import guard
from exports.page.serving.guard import POLICY, Guard, make_token
from exports.page.serving.serve import listen_at


@pytest.fixture(scope="module")
def page(tmp_path_factory) -> Iterator[RunningPage]:
    folder = tmp_path_factory.mktemp("guard")
    path = folder / "panel.toml"
    path.write_text(DEMO, encoding="utf-8")
    (folder / "made").mkdir()
    with run_page(path, folder / "made") as running:
        yield running


def ask(
    page: RunningPage, target: bytes | str, method: str = "GET", **headers: str
) -> tuple[int, str, bytes]:
    """Return status, head and body that the bytes of a request are answered with."""
    wanted = {"Host": f"127.0.0.1:{page.port}"} | {
        name.replace("_", "-"): said for name, said in headers.items()
    }
    asked = target.encode("latin-1") if isinstance(target, str) else target
    head = "".join(f"{name}: {said}\r\n" for name, said in wanted.items() if said)
    with socket.create_connection(("127.0.0.1", page.port), timeout=10) as connection:
        connection.sendall(
            method.encode()
            + b" "
            + asked
            + b" HTTP/1.1\r\n"
            + head.encode("latin-1")
            + b"Connection: close\r\n\r\n"
        )
        answer = b""
        while more := connection.recv(65536):
            answer += more
    told, _, body = answer.partition(b"\r\n\r\n")
    return int(told.split()[1]), told.decode("latin-1").lower(), body


SOCKET = {
    "Upgrade": "websocket",
    "Connection": "Upgrade",
    "Sec_WebSocket_Key": "dGhlIHNhbXBsZSBub25jZQ==",
    "Sec_WebSocket_Version": "13",
}


def ask_socket(page: RunningPage, target: str, **headers: str) -> int:
    wanted = {"Host": f"127.0.0.1:{page.port}", **SOCKET, **headers}
    head = "".join(f"{name.replace('_', '-')}: {said}\r\n" for name, said in wanted.items() if said)
    with socket.create_connection(("127.0.0.1", page.port), timeout=10) as connection:
        connection.sendall(f"GET {target} HTTP/1.1\r\n{head}\r\n".encode())
        return int(connection.recv(65536).split()[1])


def test_the_page_itself_is_let_in(page: RunningPage):
    for host in ("127.0.0.1", "localhost"):
        status, head, body = ask(page, f"/{TOKEN}/", Host=f"{host}:{page.port}")
        assert status == 200
        assert body.startswith(b"<!doctype html>")
        for said in (
            f"content-security-policy: {POLICY}",
            "x-content-type-options: nosniff",
            "referrer-policy: no-referrer",
            "cache-control: no-store",
            "cross-origin-opener-policy: same-origin",
            "cross-origin-resource-policy: same-origin",
        ):
            assert said in head
        assert "set-cookie" not in head
        assert "server:" not in head or "uvicorn" in head
    assert ask(page, f"/{TOKEN}/", "HEAD")[::2] == (200, b"")
    assert ask(page, f"/{TOKEN}/", Origin=page.origin)[0] == 200
    assert ask_socket(page, f"/{TOKEN}/live", Origin=page.origin) == 101


def test_an_address_without_its_last_slash_is_led_on(page: RunningPage):
    status, head, _ = ask(page, f"/{TOKEN}")
    assert status == 307
    assert f"location: /{TOKEN}/".lower() in head


@pytest.mark.parametrize(
    "token", ["", "x", TOKEN[:-1], TOKEN + "x", TOKEN.upper(), "page.html", "live", TOKEN + ";a"]
)
def test_a_wrong_token_finds_nothing(page: RunningPage, token: str):
    for rest in ("/", "/page.js", "/live"):
        status, head, body = ask(page, f"/{token}{rest}")
        assert (status, body) == (404, b"nothing is here\n")
        assert "content-security-policy" in head
    assert ask_socket(page, f"/{token}/live", Origin=page.origin) == 404


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1", "localhost:1", "[::1]:80", "127.0.0.1:80", "", "0.0.0.0"]
)
def test_a_foreign_host_is_refused(page: RunningPage, host: str):
    """As where a foreign name has been made to lead to this computer."""
    status, _, body = ask(page, f"/{TOKEN}/", Host=host)
    assert status in ((403,) if host else (400, 403))
    assert b"evil" not in body
    assert ask_socket(page, f"/{TOKEN}/live", Host=host or "x", Origin=f"http://{host}") == 403


def test_two_hosts_are_refused(page: RunningPage):
    with socket.create_connection(("127.0.0.1", page.port), timeout=10) as connection:
        host = f"Host: 127.0.0.1:{page.port}\r\n"
        connection.sendall(f"GET /{TOKEN}/ HTTP/1.1\r\n{host}{host}Connection: close\r\n\r\n".encode())
        assert connection.recv(65536).split()[1] in (b"400", b"403")


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "file://", "https://127.0.0.1", "http://127.0.0.1"]
)
def test_a_foreign_origin_is_refused(page: RunningPage, origin: str):
    assert ask(page, f"/{TOKEN}/", Origin=origin)[::2] == (403, b"not asked by the page itself\n")
    assert ask_socket(page, f"/{TOKEN}/live", Origin=origin) == 403
    assert ask_socket(page, f"/{TOKEN}/live", Origin=f"{page.origin}.evil.example") == 403
    # Each of the two names goes with itself alone.
    assert ask_socket(page, f"/{TOKEN}/live", Origin=f"http://localhost:{page.port}") == 403


def test_a_socket_without_an_origin_is_refused(page: RunningPage):
    assert ask_socket(page, f"/{TOKEN}/live") == 403


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "BREW"])
def test_other_methods_are_refused(page: RunningPage, method: str):
    assert ask(page, f"/{TOKEN}/", method)[0] == 403
    status, head, _ = ask(page, f"/{TOKEN}/", method, Origin=page.origin)
    assert status == 405
    assert "allow: get, head" in head
    assert ask(page, "/x/", method, Origin=page.origin)[0] == 404


TRICKS = [
    "..",
    "../panel.toml",
    "..%2fpanel.toml",
    "%2e%2e/panel.toml",
    "%2e%2e%2fpanel.toml",
    "....//panel.toml",
    "built/../page.html",
    "./page.html",
    "/page.html",
    "//etc/passwd",
    "/etc/passwd",
    "made/../../panel.toml",
    "made/..",
    "made/",
    "made//etc/passwd",
    "made/panel.toml",
    "made/%00",
    "page.html%00",
    "page.html%00.js",
    "..\\panel.toml",
    "..%5cpanel.toml",
    "page%2ehtml",
    "%70age.html",
    "page.html/",
    "page.html/..",
    "sources.sha256",
    "built.py",
    "scene/../panel.toml",
    "scene/1",
    "scene/-1.json",
    "scene/1.json",
    "scene/٣.json".encode().decode("latin-1"),
    "scene/" + "9" * 400 + ".json",
    "made.zip",
    "PAGE.HTML",
    "page.html;x",
    "p" * 5000,
]


@pytest.mark.parametrize("trick", TRICKS)
def test_no_trick_finds_a_file(page: RunningPage, trick: str):
    status, _, body = ask(page, f"/{TOKEN}/{trick}")
    assert status in (400, 404)
    assert b"[panel]" not in body
    assert b"root:" not in body


@pytest.mark.parametrize(
    "target", ["../panel.toml", "http://evil.example/", "*", f"/../{TOKEN}/", f"//{TOKEN}/", "\\"]
)
def test_odd_targets_find_nothing(page: RunningPage, target: str):
    assert ask(page, target)[0] in (400, 403, 404)


def test_a_head_without_end_is_cut_off(page: RunningPage):
    with socket.create_connection(("127.0.0.1", page.port), timeout=10) as connection:
        connection.sendall(b"GET / HTTP/1.1\r\n")
        try:
            for _ in range(100):
                connection.sendall(b"X: " + b"a" * 10_000 + b"\r\n")
            assert connection.recv(100).split()[1:2] in ([b"400"], [])
        except OSError:
            return


def test_it_listens_at_this_computers_own_address_alone():
    listening = listen_at(0)
    try:
        name, port = listening.getsockname()
        assert name == "127.0.0.1"
        others = [
            one.address
            for some in psutil.net_if_addrs().values()
            for one in some
            if one.family == socket.AF_INET and not one.address.startswith("127.")
        ]
        for address in (*others, "127.0.0.2"):
            with pytest.raises(OSError, match=r"refused|unreachable|timed out|No route"):
                socket.create_connection((address, port), timeout=1).close()
    finally:
        listening.close()


async def answer_of(scope: dict, port: int = 4000) -> list[dict]:
    async def app(scope, receive, send):
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": scope["path"].encode()})

    async def receive():
        return {"type": "websocket.connect"}

    sent: list[dict] = []

    async def send(message):
        sent.append(message)

    await Guard(app, TOKEN, port)(scope, receive, send)
    return sent


def scope_of(**other) -> dict:
    scope = {
        "type": "http",
        "method": "GET",
        "path": f"/{TOKEN}/page.js",
        "client": ("127.0.0.1", 5),
        "headers": [(b"host", b"127.0.0.1:4000")],
    }
    return scope | other


@pytest.mark.parametrize(
    ("client", "status"),
    [(("127.0.0.1", 1), 200), (("::1", 1), 200), (("10.0.0.5", 1), 403), (("x", 1), 403), (None, 403)],
)
def test_only_this_computer_may_ask(client, status: int):
    assert asyncio.run(answer_of(scope_of(client=client)))[0]["status"] == status


@pytest.mark.parametrize(("port", "host", "status"), [(80, b"localhost", 200), (4000, b"localhost", 403)])
def test_the_port_that_goes_with_the_scheme_need_not_be_named(port: int, host: bytes, status: int):
    scope = scope_of(headers=[(b"host", host), (b"origin", b"http://" + host)])
    assert asyncio.run(answer_of(scope, port))[0]["status"] == status


def test_only_what_was_let_in_counts(monkeypatch):
    monkeypatch.setattr(guard, "MOST_REQUESTS", 1)

    async def ask_many() -> list[int]:
        leave = asyncio.Event()
        answers: list[int] = []

        async def app(scope, receive, send):
            await leave.wait()
            await send({"type": "http.response.start", "status": 200})

        async def send(message):
            answers.append(message.get("status", 0))

        asked = Guard(app, TOKEN, 4000)
        refused = [asked(scope_of(path="/wrong/x"), None, send) for _ in range(3)]
        await asyncio.gather(*refused)
        first = asyncio.create_task(asked(scope_of(), None, send))
        await asyncio.sleep(0)
        await asked(scope_of(), None, send)
        leave.set()
        await first
        await asked(scope_of(), None, send)
        return [status for status in answers if status]

    assert asyncio.run(ask_many()) == [404, 404, 404, 503, 200, 200]


def test_the_application_sees_no_token():
    assert asyncio.run(answer_of(scope_of()))[1]["body"] == b"/page.js"


def test_a_server_that_cannot_answer_a_socket_closes_it():
    (closed,) = asyncio.run(answer_of(scope_of(type="websocket")))
    assert (closed["type"], closed["code"]) == ("websocket.close", 1008)


@given(st.binary(max_size=60))
def test_whatever_the_path_holds_it_is_let_in_only_behind_the_token(path: bytes):
    sent = asyncio.run(answer_of(scope_of(raw_path=path)))
    let_in = path.partition(b"?")[0].startswith(f"/{TOKEN}".encode())
    assert let_in or sent[0]["status"] == 404


@given(st.binary(max_size=40))
def test_what_stands_behind_the_token_is_plain(rest: bytes):
    sent = asyncio.run(answer_of(scope_of(raw_path=f"/{TOKEN}/".encode() + rest)))
    rest = rest.partition(b"?")[0]
    if sent[0]["status"] == 200:
        assert sent[1]["body"] == b"/" + rest
        assert not set(rest) & set(b"%\\\0")


def test_tokens_are_long_and_new():
    tokens = {make_token() for _ in range(50)}
    assert len(tokens) == 50
    assert all(len(token) == 43 and token.isascii() for token in tokens)
