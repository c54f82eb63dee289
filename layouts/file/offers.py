"""Which changes of a panel file may be offered: those that change it, and with which it could still be read."""

from __future__ import annotations

from collections.abc import Sequence

from geom.errors import EditRefused
from geom.findings import KeyChange
from layouts.cures import Cure
from layouts.file.changes import apply_changes, is_same
from layouts.file.checks import check_values
from layouts.file.shape import check_shape
from layouts.panel import Panel


def can_be_read(panel: Panel, changes: Sequence[KeyChange]) -> bool:
    """Return whether changes make another file, and that would still be read: shape and values as the reader asks.

    Parameters
    ----------
    panel : Panel
        One without a document, which comes from no file, has none that could be changed: False.
    changes : sequence of KeyChange
    """
    if not panel.document:
        return False
    try:
        changed = apply_changes(panel.document, changes)
    except EditRefused:
        return False
    if is_same(changed, panel.document):
        return False
    file, problems = check_shape(changed)
    return file is not None and not problems and not check_values(file)


def keep_readable(panel: Panel, *changes: KeyChange) -> tuple[KeyChange, ...]:
    """Return changes of a panel's file with which it could still be read; none of them where it could not."""
    return changes if can_be_read(panel, changes) else ()


def offer_changes(panel: Panel, *cures: Cure) -> tuple[KeyChange, ...]:
    """Return the changes of the first way out that has any with which the file could still be read.

    Parameters
    ----------
    panel : Panel
    *cures : Cure
        The likeliest first.
    """
    return next((cure.changes for cure in cures if cure.changes and can_be_read(panel, cure.changes)), ())
