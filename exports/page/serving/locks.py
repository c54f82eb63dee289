"""Locks between the servers of one user that have the same file open.

They are files in the folder for temporary files, named by where the panel file really is and by the user; nothing is
left beside the panel file, and nothing there once the last server has ended. Where no lock can be had, as on a file
system without them, the work goes on without.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import stat
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from geom.errors import OutputError

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

MOST_WAIT_S = 5.0
"""So long may another server be at writing the file, [s]."""

LOOK_S = 0.002


@contextlib.contextmanager
def lock_writing(path: Path) -> Iterator[None]:
    """Let no other server of the user's check and write the file while this lasts.

    Parameters
    ----------
    path : Path
        Of the panel file.

    Raises
    ------
    OutputError
        Another holds it for too long.
    """
    name = _lock_name(path, "writing")
    until = time.monotonic() + MOST_WAIT_S
    while True:
        try:
            held = _take(name, shared=False)
        except OSError:
            yield
            return
        if held is not None:
            break
        if time.monotonic() > until:
            raise OutputError(
                f"{path}: another page server holds it for more than {MOST_WAIT_S:.0f} s; end that one, or try again"
            )
        time.sleep(LOOK_S)
    try:
        yield
    finally:
        _release(name, held)


@contextlib.contextmanager
def mark_open(path: Path) -> Iterator[bool]:
    """Mark the file as open for as long as this lasts; give whether no other server of the user's has it open.

    Parameters
    ----------
    path : Path
        Of the panel file.
    """
    name = _lock_name(path, "open")
    alone = True
    held: int | None = None
    with contextlib.suppress(OSError):
        held = _take(name, shared=False)
        if held is None:
            alone = False
            held = _take(name, shared=True)
        elif sys.platform != "win32":
            # From now on others may share it: whoever comes finds that it is held, whichever of them has ended.
            fcntl.flock(held, fcntl.LOCK_SH)
    try:
        yield alone
    finally:
        if held is not None:
            _release(name, held)


def _lock_name(path: Path, what: str) -> Path:
    place = os.path.normcase(os.path.realpath(path))
    digest = hashlib.sha256(place.encode("utf-8", errors="surrogateescape")).hexdigest()[:24]
    user = "" if sys.platform == "win32" else f"{os.getuid()}-"
    return Path(tempfile.gettempdir()) / f"rillplate-{user}{digest}.{what}"


def _take(name: Path, shared: bool) -> int | None:
    """Return a descriptor that holds the lock, None where another holds it; OSError where there are no locks."""
    while True:
        flags = os.O_CREAT | os.O_RDWR | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
        descriptor = os.open(name, flags, 0o600)
        try:
            found = os.fstat(descriptor)
            if not stat.S_ISREG(found.st_mode) or (sys.platform != "win32" and found.st_uid != os.getuid()):
                raise OSError("another user's")
            locked = _lock(descriptor, shared)
            # Whoever held it may have removed its name since: then it is no longer the one that others find.
            current = not locked or _is_named(name, found)
        except OSError:
            os.close(descriptor)
            raise
        if locked and current:
            return descriptor
        os.close(descriptor)
        if not locked:
            return None


def _lock(descriptor: int, shared: bool) -> bool:
    try:
        if sys.platform == "win32":
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(descriptor, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True


def _is_named(name: Path, found: os.stat_result) -> bool:
    try:
        return os.path.samestat(os.stat(name, follow_symlinks=False), found)
    except FileNotFoundError:
        return False


def _release(name: Path, descriptor: int) -> None:
    """Let the lock go; its file goes too where nobody else shares it."""
    with contextlib.suppress(OSError):
        if sys.platform != "win32" and _lock(descriptor, shared=False):
            name.unlink(missing_ok=True)
    os.close(descriptor)
    if sys.platform == "win32":
        # Refused while another has it open.
        with contextlib.suppress(OSError):
            name.unlink(missing_ok=True)
