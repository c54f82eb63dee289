"""Times and memory of the local page's two processes on the main example.

Run: ``python tests/benchmarks/bench_page_workers.py [DRAFTS]``. Drafts move one port to and fro by a step of the grid,
each told from the one before as soon as that is answered. A ratio under 1 meets the target.
"""

from __future__ import annotations

import asyncio
import statistics
import sys
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from exports.page.working.lane import measure_memory
from exports.page.working.supervisor import Workers
from layouts.panels.catalogue import demo_path

DEMO = "workshop-render"
STEP = ('at = ["70 mm", "40 mm"]', 'at = ["75 mm", "40 mm"]')
"""A port of the example as it stands, and a step further."""

MEDIAN_S, MEMORY_GB = 0.15, 4.0


class Bench:
    """What was told, and when."""

    def __init__(self) -> None:
        self.news = asyncio.Event()
        self.events: list[tuple[float, dict[str, Any]]] = []

    def tell(self, event: dict[str, Any], client: str | None) -> None:
        """Take a message."""
        self.events.append((time.perf_counter(), event))
        self.news.set()

    async def until(self, **values: Any) -> float:
        """Return when the first message with these values came."""
        while True:
            for at, event in self.events:
                if all(event.get(key) == value for key, value in values.items()):
                    return at
            self.news.clear()
            await self.news.wait()


async def run(drafts: int) -> None:
    """Print the figures."""
    text = demo_path(DEMO).read_text(encoding="utf-8")
    start, last = STEP
    if text.count(start) != 1:
        raise SystemExit(f"{DEMO}: {start} does not stand in it once")
    bench = Bench()
    began = time.perf_counter()
    workers = Workers(Path(f"{DEMO}.toml"), bench.tell)
    await workers.start()
    workers.settle(1, text)
    for name, values in (
        ("first quick plan", {"tell": "plan"}),
        ("whole plan", {"tell": "plan", "whole": True}),
        ("solid", {"tell": "solid"}),
        ("solid with its checks", {"tell": "solid", "checked": True}),
    ):
        at = await bench.until(**values)
        print(f"{name:<26}{at - began:>8.2f} s after a cold start")
    tell_memory("before the drafts", workers)
    taken = []
    for number in range(drafts):
        asked = time.perf_counter()
        workers.draft("bench", number, text.replace(start, last) if number % 2 == 0 else text)
        taken.append(await bench.until(tell="draft", number=number) - asked)
    answers = [event for _, event in bench.events if event["tell"] == "draft"]
    refused = sum(event["answer"] is None for event in answers)
    inside = statistics.median(event["ms"] for event in answers) / 1000
    median = statistics.median(taken)
    print(f"draft, there and back: median {median:.3f} s, worst {max(taken):.3f} s over {drafts}")
    print(f"of these {refused} without a plan")
    print(
        f"of the median {inside:.3f} s are computing; ratio to the target of {MEDIAN_S} s: {median / MEDIAN_S:.2f}"
    )
    tell_memory(f"after {drafts} drafts", workers)
    began = time.perf_counter()
    workers.settle(2, text.replace(start, last))
    for name, values in (("quick plan", {}), ("whole plan", {"whole": True})):
        at = await bench.until(tell="plan", revision=2, **values)
        print(f"{name:<26}{at - began:>8.2f} s after an edit")
    for name, checked in (("solid", False), ("solid with its checks", True)):
        at = await bench.until(tell="solid", revision=2, checked=checked)
        print(f"{name:<26}{at - began:>8.2f} s after an edit")
    tell_memory("at the end", workers)
    await workers.close()


def tell_memory(when: str, workers: Workers) -> None:
    """Print what both processes hold."""
    planner, builder = (measure_memory(pid) / 1e9 if pid else 0.0 for pid in workers.process_ids())
    most = max(planner, builder) / MEMORY_GB
    print(f"memory {when}: planner {planner:.2f} GB, builder {builder:.2f} GB; ratio to the limit {most:.2f}")


if __name__ == "__main__":
    asyncio.run(run(int(sys.argv[1]) if len(sys.argv) > 1 else 200))
