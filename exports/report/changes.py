"""A remedy's changes to the panel file, as the report tells them."""

from __future__ import annotations

from typing import Any

from geom.findings import KeyChange


def changes_section(changes: tuple[KeyChange, ...]) -> dict[str, Any]:
    """Return a remedy's changes under their key, to be put beside its words; nothing where there are none.

    Parameters
    ----------
    changes : tuple of KeyChange

    Returns
    -------
    dict
        Ready for JSON; a value of None: the key goes.
    """
    listed = [{"path": list(change.path), "value": change.value} for change in changes]
    return {"changes": listed} if listed else {}
