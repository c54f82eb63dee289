"""The local page of the main example, as the hand and the eye have it: the real command, the real browser.

Run: ``python tests/benchmarks/bench_page.py [MOVES] [EDITS]``. A move is one node of the grid by the mouse to a node
where the thing may stand; it counts from the pointer's event to the moment after the paint of the plan with its new
routes, all by the page's own clock. The rest before a draft is asked for is part of it, and is told beside it. The
browser is started afresh for first paints; what an empty page takes to paint is its own share. A ratio under 1 meets
the target.
"""

from __future__ import annotations

import random
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[2]))

from bench_papers import FIRST_PAINT_MS, open_empty
from browser import open_served, share_browsers
from playwright.sync_api import Page
from sample_page import (
    MAIN,
    ServedPage,
    await_calm,
    await_plan,
    await_root,
    listen,
    place_of,
    press,
    revision_of,
    serve_file,
    take,
    thing,
)

from exports.page.working.lane import measure_memory

MOVE_MS, PAINT_S, MEMORY_GB = 150.0, 1.0, 4.0
PAINTS = 3
THINGS = (
    "port:processor block inlet",
    "port:memory block inlet",
    "port:graphics left outlet",
    "port:radiator lower inlet",
    "tank",
    "pump",
)
NODES = ((1, 0), (-1, 0), (0, 1), (0, -1))

CLOCK = """
(() => {
  const clock = { moved: 0, counted: 0, asked: new Map(), answer: null, times: [] };
  window.clock = clock;
  addEventListener("pointermove", (event) => { clock.moved = event.timeStamp; }, true);
  window.WebSocket = class extends WebSocket {
    constructor(...words) {
      super(...words);
      this.addEventListener("message", ({ data }) => {
        const { tell, number, ms } = JSON.parse(data);
        if (tell === "draft") clock.answer = { asked: clock.asked.get(number), came: performance.now(), ms };
      });
    }
    send(text) {
      const { do: what, number } = JSON.parse(text);
      if (what === "draft") clock.asked.set(number, performance.now());
      super.send(text);
    }
  };
  const painted = new MessageChannel();
  painted.port1.onmessage = () => {
    const { moved, answer } = clock;
    if (moved === clock.counted || !answer || answer.asked < moved) return;
    clock.counted = moved;
    const now = performance.now();
    clock.times.push({
      whole: now - moved,
      rest: answer.asked - moved,
      there: answer.came - answer.asked,
      ms: answer.ms,
      drawing: now - answer.came,
    });
    document.documentElement.dataset.painted = clock.times.length;
  };
  addEventListener("DOMContentLoaded", () => {
    new MutationObserver((changes) => {
      const view = document.querySelector(".plan-view");
      if (!view || !changes.some(({ target }) => target === view)) return;
      if (!view.dataset.draftShown || view.querySelector(".plan-stage.waiting")) return;
      requestAnimationFrame(() => painted.port2.postMessage(""));
    }).observe(document.body, { subtree: true, attributeFilter: ["data-draft-shown"] });
  });
})();
"""


def time_paint(served: ServedPage) -> float:
    """Return when the page first paints in a browser that has just been started, [s] from its opening."""
    with open_served(served.address) as opened:
        return float(opened.page.evaluate(FIRST_PAINT_MS)) / 1e3


def time_moves(page: Page, told: list[dict[str, Any]], count: int) -> list[dict[str, float]]:
    """Move things by one node each; return the times of each, [ms].

    Parameters
    ----------
    page : Page
    told : list
        All that the server tells the page.
    count : int
        Of moves.
    """
    chance = random.Random(1)
    pitch = next(one for one in told if one["tell"] == "plan")["plan"]["pitch"]
    each = -(-count // len(THINGS))
    done = 0
    for name in THINGS:
        at = place_of(page, name)
        told.clear()
        x, y = take(page, name, (0.0, 0.0))
        ratio = "svg => svg.getBoundingClientRect().width / svg.viewBox.baseVal.width"
        px = float(page.locator(".plan-stage").evaluate(ratio))
        # It is taken up once the pointer has gone some way, and goes back to where it was.
        page.mouse.move(x + 6, y)
        page.mouse.move(x, y)
        page.locator(".plan-stage .places").wait_for(state="attached")
        nodes = {tuple(node) for one in told if one["tell"] == "places" for node in one["nodes"]}
        here = at
        for _ in range(each):
            ways = [(here[0] + pitch * dx, here[1] + pitch * dy) for dx, dy in NODES]
            legal = [way for way in ways if way in nodes]
            if not legal:
                break
            here = chance.choice(legal)
            page.mouse.move(x + px * (here[0] - at[0]), y - px * (here[1] - at[1]))
            if here == at:
                # Back where it was taken up there is nothing to be tried.
                continue
            done += 1
            await_root(page, painted=done)
        page.keyboard.press("Escape")
        page.mouse.up()
        page.locator('.plan-view[data-draft-phase="none"]').wait_for()
    return page.evaluate("clock.times")


def make_edits(page: Page, count: int) -> None:
    """Move a port to and fro by keys, each move an edit whose plan is awaited."""
    for number in range(count):
        revision = revision_of(page)
        press(page, THINGS[0], "ArrowRight" if number % 2 == 0 else "ArrowLeft")
        thing(page, "tank").focus()
        await_plan(page, revision + 1)


def hold_memory(served: ServedPage) -> dict[str, float]:
    """Return what the server and its processes hold, [GB]."""
    pids = {"server": served.process.pid} | {name: one.pid for name, one in served.computing().items()}
    return {name: measure_memory(pid) / 1e9 for name, pid in pids.items()}


def tell_spread(what: str, values: list[float]) -> None:
    """Print median, the time that nine in ten meet, and the worst, [ms]."""
    ninth = statistics.quantiles(values, n=10)[-1]
    print(f"{what:<34}{statistics.median(values):>9.0f} ms{ninth:>9.0f} ms{max(values):>9.0f} ms")


def main(moves: int, edits: int) -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name, "served")
        folder.mkdir()
        began = time.perf_counter()
        with serve_file(folder, MAIN) as served:
            print(f"{'the address is printed':<34}{time.perf_counter() - began:>8.2f} s after the start")
            with share_browsers(), open_served(served.address) as opened:
                page = opened.page
                page.locator(".plan-stage .thing").first.wait_for(state="attached")
                print(f"{'the first plan is drawn':<34}{time.perf_counter() - began:>8.2f} s")
                await_root(page, solid="ready")
                print(f"{'the solid stands':<34}{time.perf_counter() - began:>8.2f} s")
                await_root(page, shown="checked")
                print(f"{'all is checked':<34}{time.perf_counter() - began:>8.2f} s")
            empty = min(open_empty(Path(name)) for _ in range(PAINTS))
            paint = min(time_paint(served) for _ in range(PAINTS))
            with share_browsers(), open_served(served.address) as opened:
                page = opened.page
                page.add_init_script(CLOCK)
                told = listen(page)
                await_root(page, shown="checked", solid="ready")
                before = hold_memory(served)
                times = time_moves(page, told, moves)
                await_calm(page)
                make_edits(page, edits)
                await_root(page, shown="checked")
                after = hold_memory(served)
                complaints = opened.complaints or "none"
                print(f"complaints of the page: {complaints}; of the server: {served.said() or 'none'}")
        tell_times(times)
        print()
        for one, held in before.items():
            print(f"{one + ' holds':<34}{held:>8.2f} GB, after {edits} edits {after.get(one, 0.0):.2f} GB")
        figures = [
            ("move: routes painted, median", statistics.median(one["whole"] for one in times), MOVE_MS, "ms"),
            ("first paint", paint, PAINT_S, "s"),
            ("first paint less an empty page's", paint - empty, PAINT_S, "s"),
            (f"most memory after {edits} edits", max(after.values()), MEMORY_GB, "GB"),
        ]
    print(f"\n{'figure':<34}{'measured':>12}{'target':>12}{'ratio':>8}")
    for what, value, target, unit in figures:
        print(f"{what:<34}{f'{value:.2f} {unit}':>12}{f'{target:g} {unit}':>12}{value / target:>8.2f}")


def tell_times(times: list[dict[str, float]]) -> None:
    """Print of what the time of a move is made."""
    print(f"\n{f'{len(times)} moves by a node':<34}{'median':>12}{'9 in 10':>12}{'worst':>12}")
    tell_spread("pointer's event to routes painted", [one["whole"] for one in times])
    for what, part in (
        ("  until it is asked for", "rest"),
        ("  there and back", "there"),
        ("    of it computing", "ms"),
        ("  drawing", "drawing"),
    ):
        tell_spread(what, [one[part] for one in times])


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:3]]
    main(*(given + [60, 200][len(given) :]))
