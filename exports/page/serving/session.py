"""What the open pages share: the one file, its plan, solid and made files; and what becomes of each wish.

Every change of the file goes through one lock, so that two pages never work on it at once; reading, merging and
writing run in a thread, so that no page waits for another's draft.
"""

from __future__ import annotations

import asyncio
import shutil
import time
from collections.abc import Callable, Coroutine
from functools import partial
from pathlib import Path
from typing import Any, Protocol, TypeVar

from exports.page.serving import tells
from exports.page.serving.clients import Client, Clients, Say
from exports.page.serving.file_state import FileState
from exports.page.serving.made_files import MadeFiles, list_made
from exports.page.serving.open_file import Done, OpenFile
from exports.page.serving.seen_file import mark_file
from exports.page.serving.watching import POLL_S, Watch, poll_mark
from exports.page.serving.wishes import (
    AskPlaces,
    Draft,
    Edit,
    Make,
    NewText,
    Settle,
    StartDemo,
    StartEmpty,
    StopMaking,
    Walk,
    Wish,
    WishRefused,
    read_wish,
)
from geom.errors import EditRefused, OutOfRange, OutputError, RillplateError
from layouts.panels.catalogue import demo_names, demo_path
from layouts.panels.start import write_start
from layouts.panels.start_form import read_form
from layouts.plan import Routed

T = TypeVar("T")

OF_A_REVISION = ("plan", "problem", "solid")
"""Messages of the workers that are stale once the file has another revision."""

_OLD = "; the files below are those that were made before"


class Computing(Protocol):
    """What the server asks of the processes that compute (`exports.page.working.supervisor.Workers`)."""

    async def start(self) -> None:
        """Start."""

    async def close(self) -> None:
        """End."""

    def draft(self, client: str, number: int, text: str) -> None:
        """Try a text."""

    def drop(self, client: str) -> None:
        """Forget what a client waits for."""

    def places(self, client: str, number: int, text: str, thing: str) -> None:
        """Ask where a thing may stand."""

    def settle(self, revision: int, text: str) -> None:
        """Work out a text."""

    def make(self, revision: int, text: str, folder: Path) -> None:
        """Make files."""

    def stop_make(self) -> None:
        """Stop making."""

    def scene(self, revision: int) -> str | None:
        """Return a scene."""

    def routed(self, revision: int) -> Routed | None:
        """Return a routed panel."""

    def last_told(self) -> tuple[dict[str, Any], ...]:
        """Return what a new page is told."""


class Session:
    """The state that all pages share.

    Parameters
    ----------
    path : Path
        Of the panel file.
    folder : Path
        For made files; removed by whoever made it.
    start_computing : callable
        Makes the workers from what they tell with: an event, and the client that it is for or None.
    say : callable
        Says one line on the terminal.
    """

    def __init__(
        self,
        path: Path,
        folder: Path,
        start_computing: Callable[[Callable[[dict[str, Any], str | None], None]], Computing],
        say: Say,
    ) -> None:
        self.file = OpenFile(path)
        self.clients = Clients()
        self.made: MadeFiles | None = None
        self.computing = start_computing(self.pass_on)
        self._folder = folder
        self._say = say
        self._lock = asyncio.Lock()
        self._runs = 0
        self._making: Path | None = None
        self._made_told: dict[str, Any] | None = None
        self._kept = 0
        self._progress: dict[str, dict[str, Any]] = {}
        self._tasks: set[asyncio.Task[Any]] = set()

    async def open(self) -> None:
        """Start the workers, give them the file and watch it."""
        await self.computing.start()
        self._settle_text()
        self._run(self._watch())

    async def close(self) -> None:
        """End the workers and all that is still at work; keep what was never settled beside the file."""
        for task in tuple(self._tasks):
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        await self.computing.close()
        self.file.let_go()
        self._say_kept()
        try:
            kept = self.file.keep_unsettled()
        except OutputError as error:
            self._say(f"a change of the page was not settled and could not be kept: {error}")
        else:
            for path in kept:
                self._say(f"a change of the page was not settled; it is kept in {path}")

    # ---- Pages ------------------------------------------------------------------------------------------------------

    def welcome(self, client: Client) -> None:
        """Tell a new page all that the others have been told."""
        client.tell(tells.tell_hello(self.file.path.name))
        client.tell(self._tell_file())
        problem = self._own_problem()
        for event in self.computing.last_told():
            if event["tell"] == "made" and self._made_told is not None:
                event = self._made_told
            if problem is None or event["tell"] == "made":
                client.tell(event)
        if problem is not None:
            client.tell(problem)
        for event in self._progress.values():
            client.tell(event)
        for conflict in self.file.state.conflicts:
            client.tell(tells.tell_conflict(conflict))

    def part(self, client: Client) -> None:
        """Forget a page that has gone."""
        self.clients.leave(client)
        client.next_draft = None
        self.computing.drop(client.key)

    async def hear(self, client: Client, message: str) -> None:
        """Do what a page's message asks for, or tell it why not; nothing that goes wrong gets further.

        Parameters
        ----------
        client : Client
        message : str
        """
        try:
            wish = read_wish(message)
        except WishRefused as error:
            client.tell(tells.tell_refused(error.number, str(error)))
            return
        if isinstance(wish, Draft):
            self._take_draft(client, wish)
            return
        task = asyncio.create_task(self._fulfil(client, wish))
        await self._see_through(client, task, getattr(wish, "number", 0))

    async def _see_through(self, client: Client, task: asyncio.Task[None], number: int) -> None:
        """Wait for a task; tell the page what stopped it, and the terminal too where it is a mistake of ours."""
        await asyncio.wait({task})
        error = None if task.cancelled() else task.exception()
        if error is None:
            return
        if isinstance(error, RillplateError):
            client.tell(tells.tell_refused(number, str(error)))
            return
        self._report(error)
        client.tell(
            tells.tell_refused(
                number,
                "the server failed at this; the terminal says at what. Look at the file before you go on",
            )
        )

    def _report(self, error: BaseException) -> None:
        said = " ".join(str(error).split())
        self._say(f"internal error: {type(error).__name__}: {said}; please report with the panel file")

    # ---- Wishes -----------------------------------------------------------------------------------------------------

    async def _fulfil(self, client: Client, wish: Wish) -> None:
        match wish:
            case Edit():
                work = partial(
                    self.file.edit, wish.revision, wish.edits, wish.said, self._routed(wish.revision)
                )
                await self._change(client, wish.number, work)
            case NewText():
                await self._change(
                    client, wish.number, partial(self.file.replace_text, wish.revision, wish.text)
                )
            case Walk():
                await self._change(client, wish.number, partial(self.file.walk, wish.way, wish.revision))
            case Settle():
                work = partial(self.file.settle, wish.conflict, wish.take, wish.revision)
                await self._change(client, wish.number, work)
            case StartDemo():
                await self._change(client, 0, partial(self.file.start, _read_demo(wish.demo)))
            case StartEmpty():
                text = write_start(read_form(wish.form))
                await self._change(client, 0, partial(self.file.start, text.encode("utf-8")))
            case AskPlaces():
                self.computing.places(client.key, wish.number, self.file.state.text, wish.thing)
            case Make():
                self._make()
            case StopMaking():
                if self._making is not None:
                    self.computing.stop_make()

    async def _change(self, client: Client, number: int, work: Callable[[], Done]) -> None:
        """Change the file; tell all what came of it, and the page that asked what was done."""
        async with self._lock:
            done = await self._shield(work)
            revision = self.file.state.revision
        if done.conflict is None:
            client.tell(tells.tell_done(number, revision, done.said))
        else:
            # All were told of it when it was new; in this page it is the answer.
            client.tell(tells.tell_conflict(done.conflict, number))

    async def _shield(self, work: Callable[[], T]) -> T:
        """Run work on the file in a thread, to its end even where nobody waits for it, and tell what has changed."""
        before = self.file.state
        task = asyncio.ensure_future(asyncio.to_thread(work))
        try:
            return await asyncio.shield(task)
        except asyncio.CancelledError:
            await asyncio.wait({task})
            raise
        finally:
            self._tell_changes(before)
            self._say_kept()

    def _tell_changes(self, before: FileState) -> None:
        now = self.file.state
        if now is before:
            return
        if (now.revision, now.past, now.future) != (before.revision, before.past, before.future):
            self.clients.tell_all(self._tell_file())
        known = {conflict.number: conflict for conflict in before.conflicts}
        for conflict in now.conflicts:
            if known.pop(conflict.number, None) != conflict:
                self.clients.tell_all(tells.tell_conflict(conflict))
        for number in known:
            self.clients.tell_all(tells.tell_settled(number))
        if now.revision != before.revision:
            self._settle_text()

    def _say_kept(self) -> None:
        for path in self.file.kept[self._kept :]:
            self._say(
                f"another program was still writing the file when the page wrote it; what it wrote is in {path}"
            )
        self._kept = len(self.file.kept)

    def _settle_text(self) -> None:
        """Have the text of the revision worked out; where it is none, say why."""
        problem = self._own_problem()
        if problem is not None:
            self.clients.tell_all(problem)
        elif self.file.state.seen.exists:
            self.computing.settle(self.file.state.revision, self.file.state.text)

    def _own_problem(self) -> dict[str, Any] | None:
        state = self.file.state
        if not state.seen.unusable:
            return None
        return tells.tell_unusable(state.revision, self.file.path.name, state.seen.unusable)

    def _tell_file(self) -> dict[str, Any]:
        return tells.tell_file(self.file.path.name, self.file.state)

    def _routed(self, revision: int) -> Routed | None:
        return self.computing.routed(revision)

    def _make(self) -> None:
        state = self.file.state
        if self._making is not None:
            raise EditRefused("files are being made already; wait for their end, or stop it")
        if not state.seen.exists:
            raise EditRefused(f"there is no {self.file.path.name} that files could be made of")
        if state.seen.unusable:
            raise EditRefused(state.seen.unusable)
        self._runs += 1
        folder = self._folder / f"made-{self._runs}"
        try:
            # It may be gone: folders for temporary files are swept now and then.
            self._folder.mkdir(mode=0o700, exist_ok=True)
            folder.mkdir(mode=0o700)
        except OSError as error:
            raise OutputError(
                f"{folder}: no folder can be made there for the files ({error.strerror}); see that the folder for "
                f"temporary files is there and has room, or start the page with another (TMPDIR)"
            ) from None
        self._making = folder
        self.computing.make(state.revision, state.text, folder)

    # ---- Drafts -----------------------------------------------------------------------------------------------------

    def _take_draft(self, client: Client, draft: Draft) -> None:
        """Take a draft in place of any that the page has sent before."""
        if draft.number <= client.newest_draft:
            return
        client.newest_draft = draft.number
        if not draft.edits:
            client.next_draft = None
            client.trying = False
            self.computing.drop(client.key)
            return
        client.trying = True
        client.next_draft = draft
        if not client.drafting:
            client.drafting = True
            self._run(self._try_drafts(client))

    async def _try_drafts(self, client: Client) -> None:
        """Work out what each draft makes of the text, one after the other; those overtaken meanwhile are left out."""
        try:
            while (draft := client.next_draft) is not None:
                client.next_draft = None
                task = asyncio.create_task(self._try_draft(client, draft))
                await self._see_through(client, task, draft.number)
        finally:
            client.drafting = False

    async def _try_draft(self, client: Client, draft: Draft) -> None:
        began = time.perf_counter()
        try:
            text = await asyncio.to_thread(
                self.file.draft_text, draft.revision, draft.edits, self._routed(draft.revision)
            )
        except EditRefused as error:
            if draft.number == client.newest_draft:
                took = 1000 * (time.perf_counter() - began)
                client.tell(tells.tell_draft_refused(draft.number, took, str(error)))
            return
        if draft.number == client.newest_draft:
            self.computing.draft(client.key, draft.number, text)

    # ---- From the workers, and from the disk ------------------------------------------------------------------------

    def pass_on(self, event: dict[str, Any], key: str | None) -> None:
        """Send on what the workers tell, but for what is stale.

        Parameters
        ----------
        event : dict
            A `Tell` of messages.ts.
        key : str or None
            Of the client that it is for; None for all.
        """
        kind = event["tell"]
        if kind in OF_A_REVISION and event["revision"] != self.file.state.revision:
            return
        if kind == "progress":
            self._keep_progress(event)
        if kind == "made":
            event = self._take_made(event)
        if key is None:
            self.clients.tell_all(event)
            return
        client = self.clients.find(key)
        if client is not None and (kind != "draft" or client.trying):
            client.tell(event)

    def _keep_progress(self, event: dict[str, Any]) -> None:
        if event["stage"]:
            self._progress[event["of"]] = event
        else:
            self._progress.pop(event["of"], None)

    def _take_made(self, event: dict[str, Any]) -> dict[str, Any]:
        """Let the files of the run that has ended take the place of the earlier ones; return what is told of it.

        A run that made none leaves the earlier ones, and says so.
        """
        folder, self._making = self._making, None
        self._progress.pop("make", None)
        if folder is None:
            return event
        if not event["files"]:
            shutil.rmtree(folder, ignore_errors=True)
            earlier = self._made_told
            if self.made is None or earlier is None:
                return event
            said = f"{event['withheld'].removesuffix(_OLD)}{_OLD}"
            kept = {key: earlier[key] for key in ("revision", "files", "all")}
            self._made_told = event | kept | {"withheld": said}
            return self._made_told
        old, self.made = self.made, list_made(folder, event)
        self._made_told = event
        if old is not None:
            shutil.rmtree(old.folder, ignore_errors=True)
            self.archive_of(old).unlink(missing_ok=True)
        return event

    def archive_of(self, made: MadeFiles) -> Path:
        """Return where the archive of a run's files is, or will be."""
        return made.folder.with_suffix(".zip")

    async def _watch(self) -> None:
        """Look after the file for as long as the session lasts."""
        mark = mark_file(self.file.path)
        watch = Watch(mark, mark)
        while True:
            await asyncio.sleep(POLL_S)
            watch, due = poll_mark(watch, mark_file(self.file.path))
            if due or self.file.is_holding:
                async with self._lock:
                    await self._shield(self.file.look)

    def _run(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._end_task)

    def _end_task(self, task: asyncio.Task[Any]) -> None:
        self._tasks.discard(task)
        if not task.cancelled():
            error = task.exception()
            if error is not None:
                self._report(error)


def _read_demo(name: str) -> bytes:
    if name not in demo_names():
        raise OutOfRange(f'there is no demo "{name}": {", ".join(demo_names())}')
    return demo_path(name).read_bytes()
