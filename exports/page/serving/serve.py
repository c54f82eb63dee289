"""`rillplate page`: a server on this computer's own address alone, for as long as it is wanted."""

from __future__ import annotations

import asyncio
import contextlib
import errno
import logging
import signal
import socket
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Any

from exports.interruption import END_ASKED, END_SIGNALS, Interrupted
from exports.page.serving.clients import Say
from exports.page.serving.guard import Guard, make_token
from exports.page.serving.locks import mark_open
from exports.page.serving.opening import open_browser
from exports.writing import hold_folder, remove_leftovers
from geom.errors import PanelFileError, RillplateError
from layouts.routing.effort import NORMAL

HOST = "127.0.0.1"

FOLDER_PREFIX = "rillplate-page-"

MOST_HEAD = 16_384
"""Bytes of a request's head."""

LEAVE_S = 3
"""So long open pages may take to close when the server ends, [s]."""

_REFUSED_SOCKET = "ASGI callable returned without completing handshake."
"""What uvicorn complains of, from some version on, where a socket was refused with an answer in words."""

_LOGGERS = ("uvicorn", "uvicorn.error", "uvicorn.access", "websockets", "asyncio")


class PortTaken(RillplateError, OSError):
    """A port that the server cannot listen at."""

    exit_code = 2


@dataclass(frozen=True, slots=True)
class Serving:
    """What a server is asked for.

    Parameters
    ----------
    path : Path
        Of the panel file, which may not be there yet.
    port : int
        0: any that is free.
    most_bytes : int
        Of memory of a process that computes.
    browser : bool
        Whether a browser is opened.
    effort : str
        Of whole plans and of making, by its name.
    seed : int
        Of the router.
    """

    path: Path
    port: int
    most_bytes: int
    browser: bool
    effort: str = NORMAL.name
    seed: int = 0


def serve_page(wanted: Serving, tell_address: Say, say: Say) -> None:
    """Serve the page of a file until Ctrl-C or another request to end.

    Parameters
    ----------
    wanted : Serving
    tell_address : callable
        Called once, with the address, when the server listens.
    say : callable
        Says a line on the terminal.

    Raises
    ------
    PanelFileError
        The file's folder is not there, or the file is none that could be one.
    PortTaken
        Nothing can listen at the port.
    Interrupted
        An end was asked for before it began.
    """
    check_place(wanted.path)
    listening = listen_at(wanted.port)
    temporary = Path(tempfile.gettempdir())

    def say_if_heard(line: str) -> None:
        # The terminal may be gone.
        with contextlib.suppress(OSError):
            say(line)

    try:
        remove_leftovers(temporary, FOLDER_PREFIX)
        with mark_open(wanted.path) as alone, hold_folder(temporary, FOLDER_PREFIX) as folder:
            if not alone:
                say_if_heard(
                    f"another page server has {wanted.path} open too; what one writes the other merges or asks about, "
                    f"but each undoes its own steps alone: end one of them unless both are wanted"
                )
            asyncio.run(_serve(wanted, listening, folder, tell_address, say_if_heard))
    finally:
        listening.close()


def check_place(path: Path) -> None:
    """See that a panel file is there or could be.

    Parameters
    ----------
    path : Path

    Raises
    ------
    PanelFileError
        Its folder is not there, or it is a folder itself, a pipe or a device.
    """
    if path.is_dir():
        raise PanelFileError((f"{path}: is a directory; name a panel file in it",))
    if not path.parent.is_dir():
        raise PanelFileError((f"{path}: its folder does not exist; make the folder first",))
    if path.exists() and not path.is_file():
        raise PanelFileError((f"{path}: is a pipe or a device; name a panel file",))


def listen_at(port: int) -> socket.socket:
    """Return a socket that listens at a port of this computer's own address.

    Parameters
    ----------
    port : int
        0: any that is free.

    Raises
    ------
    PortTaken
    """
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if sys.platform == "win32":
            # There the other option would let a second program listen at the same port.
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((HOST, port))
        listening.listen(128)
    except OSError as error:
        listening.close()
        why = (
            "is used by another program"
            if error.errno == errno.EADDRINUSE
            else f"cannot be used ({error.strerror})"
        )
        raise PortTaken(f"port {port} {why}; name another with --port, or leave it out") from None
    return listening


async def _serve(
    wanted: Serving, listening: socket.socket, folder: Path, tell_address: Say, say: Say
) -> None:
    import uvicorn

    from exports.page.serving.application import MOST_MESSAGE, build_application
    from exports.page.serving.connections import make_protocol
    from exports.page.serving.session import Session
    from exports.page.working.job import Search
    from exports.page.working.supervisor import Workers

    port = listening.getsockname()[1]
    token = make_token()
    asyncio.get_running_loop().set_exception_handler(lambda loop, context: say(_describe_context(context)))
    search = Search(wanted.effort, wanted.seed)
    session = Session(
        wanted.path, folder, lambda tell: Workers(wanted.path, tell, wanted.most_bytes, search=search), say
    )

    class _Server(uvicorn.Server):
        @contextlib.contextmanager
        def capture_signals(self) -> Iterator[None]:
            # Ours are set for longer than it runs, and end the program quietly.
            yield

    server = _Server(
        uvicorn.Config(
            Guard(build_application(session), token, port),
            loop="asyncio",
            http=make_protocol(),
            lifespan="off",
            interface="asgi3",
            log_config=None,
            access_log=False,
            proxy_headers=False,
            server_header=False,
            ws_max_size=MOST_MESSAGE,
            ws_per_message_deflate=False,
            h11_max_incomplete_event_size=MOST_HEAD,
            timeout_graceful_shutdown=LEAVE_S,
        )
    )

    def end() -> None:
        server.force_exit = server.should_exit
        server.should_exit = True

    with _ended_by_signals(end), _told_in_lines(say):
        # Asked for while modules were loaded, it was only noted.
        if END_ASKED.is_set():
            raise Interrupted
        address = f"http://{HOST}:{port}/{token}/"
        opening = asyncio.create_task(
            _open_when_listening(server, address, folder if wanted.browser else None, tell_address)
        )
        try:
            await session.open()
            await server.serve(sockets=[listening])
        finally:
            opening.cancel()
            await asyncio.gather(opening, return_exceptions=True)
            await session.close()


async def _open_when_listening(server: Any, address: str, folder: Path | None, tell_address: Say) -> None:
    """Tell the address once the server listens, and open a browser by way of a folder, if one is given."""
    while not server.started:
        await asyncio.sleep(0.01)
    tell_address(address)
    if folder is not None:
        open_browser(address, folder)


@contextlib.contextmanager
def _ended_by_signals(end: Callable[[], None]) -> Iterator[None]:
    """Let Ctrl-C and other requests to end end the server, and nothing else of the program, while this lasts."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def answer(number: int, frame: FrameType | None) -> None:
        end()

    # What is ignored, as a hang-up under `nohup`, stays so.
    before = {
        number: signal.signal(number, answer)
        for number in END_SIGNALS
        if signal.getsignal(number) is not signal.SIG_IGN
    }
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


class _Lines(logging.Handler):
    """Says what libraries complain of in one line each, without their tracebacks."""

    def __init__(self, say: Say) -> None:
        super().__init__(logging.ERROR)
        self._say = say

    def emit(self, record: logging.LogRecord) -> None:
        """Say one record."""
        if record.getMessage() == _REFUSED_SOCKET:
            return
        error = record.exc_info[1] if record.exc_info else None
        said = " ".join(record.getMessage().split())[:200]
        more = f" ({type(error).__name__}: {' '.join(str(error).split())[:200]})" if error else ""
        self._say(f"page server: {said}{more}; the server goes on")


@contextlib.contextmanager
def _told_in_lines(say: Say) -> Iterator[None]:
    handler = _Lines(say)
    loggers = [logging.getLogger(name) for name in _LOGGERS]
    before = [(logger.handlers[:], logger.propagate, logger.level) for logger in loggers]
    for logger in loggers:
        logger.handlers, logger.propagate = [handler], False
        logger.setLevel(logging.ERROR)
    # One line each, not one a logger on the way up.
    logging.getLogger("uvicorn.error").handlers = []
    logging.getLogger("uvicorn.error").propagate = True
    try:
        yield
    finally:
        for logger, (handlers, propagate, level) in zip(loggers, before, strict=True):
            logger.handlers, logger.propagate = handlers, propagate
            logger.setLevel(level)


def _describe_context(context: dict[str, Any]) -> str:
    error = context.get("exception")
    said = str(context.get("message", "")) if error is None else f"{type(error).__name__}: {error}"
    return f"page server: {' '.join(said.split())[:300]}; the server goes on"
