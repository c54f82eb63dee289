"""Other programs that are amid writing the file: waited for before the page writes, and looked after once it has.

A program that writes the file in place may empty it first and take its time. So the page writes only over what has
stood for a while, longer where it looks like half a file; and what stood there stays open for some seconds, as the
program goes on writing into that and not into what took its place.
"""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass, replace
from pathlib import Path

from exports.page.serving.file_state import is_panel
from exports.page.serving.seen_file import Mark, SeenFile, see_bytes
from layouts.file.read import MOST_BYTES

REST_S = 1.0
"""So long must stand what another program has written before the page writes over it, [s]."""

DOUBT_S = 3.0
"""The same where it looks like half a file, [s]."""

MOST_WAIT_S = 5.0
"""So long does the page wait for that, [s]."""

LOOK_S = 0.05

HOLD_S = 5.0
"""So long is looked after what the page has replaced, [s]."""

MOST_HELD = 16
"""Files replaced that are looked after at once."""


@dataclass(frozen=True, slots=True)
class Rest:
    """Since when the file stands as it does: its mark and digest, and a clock's time, [s]."""

    mark: Mark
    digest: str
    since: float


def note_look(rest: Rest, mark: Mark, digest: str, now: float) -> Rest:
    """Return since when the file stands as it does, after another look.

    Parameters
    ----------
    rest : Rest
        After the look before.
    mark : tuple or None
    digest : str
    now : float
        Of a clock that never goes back, [s].
    """
    return rest if (rest.mark, rest.digest) == (mark, digest) else Rest(mark, digest, now)


def is_doubtful(seen: SeenFile, whole: str) -> bool:
    """Return whether what was found looks like half of what another program means to write.

    Parameters
    ----------
    seen : SeenFile
    whole : str
        The file's text when it last was whole.
    """
    if not seen.exists or seen.text == whole:
        return False
    return (
        bool(seen.unusable)
        or whole.startswith(seen.text)
        or 2 * len(seen.text) < len(whole)
        or (not is_panel(seen.text) and is_panel(whole))
    )


def rest_needed(seen: SeenFile, whole: str) -> float:
    """Return how long what was found must have stood before it counts, [s].

    Parameters
    ----------
    seen : SeenFile
    whole : str
        The file's text when it last was whole.
    """
    return DOUBT_S if is_doubtful(seen, whole) else REST_S


@dataclass(frozen=True, slots=True)
class Replaced:
    """What the page has replaced, still open.

    Parameters
    ----------
    descriptor : int
    seen : SeenFile
        What it held.
    mark : tuple
    since : float
        When it was last seen to change, [s].
    until : float
        When it is looked after no more, [s].
    """

    descriptor: int
    seen: SeenFile
    mark: tuple[int, int]
    since: float
    until: float


def hold_file(path: Path, seen: SeenFile, now: float) -> Replaced | None:
    """Return the file, opened to be looked after once it is replaced; None where that cannot be.

    Parameters
    ----------
    path : Path
    seen : SeenFile
        What it holds.
    now : float
        [s].
    """
    if sys.platform == "win32":
        # There a file that is open cannot be replaced; nor can one that another program writes.
        return None
    try:
        descriptor = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    except OSError:
        return None
    return Replaced(descriptor, seen, _mark_open(descriptor), now, now + HOLD_S)


def watch_replaced(held: Replaced, now: float) -> tuple[Replaced | None, SeenFile | None]:
    """Return what is to be looked after further, None where that is enough; and what was written since, once it rests.

    Parameters
    ----------
    held : Replaced
    now : float
        [s].
    """
    mark = _mark_open(held.descriptor)
    if mark != held.mark:
        return replace(held, mark=mark, since=now, until=now + HOLD_S), None
    late = read_replaced(held)
    if late is not None:
        if now - held.since < rest_needed(late, held.seen.text):
            return held, None
        return replace(held, seen=late), late
    if now > held.until:
        os.close(held.descriptor)
        return None, None
    return held, None


def read_replaced(held: Replaced) -> SeenFile | None:
    """Return what a replaced file holds now; None where that is what it held.

    Parameters
    ----------
    held : Replaced
    """
    with os.fdopen(os.dup(held.descriptor), "rb") as file:
        file.seek(0)
        data = file.read(MOST_BYTES + 1)
    now = see_bytes(data, "")
    return None if now.digest == held.seen.digest else now


def _mark_open(descriptor: int) -> tuple[int, int]:
    found = os.fstat(descriptor)
    return found.st_size, found.st_mtime_ns
