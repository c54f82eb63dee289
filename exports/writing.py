"""A set of files appears whole or not at all.

Every file of a run is first written into a staging folder inside the target folder (the target itself may be
a mount, and its parent may be closed to the user). Only when all of them stand there are they moved into
place, each by one atomic replacement; where a move fails, those already made are taken back.

A run holds a lock on a marker in its staging folder for as long as it lives. A staging folder whose marker
can be locked is what a killed run left, and the next run removes it.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import shutil
import stat
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from geom.errors import OutputError, RillplateError

if sys.platform != "win32":
    import fcntl

STAGING_PREFIX = ".rillplate-"
STAGING_MARKER = ".rillplate-run"
REPORT_NAME = "report.json"

FULL_BYTES = 1 << 17
"""With less than this free, a writer that failed without a reason is taken to have found the disk full."""

# Windows has no quota error of its own.
_FULL = {errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC)}


@dataclass(frozen=True, slots=True)
class OutFile:
    """One file to be written.

    Parameters
    ----------
    name : str
        File name in the target folder.
    what : str
        What it is, for the report.
    write : callable
        Writes the whole file to the path that it is given.
    """

    name: str
    what: str
    write: Callable[[Path], None]


@dataclass(frozen=True, slots=True)
class FileRecord:
    """A file that was written: name, what it is, SHA-256 of its bytes as hexadecimal digits."""

    name: str
    what: str
    sha256: str


def write_files(
    out: Path,
    files: tuple[OutFile, ...],
    report: Callable[[tuple[FileRecord, ...], tuple[FileRecord, ...]], bytes],
    drop_stale: bool,
) -> tuple[FileRecord, ...]:
    """Write a set of files and the report that lists them.

    Parameters
    ----------
    out : Path
        Target folder; made where it is missing.
    files : tuple of OutFile
    report : callable
        Gives the bytes of report.json from the records of the other files, and those of earlier files that
        are left in the folder.
    drop_stale : bool
        Remove files that the folder's earlier report lists and this set lacks, where their bytes are still
        those of that report. Otherwise they stay, and the new report lists them as left.

    Returns
    -------
    tuple of FileRecord
        Without the report itself.

    Raises
    ------
    OutputError
        Where the folder or a file cannot be written; the folder is then as it was.
    """
    made = _missing_folders(out)
    finished = False
    free: int | None = None
    try:
        _make_folder(out)
        remove_leftovers(out, STAGING_PREFIX)
        free = shutil.disk_usage(out).free
        with hold_folder(out, STAGING_PREFIX) as staging:
            names = {*(file.name for file in files), REPORT_NAME}
            earlier = tuple(r for r in earlier_files(out) if r.name not in names)
            records = _stage(staging, files)
            (staging / REPORT_NAME).write_bytes(report(records, () if drop_stale else earlier))
            stale = tuple(r.name for r in earlier) if drop_stale else ()
            _move(staging, out, (*(file.name for file in files), REPORT_NAME), stale)
            finished = True
    except OSError as error:
        raise _told(out, error, free) from error
    finally:
        if not finished:
            for folder in made:
                # Not empty, or never made: then it stays as it is.
                with contextlib.suppress(OSError):
                    folder.rmdir()
    return records


def write_new_file(path: Path, data: bytes, overwrite: bool) -> None:
    """Write one file whole or not at all.

    Parameters
    ----------
    path : Path
    data : bytes
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    OutputError
        Where the file exists and may not be replaced, or cannot be written.
    """
    if path.is_symlink():
        # What it leads to is written, whether that is there already or not; the link stays.
        path = Path(os.path.realpath(path))
    if path.is_dir():
        raise OutputError(f"{path} is a folder; give the name of a file")
    if not overwrite and os.path.lexists(path):
        raise _exists(path)
    if path.exists() and not path.is_file():
        raise OutputError(f"{path} is a pipe or a device; give the name of a file")
    staged: Path | None = None
    free: int | None = None
    try:
        free = shutil.disk_usage(path.parent).free
        handle, name = tempfile.mkstemp(prefix=STAGING_PREFIX, dir=path.parent)
        staged = Path(name)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        staged.chmod(0o666 & ~_umask())
        if overwrite:
            os.replace(staged, path)
            staged = None
        else:
            _put_new(staged, path, data)
    except OSError as error:
        raise _told(path, error, free) from error
    finally:
        if staged is not None:
            staged.unlink(missing_ok=True)


def replace_file(path: Path, data: bytes, may_replace: Callable[[], bool]) -> bool:
    """Replace an existing file whole or not at all; whose it is and who may do what with it stay as they are.

    Parameters
    ----------
    path : Path
        Where it is a link, what it leads to is replaced.
    data : bytes
    may_replace : callable
        Asked last of all, when only the replacement itself is left to do.

    Returns
    -------
    bool
        Whether the file was replaced: False where it might not be, or is there no more.

    Raises
    ------
    OutputError
        Where the file is protected, is another's, has more names than one, or cannot be written.
    """
    path = Path(os.path.realpath(path))
    staged: Path | None = None
    free: int | None = None
    try:
        free = shutil.disk_usage(path.parent).free
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            raise OutputError(f"{path}: is no regular file and is left as it is; name a panel file")
        if found.st_nlink > 1:
            # A replacement would leave the other names with the old bytes, and writing in place can be cut short.
            raise OutputError(
                f"{path}: has {found.st_nlink} names (hard links), which one change cannot reach whole or not at "
                f"all; it is left as it is: work on a copy of it"
            )
        mode = stat.S_IMODE(found.st_mode)
        # A replacement asks only whether the folder may be written, and the superuser may do all.
        if not mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH) or not os.access(path, os.W_OK):
            raise OutputError(f"{path}: is protected from writing and is left as it is; lift that first")
        handle, name = tempfile.mkstemp(prefix=STAGING_PREFIX, dir=path.parent)
        staged = Path(name)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            # Else a power cut just after could leave neither the old bytes nor the new ones.
            os.fsync(file.fileno())
        _keep_rights(staged, path, found)
        if not may_replace():
            return False
        os.replace(staged, path)
        staged = None
    except FileNotFoundError:
        if not path.parent.is_dir():
            raise OutputError(f"{path}: its folder does not exist; make the folder first") from None
        return False
    except OSError as error:
        raise _told(path, error, free) from error
    finally:
        if staged is not None:
            staged.unlink(missing_ok=True)
    return True


def _put_new(staged: Path, path: Path, data: bytes) -> None:
    """Give a staged file its name where nothing bears that name yet."""
    try:
        os.link(staged, path)
    except FileExistsError:
        raise _exists(path) from None
    except OSError:
        # No hard links on this file system.
        try:
            handle = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666)
        except FileExistsError:
            raise _exists(path) from None
        whole = False
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            whole = True
        finally:
            if not whole:
                path.unlink(missing_ok=True)


def _exists(path: Path) -> OutputError:
    return OutputError(f"{path} exists already and is left as it is; give another name")


def _keep_rights(staged: Path, path: Path, found: os.stat_result) -> None:
    """Give a staged file the owner, group, rights and, where that is allowed, further attributes of another."""
    own = staged.stat()
    if sys.platform != "win32" and (own.st_uid, own.st_gid) != (found.st_uid, found.st_gid):
        user = -1 if own.st_uid == found.st_uid else found.st_uid
        group = -1 if own.st_gid == found.st_gid else found.st_gid
        try:
            os.chown(staged, user, group)
        except OSError:
            whose = "user" if user >= 0 else "group"
            raise OutputError(
                f"{path}: belongs to another {whose}, which a change would take it from; it is left as it is: work "
                f"on a copy of your own"
            ) from None
    # Only now: with another owner some rights go.
    staged.chmod(stat.S_IMODE(found.st_mode))
    if sys.platform == "linux":
        with contextlib.suppress(OSError):
            for name in os.listxattr(path):
                with contextlib.suppress(OSError):
                    os.setxattr(staged, name, os.getxattr(path, name))


def earlier_files(out: Path) -> tuple[FileRecord, ...]:
    """Return the files that a folder's report lists, as written or as left, and whose bytes are still those.

    Parameters
    ----------
    out : Path

    Returns
    -------
    tuple of FileRecord
        Empty where there is no report that can be read.
    """
    try:
        document = json.loads((out / REPORT_NAME).read_bytes())
        entries = [*document["files"], *document.get("earlier_files", ())]
        listed = [FileRecord(str(e["name"]), str(e["what"]), str(e["sha256"])) for e in entries]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return ()
    return tuple(r for r in listed if Path(r.name).name == r.name and _hash_or_none(out / r.name) == r.sha256)


@contextlib.contextmanager
def hold_folder(parent: Path, prefix: str) -> Iterator[Path]:
    """Give a new folder of the run's own, with a locked marker in it; remove it afterwards.

    Parameters
    ----------
    parent : Path
    prefix : str
        How its name begins.
    """
    folder = Path(tempfile.mkdtemp(prefix=prefix, dir=parent))
    try:
        unlocked = folder / f"{STAGING_MARKER}.new"
        with unlocked.open("xb") as marker:
            _take_lock(marker.fileno())
            # Only a locked marker bears its name: no other run can take this one for a leftover.
            os.rename(unlocked, folder / STAGING_MARKER)
            yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def remove_leftovers(parent: Path, prefix: str) -> None:
    """Remove the folders of the user's own runs that were killed.

    Parameters
    ----------
    parent : Path
    prefix : str
        How their names begin.
    """
    for folder in sorted(parent.glob(f"{prefix}*")):
        marker = folder / STAGING_MARKER
        # What may not be looked into or opened is another user's, but for the superuser.
        with contextlib.suppress(OSError):
            if folder.is_symlink() or marker.is_symlink() or not marker.is_file():
                continue
            with marker.open("r+b") as held:
                if _is_own(held.fileno()) and _take_lock(held.fileno()):
                    shutil.rmtree(folder, ignore_errors=True)


def _is_own(descriptor: int) -> bool:
    return sys.platform == "win32" or os.fstat(descriptor).st_uid == os.getuid()


def _take_lock(descriptor: int) -> bool:
    """Return whether the open file could be locked: no living run holds it then.

    On Windows, and where a file system knows no locks, never; leftovers then stay.
    """
    if sys.platform == "win32":
        return False
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _stage(staging: Path, files: tuple[OutFile, ...]) -> tuple[FileRecord, ...]:
    records = []
    for file in files:
        path = staging / file.name
        try:
            file.write(path)
            if not path.is_file() or path.stat().st_size == 0:
                raise OutputError(f"{file.name} came out empty: is the disk full?")
        except (RillplateError, OSError) as error:
            # The CAD kernel only says that it could not write, not why.
            if getattr(error, "errno", None) is None and shutil.disk_usage(staging).free < FULL_BYTES:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), file.name) from error
            raise
        records.append(FileRecord(file.name, file.what, _hash(path)))
    return tuple(records)


def _move(staging: Path, out: Path, names: tuple[str, ...], stale: tuple[str, ...]) -> None:
    """Move staged files into place and stale ones away; on any failure put back what was there."""
    kept = staging / "kept"
    kept.mkdir()
    touched: list[str] = []
    complete = False
    try:
        for name in (*names, *stale):
            if (out / name).is_file():
                _keep(out / name, kept / name)
            touched.append(name)
            if name in stale:
                (out / name).unlink()
            else:
                os.replace(staging / name, out / name)
        complete = True
    finally:
        if not complete:
            for name in reversed(touched):
                if (kept / name).exists():
                    os.replace(kept / name, out / name)
                elif not (staging / name).exists():
                    (out / name).unlink(missing_ok=True)


def _keep(path: Path, copy: Path) -> None:
    try:
        os.link(path, copy)
    except OSError:
        # No hard links on this file system.
        shutil.copy2(path, copy)


def _make_folder(out: Path) -> None:
    try:
        out.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError):
        raise
    except OSError as error:
        if error.errno in _FULL:
            raise
        above = next((p for p in out.parents if p.exists()), out.parent)
        why = "takes no new folders" if isinstance(error, FileNotFoundError) else "may not be written"
        raise OutputError(
            f"{out}: the folder cannot be made: {above} {why} ({error.strerror or error}); give another folder"
        ) from error


def _missing_folders(path: Path) -> tuple[Path, ...]:
    """Return the folders that `mkdir(parents=True)` will make, deepest first."""
    missing = []
    for folder in (path, *path.parents):
        if folder.exists():
            break
        missing.append(folder)
    return tuple(missing)


def _hash(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _hash_or_none(path: Path) -> str | None:
    try:
        return _hash(path)
    except OSError:
        return None


def _umask() -> int:
    # The umask can only be read by setting it.
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def _show_bytes(count: int) -> str:
    return f"{count / 1e6:.1f} MB" if count >= 1e5 else f"{count / 1e3:.0f} kB"


def _told(path: Path, error: OSError, free: int | None) -> OutputError:
    if isinstance(error, OutputError):
        return error
    untouched = "; what was there before is untouched"
    if error.errno in _FULL:
        # What was free when the writing began was not enough: that bounds the need from below.
        need = "" if free is None else f": more is needed than the {_show_bytes(free)} that were free there"
        return OutputError(f"{path}: the disk is full{need}{untouched}; free some space or write elsewhere")
    if isinstance(error, FileExistsError | NotADirectoryError):
        return OutputError(
            f"{path}: a file stands where the folder should be{untouched}; give another folder"
        )
    if isinstance(error, IsADirectoryError):
        return OutputError(
            f"{path}: a folder stands where {Path(error.filename2 or error.filename or path).name} should be"
            f"{untouched}; remove the folder or write elsewhere"
        )
    if isinstance(error, FileNotFoundError):
        return OutputError(f"{path}: its folder does not exist; make the folder first")
    if isinstance(error, PermissionError) or error.errno == errno.EROFS:
        return OutputError(f"{path}: may not be written{untouched}; choose a folder that you may write to")
    return OutputError(f"{path}: could not be written ({error.strerror or error}){untouched}")
