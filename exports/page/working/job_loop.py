"""The inside of a working process: it does one job after the other until the server's process has gone."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import Any, TypeVar

from exports.page.working.job import (
    Ended,
    Ending,
    Job,
    OpenWork,
    Outdated,
    Ready,
    Told,
    Unready,
    Work,
)

T = TypeVar("T")

DEBUG = "RILLPLATE_DEBUG"
"""Set in the environment: mistakes in the program are told with all they know, on standard error."""

MOST_SAID = 200
"""Letters of a library's own message that a user is shown: enough for the name of a file that is missing."""


def serve_jobs(pipe: Connection, outdated: Any, open_work: OpenWork, path: str, nice: int) -> None:
    """Do jobs from a pipe, and answer them through it.

    Parameters
    ----------
    pipe : Connection
    outdated : shared int
        The serial of the job that is no longer wanted.
    open_work : callable
        Gives what does a job.
    path : str
        Name of the panel file.
    nice : int
        By how much other processes come first.
    """
    # Ctrl-C is for the server, which ends this process.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    if nice and hasattr(os, "nice"):
        os.nice(nice)
    try:
        work = _try(lambda: open_work(path), tell_unready)
        if isinstance(work, _Failed):
            pipe.send(Unready(work.why))
            return
        pipe.send(Ready())
        while True:
            job = pipe.recv()
            pipe.send(_do(work, job, pipe, outdated))
    except (EOFError, ConnectionError):
        return


def _do(work: Work, job: Job, pipe: Connection, outdated: Any) -> Ended:
    def say(what: str, value: Any) -> None:
        pipe.send(Told(job.serial, what, value))

    def look() -> None:
        if outdated.value >= job.serial:
            raise Outdated

    def work_at_it() -> Ending:
        try:
            look()
            work(job, say, look)
        except Outdated:
            return "outdated"
        return "done"

    # Those two are the pipe's: the server has gone.
    how = _try(work_at_it, tell_mistake, EOFError, ConnectionError)
    return Ended(job.serial, "failed", how.why) if isinstance(how, _Failed) else Ended(job.serial, how)


@dataclass(frozen=True, slots=True)
class _Failed:
    """What was tried has failed; `why` is one sentence."""

    why: str


def _try(
    function: Callable[[], T], tell: Callable[[Exception], str], *passing: type[Exception]
) -> T | _Failed:
    """Return what a function returns; where it fails by anything but those that pass, what is told of that."""
    try:
        return function()
    except passing:
        raise
    except Exception as error:  # noqa: BLE001 - the last resort: no mistake ends the process with a traceback.
        if os.environ.get(DEBUG):
            traceback.print_exc(file=sys.stderr)
        return _Failed(tell(error))


def tell_unready(error: Exception) -> str:
    """Return what a user is told where what the jobs need cannot be loaded."""
    said = " ".join(str(error).split())
    return (
        f"it could not load what it needs ({type(error).__name__}{said and ': '}{said[:MOST_SAID]}); "
        f"rillplate doctor tells what this machine lacks, and a page started with {DEBUG}=1 tells more"
    )


def tell_mistake(error: Exception) -> str:
    """Return what a user is told of an error that no part of the program has foreseen."""
    return (
        f"an unexpected {type(error).__name__} stopped it: this is a mistake in rillplate, not in the file; "
        f"undo the last edit, or start the page with {DEBUG}=1 to see more"
    )


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(0)
