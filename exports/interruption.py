"""Requests to end (Ctrl-C, SIGTERM, and a terminal that is closed) in the two ways that a run answers them."""

from __future__ import annotations

import os
import signal
import threading
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import FrameType

EXIT_INTERRUPTED = 130
SAID = "rillplate: interrupted; no file is half written"

END_SIGNALS = tuple(
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK") if hasattr(signal, name)
)

END_ASKED = threading.Event()
"""Set once one of them came: it is not always answered at once, and a library may swallow it."""


class Interrupted(Exception):
    """Ctrl-C, in a form that the command library does not answer with an empty line of its own."""


def leave_at_once() -> None:
    """Let a request to end leave the process on the spot: for the start, when nothing is written yet."""

    def leave(number: int, frame: FrameType | None) -> None:
        # No exception: amid an import it would come out as a traceback, or be swallowed.
        try:
            os.write(2, f"{SAID}\n".encode())
        finally:
            os._exit(EXIT_INTERRUPTED)

    _answer(leave)


def leave_after_cleaning() -> None:
    """Let a request to end (as SIGTERM) clean up as Ctrl-C does, and remember either."""

    def interrupt(number: int, frame: FrameType | None) -> None:
        asked_before = END_ASKED.is_set()
        END_ASKED.set()
        # An exception amid the loading of a compiled module can crash it: there the stage's end stops the run.
        # Once the run is being stopped, cleaning up is not to be interrupted again.
        if not asked_before and not _is_importing(frame):
            raise KeyboardInterrupt

    _answer(interrupt)


def _answer(handler: Callable[[int, FrameType | None], None]) -> None:
    # Only the main thread may choose.
    if threading.current_thread() is threading.main_thread():
        for number in END_SIGNALS:
            # A run that is to outlive its terminal (`nohup`) was started with the hang-up ignored.
            if number in (signal.SIGINT, signal.SIGTERM) or signal.getsignal(number) is not signal.SIG_IGN:
                signal.signal(number, handler)


def _is_importing(frame: FrameType | None) -> bool:
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            return True
        frame = frame.f_back
    return False
