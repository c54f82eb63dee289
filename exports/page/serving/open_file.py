"""The one file, worked on: each change is made from what stands on the disk at that moment, and written at once.

Nothing here waits for a page; all of it may run in a thread, one call at a time.
"""

from __future__ import annotations

import contextlib
import functools
import os
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from exports.page.serving.file_state import (
    By,
    Conflict,
    FileState,
    Turn,
    ask_text,
    change_text,
    first_state,
    move_on,
    settle_conflict,
    step_back,
    step_forth,
    text_of,
)
from exports.page.serving.resting import (
    LOOK_S,
    MOST_HELD,
    MOST_WAIT_S,
    Replaced,
    Rest,
    hold_file,
    is_doubtful,
    note_look,
    read_replaced,
    rest_needed,
    watch_replaced,
)
from exports.page.serving.seen_file import (
    SeenFile,
    encode_text,
    is_too_long,
    keep_line_ends,
    mark_file,
    see_file,
    write_over,
)
from exports.writing import write_new_file
from geom.errors import EditRefused, OutputError, PanelFileError
from layouts.file.edit import edit_text
from layouts.file.gesture_words import tell_gestures, tell_let
from layouts.file.gestures import gather_changes
from layouts.file.merge import merge_changes
from layouts.file.read import MOST_BYTES, parse_panel
from layouts.panel import Panel
from layouts.plan import Routed

TRIES = 5
"""So often a change is made anew because another program wrote the file in the same moment."""


@dataclass(frozen=True, slots=True)
class Done:
    """What came of a wish: what was done in a few words, and the question raised instead, if any."""

    said: str
    conflict: Conflict | None = None


class OpenFile:
    """The file and its state.

    Parameters
    ----------
    path : Path
        Of the file, which may not be there yet.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.kept: tuple[Path, ...] = ()
        """What could neither be merged nor asked about, beside the file."""
        mark, seen = mark_file(path), see_file(path)
        self.state: FileState = first_state(seen)
        self._rest = Rest(mark, seen.digest, time.monotonic())
        self._whole = seen.text
        self._own = ""
        self._replaced: tuple[Replaced, ...] = ()

    @property
    def is_holding(self) -> bool:
        """Whether something that was replaced is still looked after: then looks are due."""
        return bool(self._replaced)

    def look(self) -> bool:
        """Read the file; return whether another program has changed it, removed it or put it back."""
        before = self.state
        self._look_late()
        seen = self._see()
        if seen.digest != self.state.seen.digest:
            self.state = move_on(self.state, seen, "editor")
        return self.state is not before

    def let_go(self) -> None:
        """Look no more after what was replaced; what another program is still writing there is kept beside the file."""
        for held in self._replaced:
            late = read_replaced(held)
            os.close(held.descriptor)
            if late is not None:
                self._keep_beside(late)
        self._replaced = ()

    def edit(
        self, revision: int, gestures: Sequence[Mapping[str, Any]], said: str, routed: Routed | None
    ) -> Done:
        """Make edits that were made on the text of a revision.

        Parameters
        ----------
        revision : int
        gestures : sequence of mapping
            `Gesture` of messages.ts; one step of undo together.
        said : str
            What they do; told from the gestures where empty.
        routed : Routed or None
            The routed panel of that revision.

        Returns
        -------
        Done

        Raises
        ------
        EditRefused
            They do not fit, or would leave a file with errors.
        OutputError
            The file cannot be written.
        """
        self._check_usable()
        base = text_of(self.state, revision)
        panel = _panel_of(base, self.path.name)
        changes = gather_changes(panel, routed, gestures)
        mine = edit_text(base, changes)
        _panel_of(mine, self.path.name, "the edit would leave errors in the file")
        told = (said or tell_gestures(panel, gestures)) + tell_let(panel, gestures, changes)
        return self._change(
            lambda state: change_text(
                state, base, mine, told, lambda theirs: _merge_or_none(base, changes, theirs)
            )
        )

    def replace_text(self, revision: int, text: str) -> Done:
        """Put a whole text into the file, made by hand from the text of a revision; it may have errors.

        Parameters
        ----------
        revision : int
        text : str

        Returns
        -------
        Done

        Raises
        ------
        EditRefused
            It is too long.
        OutputError
            The file cannot be written.
        """
        base = text_of(self.state, revision)
        mine = keep_line_ends(text, base)
        # Asked for in so many words: where the file was removed this is no silent return.
        return self._change(lambda state: change_text(state, base, mine, "change the text"), create=True)

    def walk(self, way: Literal["undo", "redo"], revision: int) -> Done:
        """Undo or redo a step.

        Parameters
        ----------
        way : {"undo", "redo"}
        revision : int
            On which the step was seen.

        Raises
        ------
        EditRefused
            There is none, or another than was seen.
        OutputError
            The file cannot be written.
        """
        step = step_back if way == "undo" else step_forth
        return self._change(lambda state: step(state, revision))

    def settle(self, number: int, take: Literal["page", "file"], revision: int) -> Done:
        """Answer an open question.

        Parameters
        ----------
        number : int
            Of the conflict.
        take : {"page", "file"}
        revision : int
            Of the file as it was seen beside the page's version; where it has another text since, it is asked again.

        Raises
        ------
        EditRefused
            There is no such question.
        OutputError
            The file cannot be written.
        """
        return self._change(
            lambda state: settle_conflict(state, number, take, revision), create=take == "page"
        )

    def start(self, data: bytes) -> Done:
        """Write the file where there is none yet.

        Parameters
        ----------
        data : bytes

        Raises
        ------
        OutputError
            There is one already, or it cannot be written.
        """
        self._create(data, "start", self.state)
        return Done(f"wrote {self.path.name}")

    def draft_text(self, revision: int, gestures: Sequence[Mapping[str, Any]], routed: Routed | None) -> str:
        """Return the file's text with edits that are only tried.

        Parameters
        ----------
        revision : int
            On whose text they were made.
        gestures : sequence of mapping
        routed : Routed or None
            The routed panel of that revision.

        Raises
        ------
        EditRefused
            They do not fit, or the file has other values since where they change it.
        """
        self._check_usable()
        state = self.state
        base = text_of(state, revision)
        changes = gather_changes(_panel_of(base, self.path.name), routed, gestures)
        if base == state.text:
            return edit_text(base, changes)
        merged = merge_changes(base, changes, state.text).text
        if merged is None:
            raise EditRefused("the file has been changed there since; take it up again as it now is")
        return merged

    def keep_unsettled(self) -> tuple[Path, ...]:
        """Write the page's versions of all open questions beside the file, under names of their own; return these."""
        kept = []
        for conflict in self.state.conflicts:
            path = self._free_name()
            write_new_file(path, encode_text(conflict.page, self.state.seen), overwrite=False)
            kept.append(path)
        return tuple(kept)

    def _free_name(self) -> Path:
        number = 1
        while True:
            path = self.path.with_name(f"{self.path.stem}-unsettled-{number}{self.path.suffix}")
            if not os.path.lexists(path):
                return path
            number += 1

    def _change(self, turn: Callable[[FileState], Turn], create: bool = False) -> Done:
        """Make a change from what stands on the disk, and write it only over that; else make it anew.

        A file that is gone is made again, with the change to its last text, only where that is wanted.
        """
        for _ in range(TRIES):
            self._look_rested()
            turned = turn(self.state)
            gone = create and not self.state.seen.exists and turned.conflict is None
            text = self.state.text if gone and turned.text is None else turned.text
            if text is None:
                self.state = turned.state
                return Done(turned.said, turned.conflict)
            if gone:
                # What was never there cannot be gone back to; a question that was answered is.
                no_step = replace(self.state, conflicts=turned.state.conflicts)
                state = turned.state if self.state.text else no_step
                self._create(encode_text(self._fit(text), self.state.seen), "page", state)
                return Done(f"wrote {self.path.name}")
            self._check_usable()
            self._fit(text)
            held = hold_file(self.path, self.state.seen, time.monotonic())
            written = None
            try:
                written = write_over(self.path, text, self.state.seen)
            finally:
                self._hold(held, written is not None)
            if written is not None:
                self.state = move_on(turned.state, written, "page", self.state)
                self._take_own(written)
                return Done(turned.said, turned.conflict)
        raise EditRefused(
            f"{self.path.name} is being written by another program again and again; wait for its end and try again"
        )

    def _hold(self, held: Replaced | None, replaced: bool) -> None:
        if held is None:
            return
        if not replaced:
            os.close(held.descriptor)
            return
        *older, newest = (*self._replaced, held)
        for old in older[: max(len(older) + 1 - MOST_HELD, 0)]:
            os.close(old.descriptor)
        self._replaced = (*older[-MOST_HELD + 1 :], newest)

    def _look_late(self) -> None:
        """Take what another program has written into what was replaced, as a change that it made outside."""
        left: list[Replaced] = []
        wrote: list[tuple[Replaced, SeenFile]] = []
        for held in self._replaced:
            now, late = watch_replaced(held, time.monotonic())
            if now is not None:
                left.append(now)
            if late is not None:
                wrote.append((held, late))
        self._replaced = tuple(left)
        for held, late in wrote:
            self._take_late(held.seen.text, late)

    def _take_late(self, base: str, late: SeenFile) -> None:
        said = "what another program was still writing when the page wrote"
        doubtful = is_doubtful(late, base)

        def turn(state: FileState) -> Turn:
            make = ask_text if doubtful else change_text
            return make(state, base, late.text, said)

        try:
            self._change(turn)
        except (EditRefused, OutputError):
            self._keep_beside(late)

    def _keep_beside(self, late: SeenFile) -> None:
        with contextlib.suppress(OutputError):
            path = self._free_name()
            write_new_file(path, encode_text(late.text, late), overwrite=False)
            self.kept = (*self.kept, path)

    def _check_usable(self) -> None:
        """Refuse where there is no file that could be edited."""
        if self.state.seen.unusable:
            raise EditRefused(self.state.seen.unusable)
        if self.state.seen.exists:
            return
        if not self.state.text:
            raise EditRefused(f"there is no {self.path.name} yet; begin it from a demo or the form")
        raise EditRefused(
            f"{self.path.name} is not there any more: another program removed it. Put it back, or save the text that "
            f"the page shows"
        )

    def _see(self) -> SeenFile:
        mark, seen = mark_file(self.path), see_file(self.path)
        self._rest = note_look(self._rest, mark, seen.digest, time.monotonic())
        return seen

    def _look_rested(self) -> None:
        """Take what stands on the disk once it has stood for so long that no other program is amid writing it."""
        until = time.monotonic() + MOST_WAIT_S
        while True:
            seen = self._see()
            # What the page wrote itself is whole.
            if seen.digest == self._own:
                break
            now = time.monotonic()
            if now - self._rest.since >= rest_needed(seen, self._whole):
                break
            if now > until:
                raise EditRefused(
                    f"{self.path.name} is being written by another program; try again in a moment"
                )
            time.sleep(LOOK_S)
        self._whole = seen.text
        if seen.digest != self.state.seen.digest:
            self.state = move_on(self.state, seen, "editor")

    def _create(self, data: bytes, by: By, state: FileState) -> None:
        write_new_file(self.path, data, overwrite=False)
        seen = see_file(self.path)
        self.state = replace(move_on(state, seen, by, self.state), text=seen.text)
        self._take_own(seen)

    def _take_own(self, seen: SeenFile) -> None:
        self._own, self._whole = seen.digest, seen.text

    def _fit(self, text: str) -> str:
        if is_too_long(text):
            raise EditRefused(
                f"the text would be longer than a panel file may be ({MOST_BYTES} bytes); shorten it"
            )
        return text


@functools.lru_cache(maxsize=8)
def _parse(text: str, name: str) -> Panel:
    return parse_panel(text.encode("utf-8", errors="replace"), name)


def _panel_of(text: str, name: str, why: str = "the file has errors, which must be corrected first") -> Panel:
    try:
        return _parse(text, name)
    except PanelFileError as error:
        more = "" if len(error.problems) == 1 else f" (and {len(error.problems) - 1} more)"
        raise EditRefused(f"{why}: {error.problems[0]}{more}") from None


def _merge_or_none(base: str, changes: Sequence[Any], theirs: str) -> str | None:
    try:
        return merge_changes(base, changes, theirs).text
    except EditRefused:
        # Theirs is no TOML at present: whole lines may still go together, or the page is asked.
        return None
