"""The panel file as it stands on the disk: read, told apart by its bytes, and written back only over what was read."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

from exports.page.serving.line_merge import find_changes, split_lines
from exports.page.serving.locks import lock_writing
from exports.writing import replace_file
from geom.errors import PanelFileError
from layouts.file.read import MOST_BYTES, read_bytes

BOM = b"\xef\xbb\xbf"

ABSENT = ""
"""The digest where there is no file."""

Mark = tuple[int, int, int] | None
"""Size, time of the last change, [ns], and number of a file: another mark, another content. None: no file."""


@dataclass(frozen=True, slots=True)
class SeenFile:
    """What was found where the panel file should be.

    Parameters
    ----------
    digest : str
        SHA-256 of the bytes; `ABSENT` where there is no file.
    text : str
        Without a byte order mark, line ends as they are; "" where nothing can be read.
    bom : bool
        Whether the bytes begin with a byte order mark.
    unusable : str
        Why the file cannot be worked on as text, as a problem of the file; else "".
    """

    digest: str
    text: str = ""
    bom: bool = False
    unusable: str = ""

    @property
    def exists(self) -> bool:
        """Whether there is a file, of whatever kind."""
        return self.digest != ABSENT


def mark_file(path: Path) -> Mark:
    """Return what tells, without reading it, that a file was changed; None where there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns, found.st_ino


def see_file(path: Path) -> SeenFile:
    """Return what stands on the disk.

    Parameters
    ----------
    path : Path

    Returns
    -------
    SeenFile
        Of a file that is no text, is too long or cannot be read: `unusable` says so, and no more.
    """
    # A link that leads nowhere is one to a file that is not there yet.
    if not os.path.lexists(os.path.realpath(path)):
        return SeenFile(ABSENT)
    try:
        data = read_bytes(path, regular=True)
    except PanelFileError as error:
        if not os.path.lexists(os.path.realpath(path)):
            return SeenFile(ABSENT)
        told = "\n".join(error.problems)
        return SeenFile(
            hashlib.sha256(f"unusable: {told}".encode(errors="replace")).hexdigest(), unusable=told
        )
    return see_bytes(data, str(path))


def see_bytes(data: bytes, name: str) -> SeenFile:
    """Return what a file holds.

    Parameters
    ----------
    data : bytes
    name : str
        Of the file, for what it is unusable for.
    """
    digest = hashlib.sha256(data).hexdigest()
    try:
        text = data.removeprefix(BOM).decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        told = f"{name}:{line}: byte 0x{data[error.start]:02x} is not UTF-8 text; save the file as UTF-8"
        return SeenFile(digest, data.decode("utf-8", errors="replace"), unusable=told)
    return SeenFile(digest, text, data.startswith(BOM))


def encode_text(text: str, like: SeenFile) -> bytes:
    """Return a text as bytes, with a byte order mark where the file had one.

    Parameters
    ----------
    text : str
    like : SeenFile
    """
    # A lone surrogate comes only from a message that no browser sends.
    data = text.encode("utf-8", errors="replace")
    return BOM + data if like.bom else data


def write_over(path: Path, text: str, seen: SeenFile) -> SeenFile | None:
    """Write a text over what was seen.

    Parameters
    ----------
    path : Path
    text : str
        At most `MOST_BYTES` as bytes.
    seen : SeenFile
        What must still stand there.

    Returns
    -------
    SeenFile or None
        As it now stands; None where something else stood there, which is left as it is.

    Raises
    ------
    OutputError
        The file is protected, or cannot be written.
    """
    data = encode_text(text, seen)
    # Another server checks and writes before this one does, or after it: never in between.
    with lock_writing(path):
        if not replace_file(path, data, lambda: see_file(path).digest == seen.digest):
            return None
    return SeenFile(hashlib.sha256(data).hexdigest(), data.removeprefix(BOM).decode("utf-8"), seen.bom)


def is_too_long(text: str) -> bool:
    """Return whether a text has more bytes than a panel file may have."""
    return len(text.encode("utf-8", errors="replace")) + len(BOM) > MOST_BYTES


def keep_line_ends(text: str, before: str) -> str:
    """Return a text that came with plain line ends with those of the file: unchanged lines keep their own.

    A browser's field holds plain ones whatever the file holds. New lines get those that most lines have.

    Parameters
    ----------
    text, before : str
    """
    if "\r" in text or "\r\n" not in before:
        return text
    old, new = split_lines(before), split_lines(text)
    plain = [line.replace("\r\n", "\n") for line in old]
    paired = 2 * before.count("\r\n") > before.count("\n")
    kept: list[str] = []
    at = 0
    for start, stop, put in find_changes(plain, new):
        kept += old[at:start]
        kept += [line.replace("\n", "\r\n") if paired else line for line in put]
        at = stop
    return "".join((*kept, *old[at:]))
