"""A server of the local page with processes that compute nothing: they note what they are asked for."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from exports.page.serving import application
from exports.page.serving.guard import Guard
from exports.page.serving.serve import listen_at
from exports.page.serving.session import Session
from layouts.panels.catalogue import demo_path

TOKEN = "a-token-that-only-tests-know"
DEMO = demo_path("laser-driver").read_text(encoding="utf-8")


def change(*path: str | int, value: Any) -> dict[str, Any]:
    """Return a gesture that changes one key."""
    return {"changes": [{"path": list(path), "value": value}]}


class FakeWorkers:
    """Notes what it is asked for; tells nothing by itself but a plan of each settled text."""

    def __init__(self, tell: Callable[[dict[str, Any], str | None], None]) -> None:
        self.tell = tell
        self.asked: list[tuple[Any, ...]] = []
        self.told: dict[str, dict[str, Any]] = {}
        self.scenes: dict[int, str] = {}

    async def start(self) -> None:
        self.asked.append(("start",))

    async def close(self) -> None:
        self.asked.append(("close",))

    def draft(self, client: str, number: int, text: str) -> None:
        self.asked.append(("draft", client, number, text))

    def drop(self, client: str) -> None:
        self.asked.append(("drop", client))

    def places(self, client: str, number: int, text: str, thing: str) -> None:
        self.asked.append(("places", client, number, text, thing))

    def settle(self, revision: int, text: str) -> None:
        self.asked.append(("settle", revision, text))
        self.say({"tell": "plan", "revision": revision, "ms": 1})

    def make(self, revision: int, text: str, folder: Path) -> None:
        self.asked.append(("make", revision, text, folder))

    def stop_make(self) -> None:
        self.asked.append(("stop",))

    def scene(self, revision: int) -> str | None:
        return self.scenes.get(revision)

    def routed(self, revision: int) -> None:
        return None

    def last_told(self) -> tuple[dict[str, Any], ...]:
        return tuple(self.told.values())

    def say(self, event: dict[str, Any]) -> None:
        """Tell all something, and keep it for those who come later."""
        self.told[event["tell"]] = event
        self.tell(event, None)

    def asked_for(self, what: str) -> list[tuple[Any, ...]]:
        return [one for one in self.asked if one[0] == what]


@dataclass
class RunningPage:
    """A server at work in a thread of its own."""

    port: int
    path: Path
    session: Session
    workers: FakeWorkers
    said: list[str]
    loop: asyncio.AbstractEventLoop

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}/{TOKEN}/"

    @property
    def live(self) -> str:
        return f"ws://127.0.0.1:{self.port}/{TOKEN}/live"

    @property
    def origin(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def do(self, work: Callable[..., Any], *given: Any) -> Any:
        """Call something on the server's loop and return what it gives."""

        async def call() -> Any:
            return work(*given)

        return asyncio.run_coroutine_threadsafe(call(), self.loop).result(10)


@contextlib.contextmanager
def run_page(path: Path, folder: Path) -> Iterator[RunningPage]:
    """Serve a file for as long as this lasts.

    Parameters
    ----------
    path : Path
    folder : Path
        For made files.
    """
    import uvicorn

    listening = listen_at(0)
    port = listening.getsockname()[1]
    ready = threading.Event()
    kept: dict[str, Any] = {"said": []}

    async def serve() -> None:
        session = Session(path, folder, FakeWorkers, kept["said"].append)
        server = uvicorn.Server(
            uvicorn.Config(
                Guard(application.build_application(session), TOKEN, port),
                loop="asyncio",
                http="h11",
                lifespan="off",
                interface="asgi3",
                log_config=None,
                access_log=False,
                ws_max_size=application.MOST_MESSAGE,
                timeout_graceful_shutdown=1,
            )
        )
        kept.update(session=session, server=server, loop=asyncio.get_running_loop())
        await session.open()
        ready.set()
        await server.serve(sockets=[listening])
        await session.close()

    thread = threading.Thread(target=lambda: asyncio.run(serve()), daemon=True)
    thread.start()
    assert ready.wait(10)
    session = kept["session"]
    try:
        yield RunningPage(port, path, session, session.computing, kept["said"], kept["loop"])
    finally:
        kept["server"].should_exit = True
        thread.join(10)
        listening.close()
    assert not thread.is_alive()
