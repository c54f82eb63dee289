"""The one file of the page as a value: its text, who changed it, what can be undone, what both changed at once.

Every function here takes a state and hands on another; what is to be written stands in it as `Turn.text`, and is
written by `exports.page.serving.open_file`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from exports.page.serving.key_merge import is_merge, put_over
from exports.page.serving.line_merge import LineMerge, merge_lines, tell_lines
from exports.page.serving.seen_file import SeenFile
from geom.errors import EditRefused, PanelFileError
from layouts.file.read import parse_panel

By = Literal["page", "editor", "start"]
Way = Literal["edit", "undo", "redo"]

MOST_STEPS = 200
MOST_LETTERS_HELD = 32_000_000
"""Letters of all texts that undo, redo and late edits are kept for; the oldest go first."""

MOST_EARLIER = 64
"""Earlier revisions that a late edit may be based on."""

MOST_CONFLICTS = 8
"""Questions that may be open at once."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the page: the text before and after it, and what it did, in a few words."""

    before: str
    after: str
    said: str


@dataclass(frozen=True, slots=True)
class Conflict:
    """A change of the page that meets another of the same lines; kept until one of the two is chosen.

    Parameters
    ----------
    number : int
        From 1.
    said : str
        What the page wanted to do.
    base, mine : str
        The text that it began with, and what it made of it.
    way : {"edit", "undo", "redo"}
    page : str
        The file's text with the page's change over it.
    file : str
        The file's text.
    lines : tuple of int
        Lines of the file's text, counted from 1, that the page's would change.
    """

    number: int
    said: str
    base: str
    mine: str
    way: Way
    page: str
    file: str
    lines: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Earlier:
    """An earlier revision: its text, and what undo and redo would have done; None where nothing."""

    revision: int
    text: str
    undo: Step | None
    redo: Step | None


@dataclass(frozen=True, slots=True)
class FileState:
    """What is known of the file.

    Parameters
    ----------
    revision : int
        Counts every change of the text.
    seen : SeenFile
        What stands on the disk.
    text : str
        The text of the revision: of a file that was removed, the last one.
    by : {"page", "editor", "start"}
        Who changed it last.
    past, future : tuple of Step
        What can be undone and redone, the nearest last.
    earlier : tuple of Earlier
        The newest last.
    conflicts : tuple of Conflict
    asked : int
        Conflicts so far.
    """

    revision: int
    seen: SeenFile
    text: str
    by: By = "editor"
    past: tuple[Step, ...] = ()
    future: tuple[Step, ...] = ()
    earlier: tuple[Earlier, ...] = ()
    conflicts: tuple[Conflict, ...] = ()
    asked: int = 0


@dataclass(frozen=True, slots=True)
class Turn:
    """What a wish comes to.

    Parameters
    ----------
    state : FileState
        As it is once `text` is written; its revision and what is seen on the disk are not yet moved on.
    text : str or None
        What is to be written; None where nothing is.
    said : str
        What was done, in a few words.
    conflict : Conflict or None
        The question that was raised instead.
    """

    state: FileState
    text: str | None
    said: str
    conflict: Conflict | None = None


def first_state(seen: SeenFile) -> FileState:
    """Return the state at the start: revision 1."""
    return FileState(1, seen, seen.text)


def is_panel(text: str) -> bool:
    """Return whether a text is a panel file without errors."""
    try:
        parse_panel(text.encode("utf-8", errors="replace"), "")
    except PanelFileError:
        return False
    return True


def move_on(state: FileState, seen: SeenFile, by: By, left: FileState | None = None) -> FileState:
    """Return the state once the file has been changed: the next revision, with open questions put anew.

    Parameters
    ----------
    state : FileState
    seen : SeenFile
        What stands on the disk now.
    by : {"page", "editor", "start"}
    left : FileState, optional
        As it was told at the revision that ends: the state itself unless given.
    """
    # A file that was removed keeps its last text: the page can still write it back.
    text = seen.text if seen.exists else state.text
    conflicts = tuple(_ask_again(conflict, text) for conflict in state.conflicts)
    earlier = (*state.earlier, _note(left or state))
    return _bound(
        replace(
            state,
            revision=state.revision + 1,
            seen=seen,
            text=text,
            by=by,
            earlier=earlier,
            conflicts=conflicts,
        )
    )


def text_of(state: FileState, revision: int) -> str:
    """Return the text of a revision.

    Raises
    ------
    EditRefused
        It is kept no more, or has never been.
    """
    return _find(state, revision).text


def _note(state: FileState) -> Earlier:
    undo, redo = (steps[-1] if steps else None for steps in (state.past, state.future))
    return Earlier(state.revision, state.text, undo, redo)


def _find(state: FileState, revision: int) -> Earlier:
    for noted in (_note(state), *reversed(state.earlier)):
        if noted.revision == revision:
            return noted
    raise EditRefused(
        f"the edit was made on revision {revision} of the file, which is kept no more; it is now at revision "
        f"{state.revision}: look at it and make the edit again"
    )


def change_text(
    state: FileState,
    base: str,
    mine: str,
    said: str,
    merge: Callable[[str], str | None] | None = None,
) -> Turn:
    """Return what a text of the page's, made from an earlier one, comes to.

    Parameters
    ----------
    state : FileState
    base, mine : str
        What the page began with, and what it made of it.
    said : str
        What it did, in a few words.
    merge : callable, optional
        Gives the file's text with the same change, None where both changed the same; line by line where not given.

    Returns
    -------
    Turn
    """
    merged = merge_lines(base, mine, state.text)
    if merge is not None and base != state.text:
        text = merge(state.text)
        amiss = text is None or _is_broken(text, mine, state.text)
    else:
        text = _whole(merged)
        amiss = text is None or _is_amiss(base, mine, state.text, text)
    if text is None or amiss:
        return _ask(state, merged, said, base, mine, "edit")
    if text == state.text:
        return Turn(state, None, said)
    step = Step(state.text, text, said)
    return Turn(replace(state, past=(*state.past, step), future=()), text, said)


def ask_text(state: FileState, base: str, mine: str, said: str) -> Turn:
    """Return what a text comes to that is never merged unasked.

    Parameters
    ----------
    state : FileState
    base, mine : str
        What was there, and what was made of it.
    said : str
        What it did, in a few words.
    """
    return _ask(state, merge_lines(base, mine, state.text), said, base, mine, "edit")


def step_back(state: FileState, revision: int) -> Turn:
    """Return what undoing the last step comes to.

    Parameters
    ----------
    state : FileState
    revision : int
        On which the step was seen that is to be undone.

    Raises
    ------
    EditRefused
        There is nothing to undo, or another step than was seen.
    """
    if not state.past:
        raise EditRefused("there is nothing to undo")
    step = state.past[-1]
    _check_seen(_find(state, revision).undo, step, "undo")
    return _step(state, step.after, step.before, step.said, "undo")


def step_forth(state: FileState, revision: int) -> Turn:
    """Return what redoing the step undone last comes to.

    Parameters
    ----------
    state : FileState
    revision : int
        On which the step was seen that is to be done again.

    Raises
    ------
    EditRefused
        There is nothing to redo, or another step than was seen.
    """
    if not state.future:
        raise EditRefused("there is nothing to redo")
    step = state.future[-1]
    _check_seen(_find(state, revision).redo, step, "redo")
    return _step(state, step.before, step.after, step.said, "redo")


def settle_conflict(state: FileState, number: int, take: Literal["page", "file"], revision: int) -> Turn:
    """Return what the answer to a question comes to.

    Parameters
    ----------
    state : FileState
    number : int
        Of the conflict.
    take : {"page", "file"}
    revision : int
        Of the file as it was seen beside the page's version. Where it has another text since, the question is put
        again: nothing is written over that nobody has seen.

    Raises
    ------
    EditRefused
        There is no such question, or no more.
    """
    conflict = next((one for one in state.conflicts if one.number == number), None)
    if conflict is None:
        raise EditRefused(f"there is no open question {number}: it has been settled")
    if take == "page" and text_of(state, revision) != conflict.file:
        return Turn(state, None, conflict.said, conflict)
    state = replace(state, conflicts=tuple(one for one in state.conflicts if one is not conflict))
    if take == "file":
        return Turn(state, None, f"left as it is in the file: {conflict.said}")
    if conflict.page == state.text:
        return Turn(state, None, conflict.said)
    if conflict.way == "undo" and state.past and _is_step(state.past[-1], conflict.mine, conflict.base):
        return _move_step(state, conflict.page, "undo")
    if conflict.way == "redo" and state.future and _is_step(state.future[-1], conflict.base, conflict.mine):
        return _move_step(state, conflict.page, "redo")
    step = Step(state.text, conflict.page, conflict.said)
    return Turn(replace(state, past=(*state.past, step), future=()), conflict.page, conflict.said)


def _step(state: FileState, base: str, mine: str, said: str, way: Way) -> Turn:
    merged = merge_lines(base, mine, state.text)
    text = _whole(merged)
    if text is None or _is_amiss(base, mine, state.text, text):
        return _ask(state, merged, said, base, mine, way)
    return _move_step(state, text, way)


def _move_step(state: FileState, text: str, way: Way) -> Turn:
    """Return the turn that puts the nearest step from the past into the future or back, as it is once made."""
    if way == "undo":
        said = state.past[-1].said
        future = (*state.future, Step(text, state.text, said))
        moved, told = replace(state, past=state.past[:-1], future=future), f"undone: {said}"
    else:
        said = state.future[-1].said
        past = (*state.past, Step(state.text, text, said))
        moved, told = replace(state, past=past, future=state.future[:-1]), f"done again: {said}"
    return Turn(moved, None if text == state.text else text, told)


def _ask(state: FileState, merged: LineMerge, said: str, base: str, mine: str, way: Way) -> Turn:
    told = said if way == "edit" else f"{way}: {said}"
    for one in state.conflicts:
        if (one.base, one.mine, one.way) == (base, mine, way):
            return Turn(state, None, told, one)
    if len(state.conflicts) >= MOST_CONFLICTS:
        raise EditRefused(f"{len(state.conflicts)} questions are open already; settle these first")
    conflict = _ask_again(Conflict(state.asked + 1, told, base, mine, way, "", "", ()), state.text, merged)
    asked = replace(state, conflicts=(*state.conflicts, conflict), asked=state.asked + 1)
    return Turn(asked, None, told, conflict)


def _ask_again(conflict: Conflict, text: str, merged: LineMerge | None = None) -> Conflict:
    """Return a question with the file's text as it now is."""
    if merged is None:
        merged = merge_lines(conflict.base, conflict.mine, text)
    page = merged.text
    if _is_amiss(conflict.base, conflict.mine, text, page):
        # Lines go together and the result is no panel file, as where both add the same name, or not what both hands
        # changed: then by keys.
        by_keys = put_over(conflict.base, conflict.mine, text)
        # Where that is none either, the page's own version is one at least; every line that it would take is told.
        page = conflict.mine if by_keys is None or not is_panel(by_keys) else by_keys
    return replace(conflict, page=page, file=text, lines=tell_lines(text, page))


def _whole(merged: LineMerge) -> str | None:
    return None if merged.lines else merged.text


def _is_broken(text: str, mine: str, theirs: str) -> bool:
    """Return whether two good files were merged into a bad one, as where both add the same key."""
    return text not in (mine, theirs) and not is_panel(text) and is_panel(mine) and is_panel(theirs)


def _is_amiss(base: str, mine: str, theirs: str, text: str) -> bool:
    """Return whether lines went together that make a bad file, or another than both hands meant.

    Where tables of like lines have changed places, those of one are taken for those of another.
    """
    return _is_broken(text, mine, theirs) or not is_merge(base, mine, theirs, text)


def _check_seen(seen: Step | None, step: Step, way: Way) -> None:
    if seen != step:
        raise EditRefused(f"another page has changed the file since; {way} would now mean: {step.said}")


def _is_step(step: Step, before: str, after: str) -> bool:
    return (step.before, step.after) == (before, after)


def _bound(state: FileState) -> FileState:
    """Return a state with no more texts than it may hold."""
    earlier = state.earlier[-MOST_EARLIER:]
    while earlier and sum(len(one.text) for one in earlier) > MOST_LETTERS_HELD // 4:
        earlier = earlier[1:]
    return replace(state, past=_bound_steps(state.past), future=_bound_steps(state.future), earlier=earlier)


def _bound_steps(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    steps = steps[-MOST_STEPS:]
    while len(steps) > 1 and sum(len(step.before) + len(step.after) for step in steps) > MOST_LETTERS_HELD:
        steps = steps[1:]
    return steps
