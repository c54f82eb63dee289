"""A working process with the orders that wait for it: kept warm, watched, and started anew where it ends.

*Order*: what is asked for, in the server's terms. *Key*: of orders with one key only the newest waits. An order that is
being worked at is *abandoned* where its answer is no longer wanted: nothing more of it is told, and the process leaves
it at the end of a stage.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import Any, Protocol

from exports.page.working.job import Ended, Ending, Job, Kind, OpenWork, Ready, Told, Unready
from exports.page.working.life import Life

SOFT_SHARE = 0.7
"""Of the most memory: a process that holds more is started anew once it has nothing to do.

Measured: from nothing to its files the main example takes a builder to 1.0 GB, and after three times it holds 1.1 GB.
So 30 % of the usual 4 GB are left for such a run more, and at rest it stays under 70 % of the least limit, 2 GB.
"""

MOST_STARTS = 3
"""A process that ends so often before it is ready is not started again until something new is asked for."""

MOST_TRIES = 2
"""How often an order is given to a process that ends at it."""


@dataclass(frozen=True, slots=True)
class Order:
    """What a process is asked for.

    Parameters
    ----------
    kind : {"draft", "places", "quick", "whole", "make"}
    key : tuple
        Of orders with one key only the newest waits.
    text : str
        Of the panel file.
    rank : int
        Those of less rank come first.
    client : str or None
        The page that asks; None where all are told.
    number : int
        The page's own of its wish.
    revision : int
        Of the text.
    thing : str
    folder : Path or None
    """

    kind: Kind
    key: tuple[str | None, ...]
    text: str
    rank: int = 0
    client: str | None = None
    number: int = 0
    revision: int = 0
    thing: str = ""
    folder: Path | None = None


class Hears(Protocol):
    """Who is told of a lane's work, on the event loop."""

    def hear(self, order: Order, what: str, value: Any) -> None:
        """Take part of an answer."""

    def finish(self, order: Order, how: Ending, why: str) -> None:
        """Take that an order has ended: all but those whose waiting was dropped end once."""

    def restarted(self, why: str, urgent: bool) -> None:
        """Take that a process was started anew; urgent: it failed, or was ended amid work that was wanted."""

    def dress(self, order: Order, serial: int, held: int) -> Job:
        """Return the job of an order; `held` is the version of the layout that the process has."""


def measure_memory(pid: int) -> int:
    """Return how much memory a process holds, in bytes; 0 where it has gone."""
    import psutil

    try:
        return int(psutil.Process(pid).memory_info().rss)
    except psutil.Error:
        return 0


@dataclass(frozen=True, slots=True)
class Watch:
    """How a process's memory is watched.

    Parameters
    ----------
    most_bytes : int
        It is ended where it holds more.
    measure : callable
        Gives the memory of a process by its number, in bytes.
    every_s : float
        How often that is asked while it works, [s].
    """

    most_bytes: int
    measure: Callable[[int], int] = measure_memory
    every_s: float = 1.0


class Lane:
    """A working process and its orders.

    Parameters
    ----------
    name : str
        "planner" or "builder".
    open_work : callable
        Gives what does a job; called in the process.
    path : str
        Name of the panel file.
    hears : Hears
    watch : Watch
    nice : int
        By how much other processes come first.
    """

    def __init__(
        self, name: str, open_work: OpenWork, path: str, hears: Hears, watch: Watch, nice: int = 0
    ) -> None:
        self.name = name
        self._open_work, self._path, self._nice = open_work, path, nice
        self._hears, self._watching = hears, watch
        self._life: Life | None = None
        self._ready = False
        self._closing = False
        self._starts = 0
        self._serials = count(1)
        self._serial = 0
        self._held = 0
        self._waiting: dict[tuple[str | None, ...], Order] = {}
        self._running: Order | None = None
        self._abandoned = False
        self._tries = 0
        self._killed_why = ""
        self._urgent = True
        self._unready_why = ""
        self._timers: list[asyncio.TimerHandle] = []

    @property
    def running(self) -> Order | None:
        """The order that is being worked at, unless it was abandoned."""
        return None if self._abandoned else self._running

    @property
    def pid(self) -> int | None:
        """The process's number; None where there is none."""
        return None if self._life is None else self._life.pid

    def start(self) -> None:
        """Start the process; orders wait until it is ready."""
        if self._life is None and not self._closing:
            self._ready, self._held = False, 0
            self._life = Life(
                self.name, self._open_work, self._path, self._nice, self._on_message, self._on_end
            )

    async def close(self) -> None:
        """End the process; nothing is told any more."""
        self._closing = True
        self._stop_timers()
        self._waiting.clear()
        if self._life is not None:
            await self._life.leave()

    def put(self, order: Order) -> None:
        """Let an order wait, in the turn of one with its key where there is one."""
        if self._closing:
            return
        self._waiting[order.key] = order
        if self._life is None:
            self._starts = 0
            self.start()
        self._next()

    def withdraw(self, key: tuple[str | None, ...]) -> Order | None:
        """Return the order of a key that waits, and let it wait no more; None where none does."""
        return self._waiting.pop(key, None)

    def drop(self, key: tuple[str | None, ...]) -> bool:
        """Forget the order of a key: waiting or being worked at; return whether there was one."""
        waited = self.withdraw(key) is not None
        ran = self.running is not None and self.running.key == key
        if ran:
            self.abandon()
        return waited or ran

    def abandon(self, within_s: float | None = None, why: str = "") -> None:
        """Abandon the order that is being worked at.

        Parameters
        ----------
        within_s : float, optional
            Where it has not been left after so long, [s], the process is killed; never unless given.
        why : str
            What is then told.
        """
        order, life = self.running, self._life
        if order is None:
            return
        self._abandoned = True
        if life is None:
            return
        life.outdate(self._serial)
        if within_s is not None:
            serial = self._serial
            self._later(within_s, lambda: self._kill_at(serial, why))

    def _kill_at(self, serial: int, why: str) -> None:
        if self._running is not None and self._serial == serial:
            # What is abandoned is missed by nobody.
            self._kill(why, urgent=False)

    def _next(self) -> None:
        life = self._life
        if life is None or not self._ready or self._running is not None or not self._waiting:
            return
        key = min(self._waiting, key=lambda one: self._waiting[one].rank)
        self._running, self._abandoned, self._tries = self._waiting.pop(key), False, 0
        self._give(life, self._running)

    def _give(self, life: Life, order: Order) -> None:
        self._serial = next(self._serials)
        self._tries += 1
        job = self._hears.dress(order, self._serial, self._held)
        self._held = job.base_version or self._held
        life.send(job)
        self._later(self._watching.every_s, self._watch)

    def _on_message(self, life: Life, message: Any) -> None:
        if life is not self._life or self._closing:
            return
        if isinstance(message, Ready):
            self._ready, self._starts, self._unready_why = True, 0, ""
            if self._abandoned:
                # What nobody waits for any more while the process was started anew is not begun again.
                self._finish("outdated", "")
            # One that ended at an order takes that up again first.
            if self._running is not None:
                self._give(life, self._running)
            else:
                self._next()
        elif isinstance(message, Unready):
            self._unready_why = message.why
        elif isinstance(message, Told) and message.serial == self._serial:
            if self.running is not None:
                self._hears.hear(self.running, message.what, message.value)
        elif isinstance(message, Ended) and message.serial == self._serial:
            self._finish(message.how, message.why)
            self._rest(life)

    def _finish(self, how: Ending, why: str) -> None:
        order, abandoned = self._running, self._abandoned
        self._running, self._abandoned = None, False
        self._stop_timers()
        if order is not None:
            self._hears.finish(order, "outdated" if abandoned else how, why)

    def _rest(self, life: Life) -> None:
        """Start a process anew that holds much, now that it has nothing to do; else give it the next order."""
        held = self._watching.measure(life.pid)
        if held > SOFT_SHARE * self._watching.most_bytes:
            self._kill(f"the {self.name} gave back {_show(held)} of memory after its work", urgent=False)
        else:
            self._next()

    def _watch(self) -> None:
        life = self._life
        if life is None or self._running is None or not self._ready:
            return
        held = self._watching.measure(life.pid)
        if held > self._watching.most_bytes:
            limit = _show(self._watching.most_bytes)
            self._kill(
                f"the {self.name} held {_show(held)} of memory, over its limit of {limit}", urgent=True
            )
        else:
            self._later(self._watching.every_s, self._watch)

    def _kill(self, why: str, urgent: bool) -> None:
        if self._life is not None and self._ready:
            self._ready = False
            self._killed_why, self._urgent = why, urgent
            self._life.kill()

    def _on_end(self, life: Life) -> None:
        if life is not self._life or self._closing:
            return
        why, urgent = self._tell_end(life), self._urgent
        was_ready = self._ready or bool(self._killed_why)
        self._life, self._ready, self._killed_why, self._urgent, self._unready_why = None, False, "", True, ""
        self._stop_timers()
        self._starts += 0 if was_ready else 1
        if self._running is not None and (self._abandoned or self._tries >= MOST_TRIES):
            again = "" if self._tries < MOST_TRIES else f", {self._tries} times at the same work"
            self._finish("died", why + again)
        if self._starts >= MOST_STARTS:
            self._give_up(why)
            return
        self._hears.restarted(why, urgent)
        self.start()

    def _tell_end(self, life: Life) -> str:
        if self._killed_why:
            return self._killed_why
        if self._unready_why:
            return f"the {self.name} did not start: {self._unready_why}"
        return f"the {self.name} ended by itself ({_show_end(life.exit_code)})"

    def _give_up(self, why: str) -> None:
        self._finish("died", why)
        waiting = tuple(self._waiting.values())
        self._waiting.clear()
        for order in waiting:
            self._hears.finish(order, "died", f"{why}; it could not be started {self._starts} times")

    def _later(self, seconds: float, function: Callable[[], None]) -> None:
        loop = asyncio.get_running_loop()
        self._timers = [timer for timer in self._timers if timer.when() > loop.time()]
        self._timers.append(loop.call_later(seconds, function))

    def _stop_timers(self) -> None:
        for timer in self._timers:
            timer.cancel()
        self._timers.clear()


def _show(size: int) -> str:
    return f"{size / 1e9:.1f} GB"


def _show_end(code: int | None) -> str:
    return f"signal {-code}" if code is not None and code < 0 else f"code {code}"
