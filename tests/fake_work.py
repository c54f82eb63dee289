"""Jobs for working processes that do what their text says, step by step: nothing of a panel is loaded."""

from __future__ import annotations

import json
import os
import signal
import time
from pathlib import Path
from typing import Any

from exports.page.working.job import Job, Look, Say, Work
from exports.page.working.laid import PickledLaid


def write_steps(*steps: tuple[Any, ...]) -> str:
    """Return the text of a job.

    Steps: ("only", kind): the rest is for jobs of that kind; ("say", what, value); ("laid", text): say that as layout;
    ("wait", path): until it is there, looking; ("stay", path): the same without looking; ("hold",): for ever; ("die",
    path): by a signal, unless it is there, and put it there first; ("raise", text); ("base",): say what base it has.
    """
    return json.dumps(steps)


def open_fake(path: str) -> Work:
    """Return what does such jobs."""
    held: list[bytes] = [b""]

    def work(job: Job, say: Say, look: Look) -> None:
        if job.base is not None:
            held[0] = job.base
        for what, *rest in json.loads(job.text):
            if what == "say":
                say(*rest)
            elif what == "only":
                if job.kind != rest[0]:
                    return
            elif what == "laid":
                say("laid", PickledLaid(rest[0].encode(), b""))
            elif what == "wait":
                while not Path(rest[0]).exists():
                    look()
                    time.sleep(0.002)
            elif what == "stay":
                while not Path(rest[0]).exists():
                    time.sleep(0.002)
            elif what == "hold":
                while True:
                    time.sleep(0.01)
            elif what == "die":
                if not Path(rest[0]).exists():
                    Path(rest[0]).touch()
                    os.kill(os.getpid(), getattr(signal, "SIGKILL", signal.SIGTERM))
            elif what == "raise":
                raise ZeroDivisionError(rest[0])
            elif what == "base":
                answer = {"version": job.base_version, "held": held[0].decode()}
                say("draft", {"ms": 0.0, "answer": answer, "problem": None})

    return work


def open_broken(path: str) -> Work:
    """Stand for a process that cannot even be loaded."""
    os._exit(3)


def open_unloadable(path: str) -> Work:
    """Stand for a process that lacks a library."""
    raise ImportError("no module\n of that name")
