"""The two processes of the local page, and who gets which job.

The *planner* answers drafts and questions of places, and the first quick plan of a settled text; the *builder* makes
the whole plan, then the solid, then the solid's checks, and makes files. Both are spawned once and kept warm.

What the server sees is `Workers`. All of it is called on the event loop, and `tell(event, client)` is called on it:
`event` is a message ready for JSON, exactly a `Tell` of `exports/page/web/src/page/messages.ts`; `client` is the page
that asked, None for all pages.

*Settling* a text (it is the file's text of a revision) tells, in turn and to all:

1. "plan" with `whole` false (the quick plan), or "problem" (a file that cannot be used: then no more; or that the quick
   search has found no layout: the whole one may find one yet);
2. "plan" with `whole` true, or "problem" where there is no layout after all: then no more;
3. "solid" with `checked` false: its scene is `scene(revision)`, JSON text, at the address "scene/REVISION.json";
4. "plan" again, with the findings of the solid, and "solid" with `checked` true, the same address with another text.

1 is left out where 2 was there before it. Between them there is "progress" of "plan" and "solid" as stages begin, and
one with stage "" when it has ended. A newer `settle` makes what is left of an older one stale: nothing of it is told
any more. Where the plan has faults there is 3 but not 4, as the command too checks no solid then. A solid that fails
is told as a finding in "plan", and no "solid".

Making waits for what the builder is at, and takes over what that has found where it is of the same text; while it
lasts whole plans wait, and the planner's quick ones are told.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from exports.page.documents.stopped_documents import (
    failed_solid_document,
    stopped_document,
    unmade_document,
)
from exports.page.working.build_jobs import open_builder
from exports.page.working.job import Ending, Job, OpenWork, Search
from exports.page.working.laid import PickledLaid
from exports.page.working.lane import Lane, Order, Watch, measure_memory
from exports.page.working.plan_jobs import open_planner

if TYPE_CHECKING:
    from layouts.plan import Routed

Event = dict[str, Any]

Tell = Callable[[Event, str | None], None]
"""Called on the event loop with an event and the client that it is for, None for all."""

STOP_S = 2.5
"""How long making may take to stop by itself, [s]; then its process is started anew."""

STOPPED = "making was stopped"

BUILDER_NICE = 5
"""By how much answers to what is being dragged come before the builder's work."""

MOST_ROUTED = 4
"""Revisions whose layout is kept for edits that were made on their plan."""

SCENE = "scene/{}.json"
"""Address of the scene of a revision, beside the page."""

QUICK, WHOLE, MAKE = ("quick",), ("whole",), ("make",)


@dataclass(frozen=True, slots=True)
class Processes:
    """What the processes do, and how they are watched: tests put others in their place.

    Parameters
    ----------
    planner, builder : callable
        Give what does a job, in the process.
    measure : callable
        Gives the memory of a process by its number, in bytes.
    every_s : float
        How often that is asked while it works, [s].
    stop_s : float
        How long making may take to stop by itself, [s].
    """

    planner: OpenWork = open_planner
    builder: OpenWork = open_builder
    measure: Callable[[int], int] = measure_memory
    every_s: float = 1.0
    stop_s: float = STOP_S


@dataclass(frozen=True, slots=True)
class _Base:
    """The layout from which drafts are laid out: of the newest revision that has one, the whole before the quick.

    Where there is none of a text, whatever the file leaves free is shown as it stands there.
    """

    version: int
    revision: int
    whole: bool
    data: PickledLaid


_NO_BASE = _Base(0, -1, False, PickledLaid(b"", b""))


class Workers:
    """The two processes, and what is told of their work.

    Parameters
    ----------
    path : Path
        Of the panel file; only its name is used, in errors.
    tell : callable
        Called on the event loop with (event, client); client None: for all pages.
    most_bytes : int
        Of memory of either process: it is started anew where it passes this.
    processes : Processes
    search : Search
        How whole plans are looked for, and those of which files are made; quick ones are always quick.
    """

    def __init__(
        self,
        path: Path,
        tell: Tell,
        most_bytes: int = 4 * 10**9,
        processes: Processes | None = None,
        search: Search | None = None,
    ) -> None:
        how = processes or Processes()
        self._search = search or Search()
        self._tell = tell
        self._stop_s = how.stop_s
        watch = Watch(most_bytes, how.measure, how.every_s)
        self._planner = Lane("planner", how.planner, path.name, self, watch)
        self._builder = Lane("builder", how.builder, path.name, self, watch, BUILDER_NICE)
        self._revision = self._built = -1
        self._base = _NO_BASE
        self._routed: dict[int, _Base] = {}
        """The bases of the last revisions: on a page the plan of an earlier one may still be drawn."""
        self._opened: dict[int, Routed] = {}
        """What is routed in them, by their versions."""
        self._scenes: dict[int, str] = {}
        self._told: dict[str, Event] = {}
        self._shown: dict[str, bool] = {}

    async def start(self) -> None:
        """Start both processes; returns at once, jobs wait until they are warm."""
        self._planner.start()
        self._builder.start()

    async def close(self) -> None:
        """End both processes; nothing is told any more."""
        self._tell = _tell_nobody
        await self._planner.close()
        await self._builder.close()

    def draft(self, client: str, number: int, text: str) -> None:
        """Try a text: tells `client` one "draft" with that number, or nothing if a newer draft of it came first."""
        key = ("draft", client)
        self._planner.drop(key)
        self._planner.put(Order("draft", key, text, 1, client, number))

    def drop(self, client: str) -> None:
        """Forget what a client waits for: its try has ended, or it has gone."""
        for kind in ("draft", "places"):
            self._planner.drop((kind, client))

    def places(self, client: str, number: int, text: str, thing: str) -> None:
        """Ask where a thing may stand in the plan of a text: tells `client` one "places", or "refused"."""
        key = ("places", client)
        self._planner.drop(key)
        self._planner.put(Order("places", key, text, 1, client, number, thing=thing))

    def settle(self, revision: int, text: str) -> None:
        """Work out a text, as the head of this module says; older texts are stale from here on."""
        self._revision = revision
        self._planner.drop(QUICK)
        self._builder.drop(WHOLE)
        self._end_progress("plan", "solid")
        self._planner.put(Order("quick", QUICK, text, 0, revision=revision))
        self._builder.put(Order("whole", WHOLE, text, 1, revision=revision))

    def make(self, revision: int, text: str, folder: Path) -> None:
        """Make the files of a text into a folder: tells all "progress" of "make", and "made" at the end.

        Edits do not make it stale; their whole plans wait for its end. `files[].address` is "made/NAME", `all` is
        "made.zip": the server answers both from `folder`. Asked for while one is being made: told "made" of that
        alone.
        """
        if not self.making:
            self._shown["make"] = True
            self._tell(
                _progress("make", "waiting for the solid's checks" if self._builder.running else "plan"), None
            )
            self._builder.put(Order("make", MAKE, text, 0, revision=revision, folder=folder))

    @property
    def making(self) -> bool:
        """Whether files are being made."""
        return self._shown.get("make", False)

    def stop_make(self) -> None:
        """Stop making: "made" without files and with `withheld` saying so follows at once.

        The builder is free at the end of a stage, or within about three seconds by being started anew.
        """
        if not self.making:
            return
        running = self._builder.running
        if running is not None and running.key == MAKE:
            self._builder.abandon(self._stop_s, "making was stopped amid a long stage")
            self._made(running.revision, unmade_document(STOPPED))
        else:
            order = self._builder.withdraw(MAKE)
            if order is not None:
                self._made(order.revision, unmade_document(STOPPED))

    def scene(self, revision: int) -> str | None:
        """Return the scene of a revision as JSON text; None where there is none, or not any more.

        The last two revisions' scenes are kept.
        """
        return self._scenes.get(revision)

    def routed(self, revision: int) -> Routed | None:
        """Return what is routed of a revision, as far as it is one of the last that are; else None.

        It is the layout as routed: before channels are widened, without posts and service ports.
        """
        base = self._routed.get(revision)
        if base is None:
            return None
        if base.version not in self._opened:
            known = {one.version for one in self._routed.values()}
            self._opened = {version: one for version, one in self._opened.items() if version in known}
            self._opened[base.version] = base.data.open_routed()
        return self._opened[base.version]

    def last_told(self) -> tuple[Event, ...]:
        """Return what a page that has just come is told: the newest plan, its solid, a newer problem, files made."""
        return tuple(self._told[one] for one in ("plan", "solid", "problem", "made") if one in self._told)

    def process_ids(self) -> tuple[int | None, int | None]:
        """Return the numbers of the planner's and the builder's process; None where one is being started."""
        return self._planner.pid, self._builder.pid

    # ---- What lanes call ---------------------------------------------------------------------------------------------

    def dress(self, order: Order, serial: int, held: int) -> Job:
        """Return the job of an order: with the base of drafts where the process has it not yet."""
        folder = "" if order.folder is None else str(order.folder)
        job = Job(serial, order.kind, order.text, order.thing, folder, search=self._search)
        # Made files follow from the text alone; where a whole plan is not found, things stand where they last stood.
        if order.kind == "make" or not self._base.version:
            return job
        base = None if held == self._base.version else self._base.data.laid
        return replace(job, base_version=self._base.version, base=base)

    def hear(self, order: Order, what: str, value: Any) -> None:
        """Take part of an answer, and tell it on."""
        if what == "progress":
            self._shown[value["of"]] = True
            self._tell({"tell": "progress", **value}, None)
        elif what == "draft":
            self._tell({"tell": "draft", "number": order.number, **value}, order.client)
        elif what == "places":
            self._tell(
                {"tell": "places", "number": order.number, "thing": order.thing, **value}, order.client
            )
        elif what == "refused":
            self._tell({"tell": "refused", "number": order.number, "why": value}, order.client)
        elif what == "made":
            self._made(order.revision, value)
        elif what == "laid":
            self._take_base(order, value)
        elif what == "unbuilt":
            self._tell_unbuilt(order, value)
        # What the builder has told of a revision is never replaced by a quick answer that comes late.
        elif order.kind != "quick" or order.revision != self._built:
            self._hear_settled(order, what, value)

    def finish(self, order: Order, how: Ending, why: str) -> None:
        """Take that an order has ended, and tell what is left to tell of it."""
        if order.kind == "whole" and order.revision == self._revision:
            self._end_progress("plan", "solid")
        if how in ("failed", "died"):
            self._tell_failed(order, why)

    def restarted(self, why: str, urgent: bool) -> None:
        """Tell that a process was started anew; urgent: it failed, or was ended amid work that was wanted."""
        self._tell({"tell": "restarted", "why": why, "urgent": urgent}, None)

    def _hear_settled(self, order: Order, what: str, value: Any) -> None:
        revision = order.revision
        if order.kind == "whole":
            self._built = revision
        if what == "plan":
            self._tell_plan({"tell": "plan", "revision": revision, **value})
        elif what == "problem":
            event = {"tell": "problem", "revision": revision, "problem": value}
            # Planner and builder find the same of a file that cannot be used.
            if self._told.get("problem") != event:
                self._told["problem"] = event
                self._tell(event, None)
        elif what == "solid":
            # A page may be on its way to the one before.
            kept = [one for one in self._scenes if one != revision][-1:]
            self._scenes = {**{one: self._scenes[one] for one in kept}, revision: value["scene"]}
            event = {
                "tell": "solid",
                "revision": revision,
                "address": SCENE.format(revision),
                "checked": value["checked"],
            }
            self._told["solid"] = event
            self._end_progress("plan")
            self._tell(event, None)

    def _tell_plan(self, event: Event) -> None:
        self._told.pop("problem", None)
        if self._told.get("solid", event)["revision"] != event["revision"]:
            del self._told["solid"]
        self._told["plan"] = event
        self._tell(event, None)

    def _tell_unbuilt(self, order: Order, why: str) -> None:
        """Tell the plan again, with what keeps its solid from being built or checked as one more finding."""
        event = self._told["plan"]
        findings = [*event["findings"], failed_solid_document(len(event["findings"]), why)]
        self._tell_plan({**event, "findings": findings})

    def _tell_failed(self, order: Order, why: str) -> None:
        problem = stopped_document(why)
        if order.kind == "draft":
            self.hear(order, "draft", {"ms": 0.0, "answer": None, "problem": problem})
        elif order.kind == "places":
            self.hear(order, "refused", why)
        elif order.kind == "make":
            self._made(order.revision, unmade_document(why))
        elif order.kind == "whole" and order.revision == self._revision:
            if self._has_whole(order.revision):
                self._tell_unbuilt(order, why)
            else:
                self._hear_settled(order, "problem", problem)

    def _has_whole(self, revision: int) -> bool:
        told = self._told.get("plan", {})
        return told.get("revision") == revision and bool(told.get("whole"))

    def _take_base(self, order: Order, data: PickledLaid) -> None:
        whole = order.kind == "whole"
        if (order.revision, whole) > (self._base.revision, self._base.whole):
            self._base = _Base(self._base.version + 1, order.revision, whole, data)
            last = sorted({*self._routed, order.revision})[-MOST_ROUTED:]
            self._routed = {one: self._routed.get(one, self._base) for one in last} | {
                order.revision: self._base
            }

    def _made(self, revision: int, document: Event) -> None:
        self._end_progress("make")
        event = {"tell": "made", "revision": revision, **document}
        self._told["made"] = event
        self._tell(event, None)

    def _end_progress(self, *which: str) -> None:
        for of in which:
            if self._shown.pop(of, False):
                self._tell(_progress(of, ""), None)


def _progress(of: str, stage: str) -> Event:
    return {"tell": "progress", "of": of, "stage": stage, "seconds": 0.0, "share": None}


def _tell_nobody(event: Event, client: str | None) -> None:
    pass
