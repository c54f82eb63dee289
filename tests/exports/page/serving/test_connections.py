"""Connections that say nothing end, and take nobody's place."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator

import uvicorn

from exports.page.serving.connections import make_protocol
from exports.page.serving.serve import listen_at


async def _answer(scope, receive, send) -> None:
    await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]})
    await send({"type": "http.response.body", "body": b"ok"})


@contextlib.asynccontextmanager
async def serving(head_s: float, most_silent: int) -> AsyncIterator[int]:
    listening = listen_at(0)
    protocol = make_protocol(head_s, most_silent)
    server = uvicorn.Server(uvicorn.Config(_answer, http=protocol, lifespan="off", log_config=None))
    task = asyncio.create_task(server._serve([listening]))
    while not server.started:
        await asyncio.sleep(0.01)
    yield listening.getsockname()[1]
    server.should_exit = True
    await task


async def _connect(port: int) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
    return await asyncio.open_connection("127.0.0.1", port)


async def _is_ended(reader: asyncio.StreamReader) -> bool:
    with contextlib.suppress(ConnectionError):
        return await reader.read(1) == b""
    return True


def test_a_head_that_does_not_come_whole_ends_the_connection():
    async def talk() -> None:
        async with serving(0.3, 10) as port, asyncio.timeout(20):
            silent, _ = await _connect(port)
            halting, writer = await _connect(port)
            writer.write(b"GET / HTTP/1.1\r\nHost: x\r\n")
            again, asking = await _connect(port)
            asking.write(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
            assert (await again.readuntil(b"ok")).startswith(b"HTTP/1.1 200")
            asking.write(b"GET / HTTP")
            assert await _is_ended(silent)
            assert await _is_ended(halting)
            assert await _is_ended(again)

    asyncio.run(talk())


def test_silent_connections_make_room():
    async def talk() -> None:
        async with serving(1e6, 5) as port, asyncio.timeout(20):
            silent = [await _connect(port) for _ in range(9)]
            reader, writer = await _connect(port)
            writer.write(b"GET / HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
            assert (await reader.read()).endswith(b"ok")
            for ended, _ in silent[:4]:
                assert await _is_ended(ended)
            for _, writer in silent:
                writer.close()

    asyncio.run(talk())
