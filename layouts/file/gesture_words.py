"""What gestures do, in words: for the list of undo, and what an edit says of itself."""

from __future__ import annotations

from collections.abc import Sequence

from geom.words import count_of
from layouts.file.gestures import Changes, kind_of
from layouts.file.given import Given, read_list, show_given
from layouts.file.things import split_thing, tell_thing
from layouts.panel import Panel

TOLD = 3
"""Gestures of one step that are told one by one."""


def tell_gestures(panel: Panel, gestures: Sequence[Given]) -> str:
    """Return in a few words what the gestures of one step do, for the list of undo: 'move port "fill"'.

    Parameters
    ----------
    panel : Panel
        Before them.
    gestures : sequence of mapping

    Returns
    -------
    str

    Raises
    ------
    EditRefused
        One of them is no gesture.
    """
    told = list(dict.fromkeys(_tell(panel, gesture) for gesture in gestures))
    if len(told) > TOLD:
        told = [*told[:TOLD], f"{len(told) - TOLD} more"]
    return ", ".join(told)


def tell_let(panel: Panel, gestures: Sequence[Given], changes: Changes) -> str:
    """Return which kept routes go with an edit that did not ask for it: '; the kept route of channel "drain" goes'.

    Parameters
    ----------
    panel : Panel
        Before the edit.
    gestures : sequence of mapping
    changes : tuple of KeyChange
        What `gather_changes` made of them.

    Returns
    -------
    str
        To follow what the edit is said to do; empty where none goes.
    """
    if any("changes" in gesture for gesture in gestures):
        # The words of a remedy tell what it does.
        return ""
    asked = {gesture["let"] for gesture in gestures if "let" in gesture}
    gone = [change.path[1] for change in changes if change.path[0] == "keep_route" and change.value is None]
    names = [panel.keep_routes[number].channel for number in gone if isinstance(number, int)]
    return "".join(
        f'; the kept route of channel "{name}" goes' for name in names if f"channel:{name}" not in asked
    )


def _tell(panel: Panel, gesture: Given) -> str:
    kind = kind_of(gesture)
    if kind == "changes":
        return f"change {count_of(len(read_list(gesture, 'changes')), 'key')}"
    if kind == "add":
        return f"add keep-clear region {show_given(gesture.get('name'))}"
    name = tell_thing(panel, gesture[kind])
    if kind == "box" and split_thing(gesture[kind])[0] == "clear":
        # To the others a box says where they may stand; a region is its box.
        return f"change the size of {name}"
    words = {
        "move": "move {}",
        "turn": "turn {}",
        "box": "change where {} may stand",
        "size": "change the size of {}",
        "free": "let {} free",
        "pin": "pin {}",
        "width": "change the width of {}",
        "keep": "keep the route of {}",
        "let": "let the route of {} free",
        "remove": "remove {}",
    }
    return words[kind].format(name)
