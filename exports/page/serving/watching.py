"""Watching the file for what other programs do to it: by its mark often, by its bytes now and then."""

from __future__ import annotations

from dataclasses import dataclass, replace

from exports.page.serving.seen_file import Mark

POLL_S = 0.25

READ_EACH = 8
"""Of so many polls one reads the file although its mark is the old one: clocks of disks are coarse."""


@dataclass(frozen=True, slots=True)
class Watch:
    """What the polls so far have shown.

    Parameters
    ----------
    read : tuple or None
        The file's mark when it was last read.
    last : tuple or None
        Its mark at the last poll.
    quiet : int
        Polls since it was last read.
    """

    read: Mark
    last: Mark
    quiet: int = 0


def poll_mark(watch: Watch, mark: Mark) -> tuple[Watch, bool]:
    """Return the watch after another poll, and whether the file is to be read now.

    A file whose mark has changed is read once two polls in turn find the same: a program may be amid writing it, or
    may have removed it only to put another in its place.

    Parameters
    ----------
    watch : Watch
    mark : tuple or None
        As it is now.

    Returns
    -------
    Watch
    bool
    """
    if mark != watch.last:
        return replace(watch, last=mark), False
    if mark != watch.read or watch.quiet + 1 >= READ_EACH:
        return Watch(mark, mark), True
    return replace(watch, quiet=watch.quiet + 1), False
