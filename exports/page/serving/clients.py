"""The pages that are open: what waits to be sent to each, and what it has asked for."""

from __future__ import annotations

import asyncio
import json
import re
from collections.abc import Callable
from typing import Any

from exports.page.serving.wishes import Draft

MOST_CLIENTS = 16

MOST_WAITING = 400
MOST_WAITING_LETTERS = 60_000_000
"""Messages, and letters of them, that may wait for a page; one that reads no more is dropped."""

MOST_WISHES = 64
"""Wishes of one page that may wait for their turn."""


_HALVES = re.compile("[\ud800-\udfff]")
"""Halves of a sign of two: no message may hold one. Names of files do, for bytes that are no text."""


class Client:
    """One open page.

    Parameters
    ----------
    key : str
        Tells it from all others.
    """

    def __init__(self, key: str) -> None:
        self.key = key
        self.lost = asyncio.Event()
        """Set once the page is given up: it reads too slowly."""
        self.waiting: asyncio.Queue[str] = asyncio.Queue()
        self.next_draft: Draft | None = None
        self.newest_draft = -1
        """The largest number of a draft so far: an older one is stale."""
        self.trying = False
        """Whether a draft is shown: answers that come after its end are stale."""
        self.drafting = False
        """Whether a draft is being worked out."""
        self._letters = 0

    def tell(self, event: dict[str, Any]) -> None:
        """Send a message when the page reads it; give the page up where too much waits already.

        Parameters
        ----------
        event : dict
            A `Tell` of messages.ts.
        """
        if self.lost.is_set():
            return
        message = json.dumps(event, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        message = _HALVES.sub("\ufffd", message)
        self._letters += len(message)
        if self.waiting.qsize() >= MOST_WAITING or self._letters > MOST_WAITING_LETTERS:
            self.lost.set()
            return
        self.waiting.put_nowait(message)

    async def next_message(self) -> str:
        """Return the next message that is to be sent."""
        message = await self.waiting.get()
        self._letters -= len(message)
        return message


class Clients:
    """All open pages."""

    def __init__(self) -> None:
        self._open: dict[str, Client] = {}
        self._count = 0

    def __len__(self) -> int:
        return len(self._open)

    def enter(self) -> Client | None:
        """Return a new client; None where there are as many as there may be."""
        if len(self._open) >= MOST_CLIENTS:
            return None
        self._count += 1
        client = Client(f"page {self._count}")
        self._open[client.key] = client
        return client

    def leave(self, client: Client) -> None:
        """Forget a client that has gone."""
        self._open.pop(client.key, None)

    def find(self, key: str) -> Client | None:
        """Return the client of a key; None where it has gone."""
        return self._open.get(key)

    def tell_all(self, event: dict[str, Any]) -> None:
        """Send a message to every page."""
        for client in tuple(self._open.values()):
            client.tell(event)


Say = Callable[[str], None]
"""Says one line on the terminal."""
