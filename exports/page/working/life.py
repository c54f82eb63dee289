"""One life of a working process, as the server sees it: started, spoken to, heard, ended."""

from __future__ import annotations

import asyncio
import contextlib
import ctypes
import multiprocessing
import signal
import threading
from collections.abc import Callable, Iterator
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection
from typing import Any

from exports.page.working.job import Job, OpenWork
from exports.page.working.job_loop import serve_jobs

LEAVE_S = 5.0
"""How long a killed process may take to leave, [s]."""


class Life:
    """A working process from its start to its end.

    Parameters
    ----------
    name : str
        "planner" or "builder".
    open_work : callable
        Gives what does a job; called in the process.
    path : str
        Name of the panel file.
    nice : int
        By how much other processes come first.
    heard : callable
        Called on the event loop with this life and each message.
    ended : callable
        Called on the event loop with this life once the process has ended, after all its messages.
    """

    def __init__(
        self,
        name: str,
        open_work: OpenWork,
        path: str,
        nice: int,
        heard: Callable[[Life, Any], None],
        ended: Callable[[Life], None],
    ) -> None:
        context = multiprocessing.get_context("spawn")
        self._loop = asyncio.get_running_loop()
        self._heard, self._ended = heard, ended
        self._pipe, theirs = context.Pipe()
        self._outdated = context.RawValue(ctypes.c_longlong, 0)
        self._process = context.Process(
            target=serve_jobs,
            args=(theirs, self._outdated, open_work, path, nice),
            name=f"rillplate {name}",
            daemon=True,
        )
        with _without_interrupts():
            self._process.start()
        theirs.close()
        self._listener = threading.Thread(target=self._listen, args=(self._pipe,), daemon=True)
        self._listener.start()

    @property
    def pid(self) -> int:
        """The process's number."""
        assert self._process.pid is not None
        return self._process.pid

    @property
    def exit_code(self) -> int | None:
        """How it ended: less than 0 by that signal; None while it lives."""
        return self._process.exitcode

    def send(self, job: Job) -> None:
        """Give it a job; it must be ready and have none."""
        # A process that has just died is heard of by its end.
        with contextlib.suppress(OSError):
            self._pipe.send(job)

    def outdate(self, serial: int) -> None:
        """Let a job, and all before it, end at the next stage."""
        self._outdated.value = max(self._outdated.value, serial)

    def kill(self) -> None:
        """End it at once; its end is then told."""
        self._process.kill()

    async def leave(self) -> None:
        """End it and wait until it has gone."""
        self.kill()
        await asyncio.to_thread(self._process.join, LEAVE_S)
        await asyncio.to_thread(self._listener.join, LEAVE_S)

    def _listen(self, pipe: Connection) -> None:
        try:
            while True:
                self._call(self._heard, self, pipe.recv())
        # A process that is killed amid a message leaves half of one.
        except (EOFError, OSError, ValueError):
            pass
        self._process.join()
        pipe.close()
        self._call(self._ended, self)

    def _call(self, function: Callable[..., None], *arguments: Any) -> None:
        # The loop may have ended before the process.
        with contextlib.suppress(RuntimeError):
            self._loop.call_soon_threadsafe(function, *arguments)


@contextlib.contextmanager
def _without_interrupts() -> Iterator[None]:
    """Start processes that Ctrl-C in the terminal does not reach, not even while they load."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    # The first process that is started starts this one too, and lets interrupts through again after it.
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
