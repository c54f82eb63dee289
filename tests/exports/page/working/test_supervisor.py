"""The supervisor with jobs that do what they are told: death, memory, stale answers, who comes first."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Awaitable, Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import psutil
import pytest
from fake_work import open_broken, open_fake, open_unloadable, write_steps

from exports.page.working.job_loop import DEBUG
from exports.page.working.supervisor import STOPPED, Processes, Workers

Event = dict[str, Any]
FAKE = Processes(open_fake, open_fake, measure=lambda pid: 0, every_s=0.01, stop_s=0.05)
LIMIT_S = 60.0
"""No test waits longer: only a broken one comes near."""

PLAN = {"ms": 1.0, "plan": {}, "numbers": [], "findings": [], "proof": "", "whole": True}
QUICK = PLAN | {"whole": False}
PROGRESS = {"of": "plan", "stage": "routing", "seconds": 0.0, "share": 0.0}


class Heard:
    """All that was told, and a way to wait for what is still to be told."""

    def __init__(self) -> None:
        self.events: list[tuple[Event, str | None]] = []
        self._news = asyncio.Event()

    def tell(self, event: Event, client: str | None) -> None:
        self.events.append((event, client))
        self._news.set()

    def of(self, kind: str, **values: Any) -> list[Event]:
        """Return the messages of a kind that have these values."""
        return [
            event
            for event, _ in self.events
            if event["tell"] == kind and all(event.get(key) == value for key, value in values.items())
        ]

    async def until(self, kind: str, count: int = 1, **values: Any) -> None:
        """Wait for so many messages of a kind with these values."""
        while len(self.of(kind, **values)) < count:
            self._news.clear()
            await self._news.wait()


def run(
    test: Callable[[Workers, Heard], Awaitable[None]], processes: Processes = FAKE, most: int = 1000
) -> Heard:
    async def whole() -> Heard:
        heard = Heard()
        workers = Workers(Path("panel.toml"), heard.tell, most, processes)
        await workers.start()
        pids = workers.process_ids()
        async with asyncio.timeout(LIMIT_S):
            try:
                await test(workers, heard)
            finally:
                await workers.close()
        assert not any(pid is not None and psutil.pid_exists(pid) for pid in (*pids, *workers.process_ids()))
        return heard

    return asyncio.run(whole())


def answer(value: Any) -> tuple[str, str, Event]:
    return "say", "draft", {"ms": 1.0, "answer": value, "problem": None}


def solid(scene: str, checked: bool) -> tuple[str, str, Event]:
    return "say", "solid", {"scene": scene, "checked": checked}


def test_a_draft_is_answered_to_the_page_that_asked():
    async def test(workers: Workers, heard: Heard) -> None:
        workers.draft("one", 7, write_steps(answer("a")))
        workers.draft("two", 7, write_steps(answer("b")))
        await heard.until("draft", answer="a")
        await heard.until("draft", answer="b")

    heard = run(test)
    assert [(event["answer"], client) for event, client in heard.events] == [("a", "one"), ("b", "two")]


def test_of_a_pages_drafts_the_newest_wins_and_other_pages_keep_their_turn(tmp_path: Path):
    gate = tmp_path / "gate"

    async def test(workers: Workers, heard: Heard) -> None:
        # That does not look, so that it has an answer when it is stale.
        workers.draft("one", 1, write_steps(("say", "progress", PROGRESS), ("stay", str(gate)), answer(1)))
        await heard.until("progress")
        workers.draft("two", 1, write_steps(answer("two")))
        for number in range(2, 6):
            workers.draft("one", number, write_steps(answer(number)))
        gate.touch()
        await heard.until("draft", answer=5)
        workers.draft("one", 6, write_steps(answer(6)))
        await heard.until("draft", answer=6)

    told = [event["answer"] for event in run(test).of("draft")]
    assert told == ["two", 5, 6]


def test_a_draft_that_was_dropped_is_never_answered(tmp_path: Path):
    async def test(workers: Workers, heard: Heard) -> None:
        workers.draft("one", 1, write_steps(("say", "progress", PROGRESS), ("wait", str(tmp_path / "never"))))
        await heard.until("progress")
        workers.drop("one")
        workers.places(
            "two", 3, write_steps(("say", "places", {"pitch": 5.0, "nodes": [], "why": ""})), "tank"
        )
        await heard.until("places", number=3, thing="tank")

    assert not run(test).of("draft")


def test_the_last_two_scenes_are_kept():
    async def test(workers: Workers, heard: Heard) -> None:
        for revision, text in ((1, "a"), (2, "b"), (3, "c")):
            workers.settle(revision, write_steps(("only", "whole"), solid(text, True)))
            await heard.until("solid", revision=revision)
        assert [workers.scene(revision) for revision in (1, 2, 3)] == [None, "b", "c"]

    run(test)


def test_a_settled_text_is_told_quick_then_whole_then_as_a_solid_then_checked():
    steps = (
        ("only", "whole"),
        ("say", "progress", PROGRESS),
        ("say", "plan", PLAN),
        solid("a", False),
        ("say", "plan", PLAN),
    )

    async def test(workers: Workers, heard: Heard) -> None:
        workers.settle(4, write_steps(*steps, solid("b", True)))
        await heard.until("solid", checked=True)
        assert workers.scene(4) == "b"
        assert workers.scene(3) is None
        assert [event["tell"] for event in workers.last_told()] == ["plan", "solid"]

    heard = run(test)
    told = {"tell": "solid", "revision": 4, "address": "scene/4.json"}
    assert heard.of("solid") == [told | {"checked": False}, told | {"checked": True}]
    # The stage's end is told before what it has made.
    assert [event["stage"] for event in heard.of("progress")] == ["routing", ""]
    assert all(client is None for _, client in heard.events)


def test_a_newer_text_makes_the_older_stale_at_once(tmp_path: Path):
    held = write_steps(
        ("say", "progress", PROGRESS), ("wait", str(tmp_path / "never")), ("say", "plan", PLAN)
    )

    async def test(workers: Workers, heard: Heard) -> None:
        workers.settle(1, held)
        await heard.until("progress")
        for revision in (2, 3, 4):
            workers.settle(revision, write_steps(("say", "plan", PLAN | {"proof": str(revision)})))
        await heard.until("plan", revision=4)

    heard = run(test)
    assert {event["revision"] for event in heard.of("plan")} == {4}
    assert heard.of("progress")[-1]["stage"] == ""


def test_a_quick_plan_that_comes_late_does_not_replace_the_whole_one(tmp_path: Path):
    gate = tmp_path / "gate"

    async def test(workers: Workers, heard: Heard) -> None:
        workers.draft("one", 1, write_steps(("say", "progress", PROGRESS), ("stay", str(gate))))
        await heard.until("progress")
        workers.settle(1, write_steps(("say", "plan", PLAN)))
        await heard.until("plan", revision=1)
        gate.touch()
        workers.draft("one", 2, write_steps(answer("after")))
        await heard.until("draft", answer="after")

    assert len(run(test).of("plan")) == 1


def test_a_file_that_cannot_be_used_is_told_once():
    problem = {"kind": "file", "headline": "1 problem in the file", "told": []}

    async def test(workers: Workers, heard: Heard) -> None:
        text = write_steps(("say", "problem", problem))
        workers.settle(1, text)
        await heard.until("problem", revision=1)
        workers.settle(2, write_steps(("say", "plan", PLAN)))
        await heard.until("plan", revision=2)
        assert [event["tell"] for event in workers.last_told()] == ["plan"]

    assert len(run(test).of("problem")) == 1


def test_drafts_are_laid_out_from_the_newest_layout_and_it_is_sent_once(tmp_path: Path):
    async def test(workers: Workers, heard: Heard) -> None:
        workers.settle(1, write_steps(("laid", "of one"), ("say", "plan", PLAN)))
        await heard.until("plan", revision=1)
        # Both processes have laid it out; what the builder says replaces the quick one.
        for number in (1, 2):
            workers.draft("one", number, write_steps(("base",)))
            await heard.until("draft", number=number)
        os.kill(workers.process_ids()[0], 9)
        await heard.until("restarted")
        workers.draft("one", 3, write_steps(("base",)))
        await heard.until("draft", number=3)

    assert [event["answer"]["held"] for event in run(test).of("draft")] == ["of one"] * 3


def test_whole_plans_know_where_things_stood_and_the_making_of_files_does_not(tmp_path: Path):
    async def test(workers: Workers, heard: Heard) -> None:
        workers.settle(1, write_steps(("laid", "of one"), ("say", "plan", PLAN)))
        await heard.until("plan", revision=1)
        workers.settle(2, write_steps(("only", "whole"), ("base",)))
        await heard.until("draft")
        workers.make(2, write_steps(("only", "make"), ("base",)), tmp_path)
        await heard.until("draft", 2)

    whole, make = (event["answer"] for event in run(test).of("draft"))
    assert (whole["held"], make["version"]) == ("of one", 0)
    assert whole["version"] > 0


def test_a_process_that_dies_is_started_anew_and_given_its_job_again(tmp_path: Path):
    async def test(workers: Workers, heard: Heard) -> None:
        workers.draft("one", 1, write_steps(("die", str(tmp_path / "died")), answer("after all")))
        await heard.until("draft", number=1)

    heard = run(test)
    assert heard.of("draft")[0]["answer"] == "after all"
    assert len(heard.of("restarted")) == 1
    assert "planner ended by itself" in heard.of("restarted")[0]["why"]


def test_a_job_that_is_dropped_while_its_process_is_started_anew_is_not_begun_again(tmp_path: Path):
    again = tmp_path / "again"

    async def test(workers: Workers, heard: Heard) -> None:
        workers.draft(
            "one", 1, write_steps(("die", str(tmp_path / "died")), ("die", str(again)), answer("never"))
        )
        await heard.until("restarted")
        workers.drop("one")
        workers.draft("two", 1, write_steps(answer("after all")))
        await heard.until("draft", number=1)

    heard = run(test)
    assert [event["answer"] for event in heard.of("draft")] == ["after all"]
    assert len(heard.of("restarted")) == 1
    assert not again.exists()


def test_a_job_at_which_a_process_dies_twice_is_told_as_a_problem(tmp_path: Path):
    die = [("die", str(tmp_path / f"died {k}")) for k in range(2)]

    async def test(workers: Workers, heard: Heard) -> None:
        workers.draft("one", 1, write_steps(*die, answer("never")))
        await heard.until("draft", number=1)
        workers.draft("one", 2, write_steps(answer("alive")))
        await heard.until("draft", number=2)

    first, second = run(test).of("draft")
    assert first["answer"] is None
    assert "2 times at the same work" in first["problem"]["told"][0]["text"]
    assert second["answer"] == "alive"


def test_a_builder_that_dies_at_the_solid_leaves_the_plan_with_a_finding(tmp_path: Path):
    steps = [("die", str(tmp_path / f"died {k}")) for k in range(2)]

    async def test(workers: Workers, heard: Heard) -> None:
        workers.settle(1, write_steps(("only", "whole"), ("say", "plan", PLAN), *steps))
        await heard.until("plan", count=3)

    heard = run(test)
    # Told by both lives of the builder, and once more with what keeps it from going on.
    assert [len(event["findings"]) for event in heard.of("plan")] == [0, 0, 1]
    (finding,) = heard.of("plan")[-1]["findings"]
    assert (finding["code"], finding["number"]) == ("solid.failed", 0)
    assert not heard.of("problem")


def test_a_mistake_in_a_job_is_told_in_one_sentence_and_the_process_goes_on():
    async def test(workers: Workers, heard: Heard) -> None:
        workers.draft("one", 1, write_steps(("raise", "secret")))
        await heard.until("draft", number=1)
        workers.places("one", 2, write_steps(("raise", "secret")), "tank")
        await heard.until("refused", number=2)

    heard = run(test)
    text = heard.of("draft")[0]["problem"]["told"][0]["text"]
    assert "ZeroDivisionError" in text
    assert "secret" not in text
    assert "ZeroDivisionError" in heard.of("refused")[0]["why"]
    assert not heard.of("restarted")


def test_a_process_over_its_memory_is_ended_and_why_is_told(tmp_path: Path):
    sizes = {"held": 0}

    async def test(workers: Workers, heard: Heard) -> None:
        workers.draft("one", 1, write_steps(("say", "progress", PROGRESS), ("hold",)))
        await heard.until("progress")
        sizes["held"] = 5 * 10**9
        await heard.until("draft", number=1)
        sizes["held"] = 0
        workers.draft("one", 2, write_steps(answer("alive")))
        await heard.until("draft", number=2)

    heard = run(test, replace(FAKE, measure=lambda pid: sizes["held"]), 4 * 10**9)
    assert "over its limit of 4.0 GB" in heard.of("restarted")[0]["why"]
    assert heard.of("restarted")[0]["urgent"]
    assert "over its limit of 4.0 GB" in heard.of("draft")[0]["problem"]["told"][0]["text"]
    assert heard.of("draft")[1]["answer"] == "alive"


def test_a_process_near_its_memory_is_started_anew_when_it_has_nothing_to_do():
    async def test(workers: Workers, heard: Heard) -> None:
        before = workers.process_ids()[0]
        workers.draft("one", 1, write_steps(answer("whole")))
        await heard.until("restarted")
        assert heard.of("draft")[0]["answer"] == "whole"
        workers.draft("one", 2, write_steps(answer("too")))
        await heard.until("draft", number=2)
        assert workers.process_ids()[0] != before

    heard = run(test, replace(FAKE, measure=lambda pid: 4_500_000_000), 6 * 10**9)
    assert heard.of("restarted")[0] == {
        "tell": "restarted",
        "why": "the planner gave back 4.5 GB of memory after its work",
        "urgent": False,
    }


def test_files_are_made_before_newer_plans_and_edits_do_not_stop_it(tmp_path: Path):
    made = {"files": [], "all": "made.zip", "withheld": "", "findings": []}
    gate = tmp_path / "gate"
    making = PROGRESS | {"of": "make"}

    async def test(workers: Workers, heard: Heard) -> None:
        workers.make(
            1, write_steps(("say", "progress", making), ("wait", str(gate)), ("say", "made", made)), tmp_path
        )
        await heard.until("progress", stage="routing")
        workers.make(1, write_steps(("say", "made", made)), tmp_path)
        workers.settle(2, write_steps(("say", "plan", QUICK)))
        await heard.until("plan", revision=2)
        assert not heard.of("made")
        gate.touch()
        await heard.until("made", revision=1)
        assert not workers.making

    heard = run(test)
    assert len(heard.of("made")) == 1
    assert heard.of("progress", of="make")[-1]["stage"] == ""


@pytest.mark.parametrize("looks", [True, False], ids=["that looks", "that does not look"])
def test_making_is_stopped_and_the_builder_is_free_again(tmp_path: Path, looks: bool):
    stay = ("wait", str(tmp_path / "never")) if looks else ("hold",)
    making = PROGRESS | {"of": "make"}

    async def test(workers: Workers, heard: Heard) -> None:
        workers.make(1, write_steps(("say", "progress", making), stay), tmp_path)
        await heard.until("progress", stage="routing")
        workers.stop_make()
        workers.stop_make()
        await heard.until("made", withheld=STOPPED)
        workers.settle(2, write_steps(("only", "whole"), solid("free", False)))
        await heard.until("solid", revision=2)

    heard = run(test)
    assert len(heard.of("made")) == 1
    assert [event["urgent"] for event in heard.of("restarted")] == ([] if looks else [False])


def test_making_that_still_waits_is_withdrawn(tmp_path: Path):
    gate = tmp_path / "gate"

    async def test(workers: Workers, heard: Heard) -> None:
        workers.settle(1, write_steps(("say", "progress", PROGRESS), ("wait", str(gate)), solid("a", True)))
        await heard.until("progress", of="plan")
        workers.make(1, write_steps(("say", "made", {})), tmp_path)
        workers.stop_make()
        await heard.until("made", withheld=STOPPED)
        gate.touch()
        await heard.until("solid")

    assert len(run(test).of("made")) == 1


def test_a_process_that_cannot_be_loaded_is_given_up_until_something_new_is_asked():
    async def test(workers: Workers, heard: Heard) -> None:
        for number in (1, 2):
            workers.draft("one", number, write_steps(answer("never")))
            await heard.until("draft", number=number)

    heard = run(test, replace(FAKE, planner=open_broken))
    assert [event["problem"]["headline"] for event in heard.of("draft")] == [
        "the plan could not be computed"
    ] * 2
    assert "code 3" in heard.of("draft")[0]["problem"]["told"][0]["text"]


def test_what_cannot_be_loaded_is_told_in_a_sentence_and_no_traceback(capfd: pytest.CaptureFixture[str]):
    async def test(workers: Workers, heard: Heard) -> None:
        workers.draft("one", 1, write_steps(answer("never")))
        await heard.until("draft", number=1)

    heard = run(test, replace(FAKE, planner=open_unloadable))
    told = heard.of("draft")[0]["problem"]["told"][0]["text"]
    assert (
        "planner did not start: it could not load what it needs (ImportError: no module of that name)" in told
    )
    assert {event["urgent"] for event in heard.of("restarted")} == {True}
    assert capfd.readouterr().err == ""


def test_a_developer_sees_where_loading_failed(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setenv(DEBUG, "1")
    capfd.readouterr()

    async def test(workers: Workers, heard: Heard) -> None:
        workers.draft("one", 1, write_steps(answer("never")))
        await heard.until("draft", number=1)

    run(test, replace(FAKE, planner=open_unloadable))
    assert "in open_unloadable" in capfd.readouterr().err


def test_nothing_is_told_once_it_is_closed():
    async def test(workers: Workers, heard: Heard) -> None:
        workers.draft("one", 1, write_steps(("hold",)))
        await workers.close()
        workers.draft("one", 2, write_steps(answer("never")))

    assert run(test).events == []
