"""What is answered at which address, once the guard has let a request through: the page, its files, scene, made files
and the socket "live".
"""

from __future__ import annotations

import asyncio
import contextlib
import re
from http import HTTPStatus

from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.websockets import WebSocket, WebSocketDisconnect

from exports.page.serving.clients import MOST_WISHES, Client
from exports.page.serving.guard import NOT_HERE, App, Receive, Refusal, Scope, Send, refuse
from exports.page.serving.made_files import ALL_NAME, find_made, pack_made
from exports.page.serving.page_files import PageFile, list_built, pack_text, page_document, read_page_file
from exports.page.serving.session import Session
from exports.page.serving.tells import tell_refused
from exports.page.serving.wishes import number_of
from layouts.file.read import MOST_BYTES

MOST_MESSAGE = 2 * MOST_BYTES + 100_000
"""Bytes of one message of a page: the longest file, each letter of it escaped."""

MOST_SENDING_S = 30.0
"""So long may a page take to read one message."""

MOST_LEAVING_S = 5.0
"""So long are the last wishes of a page that has gone worked at."""

TRY_LATER = 1013
"""Code that closes a socket of a page that reads too slowly, as RFC 6455's register has it."""

FULL_HOUSE = Refusal(
    HTTPStatus.SERVICE_UNAVAILABLE, "as many pages are open as may be; close one and load this again"
)

_SCENE = re.compile(r"/scene/([0-9]{1,15})\.json")


def build_application(session: Session) -> App:
    """Return the application of a session; it stands behind the guard.

    Parameters
    ----------
    session : Session
    """
    built = list_built()
    packing = asyncio.Lock()

    async def answer(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket":
            if scope["path"] == "/live":
                await _live(session, scope, receive, send)
            else:
                await refuse(scope, receive, send, NOT_HERE)
            return
        response = await find(scope["path"], Request(scope))
        if response is None:
            await refuse(scope, receive, send, NOT_HERE)
        else:
            await response(scope, receive, send)

    async def find(path: str, request: Request) -> Response | None:
        name = path.removeprefix("/")
        if name in ("", "page.html"):
            return _text_response(page_document(built), request)
        if name in built:
            with contextlib.suppress(OSError):
                return _text_response(read_page_file(built[name]), request)
            return None
        scene = _SCENE.fullmatch(path)
        if scene is not None:
            text = session.computing.scene(int(scene[1]))
            if text is None:
                return None
            data = text.encode("utf-8")
            packed = await asyncio.to_thread(pack_text, data)
            return _text_response(PageFile("application/json", data, packed), request)
        return await find_download(name)

    async def find_download(name: str) -> Response | None:
        made = session.made
        if made is None:
            return None
        if name == ALL_NAME and made.names:
            async with packing:
                try:
                    archive = await asyncio.to_thread(pack_made, made, session.archive_of(made))
                except FileNotFoundError:
                    # A newer run has taken the place of this one meanwhile.
                    return None
            return FileResponse(archive, filename=ALL_NAME, media_type="application/zip")
        folder, _, file = name.partition("/")
        path = find_made(made, file) if folder == "made" else None
        if path is None:
            return None
        # As bytes to be saved, whatever it is: nothing that was made runs in the page's name.
        return FileResponse(path, filename=file, media_type="application/octet-stream")

    return answer


def _text_response(file: PageFile, request: Request) -> Response:
    packed = file.packed and "gzip" in request.headers.get("accept-encoding", "")
    headers = {"vary": "accept-encoding"} | ({"content-encoding": "gzip"} if packed else {})
    return Response(file.packed if packed else file.data, headers=headers, media_type=file.media)


async def _live(session: Session, scope: Scope, receive: Receive, send: Send) -> None:
    """Talk with one page until it goes, or reads no more."""
    client = session.clients.enter()
    if client is None:
        await refuse(scope, receive, send, FULL_HOUSE)
        return
    socket = WebSocket(scope, receive, send)
    work: list[asyncio.Task[None]] = []
    try:
        await socket.accept()
        session.welcome(client)
        wishes: asyncio.Queue[str] = asyncio.Queue(MOST_WISHES)
        work = [
            asyncio.create_task(_send_all(socket, client)),
            asyncio.create_task(_read_all(socket, client, wishes)),
            asyncio.create_task(_do_all(session, client, wishes)),
            asyncio.create_task(_wait_lost(client)),
        ]
        await asyncio.wait(work, return_when=asyncio.FIRST_COMPLETED)
        # What a page asked for before it went is done all the same.
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(MOST_LEAVING_S):
                await wishes.join()
    finally:
        session.part(client)
        for task in work:
            task.cancel()
        await asyncio.gather(*work, return_exceptions=True)
    if client.lost.is_set():
        with contextlib.suppress(RuntimeError, OSError, WebSocketDisconnect):
            await socket.close(TRY_LATER, "this page read too slowly; load it again")


async def _send_all(socket: WebSocket, client: Client) -> None:
    while True:
        message = await client.next_message()
        try:
            async with asyncio.timeout(MOST_SENDING_S):
                await socket.send_text(message)
        except TimeoutError:
            client.lost.set()
            return
        except (WebSocketDisconnect, RuntimeError, OSError):
            return


async def _read_all(socket: WebSocket, client: Client, wishes: asyncio.Queue[str]) -> None:
    while True:
        message = await socket.receive()
        if message["type"] != "websocket.receive":
            return
        text = message.get("text")
        if text is None:
            client.tell(tell_refused(0, "messages are text"))
        elif wishes.full():
            why = f"more than {MOST_WISHES} wishes at once, so this one was not done; wait for the answers"
            client.tell(tell_refused(number_of(text), why))
        else:
            wishes.put_nowait(text)


async def _do_all(session: Session, client: Client, wishes: asyncio.Queue[str]) -> None:
    while True:
        await session.hear(client, await wishes.get())
        wishes.task_done()


async def _wait_lost(client: Client) -> None:
    await client.lost.wait()
