"""The quick answer while something is dragged: legal moves on demos, each from the demo's plan. Run with Python.

Printed are wall time and the process's own time, which others on the machine do not stretch, and how dear the layout is
beside that of a whole search.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from geom.errors import LayoutError
from layouts.file.edit import edit_text
from layouts.file.gestures import gesture_changes
from layouts.file.read import parse_panel, read_panel
from layouts.laid_out import LaidOut
from layouts.panel import Panel
from layouts.panels.catalogue import demo_path
from layouts.replan.allowed_places import find_allowed
from layouts.replan.quick_plan import quick_plan
from layouts.replan.warm_up import warm_up
from layouts.route import lay_out
from layouts.routing.effort import NORMAL

TARGET_MS, WORST_MS = 60.0, 300.0
"""Median and worst that a quick plan may take on the main demo, warm."""

KINDS = {"port": 6, "pump": 1, "tank": 1, "clear": 2}
"""Shares of the moves."""


class Times:
    """Wall and process times of one kind of work, [ms]."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.wall: list[float] = []
        self.own: list[float] = []

    def take(self, work: Callable[[], object]) -> object:
        """Do the work and note how long it took."""
        wall, own = time.perf_counter(), time.process_time()
        try:
            return work()
        finally:
            self.wall.append(1e3 * (time.perf_counter() - wall))
            self.own.append(1e3 * (time.process_time() - own))

    def __str__(self) -> str:
        if not self.own:
            return f"  {self.name:16} none"

        def tell(times: list[float]) -> str:
            times = sorted(times)
            return (
                f"{statistics.median(times):6.1f} {times[int(0.9 * (len(times) - 1))]:6.1f} {times[-1]:7.1f}"
            )

        return f"  {self.name:16} {len(self.own):4} | own {tell(self.own)} | wall {tell(self.wall)}"


def list_things(panel: Panel, laid: LaidOut) -> dict[str, list[str]]:
    """Return the ids of what may be moved, by kind."""
    loose = [port.name for port in laid.routed.ports if port.channel not in ("tank", "feed")]
    things = {"port": [f"port:{name}" for name in loose], "pump": ["pump"]}
    things["tank"] = ["tank"] if panel.tank.kind == "pocket" else []
    things["clear"] = [f"clear:{number}" for number in range(len(panel.keep_clear))]
    return things


def run(name: str, count: int, compare: int, seed: int) -> None:
    """Move things of a demo and print how long each answer takes."""
    path = demo_path(name)
    text, panel = path.read_text(encoding="utf-8"), read_panel(path)
    laid = lay_out(panel, 0, NORMAL)
    rng = random.Random(seed)
    things = list_things(panel, laid)
    kinds = [kind for kind in KINDS if things[kind]]
    times = {kind: Times(kind) for kind in kinds}
    places, failures, ratios = Times("allowed places"), Times("failure"), []
    for number in range(count):
        kind = rng.choices(kinds, [KINDS[kind] for kind in kinds])[0]
        thing = rng.choice(things[kind])
        allowed = places.take(lambda thing=thing: find_allowed(panel, laid, thing))
        to = rng.choice(allowed.nodes)
        gesture = {"move": thing, "to": list(to)}
        changed = parse_panel(
            edit_text(text, gesture_changes(panel, laid.routed, gesture)).encode(), panel.path
        )
        watch = Times(kind)
        try:
            plan = watch.take(lambda changed=changed: quick_plan(changed, laid))
        except LayoutError:
            failures.wall += watch.wall
            failures.own += watch.own
            continue
        times[kind].wall += watch.wall
        times[kind].own += watch.own
        if compare and number % compare == 0:
            ratios.append(plan.laid.routed.cost / lay_out(changed, 0, NORMAL).routed.cost)
    every = Times("all moves")
    for one in times.values():
        every.wall += one.wall
        every.own += one.own
    print(f"{name}: {count} moves to allowed places; median, 90 % and worst, [ms]")
    for one in (*times.values(), every, failures, places):
        print(one)
    if every.own:
        median, worst = statistics.median(every.own), max(every.own)
        print(
            f"  median / {TARGET_MS:g} ms {median / TARGET_MS:.2f}, worst / {WORST_MS:g} ms {worst / WORST_MS:.2f}"
        )
    if ratios:
        within = sum(ratio <= 1.15 for ratio in ratios)
        print(
            f"  cost beside a whole search (--effort {NORMAL.name}): median {statistics.median(ratios):.3f}, worst "
            f"{max(ratios):.3f}, {within} of {len(ratios)} within 15 %"
        )


def main() -> None:
    """Run the demos named, by default the main one and that of the most ends."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("demos", nargs="*", default=["workshop-render", "cell-tester"])
    parser.add_argument("--moves", type=int, default=100)
    parser.add_argument("--compare", type=int, default=10, help="every so many moves; 0: never")
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    began = time.perf_counter()
    warm_up()
    print(f"warm up: {time.perf_counter() - began:.2f} s")
    for name in given.demos:
        run(name, given.moves, given.compare, given.seed)


if __name__ == "__main__":
    main()
