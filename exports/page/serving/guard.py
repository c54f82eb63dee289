"""Who may ask the server at all, and what every answer says to the browser.

The page runs on the maker's own computer, beside every other page that the browser has open. Each request must come
from this computer, name the server by one of its two names, bear the run's token in its path, and, where it comes from
a script or opens a socket, come from the page itself. What is refused is told in a few plain words that repeat nothing
of the request.
"""

from __future__ import annotations

import ipaddress
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

TOKEN_BYTES = 32

HOSTS = ("127.0.0.1", "localhost")
HTTP_PORT = 80

MOST_REQUESTS = 200
"""Requests, sockets among them, that are answered at once, of those that were let through."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self' data: blob:; "
    "font-src 'self'; worker-src 'self' blob:; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
)

HEADERS = (
    (b"content-security-policy", POLICY.encode("ascii")),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    # The address bears a token that no other run knows: nothing could be used again.
    (b"cache-control", b"no-store"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)

METHODS = ("GET", "HEAD")

_DENIAL = "websocket.http.response"
"""What a server is able to do that can answer a refused socket with words."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a request is not answered: status and a few words."""

    status: HTTPStatus
    why: str


FOREIGN_CLIENT = Refusal(HTTPStatus.FORBIDDEN, "only this computer may ask")
FOREIGN_HOST = Refusal(HTTPStatus.FORBIDDEN, "not a name of this server")
FOREIGN_ORIGIN = Refusal(HTTPStatus.FORBIDDEN, "not asked by the page itself")
NOT_HERE = Refusal(HTTPStatus.NOT_FOUND, "nothing is here")
CROWDED = Refusal(HTTPStatus.SERVICE_UNAVAILABLE, "more is asked at once than is answered; ask again")
WRONG_METHOD = Refusal(HTTPStatus.METHOD_NOT_ALLOWED, "only GET and HEAD are answered")


def make_token() -> str:
    """Return a new token: what an address bears that nobody can guess."""
    return secrets.token_urlsafe(TOKEN_BYTES)


class Guard:
    """Lets a request through to the application, or refuses it.

    The application sees the path without the token, beginning with a slash.

    Parameters
    ----------
    app : callable
        ASGI application.
    token : str
    port : int
        That the server listens at.
    """

    def __init__(self, app: App, token: str, port: int) -> None:
        self._app = app
        self._token = token.encode("ascii")
        # A browser leaves out the port that goes with the scheme.
        ends = (f":{port}", "") if port == HTTP_PORT else (f":{port}",)
        self._hosts = tuple(f"{name}{end}".encode("ascii") for name in HOSTS for end in ends)
        self._count = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection."""
        if scope["type"] not in ("http", "websocket"):
            return
        told = _with_headers(send)
        refusal = self._refusal(scope)
        if refusal is not None:
            await refuse(scope, receive, told, refusal)
            return
        path = _raw_path(scope).partition(b"/")[2].decode("ascii")
        if not _raw_path(scope)[len(self._token) :]:
            await _lead_on(scope, told)
            return
        if self._count >= MOST_REQUESTS:
            await refuse(scope, receive, told, CROWDED)
            return
        self._count += 1
        try:
            await self._app(
                {**scope, "path": f"/{path}", "raw_path": f"/{path}".encode("ascii")}, receive, told
            )
        finally:
            self._count -= 1

    def _refusal(self, scope: Scope) -> Refusal | None:
        if not _is_loopback(scope):
            return FOREIGN_CLIENT
        hosts = _values(scope, b"host")
        if len(hosts) != 1 or hosts[0] not in self._hosts:
            return FOREIGN_HOST
        origins = _values(scope, b"origin")
        socket = scope["type"] == "websocket"
        needed = socket or scope["method"] not in METHODS
        if (origins or needed) and origins != [b"http://" + hosts[0]]:
            return FOREIGN_ORIGIN
        path = _raw_path(scope)
        # No name of ours needs another letter: what is written in another way is not looked at any further.
        if not path.isascii() or any(letter in path for letter in b"%\\\0"):
            return NOT_HERE
        if not secrets.compare_digest(path.partition(b"/")[0], self._token):
            return NOT_HERE
        if not socket and scope["method"] not in METHODS:
            return WRONG_METHOD
        return None


async def refuse(scope: Scope, receive: Receive, send: Send, refusal: Refusal) -> None:
    """Answer a request, or a socket that is not accepted yet, with a refusal.

    Parameters
    ----------
    scope : dict
    receive, send : callable
        Of ASGI.
    refusal : Refusal
    """
    start = "http.response"
    if scope["type"] == "websocket":
        await receive()
        if _DENIAL not in scope.get("extensions", {}):
            await send({"type": "websocket.close", "code": 1008, "reason": refusal.why})
            return
        start = _DENIAL
    body = f"{refusal.why}\n".encode("ascii")
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(body)).encode("ascii")),
    ]
    if refusal.status == HTTPStatus.METHOD_NOT_ALLOWED:
        headers.append((b"allow", b", ".join(name.encode("ascii") for name in METHODS)))
    await send({"type": f"{start}.start", "status": int(refusal.status), "headers": headers})
    await send({"type": f"{start}.body", "body": b"" if scope.get("method") == "HEAD" else body})


async def _lead_on(scope: Scope, send: Send) -> None:
    """Answer an address that lacks only its last slash, without which nothing beneath it is found."""
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008})
        return
    headers = [(b"location", b"/" + _raw_path(scope) + b"/"), (b"content-length", b"0")]
    await send(
        {"type": "http.response.start", "status": int(HTTPStatus.TEMPORARY_REDIRECT), "headers": headers}
    )
    await send({"type": "http.response.body", "body": b""})


def _with_headers(send: Send) -> Send:
    """Return a `send` that puts what every answer says before what the answer itself says."""

    async def send_with(message: Message) -> None:
        if message["type"] in ("http.response.start", f"{_DENIAL}.start"):
            own = {name.lower() for name, _ in message.get("headers", ())}
            more = [(name, value) for name, value in HEADERS if name not in own]
            message = {**message, "headers": [*message.get("headers", ()), *more]}
        await send(message)

    return send_with


def _raw_path(scope: Scope) -> bytes:
    """Return the path as it was asked for, nothing decoded, without its first slash; empty where it has none."""
    raw = scope.get("raw_path")
    path = scope["path"].encode("utf-8", errors="replace") if raw is None else bytes(raw).partition(b"?")[0]
    return path[1:] if path.startswith(b"/") else b""


def _is_loopback(scope: Scope) -> bool:
    client = scope.get("client")
    try:
        return client is not None and ipaddress.ip_address(client[0]).is_loopback
    except ValueError:
        return False


def _values(scope: Scope, name: bytes) -> list[bytes]:
    return [value for key, value in scope["headers"] if key.lower() == name]
