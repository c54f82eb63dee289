"""The files of the last run of `make`, ready to be downloaded: one by one, or all in one archive."""

from __future__ import annotations

import os
import shutil
import stat
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ALL_NAME = "made.zip"

_TIME = (1980, 1, 1, 0, 0, 0)
_MODE = (stat.S_IFREG | 0o644) << 16


@dataclass(frozen=True, slots=True)
class MadeFiles:
    """What a run made.

    Parameters
    ----------
    folder : Path
        Of the run; nothing in it is handed out but what `names` lists.
    names : tuple of str
    """

    folder: Path
    names: tuple[str, ...] = ()


def list_made(folder: Path, event: dict[str, Any]) -> MadeFiles:
    """Return what a "made" message lists of a run's folder, as far as it is there.

    Parameters
    ----------
    folder : Path
    event : dict
        "made" of messages.ts.
    """
    names = (str(file["name"]) for file in event["files"])
    return MadeFiles(folder, tuple(name for name in names if _is_plain(folder, name)))


def find_made(made: MadeFiles | None, name: str) -> Path | None:
    """Return the path of a made file; None where no such file was made.

    Parameters
    ----------
    made : MadeFiles or None
    name : str
        As it came with the address.
    """
    if made is None or name not in made.names or not _is_plain(made.folder, name):
        return None
    return made.folder / name


def pack_made(made: MadeFiles, archive: Path) -> Path:
    """Write all made files into one archive, the same bytes for the same files; return its path.

    Parameters
    ----------
    made : MadeFiles
    archive : Path
        Left as it is where it is there already.
    """
    if archive.is_file():
        return archive
    unfinished = archive.with_suffix(".part")
    with zipfile.ZipFile(unfinished, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as packed:
        for name in sorted(made.names):
            # Without the file's own time and rights, which are not part of what was made.
            entry = zipfile.ZipInfo(name, _TIME)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = _MODE
            entry.create_system = 3
            with (
                (made.folder / name).open("rb") as source,
                packed.open(entry, "w", force_zip64=True) as target,
            ):
                shutil.copyfileobj(source, target, 1 << 20)
    os.replace(unfinished, archive)
    return archive


def _is_plain(folder: Path, name: str) -> bool:
    """Return whether a name is that of a file in the folder itself, no link and nothing beside."""
    if not name or Path(name).name != name or "\\" in name or "\0" in name:
        return False
    path = folder / name
    return path.is_file() and not path.is_symlink()
