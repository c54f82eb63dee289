"""Connections before a request has come over them: they wait neither for good nor in any number.

Whoever connects may say nothing at all; such a connection must not take the place of the page's own.
"""

from __future__ import annotations

import asyncio
from typing import Any

HEAD_S = 10.0
"""So long may a request's head take to come, [s]."""

MOST_SILENT = 200
"""Connections that may wait for a head at once; the one that has waited longest makes room."""


def make_protocol(head_s: float = HEAD_S, most_silent: int = MOST_SILENT) -> type[asyncio.Protocol]:
    """Return uvicorn's protocol of a connection, which ends one that stays silent.

    Parameters
    ----------
    head_s : float
        So long may a request's head take to come, [s].
    most_silent : int
        Connections that may wait for one at once.
    """
    from uvicorn.protocols.http.h11_impl import H11Protocol

    silent: dict[Any, asyncio.TimerHandle] = {}

    class SpokenProtocol(H11Protocol):
        """Ends where no head comes in time, from the start and after each answer."""

        def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
            super().connection_made(transport)
            self._wait()

        def handle_events(self) -> None:
            cycle = self.cycle
            super().handle_events()
            if self.cycle is not cycle:
                self._stop_waiting()

        def handle_websocket_upgrade(self, event: Any) -> None:
            self._stop_waiting()
            super().handle_websocket_upgrade(event)

        def on_response_complete(self) -> None:
            super().on_response_complete()
            # Another request may have come with the one before.
            if not self.transport.is_closing() and self.cycle.response_complete:
                self._wait()

        def connection_lost(self, exc: Exception | None) -> None:
            self._stop_waiting()
            super().connection_lost(exc)

        def _wait(self) -> None:
            self._stop_waiting()
            silent[self] = self.loop.call_later(head_s, self._give_up)
            if len(silent) > most_silent:
                next(iter(silent))._give_up()

        def _stop_waiting(self) -> None:
            timer = silent.pop(self, None)
            if timer is not None:
                timer.cancel()

        def _give_up(self) -> None:
            self._stop_waiting()
            self.transport.abort()

    return SpokenProtocol
