"""The two processes with their real work, on a small demo: from a draft to files, and a builder killed on the way."""

from __future__ import annotations

import asyncio
import json
import os
import signal
from pathlib import Path
from typing import Any

from typed_messages import find_misfits

from exports.page.working.job import Search
from exports.page.working.supervisor import Workers
from exports.pipeline import make_panel
from layouts.panels.catalogue import demo_path
from layouts.routing.effort import QUICK

DEMO = "laser-driver"
LIMIT_S = 300.0
"""No test waits longer: only a broken one comes near."""


class Heard:
    """All that was told, and a way to wait for what is still to be told."""

    def __init__(self) -> None:
        self.events: list[dict[str, Any]] = []
        self._news = asyncio.Event()

    def tell(self, event: dict[str, Any], client: str | None) -> None:
        json.dumps(event, allow_nan=False)
        self.events.append(event)
        self._news.set()

    async def until(self, **values: Any) -> dict[str, Any]:
        """Return the first message with these values, once it is there."""
        while True:
            for event in self.events:
                if all(event.get(key) == value for key, value in values.items()):
                    return event
            self._news.clear()
            try:
                await self._news.wait()
            except asyncio.CancelledError:
                print("waited for", values, "heard", *self.events[-20:], sep="\n")
                raise


def test_a_small_demo_from_a_draft_to_its_files(tmp_path: Path):
    text = demo_path(DEMO).read_text(encoding="utf-8")
    heard = Heard()

    async def whole() -> None:
        workers = Workers(Path(f"{DEMO}.toml"), heard.tell, search=Search(QUICK.name, 3))
        await workers.start()
        try:
            async with asyncio.timeout(LIMIT_S):
                await work(workers)
        finally:
            await workers.close()

    async def work(workers: Workers) -> None:
        workers.settle(1, text)
        await heard.until(tell="plan", revision=1, whole=True)
        # Amid the building of the solid.
        await heard.until(tell="progress", of="solid")
        _, builder = workers.process_ids()
        assert builder is not None
        os.kill(builder, getattr(signal, "SIGKILL", signal.SIGTERM))
        await heard.until(tell="restarted")
        workers.draft("one", 1, text)
        workers.draft("two", 1, "not a panel")
        workers.places("one", 2, text, "port:diode block inlet")
        drafted = await heard.until(tell="draft", problem=None)
        assert drafted["answer"]["plan"]["name"] == "laser driver"
        assert (await heard.until(tell="draft", answer=None))["problem"]["kind"] == "file"
        assert (await heard.until(tell="places", number=2))["thing"] == "port:diode block inlet"
        await heard.until(tell="solid", revision=1, checked=True)
        scene = workers.scene(1)
        assert scene is not None
        assert json.loads(scene)["packed"]
        routed = workers.routed(1)
        assert routed is not None
        assert [channel["name"] for channel in drafted["answer"]["plan"]["channels"]] == [
            channel.name for channel in routed.channels
        ]
        workers.make(1, text, tmp_path / "made")
        await heard.until(tell="made")

    asyncio.run(whole())
    assert [
        (event["tell"], find_misfits(event, "Tell")) for event in heard.events if find_misfits(event, "Tell")
    ] == []
    told = [event["tell"] for event in heard.events if event["tell"] in ("plan", "solid", "made")]
    assert told[-4:] == ["solid", "plan", "solid", "made"]
    assert not [event for event in heard.events if event["tell"] in ("refused",)]
    # The files are those of the command, with the same effort and seed.
    made = make_panel(demo_path(DEMO), tmp_path / "by command", seed=3, effort=QUICK)
    (answer,) = [event for event in heard.events if event["tell"] == "made"]
    assert [file["name"] for file in answer["files"]][:-1] == [record.name for record in made.files]
    for file in answer["files"]:
        written = (tmp_path / "made" / file["name"]).read_bytes()
        assert len(written) == file["bytes"]
        assert written == (tmp_path / "by command" / file["name"]).read_bytes(), file["name"]
