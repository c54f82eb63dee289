"""The local page in a real browser, on a socket made by hand: a test tells what it likes, and hears what is wished."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from browser import OpenPage, open_served
from playwright.sync_api import Page, WebSocketRoute

from exports.page.serving.tells import tell_hello

TEXT = '# kept\n[panel]\nname = "sample"\n\n[channel]\nwidth = "8 mm"\n'
HELLO = {
    "tell": "hello",
    "version": "1",
    "file": "panel.toml",
    "demos": [{"name": "laser-driver", "said": "A bench laser driver."}],
    "most_bytes": 100_000,
    "limits": tell_hello("panel.toml")["limits"],
}


@dataclass
class Server:
    """The socket's other end: what the page sent, and who to tell."""

    greeting: list[dict[str, Any]]
    got: list[dict[str, Any]] = field(default_factory=list)
    routes: list[WebSocketRoute] = field(default_factory=list)

    def attach(self, page: Page) -> None:
        """Be the other end of the page's socket."""
        page.route_web_socket(re.compile(r"/live$"), self._open)

    def _open(self, route: WebSocketRoute) -> None:
        self.routes.append(route)
        route.on_message(lambda text: self.got.append(json.loads(text)))
        self.tell(*self.greeting)

    def tell(self, *told: dict[str, Any]) -> None:
        """Tell the page these."""
        for each in told:
            self.routes[-1].send(json.dumps(each))

    def last(self, page: Page, wish: str) -> dict[str, Any]:
        """Return the last message of a kind, once it is there."""
        for _ in range(1000):
            found = [message for message in self.got if message["do"] == wish]
            if found:
                self.got.clear()
                return found[-1]
            page.wait_for_timeout(20)
        raise AssertionError(f"{wish} was never sent; sent: {self.got}")

    def sent(self, page: Page, wish: str, count: int) -> list[dict[str, Any]]:
        """Return all messages of a kind so far, once there are so many."""
        for _ in range(1000):
            found = [message for message in self.got if message["do"] == wish]
            if len(found) >= count:
                return found
            page.wait_for_timeout(20)
        raise AssertionError(f"{count} of {wish} were never sent; sent: {self.got}")


def file_of(revision: int, text: str = TEXT, **more: Any) -> dict[str, Any]:
    """Return what is told of the file."""
    return {
        "tell": "file",
        "revision": revision,
        "name": "panel.toml",
        "exists": True,
        "text": text,
        "undo": None,
        "redo": None,
        "by": "page",
    } | more


def plan_of(told: dict[str, Any], revision: int, **more: Any) -> dict[str, Any]:
    """Return what is told of a plan."""
    return {"tell": "plan", "revision": revision, "ms": 1, **told, **more}


@contextmanager
def shown(
    address: str, *greeting: dict[str, Any], hello: dict[str, Any] = HELLO, **how: Any
) -> Iterator[tuple[Page, Server]]:
    """Open the page; nothing may be asked for elsewhere or complained about in the meantime."""
    server = Server([hello, *greeting])
    opened: OpenPage
    with open_served(address, prepare=server.attach, **how) as opened:
        opened.page.wait_for_selector("html[data-connected=true]", state="attached")
        yield opened.page, server
        assert opened.complaints == []
        assert opened.requests == []


def wait_for(page: Page, **data: str) -> None:
    """Wait until the page says so of itself."""
    wanted = "".join(f'[data-{key.replace("_", "-")}="{value}"]' for key, value in data.items())
    page.wait_for_selector(f"html{wanted}", state="attached")


CUT = """
() => {
  const real = WebSocket, dead = new EventTarget();
  window.WebSocket = class { static OPEN = 1; constructor() { return dead; } };
  window.rejoin = () => { window.WebSocket = real; dead.dispatchEvent(new Event("close")); };
}
"""


@contextmanager
def cut_off(page: Page, server: Server) -> Iterator[None]:
    """Close the connection; the page gets no other until all is done that belongs to its absence."""
    page.evaluate(CUT)
    server.routes[-1].close()
    wait_for(page, connected="false")
    yield
    page.evaluate("rejoin()")
    wait_for(page, connected="true")
